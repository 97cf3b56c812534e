//! `trust`: how far the sensors stand from the blood.

use std::path::Path;

use interstice_desk::{Book, Mode};
use interstice_findings::trust::{Pairing, SensorFindings, pressure_book, sensor_book};
use interstice_findings::{FindingsError, TrustAsk, TrustFindings};
use serde::Serialize;

use crate::args::TrustArgs;
use crate::estimate;
use crate::exit::{Answer, Exit};
use crate::import::unit as unit_of;
use crate::opened::open;
use crate::output::Output;

/// Prints the answer.
pub(crate) fn trust(args: &TrustArgs, path: &Path, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    if let Some(file) = &args.estimate {
        return estimate::write(args, &book, file, out);
    }
    if args.pressure {
        return pressure(args, &book, out);
    }
    let pairing = args.pairing.as_deref().and_then(Pairing::from_key);
    let ask = TrustAsk {
        sensor: args.sensor.clone(),
        pairing: pairing.unwrap_or_default(),
        split_mg_dl: args.split,
        seed: args.seed,
    };
    let findings = interstice_findings::trust_book(&book, &ask)?;
    let one = ask.sensor.is_some().then(|| sensor_book(&book, &ask)).transpose();
    let (life, why) = match one {
        Ok(life) => (life, None),
        // The name stands for several sensors: what is told of them together is told all the same.
        Err(FindingsError::NoSensor(message)) => (None, Some(message)),
        Err(error) => return Err(error.into()),
    };
    if out.json() {
        out.document(&Both {
            trust: &findings,
            life: life.as_ref(),
        })?;
    } else {
        let unit = args.unit.as_deref().map(unit_of).unwrap_or(findings.unit);
        out.text(&interstice_render::text::trust(&findings, unit));
        if let Some(life) = &life {
            out.text(&format!("\n{}", interstice_render::text::sensor(life, unit)));
        }
    }
    if let Some(message) = why {
        out.message(&message);
    }
    // Without a single mean the person is needed: more checks.
    Ok(if findings.agreement.mard_percent.value.is_none() {
        Exit::NeedsYou
    } else {
        Exit::Done
    })
}

/// One document: the figures, and of one sensor its life.
#[derive(Serialize)]
struct Both<'a> {
    #[serde(flatten)]
    trust: &'a TrustFindings,
    #[serde(skip_serializing_if = "Option::is_none")]
    life: Option<&'a SensorFindings>,
}

/// Prints the possible pressure lows.
fn pressure(args: &TrustArgs, book: &Book, out: &mut Output) -> Answer {
    let findings = pressure_book(book, args.sensor.as_deref())?;
    if out.json() {
        out.document(&findings)?;
    } else {
        let unit = args.unit.as_deref().map(unit_of);
        let unit = unit.map_or_else(|| interstice_findings::reader(book).map(|reader| reader.unit), Ok)?;
        out.text(&interstice_render::text::pressure(&findings, unit));
    }
    Ok(Exit::Done)
}

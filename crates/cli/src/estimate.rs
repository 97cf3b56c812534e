//! `trust --estimate`: what blood probably was, as a file.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

use anyhow::Context;
use interstice_desk::Book;
use interstice_findings::trust::{EstimateAsk, EstimateFindings, Told, estimate_book};
use interstice_glucose::{Second, counted};
use interstice_render::text::{ESTIMATE_HEAD, estimate_row};
use serde::Serialize;

use crate::args::TrustArgs;
use crate::exit::{Answer, Exit, Failure};
use crate::output::Output;

/// What was written.
#[derive(Debug, Serialize)]
struct Written {
    file: String,
    sensors: usize,
    readings: usize,
    checks_left_out: usize,
    lag_min: f64,
    lag_min_lo90: f64,
    lag_min_hi90: f64,
}

/// Writes the file and says what is in it.
pub(crate) fn write(args: &TrustArgs, book: &Book, path: &Path, out: &mut Output) -> Answer {
    let ask = EstimateAsk {
        sensor: args.sensor.clone(),
        told: if args.live { Told::Live } else { Told::Afterwards },
        leave_out_checks: args.leave_out_checks,
    };
    let findings = estimate_book(book, &ask)?;
    save(&findings, path, args.leave_out_checks)
        .with_context(|| {
            format!(
                "{} could not be written; choose a folder that can be written to",
                path.display()
            )
        })
        .map_err(|error| Failure {
            exit: Exit::Input,
            error,
        })?;
    let written = Written {
        file: path.display().to_string(),
        sensors: findings.sensors.len(),
        readings: findings.sensors.iter().map(|sensor| sensor.at.len()).sum(),
        checks_left_out: findings.left_out.len(),
        lag_min: findings.learned.delay.mean_min,
        lag_min_lo90: findings.learned.delay.within_90.0,
        lag_min_hi90: findings.learned.delay.within_90.1,
    };
    if out.json() {
        out.document(&written)?;
    } else {
        out.text(&format!(
            "{} of {}, with what blood probably was: {}\n\
             A likely range is not a measurement. When it matters, a blood check decides.\n",
            counted(written.readings as u64, "reading", "readings"),
            counted(written.sensors as u64, "sensor", "sensors"),
            written.file
        ));
    }
    Ok(Exit::Done)
}

fn save(findings: &EstimateFindings, path: &Path, left_out: bool) -> anyhow::Result<()> {
    let mut file = BufWriter::new(File::create(path)?);
    let (last, none) = if left_out { (",check_mg_dl", ",") } else { ("", "") };
    writeln!(file, "{ESTIMATE_HEAD}{last}")?;
    for sensor in &findings.sensors {
        for ((&at, &said), blood) in sensor.at.iter().zip(&sensor.sensor_mg_dl).zip(&sensor.blood) {
            let row = estimate_row(Second::from(at), &sensor.sensor, Some(said), blood);
            writeln!(file, "{row}{none}")?;
        }
    }
    for told in &findings.left_out {
        let row = estimate_row(told.at, &told.sensor, None, &told.told);
        writeln!(file, "{row},{:.1}", told.check_mg_dl)?;
    }
    file.flush()?;
    Ok(())
}

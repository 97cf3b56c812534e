//! `compare`: before and after.

use std::path::Path;

use interstice_desk::Mode;
use interstice_findings::compare::{Against, CompareAsk, compare_book, states_book};
use jiff::civil::Date;
use serde_json::json;

use crate::args::CompareArgs;
use crate::exit::{Answer, Exit, Failure};
use crate::import::unit as unit_of;
use crate::opened::open;
use crate::output::Output;
use crate::world::date;

/// Prints the comparison, or the kinds of days there are to compare.
pub(crate) fn compare(args: &CompareArgs, path: &Path, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let Some(against) = against(args)? else {
        let known = states_book(&book)?;
        if out.json() {
            out.document(&json!({ "known": known }))?;
        } else {
            out.text(&interstice_render::text::states(&known));
        }
        return Ok(Exit::Done);
    };
    let ask = CompareAsk {
        against,
        exclude_pressure: args.exclude_pressure,
        seed: args.seed,
    };
    let findings = compare_book(&book, &ask)?;
    if out.json() {
        out.document(&findings)?;
    } else {
        let unit = args.unit.as_deref().map_or(findings.unit, unit_of);
        out.text(&interstice_render::text::compare(&findings, unit));
    }
    // Too little to compare needs the person.
    Ok(if findings.figures.is_empty() {
        Exit::NeedsYou
    } else {
        Exit::Done
    })
}

fn against(args: &CompareArgs) -> Result<Option<Against>, Failure> {
    if let (Some(before), Some(after)) = (&args.before, &args.after) {
        return Ok(Some(Against::Windows {
            before: dates(before)?,
            after: dates(after)?,
        }));
    }
    let Some(state) = args.days.clone() else {
        return Ok(None);
    };
    Ok(Some(Against::Kind {
        state,
        than: args.than.clone(),
        among: args.among.as_deref().map(dates).transpose()?,
    }))
}

/// '2025-03-01..2025-03-28', both included.
fn dates(text: &str) -> Result<(Date, Date), Failure> {
    let (from, to) = text.split_once("..").ok_or_else(|| {
        Failure::usage(format!(
            "'{text}' is not two dates; write first and last like 2025-03-01..2025-03-28"
        ))
    })?;
    Ok((date(from.trim())?, date(to.trim())?))
}

//! `review`: the account of a window.

use std::path::Path;

use interstice_desk::{Book, Mode};
use interstice_findings::{Ask, FindingsError, ReviewFindings, Span};
use serde_json::json;

use crate::args::ReviewArgs;
use crate::exit::{Answer, Exit, Failure};
use crate::import::unit as unit_of;
use crate::opened::open;
use crate::output::Output;
use crate::world::date;

/// Days of an account when none are asked for: the consensus minimum.
const USUAL_DAYS: u32 = 14;

/// Prints the account.
pub(crate) fn review(args: &ReviewArgs, path: &Path, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let ask = Ask {
        span: asked_span(args.days, args.from.as_deref(), args.to.as_deref())?,
        exclude_pressure: args.exclude_pressure,
        seed: args.seed,
    };
    let findings = match interstice_findings::review_book(&book, &ask) {
        Err(FindingsError::Empty) => return checks(&book, &ask, args, out),
        findings => findings?,
    };
    if out.json() {
        out.document(&findings)?;
    } else {
        let unit = args.unit.as_deref().map(unit_of).unwrap_or(findings.unit);
        out.text(&interstice_render::text::review(&findings, unit));
    }
    Ok(exit_of(&findings))
}

/// The account of a book that has blood checks alone.
fn checks(book: &Book, ask: &Ask, args: &ReviewArgs, out: &mut Output) -> Answer {
    let findings = interstice_findings::checks_book(book, ask)?;
    if out.json() {
        out.document(&json!({ "blood_checks": findings }))?;
    } else {
        let unit = args.unit.as_deref().map(unit_of).unwrap_or(findings.unit);
        out.text(&interstice_render::text::checks(&findings, unit));
    }
    Ok(if findings.checks == 0 {
        Exit::NeedsYou
    } else {
        Exit::Done
    })
}

/// The window that was asked for.
pub(crate) fn asked_span(days: Option<u32>, from: Option<&str>, to: Option<&str>) -> Result<Span, Failure> {
    match (from, to) {
        (Some(from), Some(to)) => {
            let (from, to) = (date(from)?, date(to)?);
            if to < from {
                return Err(Failure::usage(format!(
                    "--to {to} lies before --from {from}; swap them"
                )));
            }
            Ok(Span::Dates { from, to })
        }
        (None, None) => Ok(Span::LastDays(days.unwrap_or(USUAL_DAYS))),
        _ => Err(Failure::usage("--from and --to go together; say both")),
    }
}

/// An account without a single figure needs the person.
fn exit_of(findings: &ReviewFindings) -> Exit {
    if findings.summary.mean_mg_dl.value.is_none() {
        Exit::NeedsYou
    } else {
        Exit::Done
    }
}

//! What an account leaves out, and its figures both ways.

use interstice_findings::{LeftOut, LeftOutLow, ReviewFindings, Summary};
use interstice_tongue::say;

use super::number::{percent_figure, tenths_percent};
use super::{Shown, Table, date_and_clock, duration, percent, plain};

/// What was left out and what it changes, as sentences; empty where nothing was asked to be.
pub fn left_out_said(findings: &ReviewFindings, shown: Shown) -> Vec<String> {
    let Some(out) = &findings.left_out else {
        return Vec::new();
    };
    let mut said = vec![counted(out)];
    if let Some(with) = &out.summary_with {
        said.extend(changed(&findings.summary, with, findings, shown));
        said.push(say!("review-left-may-be-real"));
    }
    said
}

fn counted(out: &LeftOut) -> String {
    let mut parts = Vec::new();
    if out.possible > 0 {
        parts.push(say!("review-left-possible", count = out.possible));
    }
    if out.said > 0 {
        parts.push(say!("review-left-said", count = out.said));
    }
    if out.marked > 0 {
        parts.push(say!("review-left-marked", count = out.marked));
    }
    let told = if parts.is_empty() {
        say!("review-left-nothing")
    } else {
        let parts = parts.join(", ");
        match out.readings {
            0 => say!("review-left-unread", parts = parts),
            _ => say!("review-left", parts = parts, time = duration(out.minutes)),
        }
    };
    match out.kept_real {
        0 => told,
        kept => format!("{told} {}", say!("review-left-kept", kept = kept)),
    }
}

/// 'Below 70 mg/dL: 3.1 % with them, 1.9 % without.'
fn changed(without: &Summary, with: &Summary, findings: &ReviewFindings, shown: Shown) -> Option<String> {
    let (with, without) = (with.below_percent.value?, without.below_percent.value?);
    Some(say!(
        "review-left-changes",
        bound = shown.glucose_with_unit(findings.targets.range_low_mg_dl),
        with = percent(with),
        without = percent(without)
    ))
}

/// One of them: 'Tue 3 Feb, 02:10 to 02:50, sensor S03, possible'.
pub fn left_out_low(low: &LeftOutLow) -> String {
    let (from, to) = (date_and_clock(low.start.0), date_and_clock(low.end.0));
    if low.sensor.is_empty() {
        return say!("review-left-low", said = low.said, from = from, to = to);
    }
    say!(
        "review-left-low-sensor",
        said = low.said,
        from = from,
        to = to,
        sensor = low.sensor.as_str()
    )
}

/// The figures with and without what is left out or marked; nothing where there is nothing.
pub fn with_and_without(findings: &ReviewFindings, shown: Shown) -> Option<Table> {
    let (with, without) = match (&findings.left_out, &findings.summary_without_artefacts) {
        (Some(out), _) => (out.summary_with.as_ref()?, &findings.summary),
        (None, Some(without)) => (&findings.summary, without),
        (None, None) => return None,
    };
    let targets = &findings.targets;
    let below = |mg_dl: f64| say!("review-edge-below", glucose = shown.glucose_with_unit(mg_dl));
    let above = |mg_dl: f64| say!("review-edge-above", glucose = shown.glucose_with_unit(mg_dl));
    let names = [
        below(targets.very_low_below_mg_dl),
        below(targets.range_low_mg_dl),
        say!("review-in-range"),
        above(targets.range_high_mg_dl),
        say!("measure-mean"),
        say!("measure-gmi"),
        say!("measure-cv"),
        say!("measure-lbgi"),
    ];
    let cells = |summary: &Summary| {
        [
            percent_figure(&summary.very_low_percent),
            percent_figure(&summary.below_percent),
            percent_figure(&summary.in_range_percent),
            percent_figure(&summary.above_percent),
            shown.glucose_figure(&summary.mean_mg_dl),
            tenths_percent(&summary.gmi_percent),
            tenths_percent(&summary.cv_percent),
            plain(&summary.lbgi, 1),
        ]
    };
    let rows = names.into_iter().zip(cells(with)).zip(cells(without));
    let heads = [
        say!("review-figure-head"),
        say!("review-with-head"),
        say!("review-without-head"),
    ];
    let [figure, all, left] = heads.each_ref().map(String::as_str);
    let rows = rows.map(|((name, with), without)| vec![name, with, without]);
    Some(Table::new(
        "with-and-without",
        &[(figure, false), (all, true), (left, true)],
        rows.collect(),
    ))
}

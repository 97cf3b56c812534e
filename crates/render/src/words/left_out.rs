//! What an account leaves out, and its figures both ways.

use interstice_findings::{LeftOut, LeftOutLow, ReviewFindings, Summary};

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
        said.push(
            "A possible pressure low may have been real: a blood check decides. All of it stays in the book and on Days and \
             Trust."
                .to_owned(),
        );
    }
    said
}

fn counted(out: &LeftOut) -> String {
    let mut parts = Vec::new();
    for (count, what) in [
        (out.possible, "possible pressure low"),
        (out.said, "low you said was pressure"),
        (out.marked, "stretch you marked as not to be believed"),
    ] {
        match count {
            0 => {}
            1 => parts.push(format!("1 {what}")),
            count => parts.push(format!("{count} {}", plural(what))),
        }
    }
    let kept = match out.kept_real {
        0 => String::new(),
        1 => " One that looks like pressure stays in, for you said it was real.".to_owned(),
        count => format!(" {count} that look like pressure stay in, for you said they were real."),
    };
    if parts.is_empty() {
        return format!(
            "Nothing in this window counts as pressure or is marked as not to be believed, so nothing is left out.{kept}"
        );
    }
    let time = if out.readings == 0 {
        "no reading of this window".to_owned()
    } else {
        format!("{} of readings", duration(out.minutes))
    };
    format!("Left out: {}; {time}.{kept}", parts.join(", "))
}

fn plural(what: &str) -> String {
    match what.split_once(' ') {
        Some(("low", rest)) => format!("lows {rest}"),
        Some(("stretch", rest)) => format!("stretches {rest}"),
        _ => format!("{what}s"),
    }
}

/// 'Below 70 mg/dL: 3.1 % with them, 1.9 % without.'
fn changed(without: &Summary, with: &Summary, findings: &ReviewFindings, shown: Shown) -> Option<String> {
    let (with, without) = (with.below_percent.value?, without.below_percent.value?);
    Some(format!(
        "Below {}: {} % with them, {} % without.",
        shown.glucose_with_unit(findings.targets.range_low_mg_dl),
        percent(with),
        percent(without)
    ))
}

/// One of them: 'Tue 3 Feb, 02:10 to 02:50, sensor S03, possible'.
pub fn left_out_low(low: &LeftOutLow) -> String {
    let sensor = if low.sensor.is_empty() {
        String::new()
    } else {
        format!(", sensor {}", low.sensor)
    };
    format!(
        "{} to {}{sensor}: {}",
        date_and_clock(low.start.0),
        date_and_clock(low.end.0),
        if low.said {
            "you said it was pressure"
        } else {
            "possible pressure low, a blood check decides"
        }
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
    let edge = |word: &str, mg_dl: f64| format!("{word} {}", shown.glucose_with_unit(mg_dl));
    let names = [
        edge("Below", targets.very_low_below_mg_dl),
        edge("Below", targets.range_low_mg_dl),
        "In range".to_owned(),
        edge("Above", targets.range_high_mg_dl),
        "Mean".to_owned(),
        "GMI".to_owned(),
        "Coefficient of variation (CV)".to_owned(),
        "LBGI".to_owned(),
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
        ("Figure, 95 % margin", false),
        ("With all readings", true),
        ("Without", true),
    ];
    let rows = rows.map(|((name, with), without)| vec![name, with, without]);
    Some(Table::new("with-and-without", &heads, rows.collect()))
}

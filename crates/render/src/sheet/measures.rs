//! Consensus measures with their targets, without probable pressure, and since the last visit.

use interstice_findings::compare::ComparedLine;
use interstice_findings::{Figure, ReviewFindings, Summary, VisitFindings};
use interstice_glucose::{counted, round_half_up};

use crate::words::{
    RangeRow, Shown, Standing, Table, clock, date, duration, hours_minutes, no_usual_day, percent,
    percent_figure, range_rows, short_date, signed, tenths_percent,
};

type Of = fn(&Summary) -> &Figure;

/// How a figure is written.
#[derive(Clone, Copy)]
enum Kind {
    Share,
    Tenths,
    Glucose,
}

struct Row {
    name: String,
    json: &'static str,
    of: Of,
    kind: Kind,
    day: String,
    target: String,
    standing: Standing,
}

/// The table. The columns without probable pressure and since the last visit are there only where there is something in them.
pub(super) fn table(findings: &VisitFindings, shown: Shown) -> Table {
    let review = &findings.review;
    let without = findings.without_pressure.as_ref();
    let since = findings
        .change
        .since
        .as_ref()
        .filter(|_| !findings.change.lines.is_empty())
        .map(|since| format!("Change since {}", short_date(since)));
    let mut heads = vec![
        ("Measure", false),
        ("Average day", true),
        ("This window", true),
        ("Target", false),
    ];
    if without.is_some() {
        heads.push(("Without pressure", true));
    }
    if let Some(since) = &since {
        heads.push((since, true));
    }
    let rows = rows(review, shown)
        .into_iter()
        .map(|row| {
            let write = |figure: &Figure| written(figure, row.kind, shown);
            let mut cells = vec![
                row.name,
                row.day,
                write((row.of)(&review.summary)),
                target(&row.target, row.standing),
            ];
            if let Some(without) = without {
                cells.push(bare((row.of)(&without.summary), row.kind, shown));
            }
            if since.is_some() {
                let line = findings.change.of(row.json);
                cells.push(line.map_or_else(|| "–".to_owned(), |line| changed(line, row.kind, shown)));
            }
            cells
        })
        .collect();
    Table::new("measures", &heads, rows)
}

fn rows(review: &ReviewFindings, shown: Shown) -> Vec<Row> {
    let ranges = range_rows(review, shown);
    let part = |name: &str, json: &'static str, of: Of, said: fn(&str, &RangeRow) -> String| {
        let row = ranges.iter().find(|row| row.figure == json);
        Row {
            name: row.map_or_else(|| name.to_owned(), |row| said(name, row)),
            json,
            of,
            kind: Kind::Share,
            day: row.map_or_else(|| "–".to_owned(), |row| row.minutes.clone()),
            target: row.map_or_else(String::new, |row| row.short_target.clone()),
            standing: row.map_or(Standing::None, |row| row.standing),
        }
    };
    let whole = |name: &str, row: &RangeRow| format!("{name}, {}", row.bounds);
    let of_it = |_: &str, row: &RangeRow| format!("   of it {}", row.bounds);
    let plain = |name: &str, json, of: Of, kind| Row {
        name: name.to_owned(),
        json,
        of,
        kind,
        day: String::new(),
        target: String::new(),
        standing: Standing::None,
    };
    let cv_at_most = review.targets.cv_at_most_percent;
    vec![
        part("In range", "in_range_percent", |s| &s.in_range_percent, whole),
        part("Below range", "below_percent", |s| &s.below_percent, whole),
        part("very low", "very_low_percent", |s| &s.very_low_percent, of_it),
        part("Above range", "above_percent", |s| &s.above_percent, whole),
        part("very high", "very_high_percent", |s| &s.very_high_percent, of_it),
        plain("Mean", "mean_mg_dl", |s| &s.mean_mg_dl, Kind::Glucose),
        plain("GMI", "gmi_percent", |s| &s.gmi_percent, Kind::Tenths),
        Row {
            target: format!("≤ {} %", percent(cv_at_most)),
            standing: Standing::at_most(&review.summary.cv_percent, cv_at_most).of(review),
            ..plain("CV", "cv_percent", |s| &s.cv_percent, Kind::Tenths)
        },
    ]
}

fn target(target: &str, standing: Standing) -> String {
    match standing {
        Standing::None => target.to_owned(),
        standing => format!("{target}: {}", standing.short()),
    }
}

fn written(figure: &Figure, kind: Kind, shown: Shown) -> String {
    if figure.value.is_none() {
        return "–".to_owned();
    }
    match kind {
        Kind::Share => percent_figure(figure),
        Kind::Tenths => tenths_percent(figure),
        Kind::Glucose => shown.glucose_figure(figure),
    }
}

/// The value alone.
fn bare(figure: &Figure, kind: Kind, shown: Shown) -> String {
    let alone = Figure {
        value: figure.value,
        ..Figure::default()
    };
    written(&alone, kind, shown)
}

/// '+3.1 (−1.2 to +7.3)'.
pub(super) fn changed_by(line: &ComparedLine, write: impl Fn(f64) -> String) -> String {
    let Some(difference) = line.difference else {
        return "–".to_owned();
    };
    let margin = line
        .difference_lo95
        .zip(line.difference_hi95)
        .map_or_else(String::new, |(lo, hi)| {
            format!(" ({} to {})", write(lo), write(hi))
        });
    format!("{}{margin}", write(difference))
}

fn changed(line: &ComparedLine, kind: Kind, shown: Shown) -> String {
    match kind {
        Kind::Glucose => changed_by(line, |value| signed(value, shown)),
        _ => changed_by(line, signed_tenths),
    }
}

/// '+3.1', '−0.4', '0.0'.
pub(super) fn signed_tenths(value: f64) -> String {
    let text = round_half_up(value.abs(), 1);
    match (text.as_str(), value < 0.0) {
        ("0.0", _) => text,
        (_, true) => format!("−{text}"),
        (_, false) => format!("+{text}"),
    }
}

/// What the table is held against.
pub(super) fn said(findings: &VisitFindings) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(without) = &findings.without_pressure {
        let out = &without.left_out;
        let lows = out.possible + out.said;
        let mut parts = Vec::new();
        if lows > 0 {
            parts.push(counted(lows, "probable pressure low", "probable pressure lows"));
        }
        if out.marked > 0 {
            parts.push(counted(
                out.marked,
                "stretch marked as wrong",
                "stretches marked as wrong",
            ));
        }
        said.push(format!(
            "Without pressure: {}, {} of readings, left out.",
            parts.join(" and "),
            duration(out.minutes)
        ));
    }
    let change = &findings.change;
    match (&change.since, &change.reason) {
        (Some(since), Some(reason)) => said.push(format!(
            "Nothing can be said of what changed since {}: {reason}.",
            date(since)
        )),
        (None, _) => {
            said.push("No earlier visit is written down, so what changed since is not told.".to_owned())
        }
        _ => {}
    }
    said
}

/// What the ruler shows.
pub(super) fn average_day(review: &ReviewFindings) -> String {
    let day = &review.average_day;
    let part = |minutes: Option<f64>| minutes.map_or_else(|| "unknown time".to_owned(), hours_minutes);
    format!(
        "An average day of 24 hours: {} in range, {} above, of which {} very high, and {} below, of which {} very low.",
        part(day.in_range_min),
        part(day.above_min),
        part(day.very_high_min),
        part(day.below_min),
        part(day.very_low_min)
    )
}

/// What the picture of the usual day shows, or why there is none.
pub(super) fn usual_day(findings: &VisitFindings, shown: Shown) -> String {
    let points = &findings.review.usual_day;
    if let Some(why) = no_usual_day(points) {
        return why;
    }
    let medians = || points.iter().filter_map(|p| p.p50_mg_dl.map(|v| (p.minute, v)));
    let lowest = medians().min_by(|a, b| a.1.total_cmp(&b.1));
    let highest = medians().max_by(|a, b| a.1.total_cmp(&b.1));
    let (Some(lowest), Some(highest)) = (lowest, highest) else {
        return String::new();
    };
    format!(
        "The median is lowest at {} with {} and highest at {} with {}.",
        clock(lowest.0),
        shown.glucose_with_unit(lowest.1),
        clock(highest.0),
        shown.glucose_with_unit(highest.1)
    )
}

//! The tables of one sensor as cells, so that page and file show the same.

use interstice_findings::trust::{Agreement, ReadsHigh, SensorFindings};
use interstice_glucose::round_half_up;

use super::number::{percent_figure, tenths_percent};
use super::trust::{signed_figure, signed_percent, with_sign};
use super::trust_table::{Table, direction};
use super::{Shown, date_and_clock, duration, signed};

/// Every table of the page: 'days', 'checks', 'figures', 'faults'.
pub fn sensor_tables(findings: &SensorFindings, shown: Shown) -> Vec<Table> {
    vec![
        days(findings),
        checks(findings, shown),
        figures(findings, shown),
        faults(findings, shown),
    ]
}

/// '+4', '−3'.
fn points(value: f64) -> String {
    with_sign(value, &round_half_up(value.abs(), 0))
}

fn days(findings: &SensorFindings) -> Table {
    let or_dash = |text: Option<String>| text.unwrap_or_else(|| "–".to_owned());
    let span = |(low, high): (f64, f64)| format!("{} to {}", points(low), points(high));
    let rows = findings.days.iter().map(|day| {
        let high: Option<ReadsHigh> = day.reads_high;
        vec![
            day.day.to_string(),
            date_and_clock(day.from.0),
            day.readings.to_string(),
            day.checks.to_string(),
            if day.checks > 0 {
                day.within_15.to_string()
            } else {
                "–".to_owned()
            },
            or_dash(day.difference_percent.map(span)),
            or_dash(high.map(|high| points(high.percent))),
            or_dash(high.map(|high| span(high.most))),
        ]
    });
    let heads = [
        ("Day of wear", false),
        ("From", false),
        ("Readings", true),
        ("Checks", true),
        ("Within 15", true),
        ("Sensor less blood, %", true),
        ("Reads high by, %", true),
        ("Nine times in ten, %", true),
    ];
    Table::new("days", &heads, rows.collect())
}

fn checks(findings: &SensorFindings, shown: Shown) -> Table {
    let rows = findings.checks.iter().map(|line| {
        let point = &line.point;
        vec![
            date_and_clock(point.at.0),
            point.worn_h.map_or_else(
                || "–".to_owned(),
                |hours| format!("{:.0}", (hours / 24.0).floor() + 1.0),
            ),
            shown.glucose(point.blood_mg_dl),
            format!("± {}", shown.glucose(line.meter_mg_dl)),
            shown.glucose(point.sensor_mg_dl),
            signed(line.difference_mg_dl, shown),
            points(line.difference_percent),
            point.direction.map_or("not known", direction).to_owned(),
        ]
    });
    let unit = shown.unit;
    let heads = [
        ("Check", false),
        ("Day of wear", true),
        (&*format!("Blood, {unit}"), true),
        (&*format!("Meter, {unit}"), true),
        (&*format!("Sensor, {unit}"), true),
        (&*format!("Difference, {unit}"), true),
        ("Difference, %", true),
        ("Glucose was", false),
    ];
    Table::new("checks", &heads, rows.collect())
}

fn figures(findings: &SensorFindings, shown: Shown) -> Table {
    let mut rows = vec![vec![
        "Pairs".to_owned(),
        findings.counts.pairs.to_string(),
        findings.others.as_ref().map_or_else(
            || "–".to_owned(),
            |others| format!("{}, of {} sensors", others.pairs, others.sensors),
        ),
    ]];
    let beside = findings.others.as_ref().map(|others| &others.agreement);
    for (name, write) in measures(shown) {
        let other = beside.map_or_else(|| "–".to_owned(), &write);
        rows.push(vec![name.to_owned(), write(&findings.agreement), other]);
    }
    let heads = [
        ("Figure, 95 % margin", false),
        ("This sensor", false),
        ("Your other sensors", false),
    ];
    Table::new("figures", &heads, rows)
}

type Write = Box<dyn Fn(&Agreement) -> String>;

fn measures(shown: Shown) -> Vec<(&'static str, Write)> {
    let within = |limit: f64| -> Write {
        Box::new(move |of| {
            of.share(limit)
                .map_or_else(String::new, |share| percent_figure(&share.percent))
        })
    };
    vec![
        ("Within 15/15", within(15.0)),
        ("Within 20/20", within(20.0)),
        ("MARD", Box::new(|of| tenths_percent(&of.mard_percent))),
        (
            "Median ARD",
            Box::new(|of| tenths_percent(&of.median_ard_percent)),
        ),
        ("Bias", Box::new(move |of| signed_figure(&of.bias_mg_dl, shown))),
        (
            "Relative bias",
            Box::new(|of| signed_percent(&of.relative_bias_percent)),
        ),
    ]
}

fn faults(findings: &SensorFindings, shown: Shown) -> Table {
    let rows = findings.faults.iter().map(|line| {
        vec![
            date_and_clock(line.from.0),
            duration(line.minutes),
            line.fault.words(shown.unit),
        ]
    });
    let heads = [("From", false), ("How long", true), ("What", false)];
    Table::new("faults", &heads, rows.collect())
}

//! The tables of trust as cells, so that page and file show the same.

use interstice_findings::TrustFindings;
use interstice_findings::trust::{Point, Started, WearLine};
use interstice_glucose::round_half_up;

use super::trust::{agreement_rows, criterion, signed};
use super::trust_effects::{effects_table, levels_table};
use super::trust_group::group_tables;
use super::{Shown, date_and_clock, day_and_clock, pressure_likely, rate_table};

/// A column's heading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Head {
    /// With its unit.
    pub name: String,
    /// Whether it holds numbers.
    pub number: bool,
}

/// A table of words, its first column naming each row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    /// For addresses and files.
    pub id: &'static str,
    /// Headings.
    pub heads: Vec<Head>,
    /// As many cells a row as there are headings.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    pub(crate) fn new(id: &'static str, heads: &[(&str, bool)], rows: Vec<Vec<String>>) -> Self {
        let heads = heads
            .iter()
            .map(|&(name, number)| Head {
                name: name.to_owned(),
                number,
            })
            .collect();
        Table { id, heads, rows }
    }

    /// As comma-separated values (RFC 4180) with a heading.
    pub fn csv(&self) -> String {
        let line = |cells: &mut dyn Iterator<Item = &str>| {
            let cells: Vec<String> = cells.map(cell).collect();
            cells.join(",") + "\r\n"
        };
        let mut text = line(&mut self.heads.iter().map(|head| head.name.as_str()));
        for row in &self.rows {
            text.push_str(&line(&mut row.iter().map(String::as_str)));
        }
        text
    }
}

/// One cell. A spreadsheet would run a cell that begins like a formula, so such a text gets an apostrophe before it;
/// signed numbers are left alone.
fn cell(text: &str) -> String {
    let formula = text.starts_with(['=', '@', '\t', '\r'])
        || (text.starts_with(['+', '-']) && !text[1..].starts_with(|c: char| c.is_ascii_digit()));
    let text = if formula {
        format!("'{text}")
    } else {
        text.to_owned()
    };
    if text.contains(['"', ',', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text
    }
}

/// Every table of the page: 'figures', the breakdowns by name, 'effects', 'levels', 'criteria', 'pressure', 'pairs'.
pub fn trust_tables(findings: &TrustFindings, shown: Shown) -> Vec<Table> {
    let mut tables = vec![figures(findings, shown)];
    for group in group_tables(findings, shown) {
        let rows = group.rows.iter().map(|row| {
            vec![
                row.name.clone(),
                row.pairs.to_string(),
                row.mard.clone(),
                row.bias.clone(),
                row.within.clone(),
                row.more.clone(),
            ]
        });
        let heads = [
            (group.title, false),
            ("Pairs", true),
            ("MARD, 95 % margin", true),
            ("Bias, 95 % margin", true),
            ("Within 15, 95 % margin", true),
            ("Pairs to ± 2 points", true),
        ];
        tables.push(Table::new(group.id, &heads, rows.collect()));
    }
    tables.push(effects_table(&findings.effects));
    tables.push(levels_table(&findings.effects));
    tables.push(criteria(findings, shown));
    tables.push(pressure(findings, shown));
    tables.push(rate_table(&findings.pressure.rates));
    tables.push(pairs(&findings.points, shown));
    tables
}

fn figures(findings: &TrustFindings, shown: Shown) -> Table {
    let rows = agreement_rows(findings, shown).into_iter();
    let rows = rows.map(|row| vec![row.name, row.value, row.meaning]).collect();
    let heads = [
        ("Figure", false),
        ("Value, 95 % margin", false),
        ("What it says", false),
    ];
    Table::new("figures", &heads, rows)
}

fn pressure(findings: &TrustFindings, shown: Shown) -> Table {
    let rows = findings.pressure.events.iter().map(|event| {
        vec![
            date_and_clock(event.start.0),
            format!("{:.0}", event.minutes),
            event.sensor_id.clone(),
            shown.glucose(event.nadir_mg_dl),
            format!("{:.0}", event.attenuation_percent),
            pressure_likely(event),
            event.evidence.words(shown.unit).join(" "),
        ]
    });
    let lowest = format!("Lowest reading, {}", shown.unit);
    let heads = [
        ("From", false),
        ("Minutes", true),
        ("Sensor", false),
        (lowest.as_str(), true),
        ("Taken off, %", true),
        ("Likely", true),
        ("Signs", false),
    ];
    Table::new("pressure", &heads, rows.collect())
}

fn criteria(findings: &TrustFindings, shown: Shown) -> Table {
    let rows = findings
        .icgm
        .iter()
        .map(|line| criterion(line, shown).to_vec())
        .collect();
    let heads = [("Criterion", false), ("Asked", false), ("In your pairs", false)];
    Table::new("criteria", &heads, rows)
}

fn pairs(points: &[Point], shown: Shown) -> Table {
    let rows = points.iter().rev().map(|point| {
        let difference = point.sensor_mg_dl - point.blood_mg_dl;
        vec![
            date_and_clock(point.at.0),
            point.sensor.clone(),
            shown.glucose(point.blood_mg_dl),
            shown.glucose(point.sensor_mg_dl),
            signed(difference, shown),
            format!(
                "{} %",
                round_half_up(100.0 * difference.abs() / point.blood_mg_dl, 0)
            ),
            point.direction.map_or("not known", direction).to_owned(),
            point.worn_h.map_or_else(
                || "–".to_owned(),
                |hours| format!("{:.0}", (hours / 24.0).floor() + 1.0),
            ),
            format!("{} / {}", point.consensus, point.clarke),
        ]
    });
    let unit = shown.unit;
    let heads = [
        ("Check", false),
        ("Sensor", false),
        (&*format!("Blood, {unit}"), true),
        (&*format!("Sensor, {unit}"), true),
        (&*format!("Difference, {unit}"), true),
        ("Apart", true),
        ("Glucose was", false),
        ("Day of wear", true),
        ("Zones", false),
    ];
    Table::new("pairs", &heads, rows.collect())
}

pub(super) fn direction(key: &'static str) -> &'static str {
    match key {
        "falling_fast" => "falling fast",
        "rising_fast" => "rising fast",
        other => other,
    }
}

/// When a sensor was started, and how that is known.
pub fn wear_start(wear: &WearLine) -> String {
    let Some(started) = wear.started else {
        return "not known".to_owned();
    };
    let how = match wear.started_by {
        Started::Noted | Started::Unknown => "",
        Started::FirstReading => ", first reading",
        Started::Pause => ", guessed",
    };
    format!("{}{how}", day_and_clock(started.0))
}

/// Place on the body with its side: 'left upper arm'.
pub fn wear_site(wear: &WearLine) -> Option<String> {
    match (&wear.side, &wear.site) {
        (Some(side), Some(site)) => Some(format!("{side} {site}")),
        (side, site) => site.clone().or_else(|| side.clone()),
    }
}

/// Of one sensor among all: pairs within 15/15 of its pairs, and its bias without the unit; a dash where there is none.
pub fn wear_figures(findings: &TrustFindings, wear: &WearLine, shown: Shown) -> [String; 2] {
    let line = findings.by.sensor.iter().find(|line| line.key == wear.sensor);
    let within = line.map(|line| format!("{} of {}", line.within_15.within, line.within_15.of));
    let bias = line.and_then(|line| Some(signed(line.bias_mg_dl.value?, shown)));
    [within, bias].map(|text| text.unwrap_or_else(|| "–".to_owned()))
}

/// What the answer is over: 'all sensors, 20 September 2025 to 7 April 2026'.
pub fn trust_window(findings: &TrustFindings) -> String {
    let first = findings.wears.first().map(|wear| wear.from.0);
    let last = findings
        .wears
        .iter()
        .map(|wear| wear.to.0)
        .max_by_key(|moment| moment.at);
    let (Some(first), Some(last)) = (first, last) else {
        return String::new();
    };
    let who = match (&findings.sensor, findings.wears.len()) {
        (Some(name), _) => format!("sensor {name}"),
        (None, 1) => "one sensor".to_owned(),
        (None, count) => format!("all {count} sensors"),
    };
    format!("{who}, {} to {}", super::day(first), super::day(last))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_becomes_a_formula_and_signs_stay() {
        let said = ["=1+1", "+11 mg/dL", "-5", "-x", "@a", "a,b", "say \"so\""].map(cell);
        assert_eq!(
            said,
            [
                "'=1+1",
                "+11 mg/dL",
                "-5",
                "'-x",
                "'@a",
                "\"a,b\"",
                "\"say \"\"so\"\"\""
            ]
        );
    }
}

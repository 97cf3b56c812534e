//! What `interstice trust --sensor` adds of one sensor's life.

use interstice_findings::trust::SensorFindings;
use interstice_glucose::Unit;

use super::table::{Align, Table, wrap};
use crate::words::{
    Caution, Shown, faults_account, pressure_event, scale_said, sensor_answer, sensor_basis, sensor_facts,
    sensor_pressure, sensor_span, sensor_tables,
};

/// Facts, the scale over its life, the others beside it, silences, possible pressure lows; ends in a line feed.
pub fn sensor(findings: &SensorFindings, unit: Unit) -> String {
    let shown = Shown { unit };
    let mut out = vec![format!(
        "Sensor {}, {}",
        findings.wear.sensor,
        sensor_span(findings)
    )];
    out.extend(wrap(&sensor_answer(findings), 0));
    paragraph(&mut out, &sensor_basis(findings, shown));
    out.push(String::new());
    let facts = sensor_facts(findings);
    let width = facts.iter().map(|(name, _)| name.len()).max().unwrap_or(0);
    for (name, value) in facts {
        let lines = wrap(&value, width + 2).into_iter().enumerate();
        out.extend(lines.map(|(i, line)| {
            if i == 0 {
                format!("{name:width$}  {}", line.trim_start())
            } else {
                line
            }
        }));
    }
    scale(&mut out, findings, shown);
    if findings.counts.pairs > 0 {
        section(&mut out, "Beside your other sensors");
        table(&mut out, findings, shown, "figures", &[0, 1, 2]);
    }
    section(&mut out, "Silences and pressure");
    paragraph(&mut out, &faults_account(findings));
    paragraph(&mut out, &sensor_pressure(findings));
    for event in &findings.pressure {
        out.push(String::new());
        out.extend(wrap(&pressure_event(event, shown), 0));
        for sign in event.evidence.words(shown.unit) {
            out.extend(wrap(&sign, 2));
        }
    }
    if !findings.pressure.is_empty() {
        out.push(String::new());
        paragraph(&mut out, &Caution::Pressure.text(shown));
    }
    out.push(String::new());
    out.join("\n")
}

fn section(out: &mut Vec<String>, title: &str) {
    out.push(String::new());
    out.push(title.to_owned());
}

fn paragraph(out: &mut Vec<String>, text: &str) {
    if !text.is_empty() {
        out.extend(wrap(text, 0));
    }
}

fn scale(out: &mut Vec<String>, findings: &SensorFindings, shown: Shown) {
    section(out, "How this sensor scales, day by day of wear");
    paragraph(out, &scale_said(findings, shown));
    table(out, findings, shown, "days", &[0, 2, 3, 4, 5, 6, 7]);
}

/// Some columns of a table of the page, as wide as a terminal.
fn table(out: &mut Vec<String>, findings: &SensorFindings, shown: Shown, id: &str, columns: &[usize]) {
    let tables = sensor_tables(findings, shown);
    let Some(found) = tables.iter().find(|table| table.id == id) else {
        return;
    };
    let heads: Vec<(&str, Align)> = columns
        .iter()
        .filter_map(|&column| found.heads.get(column))
        .map(|head| {
            let align = if head.number { Align::Right } else { Align::Left };
            (narrow(&head.name), align)
        })
        .collect();
    let mut lines = Table::new(&heads);
    for row in &found.rows {
        lines.row(columns.iter().filter_map(|&column| row.get(column)).cloned());
    }
    out.extend(lines.lines());
}

/// Headings that would make a table wider than a terminal, in fewer letters.
fn narrow(head: &str) -> &str {
    match head {
        "Day of wear" => "day",
        "Sensor less blood, %" => "differences, %",
        "Reads high by, %" => "reads high, %",
        "Nine times in ten, %" => "9 in 10, %",
        other => other,
    }
}

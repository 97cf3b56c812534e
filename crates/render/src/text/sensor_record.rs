//! The record of one sensor as plain text, to be sent.

use interstice_findings::wear::SensorRecord;

use super::table::wrap;
use crate::words::{
    RECORD_SAID, Shown, day_and_clock, record_checks, record_checks_said, record_facts, record_photos,
    record_title, record_trace,
};

/// Facts, readings, blood checks, words; ends in a line feed.
pub fn sensor_record(record: &SensorRecord, shown: Shown) -> String {
    let mut out = vec![record_title(record)];
    out.extend(wrap(RECORD_SAID, 0));
    out.push(String::new());
    let facts = record_facts(record);
    let width = facts.iter().map(|(name, _)| name.len()).max().unwrap_or(0);
    for (name, value) in facts {
        let lines = wrap(&value, width + 2).into_iter().enumerate();
        out.extend(lines.map(|(i, line)| match i {
            0 => format!("{name:width$}  {}", line.trim_start()),
            _ => line,
        }));
    }
    section(&mut out, "What its readings showed");
    for said in record_trace(record, shown) {
        out.extend(wrap(&said, 0));
    }
    section(&mut out, "Blood checks");
    out.extend(wrap(&record_checks_said(record), 0));
    if !record.checks.is_empty() {
        out.extend(record_checks(record, shown).lines());
    }
    if !record.notes.is_empty() {
        section(&mut out, "What was written beside it");
        for note in &record.notes {
            out.extend(wrap(note, 0));
        }
    }
    if let Some(photos) = record_photos(record) {
        section(&mut out, "Photos");
        out.push(photos);
    }
    out.push(String::new());
    out.push(format!("Put together {}.", day_and_clock(record.made.0)));
    out.push(String::new());
    out.join("\n")
}

fn section(out: &mut Vec<String>, title: &str) {
    out.push(String::new());
    out.push(title.to_owned());
}

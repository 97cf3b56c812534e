//! Reading files in tests.

#![allow(dead_code, reason = "each test uses its own part")]

pub(crate) mod dice;
pub(crate) mod sheets;

use std::path::PathBuf;

use interstice_glucose::{TraceKind, Zone};
use interstice_intake::{Hints, Outcome, Question, ReadFile, Role, ZoneSource, read};

pub(crate) fn hints(zone: &str) -> Hints {
    Hints {
        zone: (Zone::named(zone).unwrap(), ZoneSource::Asked),
        unit: None,
        dates: None,
        roles: Vec::new(),
        subject: None,
        recipes: Vec::new(),
    }
}

pub(crate) fn invented(name: &str) -> PathBuf {
    [env!("CARGO_MANIFEST_DIR"), "..", "..", "testdata", "intake", name]
        .iter()
        .collect()
}

pub(crate) fn bring(name: &str, hints: &Hints) -> Result<ReadFile, Vec<Question>> {
    match read(&invented(name), hints, &mut ()).unwrap() {
        Outcome::Read(file) => Ok(*file),
        Outcome::Question { questions, .. } => Err(questions),
    }
}

/// What a file brought, in one line.
pub(crate) fn counts(file: &ReadFile) -> String {
    let d = &file.draft;
    format!(
        "{} rows: {} automatic, {} scans, {} blood, {} doses, {} meals, {} marks, {} sensor notes, {} rejected",
        file.rows_read,
        d.count(TraceKind::Automatic),
        d.count(TraceKind::Scan),
        d.blood_checks.len(),
        d.doses.len(),
        d.meals.len(),
        d.marks.len(),
        d.sensor_notes.len(),
        d.rejected_count()
    )
}

/// How a file was understood, in lines a person can read.
pub(crate) fn understood(file: &ReadFile) -> String {
    let mut lines = vec![counts(file)];
    for table in &file.understanding.tables {
        lines.push(format!("{}: {}", table.place, table.format));
        for column in table.columns.iter().filter(|c| c.role != Role::Ignored) {
            lines.push(format!(
                "  {} '{}' is {}",
                column.number,
                column.heading,
                column.role.word()
            ));
        }
        lines.push(format!("  {}", table.time_rule));
        lines.extend(table.unit.iter().map(|(unit, why)| format!("  {unit}: {why}")));
        lines.push(format!("  zone {}", table.zone));
        lines.extend(table.parsed.iter().take(2).map(|row| format!("  > {row}")));
    }
    lines.extend(
        file.understanding
            .notes
            .iter()
            .map(|note| format!("note: {note}")),
    );
    lines.join("\n")
}

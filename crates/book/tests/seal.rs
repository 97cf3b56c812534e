//! One bit of the file changed: either the book tells what it told before, or a check says that it is not whole.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use std::path::{Path, PathBuf};

use common::{Source, check, dose, import, mark, meal, mg, sensor_note, standing};
use interstice_book::{Book, Entry, Mode, Setting};
use interstice_glucose::{Draft, Rejected, TraceKind, Unit};
use rusqlite::Connection;

/// One import, one entry by hand, a correction, a deletion, an undo, settings set and set again.
fn written(folder: &Path) -> PathBuf {
    let path = folder.join("book");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    let source = Source {
        readings: (0..40)
            .map(|i| {
                (
                    "S1",
                    TraceKind::Automatic,
                    86_400 + i * 300,
                    mg(90 + i64::from(i)),
                )
            })
            .collect(),
        blood_checks: (0..12).map(|i| check(86_400 + i * 7200, 100 + i)).collect(),
        doses: (0..8).map(|i| dose(86_400 + i * 9000, 1.5 + i as f64)).collect(),
        meals: (0..6)
            .map(|i| meal(86_400 + i * 10_000, 20.0 + i as f64))
            .collect(),
        marks: vec![mark(86_400, Some(90_000), "a walk by the water")],
        sensor_notes: vec![sensor_note(86_300)],
    };
    import(&mut book, 1, &source);
    let draft = Draft {
        rejected: vec![Rejected {
            row: 7,
            column: "glucose".to_owned(),
            text: "LO?".to_owned(),
            reason: "no number".to_owned(),
        }],
        meals: vec![meal(200_000, 33.0)],
        ..Draft::default()
    };
    book.log(&draft, "logged a meal", 10).unwrap();
    let entry = book.load_all().unwrap().meals[0].entry;
    book.edit(entry, &Entry::Meal(meal(86_460, 21.5)), Some("weighed"), 20)
        .unwrap();
    let entry = book.load_all().unwrap().doses[0].entry;
    book.delete(entry, None, 30).unwrap();
    book.set(Setting::Unit(Some(Unit::MmolPerL)), 40).unwrap();
    book.set(Setting::Unit(Some(Unit::MgPerDl)), 41).unwrap();
    book.set(Setting::TargetGroup(Some("older".to_owned())), 42)
        .unwrap();
    book.undo(None, 43).unwrap();
    drop(book);
    path
}

/// All that a book tells, or that it tells nothing.
fn told(book: &Book) -> Option<String> {
    let record = book.load_all().ok()?;
    let events = (
        &record.blood_checks,
        &record.doses,
        &record.meals,
        &record.marks,
        &record.sensor_notes,
    );
    let (journal, imports) = (book.journal().ok()?, book.imports().ok()?);
    let rejected: Vec<_> = journal
        .iter()
        .map(|change| book.rejected(change.id).ok())
        .collect();
    Some(format!(
        "{:?} {events:?} {:?} {journal:?} {imports:?} {rejected:?} {:?} {:?}",
        standing(&record),
        record.clock,
        book.settings().ok()?,
        book.recipes().ok()?,
    ))
}

#[test]
fn a_whole_book_is_whole_after_every_sort_of_change() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(written(folder.path()), Mode::Existing).unwrap();
    let whole = |book: &Book| assert_eq!(book.check().unwrap().problems, []);
    whole(&book);
    while book.undo(None, 100).is_ok() {
        whole(&book);
    }
}

/// Every column of every ordinary table, changed in one row.
#[test]
fn a_row_that_is_not_as_it_was_written_is_found() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    let bytes = std::fs::read(&path).unwrap();
    let raw = Connection::open(&path).unwrap();
    let mut statement = raw
        .prepare(
            "SELECT t.name, c.name, c.type FROM sqlite_schema t, pragma_table_info(t.name) c
             WHERE t.type = 'table' AND t.name NOT IN ('sqlite_sequence', 'original') AND c.name != 'packed'",
        )
        .unwrap();
    let cells: Vec<(String, String, String)> = statement
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    drop(statement);
    drop(raw);
    let mut looked_at = 0;
    for (table, column, kind) in cells {
        std::fs::write(&path, &bytes).unwrap();
        let raw = Connection::open(&path).unwrap();
        raw.pragma_update(None, "foreign_keys", false).unwrap();
        raw.pragma_update(None, "ignore_check_constraints", true).unwrap();
        let changed = match kind.as_str() {
            "INTEGER" => "coalesce(\"c\", 0) + 1000",
            "REAL" => "coalesce(\"c\", 0) + 0.5",
            "TEXT" => "coalesce(\"c\", '') || 'x'",
            _ => "zeroblob(32)",
        }
        .replace("\"c\"", &column);
        let sql =
            format!("UPDATE {table} SET {column} = {changed} WHERE rowid = (SELECT max(rowid) FROM {table})");
        let rows = raw.execute(&sql, []).unwrap();
        drop(raw);
        if rows == 0 {
            continue;
        }
        looked_at += 1;
        let found = Book::open(&path, Mode::ReadOnly).is_ok_and(|book| book.check().unwrap().is_whole());
        assert!(!found, "{table}.{column} changed unseen");
    }
    assert!(looked_at > 70, "{looked_at} columns");
}

#[test]
fn no_flipped_bit_changes_what_is_told_unseen() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    let before = told(&Book::open(&path, Mode::ReadOnly).unwrap()).unwrap();
    let bytes = std::fs::read(&path).unwrap();
    let (mut seen, mut harmless) = (0, 0);
    // Every byte that holds something, one bit of it; a different one from byte to byte.
    for at in (0..bytes.len()).filter(|&at| bytes[at] != 0).step_by(37) {
        let mut flipped = bytes.clone();
        flipped[at] ^= 1 << (at % 8);
        std::fs::write(&path, &flipped).unwrap();
        let Ok(book) = Book::open(&path, Mode::ReadOnly) else {
            seen += 1;
            continue;
        };
        if book.check().is_ok_and(|report| report.is_whole()) {
            assert_eq!(told(&book).as_deref(), Some(before.as_str()), "byte {at}");
            harmless += 1;
        } else {
            seen += 1;
        }
    }
    assert!(seen > 200, "{seen} seen, {harmless} changed nothing");
}

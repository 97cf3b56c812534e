//! Stopping a change at every step on the way: afterwards all of it is in the book, or nothing.

use std::ops::ControlFlow;
use std::sync::atomic::{AtomicI64, Ordering};

use interstice_glucose::{
    BloodCheck, BloodSource, Draft, Levels, LivedSpan, Readings, Rejected, Said, TraceDraft, TraceKind, Zone,
};

use crate::{Book, Entry, KeptRecipe, Provenance, Setting};

/// Steps of the database's machine between two chances to stop.
const STEPS: i32 = 3;

fn draft(value: i64) -> Draft {
    let mut levels = Levels::new();
    let mut readings = Readings::default();
    for i in 0..1_000 {
        readings.push(
            i * 300,
            levels.intern(Said::whole_mg_per_dl(value + i64::from(i) % 50)),
        );
    }
    let said = Said::whole_mg_per_dl(value);
    Draft {
        levels,
        traces: vec![TraceDraft {
            sensor: "A".to_owned(),
            kind: TraceKind::Automatic,
            readings,
        }],
        blood_checks: vec![BloodCheck {
            at: value,
            said,
            source: BloodSource::Meter,
            note: None,
        }],
        lived: vec![LivedSpan {
            from: 0,
            to: 5,
            zone: Zone::utc(),
        }],
        rejected: vec![Rejected {
            row: 1,
            column: String::new(),
            text: String::new(),
            reason: String::new(),
        }],
        ..Draft::default()
    }
}

fn provenance(number: u8) -> Provenance {
    Provenance {
        file_name: "a.csv".to_owned(),
        digest: [number; 32],
        size_bytes: 1,
        imported_at: 0,
        options_json: "{}".to_owned(),
        understanding_json: "{}".to_owned(),
        recipes: vec![KeptRecipe {
            layout: "l".to_owned(),
            json: "{}".to_owned(),
        }],
        base_zone: Some(Zone::utc()),
        unit: None,
        original: Some(vec![7; 20_000]),
        settings: Vec::new(),
    }
}

fn import(book: &mut Book, number: u8, value: i64) -> Result<(), crate::BookError> {
    book.import(&draft(value), &provenance(number), &mut |_, _| {
        ControlFlow::Continue(())
    })
    .map(drop)
}

/// All rows of all tables.
fn everything(book: &Book) -> Vec<String> {
    let mut tables = book
        .conn
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
        .unwrap();
    let names: Vec<String> = tables
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    let mut all = Vec::new();
    for name in names {
        let mut statement = book.conn.prepare(&format!("SELECT * FROM {name}")).unwrap();
        let columns = statement.column_count();
        let mut rows = statement.query([]).unwrap();
        while let Some(row) = rows.next().unwrap() {
            let values: Vec<rusqlite::types::Value> = (0..columns).map(|i| row.get(i).unwrap()).collect();
            all.push(format!("{name} {values:?}"));
        }
    }
    all
}

/// Runs `change` on a fresh book made by `begin`, stopped after ever more steps, until it gets through. At first every
/// place is tried; later ones in growing strides, so that a long change is tried at some hundred.
fn stop_everywhere(begin: impl Fn() -> Book, change: impl Fn(&mut Book) -> Result<(), crate::BookError>) {
    let mut whole = begin();
    let before = everything(&whole);
    change(&mut whole).unwrap();
    let after = everything(&whole);
    assert!(before != after);
    let (mut allowed, mut undone) = (0, 0);
    loop {
        let mut book = begin();
        // One fault: what follows it, the rollback above all, is let through.
        let left = AtomicI64::new(allowed);
        let stop = move || left.fetch_sub(1, Ordering::Relaxed) == 0;
        book.conn.progress_handler(STEPS, Some(stop)).unwrap();
        let outcome = change(&mut book);
        book.conn.progress_handler(0, None::<fn() -> bool>).unwrap();
        let now = everything(&book);
        if outcome.is_ok() {
            assert!(now == after, "done, but otherwise than without a handler");
            break;
        }
        if now == before {
            change(&mut book).expect("what was stopped can be done again");
            assert!(everything(&book) == after);
            undone += 1;
        } else {
            // The stop came between the commit and its answer.
            assert!(
                now == after,
                "half a change is there, stopped after {allowed} steps"
            );
        }
        allowed += 1 + allowed / 50;
    }
    assert!(undone > 20, "the change was stopped only {undone} times");
}

fn begin() -> Book {
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, 100).unwrap();
    book
}

#[test]
fn an_import_stopped_anywhere_leaves_nothing() {
    stop_everywhere(begin, |book| import(book, 2, 120));
}

#[test]
fn an_undo_stopped_anywhere_leaves_everything() {
    stop_everywhere(begin, |book| book.undo(None, 0).map(drop));
}

#[test]
fn hand_made_changes_stopped_anywhere_leave_nothing() {
    stop_everywhere(begin, |book| book.log(&draft(130), "logged", 0).map(drop));
    stop_everywhere(begin, |book| {
        book.set(Setting::TargetGroup(Some("adult".to_owned())), 0)
            .map(drop)
    });
    stop_everywhere(begin, |book| {
        let kept = book.load_all()?.blood_checks.remove(0);
        let new = BloodCheck {
            note: Some("again".to_owned()),
            ..kept.it
        };
        book.edit(kept.entry, &Entry::BloodCheck(new), None, 0).map(drop)
    });
}

#[test]
fn a_full_disk_is_said_and_leaves_the_book_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(folder.path().join("book"), crate::Mode::CreateIfAbsent).unwrap();
    import(&mut book, 1, 100).unwrap();
    let before = everything(&book);
    let pages: i64 = book
        .conn
        .pragma_query_value(None, "page_count", |row| row.get(0))
        .unwrap();
    book.conn
        .pragma_update_and_check(None, "max_page_count", pages + 1, |_| Ok(()))
        .unwrap();
    let full = import(&mut book, 2, 120).unwrap_err();
    assert!(
        full.to_string()
            .contains("no room left on the disk; nothing was written"),
        "{full}"
    );
    assert!(everything(&book) == before);
}

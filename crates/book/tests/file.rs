//! The file: whose it is, what it may be, and what becomes of damaged ones.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use std::fs;
use std::path::{Path, PathBuf};

use common::{Source, check, dose, import, meal, mg, standing};
use interstice_book::{Book, BookErrorKind, Mode};
use interstice_glucose::TraceKind;
use proptest::prelude::*;
use rusqlite::Connection;

fn source(days: u32) -> Source {
    Source {
        readings: (0..days * 288)
            .map(|i| ("", TraceKind::Automatic, i * 300, mg(i64::from(60 + i % 200))))
            .collect(),
        blood_checks: (0..i64::from(days))
            .map(|day| check(day * 86_400, 90 + day))
            .collect(),
        doses: (0..i64::from(days)).map(|day| dose(day * 86_400, 4.0)).collect(),
        meals: (0..i64::from(days)).map(|day| meal(day * 86_400, 40.0)).collect(),
        ..Source::default()
    }
}

/// A closed book of two overlapping imports.
fn written(folder: &Path) -> PathBuf {
    let path = folder.join("book");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    import(&mut book, 1, &source(20));
    import(&mut book, 2, &source(30));
    path
}

fn message(path: &Path, mode: Mode) -> String {
    Book::open(path, mode).unwrap_err().to_string()
}

#[test]
fn a_book_is_one_file_for_its_owner_and_opens_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    let names: Vec<_> = fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(names, ["book"], "no helper file is left behind");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
    }
    for mode in [Mode::CreateIfAbsent, Mode::Existing, Mode::ReadOnly] {
        let book = Book::open(&path, mode).unwrap();
        assert_eq!(book.load_all().unwrap().reading_count(), 30 * 288);
        assert!(book.check().unwrap().is_whole());
    }
    let mut book = Book::open(&path, Mode::ReadOnly).unwrap();
    let refused = book.undo(None, 0).unwrap_err();
    assert!(matches!(refused.kind(), BookErrorKind::ReadOnly), "{refused}");
}

#[test]
fn helper_files_are_for_the_owner_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    fs::write(&path, "").unwrap();
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    import(&mut book, 1, &source(1));
    #[cfg(unix)]
    for entry in fs::read_dir(folder.path()).unwrap() {
        use std::os::unix::fs::PermissionsExt;
        let entry = entry.unwrap();
        assert_eq!(
            entry.metadata().unwrap().permissions().mode() & 0o077,
            0,
            "{:?}",
            entry.file_name()
        );
    }
}

#[test]
fn what_is_no_book_is_said_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    assert!(message(&path("none"), Mode::Existing).contains("there is no book here"));
    assert!(message(&path("none"), Mode::ReadOnly).contains("there is no book here"));
    assert!(!path("none").exists(), "nothing is made by looking");
    assert!(message(folder.path(), Mode::CreateIfAbsent).contains("it is a folder"));
    assert!(message(&path("no/such/folder"), Mode::CreateIfAbsent).contains("check that the folder exists"));
    fs::write(path("empty"), "").unwrap();
    assert!(message(&path("empty"), Mode::Existing).contains("it is empty"));
    let csv = "time,glucose\n2025-03-17 12:04,104\n".repeat(100);
    fs::write(path("csv"), &csv).unwrap();
    assert!(message(&path("csv"), Mode::CreateIfAbsent).contains("not a book"));
    assert_eq!(fs::read_to_string(path("csv")).unwrap(), csv);
    let foreign = Connection::open(path("foreign")).unwrap();
    foreign
        .execute_batch("CREATE TABLE t (x); INSERT INTO t VALUES (1)")
        .unwrap();
    drop(foreign);
    let before = fs::read(path("foreign")).unwrap();
    for mode in [Mode::CreateIfAbsent, Mode::Existing, Mode::ReadOnly] {
        assert!(message(&path("foreign"), mode).contains("a database of another program"));
    }
    assert_eq!(fs::read(path("foreign")).unwrap(), before);
}

#[test]
fn a_newer_book_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    Connection::open(&path)
        .unwrap()
        .pragma_update(None, "user_version", 99)
        .unwrap();
    let before = fs::read(&path).unwrap();
    for mode in [Mode::CreateIfAbsent, Mode::Existing, Mode::ReadOnly] {
        let refused = Book::open(&path, mode).unwrap_err();
        assert!(
            matches!(refused.kind(), BookErrorKind::Newer { found: 99, known: 6 }),
            "{refused}"
        );
        assert!(refused.to_string().contains("use that version"));
    }
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[cfg(unix)]
#[test]
fn a_book_in_a_folder_that_cannot_be_written_can_be_read() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    fs::set_permissions(&path, fs::Permissions::from_mode(0o400)).unwrap();
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o500)).unwrap();
    let read = Book::open(&path, Mode::ReadOnly).unwrap().load_all().unwrap();
    assert_eq!(read.reading_count(), 30 * 288);
    // An administrator may write anywhere; for anyone else this is refused.
    if fs::File::options().append(true).open(&path).is_err() {
        assert!(matches!(
            Book::open(&path, Mode::Existing).unwrap_err().kind(),
            BookErrorKind::ReadOnly | BookErrorKind::CannotOpen { .. }
        ));
    }
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o700)).unwrap();
}

#[test]
fn a_wrong_reading_is_found_by_its_checksum() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    let raw = Connection::open(&path).unwrap();
    let (id, mut packed): (i64, Vec<u8>) = raw
        .query_row(
            "SELECT id, packed FROM block WHERE day = 3 AND origin = 1",
            [],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .unwrap();
    let middle = packed.len() / 2;
    packed[middle] ^= 2;
    raw.execute("UPDATE block SET packed = ?2 WHERE id = ?1", (id, packed))
        .unwrap();
    drop(raw);
    let book = Book::open(&path, Mode::Existing).unwrap();
    let report = book.check().unwrap();
    assert_eq!(report.problem_count, 1);
    assert!(
        report.problems[0].place.contains("1970-01-04"),
        "{:?}",
        report.problems
    );
    assert!(book.load_all().unwrap_err().to_string().contains("1970-01-04"));
    assert!(
        book.load(10 * 86_400, 20 * 86_400).is_ok(),
        "other days can be read"
    );
    // What is saved lacks only that block, and the other import tells of the day too.
    let saved = folder.path().join("saved");
    let salvage = Book::salvage(&path, &saved).unwrap();
    assert_eq!(
        (salvage.unfit.get("block"), salvage.unreadable.len()),
        (Some(&1), 0)
    );
    let saved = Book::open(&saved, Mode::Existing).unwrap();
    assert!(saved.check().unwrap().is_whole());
    assert_eq!(saved.load_all().unwrap().reading_count(), 30 * 288);
    assert!(
        Book::salvage(&path, folder.path().join("saved"))
            .unwrap_err()
            .is_refusal()
    );
}

/// Rows that can be read one by one, asked for by their number; `None` where part of the layout is gone, and SQLite reads nothing.
fn readable(path: &Path, table: &str, most: i64) -> Option<Vec<i64>> {
    let raw = Connection::open(path).unwrap();
    let mut statement = raw
        .prepare(&format!("SELECT * FROM {table} WHERE rowid = ?1"))
        .ok()?;
    let columns = statement.column_count();
    let mut read = |id: i64| {
        let mut rows = statement.query([id])?;
        match rows.next()? {
            None => Ok(false),
            Some(row) => (0..columns).try_fold(true, |_, i| row.get_ref(i).map(|_| true)),
        }
    };
    Some((1..=most).filter(|&id| read(id).unwrap_or(false)).collect())
}

fn ids(path: &Path, table: &str) -> Vec<i64> {
    let raw = Connection::open(path).unwrap();
    let mut statement = raw
        .prepare(&format!("SELECT id FROM {table} ORDER BY id"))
        .unwrap();
    let rows = statement.query_map([], |row| row.get(0)).unwrap();
    rows.map(Result::unwrap).collect()
}

#[test]
fn all_that_can_be_read_is_salvaged_whichever_pages_are_gone() {
    const PAGE: usize = 8192;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let days = 1_500;
    import(
        &mut Book::open(&path, Mode::CreateIfAbsent).unwrap(),
        1,
        &source(days),
    );
    let whole = fs::read(&path).unwrap();
    let pages = whole.len() / PAGE;
    assert!(pages > 60);
    let mut lost = 0;
    for round in 0..12_usize {
        // Every seventh or so page, the first two spared: the layout itself lies there.
        let mut bytes = whole.clone();
        for page in (2 + round..pages).step_by(7 + round * 5) {
            bytes[page * PAGE..(page + 1) * PAGE].fill(0);
        }
        let damaged = folder.path().join(format!("damaged {round}"));
        fs::write(&damaged, bytes).unwrap();
        let saved = folder.path().join(format!("saved {round}"));
        let Ok(report) = Book::salvage(&damaged, &saved) else {
            continue;
        };
        for table in ["block", "dose", "meal", "blood_check"] {
            let kept = ids(&saved, table);
            if let Some(readable) = readable(&damaged, table, i64::from(days)) {
                assert_eq!(kept, readable, "{table} in round {round}: {report:?}");
            }
            lost += days as usize - kept.len();
        }
        assert!(
            Book::open(&saved, Mode::ReadOnly)
                .unwrap()
                .check()
                .unwrap()
                .is_whole()
        );
    }
    assert!(lost > 1_000, "the pages had rows on them: {lost}");
}

#[test]
fn what_stands_in_a_file_is_not_run() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    let raw = Connection::open(&path).unwrap();
    raw.execute_batch(
        "CREATE TRIGGER t AFTER INSERT ON meal BEGIN DELETE FROM dose; END;
         CREATE TRIGGER u AFTER INSERT ON change BEGIN SELECT RAISE(ABORT, 'not today'); END;",
    )
    .unwrap();
    drop(raw);
    let mut book = Book::open(&path, Mode::Existing).unwrap();
    let doses = book.load_all().unwrap().doses.len();
    import(&mut book, 3, &source(31));
    let record = book.load_all().unwrap();
    assert_eq!((record.doses.len(), record.meals.len()), (doses + 1, 31));
}

#[test]
fn a_whole_book_is_salvaged_whole() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    let mut book = Book::open(&path, Mode::Existing).unwrap();
    let meal_ref = book.load_all().unwrap().meals[0].entry;
    book.edit(meal_ref, &interstice_book::Entry::Meal(meal(5, 1.0)), None, 0)
        .unwrap();
    book.set(interstice_book::Setting::TargetGroup(Some("adult".to_owned())), 0)
        .unwrap();
    let target = folder.path().join("saved");
    assert!(Book::salvage(&path, &target).unwrap().is_complete());
    let mut saved = Book::open(&target, Mode::Existing).unwrap();
    let (one, other) = (book.load_all().unwrap(), saved.load_all().unwrap());
    assert_eq!((standing(&one), &one.meals), (standing(&other), &other.meals));
    assert_eq!(book.journal().unwrap(), saved.journal().unwrap());
    assert_eq!(book.settings().unwrap(), saved.settings().unwrap());
    let next = saved
        .log(&source(31).draft(), "logged", 0)
        .unwrap()
        .change
        .unwrap();
    assert_eq!(next.0, 5, "numbers go on where they were");
}

#[test]
fn a_kept_file_is_held_against_its_digest() {
    use sha2::Digest;
    let file = b"time,glucose\n2025-03-17T12:04Z,104\n".as_slice();
    let packed = zstd::encode_all(file, 3).unwrap();
    let mut book = Book::in_memory().unwrap();
    let provenance = interstice_book::Provenance {
        digest: sha2::Sha256::digest(file).into(),
        size_bytes: file.len() as u64,
        original: Some(packed.clone()),
        ..common::provenance(1)
    };
    let other = interstice_book::Provenance {
        digest: [9; 32],
        ..provenance.clone()
    };
    let broken = interstice_book::Provenance {
        digest: [8; 32],
        original: Some(packed[..10].to_vec()),
        ..provenance.clone()
    };
    for provenance in [&provenance, &other, &broken] {
        book.import(&source(1).draft(), provenance, &mut |_, _| {
            std::ops::ControlFlow::Continue(())
        })
        .unwrap();
    }
    let report = book.check().unwrap();
    assert_eq!((report.originals, report.problem_count), (3, 2), "{report:?}");
}

/// Everything that can be asked of a book, whatever the answer.
fn ask_everything(path: &Path, scratch: &Path) {
    for mode in [Mode::ReadOnly, Mode::Existing] {
        let Ok(mut book) = Book::open(path, mode) else {
            continue;
        };
        let _ = (
            book.check(),
            book.load_all(),
            book.span(),
            book.conflicts(i64::MIN, i64::MAX),
        );
        let _ = (
            book.imports(),
            book.journal(),
            book.settings(),
            book.recipes(),
            book.version_stamp(),
        );
        let _ = book.rejected(interstice_book::ChangeId(1));
        let _ = Book::salvage(path, scratch.join(format!("saved-{mode:?}")));
        let _ = book.log(&source(2).draft(), "logged", 0);
        let _ = book.undo(None, 0);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn a_damaged_book_never_panics(
        flips in prop::collection::vec((any::<prop::sample::Index>(), 0..8_u8), 1..60),
        cut in prop::option::weighted(0.3, any::<prop::sample::Index>()),
        front in any::<bool>(),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let path = written(folder.path());
        let mut bytes = fs::read(&path).unwrap();
        // Half of the runs hit the pages where the layout itself lies.
        let reach = if front { bytes.len().min(60_000) } else { bytes.len() };
        for (place, bit) in flips {
            bytes[place.index(reach)] ^= 1 << bit;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        fs::write(&path, bytes).unwrap();
        ask_everything(&path, folder.path());
    }
}

#[test]
fn a_book_cut_short_gives_a_message() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    let bytes = fs::read(&path).unwrap();
    for part in 1..20 {
        fs::write(&path, &bytes[..bytes.len() * part / 20]).unwrap();
        let outcome = Book::open(&path, Mode::ReadOnly).and_then(|book| {
            let whole = book.check()?.is_whole();
            book.load_all().map(|record| (whole, record.reading_count()))
        });
        match outcome {
            Ok((whole, _)) => assert!(!whole, "a book cut to {part}/20 passes for whole"),
            Err(error) => assert!(error.to_string().contains(';'), "a next step is missing: {error}"),
        }
    }
}

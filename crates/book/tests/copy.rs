//! A copy of an open book.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use std::fs;
use std::path::Path;

use common::{Source, check, import, meal, mg, standing};
use interstice_book::{Book, Mode, Setting};
use interstice_glucose::{TraceKind, Unit};
use rusqlite::Connection;

fn source(start: u32) -> Source {
    Source {
        readings: (0..2_000)
            .map(|i| {
                (
                    "",
                    TraceKind::Automatic,
                    start + i * 300,
                    mg(i64::from(60 + i % 200)),
                )
            })
            .collect(),
        blood_checks: vec![check(i64::from(start), 100)],
        meals: vec![meal(i64::from(start), 40.0)],
        ..Source::default()
    }
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

fn assert_same(one: &Book, other: &Book) {
    let (a, b) = (one.load_all().unwrap(), other.load_all().unwrap());
    assert_eq!(
        (standing(&a), &a.meals, a.conflicts),
        (standing(&b), &b.meals, b.conflicts)
    );
    assert_eq!(one.journal().unwrap(), other.journal().unwrap());
    assert_eq!(one.imports().unwrap(), other.imports().unwrap());
    assert_eq!(one.settings().unwrap(), other.settings().unwrap());
}

#[test]
fn a_copy_is_the_book_and_goes_its_own_way() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    import(&mut book, 1, &source(0));
    book.set(Setting::Unit(Some(Unit::MmolPerL)), 5).unwrap();
    // What is still in the log is copied too.
    assert!(folder.path().join("book-wal").exists());
    let copy = folder.path().join("a copy's name");
    let report = book.copy_to(&copy).unwrap();
    assert!(report.is_whole());
    assert_eq!((report.readings, report.entries), (2_000, 2));
    assert!(names(folder.path()).iter().all(|name| !name.ends_with(".part")));
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(fs::metadata(&copy).unwrap().permissions().mode() & 0o777, 0o600);
    }
    let read_only = Book::open(&copy, Mode::ReadOnly).unwrap();
    assert_same(&book, &read_only);
    drop(read_only);
    let mut other = Book::open(&copy, Mode::Existing).unwrap();
    import(&mut other, 2, &source(1_000_000));
    import(&mut book, 3, &source(2_000_000));
    assert_eq!(
        (other.imports().unwrap().len(), book.imports().unwrap().len()),
        (2, 2)
    );
    assert_eq!(other.imports().unwrap()[1].file_name, "file 2.csv");
    assert_eq!(other.load_all().unwrap().reading_count(), 4_000);
}

#[test]
fn a_copy_never_takes_the_place_of_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    import(&mut book, 1, &source(0));
    let there = folder.path().join("there");
    fs::write(&there, "my notes").unwrap();
    for target in [&there, &path, &folder.path().to_owned()] {
        let refused = book.copy_to(target).unwrap_err();
        assert!(refused.is_refusal(), "{refused}");
        assert!(refused.to_string().contains("name a new one"), "{refused}");
    }
    assert_eq!(fs::read_to_string(&there).unwrap(), "my notes");
    #[cfg(unix)]
    {
        let link = folder.path().join("link");
        std::os::unix::fs::symlink(folder.path().join("nowhere"), &link).unwrap();
        assert!(book.copy_to(&link).unwrap_err().is_refusal());
    }
    let nowhere = book
        .copy_to(folder.path().join("no/such/folder/copy"))
        .unwrap_err();
    assert!(
        nowhere.to_string().contains("check that the folder exists"),
        "{nowhere}"
    );
    assert!(names(folder.path()).iter().all(|name| !name.ends_with(".part")));
    assert_eq!(book.load_all().unwrap().reading_count(), 2_000);
}

#[test]
fn a_damaged_book_is_not_copied_as_if_it_were_whole() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    import(
        &mut Book::open(&path, Mode::CreateIfAbsent).unwrap(),
        1,
        &source(0),
    );
    let raw = Connection::open(&path).unwrap();
    raw.execute("UPDATE block SET packed = zeroblob(40) WHERE day = 3", [])
        .unwrap();
    drop(raw);
    let book = Book::open(&path, Mode::Existing).unwrap();
    let copy = folder.path().join("copy");
    let refused = book.copy_to(&copy).unwrap_err();
    assert!(refused.to_string().contains("1970-01-04"), "{refused}");
    assert_eq!(refused.path(), path, "it is the book that is damaged");
    assert!(!copy.exists());
    assert_eq!(
        names(folder.path())
            .iter()
            .filter(|name| name.ends_with(".part"))
            .count(),
        0
    );
}

/// Imports go on while copies are made: each copy is the book between two of them.
#[test]
fn a_copy_made_while_another_writes_is_one_state() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    drop(Book::open(&path, Mode::CreateIfAbsent).unwrap());
    std::thread::scope(|scope| {
        let writer = scope.spawn(|| {
            let mut book = Book::open(&path, Mode::Existing).unwrap();
            for number in 0..20 {
                import(&mut book, number, &source(number as u32 * 1_000_000));
            }
        });
        for i in 0.. {
            let copy = folder.path().join(format!("copy {i}"));
            let is_last = writer.is_finished();
            Book::open(&path, Mode::ReadOnly).unwrap().copy_to(&copy).unwrap();
            let copy = Book::open(&copy, Mode::ReadOnly).unwrap();
            let record = copy.load_all().unwrap();
            assert_eq!(record.reading_count(), copy.imports().unwrap().len() * 2_000);
            assert_eq!(record.meals.len(), copy.imports().unwrap().len());
            if is_last {
                assert_eq!(record.meals.len(), 20);
                break;
            }
        }
    });
}

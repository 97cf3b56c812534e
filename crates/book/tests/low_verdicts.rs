//! The wearer's word on a low: written, corrected, taken back, kept when a damaged book is saved.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

use interstice_book::{Book, Entry, EntryRef, Mode};
use interstice_glucose::{Draft, LowVerdict, LowWas};

fn low(at: i64, was: LowWas) -> LowVerdict {
    LowVerdict {
        at,
        until: at + 2400,
        sensor: Some("S1".to_owned()),
        was,
        note: None,
    }
}

fn draft(low: &LowVerdict) -> Draft {
    Draft {
        low_verdicts: vec![low.clone()],
        ..Draft::default()
    }
}

fn words(book: &Book) -> Vec<LowWas> {
    let record = book.load_all().unwrap();
    record.low_verdicts.iter().map(|kept| kept.it.was).collect()
}

fn only(book: &Book) -> EntryRef {
    book.load_all().unwrap().low_verdicts[0].entry
}

#[test]
fn is_written_corrected_and_taken_back() {
    let mut book = Book::in_memory().unwrap();
    let log = book
        .log(&draft(&low(5000, LowWas::Pressure)), "logged", 1)
        .unwrap();
    assert_eq!((log.other_new, log.written), (1, true));
    let again = book
        .log(&draft(&low(5000, LowWas::Pressure)), "logged", 2)
        .unwrap();
    assert!(!again.written, "the same word twice is one");
    let real = Entry::LowVerdict(low(5000, LowWas::Real));
    book.edit(only(&book), &real, None, 3).unwrap();
    let pressure = Entry::LowVerdict(low(5000, LowWas::Pressure));
    book.edit(only(&book), &pressure, None, 4).unwrap();
    assert_eq!(words(&book), [LowWas::Pressure]);
    book.undo(None, 5).unwrap();
    assert_eq!(words(&book), [LowWas::Real]);
    book.undo(None, 6).unwrap();
    assert_eq!(words(&book), [LowWas::Pressure]);
    book.undo(None, 7).unwrap();
    assert!(words(&book).is_empty());
    assert!(book.check().unwrap().is_whole());
}

#[test]
fn is_loaded_with_the_window_it_reaches_into() {
    let mut book = Book::in_memory().unwrap();
    book.log(&draft(&low(5000, LowWas::Real)), "logged", 1).unwrap();
    for (from, to, count) in [(0, 5000, 0), (0, 5001, 1), (7399, 9000, 1), (7400, 9000, 0)] {
        let record = book.load(from, to).unwrap();
        assert_eq!(record.low_verdicts.len(), count, "{from} to {to}");
    }
}

#[test]
fn is_saved_from_a_book_and_read_again() {
    let folder = tempfile::tempdir().unwrap();
    let (path, saved) = (folder.path().join("book"), folder.path().join("saved"));
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    book.log(&draft(&low(5000, LowWas::Real)), "logged", 1).unwrap();
    drop(book);
    assert!(Book::salvage(&path, &saved).unwrap().is_complete());
    let book = Book::open(&saved, Mode::ReadOnly).unwrap();
    assert_eq!(
        book.load_all().unwrap().low_verdicts[0].it,
        low(5000, LowWas::Real)
    );
}

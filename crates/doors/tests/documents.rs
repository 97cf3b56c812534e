//! Documents of published standards, written and brought into an empty book: what they can tell comes back the same.
//!
//! FHIR tells readings, blood checks, doses and meals; Open mHealth readings and blood checks. Neither knows names of
//! zones: offsets are kept at every row, which is all that is held against the book here.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use std::path::Path;

use common::{book_of, place, source, told};
use interstice_book::{Book, Record};
use interstice_desk::{FileStatus, ImportRequest, import_path};
use interstice_doors::{DoorError, Exported, Folder, export_fhir, export_omh};
use interstice_findings::{DEFAULT_SEED, Taken, taken};
use proptest::prelude::*;
use proptest::strategy::ValueTree;

type Export = fn(&Book, &Taken, &mut Folder) -> Result<Exported, DoorError>;

fn fhir(book: &Book, taken: &Taken, folder: &mut Folder) -> Result<Exported, DoorError> {
    export_fhir(book, taken, 1_800_000_000, None, folder)
}

fn omh(book: &Book, taken: &Taken, folder: &mut Folder) -> Result<Exported, DoorError> {
    export_omh(book, taken, folder)
}

fn written(book: &Book, export: Export, dir: &Path) -> Exported {
    let taken = taken(book, None, DEFAULT_SEED).unwrap();
    export(book, &taken, &mut Folder::create(dir).unwrap()).unwrap()
}

fn there_and_back(book: &Book, export: Export) -> Book {
    let folder = tempfile::tempdir().unwrap();
    let exported = written(book, export, folder.path());
    let mut again = Book::in_memory().unwrap();
    for file in exported.files.iter().filter(|file| file.path != "summary.json") {
        let path = folder.path().join(&file.path);
        let report = import_path(&mut again, &path, &ImportRequest::default(), &place(), &mut ()).unwrap();
        assert_eq!(report.rejected, 0, "{:?}", report.problems);
        assert_eq!(report.status, FileStatus::Imported, "{:?}", report.problems);
        assert!(report.notes.is_empty(), "{:?}", report.notes);
    }
    again
}

/// Some of what a record tells, and the offset at each of its readings.
fn of(record: &Record, kinds: &[&str]) -> Vec<(&'static str, Vec<String>)> {
    let mut told = told(record);
    told.retain(|(kind, _)| kinds.contains(kind));
    told
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn fhir_comes_back_the_same(sources in proptest::collection::vec(source(), 1..3)) {
        let book = book_of(&sources, Some("Europe/Lisbon"));
        let kinds = ["readings", "blood checks", "doses", "meals"];
        let (before, after) = (book.load_all().unwrap(), there_and_back(&book, fhir).load_all().unwrap());
        prop_assert_eq!(of(&before, &kinds), of(&after, &kinds));
        for trace in &after.traces {
            for &at in trace.readings.at() {
                let at = i64::from(at);
                prop_assert_eq!(before.clock.offset_s(at), after.clock.offset_s(at));
            }
        }
    }

    #[test]
    fn open_mhealth_comes_back_the_same(sources in proptest::collection::vec(source(), 1..3)) {
        let book = book_of(&sources, Some("Europe/Lisbon"));
        let kinds = ["readings", "blood checks"];
        let (before, after) = (book.load_all().unwrap(), there_and_back(&book, omh).load_all().unwrap());
        prop_assert_eq!(of(&before, &kinds), of(&after, &kinds));
    }
}

#[test]
fn the_same_book_and_moment_give_the_same_bytes() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let draft = source().new_tree(&mut runner).unwrap().current();
    let book = book_of(&[draft], Some("Europe/Lisbon"));
    for export in [fhir as Export, omh] {
        let digests = [(); 2].map(|()| written(&book, export, tempfile::tempdir().unwrap().path()).files);
        assert_eq!(digests[0], digests[1]);
        assert!(!digests[0].is_empty());
    }
}

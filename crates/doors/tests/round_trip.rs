//! A book, exported as comma-separated text and brought into an empty book, is the same book.
//!
//! Same is: the same readings (instant, value as said with unit, decimals and bound, sensor, kind), the same blood
//! checks, doses, meals, entries, moments of sensors and words on lows, the same settings, and the same wall clock with
//! the same zones. Not the same, and said so in docs/formats/tables.md: which file or hand each came from, what was
//! edited away before, readings that did not stand; and a text that is empty reads back as none.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use common::{BEGIN, book_of, is_empty, place, source, told};
use interstice_book::{Book, Setting};
use interstice_desk::{FileStatus, ImportRequest, import_path};
use interstice_doors::{Folder, TableFormat, export};
use interstice_findings::{DEFAULT_SEED, taken};
use interstice_glucose::{
    ClaimStep, ClaimWhat, Draft, Readings, Region, Said, SensorKind, TraceDraft, TraceKind, Unit, WearFrom,
    Zone,
};
use proptest::prelude::*;
use proptest::strategy::ValueTree;

/// Writes the book out and brings it into an empty one.
fn there_and_back(book: &Book) -> Book {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("out");
    let taken = taken(book, None, DEFAULT_SEED).unwrap();
    export(book, &taken, TableFormat::Csv, &mut Folder::create(&dir).unwrap()).unwrap();
    let mut again = Book::in_memory().unwrap();
    let report = import_path(&mut again, &dir, &ImportRequest::default(), &place(), &mut ()).unwrap();
    assert_eq!(report.rejected, 0, "{:?}", report.problems);
    assert!(report.notes.is_empty(), "{:?}", report.notes);
    if report.status != FileStatus::Imported {
        assert!(is_empty(&book.load_all().unwrap()), "{:?}", report.problems);
    }
    again
}

/// The bytes of all photos, in a settled order.
fn pictures(book: &Book) -> Vec<Vec<u8>> {
    let photos = book.load_all().unwrap().photos;
    let mut all: Vec<Vec<u8>> = photos
        .iter()
        .map(|photo| book.photo(photo.id).unwrap().unwrap().1)
        .collect();
    all.sort();
    all
}

fn assert_same(book: &Book, again: &Book) {
    let (record, back) = (book.load_all().unwrap(), again.load_all().unwrap());
    if !is_empty(&record) {
        assert_eq!(told(&record), told(&back));
        assert_eq!(pictures(book), pictures(again));
        assert_eq!(book.settings().unwrap(), again.settings().unwrap());
    }
    let written = book.settings_as_written().unwrap();
    if !written.is_empty() {
        assert_eq!(written, again.settings_as_written().unwrap());
        assert_eq!(book.sensor_kinds().unwrap(), again.sensor_kinds().unwrap());
        assert_eq!(book.claims().unwrap(), again.claims().unwrap());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]
    #[test]
    fn a_book_comes_back_the_same(sources in proptest::collection::vec(source(), 1..4), away: bool) {
        let book = book_of(&sources, Some(if away { "America/New_York" } else { "Europe/Lisbon" }));
        assert_same(&book, &there_and_back(&book));
    }
}

#[test]
fn what_was_set_comes_back_with_the_rest() {
    let mut book = book_of(&[], None);
    let kind = SensorKind {
        name: "a kind, invented".to_owned(),
        wear_min: 20_160,
        extra_min: 720,
        warm_up_min: 60,
        longest_bedding_min: 0,
        wear_from: WearFrom::Started,
        side_by_side: true,
        sites: vec![Region::UpperArm, Region::Abdomen],
    };
    book.set_sensor_kind(&kind, 1).unwrap();
    book.set(Setting::Unit(Some(Unit::MmolPerL)), 2).unwrap();
    book.set(Setting::BaseZone(Some(Zone::named("Europe/Lisbon").unwrap())), 3)
        .unwrap();
    let step = ClaimStep {
        what: ClaimWhat::Sent,
        at: BEGIN,
        words: Some("by post".to_owned()),
    };
    book.add_claim_step("S1", step, 4).unwrap();
    let mut again = there_and_back(&book);
    assert_same(&book, &again);
    assert_eq!(again.sensor_kinds().unwrap().all, [kind]);
    // Taking the import back takes back what it set.
    again.undo(None, 9).unwrap();
    assert!(again.settings_as_written().unwrap().is_empty());
    assert!(again.check().unwrap().is_whole());
}

#[test]
fn a_second_import_of_the_same_export_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut draft = Draft::default();
    let levels = [104, 110, 111].map(|value| draft.levels.intern(Said::whole_mg_per_dl(value)));
    let readings =
        Readings::from_columns((0..3).map(|i| 1_772_150_400 + 300 * i).collect(), levels.to_vec()).unwrap();
    draft.traces.push(TraceDraft {
        sensor: "S1".to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
    let book = book_of(&[draft], Some("Europe/Lisbon"));
    let taken = taken(&book, None, DEFAULT_SEED).unwrap();
    export(
        &book,
        &taken,
        TableFormat::Csv,
        &mut Folder::create(folder.path()).unwrap(),
    )
    .unwrap();
    let mut again = Book::in_memory().unwrap();
    let bring = |book: &mut Book| {
        import_path(book, folder.path(), &ImportRequest::default(), &place(), &mut ()).unwrap()
    };
    assert_eq!(bring(&mut again).readings_new, 3);
    let second = bring(&mut again);
    assert_eq!((second.readings_new, second.already_there), (0, 3));
    // A table that somebody changed is another import, and its shortened rows are told of.
    let part = folder.path().join("readings/month=2026-02/part.csv");
    let text = std::fs::read_to_string(&part).unwrap();
    let cut: String = text.split_inclusive("\r\n").take(3).collect();
    std::fs::write(&part, cut.replace(",104,", ",not a number,")).unwrap();
    let third = bring(&mut again);
    assert_eq!(third.rejected, 1);
    assert!(
        third.problems[0].reason.contains("decimal number"),
        "{:?}",
        third.problems
    );
    assert!(
        third.notes[0].contains("2 rows where the manifest"),
        "{:?}",
        third.notes
    );
}

#[test]
fn the_same_book_gives_the_same_bytes() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let draft = source().new_tree(&mut runner).unwrap().current();
    let book = book_of(&[draft], Some("Europe/Lisbon"));
    let taken = taken(&book, None, DEFAULT_SEED).unwrap();
    for format in [TableFormat::Csv, TableFormat::Parquet] {
        let digests = [(); 2].map(|()| {
            let folder = tempfile::tempdir().unwrap();
            let mut sink = Folder::create(folder.path()).unwrap();
            export(&book, &taken, format, &mut sink).unwrap().files
        });
        assert_eq!(digests[0], digests[1]);
    }
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("x"), "mine").unwrap();
    assert!(Folder::create(folder.path()).is_err(), "nothing is written over");
}

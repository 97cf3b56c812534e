//! Feeds: readings that come a few at a time, in any order and company.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::collections::BTreeMap;

use common::{Source, check, import, meal, mg};
use interstice_book::{Book, Feed, ImportReceipt, Mode};
use interstice_glucose::{DAY_S, Draft, Rejected, Said, TraceKind};
use proptest::prelude::*;

const START: i64 = 1_772_323_200;
const PHONE: &str = "1 1";

fn feed(book: &mut Book, source: &Source, at: i64) -> ImportReceipt {
    feed_draft(book, &source.draft(), at)
}

fn feed_draft(book: &mut Book, draft: &Draft, at: i64) -> ImportReceipt {
    book.feed(draft, &Feed::named(PHONE, "phone"), at).unwrap()
}

fn readings(rows: &[(u32, i64)]) -> Source {
    Source {
        readings: rows
            .iter()
            .map(|&(after, value)| ("A", TraceKind::Automatic, START as u32 + after, mg(value)))
            .collect(),
        ..Source::default()
    }
}

/// All there is to be read, and all that is counted.
fn told(book: &Book) -> String {
    let record = book.load_all().unwrap();
    let rows: BTreeMap<(String, u32), Vec<Said>> = record
        .traces
        .iter()
        .flat_map(|trace| {
            let readings = trace.readings.at().iter().zip(trace.readings.level());
            readings.map(|(&at, &level)| {
                let key = (format!("{} {:?}", trace.sensor, trace.kind), at);
                (key, vec![record.levels.get(level).said])
            })
        })
        .collect();
    let checks: Vec<_> = record.blood_checks.iter().map(|kept| kept.it.clone()).collect();
    let meals: Vec<_> = record.meals.iter().map(|kept| kept.it.clone()).collect();
    let imports: Vec<_> = book
        .imports()
        .unwrap()
        .into_iter()
        .map(|info| info.receipt)
        .collect();
    format!("{rows:?} {checks:?} {meals:?} {imports:?} {}", record.conflicts)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// Any order, any repetition, any batches of the same rows: the same book.
    #[test]
    fn however_it_comes_the_book_is_the_same(
        rows in prop::collection::btree_map((0..3_u32, 0..200_000_u32), 40..400_i64, 1..60),
        checks in prop::collection::btree_map(0..100_000_i64, 40..400_i64, 0..6),
        earlier in prop::collection::btree_map(0..200_000_u32, 40..400_i64, 0..20),
        order in prop::collection::vec((any::<prop::sample::Index>(), 1..9_usize), 1..40),
    ) {
        const SENSORS: [&str; 3] = ["", "A", "B"];
        let all: Vec<Source> = rows
            .iter()
            .map(|(&(sensor, after), &value)| Source {
                readings: vec![(SENSORS[sensor as usize], TraceKind::Automatic, START as u32 + after, mg(value))],
                ..Source::default()
            })
            .chain(checks.iter().map(|(&after, &value)| Source {
                blood_checks: vec![check(START + after, value)],
                ..Source::default()
            }))
            .collect();
        let together = |some: &mut dyn Iterator<Item = &Source>| some.fold(Source::default(), |mut all, one| {
            all.readings.extend(&one.readings);
            all.blood_checks.extend(one.blood_checks.clone());
            all
        });
        let (mut at_once, mut in_pieces) = (Book::in_memory().unwrap(), Book::in_memory().unwrap());
        for book in [&mut at_once, &mut in_pieces] {
            // Another source knows some of it already, and some otherwise.
            import(book, 1, &readings(&earlier.iter().map(|(&after, &value)| (after, value)).collect::<Vec<_>>()));
        }
        let whole = together(&mut all.iter());
        feed(&mut at_once, &whole, START);
        for (from, count) in order {
            let from = from.index(all.len());
            feed(&mut in_pieces, &together(&mut all[from..].iter().take(count)), START + 60);
        }
        feed(&mut in_pieces, &together(&mut all.iter().rev()), START + 3600);
        prop_assert_eq!(told(&at_once), told(&in_pieces));
        let again = feed(&mut in_pieces, &whole, START + DAY_S);
        prop_assert!(!again.written && again.new_rows() == 0);
        prop_assert!(in_pieces.check().unwrap().is_whole());
    }
}

#[test]
fn single_readings_are_a_change_a_day() {
    let mut book = Book::in_memory().unwrap();
    let (days, a_day) = (40, 96);
    for reading in 0..days * a_day {
        let after = reading * 900;
        feed(
            &mut book,
            &readings(&[(after, 100 + i64::from(reading % 50))]),
            START + i64::from(after) + 30,
        );
    }
    assert_eq!(book.journal().unwrap().len(), days as usize);
    let report = book.check().unwrap();
    assert_eq!(
        (report.blocks, report.readings),
        (u64::from(days), u64::from(days * a_day))
    );
    assert!(report.is_whole(), "{:?}", report.problems);
}

#[test]
fn undoing_a_day_takes_back_that_day_of_that_feed() {
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, &readings(&[(0, 90), (300, 95)]));
    let first = feed(&mut book, &readings(&[(300, 95), (600, 99)]), START);
    assert_eq!((first.readings_new, first.already_there), (1, 1));
    feed(&mut book, &readings(&[(900, 101)]), START + 60);
    let next = feed(&mut book, &readings(&[(DAY_S as u32, 110)]), START + DAY_S);
    assert_ne!(first.change, next.change);
    let undone = book.undo(first.change, START + DAY_S + 1).unwrap();
    assert_eq!(undone.readings, 3);
    let at = |book: &Book| {
        let record = book.load_all().unwrap();
        record.traces[0]
            .readings
            .at()
            .iter()
            .map(|at| at - START as u32)
            .collect::<Vec<_>>()
    };
    assert_eq!(at(&book), [0, 300, DAY_S as u32], "what the file told stays");
    let again = feed(&mut book, &readings(&[(600, 99)]), START + DAY_S + 2);
    assert_eq!(
        (again.readings_new, again.change),
        (1, next.change),
        "what was taken back can come again"
    );
}

#[test]
fn another_value_for_an_instant_is_a_conflict_once() {
    let mut book = Book::in_memory().unwrap();
    feed(&mut book, &readings(&[(0, 90)]), START);
    let other = feed(&mut book, &readings(&[(0, 140)]), START + 60);
    assert_eq!((other.readings_new, other.conflicts), (0, 1));
    let again = feed(&mut book, &readings(&[(0, 140), (0, 90)]), START + DAY_S);
    assert!(!again.written && again.already_there == 2, "{again:?}");
    let record = book.load_all().unwrap();
    assert_eq!((record.reading_count(), record.conflicts), (1, 1));
    assert_eq!(
        record.levels.get(record.traces[0].readings.level()[0]).said,
        mg(90)
    );
}

#[test]
fn an_entry_that_was_deleted_stays_deleted_when_it_is_sent_again() {
    let mut book = Book::in_memory().unwrap();
    let source = Source {
        meals: vec![meal(START + 30, 40.0)],
        ..Source::default()
    };
    assert_eq!(feed(&mut book, &source, START + 60).meals_new, 1);
    let entry = book.load_all().unwrap().meals[0].entry;
    book.delete(entry, None, START + 90).unwrap();
    for at in [START + 120, START + DAY_S] {
        assert!(!feed(&mut book, &source, at).written);
    }
    assert!(book.load_all().unwrap().meals.is_empty());
}

#[test]
fn what_cannot_be_used_is_kept_once_a_day_and_not_without_end() {
    let mut book = Book::in_memory().unwrap();
    let bad = |text: String| Draft {
        rejected: vec![Rejected {
            row: 1,
            column: "at".to_owned(),
            text,
            reason: "in the future".to_owned(),
        }],
        ..Draft::default()
    };
    let first = feed_draft(&mut book, &bad("x".to_owned()), START);
    let again = feed_draft(&mut book, &bad("x".to_owned()), START + 1);
    assert_eq!((first.rejected, again.rejected, again.written), (1, 0, false));
    for i in 0..1100 {
        feed_draft(&mut book, &bad(i.to_string()), START + 2);
    }
    assert_eq!(book.rejected(first.change.unwrap()).unwrap().len(), 1000);
    let fed = book.fed(10).unwrap();
    assert_eq!(
        (fed.len(), fed[0].rejected, fed[0].key.as_str()),
        (1, 1101, PHONE)
    );
    assert_eq!(fed[0].last_rejected.as_ref().unwrap().reason, "in the future");
}

#[test]
fn a_feed_is_told_with_its_latest_instants() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(folder.path().join("book"), Mode::CreateIfAbsent).unwrap();
    let rows: Vec<(u32, i64)> = (0..400).map(|i| (i * 300, 100)).collect();
    feed(&mut book, &readings(&rows), START + 400 * 300);
    book.feed(
        &readings(&[(7, 100)]).draft(),
        &Feed::named("other", "other"),
        START,
    )
    .unwrap();
    let fed = book.fed(3).unwrap();
    let latest: Vec<i64> = fed[0].latest.iter().map(|at| (at - START) / 300).collect();
    assert_eq!((fed.len(), latest), (2, vec![397, 398, 399]));
}

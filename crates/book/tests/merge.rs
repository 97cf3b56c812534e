//! Whatever is imported, in whatever order and overlap, the book holds what a plain map would hold.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use std::ops::ControlFlow;

use common::{
    Model, Source, Tally, assert_same, check, dose, import, mark, meal, mg, provenance, sensor_note, standing,
};
use interstice_book::{Book, ImportReceipt};
use interstice_glucose::{Censor, Said, TraceKind, Unit};
use proptest::prelude::*;

fn any_said() -> impl Strategy<Value = Said> {
    prop_oneof![
        6 => (60..70_i64).prop_map(mg),
        3 => (30..40_i64).prop_map(|tenths| Said::new(tenths, 1, Unit::MmolPerL, Censor::None).unwrap()),
        1 => Just(Said::new(40, 0, Unit::MgPerDl, Censor::Below).unwrap()),
        1 => Just(Said::new(1_133_999_999, 7, Unit::MgPerDl, Censor::None).unwrap()),
    ]
}

/// Few instants around two midnights, so that sources meet often.
fn any_instant() -> impl Strategy<Value = u32> {
    prop_oneof![86_000..86_800_u32, 172_700..172_900_u32].prop_map(|at| at / 20 * 20 + 1)
}

fn any_source() -> impl Strategy<Value = Source> {
    let sensor = prop_oneof![Just(""), Just("A")];
    let kind = prop_oneof![4 => Just(TraceKind::Automatic), 1 => Just(TraceKind::Scan)];
    let readings = prop::collection::vec((sensor, kind, any_instant(), any_said()), 0..80);
    // To the second, each in a minute of its own: what is the same in other words is the matter of tellings.rs.
    let few = || {
        prop::collection::vec((0..4_i64, 0..3_i64), 0..5).prop_map(|few| {
            few.into_iter()
                .map(|(at, value)| (at * 61 + 1, value))
                .collect::<Vec<_>>()
        })
    };
    (readings, few(), few(), few(), few()).prop_map(|(readings, checks, doses, meals, marks)| Source {
        readings,
        blood_checks: checks
            .into_iter()
            .map(|(at, value)| check(at, 100 + value))
            .collect(),
        doses: doses
            .into_iter()
            .map(|(at, value)| dose(at, value as f64 / 2.0))
            .collect(),
        meals: meals
            .into_iter()
            .map(|(at, value)| meal(at, value as f64 * 10.0))
            .collect(),
        sensor_notes: marks.iter().map(|&(at, _)| sensor_note(at)).collect(),
        marks: marks
            .into_iter()
            .map(|(at, value)| mark(at, Some(at + value), "walk"))
            .collect(),
    })
}

fn tally(receipt: &ImportReceipt) -> Tally {
    Tally {
        new: receipt.new_rows(),
        already_there: receipt.already_there,
        conflicts: receipt.conflicts,
    }
}

proptest! {
    #[test]
    fn the_book_holds_what_a_map_would(sources in prop::collection::vec(any_source(), 1..5)) {
        let mut book = Book::in_memory().unwrap();
        let mut model = Model::default();
        for (number, source) in (0..).zip(&sources) {
            let draft = source.draft();
            let preview = book.preview(&draft, &provenance(number), &mut |_, _| ControlFlow::Continue(())).unwrap();
            let receipt = import(&mut book, number, source);
            prop_assert_eq!(tally(&preview), tally(&receipt));
            prop_assert_eq!(tally(&receipt), model.add(source));
        }
        assert_same(&book, &model);
    }

    #[test]
    fn undo_leaves_what_the_others_brought(
        sources in prop::collection::vec(any_source(), 1..5),
        order in prop::collection::vec(0..1000_usize, 5),
    ) {
        let mut book = Book::in_memory().unwrap();
        let mut left: Vec<_> = (0..).zip(&sources).map(|(n, source)| (import(&mut book, n, source).change, source)).collect();
        for pick in order {
            if left.is_empty() {
                break;
            }
            let (change, _) = left.remove(pick % left.len());
            book.undo(change, 0).unwrap();
            let mut model = Model::default();
            for (_, source) in &left {
                model.add(source);
            }
            assert_same(&book, &model);
        }
    }

    #[test]
    fn a_window_is_the_part_of_the_whole(source in any_source(), other in any_source(), from in 85_000..173_000_i64, len in 0..90_000_i64) {
        let mut book = Book::in_memory().unwrap();
        import(&mut book, 1, &source);
        import(&mut book, 2, &other);
        let to = from + len;
        let inside = |at: u32| (from..to).contains(&i64::from(at));
        let mut whole = standing(&book.load_all().unwrap());
        whole.retain(|&(_, _, at), _| inside(at));
        let window = book.load(from, to).unwrap();
        prop_assert_eq!(standing(&window), whole);
        prop_assert_eq!(window.conflicts, book.conflicts(from, to).unwrap().len() as u64);
        let all = book.conflicts(i64::MIN, i64::MAX).unwrap();
        prop_assert_eq!(window.conflicts, all.iter().filter(|c| (from..to).contains(&c.at)).count() as u64);
    }
}

#[test]
fn many_days_come_back_in_any_order() {
    let value = |i: u32| mg(i64::from(40 + i * 7 % 360));
    let rows: Vec<_> = (0..200_000_u32)
        .map(|i| ("", TraceKind::Automatic, i * 300, value(i)))
        .collect();
    let forward = Source {
        readings: rows.clone(),
        ..Source::default()
    };
    let backward = Source {
        readings: rows.into_iter().rev().collect(),
        ..Source::default()
    };
    let (mut one, mut other) = (Book::in_memory().unwrap(), Book::in_memory().unwrap());
    import(&mut one, 1, &forward);
    import(&mut other, 1, &backward);
    let (one, other) = (one.load_all().unwrap(), other.load_all().unwrap());
    assert_eq!(one.traces, other.traces);
    assert_eq!(one.levels.as_slice(), other.levels.as_slice());
    let readings = &one.traces[0].readings;
    assert_eq!(readings.len(), 200_000);
    for (i, (&at, &level)) in (0_u32..).zip(readings.at().iter().zip(readings.level())) {
        assert_eq!((at, one.levels.get(level).said), (i * 300, value(i)));
    }
}

#[test]
fn the_same_file_again_writes_nothing() {
    let mut book = Book::in_memory().unwrap();
    let source = Source {
        readings: vec![
            ("", TraceKind::Automatic, 300, mg(100)),
            ("", TraceKind::Automatic, 600, mg(101)),
        ],
        blood_checks: vec![check(300, 104)],
        ..Source::default()
    };
    let first = import(&mut book, 7, &source);
    let stamp = book.version_stamp().unwrap();
    let again = import(&mut book, 7, &source);
    assert_eq!(
        (first.new_rows(), again.new_rows(), again.already_there),
        (3, 0, 3)
    );
    assert!(first.written && !again.written);
    assert_eq!(again.change, first.change);
    assert_eq!(book.version_stamp().unwrap(), stamp);
    assert_eq!(book.journal().unwrap().len(), 1);
    // With another name for the options it is another import, all of whose rows are known.
    let mut other = provenance(7);
    other.options_json = r#"{"zone":"UTC"}"#.to_owned();
    let receipt = book
        .import(&source.draft(), &other, &mut |_, _| ControlFlow::Continue(()))
        .unwrap();
    assert_eq!(
        (receipt.new_rows(), receipt.already_there, receipt.written),
        (0, 3, true)
    );
}

#[test]
fn the_last_seconds_columns_can_hold_come_back() {
    let mut book = Book::in_memory().unwrap();
    let rows = vec![
        ("", TraceKind::Automatic, 0, mg(90)),
        ("", TraceKind::Automatic, u32::MAX, mg(91)),
    ];
    import(
        &mut book,
        1,
        &Source {
            readings: rows,
            ..Source::default()
        },
    );
    let record = book.load_all().unwrap();
    assert_eq!(record.traces[0].readings.at(), [0, u32::MAX]);
    assert_eq!(book.span().unwrap(), Some((0, i64::from(u32::MAX))));
}

#[test]
fn stopping_leaves_the_book_as_it_was() {
    let mut book = Book::in_memory().unwrap();
    let readings = (0..400_000)
        .map(|i| ("", TraceKind::Automatic, i * 60, mg(100)))
        .collect();
    let draft = Source {
        readings,
        ..Source::default()
    }
    .draft();
    let mut calls = 0;
    let stopped = book.import(&draft, &provenance(1), &mut |done, total| {
        assert!(done <= total);
        calls += 1;
        if calls == 3 {
            ControlFlow::Break(())
        } else {
            ControlFlow::Continue(())
        }
    });
    assert!(stopped.unwrap_err().to_string().contains("nothing was written"));
    assert_eq!(book.load_all().unwrap().reading_count(), 0);
    assert!(book.journal().unwrap().is_empty());
}

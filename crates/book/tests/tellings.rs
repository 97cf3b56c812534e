//! One event told by several sources is one event, in whatever order they come and go.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use std::collections::BTreeSet;

use common::{Source, check, dose, import, meal, mg};
use interstice_book::{Book, ChangeId, Entry, Kept};
use interstice_glucose::{BloodCheck, Censor, Dose, Glucose, InsulinKind, Mark, Meal, Said, TraceKind, Unit};
use proptest::prelude::*;

fn tenths(mmol_tenths: i64) -> Said {
    Said::new(mmol_tenths, 1, Unit::MmolPerL, Censor::None).unwrap()
}

fn in_mmol(at: i64, mmol_tenths: i64) -> BloodCheck {
    BloodCheck {
        said: tenths(mmol_tenths),
        ..check(at, 0)
    }
}

fn checks(checks: &[BloodCheck]) -> Source {
    Source {
        blood_checks: checks.to_vec(),
        ..Source::default()
    }
}

fn doses(doses: &[Dose]) -> Source {
    Source {
        doses: doses.to_vec(),
        ..Source::default()
    }
}

fn shown_doses(book: &Book) -> Vec<(i64, f64)> {
    let doses = book.load_all().unwrap().doses;
    doses.iter().map(|kept| (kept.it.at, kept.it.units)).collect()
}

fn shown_checks(book: &Book) -> Vec<(i64, Said)> {
    let checks = book.load_all().unwrap().blood_checks;
    checks.iter().map(|kept| (kept.it.at, kept.it.said)).collect()
}

/// 110 mg/dL is 6.106 mmol/L (molar mass 180.156 g/mol).
#[test]
fn a_check_told_in_two_units_and_grains_is_one() {
    let second = checks(&[check(60_020, 110), check(60_200, 95)]);
    let minute = checks(&[in_mmol(60_000, 61)]);
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, &second);
    let receipt = import(&mut book, 2, &minute);
    assert_eq!((receipt.blood_checks_new, receipt.already_there), (0, 1));
    assert_eq!(shown_checks(&book), [(60_020, mg(110)), (60_200, mg(95))]);
    let kept = &book.load_all().unwrap().blood_checks[0];
    assert_eq!(kept.also, [(ChangeId(2), in_mmol(60_000, 61))]);
    // The other way round the other value stands.
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, &minute);
    let receipt = import(&mut book, 2, &second);
    assert_eq!((receipt.blood_checks_new, receipt.already_there), (1, 1));
    assert_eq!(shown_checks(&book), [(60_000, tenths(61)), (60_200, mg(95))]);
    // Undone, what the second tells is there again in its own words.
    book.undo(Some(ChangeId(1)), 0).unwrap();
    assert_eq!(shown_checks(&book), [(60_020, mg(110)), (60_200, mg(95))]);
}

#[test]
fn what_knows_the_second_is_not_taken_for_another_second() {
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, &checks(&[check(60_020, 110)]));
    let receipt = import(&mut book, 2, &checks(&[check(60_000, 110), check(70_001, 90)]));
    assert_eq!((receipt.blood_checks_new, receipt.already_there), (2, 0));
    let receipt = import(&mut book, 3, &checks(&[check(60_000, 140)]));
    assert_eq!(receipt.blood_checks_new, 1, "another value is another check");
}

#[test]
fn two_doses_of_one_file_are_two_and_a_files_one_is_one_of_them() {
    let two = doses(&[dose(60_010, 4.0), dose(60_040, 4.0)]);
    let one = doses(&[dose(60_000, 4.0)]);
    for (first, second) in [(&two, &one), (&one, &two)] {
        let mut book = Book::in_memory().unwrap();
        import(&mut book, 1, first);
        import(&mut book, 2, second);
        assert_eq!(shown_doses(&book).len(), 2);
        // Deleting one hides one, whichever, whoever tells of it.
        for i in 0..2 {
            let gone = book.load_all().unwrap().doses[i].clone();
            book.delete(gone.entry, None, 5).unwrap();
            assert_eq!(shown_doses(&book).len(), 1, "{gone:?}");
            for change in [1, 2] {
                let mut one_left = Book::in_memory().unwrap();
                import(&mut one_left, 1, first);
                import(&mut one_left, 2, second);
                one_left.delete(gone.entry, None, 5).unwrap();
                one_left.undo(Some(ChangeId(change)), 6).unwrap();
                let told = [first, second][2 - change as usize].doses.len();
                assert!(
                    shown_doses(&one_left).len() >= told - 1,
                    "{gone:?} without {change}"
                );
            }
            book.undo(None, 6).unwrap();
            assert_eq!(shown_doses(&book).len(), 2);
        }
    }
}

#[test]
fn a_dose_corrected_to_look_like_another_is_still_two() {
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, &doses(&[dose(60_000, 4.0), dose(60_000, 5.0)]));
    let five = book.load_all().unwrap().doses[1].entry;
    book.edit(five, &Entry::Dose(dose(60_000, 4.0)), None, 5).unwrap();
    assert_eq!(shown_doses(&book), [(60_000, 4.0), (60_000, 4.0)]);
    // Another file that knew it all along tells of nothing new.
    let right = doses(&[dose(60_000, 4.0)]);
    assert_eq!(import(&mut book, 2, &right).doses_new, 0);
    assert_eq!(shown_doses(&book).len(), 2);
    let corrected = book
        .load_all()
        .unwrap()
        .doses
        .into_iter()
        .find(|kept| kept.by_hand)
        .unwrap();
    book.delete(corrected.entry, None, 6).unwrap();
    assert_eq!(shown_doses(&book), [(60_000, 4.0)], "one deletion hides one dose");
    book.undo(None, 7).unwrap();
    assert_eq!(shown_doses(&book).len(), 2);
}

#[test]
fn a_deletion_outlives_the_import_it_was_made_in_when_another_tells_the_same_otherwise() {
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, &checks(&[in_mmol(60_000, 61)]));
    import(&mut book, 2, &checks(&[check(60_020, 110), check(60_045, 140)]));
    let [first, other] = &book.load_all().unwrap().blood_checks[..] else {
        panic!("two checks")
    };
    assert_eq!((first.it.at, other.it.at), (60_000, 60_045));
    book.delete(first.entry, None, 5).unwrap();
    assert_eq!(shown_checks(&book), [(60_045, mg(140))]);
    book.undo(Some(ChangeId(1)), 6).unwrap();
    assert_eq!(shown_checks(&book), [(60_045, mg(140))]);
}

#[test]
fn a_correction_takes_the_event_from_all_that_tell_it() {
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, &checks(&[in_mmol(60_000, 61)]));
    import(&mut book, 2, &checks(&[check(60_020, 110)]));
    let entry = book.load_all().unwrap().blood_checks[0].entry;
    book.edit(entry, &Entry::BloodCheck(check(60_000, 160)), None, 5)
        .unwrap();
    assert_eq!(shown_checks(&book), [(60_000, mg(160))]);
    book.undo(Some(ChangeId(1)), 6).unwrap();
    assert_eq!(shown_checks(&book), [(60_000, mg(160))]);
    book.undo(Some(ChangeId(2)), 7).unwrap();
    assert_eq!(shown_checks(&book), []);
}

#[test]
fn what_is_written_by_hand_and_exported_is_one() {
    let mut book = Book::in_memory().unwrap();
    book.log(&checks(&[in_mmol(60_000, 61)]).draft(), "logged", 0)
        .unwrap();
    let receipt = import(&mut book, 1, &checks(&[check(60_020, 110)]));
    assert_eq!(receipt.blood_checks_new, 0);
    assert_eq!(shown_checks(&book), [(60_000, tenths(61))]);
    // And the other way round it is known already.
    assert!(
        !book
            .log(&checks(&[in_mmol(60_000, 61)]).draft(), "logged", 0)
            .unwrap()
            .written
    );
    // Two by hand that are not equal are two.
    let noted = Dose {
        note: Some("second pen".to_owned()),
        ..dose(60_000, 4.0)
    };
    book.log(&doses(&[dose(60_000, 4.0)]).draft(), "logged", 0)
        .unwrap();
    assert!(book.log(&doses(&[noted]).draft(), "logged", 0).unwrap().written);
    assert_eq!(shown_doses(&book).len(), 2);
}

#[test]
fn what_one_source_leaves_out_is_taken_from_another() {
    let plain = Dose {
        insulin: InsulinKind::Unsaid,
        ..dose(60_000, 4.0)
    };
    let full = Dose {
        note: Some("pen".to_owned()),
        ..dose(60_015, 4.0)
    };
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, &doses(&[plain]));
    import(&mut book, 2, &doses(&[full]));
    let [dose] = &book.load_all().unwrap().doses[..] else {
        panic!("one dose")
    };
    let it = &dose.it;
    assert_eq!(
        (it.at, it.insulin, it.note.as_deref()),
        (60_000, InsulinKind::Rapid, Some("pen"))
    );
}

#[test]
fn a_reading_stamped_to_the_minute_is_the_one_of_that_minute() {
    let row = |at, value| ("A", TraceKind::Automatic, at, mg(value));
    let seconds = Source {
        readings: (0..200)
            .map(|i| row(i * 300 + 23, i64::from(90 + i % 40)))
            .collect(),
        ..Source::default()
    };
    let minutes = Source {
        readings: (0..200)
            .map(|i| row(i * 300, i64::from(90 + i % 40) + i64::from(i == 50)))
            .collect(),
        ..Source::default()
    };
    for (first, second) in [(&seconds, &minutes), (&minutes, &seconds)] {
        let mut book = Book::in_memory().unwrap();
        import(&mut book, 1, first);
        let receipt = import(&mut book, 2, second);
        assert_eq!(
            (receipt.readings_new, receipt.already_there, receipt.conflicts),
            (0, 199, 1)
        );
        let record = book.load_all().unwrap();
        assert_eq!((record.reading_count(), record.conflicts), (200, 1));
        assert_eq!(
            record.traces[0].readings.at()[1],
            first.readings[1].2,
            "the first stamp stands"
        );
    }
}

/// Something that really happened: minute, second in it, and its size.
type Truth = (i64, i64, i64);

/// How a source tells: which of the events, to the minute or the second, and in which unit.
#[derive(Clone, Debug)]
struct Teller {
    tells: Vec<bool>,
    to_minute: bool,
    in_mmol: bool,
}

/// Events of one minute differ by more than rounding can hide: 30 mg/dL, a unit of insulin, ten grams.
fn any_truth() -> impl Strategy<Value = Vec<Truth>> {
    prop::collection::btree_map((0..4_i64, 0..6_i64), 1..60_i64, 0..12).prop_map(|all| {
        all.into_iter()
            .map(|((minute, size), second)| (minute, second, size))
            .collect()
    })
}

fn any_teller() -> impl Strategy<Value = Teller> {
    (
        prop::collection::vec(any::<bool>(), 12),
        any::<bool>(),
        any::<bool>(),
    )
        .prop_map(|(tells, to_minute, in_mmol)| Teller {
            tells,
            to_minute,
            in_mmol,
        })
}

fn told(truth: &[Truth], teller: &Teller) -> Source {
    let mut source = Source::default();
    for &(minute, second, size) in truth
        .iter()
        .zip(&teller.tells)
        .filter(|(_, tells)| **tells)
        .map(|(it, _)| it)
    {
        let at = 600_000 + minute * 60 + if teller.to_minute { 0 } else { second };
        let mg_dl = 70 + size * 30;
        let mmol = Glucose::from_mg_per_dl(mg_dl as f64).mmol_per_l();
        let said = if teller.in_mmol {
            tenths((mmol * 10.0).round() as i64)
        } else {
            mg(mg_dl)
        };
        source.blood_checks.push(BloodCheck { said, ..check(at, 0) });
        source.doses.push(dose(at, size as f64));
        source.meals.push(Meal {
            text: teller.in_mmol.then(|| "bread".to_owned()),
            ..meal(at, size as f64 * 10.0)
        });
        source.marks.push(Mark {
            until: Some(at + 1800),
            ..common::mark(at, None, &size.to_string())
        });
        source.readings.push(("A", TraceKind::Scan, at as u32, said));
    }
    source
}

fn counts(book: &Book) -> [usize; 5] {
    let record = book.load_all().unwrap();
    [
        record.blood_checks.len(),
        record.doses.len(),
        record.meals.len(),
        record.marks.len(),
        record.reading_count(),
    ]
}

/// All that is shown, but for the numbers of rows and changes.
fn shown(book: &Book) -> Vec<String> {
    fn all<T: std::fmt::Debug>(kept: &[Kept<T>]) -> Vec<String> {
        let also = |kept: &Kept<T>| {
            kept.also
                .iter()
                .map(|(_, it)| format!("{it:?}"))
                .collect::<Vec<_>>()
        };
        kept.iter()
            .map(|kept| format!("{:?} also {:?}", kept.it, also(kept)))
            .collect()
    }
    let record = book.load_all().unwrap();
    let mut lines = all(&record.blood_checks);
    lines.extend(all(&record.doses));
    lines.extend(all(&record.meals));
    lines.extend(all(&record.marks));
    lines.push(format!("{:?} {}", record.traces, record.conflicts));
    lines
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn the_book_holds_what_happened_once(truth in any_truth(), tellers in prop::collection::vec(any_teller(), 1..5)) {
        let sources: Vec<Source> = tellers.iter().map(|teller| told(&truth, teller)).collect();
        let known = (0..truth.len()).filter(|&i| tellers.iter().any(|teller| teller.tells[i])).count();
        let mut book = Book::in_memory().unwrap();
        let mut new = 0;
        for (number, source) in (0..).zip(&sources) {
            let receipt = import(&mut book, number, source);
            new += receipt.new_rows() as usize;
            // Readings of one minute that cannot all stand are conflicts: a source that knows the minute alone
            // tells of two in it.
            let told = source.blood_checks.len() * 4 + source.readings.len();
            prop_assert_eq!((receipt.new_rows() + receipt.already_there + receipt.conflicts) as usize, told);
        }
        let counts = counts(&book);
        prop_assert_eq!(&counts[..4], &[known; 4]);
        prop_assert_eq!(new, counts.iter().sum::<usize>());
    }

    #[test]
    fn the_order_of_imports_does_not_matter(
        truth in any_truth(),
        tellers in prop::collection::vec(any_teller(), 2..5),
        order in Just(vec![0, 1, 2, 3]).prop_shuffle(),
    ) {
        let sources: Vec<Source> = tellers.iter().map(|teller| told(&truth, teller)).collect();
        let (mut one, mut other) = (Book::in_memory().unwrap(), Book::in_memory().unwrap());
        for (number, source) in (0..).zip(&sources) {
            import(&mut one, number, source);
        }
        for &number in order.iter().filter(|&&number| number < sources.len()) {
            import(&mut other, number as u64, &sources[number]);
        }
        prop_assert_eq!(&counts(&one)[..4], &counts(&other)[..4]);
    }

    #[test]
    fn undone_is_never_imported_and_told_again_writes_nothing(
        truth in any_truth(),
        tellers in prop::collection::vec(any_teller(), 1..5),
        undone in 0..4_usize,
    ) {
        let sources: Vec<Source> = tellers.iter().map(|teller| told(&truth, teller)).collect();
        let undone = undone % sources.len();
        let (mut with, mut without) = (Book::in_memory().unwrap(), Book::in_memory().unwrap());
        for (number, source) in (0..).zip(&sources) {
            import(&mut with, number as u64, source);
            if number != undone {
                import(&mut without, number as u64, source);
            }
        }
        let (stamp, lines) = (with.version_stamp().unwrap(), with.journal().unwrap().len());
        prop_assert!(!import(&mut with, undone as u64, &sources[undone]).written);
        prop_assert_eq!(with.version_stamp().unwrap(), stamp);
        prop_assert_eq!(with.journal().unwrap().len(), lines);
        with.undo(Some(ChangeId(undone as i64 + 1)), 0).unwrap();
        prop_assert_eq!(shown(&with), shown(&without));
    }

    /// Deletions and corrections by hand, too: each is about one event, whoever else tells of it.
    #[test]
    fn a_hand_hides_one(
        truth in any_truth(),
        tellers in prop::collection::vec(any_teller(), 1..4),
        picks in prop::collection::vec((any::<prop::sample::Index>(), any::<bool>()), 1..4),
    ) {
        let mut book = Book::in_memory().unwrap();
        for (number, teller) in (0..).zip(&tellers) {
            import(&mut book, number, &told(&truth, teller));
        }
        for (pick, delete) in &picks {
            let doses = book.load_all().unwrap().doses;
            if doses.is_empty() {
                return Ok(());
            }
            let kept = &doses[pick.index(doses.len())];
            if *delete {
                book.delete(kept.entry, None, 5).unwrap();
                prop_assert_eq!(shown_doses(&book).len(), doses.len() - 1);
            } else {
                // Any other dose of the same minute may look the same now.
                let new = dose(kept.it.at, (kept.it.units + 1.0) % 6.0);
                book.edit(kept.entry, &Entry::Dose(new), None, 5).unwrap();
                prop_assert_eq!(shown_doses(&book).len(), doses.len());
            }
        }
        let before = shown_doses(&book);
        // A file told again by another export changes nothing either.
        for (number, teller) in (10..).zip(&tellers) {
            import(&mut book, number, &told(&truth, teller));
        }
        prop_assert_eq!(shown_doses(&book), before);
        for _ in 0..tellers.len() + picks.len() {
            book.undo(None, 6).unwrap();
        }
        let whole: BTreeSet<usize> =
            (0..truth.len()).filter(|&i| tellers.iter().any(|teller| teller.tells[i])).collect();
        prop_assert_eq!(shown_doses(&book).len(), whole.len());
    }
}

/// Twenty thousand of each kind at one instant, told by two sources that agree and by one that adds a note: counted
/// rightly, and in a time that grows with their number rather than its square.
#[test]
fn many_events_at_one_instant_are_counted_in_good_time() {
    const MANY: i64 = 20_000;
    let source = |at: i64, from: i64| Source {
        doses: (from..from + MANY).map(|i| dose(at, i as f64 / 100.0)).collect(),
        blood_checks: (from..from + MANY).map(|i| check(at, i)).collect(),
        meals: (from..from + MANY).map(|i| meal(at, i as f64)).collect(),
        readings: (from..from + MANY)
            .map(|i| ("", TraceKind::Automatic, at as u32, mg(i)))
            .collect(),
        ..Source::default()
    };
    let mut book = Book::in_memory().unwrap();
    let many = MANY as u64;
    let first = import(&mut book, 1, &source(60_000, 0));
    assert_eq!((first.new_rows(), first.conflicts), (3 * many + 1, many - 1));
    let second = import(&mut book, 2, &source(60_000, MANY / 2));
    assert_eq!(
        (second.new_rows(), second.already_there),
        (3 * many / 2, 2 * many)
    );
    // To the second: each finds the one it is.
    let third = import(&mut book, 3, &source(60_030, 0));
    assert_eq!(third.blood_checks_new + third.doses_new + third.meals_new, 0);
    assert_eq!(counts(&book)[..3], [30_000; 3]);
}

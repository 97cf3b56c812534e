//! From a book to findings: windows, artefacts, overlapping sensors, too little data.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Mode, Provenance, Setting};
use interstice_findings::{Ask, FindingsError, NearbyKind, Shelf, Span, review_book};
use interstice_glucose::{
    Delivery, Dose, Draft, InsulinKind, Mark, MarkKind, Meal, Readings, Said, Second, TraceDraft, TraceKind,
    Unit, Zone,
};
use jiff::Timestamp;
use jiff::civil::Date;

fn second(text: &str) -> Second {
    text.parse::<Timestamp>().unwrap().as_second()
}

/// Readings every five minutes, the value by the reading's number.
fn trace(draft: &mut Draft, sensor: &str, from: &str, count: u32, mg_dl: impl Fn(u32) -> i64) {
    let start = u32::try_from(second(from)).unwrap();
    let mut readings = Readings::default();
    for i in 0..count {
        let level = draft.levels.intern(Said::whole_mg_per_dl(mg_dl(i)));
        readings.push(start + 300 * i, level);
    }
    draft.traces.push(TraceDraft {
        sensor: sensor.to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
}

fn import(book: &mut Book, draft: &Draft) {
    let provenance = Provenance {
        file_name: "made up".to_owned(),
        digest: [0; 32],
        size_bytes: 0,
        imported_at: 0,
        options_json: "{}".to_owned(),
        understanding_json: "{}".to_owned(),
        recipes: Vec::new(),
        base_zone: None,
        original: None,
    };
    book.import(
        draft,
        &provenance,
        &mut |_, _| std::ops::ControlFlow::Continue(()),
    )
    .unwrap();
}

fn dates(from: (i16, i8, i8), to: (i16, i8, i8)) -> Ask {
    let date = |(year, month, day)| Date::constant(year, month, day);
    Ask {
        span: Span::Dates {
            from: date(from),
            to: date(to),
        },
        ..Ask::default()
    }
}

#[test]
fn an_empty_book_has_no_account() {
    let book = Book::in_memory().unwrap();
    assert!(matches!(
        review_book(&book, &Ask::default()),
        Err(FindingsError::Empty)
    ));
}

#[test]
fn a_flat_fortnight_is_flat() {
    let mut book = Book::in_memory().unwrap();
    let mut draft = Draft::default();
    trace(&mut draft, "one", "2025-02-01T00:00:00Z", 14 * 288, |_| 120);
    import(&mut book, &draft);
    let findings = review_book(&book, &Ask::default()).unwrap();
    assert_eq!(findings.window.days, 14);
    assert!(findings.sufficiency.enough, "{:?}", findings.sufficiency);
    assert_eq!(findings.sufficiency.expected, findings.sufficiency.received);
    assert_eq!(findings.summary.mean_mg_dl.value, Some(120.0));
    assert_eq!(findings.summary.in_range_percent.value, Some(100.0));
    assert_eq!(findings.summary.in_range_percent.lo95, Some(100.0));
    assert!(
        findings.summary.mage_mg_dl.reason.is_some(),
        "a flat line has no swings"
    );
    assert!(findings.episodes.is_empty());
    assert!(
        findings
            .usual_day
            .iter()
            .all(|point| point.days == 14 && point.p50_mg_dl == Some(120.0))
    );
}

#[test]
fn three_days_say_that_they_are_too_few() {
    let mut book = Book::in_memory().unwrap();
    let mut draft = Draft::default();
    trace(&mut draft, "one", "2025-02-01T00:00:00Z", 3 * 288, |i| {
        100 + i64::from(i % 50)
    });
    import(&mut book, &draft);
    let findings = review_book(&book, &Ask::default()).unwrap();
    assert!(!findings.sufficiency.enough);
    assert!(findings.sufficiency.reason.is_some());
    let mean = &findings.summary.mean_mg_dl;
    assert!(mean.value.is_some() && mean.lo95.is_none() && mean.reason.is_some());
}

/// Summer time ended in Lisbon at 01:00 UTC on 26 October 2025 (directive 2000/84/EC).
#[test]
fn a_day_of_25_hours_is_one_day() {
    let mut book = Book::in_memory().unwrap();
    book.set(Setting::BaseZone(Some(Zone::named("Europe/Lisbon").unwrap())), 0)
        .unwrap();
    let mut draft = Draft::default();
    trace(&mut draft, "one", "2025-10-24T23:00:00Z", 3 * 288 + 12, |_| 120);
    import(&mut book, &draft);
    let findings = review_book(&book, &dates((2025, 10, 25), (2025, 10, 27))).unwrap();
    let hours: Vec<f64> = findings.days.iter().map(|day| day.hours).collect();
    assert_eq!(hours, [24.0, 25.0, 24.0]);
    assert_eq!(findings.days[1].received, 300);
    assert_eq!(findings.window.to.0.offset_s, 0);
    assert_eq!(findings.window.from.0.offset_s, 3600);
    assert!(
        findings
            .notes
            .iter()
            .any(|note| note.contains("clock moved by -1 h")),
        "{:?}",
        findings.notes
    );
}

#[test]
fn artefacts_are_shown_with_and_without() {
    let mut book = Book::in_memory().unwrap();
    let mut draft = Draft::default();
    // An hour at 50 in every night, marked in the last one only.
    trace(&mut draft, "one", "2025-02-01T00:00:00Z", 14 * 288, |i| {
        if i % 288 < 12 { 50 } else { 120 }
    });
    draft.marks.push(Mark {
        at: second("2025-02-14T00:00:00Z"),
        until: Some(second("2025-02-14T01:00:00Z")),
        kind: MarkKind::Artefact,
        value: None,
        text: Some("pressure".to_owned()),
    });
    import(&mut book, &draft);
    let with = review_book(&book, &Ask::default()).unwrap();
    assert_eq!(with.episodes.len(), 14);
    let other = with.summary_without_artefacts.as_ref().unwrap();
    let without = review_book(
        &book,
        &Ask {
            without_artefacts: true,
            ..Ask::default()
        },
    )
    .unwrap();
    assert_eq!(without.episodes.len(), 13);
    assert_eq!(other, &without.summary);
    assert!(without.summary_without_artefacts.is_none());
    assert_eq!(with.sufficiency.received - 12, without.sufficiency.received);
}

#[test]
fn what_was_logged_stands_beside_the_episode() {
    let mut book = Book::in_memory().unwrap();
    let mut draft = Draft::default();
    trace(&mut draft, "one", "2025-02-01T00:00:00Z", 288, |i| {
        if (144..156).contains(&i) { 60 } else { 120 }
    });
    let at = second("2025-02-01T11:00:00Z");
    let dose = Dose {
        at,
        units: 4.0,
        insulin: InsulinKind::Rapid,
        delivery: Delivery::AtOnce,
        note: None,
    };
    let meal = Meal {
        at: second("2025-02-01T12:10:00Z"),
        carbohydrate_g: Some(15.0),
        protein_g: None,
        fat_g: None,
        fibre_g: None,
        energy_kcal: None,
        text: None,
    };
    draft.doses.push(dose.clone());
    draft.doses.push(Dose {
        at: at - 4 * 3600,
        ..dose
    });
    draft.meals.push(meal);
    import(&mut book, &draft);
    let findings = review_book(&book, &Ask::default()).unwrap();
    let [episode] = findings.episodes.as_slice() else {
        panic!("{:?}", findings.episodes)
    };
    assert_eq!((episode.minutes, episode.extreme_mg_dl), (60.0, 60.0));
    let [before] = episode.before.as_slice() else {
        panic!("{:?}", episode.before)
    };
    assert_eq!(
        (before.what, before.amount, before.minutes),
        (NearbyKind::RapidInsulin, Some(4.0), -60.0)
    );
    let [after] = episode.after.as_slice() else {
        panic!("{:?}", episode.after)
    };
    assert_eq!((after.what, after.minutes), (NearbyKind::Carbohydrate, 10.0));
}

#[test]
fn of_two_sensors_at_once_the_first_counts_until_it_ends() {
    let mut book = Book::in_memory().unwrap();
    let mut draft = Draft::default();
    trace(&mut draft, "old", "2025-02-01T00:00:00Z", 8 * 288, |_| 100);
    trace(&mut draft, "new", "2025-02-08T00:00:00Z", 7 * 288, |_| 200);
    import(&mut book, &draft);
    let findings = review_book(&book, &dates((2025, 2, 8), (2025, 2, 9))).unwrap();
    assert_eq!(findings.days[0].mean_mg_dl, Some(100.0));
    assert_eq!(findings.days[1].mean_mg_dl, Some(200.0));
    assert_eq!(findings.traces.len(), 2);
    assert!(
        findings.notes.iter().any(|note| note.contains("288 readings")),
        "{:?}",
        findings.notes
    );
}

#[test]
fn the_shelf_notices_a_change() {
    let folder = tempfile::TempDir::new().unwrap();
    let path = folder.path().join("warm.interstice");
    let shelf = Shelf::new(&path);
    assert!(matches!(shelf.review(&Ask::default()), Err(FindingsError::Empty)));
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    let mut draft = Draft::default();
    trace(&mut draft, "one", "2025-02-01T00:00:00Z", 14 * 288, |_| 120);
    import(&mut book, &draft);
    let first = shelf.review(&Ask::default()).unwrap();
    assert_eq!(first.unit, Unit::MgPerDl);
    assert!(
        std::sync::Arc::ptr_eq(&first, &shelf.review(&Ask::default()).unwrap()),
        "the second answer is the kept one"
    );
    book.set(Setting::Unit(Some(Unit::MmolPerL)), 0).unwrap();
    assert_eq!(shelf.review(&Ask::default()).unwrap().unit, Unit::MmolPerL);
}

//! From a book to findings: windows, artefacts, overlapping sensors, too little data.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Mode, Provenance, Setting};
use interstice_findings::{Ask, FindingsError, NearbyKind, Shelf, Span, checks_book, review_book};
use interstice_glucose::{
    BloodCheck, BloodSource, Delivery, Dose, Draft, InsulinKind, Mark, MarkKind, Meal, Pass, Readings, Said,
    Second, TraceDraft, TraceKind, Unit, Zone,
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
    let provenance = Provenance::named("made up", [0; 32]);
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
    // An hour at 50 at every noon, when nobody looks for pressure, marked in the last one only.
    trace(&mut draft, "one", "2025-02-01T00:00:00Z", 14 * 288, |i| {
        if (144..156).contains(&(i % 288)) { 50 } else { 120 }
    });
    draft.marks.push(Mark {
        at: second("2025-02-14T12:00:00Z"),
        until: Some(second("2025-02-14T13:00:00Z")),
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
            exclude_pressure: true,
            ..Ask::default()
        },
    )
    .unwrap();
    assert_eq!(without.episodes.len(), 13);
    assert_eq!(other, &without.summary);
    assert!(without.summary_without_artefacts.is_none());
    assert_eq!(with.sufficiency.received - 12, without.sufficiency.received);
    let out = without.left_out.unwrap();
    assert_eq!((out.possible, out.said, out.marked, out.readings), (0, 0, 1, 12));
    assert!((out.minutes - 60.0).abs() < 1e-9);
    assert_eq!(out.summary_with.as_ref(), Some(&with.summary));
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

/// Two days read, then two weeks of finger-pricks: the account of those weeks is of the checks, and no share of time.
#[test]
fn days_without_a_sensor_are_told_by_blood_checks() {
    let mut draft = Draft::default();
    trace(&mut draft, "", "2025-03-01T00:00:00Z", 576, |_| 120);
    let begin = second("2025-03-04T08:00:00Z");
    draft.blood_checks = (0..28)
        .map(|i| BloodCheck {
            at: begin + i * 43_200,
            said: Said::whole_mg_per_dl(if i == 3 { 50 } else { 150 }),
            source: BloodSource::Meter,
            note: None,
        })
        .collect();
    let mut book = Book::in_memory().unwrap();
    import(&mut book, &draft);
    let found = review_book(&book, &dates((2025, 3, 4), (2025, 3, 17))).unwrap();
    let checks = found.blood_checks.expect("checks and no readings");
    assert_eq!((checks.checks, checks.days_with_checks), (28, 14));
    let below = &checks.summary.below_percent;
    assert!((below.value.unwrap() - 100.0 / 28.0).abs() < 1e-9);
    // Clopper and Pearson of 1 in 28, by scipy's binomtest: 0.0904 to 18.3477 %.
    assert!(
        below.lo95.unwrap() < 0.0905 && below.hi95.unwrap() > 18.347,
        "{below:?}"
    );
    // Of none in 28 the exact upper end is 12.344 %; days drawn again would say 0 to 0.
    let high = &checks.summary.very_high_percent;
    assert_eq!((high.value, high.lo95), (Some(0.0), Some(0.0)));
    assert!((high.hi95.unwrap() - 12.344).abs() < 1e-3, "{high:?}");
    let read = review_book(&book, &dates((2025, 3, 1), (2025, 3, 2))).unwrap();
    assert!(read.blood_checks.is_none(), "where readings tell, they tell");
    // A whole book without readings, by the shelf as by the book; fewer than seven days have no margin.
    draft.traces.clear();
    draft.blood_checks.truncate(12);
    let mut book = Book::in_memory().unwrap();
    import(&mut book, &draft);
    assert!(matches!(
        review_book(&book, &Ask::default()),
        Err(FindingsError::Empty)
    ));
    let few = checks_book(&book, &Ask::default()).unwrap();
    assert_eq!((few.checks, few.days_with_checks, few.window.days), (12, 6, 14));
    assert!(few.summary.mean_mg_dl.lo95.is_none() && few.summary.mean_mg_dl.reason.is_some());
    assert!(matches!(
        checks_book(&Book::in_memory().unwrap(), &Ask::default()),
        Err(FindingsError::Empty)
    ));
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

/// The range of pregnancy is 63–140 mg/dL (Battelino et al. 2019, Diabetes Care 42:1593). Targets used to be its own
/// while every share was of 70–180.
#[test]
fn in_pregnancy_every_figure_goes_by_its_range() {
    let mut book = Book::in_memory().unwrap();
    let mut draft = Draft::default();
    // Half of each day at 100, a quarter at 65 and a quarter at 150.
    trace(&mut draft, "one", "2025-02-01T00:00:00Z", 14 * 288, |i| {
        match i % 288 / 72 {
            0 => 65,
            1 => 150,
            _ => 100,
        }
    });
    import(&mut book, &draft);
    let adult = serde_json::to_value(review_book(&book, &Ask::default()).unwrap()).unwrap();
    book.set(Setting::TargetGroup(Some("pregnancy".to_owned())), 0)
        .unwrap();
    let pregnancy = serde_json::to_value(review_book(&book, &Ask::default()).unwrap()).unwrap();
    let shares = |of: &serde_json::Value| {
        [
            "below_percent",
            "low_percent",
            "in_range_percent",
            "in_range_percent_lo95",
            "high_percent",
            "above_percent",
        ]
        .map(|name| of[name].as_f64().unwrap().round() as i64)
    };
    assert_eq!(shares(&adult["summary"]), [25, 25, 75, 75, 0, 0]);
    assert_eq!(shares(&pregnancy["summary"]), [0, 0, 75, 75, 25, 25]);
    assert_eq!(adult["average_day"]["below_min"], 360.0);
    assert_eq!(pregnancy["average_day"]["below_min"], 0.0);
    assert_eq!(pregnancy["average_day"]["above_min"], 360.0);
    assert_eq!(adult["days"][3]["below_percent"], 25.0);
    assert_eq!(pregnancy["days"][3]["below_percent"], 0.0);
    assert_eq!(pregnancy["days"][3]["high_percent"], 25.0);
    let kinds = |of: &serde_json::Value| {
        of["episodes"]
            .as_array()
            .unwrap()
            .iter()
            .map(|e| e["kind"].to_string())
            .collect::<Vec<_>>()
    };
    assert_eq!((kinds(&adult).len(), kinds(&adult)[0].as_str()), (14, "\"low\""));
    assert_eq!(
        (kinds(&pregnancy).len(), kinds(&pregnancy)[0].as_str()),
        (14, "\"high\"")
    );
    let edges = [
        "very_low_below_mg_dl",
        "range_low_mg_dl",
        "range_high_mg_dl",
        "very_high_above_mg_dl",
    ];
    assert_eq!(
        edges.map(|name| pregnancy["targets"][name].as_f64().unwrap() as i64),
        [54, 63, 140, 250]
    );
    assert_eq!(pregnancy["targets"]["group"], "pregnancy");
    assert_eq!(
        pregnancy["targets"]["very_high_under_percent"],
        serde_json::Value::Null
    );
}

/// A window of N days used to run N × 24 h back from the last reading and listed N + 1 dates.
#[test]
fn the_last_days_have_a_row_each_wherever_the_readings_end() {
    for ends in [12, 100, 287, 288] {
        let mut book = Book::in_memory().unwrap();
        let mut draft = Draft::default();
        trace(&mut draft, "one", "2025-02-01T00:00:00Z", 29 * 288 + ends, |_| {
            120
        });
        import(&mut book, &draft);
        let last_days = |days| Ask {
            span: Span::LastDays(days),
            ..Ask::default()
        };
        for days in [1, 7, 14, 30] {
            let findings = review_book(&book, &last_days(days)).unwrap();
            assert_eq!((findings.window.days, findings.days.len()), (days, days as usize));
            let (sufficiency, whole) = (&findings.sufficiency, u64::from(days) * 288);
            assert_eq!(
                (sufficiency.expected, sufficiency.received),
                (whole, whole - 288 + u64::from(ends))
            );
            let active = 100.0 * sufficiency.received as f64 / whole as f64;
            assert!((sufficiency.active_percent.unwrap() - active).abs() < 1e-9);
            assert_eq!(sufficiency.enough, days >= 14);
            let by_date = review_book(&book, &dates((2025, 3, 2), (2025, 3, 2))).unwrap();
            if days == 1 {
                assert_eq!(
                    serde_json::to_string(&findings).unwrap(),
                    serde_json::to_string(&by_date).unwrap()
                );
            }
            let told = findings
                .notes
                .iter()
                .any(|note| note.contains("readings end at 2 March 2025"));
            assert_eq!(told, ends < 276, "{ends}: {:?}", findings.notes);
        }
    }
}

/// Summer time ended in Lisbon at 01:00 UTC on 26 October 2025 (directive 2000/84/EC).
#[test]
fn an_episode_in_the_repeated_hour_says_which_time() {
    let mut book = Book::in_memory().unwrap();
    book.set(Setting::BaseZone(Some(Zone::named("Europe/Lisbon").unwrap())), 0)
        .unwrap();
    let mut draft = Draft::default();
    // Two lows, at 00:30 and 01:30 of universal time: both at half past one by the clock.
    trace(&mut draft, "one", "2025-10-25T23:00:00Z", 288, |i| {
        if (18..24).contains(&i) || (30..36).contains(&i) {
            60
        } else {
            120
        }
    });
    import(&mut book, &draft);
    let findings = review_book(&book, &dates((2025, 10, 26), (2025, 10, 26))).unwrap();
    let passes: Vec<Option<Pass>> = findings
        .episodes
        .iter()
        .map(|episode| episode.start_pass)
        .collect();
    assert_eq!(passes, [Some(Pass::First), Some(Pass::Second)]);
}

//! Before and after: which days are on which side, what is counted, what is refused.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Provenance};
use interstice_findings::FindingsError;
use interstice_findings::compare::{
    Against, CompareAsk, CompareFindings, ComparedLine, compare_book, states_book,
};
use interstice_glucose::{
    DAY_S, Delivery, Dose, Draft, InsulinKind, Mark, MarkKind, Meal, Readings, Said, Second, SensorDetail,
    SensorNote, SensorNoteKind, TraceDraft, TraceKind,
};
use jiff::civil::Date;

/// 2025-03-01, a Saturday, 00:00 UTC.
const FIRST: Second = 1_740_787_200;
const DAYS: Second = 60;

fn at(day: Second, hour: Second) -> Second {
    FIRST + day * DAY_S + hour * 3600
}

fn mark(kind: MarkKind, from: Second, until: Option<Second>, text: &str) -> Mark {
    Mark {
        at: from,
        until,
        kind,
        value: None,
        text: (!text.is_empty()).then(|| text.to_owned()),
    }
}

/// Sixty days of readings every five minutes: 120 mg/dL, on tagged days (20 to 39) 200 for six hours. Doses and meals on all days but
/// the last ten, more of both on tagged ones; two sensors, thigh for the first thirty days.
fn book() -> Book {
    let mut draft = Draft::default();
    for (sensor, days) in [("A", 0..30), ("B", 30..DAYS)] {
        let mut readings = Readings::default();
        for step in days.start * 288..days.end * 288 {
            let (day, hour) = (step / 288, step % 288 / 12);
            let value = match (20..40).contains(&day) {
                true if (12..18).contains(&hour) => 200,
                _ => 120 + i64::from(step % 7 == 0),
            };
            let level = draft.levels.intern(Said::whole_mg_per_dl(value));
            readings.push(u32::try_from(FIRST + step * 300).unwrap(), level);
        }
        draft.traces.push(TraceDraft {
            sensor: sensor.to_owned(),
            kind: TraceKind::Automatic,
            readings,
        });
        draft.sensor_notes.push(SensorNote {
            at: at(days.start, 0),
            kind: SensorNoteKind::Started,
            sensor: Some(sensor.to_owned()),
            site: Some(
                if sensor == "A" {
                    "left thigh"
                } else {
                    "left upper arm"
                }
                .to_owned(),
            ),
            note: None,
            detail: SensorDetail::default(),
        });
    }
    for day in 0..50 {
        let tagged = (20..40).contains(&day);
        draft.doses.push(Dose {
            at: at(day, 8),
            units: if tagged { 9.0 } else { 6.0 } + 0.1 * (day % 3) as f64,
            insulin: InsulinKind::Rapid,
            delivery: Delivery::AtOnce,
            note: None,
        });
        draft.meals.push(Meal {
            at: at(day, 8),
            carbohydrate_g: Some(60.0),
            protein_g: None,
            fat_g: None,
            fibre_g: None,
            energy_kcal: None,
            text: Some("oats and milk".to_owned()),
        });
        if day % 2 == 0 {
            let run = mark(MarkKind::Activity, at(day, 17), Some(at(day, 18)), "slow run");
            draft.marks.push(run);
        }
    }
    let tag = mark(MarkKind::Tag, at(20, 0), Some(at(40, 0)), "On board");
    draft.marks.push(tag);
    let mut book = Book::in_memory().unwrap();
    book.import(&draft, &Provenance::named("made up", [0; 32]), &mut |_, _| {
        std::ops::ControlFlow::Continue(())
    })
    .unwrap();
    book
}

fn asked(book: &Book, against: Against) -> Result<CompareFindings, FindingsError> {
    compare_book(book, &CompareAsk::of(against))
}

fn days_of(state: &str) -> Against {
    Against::Kind {
        state: state.to_owned(),
        than: None,
        among: None,
    }
}

fn line<'a>(found: &'a CompareFindings, name: &str) -> &'a ComparedLine {
    let all = found.figures.iter().chain(&found.also);
    all.clone().find(|line| line.what.name() == name).unwrap()
}

#[test]
fn tagged_days_against_others() {
    let book = book();
    let found = asked(&book, days_of("on board ")).unwrap();
    assert_eq!((found.after.days, found.before.days), (20, 40));
    assert_eq!((found.after.sensors, found.before.sensors), (2, 2));
    let in_range = line(&found, "in_range_percent");
    assert!((in_range.difference.unwrap() + 25.0).abs() < 1e-9);
    // Every day of either kind is the same in it: it scatters nowhere.
    assert_eq!(in_range.difference_lo95, None);
    assert!((line(&found, "highs_per_week").difference.unwrap() - 7.0).abs() < 1e-9);
    let rapid = line(&found, "rapid_insulin_units_per_day");
    assert_eq!(
        (rapid.days_before, rapid.days_after),
        (30, 20),
        "ten days have no dose logged"
    );
    assert!((rapid.difference.unwrap() - 3.0).abs() < 0.05 && rapid.stands() && rapid.leaves_zero() == 1);
    let place = found
        .also
        .iter()
        .find(|line| line.of.as_deref() == Some("thigh"))
        .unwrap();
    // Ten of twenty tagged days on the thigh, twenty of forty others.
    assert!(place.difference.unwrap().abs() < 1e-9 && place.difference_lo95.is_none());
    let again = asked(&book, days_of("ON BOARD")).unwrap();
    assert_eq!(
        serde_json::to_string(&found).unwrap(),
        serde_json::to_string(&again).unwrap()
    );
}

#[test]
fn days_are_known_by_what_is_logged_and_by_words() {
    let book = book();
    let known: Vec<(String, usize)> = states_book(&book)
        .unwrap()
        .into_iter()
        .map(|state| (state.name, state.days))
        .collect();
    let want = [
        ("on board", 20),
        ("activity", 25),
        ("slow run", 25),
        ("weekend", 18),
    ];
    assert_eq!(known, want.map(|(name, days)| (name.to_owned(), days)));
    let days = |state: &str| asked(&book, days_of(state)).unwrap().after.days;
    assert_eq!([days("run"), days("activity"), days("weekend")], [25, 25, 18]);
    // Not within words: 'milk', not 'mil'.
    assert!(asked(&book, days_of("mil")).is_err());
    let both = Against::Kind {
        state: "on board".to_owned(),
        than: Some("run".to_owned()),
        among: None,
    };
    let both = asked(&book, both).unwrap();
    assert_eq!((both.after.days, both.before.days), (10, 15), "ten days are both");
    assert!(both.reason.is_some() && both.figures.is_empty() && both.notes[0].starts_with("10 days"));
}

#[test]
fn windows_that_cannot_be_compared_are_refused_with_a_reason() {
    let book = book();
    let date = |month: i8, day: i8| Date::constant(2025, month, day);
    let windows = |before, after| asked(&book, Against::Windows { before, after });
    let shared = windows((date(3, 1), date(3, 20)), (date(3, 18), date(4, 10))).unwrap_err();
    assert!(shared.to_string().contains("share 3 days"), "{shared}");
    let nothing = windows((date(3, 1), date(3, 20)), (date(7, 1), date(7, 20))).unwrap_err();
    assert!(
        nothing.to_string().contains("2025-03-01 to 2025-04-29"),
        "{nothing}"
    );
    let turned = windows((date(3, 20), date(3, 1)), (date(4, 1), date(4, 20))).unwrap_err();
    assert!(turned.to_string().contains("swap"), "{turned}");
    let short = windows((date(3, 1), date(3, 10)), (date(4, 1), date(4, 20))).unwrap();
    assert!(short.figures.is_empty() && short.also.is_empty());
    let reason = short.reason.unwrap();
    assert_eq!(
        reason,
        "the former days: the window spans 10 days; 14 are asked for"
    );
    let unknown = asked(&book, days_of("on leave")).unwrap_err();
    assert!(
        unknown.to_string().contains("interstice log tag 'on leave'"),
        "{unknown}"
    );
}

/// Two windows of the same days of their sensor: what stands between them is the tag's.
#[test]
fn windows_are_the_days_between_their_dates() {
    let book = book();
    let date = |month: i8, day: i8| Date::constant(2025, month, day);
    let against = Against::Windows {
        before: (date(3, 1), date(3, 20)),
        after: (date(3, 21), date(4, 9)),
    };
    let found = asked(&book, against).unwrap();
    assert_eq!((found.before.days, found.after.days), (20, 20));
    assert!((line(&found, "above_percent").difference.unwrap() - 25.0).abs() < 1e-9);
    let thigh = found
        .also
        .iter()
        .find(|line| line.of.as_deref() == Some("thigh"))
        .unwrap();
    assert!((thigh.difference.unwrap() + 50.0).abs() < 0.5 && thigh.is_named());
}

//! This moment and the second look, from a book, cold and kept warm.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Mode, Provenance};
use interstice_findings::{
    FindingsError, NowAsk, NowFindings, SecondLookAsk, Shelf, now_book, second_look_book,
};
use interstice_glucose::{
    BloodCheck, BloodSource, Delivery, Dose, Draft, InsulinKind, Readings, Said, Second, TraceDraft,
    TraceKind,
};

/// 1 March 2025, 00:00 UTC.
const START: Second = 1_740_787_200;

/// A day of waves with a meal at eight and at eighteen.
fn mg_dl(i: u32) -> i64 {
    let hour = f64::from(i % 288) / 12.0;
    let day = f64::from(i / 288);
    let meal = |at: f64| libm::exp(-((hour - at) / 1.5).powi(2));
    let wander = 12.0 * libm::sin(day * 1.7 + hour / 3.0);
    (115.0 + 85.0 * meal(8.0) + 70.0 * meal(18.0) + wander).round() as i64
}

fn add(book: &mut Book, readings: std::ops::Range<u32>, doses: Vec<Dose>) {
    let mut draft = Draft::default();
    let mut column = Readings::default();
    let digest = [u8::try_from(readings.start % 251).unwrap(); 32];
    for i in readings {
        let level = draft.levels.intern(Said::whole_mg_per_dl(mg_dl(i)));
        column.push(u32::try_from(START).unwrap() + 300 * i, level);
    }
    draft.traces.push(TraceDraft {
        sensor: "made up".to_owned(),
        kind: TraceKind::Automatic,
        readings: column,
    });
    draft.doses = doses;
    let provenance = Provenance::named("made up", digest);
    book.import(&draft, &provenance, &mut |_, _| {
        std::ops::ControlFlow::Continue(())
    })
    .unwrap();
}

fn dose(at: Second, units: f64) -> Dose {
    Dose {
        at,
        units,
        insulin: InsulinKind::Rapid,
        delivery: Delivery::AtOnce,
        note: None,
    }
}

fn json(findings: &impl serde::Serialize) -> String {
    serde_json::to_string(findings).unwrap()
}

#[test]
fn an_empty_book_has_no_moment() {
    let book = Book::in_memory().unwrap();
    assert!(matches!(
        now_book(&book, NowAsk { now: START }),
        Err(FindingsError::Empty)
    ));
}

/// What is kept warm may never differ from what is worked out anew.
#[test]
fn warm_and_cold_looks_are_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    let twenty_days = 20 * 288;
    add(&mut book, 0..twenty_days + 60, Vec::new());
    let shelf = Shelf::new(&path);
    let same = |book: &Book, at: Option<Second>| {
        let ask = SecondLookAsk { at };
        let (cold, warm) = (
            second_look_book(book, ask).unwrap(),
            shelf.second_look(ask).unwrap(),
        );
        assert!(cold.look.is_some(), "{:?}", cold.look_reason);
        assert_eq!(json(&cold), json(&warm));
    };
    same(&book, None);
    same(&book, Some(START + 300 * Second::from(twenty_days) + 3 * 3600));
    same(&book, Some(START + 300 * 288 * 14 + 9 * 3600));
    // The day goes on, a dose is written down, and a reading of long ago comes late.
    add(&mut book, twenty_days + 60..twenty_days + 120, Vec::new());
    same(&book, None);
    add(
        &mut book,
        twenty_days + 120..twenty_days + 121,
        vec![dose(START + 300 * 288 * 19, 3.0)],
    );
    same(&book, None);
    let daily = (1..20).flat_map(|day| [8, 18].map(|hour| dose(START + day * 86_400 + hour * 3600, 4.0)));
    add(&mut book, twenty_days + 121..twenty_days + 122, daily.collect());
    same(&book, None);
    let told = shelf.second_look(SecondLookAsk::default()).unwrap();
    assert!(told.look.is_some_and(|look| look.only_waiting));
}

fn now(book: &Book, now: Second) -> NowFindings {
    now_book(book, NowAsk { now }).unwrap()
}

#[test]
fn an_old_reading_says_nothing_of_now() {
    let mut book = Book::in_memory().unwrap();
    add(&mut book, 0..10 * 288, Vec::new());
    let last = START + 300 * (10 * 288 - 1);
    let fresh = now(&book, last + 120);
    let reading = fresh.reading.as_ref().unwrap();
    assert!(!reading.is_old && (reading.age_min - 2.0).abs() < 1e-9);
    let blood = fresh.blood.unwrap();
    assert!(blood.p5_mg_dl < blood.p25_mg_dl && blood.p25_mg_dl < blood.mg_dl);
    assert!(blood.mg_dl < blood.p75_mg_dl && blood.p75_mg_dl < blood.p95_mg_dl);
    assert!(fresh.look.is_some());
    let old = now(&book, last + 3600);
    assert!(old.reading.as_ref().unwrap().is_old);
    assert!(old.blood.is_none() && old.blood_reason.is_some() && old.look.is_none());
    // Asked of an earlier moment, nothing later is known.
    let then = now(&book, START + 300 * 2000 + 60);
    assert_eq!(then.reading.unwrap().at.0.at, START + 300 * 2000);
}

/// Glucose that falls has fallen further in blood: the sensor is late.
#[test]
fn blood_runs_ahead_of_a_sensor() {
    let mut book = Book::in_memory().unwrap();
    add(&mut book, 0..12 * 288 + 24 * 9 + 6, Vec::new());
    let at = |hour: f64| START + 12 * 86_400 + (hour * 3600.0) as Second;
    for (hour, way) in [(7.0, 1.0), (9.0, -1.0)] {
        let told = now(&book, at(hour));
        let (reading, blood) = (told.reading.unwrap(), told.blood.unwrap());
        assert!(way * reading.mg_dl_per_min.unwrap() > 0.3, "{reading:?}");
        assert!(way * (blood.mg_dl - reading.mg_dl) > 0.0, "{reading:?} {blood:?}");
    }
}

/// Blood checks a fifth below the sensor, thrice a day.
fn checks(days: std::ops::Range<Second>) -> Vec<BloodCheck> {
    let hours = days.flat_map(|day| [3, 12, 22].map(|hour| (day, hour)));
    hours
        .map(|(day, hour)| BloodCheck {
            at: START + day * 86_400 + hour * 3600 + 60,
            said: Said::whole_mg_per_dl(mg_dl((day * 288 + hour * 12) as u32) * 4 / 5),
            source: BloodSource::Meter,
            note: None,
        })
        .collect()
}

fn with_checks(readings: u32, days: std::ops::Range<Second>) -> Book {
    let mut book = Book::in_memory().unwrap();
    add(&mut book, 0..readings, Vec::new());
    let draft = Draft {
        blood_checks: checks(days),
        ..Draft::default()
    };
    let provenance = Provenance::named("checks", [252; 32]);
    book.import(&draft, &provenance, &mut |_, _| {
        std::ops::ControlFlow::Continue(())
    })
    .unwrap();
    book
}

/// A sensor that reads a quarter high is brought down to what the checks saw, its fan too.
#[test]
fn a_look_at_blood_stands_where_the_checks_do() {
    let book = with_checks(20 * 288, 0..20);
    let at = START + 19 * 86_400 + 15 * 3600;
    let told = second_look_book(&book, SecondLookAsk { at: Some(at) }).unwrap();
    let (look, blood) = (told.look.unwrap(), told.blood.unwrap());
    assert!(blood.checks > 40, "{blood:?}");
    assert!(
        (blood.mg_dl / look.mg_dl - 0.8).abs() < 0.06,
        "{blood:?} {look:?}"
    );
    for (sensor, blood) in look.fan.iter().zip(&blood.fan) {
        let scale = blood.p50_mg_dl / sensor.p50_mg_dl;
        assert!((scale - 0.8).abs() < 0.1, "{sensor:?} {blood:?}");
        assert!(blood.p5_mg_dl < blood.p25_mg_dl && blood.p75_mg_dl < blood.p95_mg_dl);
    }
}

/// Nothing that came after the moment is known to it: neither readings nor checks.
#[test]
fn a_look_at_blood_knows_nothing_of_what_came_after() {
    let moment = 18 * 288 + 15 * 12;
    let at = START + 300 * Second::from(moment);
    let look = |book: &Book| {
        let told = second_look_book(book, SecondLookAsk { at: Some(at) }).unwrap();
        json(&told.blood.unwrap())
    };
    let then = with_checks(moment + 1, 0..18);
    assert_eq!(look(&then), look(&with_checks(20 * 288, 0..18)));
    let later = with_checks(20 * 288, 19..20);
    let none = with_checks(moment + 1, 0..0);
    assert_eq!(look(&none), look(&later));
}

#[test]
fn what_acts_is_what_was_written_down() {
    let mut book = Book::in_memory().unwrap();
    let last = START + 300 * (8 * 288 - 1);
    add(
        &mut book,
        0..8 * 288,
        vec![dose(last - 12 * 3600, 5.0), dose(last - 3600, 4.0)],
    );
    let acting = now(&book, last).acting;
    assert!(acting.is_written);
    assert_eq!(acting.doses.len(), 1, "the other one is spent");
    assert!(
        0.0 < acting.doses_units_lo && acting.doses_units_lo < acting.doses_units_hi,
        "{acting:?}"
    );
    assert!(acting.doses_units_hi < 4.1, "{acting:?}");
    let mut bare = Book::in_memory().unwrap();
    add(&mut bare, 0..8 * 288, Vec::new());
    assert!(!now(&bare, last).acting.is_written);
}

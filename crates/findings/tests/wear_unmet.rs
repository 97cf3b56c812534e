//! What the plan cannot meet is named, and a loss is planned anew at once; of books made up here.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::Book;
use interstice_findings::wear::WearFindings;
use interstice_findings::{WearAsk, wear_book};
use interstice_glucose::{
    Arm, Arrival, Away, Compares, Draft, Ending, Holds, Lot, Pin, Region, Second, SensorDetail, SensorKind,
    SensorNote, SensorNoteKind, Trial, TrialOutcome, WearChoice, WearFrom,
};
use jiff::civil::{Date, date};

const DAY: Second = 86_400;
/// 2025-03-03T09:00:00Z.
const START: Second = 1_740_992_400;

fn note(at: Second, kind: SensorNoteKind, ending: Option<Ending>) -> SensorNote {
    SensorNote {
        at,
        kind,
        sensor: Some("W".to_owned()),
        site: Some("left upper arm".to_owned()),
        note: None,
        detail: SensorDetail {
            ending,
            ..SensorDetail::default()
        },
    }
}

fn log(book: &mut Book, notes: Vec<SensorNote>) {
    let draft = Draft {
        sensor_notes: notes,
        ..Draft::default()
    };
    book.log(&draft, "made up", START).unwrap();
}

/// One fortnight's sensor, on since the start.
fn book() -> Book {
    let mut book = Book::in_memory().unwrap();
    log(&mut book, vec![note(START, SensorNoteKind::Started, None)]);
    let kind = SensorKind {
        name: "mine".to_owned(),
        wear_min: 14 * 1440,
        extra_min: 0,
        warm_up_min: 60,
        longest_bedding_min: 24 * 60,
        wear_from: WearFrom::Started,
        side_by_side: true,
        sites: vec![Region::UpperArm],
    };
    book.set_sensor_kind(&kind, START).unwrap();
    book
}

fn lot(count: u32, use_by: Date) -> Lot {
    Lot {
        holds: Holds::Sensors,
        name: None,
        number: Some("A".to_owned()),
        count,
        price: None,
        source: None,
        arrival: Arrival::Arrived(date(2025, 3, 4)),
        use_by: Some(use_by),
        note: None,
        corrections: Vec::new(),
    }
}

fn told(book: &Book, now: Second) -> WearFindings {
    wear_book(book, WearAsk::at(now)).unwrap()
}

fn says(found: &WearFindings, what: &str) -> bool {
    found.unmet.iter().any(|unmet| unmet.contains(what))
}

#[test]
fn a_sensor_that_falls_off_is_followed_at_once() {
    let mut book = book();
    let fell = START + 5 * DAY + 17;
    let before = told(&book, fell);
    assert!(
        before.plan[0].put_on.0.at > fell + 7 * DAY && before.unmet.is_empty(),
        "{:?}",
        before.unmet
    );
    log(
        &mut book,
        vec![note(fell, SensorNoteKind::Ended, Some(Ending::CameOff))],
    );
    let found = told(&book, fell);
    let next = &found.plan[0];
    assert!((1..=1800).contains(&(next.put_on.0.at - fell)), "{next:?}");
    assert_eq!(
        (next.put_on.0.at, next.reads_from.0.at),
        (next.start.0.at, next.start.0.at + 3600)
    );
    assert_eq!(
        (found.uncovered_min, next.number),
        (Some(60), before.plan[0].number)
    );
    assert!(
        says(&found, "no sensor reads now") && says(&found, "beds in for less"),
        "{:?}",
        found.unmet
    );
}

#[test]
fn an_empty_drawer_and_a_settled_put_on_that_leave_hours_uncovered_are_named() {
    let mut book = book();
    book.add_lot(&lot(1, date(2026, 1, 1)), START + DAY).unwrap();
    book.set_delivery_days(40, START + DAY).unwrap();
    let now = START + 2 * DAY;
    let found = told(&book, now);
    // Twelve days, then fourteen: the drawer is empty a fortnight before a delivery.
    assert!(
        found.uncovered_min.unwrap() > 12 * 1440 && says(&found, "the drawer is empty"),
        "{:?}",
        found.unmet
    );
    assert!(!says(&found, "you settled"), "{:?}", found.unmet);
    let late = Pin {
        at: now + 30 * DAY,
        site: None,
    };
    book.set_wear_choice(&WearChoice::Pin(late), now).unwrap();
    let found = told(&book, now);
    assert!(
        found.plan[0].pinned && says(&found, "for the put-ons you settled"),
        "{:#?}",
        found.unmet
    );
}

#[test]
fn what_expires_before_its_turn_is_named() {
    let mut book = book();
    book.add_lot(&lot(4, date(2025, 3, 25)), START + DAY).unwrap();
    let found = told(&book, START + 2 * DAY);
    // One is put on a day before the sensor on now ends; the others must be on within nine days more.
    assert!(
        says(&found, "in the drawer expire before their turn"),
        "{:?}",
        found.unmet
    );
    assert!(
        found
            .plan
            .iter()
            .filter(|one| one.from == Some("in the drawer"))
            .count()
            < 4
    );
}

/// One put on for a trial beds in for the hours that were drawn for it, not for the usual ones.
#[test]
fn one_that_beds_in_for_a_trial_is_started_when_its_turn_says() {
    let mut hours_seen = Vec::new();
    for seed in 1..=6 {
        let mut book = book();
        let begun = START + 9 * DAY;
        let arms = ["0", "18"].map(|hours| Arm::from_words(Compares::BeddingIn, hours).unwrap());
        let trial = Trial {
            name: "bedding".to_owned(),
            arms: arms.into(),
            outcome: TrialOutcome::FirstDayError,
            sensors: 8,
            block: 4,
            checks: 6,
            fewest_checks: 3,
            limit_min: 0,
            seed,
            begun,
            look_after: None,
            most_losses: None,
        };
        book.begin_trial(&trial, begun).unwrap();
        let mut put_on = note(begun + DAY, SensorNoteKind::PutOn, None);
        put_on.sensor = Some("X".to_owned());
        log(&mut book, vec![put_on]);
        let found = wear_book(&book, WearAsk::at(begun + DAY)).unwrap();
        let drawn: i64 = found.trials[0].given[0]
            .arm
            .trim_end_matches(" h")
            .parse()
            .unwrap();
        let first = &found.plan[0];
        assert_eq!(first.from, Some("on already"), "{first:?}");
        assert_eq!((first.start.0.at - first.put_on.0.at) / 3600, drawn, "{first:?}");
        assert!(
            first.why.iter().any(|said| said.starts_with("trial 'bedding'")),
            "{first:?}"
        );
        hours_seen.push(drawn);
    }
    assert!(
        hours_seen.contains(&0) && hours_seen.contains(&18),
        "{hours_seen:?}"
    );
}

/// A put-on settled for the last day away: the sensor that is on lasts until then, and no other one is spent to keep the day free.
#[test]
fn a_settled_put_on_beside_days_away_wastes_no_sensor() {
    let mut book = book();
    let kind = SensorKind {
        extra_min: 12 * 60,
        longest_bedding_min: 48 * 60,
        ..book.sensor_kinds().unwrap().all[0].clone()
    };
    book.set_sensor_kind(&kind, START).unwrap();
    // The one that is on ends on 17 March, 09:00, and reads until 21:00.
    let (from_day, to_day) = Away::days_from_words("2025-03-14..2025-03-17").unwrap();
    let away = Away {
        from_day,
        to_day,
        note: None,
    };
    book.set_wear_choice(&WearChoice::Away(away), START).unwrap();
    let pin = Pin {
        at: START + 14 * DAY + 9 * 3600,
        site: None,
    };
    book.set_wear_choice(&WearChoice::Pin(pin), START).unwrap();
    let found = wear_book(&book, WearAsk::at(START + 5 * DAY)).unwrap();
    assert!(
        found.plan[0].pinned && found.uncovered_min == Some(0),
        "{:#?}",
        found.plan
    );
}

//! Whether bedding in helps, and which blood check would teach most, of books made up here.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod trials_people;

use interstice_findings::wear::WearFindings;
use interstice_findings::{WearAsk, wear_book};
use interstice_glucose::{Arm, Compares, Trial, TrialOutcome};

use trials_people::{Dice, Person, START, Sensor};

/// Sensors in turn bedded in for so many hours and not, off by so much; every check scatters.
fn in_turn(sensors: usize, hours: i64, off: (f64, f64), seed: u64) -> Person {
    let mut dice = Dice::new(seed);
    let sensor = |place: usize| {
        let bedded = place.is_multiple_of(2);
        let (about, own) = (if bedded { off.0 } else { off.1 }, dice.normal());
        Sensor {
            bedding_h: if bedded { hours } else { 0 },
            off_each: (0..6).map(|_| about + own + 2.0 * dice.normal()).collect(),
            ..Sensor::good()
        }
    };
    Person::new((0..sensors).map(sensor).collect())
}

fn told(person: &Person) -> WearFindings {
    wear_book(&person.book(), WearAsk::at(person.end())).unwrap()
}

#[test]
fn bedding_in_that_helps_is_told_with_its_margin() {
    let found = told(&in_turn(16, 24, (5.0, 13.0), 4)).bedding;
    assert_eq!((found.with.sensors, found.without.sensors), (8, 8));
    assert_eq!((found.with.pairs, found.without.pairs), (48, 48));
    let (points, lo, hi) = (
        found.points.unwrap(),
        found.points_lo95.unwrap(),
        found.points_hi95.unwrap(),
    );
    assert!(lo < -8.0 && -8.0 < hi && (points + 8.0).abs() < 1.5, "{found:?}");
    assert_eq!((found.standing, found.more_sensors), ("there", Some(0)));
    assert!(
        found.says.contains("closer to blood") && found.says.ends_with("this is there"),
        "{}",
        found.says
    );
}

/// Which of the two more sensors had turns no sign.
#[test]
fn the_commoner_way_does_not_turn_the_answer() {
    let mut person = in_turn(16, 24, (5.0, 13.0), 4);
    let extra = in_turn(6, 24, (5.0, 5.0), 9).sensors;
    person.sensors.extend(extra.into_iter().step_by(2));
    let found = told(&person).bedding;
    assert_eq!((found.with.sensors, found.without.sensors), (11, 8));
    assert!(
        found.points.unwrap() < -6.0 && found.points_hi95.unwrap() < 0.0,
        "{found:?}"
    );
}

#[test]
fn where_it_cannot_be_told_it_says_how_many_more() {
    let open = told(&in_turn(4, 24, (7.0, 9.0), 2)).bedding;
    assert!(open.points.is_some() && open.standing == "open", "{open:?}");
    assert!(
        open.says.contains("more sensors would settle it") || open.more_sensors.is_none(),
        "{}",
        open.says
    );
    let none = told(&in_turn(4, 0, (7.0, 9.0), 2)).bedding;
    assert!(none.points.is_none() && none.with.sensors == 0);
    assert!(none.says.contains("cannot be told yet"), "{}", none.says);
    let between = told(&in_turn(6, 6, (7.0, 9.0), 2)).bedding;
    assert_eq!((between.sensors_between, between.with.sensors), (3, 0));
}

/// Five sensors with checks; the last is on, on its first day, with none yet.
fn without_checks() -> Person {
    let mut dice = Dice::new(6);
    let sensors = (0..6).map(|place| Sensor {
        site: if place == 5 {
            "left thigh"
        } else {
            "left upper arm"
        }
        .to_owned(),
        off_percent: 6.0 * dice.normal(),
        reads: true,
        days: if place == 5 { 1 } else { 4 },
        ending: None,
        checks: if place == 5 { 0 } else { 8 },
        ..Sensor::good()
    });
    Person::new(sensors.collect())
}

#[test]
fn a_new_sensor_without_a_check_would_teach_most() {
    let person = without_checks();
    let now = person.put_on(5) + 86_400 - 600;
    let found = wear_book(&person.book(), WearAsk::at(now))
        .unwrap()
        .worth_checking;
    let first = &found.list[0];
    assert_eq!(
        (first.about, first.sensor_id.as_deref()),
        ("sensor", Some("T005")),
        "{found:?}"
    );
    let (known, after) = (first.known_percent.unwrap(), first.after_percent.unwrap());
    assert!(after < 0.9 * known && known < 60.0, "{found:?}");
    assert!(
        first.says.contains("no blood check of it yet, its first day"),
        "{}",
        first.says
    );
    assert!(found.list.len() <= 3 && found.reason.is_none());
    // With eight checks on it one more teaches less.
    let mut checked = person.clone();
    checked.sensors[5].checks = 8;
    let after_eight = wear_book(&checked.book(), WearAsk::at(now))
        .unwrap()
        .worth_checking;
    let known_after_eight = after_eight.list.iter().find_map(|line| line.known_percent);
    assert!(
        known_after_eight.is_none_or(|percent| percent < 0.8 * known),
        "{after_eight:?}"
    );
}

#[test]
fn a_trial_that_waits_for_checks_comes_first() {
    let person = without_checks();
    let mut book = person.book();
    let trial = Trial {
        name: "arm or thigh".to_owned(),
        arms: ["upper arm", "thigh"]
            .iter()
            .map(|text| Arm::from_words(Compares::Place, text).unwrap())
            .collect(),
        outcome: TrialOutcome::FirstDayError,
        sensors: 8,
        block: 8,
        checks: 6,
        fewest_checks: 3,
        limit_min: 0,
        seed: 1,
        begun: person.put_on(5) - 60,
        look_after: None,
        most_losses: None,
    };
    book.begin_trial(&trial, START).unwrap();
    let now = person.put_on(5) + 86_400 - 7200;
    let found = wear_book(&book, WearAsk::at(now)).unwrap().worth_checking;
    let first = &found.list[0];
    assert_eq!((first.about, first.missing), ("trial", Some(6)), "{found:?}");
    assert_eq!(first.until.unwrap().0.at, person.put_on(5) + 86_400);
}

#[test]
fn with_nothing_on_there_is_nothing_to_check() {
    let person = in_turn(2, 0, (5.0, 5.0), 1);
    let found = told(&person).worth_checking;
    assert!(found.list.is_empty() && found.reason.unwrap().contains("no sensor that reads"));
}

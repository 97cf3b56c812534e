//! Personal trials over whole books made up here: turns, blinding, ends, answers.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod trials_people;

use interstice_book::Book;
use interstice_findings::wear::trials::{SizeAsk, TrialState, size_book, trouble};
use interstice_findings::{TrialLine, WearAsk, wear_book};
use interstice_glucose::{Arm, Compares, Ending, Trial, TrialOutcome};
use interstice_methods::trial::Order;

use trials_people::{DAY, Person, START, Sensor, fortnight};

fn arms(compares: Compares, texts: &[&str]) -> Vec<Arm> {
    texts
        .iter()
        .map(|text| Arm::from_words(compares, text).unwrap())
        .collect()
}

fn arm_or_thigh() -> Trial {
    Trial {
        name: "arm or thigh".to_owned(),
        arms: arms(Compares::Place, &["upper arm", "thigh"]),
        outcome: TrialOutcome::FirstDayError,
        sensors: 8,
        block: 8,
        checks: 6,
        fewest_checks: 3,
        limit_min: 0,
        seed: 11,
        begun: START,
        look_after: None,
        most_losses: None,
    }
}

/// What was drawn, as sides on the body.
fn drawn(trial: &Trial) -> Vec<usize> {
    let order = Order::draw(trial.sensors, trial.arms.len() as u32, trial.block, trial.seed).unwrap();
    order.sensors.iter().map(|&(_, arm)| arm as usize).collect()
}

/// A person who wears what was drawn, the first so many sensors; each off by its arm's error.
fn worn(trial: &Trial, count: usize, off_percent: &[f64]) -> Person {
    let sensors = drawn(trial)
        .into_iter()
        .take(count)
        .enumerate()
        .map(|(place, arm)| Sensor {
            site: format!("left {}", trial.arms[arm]),
            // No two alike, so that no tie decides.
            off_percent: off_percent[arm] + 0.1 * place as f64,
            ..Sensor::good()
        });
    Person::new(sensors.collect())
}

fn told(book: &Book, now: i64) -> TrialLine {
    let mut trials = wear_book(book, WearAsk::at(now)).unwrap().trials;
    assert_eq!(trials.len(), 1);
    trials.remove(0)
}

fn book(trial: &Trial, person: &Person) -> Book {
    let mut book = person.book();
    book.begin_trial(trial, trial.begun).unwrap();
    book
}

#[test]
fn until_the_end_it_says_whose_turn_it_is_and_nothing_of_the_ways() {
    let trial = arm_or_thigh();
    let person = worn(&trial, 3, &[5.0, 15.0]);
    let line = told(&book(&trial, &person), person.end());
    assert_eq!(line.state, TrialState::Running);
    assert_eq!(
        (line.given.len(), line.over, line.measured, line.deviations),
        (3, 3, 3, 0)
    );
    let next = trial.arms[drawn(&trial)[3]].to_string();
    assert_eq!(line.next.as_deref(), Some(next.as_str()));
    assert_eq!(line.says, format!("3 of 8 sensors put on; next: {next}"));
    assert!(line.answer.is_none() && line.answer_reason.is_some());
    // Nothing of what was measured is in the document: two people who differ in it alone look alike.
    let other = worn(&trial, 3, &[15.0, 5.0]);
    let same = told(&book(&trial, &other), other.end());
    assert_eq!(
        serde_json::to_string(&line).unwrap(),
        serde_json::to_string(&same).unwrap()
    );
}

#[test]
fn at_the_end_a_clear_difference_is_told_exactly() {
    let trial = arm_or_thigh();
    let person = worn(&trial, 8, &[5.0, 15.0]);
    let line = told(&book(&trial, &person), person.end());
    assert_eq!(line.state, TrialState::Ended, "{line:?}");
    let answer = line.answer.unwrap();
    // One block of eight: 70 orders; the drawn one and its mirror are the clearest.
    assert_eq!(
        (answer.orders, answer.exact, answer.differs),
        (Some(70), true, true)
    );
    assert!((answer.p - 2.0 / 70.0).abs() < 1e-12, "{answer:?}");
    let beside = &answer.beside_first[0];
    assert!(
        beside.arm == "thigh" && (beside.more - 10.0).abs() < 1.0,
        "{answer:?}"
    );
    assert!(
        line.says
            .contains("further from blood on the first day than upper arm"),
        "{}",
        line.says
    );
    let means: Vec<f64> = answer.arms.iter().map(|arm| arm.mean.unwrap()).collect();
    assert!(
        (means[0] - 5.0).abs() < 1.0 && (means[1] - 15.0).abs() < 1.0,
        "{means:?}"
    );
}

/// One drawn for the arm and worn on the thigh counts as drawn, and is named.
#[test]
fn what_was_worn_otherwise_is_named_and_counts_as_drawn() {
    let trial = arm_or_thigh();
    let mut person = worn(&trial, 8, &[5.0, 15.0]);
    let turned = drawn(&trial).iter().position(|&arm| arm == 0).unwrap();
    person.sensors[turned].site = "right thigh".to_owned();
    let line = told(&book(&trial, &person), person.end());
    assert_eq!(line.deviations, 1);
    let given = &line.given[turned];
    assert_eq!(
        (given.as_drawn, given.worn_as.as_deref()),
        (Some(false), Some("right thigh"))
    );
    assert!((line.answer.as_ref().unwrap().p - 2.0 / 70.0).abs() < 1e-12);
    assert!(
        line.says
            .contains("1 sensor was worn another way than was drawn and counts as drawn"),
        "{}",
        line.says
    );
}

#[test]
fn too_few_checks_make_no_outcome_and_too_few_outcomes_no_answer() {
    let trial = arm_or_thigh();
    let mut person = worn(&trial, 8, &[5.0, 15.0]);
    person.sensors[2].checks = 2;
    let line = told(&book(&trial, &person), person.end());
    assert_eq!((line.over, line.measured), (8, 7));
    let why = line.given[2].no_outcome.as_ref().unwrap();
    assert!(why.contains("2 blood checks, and 3 are the fewest"), "{why}");
    let answer = line.answer.unwrap();
    assert_eq!(answer.arms.iter().map(|arm| arm.sensors).sum::<u32>(), 7);
    // Without any check there is a reason in place of a number.
    for sensor in &mut person.sensors {
        sensor.checks = 0;
    }
    let line = told(&book(&trial, &person), person.end());
    assert!(line.answer.is_none());
    assert!(
        line.answer_reason.unwrap().contains("8 sensors have no outcome"),
        "{}",
        line.says
    );
}

#[test]
fn a_look_ends_it_only_where_it_was_settled_and_clear() {
    let trial = Trial {
        sensors: 20,
        block: 10,
        look_after: Some(10),
        ..arm_or_thigh()
    };
    let clear = worn(&trial, 10, &[5.0, 15.0]);
    let line = told(&book(&trial, &clear), clear.end());
    assert_eq!(line.state, TrialState::EndedAtLook, "{}", line.says);
    let answer = line.answer.unwrap();
    assert!((answer.most_p - 0.01).abs() < 1e-12 && answer.differs && line.next.is_none());
    let alike = worn(&trial, 10, &[9.0, 9.0]);
    let line = told(&book(&trial, &alike), alike.end());
    assert!(
        line.state == TrialState::Running && line.answer.is_none(),
        "{}",
        line.says
    );
    assert!(
        line.says
            .contains("The look that was settled was taken, and it went on"),
        "{}",
        line.says
    );
    // Not settled: as clear as it may be, it goes on.
    let without = Trial {
        look_after: None,
        ..trial
    };
    assert_eq!(
        told(&book(&without, &clear), clear.end()).state,
        TrialState::Running
    );
}

#[test]
fn losses_of_one_way_end_it_without_an_answer() {
    let trial = Trial {
        most_losses: Some(2),
        ..arm_or_thigh()
    };
    let mut person = worn(&trial, 5, &[5.0, 15.0]);
    let thighs: Vec<usize> = (0..5)
        .filter(|&place| drawn(&trial)[place] == 1)
        .take(2)
        .collect();
    for &place in &thighs {
        person.sensors[place].ending = Some(Ending::CameOff);
        person.sensors[place].days = 3;
    }
    let line = told(&book(&trial, &person), person.end());
    assert_eq!(line.state, TrialState::EndedByLosses, "{}", line.says);
    assert!(
        line.says
            .contains("2 sensors of one way (thigh) came off or failed"),
        "{}",
        line.says
    );
    assert!(line.answer.is_none() && line.given.len() == thighs[1] + 1);
}

#[test]
fn hours_on_are_counted_to_the_limit_and_what_was_taken_off_is_not_known() {
    let trial = Trial {
        outcome: TrialOutcome::HoursOn,
        checks: 0,
        fewest_checks: 0,
        limit_min: 14 * 1440,
        ..arm_or_thigh()
    };
    let mut person = worn(&trial, 8, &[5.0, 5.0]);
    let order = drawn(&trial);
    for (place, sensor) in person
        .sensors
        .iter_mut()
        .enumerate()
        .filter(|(place, _)| order[*place] == 1)
    {
        sensor.ending = Some(Ending::CameOff);
        sensor.days = 4 + (place as i64 % 3);
    }
    let arm = order.iter().position(|&arm| arm == 0).unwrap();
    person.sensors[arm].ending = Some(Ending::TakenOff);
    person.sensors[arm].days = 6;
    let line = told(&book(&trial, &person), person.end());
    assert_eq!((line.state, line.measured), (TrialState::Ended, 7), "{line:?}");
    assert!(
        line.given[arm]
            .no_outcome
            .as_ref()
            .unwrap()
            .contains("on purpose")
    );
    let answer = line.answer.unwrap();
    assert!((answer.arms[0].mean.unwrap() - 336.0).abs() < 1e-9, "{answer:?}");
    assert!(answer.beside_first[0].more < -190.0, "{answer:?}");
    assert!(
        answer.says.contains("shorter on than upper arm"),
        "{}",
        answer.says
    );
}

#[test]
fn preparations_and_bedding_in_are_told_apart_as_worn() {
    let glue = Trial {
        arms: arms(Compares::Preparation, &["nothing", "wipe + glue"]),
        ..arm_or_thigh()
    };
    let order = drawn(&glue);
    let mut person = worn(&glue, 4, &[5.0, 5.0]);
    for (place, sensor) in person.sensors.iter_mut().enumerate() {
        "left thigh".clone_into(&mut sensor.site);
        if order[place] == 1 {
            sensor.preparation = vec!["Glue".to_owned(), "wipe".to_owned()];
        }
    }
    let line = told(&book(&glue, &person), person.end());
    assert!(
        line.given.iter().all(|given| given.as_drawn == Some(true)),
        "{line:?}"
    );
    let bedding = Trial {
        arms: arms(Compares::BeddingIn, &["0", "24"]),
        ..arm_or_thigh()
    };
    let order = drawn(&bedding);
    let mut person = worn(&bedding, 4, &[5.0, 5.0]);
    for (place, sensor) in person.sensors.iter_mut().enumerate() {
        "left thigh".clone_into(&mut sensor.site);
        sensor.bedding_h = if order[place] == 1 { 21 } else { 0 };
    }
    person.sensors[3].bedding_h = 24 * i64::from(order[3] == 0);
    let line = told(&book(&bedding, &person), person.end());
    let as_drawn: Vec<Option<bool>> = line.given.iter().map(|given| given.as_drawn).collect();
    assert_eq!(as_drawn, [Some(true), Some(true), Some(true), Some(false)]);
}

#[test]
fn one_given_up_says_so_and_frees_the_way_for_another() {
    let trial = arm_or_thigh();
    let person = worn(&trial, 3, &[5.0, 15.0]);
    let mut book = book(&trial, &person);
    let other = Trial {
        name: "again".to_owned(),
        begun: person.end(),
        ..trial.clone()
    };
    assert!(trouble(&book, &other).unwrap().unwrap().contains("still running"));
    book.abandon_trial(&trial.name, "a rash on the thigh", person.end())
        .unwrap();
    let line = told(&book, person.end());
    assert_eq!(line.state, TrialState::Abandoned);
    assert_eq!(line.says, "given up after 3 of 8 sensors: a rash on the thigh");
    assert_eq!(trouble(&book, &other).unwrap(), None);
}

#[test]
fn what_could_never_tell_is_refused() {
    let mut book = Book::in_memory().unwrap();
    let said = |book: &Book, trial: &Trial| trouble(book, trial).unwrap().unwrap_or_default();
    let small = Trial {
        block: 4,
        ..arm_or_thigh()
    };
    assert!(said(&book, &small).contains("not even the clearest"));
    let early = Trial {
        sensors: 12,
        block: 4,
        look_after: Some(4),
        ..arm_or_thigh()
    };
    assert!(said(&book, &early).contains("could never end"));
    let long = Trial {
        arms: arms(Compares::BeddingIn, &["0", "72"]),
        ..arm_or_thigh()
    };
    assert!(said(&book, &long).contains("describe them"));
    book.set_sensor_kind(&fortnight(), START).unwrap();
    assert!(said(&book, &long).contains("no more than 48 h"));
    assert_eq!(
        said(
            &book,
            &Trial {
                sensors: 12,
                block: 4,
                ..arm_or_thigh()
            }
        ),
        ""
    );
}

/// The plan gives the coming sensors their turn, says so, and goes its own ways once all turns are given.
#[test]
fn the_plan_follows_what_was_drawn() {
    let trial = arm_or_thigh();
    let person = worn(&trial, 5, &[5.0, 15.0]);
    let mut kept = book(&trial, &person);
    kept.set_sensor_kind(&fortnight(), START).unwrap();
    let found = wear_book(&kept, WearAsk::at(person.put_on(5))).unwrap();
    for (place, planned) in found.plan.iter().take(3).enumerate() {
        let drawn = trial.arms[drawn(&trial)[5 + place]].to_string();
        assert_eq!(planned.site, Some(drawn.as_str()), "{planned:?}");
        let why = format!("trial 'arm or thigh': its turn is the {drawn}");
        assert!(
            planned.why.iter().any(|said| said.starts_with(&why)),
            "{planned:?}"
        );
    }
    let own_choice = |said: &String| said.contains("a place its instructions do not name");
    for planned in &found.plan {
        let on_trial = planned.why.iter().any(|said| said.starts_with("trial"));
        let says = planned.why.iter().any(own_choice);
        assert_eq!(says, on_trial && planned.site == Some("thigh"), "{planned:?}");
    }
    // Bedding in: the hours that were drawn, in place of the usual.
    let bedding = Trial {
        arms: arms(Compares::BeddingIn, &["0", "36"]),
        ..trial
    };
    let mut kept = person.book();
    kept.begin_trial(&bedding, START).unwrap();
    kept.set_sensor_kind(&fortnight(), START).unwrap();
    let found = wear_book(&kept, WearAsk::at(person.put_on(5))).unwrap();
    for (place, planned) in found.plan.iter().take(3).enumerate() {
        let hours = [0, 36][drawn(&bedding)[5 + place]];
        let bedded = (planned.start.0.at - planned.put_on.0.at) / 3600;
        assert!((bedded - hours).abs() <= 4, "{hours} h were drawn: {planned:?}");
    }
}

/// The spread comes from the person's own checks, and is refused where they are too few.
#[test]
fn how_many_it_takes_comes_from_the_persons_own_sensors() {
    let ask = |now| SizeAsk {
        arms: 2,
        block: None,
        outcome: TrialOutcome::FirstDayError,
        difference: 6.0,
        now,
        seed: 3,
    };
    let few = Person::drawn(3, 6, (4.0, 8.0), 1);
    let size = size_book(&few.book(), ask(few.end())).unwrap();
    assert!(size.table.is_empty() && size.reason.unwrap().contains("4 are needed"));
    let many = Person::drawn(40, 6, (4.0, 8.0), 1);
    let size = size_book(&many.book(), ask(many.end())).unwrap();
    assert_eq!((size.from_sensors, size.from_checks), (40, 240));
    // Sizes of normal differences about a sensor's own error: less spread than the signed differences themselves.
    let (sensors, checks) = (size.between_sensors.unwrap(), size.between_checks.unwrap());
    assert!(
        (0.5..4.0).contains(&sensors) && (4.0..8.0).contains(&checks),
        "{size:?}"
    );
    let power = |sensors: u32, checks: u32| {
        let row = size
            .table
            .iter()
            .find(|row| row.sensors == sensors && row.checks == Some(checks));
        row.unwrap().power_percent
    };
    assert!(
        power(16, 10) >= power(8, 10) && power(16, 10) > power(16, 2),
        "{:?}",
        size.table
    );
    assert!(
        size.says.contains("40 sensors of yours differ by"),
        "{}",
        size.says
    );
    assert!(
        size_book(
            &many.book(),
            SizeAsk {
                difference: 0.0,
                ..ask(0)
            }
        )
        .is_err()
    );
}

/// Sensors put on before it began, and a day of wear not brought in yet, do not count.
#[test]
fn what_was_before_or_is_not_there_yet_does_not_count() {
    let trial = arm_or_thigh();
    let person = worn(&trial, 2, &[5.0, 15.0]);
    let later = Trial {
        begun: START + DAY,
        ..trial.clone()
    };
    let line = told(&book(&later, &person), person.end());
    assert_eq!(line.given.len(), 1);
    // Six hours after the second was put on: its first day is not over.
    let second = person.put_on(1);
    let line = told(&book(&trial, &person), second + 6 * 3600);
    assert_eq!((line.given.len(), line.over), (2, 1));
}

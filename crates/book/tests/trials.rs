//! Trials in the book: written once, given up with a reason, taken back.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Setting};
use interstice_glucose::{Arm, Compares, Trial, TrialOutcome};

fn trial(name: &str, compares: Compares, arms: &[&str]) -> Trial {
    Trial {
        name: name.to_owned(),
        arms: arms
            .iter()
            .map(|text| Arm::from_words(compares, text).unwrap())
            .collect(),
        outcome: TrialOutcome::FirstDayError,
        sensors: 8,
        block: 4,
        checks: 6,
        fewest_checks: 3,
        limit_min: 0,
        seed: 7,
        begun: 1_740_992_400,
        look_after: None,
        most_losses: Some(3),
    }
}

#[test]
fn what_is_written_comes_back_and_stays() {
    let mut book = Book::in_memory().unwrap();
    let all = [
        trial("a", Compares::Place, &["upper arm", "left thigh"]),
        trial("b", Compares::Preparation, &["nothing", "glue + wipe"]),
        trial("c", Compares::Cover, &["patch", "tape"]),
        trial("d", Compares::BeddingIn, &["0", "24"]),
    ];
    for one in &all {
        assert!(book.begin_trial(one, one.begun).unwrap().is_some());
    }
    let kept: Vec<Trial> = book
        .trials()
        .unwrap()
        .into_iter()
        .map(|kept| kept.trial)
        .collect();
    assert_eq!(kept, all);
    // Begun, it is not changed: not even to what would be another order.
    let again = Trial {
        seed: 8,
        ..all[0].clone()
    };
    let refused = book.begin_trial(&again, 1_740_992_500).unwrap_err();
    assert!(
        refused.is_refusal() && refused.to_string().contains("another name"),
        "{refused}"
    );
    assert_eq!(book.trials().unwrap()[0].trial.seed, 7);
}

#[test]
fn one_given_up_says_why_and_its_name_is_used_up() {
    let mut book = Book::in_memory().unwrap();
    let one = trial("a", Compares::Place, &["upper arm", "thigh"]);
    book.begin_trial(&one, one.begun).unwrap();
    assert!(
        book.abandon_trial("a", " ", one.begun + 1)
            .unwrap_err()
            .is_refusal()
    );
    assert!(
        book.abandon_trial("b", "why", one.begun + 1)
            .unwrap_err()
            .is_refusal()
    );
    let change = book.abandon_trial("a", "a rash", one.begun + 9).unwrap();
    let abandoned = book.trials().unwrap().remove(0).abandoned.unwrap();
    assert_eq!(
        (abandoned.at, abandoned.reason.as_str()),
        (one.begun + 9, "a rash")
    );
    assert!(
        book.abandon_trial("a", "again", one.begun + 10)
            .unwrap_err()
            .is_refusal()
    );
    assert!(book.begin_trial(&one, one.begun + 11).unwrap_err().is_refusal());
    book.undo(change, one.begun + 12).unwrap();
    assert_eq!(book.trials().unwrap()[0].abandoned, None);
}

#[test]
fn a_damaged_trial_is_named() {
    let mut book = Book::in_memory().unwrap();
    for text in ["{", "{\"compares\":\"place\"}"] {
        book.set(Setting::Other("trial: x".to_owned(), Some(text.to_owned())), 9)
            .unwrap();
        let error = book.trials().unwrap_err().to_string();
        assert!(error.contains("the trial 'x'"), "{error}");
    }
}

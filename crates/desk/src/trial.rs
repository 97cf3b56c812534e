//! A trial as a person settles it, at the command line or in a form.

use interstice_book::Book;
use interstice_glucose::{Arm, Compares, Second, Trial, TrialOutcome};

use crate::DeskError;

/// The words of a trial.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrialWords {
    /// A name of the wearer's own.
    pub name: String,
    /// What its ways differ in.
    pub compares: Compares,
    /// The ways: 'thigh', 'glue + wipe', 'nothing', '24'.
    pub arms: Vec<String>,
    /// What is measured.
    pub outcome: TrialOutcome,
    /// Sensors in all.
    pub sensors: u32,
    /// Sensors of a block.
    pub block: u32,
    /// Blood checks meant for each sensor.
    pub checks: u32,
    /// A sensor with fewer has no outcome; half of those meant where nothing is said.
    pub fewest_checks: Option<u32>,
    /// Seed of the order; the moment it begins where nothing is said.
    pub seed: Option<u64>,
    /// Look once after so many sensors.
    pub look_after: Option<u32>,
    /// End once so many sensors of one way came off or failed.
    pub most_losses: Option<u32>,
}

impl TrialWords {
    /// The trial that is meant, begun at `now`.
    ///
    /// # Errors
    /// `Request` where a way cannot be meant; `Book` where the kinds of sensors cannot be read.
    pub fn trial(&self, book: &Book, now: Second) -> Result<Trial, DeskError> {
        let kinds = book.sensor_kinds()?;
        let kind = kinds.in_use.map(|place| &kinds.all[place]);
        let (checks, fewest_checks) = if self.outcome.needs_checks() {
            (self.checks, self.fewest_checks.unwrap_or(self.checks.div_ceil(2)))
        } else {
            (0, 0)
        };
        Ok(Trial {
            name: self.name.trim().to_owned(),
            block: self.block,
            arms: arms(self.compares, &self.arms)?,
            outcome: self.outcome,
            sensors: self.sensors,
            checks,
            fewest_checks,
            limit_min: match (self.outcome, kind) {
                (TrialOutcome::HoursOn, Some(kind)) => kind.wear_min,
                _ => 0,
            },
            seed: self.seed.unwrap_or(now.unsigned_abs()),
            begun: now,
            look_after: self.look_after,
            most_losses: self.most_losses,
        })
    }
}

/// The ways that are meant.
///
/// # Errors
/// `Request`, saying which cannot be meant and how one is written.
pub fn arms(compares: Compares, words: &[String]) -> Result<Vec<Arm>, DeskError> {
    let arm = |text: &String| {
        Arm::from_words(compares, text).ok_or_else(|| {
            let like = match compares {
                Compares::Place => "a part of the body that is known here, like 'left upper arm' or 'thigh'",
                Compares::Preparation | Compares::Cover => "words, with '+' between several, or 'nothing'",
                Compares::BeddingIn => "whole hours, like 24",
            };
            DeskError::Request(format!(
                "'{text}' is no way to compare by {}; say {like}",
                compares.name()
            ))
        })
    };
    words.iter().map(arm).collect()
}

/// A difference worth knowing where none is said: points of error, or hours on. Ours.
pub fn usual_difference(outcome: TrialOutcome) -> f64 {
    match outcome {
        TrialOutcome::HoursOn => 48.0,
        TrialOutcome::FirstDayError | TrialOutcome::Error => 5.0,
    }
}

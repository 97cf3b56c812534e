//! The sensors of a trial: what was drawn for each, what was worn, what it has shown.

use interstice_glucose::{Arm, Second, Trial, same_tags};
use serde::Serialize;

use super::Beside;
use super::measure::{self, Measures};
use crate::Time;
use crate::wear::Worn;
use crate::worn::KnownFrom;

/// A sensor of a trial. Nothing here says what it showed.
#[derive(Clone, Debug, Serialize)]
pub struct Given {
    /// Its name, where it has one.
    pub sensor_id: Option<String>,
    /// Put on.
    pub put_on: Time,
    /// Its block, from 1.
    pub block: u32,
    /// The way that was drawn for it.
    pub arm: String,
    /// Whether it was worn so; `None` where that was not written down.
    pub as_drawn: Option<bool>,
    /// How it was worn instead.
    pub worn_as: Option<String>,
    /// Blood checks that count so far; `None` where none are needed.
    pub checks: Option<u32>,
    /// Whether it has shown all it will.
    pub over: bool,
    /// Why it has no outcome, once it is over.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_outcome: Option<String>,
}

/// The same with what it showed, for the answer alone.
pub(super) struct Sensor {
    pub(super) name: Option<String>,
    pub(super) put_on: Second,
    pub(super) block: u32,
    pub(super) arm: u32,
    pub(super) as_drawn: Option<bool>,
    worn_as: Option<String>,
    pub(super) checks: u32,
    pub(super) over_at: Option<Second>,
    pub(super) outcome: Result<f64, String>,
    /// When it was lost, if it was.
    pub(super) lost_at: Option<Second>,
}

impl Sensor {
    pub(super) fn is_over(&self) -> bool {
        self.over_at.is_some()
    }

    pub(super) fn told(&self, trial: &Trial, time: &impl Fn(Second) -> Time) -> Given {
        Given {
            sensor_id: self.name.clone(),
            put_on: time(self.put_on),
            block: self.block + 1,
            arm: trial.arms[self.arm as usize].to_string(),
            as_drawn: self.as_drawn,
            worn_as: self.worn_as.clone().filter(|_| self.as_drawn == Some(false)),
            checks: trial.outcome.needs_checks().then_some(self.checks),
            over: self.is_over(),
            no_outcome: self.outcome.as_ref().err().filter(|_| self.is_over()).cloned(),
        }
    }
}

/// The sensors put on since the trial began, in that order, each with what was drawn for it.
///
/// Those only guessed from pauses in readings do not count: a pause is no new sensor, and would move everyone's turn.
pub(super) fn all(
    trial: &Trial,
    order: &[(u32, u32)],
    beside: Beside<'_>,
    measures: &Measures,
) -> Vec<Sensor> {
    let counts = |worn: &&Worn| {
        let from = worn.it.from();
        worn.it.known_from != KnownFrom::Pause && from >= trial.begun && from <= beside.now
    };
    let mut since: Vec<&Worn> = beside.worn.iter().filter(counts).collect();
    since.sort_by_key(|worn| worn.it.from());
    since
        .into_iter()
        .zip(order)
        .map(|(worn, &(block, arm))| sensor(trial, worn, (block, arm), beside.now, measures))
        .collect()
}

fn sensor(trial: &Trial, worn: &Worn, (block, arm): (u32, u32), now: Second, measures: &Measures) -> Sensor {
    let differences = measures.differences(&worn.it, trial.outcome);
    let worn_as = worn_as(trial, worn);
    let drawn = &trial.arms[arm as usize];
    Sensor {
        name: worn.it.sensor.clone(),
        put_on: worn.it.from(),
        block,
        arm,
        as_drawn: worn_as.as_ref().map(|found| found.arm.as_ref() == Some(drawn)),
        worn_as: worn_as.map(|found| found.words),
        checks: differences.len() as u32,
        over_at: measure::over_at(trial, worn, now),
        outcome: measure::outcome(trial, worn, &differences),
        lost_at: worn
            .is_lost()
            .then(|| worn.it.end())
            .flatten()
            .filter(|&at| at <= now),
    }
}

/// How a sensor was worn, in words and, where it is one of the trial's ways, as that.
struct Found {
    arm: Option<Arm>,
    words: String,
}

/// `None` where nothing was written down of it.
fn worn_as(trial: &Trial, worn: &Worn) -> Option<Found> {
    match trial.arms.first()? {
        Arm::Place { .. } => {
            let site = worn.site()?;
            // Without its side, which of two sides it was cannot be told.
            let asked_by_side =
                |arm: &Arm| matches!(arm, Arm::Place { region, side: Some(_) } if *region == site.region);
            if site.side.is_none() && trial.arms.iter().any(asked_by_side) {
                return None;
            }
            let is_it = |arm: &&Arm| matches!(arm, Arm::Place { region, side } if *region == site.region && side.is_none_or(|side| Some(side) == site.side));
            Some(Found {
                arm: trial.arms.iter().find(is_it).cloned(),
                words: site.to_string(),
            })
        }
        Arm::Preparation(_) => tags(trial, &worn.it.detail.preparation, &Arm::Preparation),
        Arm::Cover(_) => tags(trial, &worn.it.detail.cover, &Arm::Cover),
        Arm::BeddingIn { .. } => {
            let hours = worn.it.bedding_in_h()?;
            let off = |arm: &&Arm| match arm {
                Arm::BeddingIn { hours: asked } => (f64::from(*asked) - hours).abs(),
                _ => f64::INFINITY,
            };
            let nearest = trial.arms.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
            Some(Found {
                arm: nearest.cloned(),
                words: format!("{hours:.0} h"),
            })
        }
    }
}

/// No tags at all are 'nothing' only where that is one of the ways: else they were not written down.
fn tags(trial: &Trial, worn: &[String], of: &dyn Fn(Vec<String>) -> Arm) -> Option<Found> {
    let arm = of(same_tags(worn));
    if worn.is_empty() && !trial.arms.contains(&arm) {
        return None;
    }
    Some(Found {
        words: arm.to_string(),
        arm: Some(arm),
    })
}

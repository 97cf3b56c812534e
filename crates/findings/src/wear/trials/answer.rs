//! When a trial is over, and what it says then.

use interstice_glucose::{Second, Trial, counted};
use interstice_methods::trial::{self, MOST_P, MOST_P_AFTER_LOOK, MOST_P_AT_LOOK, Outcome};
use serde::Serialize;

use super::TrialState;
use super::given::Sensor;

/// What a trial says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrialAnswer {
    /// Chance of so large a difference if the ways were alike.
    pub p: f64,
    /// It is called a difference where p is at most this.
    pub most_p: f64,
    /// Whether it is called one.
    pub differs: bool,
    /// Orders that could have been drawn; none where they are too many to count.
    pub orders: Option<u64>,
    /// Whether all of them were looked at; else 20,000 drawn from them.
    pub exact: bool,
    /// Each way by itself.
    pub arms: Vec<ArmMean>,
    /// Of every way but the first, how much more it shows than the first.
    pub beside_first: Vec<BesideFirst>,
    /// In words.
    pub says: String,
}

/// One way by itself.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ArmMean {
    /// The way.
    pub arm: String,
    /// Sensors with an outcome.
    pub sensors: u32,
    /// Mean of the outcomes: percent, or hours.
    pub mean: Option<f64>,
}

/// One way beside the first.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BesideFirst {
    /// The way.
    pub arm: String,
    /// Mean difference within blocks: percentage points, or hours.
    pub more: f64,
    /// Lower end of what the trial does not speak against; `None` where it has no end.
    pub lo: Option<f64>,
    /// Upper end.
    pub hi: Option<f64>,
    /// Confidence of that, percent.
    pub confidence_percent: f64,
}

/// When and how a trial ended.
pub(super) struct End {
    pub(super) state: TrialState,
    /// `None` while it runs.
    pub(super) at: Option<Second>,
    /// The way that lost so many.
    pub(super) lost: Option<u32>,
    /// Whether the look settled beforehand was taken and the trial went on.
    pub(super) looked: bool,
}

impl End {
    fn running(looked: bool) -> Self {
        End {
            state: TrialState::Running,
            at: None,
            lost: None,
            looked,
        }
    }
}

/// What ends a trial first: its look, its sensors, its losses, or the wearer.
pub(super) fn end(trial: &Trial, sensors: &[Sensor], abandoned: Option<Second>) -> End {
    let lost = losses(trial, sensors);
    let look = trial
        .look_after
        .and_then(|after| Some((after, over(sensors, after)?)));
    let stops = look.filter(|&(after, _)| {
        let found = trial::answer(
            &outcomes(&sensors[..after as usize]),
            1.0 - MOST_P_AT_LOOK,
            trial.seed,
        );
        found.is_ok_and(|found| found.p <= MOST_P_AT_LOOK)
    });
    let whole = over(sensors, trial.sensors);
    let ways = [
        stops.map(|(_, at)| (at, TrialState::EndedAtLook)),
        whole.map(|at| (at, TrialState::Ended)),
        lost.map(|(at, _)| (at, TrialState::EndedByLosses)),
        abandoned.map(|at| (at, TrialState::Abandoned)),
    ];
    // Of two at one moment the first named.
    let first = ways.into_iter().flatten().min_by_key(|&(at, _)| at);
    let Some((at, state)) = first else {
        return End::running(look.is_some());
    };
    End {
        state,
        at: Some(at),
        lost: lost
            .map(|(_, arm)| arm)
            .filter(|_| state == TrialState::EndedByLosses),
        looked: look.is_some_and(|(_, looked)| looked <= at) && state != TrialState::EndedAtLook,
    }
}

/// When the first so many sensors had all shown what they will.
fn over(sensors: &[Sensor], count: u32) -> Option<Second> {
    let first = sensors.get(..count as usize)?;
    let over: Option<Vec<Second>> = first.iter().map(|one| one.over_at).collect();
    over?.into_iter().max()
}

/// When one way had lost so many sensors as was settled, and which.
fn losses(trial: &Trial, sensors: &[Sensor]) -> Option<(Second, u32)> {
    let most = trial.most_losses? as usize;
    let of = |arm: u32| {
        let own = sensors.iter().filter(|one| one.arm == arm);
        let mut at: Vec<Second> = own.filter_map(|one| one.lost_at).collect();
        at.sort_unstable();
        at.get(most - 1).map(|&at| (at, arm))
    };
    (0..trial.arms.len() as u32).filter_map(of).min()
}

fn outcomes(sensors: &[Sensor]) -> Vec<Outcome> {
    outcomes_of(sensors.iter())
}

/// By what was drawn, whatever was worn.
fn outcomes_of<'a>(sensors: impl Iterator<Item = &'a Sensor>) -> Vec<Outcome> {
    let known = sensors.filter_map(|one| {
        Some(Outcome {
            block: one.block,
            arm: one.arm,
            value: *one.outcome.as_ref().ok()?,
        })
    });
    known.collect()
}

/// What a trial says, or why it does not yet, or never will.
pub(super) fn answer(trial: &Trial, taken: &[&Sensor], end: &End) -> Result<TrialAnswer, String> {
    let (most_p, sensors) = match end.state {
        TrialState::Running => {
            return Err("outcomes are not told by their way before the trial has ended".to_owned());
        }
        TrialState::Abandoned => return Err("it was given up before its end".to_owned()),
        TrialState::EndedByLosses => {
            return Err("it ended by its rule for losses, which leaves nothing to compare fairly".to_owned());
        }
        TrialState::EndedAtLook => (MOST_P_AT_LOOK, trial.look_after.unwrap_or(trial.sensors)),
        TrialState::Ended if trial.look_after.is_some() => (MOST_P_AFTER_LOOK, trial.sensors),
        TrialState::Ended => (MOST_P, trial.sensors),
    };
    let taken = taken.get(..sensors as usize).unwrap_or(taken);
    let outcomes = outcomes_of(taken.iter().copied());
    let without = taken.len() - outcomes.len();
    let found = trial::answer(&outcomes, 1.0 - most_p, trial.seed).map_err(|why| {
        format!(
            "{} no outcome: {why}",
            counted(without as u64, "sensor has", "sensors have")
        )
    })?;
    let finite = |end: f64| Some(end).filter(|end| end.is_finite());
    let mut answer = TrialAnswer {
        p: found.p,
        most_p,
        differs: found.p <= most_p,
        orders: found.orders,
        exact: found.exact,
        arms: (0u32..)
            .zip(&trial.arms)
            .map(|(arm, way)| mean(&outcomes, arm, way.to_string()))
            .collect(),
        beside_first: found
            .beside_first
            .iter()
            .map(|difference| BesideFirst {
                arm: trial.arms[difference.arm as usize].to_string(),
                more: difference.more,
                lo: finite(difference.within.lo),
                hi: finite(difference.within.hi),
                confidence_percent: 100.0 * (1.0 - most_p),
            })
            .collect(),
        says: String::new(),
    };
    answer.says = super::says::answer(trial, &answer);
    Ok(answer)
}

fn mean(outcomes: &[Outcome], arm: u32, way: String) -> ArmMean {
    let own: Vec<f64> = outcomes
        .iter()
        .filter(|one| one.arm == arm)
        .map(|one| one.value)
        .collect();
    ArmMean {
        arm: way,
        sensors: own.len() as u32,
        mean: (!own.is_empty()).then(|| own.iter().sum::<f64>() / own.len() as f64),
    }
}

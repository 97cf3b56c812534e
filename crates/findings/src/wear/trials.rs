//! Personal trials: whose turn it is, how far each is, and, once one has ended, what it says.
//!
//! Until then no outcome is told by its way: who sees them may wear, check or end differently.

mod answer;
mod given;
mod measure;
mod says;
mod size;

use interstice_book::{KeptTrial, Record};
use interstice_glucose::{Arm, Compares, Second, SensorKind, Trial};
use interstice_methods::trial::Order;
use serde::Serialize;

use super::{Turn, Worn};
use crate::Time;

pub use answer::{ArmMean, BesideFirst, TrialAnswer};
pub use given::Given;
pub use size::{Enough, SizeAsk, SizeRow, TrialSize, promised, size_book, trouble, usual_block};

/// How a trial stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum TrialState {
    /// Sensors or outcomes are missing yet.
    Running,
    /// All its sensors are over.
    Ended,
    /// It ended at the look that was settled beforehand.
    EndedAtLook,
    /// It ended because so many sensors of one way were lost as was settled beforehand.
    EndedByLosses,
    /// The wearer gave it up.
    Abandoned,
}

/// A trial as it stands.
#[derive(Clone, Debug, Serialize)]
pub struct TrialLine {
    /// The wearer's name of it.
    pub name: String,
    /// 'place', 'preparation', 'cover' or 'bedding in'.
    pub compares: &'static str,
    /// The ways, the first being what the others are held against.
    pub arms: Vec<String>,
    /// 'first-day error', 'error' or 'hours on'.
    pub outcome: &'static str,
    /// Sensors in all.
    pub sensors: u32,
    /// Sensors of a block.
    pub block: u32,
    /// Blood checks meant for each sensor.
    pub checks: u32,
    /// A sensor with fewer has no outcome.
    pub fewest_checks: u32,
    /// Of hours on: the limit, hours.
    pub limit_h: Option<f64>,
    /// The order was drawn with it.
    pub seed: u64,
    /// Sensors put on from then on belong to it.
    pub begun: Time,
    /// After so many sensors it is looked at once.
    pub look_after: Option<u32>,
    /// It ends once so many sensors of one way were lost.
    pub most_losses: Option<u32>,
    /// How it stands.
    pub state: TrialState,
    /// Its sensors so far, in the order they were put on.
    pub given: Vec<Given>,
    /// How many of these have shown all they will.
    pub over: u32,
    /// How many of these have an outcome.
    pub measured: u32,
    /// How many were worn another way than was drawn.
    pub deviations: u32,
    /// The way of the next sensor; `None` once all were put on or the trial is over.
    pub next: Option<String>,
    /// What it says; `None` until the end.
    pub answer: Option<TrialAnswer>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub answer_reason: Option<String>,
    /// How it stands, in words.
    pub says: String,
}

impl TrialLine {
    /// Whether it still gives sensors their way or waits for what they show.
    pub fn is_running(&self) -> bool {
        self.state == TrialState::Running
    }
}

/// What trials are told from.
#[derive(Clone, Copy)]
pub(super) struct Beside<'a> {
    pub(super) record: &'a Record,
    pub(super) worn: &'a [Worn],
    pub(super) now: Second,
}

/// What the running trial asks.
#[derive(Debug, Default)]
pub(super) struct Asks {
    /// Of the coming sensors, in the order they are put on.
    pub(super) coming: Vec<Turn>,
    /// Of the one that beds in already, where it is the trial's.
    pub(super) waiting: Option<Turn>,
}

/// All trials that had begun by now, and what the running one asks of the coming sensors.
pub(super) fn trials(
    kept: &[KeptTrial],
    beside: Beside<'_>,
    kind: Option<&SensorKind>,
) -> (Vec<TrialLine>, Asks) {
    let begun: Vec<&KeptTrial> = kept.iter().filter(|one| one.trial.begun <= beside.now).collect();
    let (mut lines, mut asks) = (Vec::new(), Asks::default());
    if begun.is_empty() {
        // Pairing all checks is left to where it is needed.
        return (lines, asks);
    }
    let measures = measure::Measures::of(beside.record, beside.now);
    for kept in begun {
        let line = line(kept, beside, &measures);
        if asks.coming.is_empty() && asks.waiting.is_none() && line.is_running() {
            let mut turns = turns_of(&kept.trial, kind);
            asks.waiting = waiting(&line, beside).and_then(|place| turns.get(place).cloned());
            asks.coming = turns.split_off(line.given.len().min(turns.len()));
        }
        lines.push(line);
    }
    (lines, asks)
}

/// The order as it was drawn when the trial began.
fn order(trial: &Trial) -> Vec<(u32, u32)> {
    // A trial in the book has a block that holds its ways evenly.
    Order::draw(trial.sensors, trial.arms.len() as u32, trial.block, trial.seed)
        .map_or_else(|_| Vec::new(), |order| order.sensors)
}

fn line(kept: &KeptTrial, beside: Beside<'_>, measures: &measure::Measures) -> TrialLine {
    let trial = &kept.trial;
    let order = order(trial);
    let all = given::all(trial, &order, beside, measures);
    let abandoned = kept.abandoned.as_ref().filter(|gone| gone.at <= beside.now);
    let end = answer::end(trial, &all, abandoned.map(|gone| gone.at));
    let taken: Vec<&given::Sensor> = all
        .iter()
        .filter(|one| end.at.is_none_or(|at| one.put_on <= at))
        .collect();
    let running = end.state == TrialState::Running;
    let next = order
        .get(taken.len())
        .filter(|_| running)
        .map(|&(_, arm)| trial.arms[arm as usize].to_string());
    let answered = answer::answer(trial, &taken, &end);
    let time = |at: Second| Time(beside.record.clock.moment(at));
    let mut line = TrialLine {
        name: trial.name.clone(),
        compares: trial.compares().map_or("", Compares::name),
        arms: trial.arms.iter().map(ToString::to_string).collect(),
        outcome: trial.outcome.name(),
        sensors: trial.sensors,
        block: trial.block,
        checks: trial.checks,
        fewest_checks: trial.fewest_checks,
        limit_h: (trial.limit_min > 0).then(|| f64::from(trial.limit_min) / 60.0),
        seed: trial.seed,
        begun: time(trial.begun),
        look_after: trial.look_after,
        most_losses: trial.most_losses,
        state: end.state,
        over: count(&taken, given::Sensor::is_over),
        measured: count(&taken, |one| one.is_over() && one.outcome.is_ok()),
        deviations: count(&taken, |one| one.as_drawn == Some(false)),
        given: taken.iter().map(|one| one.told(trial, &time)).collect(),
        next,
        answer_reason: answered.as_ref().err().cloned(),
        answer: answered.ok(),
        says: String::new(),
    };
    line.says = says::says(&line, trial, abandoned, &end);
    line
}

fn count(sensors: &[&given::Sensor], is: impl Fn(&given::Sensor) -> bool) -> u32 {
    sensors.iter().filter(|one| is(one)).count() as u32
}

/// The place of the one that beds in among the trial's sensors.
fn waiting(line: &TrialLine, beside: Beside<'_>) -> Option<usize> {
    let place = super::asked::waiting_place(beside.worn)?;
    let put_on = beside.worn[place].it.from();
    line.given.iter().position(|given| given.put_on.0.at == put_on)
}

/// What is asked of each of a trial's sensors.
fn turns_of(trial: &Trial, kind: Option<&SensorKind>) -> Vec<Turn> {
    order(trial)
        .iter()
        .enumerate()
        .map(|(place, &(_, arm))| {
            let arm = &trial.arms[arm as usize];
            let (places, bedding_h) = match arm {
                Arm::Place { region, side } => (vec![(*region, *side)], None),
                Arm::BeddingIn { hours } => (Vec::new(), Some(*hours)),
                Arm::Preparation(_) | Arm::Cover(_) => (Vec::new(), None),
            };
            Turn {
                places,
                bedding_h,
                why: Some(says::turn(trial, place, arm, kind)),
            }
        })
        .collect()
}

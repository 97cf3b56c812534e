//! The estimate of this moment: forwards only, one reading or check at a time.

use interstice_glucose::Censor;
use nalgebra::SVector;

use super::checks::{CheckParams, LEAST_MG_DL};
use super::filter::{Belief, Look, Seen, Tails};
use super::joint::{DelayPrior, Given, STATES};
use super::pressed::{Accounts, Beside};
use super::sensor::{BloodCheck, Line, SensorTrace};
use super::{COMPANION_S, Estimator, Learned, Other, Probable, TraceParams, companion};

/// Degrees of freedom of the tails of a reading's noise.
const NU_READING: f64 = 4.0;
/// The same of a check's error.
const NU_CHECK: f64 = 5.0;

/// A sensor as it is worn: what is thought of blood after each reading and check, in time order.
#[derive(Clone, Debug)]
pub struct Live {
    trace: TraceParams,
    checks: CheckParams,
    delay: DelayPrior,
    started: u32,
    at: Option<u32>,
    accounts: Accounts<STATES>,
}

impl Live {
    /// A sensor started at `started`, seconds since 1970, under what was learned before.
    pub fn new(learned: &Learned, started: u32) -> Self {
        let delay = DelayPrior {
            mean_min: learned.delay.mean_min,
            sd_min: learned.delay.sd_of_one_min(),
        };
        let given = Given {
            trace: &learned.trace,
            checks: &learned.checks,
            delay,
        };
        Live {
            trace: learned.trace,
            checks: learned.checks,
            delay,
            started,
            at: None,
            accounts: Accounts::new(given.start(0.0)),
        }
    }

    fn given(&self) -> Given<'_> {
        Given {
            trace: &self.trace,
            checks: &self.checks,
            delay: self.delay,
        }
    }

    fn age_min(&self, at: u32) -> f64 {
        f64::from(at.saturating_sub(self.started)) / 60.0
    }

    /// Carries the belief to an instant; one before the last is taken as the last. Returns the minutes it took.
    fn go_to(&mut self, at: u32) -> f64 {
        let seconds = self.at.map_or(0, |before| at.saturating_sub(before));
        self.accounts = match self.at {
            None => Accounts::new(self.given().start(self.age_min(at))),
            Some(_) => self.moved(seconds),
        };
        self.at = Some(self.at.map_or(at, |before| before.max(at)));
        f64::from(seconds) / 60.0
    }

    fn moved(&self, seconds: u32) -> Accounts<STATES> {
        if seconds == 0 {
            return self.accounts;
        }
        self.accounts
            .moved(&self.given().transition(f64::from(seconds) / 60.0))
    }

    /// Takes in a reading. `at` in seconds since 1970, `mg_dl` the limit where it lies beyond one, `in_bed` whether the
    /// wearer is usually in bed then, where the sensor may be lain on.
    pub fn reading(&mut self, at: u32, mg_dl: f64, censor: Censor, in_bed: bool) {
        let minutes = self.go_to(at);
        let factor = self.trace.noise_factor(self.age_min(at));
        let jitter = self.trace.jitter_mg_dl * factor;
        let mut h = SVector::<f64, STATES>::zeros();
        h[0] = 1.0;
        h[3] = factor;
        let look = Look {
            by: 0,
            h,
            value: mg_dl - self.trace.centre_mg_dl,
            variance: jitter * jitter,
            seen: match censor {
                Censor::None => Seen::Value,
                Censor::Below => Seen::Below,
                Censor::Above => Seen::Above,
            },
        };
        let beside = Beside {
            minutes,
            in_bed,
            centre_mg_dl: self.trace.centre_mg_dl,
        };
        self.accounts.reading(&look, Tails::Student(NU_READING), &beside);
    }

    /// Takes in a blood check.
    pub fn check(&mut self, at: u32, mg_dl: f64) {
        self.go_to(at);
        let given = self.given();
        let look = |belief: &Belief<STATES>| {
            let near = given.scaled(belief);
            let variance =
                given.checks.error_variance(near.max(LEAST_MG_DL)) + given.delay_variance(belief.mean[1]);
            given.look_at_blood(belief, mg_dl, variance)
        };
        let mut accounts = self.accounts;
        accounts.blood(look, Tails::Student(NU_CHECK));
        self.accounts = accounts;
    }

    /// Takes in what a sensor that was on before this one says of blood.
    pub(crate) fn beside(&mut self, other: &Other) {
        self.go_to(other.at);
        let given = self.given();
        let look = |belief: &Belief<STATES>| given.look_at_blood(belief, other.mg_dl, other.variance);
        let mut accounts = self.accounts;
        accounts.blood(look, Tails::Student(NU_CHECK));
        self.accounts = accounts;
    }

    /// Chance that the sensor is being lain on at this moment.
    pub fn pressed(&self) -> f64 {
        self.accounts.chance()
    }

    /// Standard deviation of the gain as known by now.
    fn gain_sd(&self) -> f64 {
        let mut h = SVector::<f64, STATES>::zeros();
        h.fixed_rows_mut::<3>(4).fill(1.0);
        self.accounts.told(|belief| belief.of(&h)).1.max(0.0).sqrt()
    }

    /// What blood glucose probably is at an instant not before the last reading.
    pub fn blood(&self, at: u32) -> Probable {
        let given = self.given();
        let ahead = self.moved(at.saturating_sub(self.at.unwrap_or(at)));
        let of = |belief: &Belief<STATES>| {
            let (mean, variance) = belief.of(&given.blood(given.scaled(belief)));
            (
                mean + self.trace.centre_mg_dl,
                variance + given.delay_variance(belief.mean[1]),
            )
        };
        let age_min = self.age_min(at);
        match &ahead.pressed {
            None => Probable::blood_live(of(&ahead.free), age_min),
            Some(pressed) => {
                Probable::live_of_two(of(&ahead.free), of(&pressed.belief), pressed.chance, age_min)
            }
        }
    }
}

impl Given<'_> {
    /// Glucose as the sensor scales it, its delay undone.
    fn scaled(&self, belief: &Belief<STATES>) -> f64 {
        self.trace.centre_mg_dl + belief.mean[0] + self.delay.mean_min * belief.mean[1]
    }

    fn look_at_blood(&self, belief: &Belief<STATES>, mg_dl: f64, variance: f64) -> Look<STATES> {
        Look {
            by: 0,
            h: self.blood(self.scaled(belief)),
            value: mg_dl - self.trace.centre_mg_dl,
            variance,
            seen: Seen::Value,
        }
    }
}

/// Shortest time after which the parameters are learned anew, seconds.
const LEARN_S: u32 = 6 * 3600;

/// What is known beside the readings themselves when they are told again as they came in.
pub trait Then: Sync {
    /// Whether the wearer is usually in bed at each reading of a sensor.
    fn in_bed(&self, sensor: usize) -> Vec<bool>;
    /// Which readings of each sensor are set aside, judged from nothing after an instant, seconds since 1970. Those after
    /// it do not count.
    fn aside(&self, by: u32) -> Vec<Vec<bool>>;
}

/// See [`Estimator::replay`].
pub(crate) fn replay(lines: &[Line<'_>], then: &impl Then) -> Vec<Vec<Probable>> {
    let mut told: Vec<Vec<Probable>> = lines
        .iter()
        .map(|line| Vec::with_capacity(line.trace.at.len()))
        .collect();
    let Some(first) = lines
        .iter()
        .filter_map(|line| line.trace.at.first())
        .min()
        .copied()
    else {
        return told;
    };
    let last = lines
        .iter()
        .filter_map(|line| line.trace.at.last())
        .max()
        .copied()
        .unwrap_or(first);
    let in_bed: Vec<Vec<bool>> = (0..lines.len()).map(|sensor| then.in_bed(sensor)).collect();
    let mut from = first;
    while from <= last {
        let until = from + LEARN_S.max((from - first) / 10);
        stretch(lines, from..until, &then.aside(from), &in_bed, &mut told);
        from = until;
    }
    told
}

/// Tells one stretch, with what was learned before it.
fn stretch(
    lines: &[Line<'_>],
    stretch: std::ops::Range<u32>,
    asides: &[Vec<bool>],
    in_bed: &[Vec<bool>],
    told: &mut [Vec<Probable>],
) {
    let from = stretch.start;
    let past: Vec<SensorTrace<'_>> = lines
        .iter()
        .zip(asides)
        .map(|(line, aside)| {
            let upto = line.trace.at.partition_point(|&at| at < from);
            SensorTrace {
                aside: &aside[..upto],
                ..line.part(0..upto).trace
            }
        })
        .filter(|trace| !trace.at.is_empty())
        .collect();
    let mut checks: Vec<BloodCheck> = Vec::new();
    for check in lines.iter().flat_map(|line| &line.checks) {
        if check.at < from && !checks.contains(check) {
            checks.push(*check);
        }
    }
    let learned = Estimator::new(&past, &checks).learn();
    // A sensor is told by those that were on before it, so these come first.
    let mut order: Vec<usize> = (0..lines.len()).collect();
    order.sort_by_key(|&sensor| lines[sensor].trace.started);
    let mut said: Vec<Other> = Vec::new();
    for sensor in order {
        let line = &lines[sensor];
        let known = line.trace.at.partition_point(|&at| at < from);
        let mut aside = asides[sensor].clone();
        aside[known..].fill(false);
        let trace = SensorTrace {
            aside: &aside,
            ..line.trace
        };
        let more = tell(
            &Worn {
                trace,
                checks: &line.checks,
                in_bed: &in_bed[sensor],
            },
            &learned,
            &said,
            stretch.clone(),
            &mut told[sensor],
        );
        said.extend(more);
        said.sort_by_key(|other| other.at);
    }
}

/// One sensor as it is told again.
struct Worn<'a> {
    trace: SensorTrace<'a>,
    checks: &'a [BloodCheck],
    in_bed: &'a [bool],
}

/// Runs one sensor from its start, tells the readings within the stretch, and returns what it says to later sensors.
fn tell(
    worn: &Worn<'_>,
    learned: &Learned,
    said: &[Other],
    stretch: std::ops::Range<u32>,
    told: &mut Vec<Probable>,
) -> Vec<Other> {
    let trace = &worn.trace;
    let mut says = Vec::new();
    let upto = trace.at.partition_point(|&at| at < stretch.end);
    let Some(&first) = trace.at.first() else {
        return says;
    };
    if upto == 0 {
        return says;
    }
    let mut live = Live::new(learned, trace.started);
    let mut checks = worn.checks.iter().peekable();
    let mut others = said.iter().filter(|other| other.at >= first).peekable();
    let mut next = 0;
    for index in 0..upto {
        let at = trace.at[index];
        while let Some(other) = others.next_if(|other| other.at < at) {
            live.beside(other);
        }
        if !trace.aside[index] {
            live.reading(at, trace.mg_dl[index], trace.censor[index], worn.in_bed[index]);
        }
        while let Some(check) = checks.next_if(|check| check.at <= at) {
            live.check(check.at, check.mg_dl);
        }
        let blood = live.blood(at);
        if at >= next {
            says.push(companion(at, &blood, live.gain_sd()));
            next = at + COMPANION_S;
        }
        if stretch.contains(&at) {
            told.push(blood);
        }
    }
    says
}

#[cfg(test)]
mod tests;

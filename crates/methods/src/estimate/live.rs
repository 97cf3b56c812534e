//! The estimate of this moment: forwards only, one reading or check at a time.

use interstice_glucose::Censor;
use nalgebra::SVector;

use super::checks::CheckParams;
use super::filter::{self, Belief, Look, Seen, Tails};
use super::joint::{DelayPrior, Given, STATES};
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
    belief: Belief<STATES>,
}

impl Live {
    /// A sensor started at `started`, seconds since 1970, under what was learned before.
    pub fn new(learned: &Learned, started: u32) -> Self {
        let delay = DelayPrior {
            mean_min: learned.delay.mean_min,
            sd_min: learned.delay.sd_min,
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
            belief: given.start(0.0),
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

    /// Carries the belief to an instant; one before the last is taken as the last.
    fn go_to(&mut self, at: u32) {
        self.belief = match self.at {
            None => self.given().start(self.age_min(at)),
            Some(before) => self.moved(at.saturating_sub(before)),
        };
        self.at = Some(self.at.map_or(at, |before| before.max(at)));
    }

    fn moved(&self, seconds: u32) -> Belief<STATES> {
        if seconds == 0 {
            return self.belief;
        }
        self.belief
            .moved(&self.given().transition(f64::from(seconds) / 60.0))
    }

    /// Takes in a reading. `at` in seconds since 1970, `mg_dl` the limit where it lies beyond one.
    pub fn reading(&mut self, at: u32, mg_dl: f64, censor: Censor) {
        self.go_to(at);
        let factor = self.trace.noise_factor(self.age_min(at));
        let jitter = self.trace.jitter_mg_dl * factor;
        let mut h = SVector::<f64, STATES>::zeros();
        h[0] = 1.0;
        h[3] = factor;
        self.take(
            h,
            mg_dl,
            jitter * jitter,
            NU_READING,
            match censor {
                Censor::None => Seen::Value,
                Censor::Below => Seen::Below,
                Censor::Above => Seen::Above,
            },
        );
    }

    /// Takes in a blood check.
    pub fn check(&mut self, at: u32, mg_dl: f64) {
        self.go_to(at);
        let near = self.scaled();
        let h = self.given().blood(near);
        let variance = self.checks.error_variance(near.max(super::checks::LEAST_MG_DL))
            + self.given().delay_variance(self.belief.mean[1]);
        self.take(h, mg_dl, variance, NU_CHECK, Seen::Value);
    }

    fn scaled(&self) -> f64 {
        self.trace.centre_mg_dl + self.belief.mean[0] + self.delay.mean_min * self.belief.mean[1]
    }

    fn take(&mut self, h: SVector<f64, STATES>, mg_dl: f64, variance: f64, nu: f64, seen: Seen) {
        let look = Look {
            by: 0,
            h,
            value: mg_dl - self.trace.centre_mg_dl,
            variance,
            seen,
        };
        filter::take(&mut self.belief, &look, Tails::Student(nu));
    }

    /// Takes in what a sensor that was on before this one says of blood.
    pub(crate) fn beside(&mut self, other: &Other) {
        self.go_to(other.at);
        let h = self.given().blood(self.scaled());
        self.take(h, other.mg_dl, other.variance, NU_CHECK, Seen::Value);
    }

    /// Standard deviation of the gain as known by now.
    fn gain_sd(&self) -> f64 {
        let mut h = SVector::<f64, STATES>::zeros();
        h.fixed_rows_mut::<3>(4).fill(1.0);
        self.belief.of(&h).1.max(0.0).sqrt()
    }

    /// What blood glucose probably is at an instant not before the last reading.
    pub fn blood(&self, at: u32) -> Probable {
        let ahead = Live {
            belief: self.moved(at.saturating_sub(self.at.unwrap_or(at))),
            ..self.clone()
        };
        let (mean, variance) = ahead.belief.of(&ahead.given().blood(ahead.scaled()));
        let variance = variance + ahead.given().delay_variance(ahead.belief.mean[1]);
        Probable::new((mean + self.trace.centre_mg_dl, variance))
    }
}

/// Shortest time after which the parameters are learned anew, seconds.
const LEARN_S: u32 = 6 * 3600;

/// A reading is set aside only once what came after it is known, which takes so long; seconds.
const SET_ASIDE_LATER_S: u32 = 2 * 3600;

/// What was set aside of a sensor's readings by the time that readings up to `known` could be judged.
fn aside_by(trace: &SensorTrace<'_>, known: u32) -> Vec<bool> {
    trace
        .at
        .iter()
        .zip(trace.aside)
        .map(|(&at, &aside)| aside && at < known)
        .collect()
}

/// See [`Estimator::replay`].
pub(crate) fn replay(lines: &[Line<'_>]) -> Vec<Vec<Probable>> {
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
    let mut from = first;
    while from <= last {
        let until = from + LEARN_S.max((from - first) / 10);
        stretch(lines, from, until, &mut told);
        from = until;
    }
    told
}

/// Tells one stretch, with what was learned before it.
fn stretch(lines: &[Line<'_>], from: u32, until: u32, told: &mut [Vec<Probable>]) {
    let known = from.saturating_sub(SET_ASIDE_LATER_S);
    let asides: Vec<Vec<bool>> = lines.iter().map(|line| aside_by(&line.trace, known)).collect();
    let past: Vec<SensorTrace<'_>> = lines
        .iter()
        .zip(&asides)
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
        let trace = SensorTrace {
            aside: &asides[sensor],
            ..line.trace
        };
        let more = tell(
            &trace,
            &line.checks,
            &learned,
            &said,
            from..until,
            &mut told[sensor],
        );
        said.extend(more);
        said.sort_by_key(|other| other.at);
    }
}

/// Runs one sensor from its start, tells the readings within the stretch, and returns what it says to later sensors.
fn tell(
    trace: &SensorTrace<'_>,
    checks: &[BloodCheck],
    learned: &Learned,
    said: &[Other],
    stretch: std::ops::Range<u32>,
    told: &mut Vec<Probable>,
) -> Vec<Other> {
    let mut says = Vec::new();
    let upto = trace.at.partition_point(|&at| at < stretch.end);
    let Some(&first) = trace.at.first() else {
        return says;
    };
    if upto == 0 {
        return says;
    }
    let mut live = Live::new(learned, trace.started);
    let mut checks = checks.iter().peekable();
    let mut others = said.iter().filter(|other| other.at >= first).peekable();
    let mut next = 0;
    for index in 0..upto {
        let at = trace.at[index];
        while let Some(other) = others.next_if(|other| other.at < at) {
            live.beside(other);
        }
        if !trace.aside[index] {
            live.reading(at, trace.mg_dl[index], trace.censor[index]);
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

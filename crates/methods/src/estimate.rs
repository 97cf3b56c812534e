//! The blood estimate: what blood glucose probably was, from a sensor's readings and the wearer's blood checks.
//!
//! A reading follows blood late, scales it a little wrong and adds noise that lasts; see docs/methods/blood-estimate.md.
//! Start at [`Estimator::learn`].

mod checks;
mod delay;
mod filter;
mod joint;
mod live;
mod motion;
mod normal;
mod pressed;
mod probable;
mod scale;
mod sensor;
mod simplex;
mod teach;
mod trace;

use rayon::prelude::*;

pub use checks::CheckParams;
pub use delay::Delay;
pub use live::{Live, Then};
pub use probable::Probable;
pub use scale::{ReadsHigh, Scale};
pub use sensor::{BloodCheck, SensorTrace};
pub use teach::Teaches;
pub use trace::TraceParams;

pub(crate) use normal::{P95, QUARTILE};

use checks::{AtDelay, Met, Way};
use joint::{DelayPrior, Given};
use sensor::{Line, Other};
use trace::Smoothed;

/// The estimate over one sensor's life.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorEstimate {
    /// One a reading.
    pub readings: Vec<Probable>,
    /// Gain and offset the checks see (0.1: blood is 10 % above the sensor); one a reading.
    pub scale: Vec<Scale>,
    /// The sensor's checks by their place in the list handed in, with the estimate there.
    pub checks: Vec<(usize, Probable)>,
}

/// A check, and what it would probably have shown, told without it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CheckLeftOut {
    /// Its place in the list handed in.
    pub check: usize,
    /// The place of the sensor that tells it.
    pub sensor: usize,
    /// What it would probably have shown.
    pub probable: Probable,
}

/// A person's sensors and checks, laid out once.
#[derive(Debug)]
pub struct Estimator<'a> {
    lines: Vec<Line<'a>>,
    stamp_min: f64,
}

/// What was learned of a person's sensors.
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// Of the traces.
    pub trace: TraceParams,
    /// Of gains and checks, at the likeliest delay.
    pub checks: CheckParams,
    /// Of the delay.
    pub delay: Delay,
    /// Of the delay while glucose falls.
    pub falling: Delay,
    /// Of the delay while it rises.
    pub rising: Delay,
    /// Checks that all this rests on.
    pub checks_used: usize,
}

/// How often one sensor tells another of blood, seconds.
const COMPANION_S: u32 = 3600;
/// How many such looks what they have in common is spread over.
const COMPANIONS: f64 = 24.0;
/// Fewest checks from which a coarse stamp is told.
const FEWEST_STAMPS: usize = 8;
/// Share of checks on the very second of a reading beyond which their stamps are those of readings.
const STAMPED_SHARE: f64 = 0.9;

impl<'a> Estimator<'a> {
    /// Lays out a person's sensors.
    ///
    /// * `sensors`: in any order; they may overlap.
    /// * `checks`: in any order; each counts for every sensor worn then.
    pub fn new(sensors: &[SensorTrace<'a>], checks: &[BloodCheck]) -> Self {
        let lines: Vec<Line<'a>> = sensors.iter().map(|&sensor| Line::new(sensor, checks)).collect();
        let stamp_min = coarse_stamp_min(&lines);
        Estimator { lines, stamp_min }
    }

    /// Learns what the person's sensors are like. Deterministic.
    pub fn learn(&self) -> Learned {
        let trace = trace::fit(&self.lines);
        let smoothed = self.smoothed(&trace);
        self.learn_checks(trace, &smoothed, &|_| false)
    }

    fn smoothed(&self, trace: &TraceParams) -> Vec<Smoothed> {
        self.lines
            .par_iter()
            .map(|line| trace::smooth(line, trace))
            .collect()
    }

    fn mets(&self, smoothed: &[Smoothed], left_out: &(impl Fn(usize) -> bool + Sync)) -> Vec<Vec<Met>> {
        let variance = self.stamp_min * self.stamp_min / 12.0;
        self.lines
            .iter()
            .zip(smoothed)
            .map(|(line, smoothed)| checks::meet(line, smoothed, variance, left_out))
            .collect()
    }

    fn learn_checks(
        &self,
        trace: TraceParams,
        smoothed: &[Smoothed],
        left_out: &(impl Fn(usize) -> bool + Sync),
    ) -> Learned {
        let mets = self.mets(smoothed, left_out);
        let profile = checks::profile(&mets, &delay::grid(self.stamp_min));
        let delay = delay::told(&profile, self.stamp_min);
        let checks = nearest(&profile, delay.mean_min).params;
        let of_way = |way| {
            let grid = delay::grid(self.stamp_min);
            let profile = checks::profile_of_way(&mets, &grid, way, delay.mean_min, &checks);
            delay::told(&profile, self.stamp_min)
        };
        let (falling, rising) = (of_way(Way::Falling), of_way(Way::Rising));
        let checks_used = mets.iter().flatten().filter(|met| !met.left_out).count();
        Learned {
            trace,
            checks,
            delay,
            falling,
            rising,
            checks_used,
        }
    }

    /// The estimate of every sensor, from all its readings and checks.
    pub fn estimate(&self, learned: &Learned) -> Vec<SensorEstimate> {
        let smoothed = self.smoothed(&learned.trace);
        self.estimate_from(learned, &smoothed, &|_| false)
    }

    /// The estimate of one sensor, as [`Estimator::estimate`] gives it, without the work of those it has nothing to do with.
    ///
    /// * `sensor`: its place among those handed in.
    pub fn estimate_of(&self, learned: &Learned, sensor: usize) -> SensorEstimate {
        let own = &self.lines[sensor].trace;
        let span = |trace: &SensorTrace<'_>| Some((*trace.at.first()?, *trace.at.last()?));
        let near = |trace: &SensorTrace<'_>| {
            let both = span(trace).zip(span(own));
            both.is_some_and(|((first, last), (from, to))| first <= to && from <= last)
        };
        // Those it is worn beside tell of blood by themselves alone, so theirs are not needed.
        let beside: Vec<usize> = (0..self.lines.len())
            .filter(|&other| other == sensor || near(&self.lines[other].trace))
            .collect();
        let few = Estimator {
            lines: beside.iter().map(|&other| self.lines[other].clone()).collect(),
            stamp_min: self.stamp_min,
        };
        let place = beside.iter().position(|&other| other == sensor).unwrap_or(0);
        few.estimate(learned).swap_remove(place)
    }

    fn estimate_from(
        &self,
        learned: &Learned,
        smoothed: &[Smoothed],
        left_out: &(impl Fn(usize) -> bool + Sync),
    ) -> Vec<SensorEstimate> {
        let mets = self.mets(smoothed, left_out);
        let alone: Vec<SensorEstimate> = (0..self.lines.len())
            .into_par_iter()
            .map(|sensor| one(&self.lines[sensor], learned, &smoothed[sensor], &mets[sensor]))
            .collect();
        (0..self.lines.len())
            .into_par_iter()
            .map(|sensor| {
                let others = self.others(sensor, &alone);
                if others.is_empty() {
                    return alone[sensor].clone();
                }
                let line = self.lines[sensor].beside(others);
                let smoothed = trace::smooth(&line, &learned.trace);
                one(&line, learned, &smoothed, &mets[sensor])
            })
            .collect()
    }

    /// What sensors that were on before this one say of blood while both are worn.
    fn others(&self, sensor: usize, alone: &[SensorEstimate]) -> Vec<Other> {
        let own = &self.lines[sensor].trace;
        let (Some(&first), Some(&last)) = (own.at.first(), own.at.last()) else {
            return Vec::new();
        };
        let mut others: Vec<Other> = Vec::new();
        for (other, estimate) in self.lines.iter().zip(alone) {
            if other.trace.started >= own.started {
                continue;
            }
            let mut next = first;
            for (index, &at) in other.trace.at.iter().enumerate() {
                if at < next || at > last || other.trace.aside[index] {
                    continue;
                }
                others.push(companion(
                    at,
                    &estimate.readings[index],
                    estimate.scale[index].gain_sd,
                ));
                next = at + COMPANION_S;
            }
        }
        others.sort_by_key(|other| other.at);
        others
    }

    /// What the wearer would have been told at each reading, had this been there then: forwards only, and with
    /// parameters learned anew from nothing but what was known by then, every quarter of a day and once the record has
    /// grown by a tenth. What is set aside is judged at the same moments.
    pub fn replay(&self, then: &impl Then) -> Vec<Vec<Probable>> {
        live::replay(&self.lines, then)
    }

    /// For every check, by its place in the list handed in, what a check there would probably show, told without it:
    /// gains, delay and the size of every error are learned anew from the others. The bands are those of a check, the
    /// meter's own error within. A check under two sensors stands once for each.
    pub fn leave_one_check_out(&self) -> Vec<CheckLeftOut> {
        let trace = trace::fit(&self.lines);
        let smoothed = self.smoothed(&trace);
        let all: Vec<(usize, usize)> = self
            .lines
            .iter()
            .enumerate()
            .flat_map(|(sensor, line)| line.check_index.iter().map(move |&check| (sensor, check)))
            .collect();
        all.par_iter()
            .filter_map(|&(sensor, check)| {
                let left_out = |index: usize| index == check;
                let learned = self.learn_checks(trace, &smoothed, &left_out);
                let mets = self.mets(&smoothed, &left_out);
                let estimate = one(&self.lines[sensor], &learned, &smoothed[sensor], &mets[sensor]);
                let (_, probable) = estimate.checks.into_iter().find(|&(index, _)| index == check)?;
                let error = learned.checks.error_variance(probable.mean_mg_dl);
                let probable = probable.of_a_check(error);
                Some(CheckLeftOut {
                    check,
                    sensor,
                    probable,
                })
            })
            .collect()
    }
}

/// The estimate of one sensor.
fn one(line: &Line<'_>, learned: &Learned, smoothed: &Smoothed, mets: &[Met]) -> SensorEstimate {
    let delay = DelayPrior {
        mean_min: learned.delay.mean_min,
        sd_min: learned.delay.sd_of_one_min(),
    };
    let weights = checks::weights(mets, &learned.checks, delay.mean_min);
    let given = Given {
        trace: &learned.trace,
        checks: &learned.checks,
        delay,
    };
    let blood = joint::smooth(line, smoothed, mets, &weights, &given);
    SensorEstimate {
        readings: line
            .trace
            .at
            .iter()
            .zip(blood.readings)
            .map(|(&at, told)| Probable::blood(told, line.age_min(at)))
            .collect(),
        scale: blood.scale.into_iter().map(joint::Scaling::scale).collect(),
        checks: line
            .check_index
            .iter()
            .copied()
            .zip(line.checks.iter().zip(blood.checks))
            .map(|(index, (check, told))| (index, Probable::shown(told, line.age_min(check.at))))
            .collect(),
    }
}

/// What one sensor tells another of blood at an instant. What its gain may be off by is the same each time, so it is
/// counted as often as a day has such looks: together they tell no more than the gain is known.
fn companion(at: u32, probable: &Probable, gain_sd: f64) -> Other {
    let common = gain_sd * probable.mean_mg_dl;
    let all = probable.variance();
    let own = (all - common * common).max(0.25 * all);
    Other {
        at,
        mg_dl: probable.mean_mg_dl,
        variance: own + COMPANIONS * common * common,
    }
}

fn nearest(profile: &[AtDelay], delay_min: f64) -> &AtDelay {
    let mut best = &profile[0];
    for at in profile {
        if (at.delay_min - delay_min).abs() < (best.delay_min - delay_min).abs() {
            best = at;
        }
    }
    best
}

/// The interval of the readings, minutes, where checks carry the very instants of readings; else zero.
fn coarse_stamp_min(lines: &[Line<'_>]) -> f64 {
    let (mut on, mut all, mut longest) = (0usize, 0usize, 0u32);
    for line in lines {
        let at = line.trace.at;
        on += line
            .checks
            .iter()
            .filter(|check| at.binary_search(&check.at).is_ok())
            .count();
        all += line.checks.len();
        longest = longest.max(crate::trace::native_interval(at).unwrap_or(0));
    }
    if all >= FEWEST_STAMPS && on as f64 >= STAMPED_SHARE * all as f64 {
        f64::from(longest) / 60.0
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests;

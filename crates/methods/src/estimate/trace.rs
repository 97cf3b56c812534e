//! A sensor's trace by itself: smooth glucose as the sensor scales it, plus noise that lasts.
//!
//! The smooth part is what the tissue shows, scaled and shifted as this sensor does. The delay behind blood is not in
//! this model at all: blood is `level + delay · rate` of the smooth part, so readings alone can neither teach a delay
//! nor be bent by a wrong one.

use interstice_glucose::Censor;
use nalgebra::{Matrix4, Vector4};
use rayon::prelude::*;

use crate::matern::Smooth;
use crate::quantile::median;

use super::filter::{self, Belief, Look, Seen, Tails, Transition};
use super::motion::{Forgetful, Moves, transition};
use super::sensor::{Line, Place};
use super::simplex::{self, Stop};

/// States: level, rate, acceleration, lasting noise.
pub(crate) const STATES: usize = 4;

/// Degrees of freedom of the tails of a reading's noise.
const NU: f64 = 4.0;
/// Readings on which the parameters are fitted, about; more are thinned to whole days spread over the record.
const FITTED_READINGS: usize = 9000;
/// Length of a stretch that is kept or left out when thinning, seconds.
const STRETCH_S: u32 = 86_400;
/// Noise of a new sensor fades with this time, minutes.
const SETTLING_MIN: f64 = 720.0;
/// Rounds of finding readings out of line with all others.
const ROUNDS: usize = 3;

/// What a person's traces are like.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TraceParams {
    /// Middle about which glucose wanders, mg/dL.
    pub centre_mg_dl: f64,
    /// How fast it forgets, per minute (λ of the Matérn process).
    pub rate_per_min: f64,
    /// How far it wanders, mg/dL (standard deviation).
    pub spread_mg_dl: f64,
    /// Lasting noise of a settled sensor, mg/dL (standard deviation).
    pub noise_mg_dl: f64,
    /// How long that noise lasts, minutes (1/e).
    pub noise_memory_min: f64,
    /// Noise of a single reading, mg/dL (standard deviation).
    pub jitter_mg_dl: f64,
    /// How much larger noise is when a sensor is new, as a part of that of a settled one.
    pub new_noise: f64,
}

/// Where the search starts and how far from it is thought likely: ln of rate, spread, noise, memory, jitter and
/// 1 + new noise, with standard deviations. Ours; wide enough for sensors of 1 to 15 minutes.
const PRIOR: [(f64, f64); 6] = [
    (-4.094_344_562_222_1, 1.0),
    (4.094_344_562_222_1, 0.7),
    (1.609_437_912_434_1, 0.7),
    (3.688_879_454_113_9, 0.5),
    (0.405_465_108_108_2, 0.7),
    (0.405_465_108_108_2, 0.3),
];

impl TraceParams {
    fn from_logs(at: &[f64], centre_mg_dl: f64) -> Self {
        TraceParams {
            centre_mg_dl,
            rate_per_min: libm::exp(at[0]),
            spread_mg_dl: libm::exp(at[1]),
            noise_mg_dl: libm::exp(at[2]),
            noise_memory_min: libm::exp(at[3]),
            jitter_mg_dl: libm::exp(at[4]),
            new_noise: (libm::exp(at[5]) - 1.0).max(0.0),
        }
    }

    pub(crate) fn smooth(&self) -> Smooth {
        Smooth {
            rate_per_min: self.rate_per_min,
            spread_mg_dl: self.spread_mg_dl,
        }
    }

    pub(crate) fn noise(&self) -> Forgetful {
        Forgetful {
            memory_min: self.noise_memory_min,
            spread: self.noise_mg_dl,
        }
    }

    /// How many times the noise of a settled sensor one of this age has.
    pub(crate) fn noise_factor(&self, age_min: f64) -> f64 {
        1.0 + self.new_noise * libm::exp(-age_min / SETTLING_MIN)
    }

    fn start(&self) -> Belief<STATES> {
        let mut covariance = Matrix4::zeros();
        covariance
            .fixed_view_mut::<3, 3>(0, 0)
            .copy_from(&self.smooth().stationary());
        covariance[(3, 3)] = self.noise_mg_dl * self.noise_mg_dl;
        Belief {
            mean: Vector4::zeros(),
            covariance,
        }
    }

    fn transition(&self, minutes: f64) -> Transition<STATES> {
        transition(self.smooth().step(minutes), &[self.noise().step(minutes)])
    }
}

/// A reading as a look at a state whose first entry is the level and whose fourth is the lasting noise.
pub(crate) fn reading<const N: usize>(
    line: &Line<'_>,
    index: usize,
    by: u32,
    params: &TraceParams,
) -> Look<N> {
    let trace = &line.trace;
    let factor = params.noise_factor(line.age_min(trace.at[index]));
    let mut h = nalgebra::SVector::<f64, N>::zeros();
    h[0] = 1.0;
    h[3] = factor;
    let jitter = params.jitter_mg_dl * factor;
    Look {
        by,
        h,
        value: trace.mg_dl[index] - params.centre_mg_dl,
        variance: jitter * jitter,
        seen: match trace.censor[index] {
            _ if trace.aside[index] => Seen::Nothing,
            Censor::None => Seen::Value,
            Censor::Below => Seen::Below,
            Censor::Above => Seen::Above,
        },
    }
}

/// All looks at one sensor's line; its checks only mark where the state is wanted.
fn looks(line: &Line<'_>, params: &TraceParams, moves: &mut Moves<STATES>) -> Vec<Look<STATES>> {
    let mut before = line.places.first().map_or(0, |&(at, _)| at);
    line.places
        .iter()
        .map(|&(at, place)| {
            let by = moves.over(at - before, |minutes| params.transition(minutes));
            before = at;
            match place {
                Place::Reading(index) => reading(line, index as usize, by, params),
                Place::Check(_) | Place::Other(_) => Look {
                    by,
                    h: Vector4::zeros(),
                    value: 0.0,
                    variance: 0.0,
                    seen: Seen::Nothing,
                },
            }
        })
        .collect()
}

/// The parameters that make a person's readings likeliest, with the prior above (maximum a posteriori).
pub(crate) fn fit(lines: &[Line<'_>]) -> TraceParams {
    let mut said: Vec<f64> = lines.iter().flat_map(|line| line.trace.mg_dl).copied().collect();
    let centre = median(&mut said);
    let kept = thinned(lines);
    let start: Vec<f64> = PRIOR.iter().map(|&(middle, _)| middle).collect();
    let stop = Stop {
        evaluations: 220,
        value: 0.3,
        place: 0.03,
    };
    let found = simplex::lowest(&start, &[0.3; 6], stop, |at| {
        let params = TraceParams::from_logs(at, centre);
        let unlikely: f64 = at
            .iter()
            .zip(PRIOR)
            .map(|(at, (middle, sd))| 0.5 * ((at - middle) / sd) * ((at - middle) / sd))
            .sum();
        let parts: Vec<f64> = kept
            .par_iter()
            .map(|line| log_likelihood(line, &params))
            .collect();
        unlikely - parts.iter().sum::<f64>()
    });
    TraceParams::from_logs(&found.at, centre)
}

fn log_likelihood(line: &Line<'_>, params: &TraceParams) -> f64 {
    let mut moves = Moves::new();
    let looks = looks(line, params, &mut moves);
    filter::log_likelihood(params.start(), &moves.all, &looks, Tails::Student(NU + 1.0))
}

/// The lines cut to day-long stretches, of which every so-manieth is kept.
fn thinned<'a>(lines: &[Line<'a>]) -> Vec<Line<'a>> {
    let total: usize = lines.iter().map(|line| line.trace.at.len()).sum();
    let every = total.div_ceil(FITTED_READINGS).max(1);
    let stretches = lines.iter().flat_map(|line| {
        let first = line.trace.at.first().copied().unwrap_or(0);
        line.trace
            .at
            .chunk_by(move |a, b| (a - first) / STRETCH_S == (b - first) / STRETCH_S)
            .scan(0usize, |from, chunk| {
                let range = *from..*from + chunk.len();
                *from = range.end;
                Some(range)
            })
            .map(|range| line.part(range))
    });
    stretches.step_by(every).collect()
}

/// What a sensor's readings alone say about its level and rate at every place of its line.
#[derive(Clone, Debug)]
pub(crate) struct Smoothed {
    /// Level, mg/dL as the sensor scales it.
    pub(crate) level: Vec<f64>,
    /// Rate, mg/dL/min.
    pub(crate) rate: Vec<f64>,
    /// Variance of the level, covariance of both, variance of the rate.
    pub(crate) doubt: Vec<[f64; 3]>,
    /// Variance of the noise of each reading once those out of line were found; 0 at checks.
    pub(crate) jitter: Vec<f64>,
}

/// Smooths a sensor's readings, taking less of those that are out of line with the rest.
pub(crate) fn smooth(line: &Line<'_>, params: &TraceParams) -> Smoothed {
    smooth_in(line, params, ROUNDS)
}

/// The same in so many rounds; with one round all readings count in full.
pub(crate) fn smooth_in(line: &Line<'_>, params: &TraceParams, rounds: usize) -> Smoothed {
    let mut moves = Moves::new();
    let mut looks = looks(line, params, &mut moves);
    let usual: Vec<f64> = looks.iter().map(|look| look.variance).collect();
    let count = looks.len();
    let mut out = Smoothed {
        level: vec![0.0; count],
        rate: vec![0.0; count],
        doubt: vec![[0.0; 3]; count],
        jitter: usual.clone(),
    };
    let (level, rate) = (Vector4::new(1.0, 0.0, 0.0, 0.0), Vector4::new(0.0, 1.0, 0.0, 0.0));
    for round in 0..rounds {
        let kept = filter::keep(params.start(), &moves.all, &looks, Tails::Normal);
        let last = round + 1 == rounds;
        let mut weights = vec![1.0; count];
        filter::smooth(&moves.all, &looks, &kept, |index, behind| {
            if last {
                let (middle, variance) = behind.of(&level);
                let (slope, slope_variance) = behind.of(&rate);
                out.level[index] = middle + params.centre_mg_dl;
                out.rate[index] = slope;
                out.doubt[index] = [variance, behind.between(&level, &rate), slope_variance];
            } else if looks[index].seen == Seen::Value {
                let (middle, variance) = behind.of(&looks[index].h);
                let off = looks[index].value - middle;
                weights[index] = ((NU + 1.0) / (NU + (off * off + variance) / usual[index])).min(1.0);
            }
        });
        if !last {
            for (index, weight) in weights.into_iter().enumerate() {
                looks[index].variance = usual[index] / weight;
            }
        }
    }
    out.jitter = looks.iter().map(|look| look.variance).collect();
    out
}

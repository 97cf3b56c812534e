//! Everything at once: readings and checks of one sensor in one state, forwards and back.

use nalgebra::{SMatrix, SVector};

use super::checks::{CheckParams, LEAST_MG_DL, Met};
use super::filter::{self, Behind, Belief, Look, Seen, Tails, Transition};
use super::motion::{Moves, transition};
use super::scale::Scale;
use super::sensor::{Line, Place};
use super::trace::{self, Smoothed, TraceParams};

/// States: level, rate, acceleration; lasting noise; gain that stays, that a new sensor starts with, that wanders;
/// offset.
pub(crate) const STATES: usize = 8;

/// The delay as one sensor's checks meet it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct DelayPrior {
    pub(crate) mean_min: f64,
    pub(crate) sd_min: f64,
}

/// What the model takes as given for one sensor.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Given<'a> {
    pub(crate) trace: &'a TraceParams,
    pub(crate) checks: &'a CheckParams,
    pub(crate) delay: DelayPrior,
}

impl Given<'_> {
    pub(crate) fn start(&self, age_min: f64) -> Belief<STATES> {
        let mut mean = SVector::<f64, STATES>::zeros();
        let mut covariance = SMatrix::<f64, STATES, STATES>::zeros();
        covariance
            .fixed_view_mut::<3, 3>(0, 0)
            .copy_from(&self.trace.smooth().stationary());
        covariance[(3, 3)] = self.trace.noise_mg_dl * self.trace.noise_mg_dl;
        for (place, (middle, variance)) in (4..).zip(self.checks.start_of(age_min)) {
            mean[place] = middle;
            covariance[(place, place)] = variance;
        }
        Belief { mean, covariance }
    }

    pub(crate) fn transition(&self, minutes: f64) -> Transition<STATES> {
        let [stays, starts, wanders, offset] = self.checks.steps(minutes);
        transition(
            self.trace.smooth().step(minutes),
            &[self.trace.noise().step(minutes), stays, starts, wanders, offset],
        )
    }

    /// What blood is of the state, near a glucose as the sensor scales it.
    pub(crate) fn blood(&self, scaled: f64) -> SVector<f64, STATES> {
        let scaled = scaled.max(LEAST_MG_DL);
        SVector::from([1.0, self.delay.mean_min, 0.0, 0.0, scaled, scaled, scaled, 1.0])
    }

    /// Variance of blood from not knowing the delay, at a rate.
    pub(crate) fn delay_variance(&self, rate: f64) -> f64 {
        let off = self.delay.sd_min * rate;
        off * off
    }
}

/// Mean and variance.
pub(crate) type Moments = (f64, f64);

/// Blood at every reading, and at every check, of one sensor.
#[derive(Clone, Debug)]
pub(crate) struct Blood {
    pub(crate) readings: Vec<Moments>,
    pub(crate) checks: Vec<Moments>,
    /// At every reading.
    pub(crate) scale: Vec<Scaling>,
}

/// Gain (all parts), offset, and both added: their moments.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Scaling {
    gain: Moments,
    offset: Moments,
    together: Moments,
}

impl Scaling {
    fn of(behind: &Behind<'_, STATES>) -> Self {
        let mut gain = SVector::<f64, STATES>::zeros();
        gain.fixed_rows_mut::<3>(4).fill(1.0);
        let mut offset = SVector::<f64, STATES>::zeros();
        offset[7] = 1.0;
        Scaling {
            gain: behind.of(&gain),
            offset: behind.of(&offset),
            together: behind.of(&(gain + offset)),
        }
    }

    pub(crate) fn scale(self) -> Scale {
        Scale {
            gain: self.gain.0,
            gain_sd: self.gain.1.max(0.0).sqrt(),
            offset_mg_dl: self.offset.0,
            offset_sd_mg_dl: self.offset.1.max(0.0).sqrt(),
            covariance_mg_dl: (self.together.1 - self.gain.1 - self.offset.1) / 2.0,
        }
    }
}

/// Smooths one sensor.
pub(crate) fn smooth(
    line: &Line<'_>,
    smoothed: &Smoothed,
    mets: &[Met],
    weights: &[f64],
    given: &Given<'_>,
) -> Blood {
    let mut moves = Moves::new();
    let looks = looks(line, smoothed, mets, weights, given, &mut moves);
    let first = line.places.first().map_or(0, |&(at, _)| at);
    let kept = filter::keep(
        given.start(line.age_min(first)),
        &moves.all,
        &looks,
        Tails::Normal,
    );
    let mut blood = Blood {
        readings: vec![(0.0, 0.0); line.trace.at.len()],
        checks: vec![(0.0, 0.0); line.checks.len()],
        scale: vec![Scaling::default(); line.trace.at.len()],
    };
    filter::smooth(&moves.all, &looks, &kept, |index, behind| {
        let (mean, variance) = behind.of(&given.blood(scaled(smoothed, index, given)));
        let variance = variance + given.delay_variance(smoothed.rate[index]);
        let blood_at = (mean + given.trace.centre_mg_dl, variance);
        match line.places[index].1 {
            Place::Check(check) => blood.checks[check as usize] = blood_at,
            Place::Other(_) => {}
            Place::Reading(reading) => {
                blood.readings[reading as usize] = blood_at;
                blood.scale[reading as usize] = Scaling::of(behind);
            }
        }
    });
    blood
}

fn scaled(smoothed: &Smoothed, index: usize, given: &Given<'_>) -> f64 {
    smoothed.level[index] + given.delay.mean_min * smoothed.rate[index]
}

fn looks(
    line: &Line<'_>,
    smoothed: &Smoothed,
    mets: &[Met],
    weights: &[f64],
    given: &Given<'_>,
    moves: &mut Moves<STATES>,
) -> Vec<Look<STATES>> {
    let mut before = line.places.first().map_or(0, |&(at, _)| at);
    line.places
        .iter()
        .enumerate()
        .map(|(index, &(at, place))| {
            let by = moves.over(at - before, |minutes| given.transition(minutes));
            before = at;
            match place {
                Place::Reading(reading) => Look {
                    variance: smoothed.jitter[index],
                    ..trace::reading(line, reading as usize, by, given.trace)
                },
                Place::Other(other) => {
                    let other = &line.others[other as usize];
                    Look {
                        by,
                        h: given.blood(scaled(smoothed, index, given)),
                        value: other.mg_dl - given.trace.centre_mg_dl,
                        variance: other.variance,
                        seen: Seen::Value,
                    }
                }
                Place::Check(check) => {
                    let met = &mets[check as usize];
                    let near = scaled(smoothed, index, given).max(LEAST_MG_DL);
                    Look {
                        by,
                        h: given.blood(near),
                        value: met.check.mg_dl - given.trace.centre_mg_dl,
                        variance: (given.checks.error_variance(near) + met.stamp_noise())
                            / weights[check as usize]
                            + given.delay_variance(met.rate),
                        seen: if met.left_out { Seen::Nothing } else { Seen::Value },
                    }
                }
            }
        })
        .collect()
}

/// ln of the density of each look of a sensor's line, given those before it.
#[cfg(test)]
pub(crate) fn log_densities(
    line: &Line<'_>,
    smoothed: &Smoothed,
    mets: &[Met],
    weights: &[f64],
    given: &Given<'_>,
) -> Vec<f64> {
    let mut moves = Moves::new();
    let looks = looks(line, smoothed, mets, weights, given, &mut moves);
    let first = line.places.first().map_or(0, |&(at, _)| at);
    filter::keep(
        given.start(line.age_min(first)),
        &moves.all,
        &looks,
        Tails::Normal,
    )
    .iter()
    .map(|kept| kept.taken.map_or(0.0, |taken| taken.log_density))
    .collect()
}

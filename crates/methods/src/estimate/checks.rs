//! What the blood checks tell, given what the readings alone say: how this sensor scales, and how late it is.
//!
//! blood = (level + delay · rate) · (1 + gain) + offset. The gain has a part that stays, one that a new sensor starts
//! with and loses, one that wanders, and a slow drift. None of it touches the trace: a gain in front of the
//! smooth prior would be shrunk by it.

use nalgebra::{Matrix3, Matrix4, Vector4};
use rayon::prelude::*;

use super::filter::{self, Belief, Look, Seen, Tails, Transition};
use super::motion::{Forgetful, Moves, transition};
use super::sensor::{BloodCheck, Line, Place};
use super::simplex::{self, Stop};
use super::trace::Smoothed;

/// States: gain that stays, gain a new sensor starts with, offset, gain that wanders.
const STATES: usize = 4;

/// Degrees of freedom of the tails of a check's error while the parameters are learned.
const NU: f64 = 5.0;
/// The same once all checks of a sensor are weighed against each other: a check far from all others tells next to
/// nothing, whatever the reason.
const NU_TOGETHER: f64 = 1.5;
/// Rounds of finding checks out of line.
const ROUNDS: usize = 3;
/// What a new sensor starts with fades with this time, minutes.
pub(crate) const SETTLING_MIN: f64 = 720.0;
/// Memory of the wandering gain, minutes.
const WANDER_MIN: f64 = 600.0;
/// Drift of the gain, a day (standard deviation of a random walk).
const DRIFT_A_DAY: f64 = 0.004;
/// Offset of a sensor, mg/dL (standard deviation).
pub(crate) const OFFSET_MG_DL: f64 = 4.0;
/// Error of a meter that just keeps the usual limits (95 % within 15 mg/dL, or 15 %, would be 7.7): ours, a good one.
const METER_MG_DL: f64 = 4.0;
/// The same, relative.
const METER_PART: f64 = 0.05;
/// Rates beyond this are not believed when the stamp of a check is coarse, mg/dL/min.
const FASTEST: f64 = 3.0;
/// The lowest glucose a gain is applied to, mg/dL.
pub(crate) const LEAST_MG_DL: f64 = 25.0;

/// What a person's sensors and meter are like.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CheckParams {
    /// Error of the checks, as a multiple of a good meter's.
    pub check_noise: f64,
    /// Spread of the settled gain between sensors.
    pub gain_spread: f64,
    /// Spread of what a new sensor's gain is off by beyond that.
    pub start_spread: f64,
    /// Spread of the gain's wandering within a sensor.
    pub wander_spread: f64,
    /// Settled gain common to the person's sensors.
    pub gain: f64,
    /// What a new sensor's gain is off by, common to the person's sensors.
    pub start: f64,
}

/// Middle and standard deviation of the prior of each: logarithms for the first four. Ours: broad enough for the
/// simulated people and for open recordings alike.
const PRIOR: [(f64, f64); 6] = [
    (0.0, 0.7),
    (-2.525_728_644_308_3, 0.5),
    (-2.120_263_536_200_1, 0.5),
    (-2.995_732_273_554, 0.6),
    (0.0, 0.04),
    (0.0, 0.05),
];

impl CheckParams {
    /// What is thought before any check.
    pub(crate) fn prior() -> Self {
        CheckParams::from_places(&PRIOR.map(|(middle, _)| middle))
    }

    fn from_places(at: &[f64]) -> Self {
        CheckParams {
            check_noise: libm::exp(at[0]),
            gain_spread: libm::exp(at[1]),
            start_spread: libm::exp(at[2]),
            wander_spread: libm::exp(at[3]),
            gain: at[4],
            start: at[5],
        }
    }

    fn places(&self) -> [f64; 6] {
        [
            libm::log(self.check_noise),
            libm::log(self.gain_spread),
            libm::log(self.start_spread),
            libm::log(self.wander_spread),
            self.gain,
            self.start,
        ]
    }

    fn wander(&self) -> Forgetful {
        Forgetful {
            memory_min: WANDER_MIN,
            spread: self.wander_spread,
        }
    }

    /// Fading and noise over so many minutes of: gain that stays, gain a new sensor starts with, wandering, offset.
    pub(crate) fn steps(&self, minutes: f64) -> [(f64, f64); 4] {
        [
            (1.0, DRIFT_A_DAY * DRIFT_A_DAY * minutes / 1440.0),
            (libm::exp(-minutes / SETTLING_MIN), 0.0),
            self.wander().step(minutes),
            (1.0, 0.0),
        ]
    }

    /// Mean and variance of the same four at an age.
    pub(crate) fn start_of(&self, age_min: f64) -> [(f64, f64); 4] {
        let left = libm::exp(-age_min / SETTLING_MIN);
        [
            (self.gain, self.gain_spread * self.gain_spread),
            (
                self.start * left,
                self.start_spread * left * self.start_spread * left,
            ),
            (0.0, self.wander_spread * self.wander_spread),
            (0.0, OFFSET_MG_DL * OFFSET_MG_DL),
        ]
    }

    /// Variance of a check's own error near a glucose.
    pub(crate) fn error_variance(&self, mg_dl: f64) -> f64 {
        let relative = METER_PART * mg_dl;
        (METER_MG_DL * METER_MG_DL + relative * relative) * self.check_noise * self.check_noise
    }

    fn belief(&self, age_min: f64) -> Belief<STATES> {
        let [stays, starts, wanders, offset] = self.start_of(age_min);
        Belief {
            mean: Vector4::new(stays.0, starts.0, offset.0, wanders.0),
            covariance: Matrix4::from_diagonal(&Vector4::new(stays.1, starts.1, offset.1, wanders.1)),
        }
    }

    fn transition(&self, minutes: f64) -> Transition<STATES> {
        let [stays, starts, wanders, offset] = self.steps(minutes);
        let block = Matrix3::from_diagonal(&[stays.0, starts.0, offset.0].into());
        let noise = Matrix3::from_diagonal(&[stays.1, starts.1, offset.1].into());
        transition((block, noise), &[wanders])
    }
}

/// A check and what the readings alone say at its instant.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Met {
    pub(crate) check: BloodCheck,
    pub(crate) age_min: f64,
    pub(crate) level: f64,
    pub(crate) rate: f64,
    doubt: [f64; 3],
    /// Variance of the stamp of the check, min².
    stamp_variance: f64,
    /// Whether the check is left out.
    pub(crate) left_out: bool,
}

impl Met {
    /// Glucose as the sensor scales it, its delay undone.
    pub(crate) fn scaled(&self, delay_min: f64) -> f64 {
        (self.level + delay_min * self.rate).max(LEAST_MG_DL)
    }

    /// Variance that a coarse stamp adds, (mg/dL)².
    pub(crate) fn stamp_noise(&self) -> f64 {
        let rate = self.rate.clamp(-FASTEST, FASTEST);
        self.stamp_variance * rate * rate
    }

    fn trace_variance(&self, delay_min: f64) -> f64 {
        let [level, both, rate] = self.doubt;
        (level + 2.0 * delay_min * both + delay_min * delay_min * rate).max(0.0)
    }
}

/// The checks of one sensor, in time order, with what its readings say there.
pub(crate) fn meet(
    line: &Line<'_>,
    smoothed: &Smoothed,
    stamp_variance: f64,
    left_out: impl Fn(usize) -> bool,
) -> Vec<Met> {
    line.places
        .iter()
        .enumerate()
        .filter_map(|(place, &(at, what))| match what {
            Place::Reading(_) | Place::Other(_) => None,
            Place::Check(index) => Some(Met {
                check: line.checks[index as usize],
                age_min: line.age_min(at),
                level: smoothed.level[place],
                rate: smoothed.rate[place],
                doubt: smoothed.doubt[place],
                stamp_variance,
                left_out: left_out(line.check_index[index as usize]),
            }),
        })
        .collect()
}

/// The delay while glucose falls, and while it rises, minutes.
#[derive(Clone, Copy, Debug)]
struct Ways {
    falling: f64,
    rising: f64,
}

impl Ways {
    fn both(delay_min: f64) -> Self {
        Ways {
            falling: delay_min,
            rising: delay_min,
        }
    }

    fn at(self, rate: f64) -> f64 {
        if rate < 0.0 { self.falling } else { self.rising }
    }
}

fn looks(mets: &[Met], params: &CheckParams, delays: Ways, moves: &mut Moves<STATES>) -> Vec<Look<STATES>> {
    let mut before = mets.first().map_or(0, |met| met.check.at);
    mets.iter()
        .map(|met| {
            let by = moves.over(met.check.at - before, |minutes| params.transition(minutes));
            before = met.check.at;
            let delay_min = delays.at(met.rate);
            let scaled = met.scaled(delay_min);
            Look {
                by,
                h: Vector4::new(scaled, scaled, 1.0, scaled),
                value: met.check.mg_dl - scaled,
                variance: params.error_variance(scaled) + met.stamp_noise() + met.trace_variance(delay_min),
                seen: if met.left_out { Seen::Nothing } else { Seen::Value },
            }
        })
        .collect()
}

/// ln of the density of a sensor's checks.
fn log_likelihood(mets: &[Met], params: &CheckParams, delays: Ways) -> f64 {
    let Some(first) = mets.first() else { return 0.0 };
    let mut moves = Moves::new();
    let looks = looks(mets, params, delays, &mut moves);
    filter::log_likelihood(
        params.belief(first.age_min),
        &moves.all,
        &looks,
        Tails::Student(NU),
    )
}

/// How much of each check to take: below one where it is out of line with the rest.
pub(crate) fn weights(mets: &[Met], params: &CheckParams, delay_min: f64) -> Vec<f64> {
    let mut weights = vec![1.0; mets.len()];
    let Some(first) = mets.first() else { return weights };
    let mut moves = Moves::new();
    let mut looks = looks(mets, params, Ways::both(delay_min), &mut moves);
    let usual: Vec<f64> = looks.iter().map(|look| look.variance).collect();
    for _ in 0..ROUNDS {
        let kept = filter::keep(params.belief(first.age_min), &moves.all, &looks, Tails::Normal);
        filter::smooth(&moves.all, &looks, &kept, |index, behind| {
            if looks[index].seen == Seen::Value {
                let (middle, variance) = behind.of(&looks[index].h);
                let off = looks[index].value - middle;
                weights[index] =
                    ((NU_TOGETHER + 1.0) / (NU_TOGETHER + (off * off + variance) / usual[index])).min(1.0);
            }
        });
        for (index, weight) in weights.iter().enumerate() {
            looks[index].variance = usual[index] / weight;
        }
    }
    weights
}

/// The likeliest parameters at one delay, with the prior above, and ln of the density each sensor's checks have.
#[derive(Clone, Debug)]
pub(crate) struct AtDelay {
    pub(crate) delay_min: f64,
    pub(crate) params: CheckParams,
    /// ln density of each sensor's checks, and that of the parameters shared among them.
    pub(crate) by_sensor: Vec<f64>,
    pub(crate) prior: f64,
}

impl AtDelay {
    pub(crate) fn total(&self) -> f64 {
        self.by_sensor.iter().sum::<f64>() + self.prior
    }
}

/// Fits the parameters at one delay, starting the search at `near`.
pub(crate) fn fit(sensors: &[Vec<Met>], delay_min: f64, near: &CheckParams, evaluations: usize) -> AtDelay {
    let stop = Stop {
        evaluations,
        value: 0.02,
        place: 0.03,
    };
    let step = PRIOR.map(|(_, sd)| 0.5 * sd);
    let prior = |at: &[f64]| -> f64 {
        at.iter()
            .zip(PRIOR)
            .map(|(at, (middle, sd))| -0.5 * ((at - middle) / sd) * ((at - middle) / sd))
            .sum::<f64>()
    };
    let by_sensor = |params: &CheckParams| -> Vec<f64> {
        sensors
            .iter()
            .map(|mets| log_likelihood(mets, params, Ways::both(delay_min)))
            .collect()
    };
    let found = simplex::lowest(&near.places(), &step, stop, |at| {
        let params = CheckParams::from_places(at);
        -(by_sensor(&params).iter().sum::<f64>() + prior(at))
    });
    let params = CheckParams::from_places(&found.at);
    AtDelay {
        delay_min,
        params,
        by_sensor: by_sensor(&params),
        prior: prior(&found.at),
    }
}

/// Fits the parameters at each of the delays.
pub(crate) fn profile(sensors: &[Vec<Met>], delays: &[f64]) -> Vec<AtDelay> {
    let middle = delays.len() / 2;
    let Some(&first) = delays.get(middle) else {
        return Vec::new();
    };
    let near = fit(sensors, first, &CheckParams::prior(), 400).params;
    delays
        .par_iter()
        .map(|&delay| fit(sensors, delay, &near, 160))
        .collect()
}

/// One way glucose moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Way {
    /// Down.
    Falling,
    /// Up.
    Rising,
}

/// The profile over delays of one way glucose moves, the delay of the other way and all else staying as learned.
pub(crate) fn profile_of_way(
    sensors: &[Vec<Met>],
    delays: &[f64],
    way: Way,
    usual_min: f64,
    params: &CheckParams,
) -> Vec<AtDelay> {
    delays
        .iter()
        .map(|&delay_min| {
            let mut ways = Ways::both(usual_min);
            match way {
                Way::Falling => ways.falling = delay_min,
                Way::Rising => ways.rising = delay_min,
            }
            AtDelay {
                delay_min,
                params: *params,
                by_sensor: sensors
                    .iter()
                    .map(|mets| log_likelihood(mets, params, ways))
                    .collect(),
                prior: 0.0,
            }
        })
        .collect()
}

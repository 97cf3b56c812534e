//! How late the sensor is behind blood.

use super::checks::AtDelay;

/// The longest delay looked at, minutes.
const LONGEST_MIN: f64 = 40.0;
/// Steps of the grid, minutes.
const STEP_MIN: f64 = 2.0;
/// What is thought of a delay before any check, cut at zero: share, middle and standard deviation of two normals, in
/// minutes. The first is a sensor as most sources find them, tissue and electrode and smoothing together; the second
/// leaves room for one that already looks ahead, or is later still (sources in docs/methods/blood-estimate.md).
const PRIOR: [(f64, f64, f64); 2] = [(0.8, 15.0, 4.0), (0.2, 10.0, 9.0)];
/// How much a delay differs from one rise or fall to the next, minutes (standard deviation): what is told is that of all of them.
const VARIES_MIN: f64 = 2.5;
/// Part of what the checks have for a delay that is believed. Their errors hang together in ways the model does not
/// know (the delay itself is not the same rising and falling), so that the plain likelihood is too sure: set on the
/// simulated people, where it missed the truth by 1.8 of its own standard deviations.
const BELIEVED: f64 = 0.3;
/// The same where stamps are coarse: most of what is unknown then is the shift of the stamps, which has a prior of its
/// own.
const BELIEVED_COARSE: f64 = 0.8;

/// The delay, as far as the checks tell it.
#[derive(Clone, Debug, PartialEq)]
pub struct Delay {
    /// Mean of what is thought of it, minutes.
    pub mean_min: f64,
    /// Its standard deviation.
    pub sd_min: f64,
    /// 5th and 95th percentile.
    pub within_90: (f64, f64),
    /// Delay, minutes, and what the checks alone have for it: ln of the likelihood, the best being zero.
    pub profile: Vec<(f64, f64)>,
    /// How coarse the stamps of the checks are, minutes: a delay cannot be told finer. Zero where they are not.
    pub stamp_min: f64,
}

impl Delay {
    /// How little is known of the delay at one moment, minutes (standard deviation).
    pub(crate) fn sd_of_one_min(&self) -> f64 {
        (self.sd_min * self.sd_min + VARIES_MIN * VARIES_MIN).sqrt()
    }
}

/// The delays looked at. Stamps that only name a reading may be wrong by its interval either way, so that checks may
/// seem to come after the sensor.
pub(crate) fn grid(stamp_min: f64) -> Vec<f64> {
    let below = (stamp_min / STEP_MIN).ceil() as i32;
    (-below..=(LONGEST_MIN / STEP_MIN) as i32)
        .map(|step| f64::from(step) * STEP_MIN)
        .collect()
}

/// ln of the prior density. Coarse stamps shift checks by up to half their step either way, and all alike.
fn log_prior(delay_min: f64, stamp_min: f64) -> f64 {
    let density: f64 = PRIOR
        .iter()
        .map(|&(share, middle, sd)| {
            let variance = sd * sd + 0.25 * stamp_min * stamp_min;
            let off = delay_min - middle;
            share / variance.sqrt() * libm::exp(-0.5 * off * off / variance)
        })
        .sum();
    libm::log(density)
}

/// Chance of each delay of a profile.
pub(crate) fn chances(profile: &[AtDelay], stamp_min: f64) -> Vec<f64> {
    let believed = if stamp_min > 0.0 {
        BELIEVED_COARSE
    } else {
        BELIEVED
    };
    let logs: Vec<f64> = profile
        .iter()
        .map(|at| believed * at.total() + log_prior(at.delay_min, stamp_min))
        .collect();
    let best = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut chances: Vec<f64> = logs.iter().map(|log| libm::exp(log - best)).collect();
    // The grid stands for the cells about its points; the cell at a physical bound of zero is half as wide.
    if stamp_min <= 0.0
        && let Some(first) = chances.first_mut()
    {
        *first *= 0.5;
    }
    let sum: f64 = chances.iter().sum();
    chances.iter_mut().for_each(|chance| *chance /= sum);
    chances
}

/// Mean and standard deviation under such chances.
pub(crate) fn moments(profile: &[AtDelay], chances: &[f64]) -> (f64, f64) {
    let mean: f64 = profile
        .iter()
        .zip(chances)
        .map(|(at, chance)| at.delay_min * chance)
        .sum();
    let square: f64 = profile
        .iter()
        .zip(chances)
        .map(|(at, chance)| chance * (at.delay_min - mean) * (at.delay_min - mean))
        .sum();
    (mean, (square + STEP_MIN * STEP_MIN / 12.0).sqrt())
}

/// What the profile of all sensors tells.
pub(crate) fn told(profile: &[AtDelay], stamp_min: f64) -> Delay {
    let chances = chances(profile, stamp_min);
    let (mean_min, sd_min) = moments(profile, &chances);
    let likelihoods: Vec<f64> = profile.iter().map(AtDelay::total).collect();
    let best = likelihoods.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let lowest = profile.first().map_or(0.0, |at| at.delay_min);
    Delay {
        mean_min,
        sd_min,
        within_90: (
            quantile(profile, &chances, 0.05).max(lowest),
            quantile(profile, &chances, 0.95),
        ),
        profile: profile
            .iter()
            .zip(likelihoods)
            .map(|(at, log)| (at.delay_min, log - best))
            .collect(),
        stamp_min,
    }
}

/// The delay below which so much of the chance lies, spread evenly within each cell of the grid.
fn quantile(profile: &[AtDelay], chances: &[f64], share: f64) -> f64 {
    let mut below = 0.0;
    for (at, chance) in profile.iter().zip(chances) {
        if below + chance >= share {
            return at.delay_min + STEP_MIN * ((share - below) / chance - 0.5);
        }
        below += chance;
    }
    profile.last().map_or(0.0, |at| at.delay_min)
}

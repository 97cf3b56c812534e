//! How far differences of two sets of days scatter.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::days::Days;
use super::of_row;
use crate::bootstrap::{Bootstrap, Draw, FEWEST_GIVEN, Interval, spread as of_days, tail_of};
use crate::quantile::quantile;
use crate::refusal::Refusal;
use crate::student::two_sided;

/// Where the streams of the set that begins later lie, beyond those of any number of replicates.
const LATER_STREAMS: u64 = 1 << 32;

/// The replicates of both sets.
pub(super) struct Replicates {
    /// One a replicate: the figures of either set.
    drawn: Vec<[Vec<f64>; 2]>,
    /// How much too small the variance of either set's replicates is, and its degrees of freedom.
    corrections: [(f64, f64); 2],
    confidence: f64,
}

/// How far a difference scatters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spread {
    pub(super) interval: Interval,
    /// Standard error, corrected.
    error: f64,
    freedom: f64,
}

impl Spread {
    /// How often chance alone would bring a difference as large, either way.
    pub(super) fn p(&self, difference: f64) -> f64 {
        two_sided(difference / self.error, self.freedom)
    }
}

/// Resamples both sets, each apart from the other. Which of two sets has which random numbers goes by the days, not by the order
/// they are named in, so that the other way round every difference only changes its sign.
pub(super) fn spread(days: &Days, sides: &[Vec<usize>; 2], bootstrap: &Bootstrap) -> Replicates {
    let later = usize::from(sides[0].first() <= sides[1].first());
    let running = sides.each_ref().map(|side| running(days, side));
    let draws = sides.each_ref().map(|side| Draw::new(side.len()));
    let base = ChaCha8Rng::seed_from_u64(bootstrap.seed);
    let drawn = (0..bootstrap.replicates.max(1))
        .into_par_iter()
        .with_min_len(64)
        .map(|replicate| {
            let of = |side: usize| {
                let mut stream = base.clone();
                let first = if side == later { LATER_STREAMS } else { 0 };
                stream.set_stream(first + u64::from(replicate));
                let mut total = vec![0.0; days.columns()];
                draws[side].each(&mut stream, |start, end| {
                    add(&mut total, &running[side], (start, end));
                });
                of_row(&total, &days.scales, days.group)
            };
            [of(0), of(1)]
        })
        .collect();
    Replicates {
        drawn,
        corrections: sides.each_ref().map(|side| of_days(side.len())),
        confidence: bootstrap.confidence,
    }
}

/// Sums of all days of a set before each; one row more than there are days.
fn running(days: &Days, side: &[usize]) -> Vec<Vec<f64>> {
    let mut sum = vec![0.0; days.columns()];
    let mut all = vec![sum.clone()];
    for &place in side {
        for (sum, value) in sum.iter_mut().zip(&days.rows[place].sums) {
            *sum += value;
        }
        all.push(sum.clone());
    }
    all
}

fn add(total: &mut [f64], running: &[Vec<f64>], (start, end): (usize, usize)) {
    let (from, to) = (&running[start], &running[end]);
    for ((total, from), to) in total.iter_mut().zip(from).zip(to) {
        *total += to - from;
    }
}

impl Replicates {
    /// Of one figure.
    pub(super) fn of(&self, figure: usize) -> Result<Spread, Refusal> {
        let given: Vec<[f64; 2]> = self
            .drawn
            .iter()
            .map(|both| [both[0][figure], both[1][figure]])
            .filter(|both| both.iter().all(|value| !value.is_nan()))
            .collect();
        if (given.len() as f64) < FEWEST_GIVEN * self.drawn.len() as f64 {
            return Err(Refusal::Patchy);
        }
        let variances = [0, 1].map(|side| variance(given.iter().map(|both| both[side])));
        let corrected = [0, 1].map(|side| variances[side] / self.corrections[side].0);
        let (plain, whole) = (variances[0] + variances[1], corrected[0] + corrected[1]);
        if whole <= 0.0 {
            return Err(Refusal::AllAlike);
        }
        // Welch 1947: degrees of freedom of a sum of two variances.
        let parts = corrected
            .iter()
            .zip(self.corrections)
            .map(|(v, (_, free))| v * v / free);
        let freedom = whole * whole / parts.sum::<f64>();
        let tail = tail_of(self.confidence, plain / whole, freedom);
        let mut differences: Vec<f64> = given.iter().map(|both| both[1] - both[0]).collect();
        differences.sort_unstable_by(f64::total_cmp);
        let ends = quantile(&differences, tail).zip(quantile(&differences, 1.0 - tail));
        let (lo, hi) = ends.ok_or(Refusal::Patchy)?;
        Ok(Spread {
            interval: Interval { lo, hi },
            error: whole.sqrt(),
            freedom,
        })
    }
}

fn variance(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let count = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / count;
    let squares: f64 = values.map(|value| (value - mean) * (value - mean)).sum();
    let variance = squares / (count - 1.0).max(1.0);
    // What only adding up in another order leaves is no scatter.
    if variance <= 1e-20 * mean * mean {
        0.0
    } else {
        variance
    }
}

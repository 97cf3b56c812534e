//! Intervals for every summary figure by resampling days.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use crate::Refusal;
use crate::account::Account;
use crate::quantile::quantile;
use crate::summary::{Figures, figures};
use crate::sums::{COLUMNS, Sums, WEIGHT};

/// Fewest days with readings for an interval.
pub const FEWEST_DAYS: usize = 7;
/// A figure that fewer than this share of the replicates can give has no interval.
const FEWEST_GIVEN: f64 = 0.9;

/// An interval, both ends in the figure's unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
}

/// A stationary bootstrap of days.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bootstrap {
    /// Seed; the same seed gives the same intervals on any machine and number of threads.
    pub seed: u64,
    /// Resampled windows, at least 1; 2,000 by default.
    pub replicates: u32,
    /// Probability the interval is made for, between 0 and 1; 0.95 by default.
    pub confidence: f64,
}

impl Bootstrap {
    /// 2,000 replicates, 95 %.
    pub fn seeded(seed: u64) -> Self {
        Bootstrap {
            seed,
            replicates: 2000,
            confidence: 0.95,
        }
    }

    /// Percentile intervals for all figures of an account.
    ///
    /// Each replicate strings together blocks of consecutive days, beginning at a day drawn evenly, of a length drawn
    /// from a geometric distribution, the last day followed by the first, until there are as many days as the
    /// account has with readings (Politis and Romano 1994, J Am Stat Assoc 89:1303–1313). Days without any reading
    /// are left out first. The mean length is [`mean_block_days`]. An interval reaches between the quantiles of the
    /// replicates at half of what the confidence leaves on either side, linear between order statistics.
    ///
    /// A figure that cannot be given has no interval, for the same reason; `Patchy` where a tenth of the replicates
    /// could not give it.
    ///
    /// # Errors
    /// `TooFewDays` with fewer than seven days with readings.
    pub fn intervals(&self, account: &Account) -> Result<Figures<Result<Interval, Refusal>>, Refusal> {
        let days: Vec<&Sums> = account
            .day_sums
            .iter()
            .filter(|sums| sums.0[WEIGHT] > 0.0)
            .collect();
        if days.len() < FEWEST_DAYS {
            return Err(Refusal::TooFewDays {
                have: days.len() as u64,
                need: FEWEST_DAYS as u64,
            });
        }
        let blocks = Blocks::new(&days);
        let base = ChaCha8Rng::seed_from_u64(self.seed);
        let replicates: Vec<[f64; Figures::COUNT]> = (0..self.replicates.max(1))
            .into_par_iter()
            .with_min_len(64)
            .map(|replicate| {
                let mut stream = base.clone();
                stream.set_stream(replicate.into());
                figures(&blocks.resample(&mut stream)).into_array()
            })
            .collect();
        let figures: Vec<Result<Interval, Refusal>> = (0..Figures::COUNT)
            .into_par_iter()
            .map(|figure| self.interval(&replicates, figure))
            .collect();
        let mut resampled = figures.into_iter();
        Ok(account
            .summary
            .map(|point| point.and(resampled.next().unwrap_or(Err(Refusal::Patchy)))))
    }

    fn interval(&self, replicates: &[[f64; Figures::COUNT]], figure: usize) -> Result<Interval, Refusal> {
        let mut values: Vec<f64> = replicates
            .iter()
            .map(|replicate| replicate[figure])
            .filter(|value| !value.is_nan())
            .collect();
        if (values.len() as f64) < FEWEST_GIVEN * replicates.len() as f64 {
            return Err(Refusal::Patchy);
        }
        values.sort_unstable_by(f64::total_cmp);
        let tail = (1.0 - self.confidence.clamp(0.0, 1.0)) / 2.0;
        let ends = (quantile(&values, tail), quantile(&values, 1.0 - tail));
        let (Some(lo), Some(hi)) = ends else {
            return Err(Refusal::Patchy);
        };
        Ok(Interval { lo, hi })
    }
}

/// Mean block length for a number of days: its cube root, at least three days.
///
/// The cube root is the rate at which the length should grow (Politis and White 2004, Econom Rev 23:53–70); three
/// days keep together what carries over from one day to the next in short windows, where a length estimated from the
/// data would itself be too unsure to use.
pub fn mean_block_days(days: usize) -> f64 {
    libm::cbrt(days as f64).max(3.0)
}

/// Days as running sums, so that a block of any length costs two reads.
struct Blocks {
    /// Sums of all days before each; one more than there are days.
    before: Vec<Sums>,
    /// 1 / ln(1 - 1/mean length).
    per_log: f64,
}

impl Blocks {
    fn new(days: &[&Sums]) -> Self {
        let mut before = Vec::with_capacity(days.len() + 1);
        let mut sum = Sums::default();
        before.push(sum);
        for day in days {
            sum.add(day);
            before.push(sum);
        }
        Blocks {
            before,
            per_log: 1.0 / libm::log1p(-1.0 / mean_block_days(days.len())),
        }
    }

    fn resample(&self, stream: &mut ChaCha8Rng) -> Sums {
        let days = self.before.len() - 1;
        let mut total = Sums::default();
        let mut wanted = days;
        while wanted > 0 {
            let start = below(stream.next_u64(), days);
            let length = self.length(stream.next_u64()).min(wanted);
            let end = start + length;
            self.add(&mut total, start, end.min(days));
            if end > days {
                self.add(&mut total, 0, end - days);
            }
            wanted -= length;
        }
        total
    }

    /// A geometric length, at least 1, from 64 random bits.
    fn length(&self, bits: u64) -> usize {
        // (0, 1]: 53 random bits, and never 0.
        let uniform = ((bits >> 11) + 1) as f64 / (1u64 << 53) as f64;
        1 + (libm::log(uniform) * self.per_log) as usize
    }

    #[inline]
    fn add(&self, total: &mut Sums, start: usize, end: usize) {
        let (from, to) = (&self.before[start].0, &self.before[end].0);
        for column in 0..COLUMNS {
            total.0[column] += to[column] - from[column];
        }
    }
}

/// An even draw below `count` from 64 random bits; uneven by less than one part in 2^47 for any window of days.
fn below(bits: u64, count: usize) -> usize {
    ((u128::from(bits) * count as u128) >> 64) as usize
}

//! Intervals for every summary figure by resampling days.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use crate::Refusal;
use crate::account::Account;
use crate::checks::CheckAccount;
use crate::quantile::quantile;
use crate::ranges::TargetGroup;
use crate::summary::{Figures, Summary, figures};
use crate::sums::{COLUMNS, Sums, WEIGHT};

/// Fewest days with readings for an interval.
pub const FEWEST_DAYS: usize = 7;
/// A figure that fewer than this share of the replicates can give has no interval.
pub(crate) const FEWEST_GIVEN: f64 = 0.9;

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
    /// are left out first. The mean length is [`mean_block_days`]. An interval reaches between two quantiles of the
    /// replicates, linear between order statistics: further out than the confidence itself says, since few days make a
    /// resampled spread too small (see `docs/methods/bootstrap.md`). With days alike in spread and 14 to 365 of them, a 95 % interval of a
    /// mean then holds the truth in 92 to 96 of 100 windows; of a figure that a few days make (time below 54 mg/dL)
    /// in about 75 at 14 days, 88 at 60 and 93 at a year.
    ///
    /// A figure that cannot be given has no interval, for the same reason; `Patchy` where a tenth of the replicates
    /// could not give it.
    ///
    /// # Errors
    /// `TooFewDays` with fewer than seven days with readings.
    pub fn intervals(&self, account: &Account) -> Result<Figures<Result<Interval, Refusal>>, Refusal> {
        self.of_days(&account.day_sums, account.group, account.summary)
    }

    /// The same of blood checks, by lived days with any.
    ///
    /// # Errors
    /// As [`intervals`](Self::intervals).
    pub fn check_intervals(
        &self,
        account: &CheckAccount,
    ) -> Result<Figures<Result<Interval, Refusal>>, Refusal> {
        self.of_days(&account.day_sums, account.group, account.summary)
    }

    fn of_days(
        &self,
        day_sums: &[Sums],
        group: TargetGroup,
        summary: Summary,
    ) -> Result<Figures<Result<Interval, Refusal>>, Refusal> {
        let days: Vec<&Sums> = day_sums.iter().filter(|sums| sums.0[WEIGHT] > 0.0).collect();
        if days.len() < FEWEST_DAYS {
            return Err(Refusal::TooFewDays {
                have: days.len() as u64,
                need: FEWEST_DAYS as u64,
            });
        }
        let blocks = Blocks::new(&days);
        let tail = tail(self.confidence, days.len());
        let base = ChaCha8Rng::seed_from_u64(self.seed);
        let replicates: Vec<[f64; Figures::COUNT]> = (0..self.replicates.max(1))
            .into_par_iter()
            .with_min_len(64)
            .map(|replicate| {
                let mut stream = base.clone();
                stream.set_stream(replicate.into());
                figures(&blocks.resample(&mut stream), group).into_array()
            })
            .collect();
        let figures: Vec<Result<Interval, Refusal>> = (0..Figures::COUNT)
            .into_par_iter()
            .map(|figure| interval(&replicates, figure, tail))
            .collect();
        let mut resampled = figures.into_iter();
        Ok(summary.map(|point| point.and(resampled.next().unwrap_or(Err(Refusal::Patchy)))))
    }
}

/// The interval of one figure, `tail` of the replicates beyond either end.
fn interval(replicates: &[[f64; Figures::COUNT]], figure: usize, tail: f64) -> Result<Interval, Refusal> {
    let mut values: Vec<f64> = replicates
        .iter()
        .map(|replicate| replicate[figure])
        .filter(|value| !value.is_nan())
        .collect();
    if (values.len() as f64) < FEWEST_GIVEN * replicates.len() as f64 {
        return Err(Refusal::Patchy);
    }
    values.sort_unstable_by(f64::total_cmp);
    let ends = (quantile(&values, tail), quantile(&values, 1.0 - tail));
    let (Some(lo), Some(hi)) = ends else {
        return Err(Refusal::Patchy);
    };
    Ok(Interval { lo, hi })
}

/// Share of the replicates to leave beyond either end, by the expanded percentile interval (Hesterberg 2015, Am Stat
/// 69:371–386), its correction for independent days carried over to blocks of mean length L:
///
/// * With q = 1 - 1/L, two days k apart fall in one block with probability q^k. The spread of resampled means of n
///   independent days is therefore too small by the factor `1 - (2 L - 1) / n`: the sum of q^|k| over all k, each
///   weighing 1/n, is what centring on the window's own mean takes away.
/// * As an estimate of a variance it has about `n (1 - q²) / (1 + q²)` degrees of freedom, n over the sum of squared
///   weights (Priestley 1981, Spectral Analysis and Time Series, 6.2.5), so that Student's t stands in for the normal.
fn tail(confidence: f64, days: usize) -> f64 {
    let (shrinkage, freedom) = spread(days);
    tail_of(confidence, shrinkage, freedom)
}

/// By how much the variance of resampled means of so many days is too small, as a factor, and the degrees of freedom it has.
pub(crate) fn spread(days: usize) -> (f64, f64) {
    let (days, mean) = (days as f64, mean_block_days(days));
    let q2 = (1.0 - 1.0 / mean) * (1.0 - 1.0 / mean);
    let freedom = (days * (1.0 - q2) / (1.0 + q2)).max(3.0);
    ((1.0 - (2.0 * mean - 1.0) / days).max(LEAST_SHRINKAGE), freedom)
}

/// With very few days the correction would leave nothing; it is held here, and such windows are refused elsewhere.
const LEAST_SHRINKAGE: f64 = 0.1;

pub(crate) fn tail_of(confidence: f64, shrinkage: f64, freedom: f64) -> f64 {
    let outer = (1.0 - confidence.clamp(0.0, 1.0)) / 2.0;
    normal_tail(student(normal_quantile(outer), freedom) / shrinkage.sqrt())
}

/// Probability beyond `z` of a standard normal.
pub(crate) fn normal_tail(z: f64) -> f64 {
    0.5 * libm::erfc(z / std::f64::consts::SQRT_2)
}

/// The point a standard normal exceeds with probability `outer`, from 0 to 8, by halving.
pub(crate) fn normal_quantile(outer: f64) -> f64 {
    let (mut below, mut above) = (0.0, 8.0);
    for _ in 0..60 {
        let middle = 0.5 * (below + above);
        if normal_tail(middle) > outer {
            below = middle
        } else {
            above = middle
        }
    }
    0.5 * (below + above)
}

/// The quantile of Student's t that belongs to the normal one, by the expansion of Fisher and Cornish (1960,
/// Technometrics 2:209); within 1 % at 97.5 % from three degrees of freedom.
fn student(z: f64, freedom: f64) -> f64 {
    let s = z * z;
    let first = (s + 1.0) / 4.0;
    let second = ((5.0 * s + 16.0) * s + 3.0) / 96.0;
    let third = (((3.0 * s + 19.0) * s + 17.0) * s - 15.0) / 384.0;
    z * (1.0 + (first + (second + third / freedom) / freedom) / freedom)
}

/// Mean block length for a number of days: its cube root, at least three days.
///
/// The cube root is the rate at which the length should grow (Politis and White 2004, Econom Rev 23:53–70); three
/// days keep together what carries over from one day to the next in short windows, where a length estimated from the
/// data would itself be too unsure to use.
pub fn mean_block_days(days: usize) -> f64 {
    libm::cbrt(days as f64).max(3.0)
}

/// How a replicate strings blocks of consecutive days together.
pub(crate) struct Draw {
    days: usize,
    /// 1 / ln(1 - 1/mean length).
    per_log: f64,
}

impl Draw {
    /// * `days`: how many, at least 1.
    pub(crate) fn new(days: usize) -> Self {
        Draw {
            days,
            per_log: 1.0 / libm::log1p(-1.0 / mean_block_days(days)),
        }
    }

    /// Hands over as many days as there are, as ranges `[start, end)` of consecutive ones.
    #[inline]
    pub(crate) fn each(&self, stream: &mut ChaCha8Rng, mut take: impl FnMut(usize, usize)) {
        let mut wanted = self.days;
        while wanted > 0 {
            let start = below(stream.next_u64(), self.days);
            let length = self.length(stream.next_u64()).min(wanted);
            let end = start + length;
            take(start, end.min(self.days));
            if end > self.days {
                take(0, end - self.days);
            }
            wanted -= length;
        }
    }

    /// A geometric length, at least 1, from 64 random bits.
    fn length(&self, bits: u64) -> usize {
        // (0, 1]: 53 random bits, and never 0.
        let uniform = ((bits >> 11) + 1) as f64 / (1u64 << 53) as f64;
        1 + (libm::log(uniform) * self.per_log) as usize
    }
}

/// Days as running sums, so that a block of any length costs two reads.
struct Blocks {
    /// Sums of all days before each; one more than there are days.
    before: Vec<Sums>,
    draw: Draw,
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
            draw: Draw::new(days.len()),
        }
    }

    fn resample(&self, stream: &mut ChaCha8Rng) -> Sums {
        let mut total = Sums::default();
        self.draw
            .each(stream, |start, end| self.add(&mut total, start, end));
        total
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
pub(crate) fn below(bits: u64, count: usize) -> usize {
    ((u128::from(bits) * count as u128) >> 64) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each replicate again, day by day.
    #[test]
    fn blocks_add_up_to_their_days() {
        let days: Vec<Sums> = (0..23)
            .map(|day| {
                let mut sums = Sums::default();
                for (column, sum) in sums.0.iter_mut().enumerate() {
                    *sum = f64::from(day) * 10.0 + column as f64;
                }
                sums
            })
            .collect();
        let blocks = Blocks::new(&days.iter().collect::<Vec<_>>());
        for stream in 0..200 {
            let mut random = ChaCha8Rng::seed_from_u64(5);
            random.set_stream(stream);
            let mut again = random.clone();
            let got = blocks.resample(&mut random);
            let mut want = Sums::default();
            let mut wanted = days.len();
            while wanted > 0 {
                let start = below(again.next_u64(), days.len());
                let length = blocks.draw.length(again.next_u64()).min(wanted);
                (start..start + length).for_each(|day| want.add(&days[day % days.len()]));
                wanted -= length;
            }
            for (got, want) in got.0.iter().zip(want.0) {
                assert!((got - want).abs() < 1e-9, "{got} {want}");
            }
        }
    }

    #[test]
    fn lengths_are_geometric_with_the_stated_mean() {
        let day = Sums::default();
        let blocks = Blocks::new(&vec![&day; 1000]);
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let lengths: Vec<usize> = (0..100_000)
            .map(|_| blocks.draw.length(random.next_u64()))
            .collect();
        let mean = lengths.iter().sum::<usize>() as f64 / 100_000.0;
        let ones = lengths.iter().filter(|&&length| length == 1).count() as f64 / 100_000.0;
        // The standard deviation of such a length is just below its mean of 10: 0.03 for the mean of 100,000.
        assert!((mean - 10.0).abs() < 0.15, "{mean}");
        assert!((ones - 0.1).abs() < 0.005, "{ones}");
        assert_eq!(blocks.draw.length(u64::MAX), 1);
        assert!(blocks.draw.length(0) < 1000);
        assert_eq!((below(0, 7), below(u64::MAX, 7)), (0, 6));
    }

    /// Student's t from the usual tables at 97.5 %; tails from scipy.stats (norm.cdf, t.ppf) by the same rule.
    #[test]
    fn few_days_reach_further_out() {
        let z = normal_quantile(0.025);
        assert!((z - 1.959_963_985).abs() < 1e-8);
        for (freedom, want) in [
            (3.0, 3.182),
            (5.0, 2.571),
            (10.0, 2.228),
            (30.0, 2.042),
            (120.0, 1.980),
        ] {
            assert!((student(z, freedom) / want - 1.0).abs() < 0.01, "{freedom}");
        }
        for (days, want) in [
            (14, 0.000_85),
            (30, 0.007_78),
            (60, 0.012_57),
            (90, 0.014_97),
            (365, 0.020_58),
        ] {
            assert!(
                (tail(0.95, days) / want - 1.0).abs() < 0.03,
                "{days}: {}",
                tail(0.95, days)
            );
        }
        assert!((tail(0.95, 50_000) - 0.025).abs() < 0.001);
    }

    #[test]
    fn blocks_are_at_least_three_days_and_grow_with_the_cube_root() {
        assert!((mean_block_days(7) - 3.0).abs() < 1e-12);
        assert!((mean_block_days(1000) - 10.0).abs() < 1e-12);
    }
}

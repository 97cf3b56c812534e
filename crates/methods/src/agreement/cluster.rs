//! How sure the means over pairs are: resampling sensors, not pairs.

use std::collections::BTreeMap;

use interstice_glucose::Second;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::binomial::student_quantile;
use super::measures::enough;
use super::pair::Pair;
use super::rates::CONFIDENCE;
use crate::Refusal;
use crate::bootstrap::{Interval, below, normal_tail};
use crate::quantile::quantile;

/// Fewest sensors, or else days, or else pairs, that are resampled.
pub const FEWEST_SENSORS: usize = 5;

/// What was drawn again and again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ResampledBy {
    /// Whole sensors: the interval tells of sensors like these.
    Sensors,
    /// Lived days with all their pairs, for want of sensors: the interval tells of these sensors on other days, and not
    /// of the next sensor.
    Days,
    /// Single pairs, for want of days: the interval takes the pairs as independent and is likely too narrow.
    Pairs,
}

/// Intervals of the means over pairs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resampled {
    /// What was drawn.
    pub by: ResampledBy,
    /// How many of them there are.
    pub clusters: u64,
    /// Of the mean absolute relative difference, percent.
    pub mard_percent: Interval,
    /// Of the median absolute relative difference, percent.
    pub median_ard_percent: Interval,
    /// Of the mean absolute difference, mg/dL.
    pub mad_mg_dl: Interval,
    /// Of the mean difference, mg/dL.
    pub bias_mg_dl: Interval,
    /// Of the mean relative difference, percent.
    pub relative_bias_percent: Interval,
}

/// A bootstrap of clusters of pairs.
///
/// Pairs of one sensor share its error, so that a hundred pairs from two sensors say less than twenty from ten. Each
/// replicate draws as many sensors as there are, with replacement, and takes all their pairs (recommended for sensors
/// by Eichenlaub and others 2022, Diabetes Technol Ther, doi 10.1089/dia.2022.0331). With fewer than
/// [`FEWEST_SENSORS`] sensors lived days are drawn instead, with fewer days single pairs; the answer says which.
///
/// The interval lies between two quantiles of the replicates (type 7), further out than 2.5 and 97.5 %, since the
/// spread of replicates of few clusters is too small: by the expanded percentile interval (Hesterberg 2015, Am Stat
/// 69:371–386) at Φ(−t √(c/(c − 1))) for c clusters, t being Student's quantile with c − 1 degrees of freedom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClusterBootstrap {
    /// Seed; the same seed gives the same intervals on any machine and number of threads.
    pub seed: u64,
    /// Replicates, at least 1; 2,000 by default.
    pub replicates: u32,
}

/// One pair's part in every mean.
#[derive(Clone, Copy)]
struct Row {
    cluster: usize,
    ard: f64,
    difference: f64,
    relative: f64,
}

/// Means of one replicate.
type Means = [f64; 5];

impl ClusterBootstrap {
    /// 2,000 replicates.
    pub fn seeded(seed: u64) -> Self {
        ClusterBootstrap {
            seed,
            replicates: 2000,
        }
    }

    /// 95 % intervals.
    ///
    /// # Errors
    /// `TooFewPairs` with fewer than [`super::FEWEST_PAIRS`].
    pub fn intervals(&self, pairs: &[Pair]) -> Result<Resampled, Refusal> {
        enough(pairs.len())?;
        let (by, numbers, clusters) = clusters(pairs);
        let rows = rows(pairs, &numbers);
        let base = ChaCha8Rng::seed_from_u64(self.seed);
        let replicates: Vec<Means> = (0..self.replicates.max(1))
            .into_par_iter()
            .with_min_len(64)
            .map(|replicate| {
                let mut stream = base.clone();
                stream.set_stream(replicate.into());
                means(&rows, &draw(&mut stream, clusters))
            })
            .collect();
        let tail = tail(clusters);
        let ends = |figure: usize| interval(&replicates, figure, tail);
        Ok(Resampled {
            by,
            clusters: clusters as u64,
            mard_percent: ends(0),
            median_ard_percent: ends(1),
            mad_mg_dl: ends(2),
            bias_mg_dl: ends(3),
            relative_bias_percent: ends(4),
        })
    }
}

/// What is drawn, the cluster of each pair, and how many clusters there are.
fn clusters(pairs: &[Pair]) -> (ResampledBy, Vec<usize>, usize) {
    let (sensors, count) = numbered(pairs.iter().map(|pair| pair.sensor as Second));
    if count >= FEWEST_SENSORS {
        return (ResampledBy::Sensors, sensors, count);
    }
    let (days, count) = numbered(pairs.iter().map(|pair| pair.wall.day()));
    if count >= FEWEST_SENSORS {
        return (ResampledBy::Days, days, count);
    }
    (ResampledBy::Pairs, (0..pairs.len()).collect(), pairs.len())
}

/// Equal keys share a number, in ascending order of the keys.
fn numbered(keys: impl Iterator<Item = Second>) -> (Vec<usize>, usize) {
    let keys: Vec<Second> = keys.collect();
    let mut numbers: BTreeMap<Second, usize> = keys.iter().map(|&key| (key, 0)).collect();
    for (number, place) in numbers.values_mut().enumerate() {
        *place = number;
    }
    (keys.iter().map(|key| numbers[key]).collect(), numbers.len())
}

/// Ascending by absolute relative difference, so that a median is one walk.
fn rows(pairs: &[Pair], numbers: &[usize]) -> Vec<Row> {
    let mut rows: Vec<Row> = pairs
        .iter()
        .zip(numbers)
        .map(|(pair, &cluster)| Row {
            cluster,
            ard: pair.relative_percent().abs(),
            difference: pair.difference_mg_dl(),
            relative: pair.relative_percent(),
        })
        .collect();
    rows.sort_by(|a, b| a.ard.total_cmp(&b.ard));
    rows
}

/// How often each cluster was drawn.
fn draw(stream: &mut ChaCha8Rng, clusters: usize) -> Vec<u32> {
    let mut times = vec![0; clusters];
    for _ in 0..clusters {
        times[below(stream.next_u64(), clusters)] += 1;
    }
    times
}

fn means(rows: &[Row], times: &[u32]) -> Means {
    let mut total = 0_u64;
    let mut sums = [0.0; 4];
    for row in rows {
        let weight = times[row.cluster];
        total += u64::from(weight);
        let weight = f64::from(weight);
        sums[0] += weight * row.ard;
        sums[1] += weight * row.difference.abs();
        sums[2] += weight * row.difference;
        sums[3] += weight * row.relative;
    }
    let n = total as f64;
    let [ard, distance, difference, relative] = sums.map(|sum| sum / n);
    [ard, median(rows, times, total), distance, difference, relative]
}

/// The middle of the rows drawn, or the mean of the two middle ones.
fn median(rows: &[Row], times: &[u32], total: u64) -> f64 {
    let (low, high) = ((total.saturating_sub(1)) / 2, total / 2);
    let (mut before, mut lower) = (0, None);
    for row in rows {
        before += u64::from(times[row.cluster]);
        if before > low && lower.is_none() {
            lower = Some(row.ard);
        }
        if before > high {
            return 0.5 * (lower.unwrap_or(row.ard) + row.ard);
        }
    }
    lower.unwrap_or_default()
}

fn interval(replicates: &[Means], figure: usize, tail: f64) -> Interval {
    let mut values: Vec<f64> = replicates.iter().map(|means| means[figure]).collect();
    values.sort_unstable_by(f64::total_cmp);
    Interval {
        lo: quantile(&values, tail).unwrap_or_default(),
        hi: quantile(&values, 1.0 - tail).unwrap_or_default(),
    }
}

/// Share of the replicates to leave beyond either end.
fn tail(clusters: usize) -> f64 {
    let c = clusters as f64;
    let t = student_quantile(1.0 - (1.0 - CONFIDENCE) / 2.0, c - 1.0);
    normal_tail(t * libm::sqrt(c / (c - 1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_glucose::{DAY_S, WallTime};

    fn pair(sensor: usize, day: Second, blood: f64, reading: f64) -> Pair {
        Pair {
            sensor,
            wall: WallTime(day * DAY_S + 3600),
            ..Pair::of(blood, reading)
        }
    }

    #[test]
    fn what_is_resampled_is_said() {
        let bootstrap = ClusterBootstrap::seeded(1);
        let of = |sensors: usize, days: Second| {
            let pairs: Vec<Pair> = (0..40)
                .map(|i| pair(i % sensors, i as Second % days, 100.0, 100.0 + i as f64))
                .collect();
            let found = bootstrap.intervals(&pairs).unwrap();
            (found.by, found.clusters)
        };
        assert_eq!(of(6, 20), (ResampledBy::Sensors, 6));
        assert_eq!(of(4, 20), (ResampledBy::Days, 20));
        assert_eq!(of(2, 3), (ResampledBy::Pairs, 40));
        let few = [pair(0, 0, 100.0, 90.0); 4];
        assert_eq!(
            bootstrap.intervals(&few),
            Err(Refusal::TooFewPairs { have: 4, need: 5 })
        );
    }

    /// Each sensor reads one value off by its own amount: the mean of a replicate is then a mean over drawn sensors.
    #[test]
    fn sensors_are_drawn_whole() {
        let pairs: Vec<Pair> = (0..60)
            .map(|i| pair(i % 6, 0, 100.0, if i % 6 < 3 { 90.0 } else { 110.0 }))
            .collect();
        let found = ClusterBootstrap::seeded(3).intervals(&pairs).unwrap();
        assert!((found.mard_percent.lo - 10.0).abs() < 1e-12 && (found.mard_percent.hi - 10.0).abs() < 1e-12);
        // All six drawn from one side, in a 64th of the replicates each, lies within the interval.
        assert!(
            (found.bias_mg_dl.hi - 10.0).abs() < 1e-9,
            "{}",
            found.bias_mg_dl.hi
        );
        let alone: Vec<Pair> = pairs
            .iter()
            .map(|p| Pair { sensor: 0, ..*p })
            .enumerate()
            .map(|(i, p)| Pair {
                wall: WallTime(i as Second * DAY_S),
                ..p
            })
            .collect();
        let narrow = ClusterBootstrap::seeded(3).intervals(&alone).unwrap();
        assert!(narrow.bias_mg_dl.hi < 4.0, "{}", narrow.bias_mg_dl.hi);
    }

    /// Tails by scipy 1.17.1: norm.sf(t.ppf(0.975, c - 1) * sqrt(c / (c - 1))).
    #[test]
    fn few_clusters_reach_further_out() {
        for (clusters, want) in TAILS {
            let got = tail(clusters);
            assert!((got / want - 1.0).abs() < 1e-6, "{clusters}: {got}");
        }
    }

    const TAILS: [(usize, f64); 4] = [
        (5, 0.000_954_100_551_882_5),
        (10, 0.008_550_639_024_406_4),
        (18, 0.014_966_254_465_740_9),
        (100, 0.023_064_387_207_087_6),
    ];

    #[test]
    fn the_median_of_what_was_drawn() {
        let rows: Vec<Row> = [1.0, 2.0, 4.0, 8.0]
            .iter()
            .enumerate()
            .map(|(cluster, &ard)| Row {
                cluster,
                ard,
                difference: 0.0,
                relative: 0.0,
            })
            .collect();
        for (times, want) in [
            ([1, 1, 1, 1], 3.0),
            ([3, 0, 0, 1], 1.0),
            ([2, 0, 0, 2], 4.5),
            ([0, 1, 1, 1], 4.0),
        ] {
            let got = median(&rows, &times, times.iter().map(|&t| u64::from(t)).sum());
            assert!((got - want).abs() < 1e-12, "{times:?} {got}");
        }
    }
}

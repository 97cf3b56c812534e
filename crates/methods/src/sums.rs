//! Sufficient statistics of a day, from which every summary figure of any set of days follows by addition.

use std::ops::Range;

use interstice_glucose::Censor;

use crate::columns::Columns;
use crate::day::LivedDay;
use crate::level::LevelTable;
use crate::ranges::{BANDS, BandTimes};
use crate::recording::Recording;
use crate::variability::{against_earlier, against_yesterday, mage_of_day};

/// Smallest part of a lived day that readings must cover for its MAGE to count: the consensus share.
pub(crate) const COVERED_PART: f64 = 0.7;

/// Weighted sums. Weights are seconds, x is mg/dL less the centre of [`crate::level`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sums(pub(crate) [f64; COLUMNS]);

/// Columns of [`Sums`].
pub(crate) const COLUMNS: usize = 22;
pub(crate) const WEIGHT: usize = 0;
// 1: weight².
pub(crate) const X: usize = 2;
pub(crate) const XX: usize = 3;
pub(crate) const LOW_RISK: usize = 4;
pub(crate) const HIGH_RISK: usize = 5;
pub(crate) const BAND: usize = 6;
pub(crate) const MODD_WEIGHT: usize = 13;
pub(crate) const MODD: usize = 14;
pub(crate) const CONGA_WEIGHT: usize = 15;
pub(crate) const CONGA_WEIGHT2: usize = 16;
pub(crate) const CONGA: usize = 17;
pub(crate) const CONGA_SQUARES: usize = 18;
pub(crate) const MAGE_DAYS: usize = 19;
pub(crate) const MAGE: usize = 20;
pub(crate) const COVERED_DAYS: usize = 21;

impl Default for Sums {
    fn default() -> Self {
        Sums([0.0; COLUMNS])
    }
}

impl Sums {
    #[inline]
    pub(crate) fn add(&mut self, other: &Sums) {
        for (sum, term) in self.0.iter_mut().zip(other.0) {
            *sum += term;
        }
    }

    pub(crate) fn band_seconds(&self) -> BandTimes {
        let mut bands = [0.0; BANDS];
        bands.copy_from_slice(&self.0[BAND..BAND + BANDS]);
        BandTimes(bands)
    }
}

/// One day's sums and what does not add up.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct DaySums {
    pub(crate) sums: Sums,
    pub(crate) received: u32,
    pub(crate) censored: [u32; 2],
    /// Lowest and highest reading, mg/dL.
    pub(crate) extremes: Option<(f64, f64)>,
    pub(crate) mage: Option<f64>,
}

/// What a thread keeps from day to day.
#[derive(Debug, Default)]
pub(crate) struct Scratch {
    /// The last day filled in.
    pub(crate) columns: Columns,
    /// Readings of each level; all zero between days.
    counts: Vec<u32>,
}

/// Everything a day's readings have to say.
pub(crate) fn of_day(
    recording: &Recording<'_>,
    day: &LivedDay,
    range: Range<usize>,
    scratch: &mut Scratch,
) -> DaySums {
    if range.is_empty() {
        return DaySums::default();
    }
    scratch.columns.fill(recording, range);
    let mut of = values(recording, scratch);
    let columns = &scratch.columns;
    let yesterday = against_yesterday(recording, day, columns);
    let hour = against_earlier(recording, columns, 3600);
    of.sums.0[MODD_WEIGHT] = yesterday.seconds;
    of.sums.0[MODD] = yesterday.absolute;
    of.sums.0[CONGA_WEIGHT] = hour.seconds;
    of.sums.0[CONGA_WEIGHT2] = hour.seconds2;
    of.sums.0[CONGA] = hour.sum;
    of.sums.0[CONGA_SQUARES] = hour.squares;
    if of.sums.0[WEIGHT] >= COVERED_PART * day.whole_s as f64 {
        of.sums.0[COVERED_DAYS] = 1.0;
        let variance = weighted_variance(&of.sums.0[WEIGHT..=XX]);
        of.mage = variance.and_then(|variance| mage_of_day(columns, variance.sqrt()));
        if let Some(mage) = of.mage {
            of.sums.0[MAGE_DAYS] = 1.0;
            of.sums.0[MAGE] = mage;
        }
    }
    of
}

/// Sums over the values alone: by level where all readings weigh the same and the levels are few beside them.
fn values(recording: &Recording<'_>, scratch: &mut Scratch) -> DaySums {
    let table = &recording.table;
    let columns = &scratch.columns;
    let levels = &recording.level[columns.range.clone()];
    let mut tally = Tally::default();
    match columns.even_s {
        Some(seconds) if table.len() <= 2 * levels.len() => {
            scratch.counts.resize(table.len(), 0);
            for &level in levels {
                scratch.counts[level as usize] += 1;
            }
            for (level, count) in scratch
                .counts
                .iter_mut()
                .enumerate()
                .filter(|(_, count)| **count > 0)
            {
                tally.add(table, level, std::mem::take(count), seconds);
            }
        }
        _ => {
            for (&level, &seconds) in levels.iter().zip(&columns.seconds) {
                tally.add(table, level as usize, 1, seconds);
            }
        }
    }
    tally.close()
}

/// Sums under way.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Tally {
    received: u32,
    weight: u64,
    weight2: u64,
    x: f64,
    xx: f64,
    low_risk: f64,
    high_risk: f64,
    bands: [u64; BANDS],
    censored: [u32; 2],
    lowest: f64,
    highest: f64,
}

impl Default for Tally {
    fn default() -> Self {
        Tally {
            received: 0,
            weight: 0,
            weight2: 0,
            x: 0.0,
            xx: 0.0,
            low_risk: 0.0,
            high_risk: 0.0,
            bands: [0; BANDS],
            censored: [0; 2],
            lowest: f64::INFINITY,
            highest: f64::NEG_INFINITY,
        }
    }
}

impl Tally {
    /// `count` readings of one level which stand for `seconds` each.
    #[inline]
    pub(crate) fn add(&mut self, table: &LevelTable, level: usize, count: u32, seconds: u32) {
        let row = &table.rows[level];
        let weight = u64::from(count) * u64::from(seconds);
        let w = weight as f64;
        self.received += count;
        self.weight += weight;
        self.weight2 += weight * u64::from(seconds);
        self.x += w * row.x;
        self.xx += w * row.xx;
        self.low_risk += w * row.low_risk;
        self.high_risk += w * row.high_risk;
        self.bands[table.band[level].index()] += weight;
        self.lowest = self.lowest.min(table.mg_per_dl[level]);
        self.highest = self.highest.max(table.mg_per_dl[level]);
        match table.censor[level] {
            Censor::None => {}
            Censor::Below => self.censored[0] += count,
            Censor::Above => self.censored[1] += count,
        }
    }

    pub(crate) fn close(self) -> DaySums {
        let mut sums = Sums::default();
        let columns = [
            self.weight as f64,
            self.weight2 as f64,
            self.x,
            self.xx,
            self.low_risk,
            self.high_risk,
        ];
        sums.0[..BAND].copy_from_slice(&columns);
        for (column, seconds) in sums.0[BAND..].iter_mut().zip(self.bands) {
            *column = seconds as f64;
        }
        let extremes = Some((self.lowest, self.highest));
        DaySums {
            sums,
            received: self.received,
            censored: self.censored,
            extremes,
            mage: None,
        }
    }
}

/// Unbiased variance under weights: `sum w (x - m)² / (sum w - sum w² / sum w)`, which with equal weights is the
/// variance with n - 1. `sums` is weight, weight², w x, w x². `None` of fewer than two readings.
pub(crate) fn weighted_variance(sums: &[f64]) -> Option<f64> {
    let &[weight, weight2, x, xx] = sums else {
        return None;
    };
    let free = weight - weight2 / weight;
    // A single reading leaves only rounding error; two equal ones leave half the weight.
    (weight > 0.0 && free > 1e-9 * weight).then(|| ((xx - x * x / weight) / free).max(0.0))
}

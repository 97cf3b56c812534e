//! Sufficient statistics of a day, from which every summary figure of any set of days follows by addition.

use std::ops::Range;

use interstice_glucose::Censor;

use crate::day::LivedDay;
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

/// Everything a day's readings have to say.
pub(crate) fn of_day(recording: &Recording<'_>, day: &LivedDay, range: Range<usize>) -> DaySums {
    if range.is_empty() {
        return DaySums::default();
    }
    let mut of = values(recording, range.clone());
    let yesterday = against_yesterday(recording, day, range.clone());
    let hour = against_earlier(recording, range.clone(), 3600);
    of.sums.0[MODD_WEIGHT] = yesterday.seconds;
    of.sums.0[MODD] = yesterday.absolute;
    of.sums.0[CONGA_WEIGHT] = hour.seconds;
    of.sums.0[CONGA_WEIGHT2] = hour.seconds2;
    of.sums.0[CONGA] = hour.sum;
    of.sums.0[CONGA_SQUARES] = hour.squares;
    if of.sums.0[WEIGHT] >= COVERED_PART * day.whole_s as f64 {
        of.sums.0[COVERED_DAYS] = 1.0;
        let variance = weighted_variance(&of.sums.0[WEIGHT..=XX]);
        of.mage = variance.and_then(|variance| mage_of_day(recording, range, variance.sqrt()));
        if let Some(mage) = of.mage {
            of.sums.0[MAGE_DAYS] = 1.0;
            of.sums.0[MAGE] = mage;
        }
    }
    of
}

/// Sums over the values alone.
fn values(recording: &Recording<'_>, range: Range<usize>) -> DaySums {
    let table = &recording.table;
    let mut of = DaySums {
        received: u32::try_from(range.len()).unwrap_or(u32::MAX),
        ..DaySums::default()
    };
    let (mut weight, mut weight2) = (0u64, 0u64);
    let (mut x, mut xx, mut low_risk, mut high_risk) = (0.0, 0.0, 0.0, 0.0);
    let mut bands = [0u64; BANDS];
    let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
    for (part, interval_s) in recording.stretches(range) {
        for i in part {
            let level = recording.level[i] as usize;
            let seconds = recording.weight(i, interval_s);
            let row = &table.rows[level];
            let w = f64::from(seconds);
            weight += u64::from(seconds);
            weight2 += u64::from(seconds) * u64::from(seconds);
            x += w * row.x;
            xx += w * row.xx;
            low_risk += w * row.low_risk;
            high_risk += w * row.high_risk;
            bands[table.band[level].index()] += u64::from(seconds);
            lowest = lowest.min(row.x);
            highest = highest.max(row.x);
            match table.censor[level] {
                Censor::None => {}
                Censor::Below => of.censored[0] += 1,
                Censor::Above => of.censored[1] += 1,
            }
        }
    }
    of.extremes = Some((
        lowest + crate::level::CENTRE_MG_PER_DL,
        highest + crate::level::CENTRE_MG_PER_DL,
    ));
    let columns = [weight as f64, weight2 as f64, x, xx, low_risk, high_risk];
    of.sums.0[..BAND].copy_from_slice(&columns);
    for (column, seconds) in of.sums.0[BAND..].iter_mut().zip(bands) {
        *column = seconds as f64;
    }
    of
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

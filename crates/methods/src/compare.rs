//! Two sets of lived days held against each other: the consensus figures, the nights, and what was logged.
//!
//! The days may be those of two windows, or those of a kind against others. A difference says that the two were not
//! alike; what made it cannot be told from days that nobody drew by lot.

mod bootstrap;
mod days;

pub use days::{Days, LoggedADay, NightMinutes};

use crate::bootstrap::{Bootstrap, FEWEST_DAYS, Interval};
use crate::patterns::adjusted;
use crate::ranges::{Range, TargetGroup};
use crate::refusal::Refusal;
use crate::summary::{Sufficiency, figures};
use crate::sums::{COLUMNS, Sums, WEIGHT};

use days::{COUNTS, LOGGED, NIGHT_BANDS, NIGHT_X, Row};

/// Seconds of a week.
const WEEK_S: f64 = 604_800.0;

/// What is compared of the readings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Measured {
    /// Time in the target range, percent.
    InRange,
    /// Time from 70 to 140 mg/dL, percent.
    Tight,
    /// Time below the target range, percent.
    Below,
    /// Time below 54 mg/dL, percent.
    VeryLow,
    /// Time above the target range, percent.
    Above,
    /// Time above 250 mg/dL, percent.
    VeryHigh,
    /// Mean, mg/dL.
    Mean,
    /// Standard deviation, mg/dL.
    Sd,
    /// Coefficient of variation, percent.
    Cv,
    /// Glucose management indicator, percent.
    Gmi,
    /// Low episodes a week of readings.
    Lows,
    /// Of these, of level 2.
    DeepLows,
    /// High episodes a week of readings.
    Highs,
    /// Mean of the night, mg/dL.
    NightMean,
    /// Time in the target range at night, percent.
    NightInRange,
    /// Time below it at night, percent.
    NightBelow,
}

impl Measured {
    /// All, in the order they are told in.
    pub const ALL: [Measured; 16] = [
        Measured::InRange,
        Measured::Tight,
        Measured::Below,
        Measured::VeryLow,
        Measured::Above,
        Measured::VeryHigh,
        Measured::Mean,
        Measured::Sd,
        Measured::Cv,
        Measured::Gmi,
        Measured::Lows,
        Measured::DeepLows,
        Measured::Highs,
        Measured::NightMean,
        Measured::NightInRange,
        Measured::NightBelow,
    ];
}

/// One figure of both.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compared {
    /// Of the former days.
    pub before: Option<f64>,
    /// Of the latter.
    pub after: Option<f64>,
    /// The latter less the former, or why there is none.
    pub difference: Result<f64, Refusal>,
    /// Its interval, or why there is none.
    pub interval: Result<Interval, Refusal>,
    /// How often chance would bring as much, everything compared allowed for.
    pub p: Option<f64>,
    /// Days behind it, of either.
    pub days: [u32; 2],
}

/// Two sets of days, compared.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// How much there is to go on, of either.
    pub sufficiency: [Sufficiency; 2],
    /// The figures, in the order of [`Measured::ALL`]; empty where there is too little of either.
    pub figures: Vec<Compared>,
    /// What was logged, in the order it was handed in; empty where there is too little of either.
    pub logged: Vec<Compared>,
}

/// Measured two sets of days, as places in `days`, each in ascending order.
///
/// A difference is the figure of `after` less that of `before`. Its interval: each set is resampled apart from the other by the
/// stationary bootstrap of [`Bootstrap::intervals`], its days strung together in their order as if they followed one
/// another; the interval lies between two quantiles of the differences of replicates, as far out as the expanded percentile
/// interval of two samples asks for (see `docs/methods/compare.md`). The probabilities are those of Student's t by Welch (1947,
/// Biometrika 34:28) on the bootstrap's variances, made fit for all figures together after Benjamini and Hochberg (1995, J R Stat
/// Soc B 57:289).
///
/// Nothing is told unless either set has 14 lived days of which 70 % is read. Something logged takes seven days of it
/// on either side. A day in both sets counts in both.
pub fn compare(days: &Days, before: &[usize], after: &[usize], bootstrap: &Bootstrap) -> Comparison {
    let sides = [before, after];
    let sufficiency = sides.map(|side| days.sufficiency(side));
    let read = sides.map(|side| days.read(side));
    let enough =
        sufficiency.iter().all(|of| of.verdict.is_ok()) && read.iter().all(|of| of.len() >= FEWEST_DAYS);
    if !enough {
        return Comparison {
            sufficiency,
            figures: Vec::new(),
            logged: Vec::new(),
        };
    }
    let spread = bootstrap::spread(days, &read, bootstrap);
    let points = read.each_ref().map(|read| days.all(read));
    let mut told: Vec<Compared> = (0..days.figures())
        .map(|place| {
            let counted = read.each_ref().map(|read| days.counted(read, place));
            let spread = if days.is_sampled(place) {
                spread.of(place)
            } else {
                Err(Refusal::NotSampled)
            };
            one([points[0][place], points[1][place]], counted, spread)
        })
        .collect();
    allow_for_all(&mut told);
    let logged = told.split_off(Measured::ALL.len());
    Comparison {
        sufficiency,
        figures: told,
        logged,
    }
}

fn one(points: [f64; 2], days: [u32; 2], spread: Result<bootstrap::Spread, Refusal>) -> Compared {
    let [before, after] = points.map(|point| (!point.is_nan()).then_some(point));
    let have = u64::from(days[0].min(days[1]));
    let need = FEWEST_DAYS as u64;
    let difference = match before.zip(after) {
        _ if have < need => Err(Refusal::TooFewLogged { have, need }),
        Some((before, after)) => Ok(after - before),
        None => Err(Refusal::Patchy),
    };
    let spread = difference.and(spread);
    Compared {
        before,
        after,
        difference,
        interval: spread.map(|spread| spread.interval),
        p: difference
            .ok()
            .zip(spread.ok())
            .map(|(difference, spread)| spread.p(difference)),
        days,
    }
}

/// Probabilities made fit for everything compared at once.
fn allow_for_all(told: &mut [Compared]) {
    let p: Vec<f64> = told.iter().filter_map(|of| of.p).collect();
    let mut fit = adjusted(&p).into_iter();
    for of in told.iter_mut().filter(|of| of.p.is_some()) {
        of.p = fit.next();
    }
}

/// All figures of a row of sums, NaN where there is none: the readings', then what was logged.
fn of_row(row: &[f64], scales: &[f64], group: TargetGroup) -> Vec<f64> {
    let mut sums = Sums::default();
    sums.0.copy_from_slice(&row[..COLUMNS]);
    let of = figures(&sums, group);
    let ratio = |sum: f64, of: f64| if of > 0.0 { sum / of } else { f64::NAN };
    let weekly = |place: usize| WEEK_S * ratio(row[COUNTS + place], row[WEIGHT]);
    let night = crate::ranges::BandTimes(std::array::from_fn(|band| row[NIGHT_BANDS + band]));
    let night_share = |ranges: &[Range]| {
        let of: f64 = ranges.iter().map(|&range| night.range_for(group, range)).sum();
        100.0 * ratio(of, night.total())
    };
    let mut all: Vec<f64> = Measured::ALL
        .iter()
        .map(|which| match which {
            Measured::InRange => of.in_range_percent,
            Measured::Tight => of.tight_range_percent,
            Measured::Below => of.below_percent,
            Measured::VeryLow => of.very_low_percent,
            Measured::Above => of.above_percent,
            Measured::VeryHigh => of.very_high_percent,
            Measured::Mean => of.mean_mg_dl,
            Measured::Sd => of.sd_mg_dl,
            Measured::Cv => of.cv_percent,
            Measured::Gmi => of.gmi_percent,
            Measured::Lows => weekly(0),
            Measured::DeepLows => weekly(1),
            Measured::Highs => weekly(2),
            Measured::NightMean => ratio(row[NIGHT_X], night.total()),
            Measured::NightInRange => night_share(&[Range::InRange]),
            Measured::NightBelow => night_share(&[Range::VeryLow, Range::Low]),
        })
        .collect();
    let logged = row[LOGGED..].chunks_exact(2).zip(scales);
    all.extend(logged.map(|(pair, scale)| scale * ratio(pair[0], pair[1])));
    all
}

impl Days {
    /// How much there is to go on in some of the days.
    fn sufficiency(&self, side: &[usize]) -> Sufficiency {
        let rows = side.iter().map(|&place| &self.rows[place]);
        let sum = |of: fn(&Row) -> f64| rows.clone().map(of).sum::<f64>();
        let with = rows.clone().filter(|row| row.received > 0).count();
        Sufficiency::new(
            rows.clone().map(|row| u64::from(row.received)).sum(),
            sum(|row| row.expected),
            sum(|row| row.sums[WEIGHT]),
            sum(|row| row.seconds),
            sum(|row| row.part),
            u32::try_from(with).unwrap_or(u32::MAX),
        )
    }

    /// Those with readings.
    fn read(&self, side: &[usize]) -> Vec<usize> {
        let has = |&place: &usize| self.rows[place].sums[WEIGHT] > 0.0;
        side.iter().copied().filter(has).collect()
    }

    /// The figures over some days.
    fn all(&self, side: &[usize]) -> Vec<f64> {
        let mut row = vec![0.0; self.columns()];
        for &place in side {
            for (sum, value) in row.iter_mut().zip(&self.rows[place].sums) {
                *sum += value;
            }
        }
        of_row(&row, &self.scales, self.group)
    }

    /// How many of some days a figure rests on.
    fn counted(&self, side: &[usize], figure: usize) -> u32 {
        let counts = |row: &Row| {
            figure
                .checked_sub(Measured::ALL.len())
                .is_none_or(|logged| row.sums[LOGGED + 2 * logged + 1] > 0.0)
        };
        let days = side.iter().filter(|&&place| counts(&self.rows[place])).count();
        u32::try_from(days).unwrap_or(u32::MAX)
    }

    fn is_sampled(&self, figure: usize) -> bool {
        let logged = figure.checked_sub(Measured::ALL.len());
        logged.is_none_or(|logged| self.is_sampled[logged])
    }

    fn columns(&self) -> usize {
        LOGGED + 2 * self.scales.len()
    }

    fn figures(&self) -> usize {
        Measured::ALL.len() + self.scales.len()
    }
}

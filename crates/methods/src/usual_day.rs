//! The usual day: percentiles of glucose by clock time.

use std::ops::Range;

use rayon::prelude::*;

use crate::day::LivedDay;
use crate::quantile::Weighted;
use crate::recording::Recording;

/// Width of a bin of the usual day, seconds.
pub const BIN_S: u32 = 300;
/// Bins of a day.
pub const BINS: usize = 288;
/// Fewest days behind a bin for its median and quartiles.
pub const FEWEST_DAYS_MIDDLE: u32 = 3;
/// Fewest days behind a bin for its 5th and 95th percentile.
pub const FEWEST_DAYS_OUTER: u32 = 5;

/// Percentiles at one clock time, mg/dL; `None` with too few days behind them.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct UsualBin {
    /// Minutes since midnight on the wall clock at which the bin's five minutes begin.
    pub minute: u32,
    /// Distinct lived days behind it.
    pub days: u32,
    /// Seconds of readings behind it.
    pub seconds: u64,
    /// 5th percentile.
    pub p5_mg_dl: Option<f64>,
    /// 25th percentile.
    pub p25_mg_dl: Option<f64>,
    /// Median.
    pub p50_mg_dl: Option<f64>,
    /// 75th percentile.
    pub p75_mg_dl: Option<f64>,
    /// 95th percentile.
    pub p95_mg_dl: Option<f64>,
}

/// The usual day over the lived days that `belongs` picks: 288 bins of five minutes by lived wall time.
///
/// A reading counts in the bin of its instant; one that stands for longer than five minutes counts in as many bins
/// from there on as its time rounds to, in equal parts, so that a 15-minute sensor fills three. Nothing else is
/// smoothed, and nothing reaches into missing data. Percentiles are time-weighted, linear between order statistics;
/// with readings of one interval exactly those of the readings in the bin.
///
/// A bin with fewer than [`FEWEST_DAYS_MIDDLE`] days has no median and quartiles, with fewer than
/// [`FEWEST_DAYS_OUTER`] no outer percentiles: from fewer days they would be single days.
pub fn usual_day(recording: &Recording<'_>, belongs: impl Fn(&LivedDay) -> bool) -> Vec<UsualBin> {
    let classes = recording
        .days
        .iter()
        .map(|day| belongs(day).then_some(0))
        .collect();
    let [usual] = usual_days(recording, classes, 1, [&[0]]);
    usual
}

/// All days, Monday to Friday, Saturday and Sunday.
pub(crate) fn with_weekdays_apart(recording: &Recording<'_>) -> [Vec<UsualBin>; 3] {
    let classes = recording
        .days
        .iter()
        .map(|day| Some(usize::from(day.is_weekend())))
        .collect();
    usual_days(recording, classes, 2, [&[0, 1], &[0], &[1]])
}

/// Most cells of a table of bins by levels; beyond it readings are sorted instead.
const MOST_CELLS: usize = 2 << 20;

/// The usual days of several unions of classes of days.
///
/// * `classes`: the class of each lived day, below `count`, or none.
fn usual_days<const N: usize>(
    recording: &Recording<'_>,
    classes: Vec<Option<usize>>,
    count: usize,
    unions: [&[usize]; N],
) -> [Vec<UsualBin>; N] {
    let tally = if count * BINS * recording.table.len() <= MOST_CELLS {
        tally_by_level(recording, &classes, count)
    } else {
        tally_by_sorting(recording, &classes, count)
    };
    unions.map(|union| {
        (0..BINS)
            .map(|bin| usual_bin(recording, bin, union.iter().map(|&class| &tally[class].bins[bin])))
            .collect()
    })
}

/// What one class of days holds, by bin.
struct Tally {
    bins: Vec<BinTally>,
}

/// What one bin holds: weight by place in the ascending order of levels, places ascending.
#[derive(Clone, Debug, Default)]
struct BinTally {
    weights: Vec<(u32, u64)>,
    squares: u64,
    days: u32,
}

fn usual_bin<'t>(
    recording: &Recording<'_>,
    bin: usize,
    parts: impl Iterator<Item = &'t BinTally>,
) -> UsualBin {
    let mut rows: Vec<(u32, u64)> = Vec::new();
    let mut weighted = Weighted::default();
    let mut days = 0;
    for part in parts {
        rows.extend_from_slice(&part.weights);
        weighted.add_squares(part.squares);
        days += part.days;
    }
    rows.sort_unstable();
    for (place, weight) in rows {
        let level = recording.table.ascending[place as usize];
        weighted.push(recording.table.mg_per_dl[level as usize], weight);
    }
    let given = |p: f64, fewest: u32| {
        if days >= fewest {
            weighted.quantile(p)
        } else {
            None
        }
    };
    UsualBin {
        minute: bin as u32 * (BIN_S / 60),
        days,
        seconds: weighted.total(),
        p5_mg_dl: given(0.05, FEWEST_DAYS_OUTER),
        p25_mg_dl: given(0.25, FEWEST_DAYS_MIDDLE),
        p50_mg_dl: given(0.5, FEWEST_DAYS_MIDDLE),
        p75_mg_dl: given(0.75, FEWEST_DAYS_MIDDLE),
        p95_mg_dl: given(0.95, FEWEST_DAYS_OUTER),
    }
}

/// Calls `each(bin, level, seconds)` for what the readings of one lived day put where.
#[inline]
fn for_each_share(recording: &Recording<'_>, day: usize, mut each: impl FnMut(usize, u32, u32)) {
    for (range, offset_s) in recording.wall_stretches(day) {
        // Instants are not negative and offsets within some 25 hours of zero: two days keep the sum positive.
        let shift = u64::try_from(offset_s + 2 * interstice_glucose::DAY_S).unwrap_or(0);
        for (part, interval_s) in recording.stretches(range) {
            for i in part {
                let second = (u64::from(recording.at[i]) + shift) % 86_400;
                let bin = second as usize / BIN_S as usize;
                let seconds = recording.weight(i, interval_s);
                let bins = (seconds + BIN_S / 2) / BIN_S;
                if bins <= 1 {
                    each(bin, recording.level[i], seconds);
                } else {
                    for k in 0..bins {
                        let share = seconds / bins + u32::from(k < seconds % bins);
                        each((bin + k as usize) % BINS, recording.level[i], share);
                    }
                }
            }
        }
    }
}

/// A table of weights, bins by levels, for each class.
struct Dense {
    /// `[class][bin][level]`.
    weights: Vec<u32>,
    /// `[class][bin]`.
    squares: Vec<u64>,
    days: Vec<u32>,
}

impl Dense {
    fn new(classes: usize, levels: usize) -> Self {
        let bins = classes * BINS;
        Dense {
            weights: vec![0; bins * levels],
            squares: vec![0; bins],
            days: vec![0; bins],
        }
    }

    fn of(recording: &Recording<'_>, days: Range<usize>, classes: &[Option<usize>], count: usize) -> Dense {
        let levels = recording.table.len();
        let mut dense = Dense::new(count, levels);
        let mut last_day = vec![usize::MAX; BINS];
        for day in days {
            let Some(class) = classes[day] else { continue };
            for_each_share(recording, day, |bin, level, seconds| {
                let place = class * BINS + bin;
                dense.weights[place * levels + level as usize] += seconds;
                dense.squares[place] += u64::from(seconds) * u64::from(seconds);
                if last_day[bin] != day {
                    last_day[bin] = day;
                    dense.days[place] += 1;
                }
            });
        }
        dense
    }

    fn add(mut self, other: Dense) -> Dense {
        self.weights
            .iter_mut()
            .zip(&other.weights)
            .for_each(|(sum, term)| *sum += term);
        self.squares
            .iter_mut()
            .zip(&other.squares)
            .for_each(|(sum, term)| *sum += term);
        self.days
            .iter_mut()
            .zip(&other.days)
            .for_each(|(sum, term)| *sum += term);
        self
    }
}

/// Few levels: one table of counts. Whole numbers add up alike in any order, so threads may take any days.
fn tally_by_level(recording: &Recording<'_>, classes: &[Option<usize>], count: usize) -> Vec<Tally> {
    let days = recording.days.len();
    let chunk = days.div_ceil(4).max(64);
    let levels = recording.table.len();
    let dense = (0..days.div_ceil(chunk))
        .into_par_iter()
        .map(|i| Dense::of(recording, i * chunk..days.min((i + 1) * chunk), classes, count))
        .reduce_with(Dense::add)
        .unwrap_or_else(|| Dense::new(count, levels));
    let bin = |place: usize| {
        let row = &dense.weights[place * levels..(place + 1) * levels];
        let weight = |(place, &level): (u32, &u32)| (place, u64::from(row[level as usize]));
        BinTally {
            weights: (0u32..)
                .zip(&recording.table.ascending)
                .map(weight)
                .filter(|&(_, weight)| weight > 0)
                .collect(),
            squares: dense.squares[place],
            days: dense.days[place],
        }
    };
    (0..count)
        .map(|class| Tally {
            bins: (0..BINS).map(|b| bin(class * BINS + b)).collect(),
        })
        .collect()
}

/// Bins gathered at once when sorting, so that a reading need be held in memory for a twelfth of the day only.
const BINS_AT_ONCE: usize = 24;

/// Many levels: the readings of some bins at a time, sorted.
fn tally_by_sorting(recording: &Recording<'_>, classes: &[Option<usize>], count: usize) -> Vec<Tally> {
    let mut place_of = vec![0u32; recording.table.len()];
    for (place, &level) in (0u32..).zip(&recording.table.ascending) {
        place_of[level as usize] = place;
    }
    let mut tallies: Vec<Tally> = (0..count)
        .map(|_| Tally {
            bins: vec![BinTally::default(); BINS],
        })
        .collect();
    for first in (0..BINS).step_by(BINS_AT_ONCE) {
        let mut rows: Vec<(usize, u32, u32)> = Vec::new();
        let mut last_day = vec![usize::MAX; BINS];
        for (day, class) in classes.iter().enumerate() {
            let Some(class) = *class else { continue };
            for_each_share(recording, day, |bin, level, seconds| {
                if (first..first + BINS_AT_ONCE).contains(&bin) {
                    rows.push((class * BINS + bin, place_of[level as usize], seconds));
                    let tally = &mut tallies[class].bins[bin];
                    tally.squares += u64::from(seconds) * u64::from(seconds);
                    tally.days += u32::from(last_day[bin] != day);
                    last_day[bin] = day;
                }
            });
        }
        rows.sort_unstable();
        for (place, level, seconds) in rows {
            let weights = &mut tallies[place / BINS].bins[place % BINS].weights;
            match weights.last_mut() {
                Some(last) if last.0 == level => last.1 += u64::from(seconds),
                _ => weights.push((level, u64::from(seconds))),
            }
        }
    }
    tallies
}

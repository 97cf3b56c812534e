//! Readings gathered by clock time and value.

use crate::columns::Columns;
use crate::recording::Recording;

use super::{BIN_S, BINS};

/// Most cells of a table of bins by levels; beyond it readings are sorted instead.
const MOST_CELLS: usize = 2 << 20;
/// Bins gathered at once when sorting, so that a reading need be held in memory for a twelfth of the day only.
const BINS_AT_ONCE: usize = 24;

/// What one bin holds: weight by place in the ascending order of levels, places ascending.
#[derive(Clone, Debug, Default)]
pub(super) struct BinTally {
    pub(super) weights: Vec<(u32, u64)>,
    /// Sum of the squared weights of single readings.
    pub(super) squares: u64,
    pub(super) days: u32,
}

/// Calls `each(bin, levels, seconds)` for what the readings of one lived day put where: neighbours in one bin together,
/// long readings one by one.
///
/// * `columns`: filled with that day.
#[inline]
fn for_each_share(
    recording: &Recording<'_>,
    day: usize,
    columns: &Columns,
    mut each: impl FnMut(usize, &[u32], &[u32]),
) {
    let short = columns.even_s.is_some_and(|seconds| seconds < LONG_S);
    for (range, offset_s) in recording.wall_stretches(day) {
        // Instants are not negative and offsets within some 25 hours of zero: two days keep the sum positive.
        let shift = u64::try_from(offset_s + 2 * interstice_glucose::DAY_S).unwrap_or(0);
        let before = columns.range.start;
        let seconds = &columns.seconds[range.start - before..range.end - before];
        let (at, level) = (&recording.at[range.clone()], &recording.level[range]);
        let mut start = 0;
        while start < at.len() {
            let first = u64::from(at[start]);
            let second = (first + shift) % 86_400;
            let bin = (second / u64::from(BIN_S)) as usize;
            let bin_ends = first + u64::from(BIN_S) - second % u64::from(BIN_S);
            let mut end = start + 1;
            while end < at.len() && u64::from(at[end]) < bin_ends {
                end += 1;
            }
            let (levels, seconds) = (&level[start..end], &seconds[start..end]);
            if short || seconds.iter().all(|&seconds| seconds < LONG_S) {
                each(bin, levels, seconds);
            } else {
                for (level, &seconds) in levels.iter().zip(seconds) {
                    share_out(bin, seconds, |bin, share| each(bin, &[*level], &[share]));
                }
            }
            start = end;
        }
    }
}

/// A reading that stands for this long or longer reaches into the next bin.
const LONG_S: u32 = BIN_S + BIN_S / 2;

/// A long reading's time, in equal parts, to the bins it reaches over.
fn share_out(bin: usize, seconds: u32, mut each: impl FnMut(usize, u32)) {
    let bins = ((seconds + BIN_S / 2) / BIN_S).max(1);
    for k in 0..bins {
        each(
            (bin + k as usize) % BINS,
            seconds / bins + u32::from(k < seconds % bins),
        );
    }
}

/// A table of weights, bins by levels, for each class of days. Whole numbers add up alike in any order, so threads
/// may take any days each and add their tables.
#[derive(Debug)]
pub(crate) struct Dense {
    levels: usize,
    /// `[class][bin][level]`, seconds.
    weights: Vec<u32>,
    /// `[class][bin]`.
    squares: Vec<u64>,
    /// `[class][bin]`.
    days: Vec<u32>,
    /// The last day that reached each bin.
    last_day: Vec<usize>,
}

impl Dense {
    /// Whether such a table is small enough.
    pub(crate) fn fits(classes: usize, recording: &Recording<'_>) -> bool {
        classes * BINS * recording.table.len() <= MOST_CELLS
    }

    pub(crate) fn new(classes: usize, recording: &Recording<'_>) -> Self {
        let (bins, levels) = (classes * BINS, recording.table.len());
        Dense {
            levels,
            weights: vec![0; bins * levels],
            squares: vec![0; bins],
            days: vec![0; bins],
            last_day: vec![usize::MAX; BINS],
        }
    }

    /// Adds the readings of a lived day.
    ///
    /// * `columns`: filled with that day.
    pub(crate) fn add_day(&mut self, recording: &Recording<'_>, day: usize, class: usize, columns: &Columns) {
        let levels = self.levels;
        let bins = class * BINS..(class + 1) * BINS;
        let weights = &mut self.weights[bins.start * levels..bins.end * levels];
        let squares = &mut self.squares[bins.clone()];
        let (days, last_day) = (&mut self.days[bins], &mut self.last_day);
        // Long readings come in parts, whose seconds are not those of the readings.
        let even_s = columns.even_s.filter(|&seconds| seconds < LONG_S);
        for_each_share(recording, day, columns, |bin, readings, seconds| {
            let row = &mut weights[bin * levels..(bin + 1) * levels];
            if let Some(even_s) = even_s {
                for &level in readings {
                    row[level as usize] += even_s;
                }
                squares[bin] += readings.len() as u64 * u64::from(even_s) * u64::from(even_s);
            } else {
                for (&level, &seconds) in readings.iter().zip(seconds) {
                    row[level as usize] += seconds;
                    squares[bin] += u64::from(seconds) * u64::from(seconds);
                }
            }
            if last_day[bin] != day {
                last_day[bin] = day;
                days[bin] += 1;
            }
        });
    }

    /// Adds the table of other days.
    pub(crate) fn add(mut self, other: &Dense) -> Dense {
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

    /// By class and bin.
    pub(super) fn close(self, recording: &Recording<'_>) -> Vec<Vec<BinTally>> {
        let bin = |(place, row): (usize, &[u32])| {
            let places = (0u32..).zip(&recording.table.ascending);
            let weights = places.map(|(place, &level)| (place, u64::from(row[level as usize])));
            BinTally {
                weights: weights.filter(|&(_, weight)| weight > 0).collect(),
                squares: self.squares[place],
                days: self.days[place],
            }
        };
        if self.levels == 0 {
            return vec![vec![BinTally::default(); BINS]; self.squares.len() / BINS];
        }
        let bins: Vec<BinTally> = self
            .weights
            .chunks_exact(self.levels)
            .enumerate()
            .map(bin)
            .collect();
        bins.chunks_exact(BINS).map(<[BinTally]>::to_vec).collect()
    }
}

/// Many levels: the readings of some bins at a time, sorted. By class and bin.
///
/// * `classes`: the class of each lived day, below `count`, or none.
pub(super) fn tally_by_sorting(
    recording: &Recording<'_>,
    classes: &[Option<usize>],
    count: usize,
) -> Vec<Vec<BinTally>> {
    let mut place_of = vec![0u32; recording.table.len()];
    for (place, &level) in (0u32..).zip(&recording.table.ascending) {
        place_of[level as usize] = place;
    }
    let mut tallies = vec![vec![BinTally::default(); BINS]; count];
    let mut columns = Columns::default();
    for first in (0..BINS).step_by(BINS_AT_ONCE) {
        let mut rows: Vec<(usize, u32, u32)> = Vec::new();
        let mut last_day = vec![usize::MAX; BINS];
        for (day, class) in classes.iter().enumerate() {
            let Some(class) = *class else { continue };
            columns.fill(recording, recording.readings[day].clone());
            for_each_share(recording, day, &columns, |bin, readings, seconds| {
                if (first..first + BINS_AT_ONCE).contains(&bin) {
                    let tally = &mut tallies[class][bin];
                    for (&level, &seconds) in readings.iter().zip(seconds) {
                        rows.push((class * BINS + bin, place_of[level as usize], seconds));
                        tally.squares += u64::from(seconds) * u64::from(seconds);
                    }
                    tally.days += u32::from(last_day[bin] != day);
                    last_day[bin] = day;
                }
            });
        }
        rows.sort_unstable();
        for (place, level, seconds) in rows {
            let weights = &mut tallies[place / BINS][place % BINS].weights;
            match weights.last_mut() {
                Some(last) if last.0 == level => last.1 += u64::from(seconds),
                _ => weights.push((level, u64::from(seconds))),
            }
        }
    }
    tallies
}

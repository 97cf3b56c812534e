//! Extremes of any stretch of readings without reading them all.

use std::ops::Range;

use interstice_glucose::{Censor, Levels, Second};
use rayon::prelude::*;

use super::Columns;

/// Readings in a block, and blocks in a block above it. 64 keeps the side table at a sixteenth of the readings and
/// a column at no more than two partly used blocks of each height.
const FAN: usize = 64;

/// Blocks a thread takes at a time while building.
const BLOCKS_A_TASK: usize = 1024;

/// Why a column could not be answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PyramidError {
    /// The readings are not those the pyramid was built over.
    #[error("the pyramid was built over {built} readings, not {given}: build it again")]
    OtherReadings {
        /// Readings at building.
        built: usize,
        /// Readings handed in now.
        given: usize,
    },
    /// Columns of unequal length.
    #[error("{at} instants but {level} levels: give one level an instant")]
    Unequal {
        /// Instants.
        at: usize,
        /// Levels.
        level: usize,
    },
    /// Some instant is earlier than the one before it.
    #[error("readings are not in time order: sort them first")]
    NotInOrder,
    /// A reading's level is not in the table.
    #[error("a reading's level is not in the table of levels")]
    UnknownLevel,
}

/// What a column of the screen holds. Levels index the table the pyramid was built with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cell {
    /// Which column, from 0.
    pub column: u32,
    /// Level of the first reading in time.
    pub first: u32,
    /// Level of the lowest reading.
    pub lowest: u32,
    /// Level of the highest reading.
    pub highest: u32,
    /// Level of the last reading.
    pub last: u32,
    /// Readings in it, at least 1.
    pub count: u32,
    /// Which reading is the first in it, from 0.
    pub index: usize,
    /// Instant of the first reading.
    pub first_at: u32,
    /// Instant of the last reading.
    pub last_at: u32,
    /// Whether any reading stands below or above its sensor's range.
    pub censored: bool,
    /// Seconds from the reading before the column; `None` for the first reading of all.
    pub since_previous_s: Option<u32>,
    /// Longest time between two neighbours inside the column, seconds; 0 with one reading.
    pub widest_s: u32,
}

/// Lowest and highest rank in a run of readings, and what else a column must know of it.
#[derive(Clone, Copy, Debug)]
struct Extent {
    lowest: u32,
    highest: u32,
    widest_s: u32,
    censored: bool,
}

impl Extent {
    const EMPTY: Extent = Extent {
        lowest: u32::MAX,
        highest: 0,
        widest_s: 0,
        censored: false,
    };

    fn take(&mut self, other: Extent) {
        self.lowest = self.lowest.min(other.lowest);
        self.highest = self.highest.max(other.highest);
        self.widest_s = self.widest_s.max(other.widest_s);
        self.censored |= other.censored;
    }
}

/// A value's place in the table ordered by concentration, so that extremes are exact and cost one comparison.
#[derive(Clone, Copy, Debug)]
struct Rank {
    rank: u32,
    censored: bool,
}

/// Extremes of blocks of 64 readings, of 64 such blocks, and so on: any run of readings is then a few hundred
/// steps, whatever its length.
///
/// Building walks the readings once, on all cores. The readings themselves are not kept: hand in the same columns
/// when asking.
#[derive(Clone, Debug)]
pub struct Pyramid {
    readings: usize,
    /// By level index.
    ranks: Vec<Rank>,
    /// Level index by rank.
    level_of_rank: Vec<u32>,
    /// Instant of the first reading of each lowest block.
    starts: Vec<u32>,
    /// Lowest blocks first.
    heights: Vec<Vec<Extent>>,
}

impl Pyramid {
    /// Over readings in time order; `levels` is the table they index.
    ///
    /// # Errors
    /// `Unequal`, `NotInOrder`, `UnknownLevel`.
    pub fn build(readings: Columns<'_>, levels: &Levels) -> Result<Self, PyramidError> {
        let (at, level) = (readings.at.len(), readings.level.len());
        if at != level {
            return Err(PyramidError::Unequal { at, level });
        }
        if !readings.at.is_sorted() {
            return Err(PyramidError::NotInOrder);
        }
        let (ranks, level_of_rank) = rank(levels);
        if readings
            .level
            .par_iter()
            .any(|&level| level as usize >= ranks.len())
        {
            return Err(PyramidError::UnknownLevel);
        }
        let mut pyramid = Pyramid {
            readings: readings.len(),
            ranks,
            level_of_rank,
            starts: readings.at.iter().step_by(FAN).copied().collect(),
            heights: Vec::new(),
        };
        let mut height = pyramid.lowest_blocks(readings);
        while height.len() > FAN {
            let above = height.chunks(FAN).map(merged).collect();
            pyramid.heights.push(std::mem::replace(&mut height, above));
        }
        pyramid.heights.push(height);
        Ok(pyramid)
    }

    /// Readings it was built over.
    pub fn len(&self) -> usize {
        self.readings
    }

    /// Whether it was built over none.
    pub fn is_empty(&self) -> bool {
        self.readings == 0
    }

    /// The columns `[from + i·step_s, from + (i+1)·step_s)` for `i < columns` that hold a reading, in time order.
    ///
    /// * `readings`: those the pyramid was built over.
    /// * `step_s`: width of a column, at least 1 (0 counts as 1).
    ///
    /// Every reading of the window is in exactly one column, so the lowest and the highest of the columns are those
    /// of the readings.
    ///
    /// # Errors
    /// `OtherReadings` when their number has changed.
    pub fn cells(
        &self,
        readings: Columns<'_>,
        from: Second,
        step_s: u32,
        columns: u32,
    ) -> Result<Vec<Cell>, PyramidError> {
        if readings.len() != self.readings || readings.at.len() != readings.level.len() {
            return Err(PyramidError::OtherReadings {
                built: self.readings,
                given: readings.len(),
            });
        }
        let step_s = Second::from(step_s.max(1));
        let mut cells = Vec::new();
        let mut start = self.index_at(readings, from);
        while start < self.readings {
            // Empty columns are stepped over by going straight to the next reading's own column.
            let column = (Second::from(readings.at[start]) - from).div_euclid(step_s);
            let Some(column) = u32::try_from(column).ok().filter(|&column| column < columns) else {
                break;
            };
            let end = self.index_at(readings, from + (Second::from(column) + 1) * step_s);
            cells.push(self.cell(readings, column, start..end));
            start = end;
        }
        Ok(cells)
    }

    /// Index of the first reading at or after an instant: through the blocks' starts, which stay in cache.
    fn index_at(&self, readings: Columns<'_>, at: Second) -> usize {
        let block = self.starts.partition_point(|&start| Second::from(start) < at);
        let from = block.saturating_sub(1) * FAN;
        let to = (block * FAN).min(self.readings);
        from + readings.at[from..to].partition_point(|&reading| Second::from(reading) < at)
    }

    /// One column; `run` is not empty.
    fn cell(&self, readings: Columns<'_>, column: u32, run: Range<usize>) -> Cell {
        let (at, level, last) = (readings.at, readings.level, run.end - 1);
        // The time from the last reading to its follower belongs to the next column.
        let mut extent = self.extent(readings, run.start..last);
        extent.take(Extent {
            widest_s: 0,
            ..self.one(readings, last)
        });
        Cell {
            column,
            first: level[run.start],
            lowest: self.level_of_rank[extent.lowest as usize],
            highest: self.level_of_rank[extent.highest as usize],
            last: level[last],
            count: u32::try_from(run.len()).unwrap_or(u32::MAX),
            index: run.start,
            first_at: at[run.start],
            last_at: at[last],
            censored: extent.censored,
            since_previous_s: run.start.checked_sub(1).map(|before| at[run.start] - at[before]),
            widest_s: extent.widest_s,
        }
    }

    /// Extent of a run: readings at its two ends, blocks between, higher blocks where they fit.
    fn extent(&self, readings: Columns<'_>, run: Range<usize>) -> Extent {
        let mut extent = Extent::EMPTY;
        let (mut from, mut to) = (run.start.div_ceil(FAN), run.end / FAN);
        if from >= to {
            self.scan(readings, run, &mut extent);
            return extent;
        }
        self.scan(readings, run.start..from * FAN, &mut extent);
        self.scan(readings, to * FAN..run.end, &mut extent);
        for (height, blocks) in self.heights.iter().enumerate() {
            let (above, above_end) = (from.div_ceil(FAN), to / FAN);
            if above >= above_end || height + 1 == self.heights.len() {
                extent.take(merged(&blocks[from..to]));
                break;
            }
            extent.take(merged(&blocks[from..above * FAN]));
            extent.take(merged(&blocks[above_end * FAN..to]));
            (from, to) = (above, above_end);
        }
        extent
    }

    fn scan(&self, readings: Columns<'_>, run: Range<usize>, extent: &mut Extent) {
        for index in run {
            extent.take(self.one(readings, index));
        }
    }

    /// One reading, with the time to the next.
    fn one(&self, readings: Columns<'_>, index: usize) -> Extent {
        let at = readings.at;
        let Rank { rank, censored } = self.ranks[readings.level[index] as usize];
        let widest_s = at.get(index + 1).map_or(0, |next| next - at[index]);
        Extent {
            lowest: rank,
            highest: rank,
            widest_s,
            censored,
        }
    }

    fn lowest_blocks(&self, readings: Columns<'_>) -> Vec<Extent> {
        let blocks = self.readings.div_ceil(FAN);
        (0..blocks)
            .into_par_iter()
            .with_min_len(BLOCKS_A_TASK)
            .map(|block| {
                let mut extent = Extent::EMPTY;
                self.scan(
                    readings,
                    block * FAN..((block + 1) * FAN).min(self.readings),
                    &mut extent,
                );
                extent
            })
            .collect()
    }
}

fn merged(extents: &[Extent]) -> Extent {
    extents.iter().fold(Extent::EMPTY, |mut sum, &extent| {
        sum.take(extent);
        sum
    })
}

/// Ranks by level index, and level indices by rank. Of equal concentrations the censored one is the more extreme:
/// 'below 40' ranks under 40, 'above 400' over 400.
fn rank(levels: &Levels) -> (Vec<Rank>, Vec<u32>) {
    let side = |level: u32| match levels.get(level).said.censor() {
        Censor::Below => -1,
        Censor::None => 0,
        Censor::Above => 1,
    };
    let mut order: Vec<u32> = (0..u32::try_from(levels.len()).unwrap_or(u32::MAX)).collect();
    order.sort_by(|&a, &b| {
        let by_value = levels.get(a).mg_per_dl.total_cmp(&levels.get(b).mg_per_dl);
        by_value.then(side(a).cmp(&side(b))).then(a.cmp(&b))
    });
    let mut ranks = vec![
        Rank {
            rank: 0,
            censored: false
        };
        order.len()
    ];
    for (rank, &level) in order.iter().enumerate() {
        let rank = u32::try_from(rank).unwrap_or(u32::MAX);
        ranks[level as usize] = Rank {
            rank,
            censored: side(level) != 0,
        };
    }
    (ranks, order)
}

/// The width of a column, in seconds, when `span_s` seconds are to be shown in at least `columns` columns: the
/// greatest power of two that gives as many, and at least 1 s. Powers of two keep columns of neighbouring scales on
/// one another's bounds, so that a picture does not shimmer while it is moved.
pub fn column_step_s(span_s: Second, columns: u32) -> u32 {
    let wanted = u64::try_from(span_s).unwrap_or(0) / u64::from(columns.max(1));
    let step = wanted.checked_ilog2().map_or(1, |power| 1u64 << power);
    u32::try_from(step).unwrap_or(1 << 31)
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_glucose::{Readings, Said, Unit};
    use proptest::prelude::*;

    fn series(rows: &[(u32, i64)]) -> (Readings, Levels) {
        let (mut readings, mut levels) = (Readings::default(), Levels::new());
        for &(at, value) in rows {
            readings.push(at, levels.intern(Said::whole_mg_per_dl(value)));
        }
        readings.sort();
        (readings, levels)
    }

    /// The same column by looking at every reading.
    fn by_hand(readings: &Readings, levels: &Levels, column: u32, from: i64, to: i64) -> Option<Cell> {
        let value = |i: usize| levels.get(readings.level()[i]).mg_per_dl;
        let at = readings.at();
        let inside: Vec<usize> = (0..readings.len())
            .filter(|&i| from <= i64::from(at[i]) && i64::from(at[i]) < to)
            .collect();
        let (&first, &last) = (inside.first()?, inside.last()?);
        let lowest = *inside
            .iter()
            .min_by(|&&a, &&b| value(a).total_cmp(&value(b)))
            .unwrap();
        let highest = *inside
            .iter()
            .max_by(|&&a, &&b| value(a).total_cmp(&value(b)))
            .unwrap();
        Some(Cell {
            column,
            first: readings.level()[first],
            lowest: readings.level()[lowest],
            highest: readings.level()[highest],
            last: readings.level()[last],
            count: u32::try_from(inside.len()).unwrap(),
            index: first,
            first_at: at[first],
            last_at: at[last],
            censored: false,
            since_previous_s: (first > 0).then(|| at[first] - at[first - 1]),
            widest_s: inside
                .windows(2)
                .map(|pair| at[pair[1]] - at[pair[0]])
                .max()
                .unwrap_or(0),
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]
        /// Every column of every window is what looking at every reading gives. Lengths pass 64 and 64², so that
        /// blocks of each height are used.
        #[test]
        fn cells_are_what_every_reading_says(
            seeds in proptest::collection::vec((0u32..4, 20i64..600), 0..9000),
            from in -3000i64..12_000,
            step_s in 1u32..9000,
            columns in 0u32..12,
        ) {
            let mut at = 0;
            let rows: Vec<(u32, i64)> = seeds.iter().map(|&(step, value)| { at += step; (at, value) }).collect();
            let (readings, levels) = series(&rows);
            let pyramid = Pyramid::build((&readings).into(), &levels).unwrap();
            let cells = pyramid.cells((&readings).into(), from, step_s, columns).unwrap();
            let expected: Vec<Cell> = (0..columns)
                .filter_map(|column| {
                    let start = from + i64::from(column) * i64::from(step_s);
                    by_hand(&readings, &levels, column, start, start + i64::from(step_s))
                })
                .collect();
            prop_assert_eq!(cells, expected);
        }

        #[test]
        fn a_step_gives_at_least_the_columns_asked_for(span_s in 1i64..2_000_000_000, columns in 1u32..6000) {
            let step = i64::from(column_step_s(span_s, columns));
            prop_assert!(step == 1 || step * i64::from(columns) <= span_s);
            prop_assert!(step * i64::from(columns) * 2 > span_s);
        }
    }

    #[test]
    fn one_extreme_among_a_million_is_in_its_column() {
        let mut rows: Vec<(u32, i64)> = (0..1_000_000).map(|i| (i * 60, 120)).collect();
        rows[654_321].1 = 38;
        rows[123_456].1 = 402;
        let (readings, levels) = series(&rows);
        let pyramid = Pyramid::build((&readings).into(), &levels).unwrap();
        for step_s in [60, 3600, 86_400, 8_388_608, 60_000_000] {
            let cells = pyramid
                .cells((&readings).into(), 0, step_s, 60_000_000 / step_s + 1)
                .unwrap();
            let lowest = cells
                .iter()
                .map(|c| levels.get(c.lowest).mg_per_dl)
                .fold(f64::MAX, f64::min);
            let highest = cells
                .iter()
                .map(|c| levels.get(c.highest).mg_per_dl)
                .fold(0.0, f64::max);
            assert!(
                (lowest - 38.0).abs() < 1e-9 && (highest - 402.0).abs() < 1e-9,
                "step {step_s}"
            );
            let with_low = cells
                .iter()
                .find(|c| levels.get(c.lowest).mg_per_dl < 40.0)
                .unwrap();
            assert_eq!(with_low.column, 654_321 * 60 / step_s);
            assert_eq!(cells.iter().map(|c| c.count).sum::<u32>(), 1_000_000);
        }
    }

    #[test]
    fn below_the_range_is_lower_than_its_edge() {
        let mut levels = Levels::new();
        let edge = levels.intern(Said::whole_mg_per_dl(40));
        let below = levels.intern(Said::new(40, 0, Unit::MgPerDl, Censor::Below).unwrap());
        let mut readings = Readings::default();
        readings.push(0, below);
        readings.push(300, edge);
        let pyramid = Pyramid::build((&readings).into(), &levels).unwrap();
        let cell = pyramid.cells((&readings).into(), 0, 600, 1).unwrap()[0];
        assert_eq!((cell.lowest, cell.highest, cell.censored), (below, edge, true));
    }

    #[test]
    fn refuses_what_it_cannot_answer() {
        let (readings, levels) = series(&[(0, 100), (300, 110)]);
        let pyramid = Pyramid::build((&readings).into(), &levels).unwrap();
        let other = Readings::default();
        assert_eq!(
            pyramid.cells((&other).into(), 0, 60, 9),
            Err(PyramidError::OtherReadings { built: 2, given: 0 })
        );
        assert_eq!(
            Pyramid::build((&readings).into(), &Levels::new()).err(),
            Some(PyramidError::UnknownLevel)
        );
        let mut backwards = Readings::default();
        backwards.push(300, 0);
        backwards.push(0, 0);
        assert_eq!(
            Pyramid::build((&backwards).into(), &levels).err(),
            Some(PyramidError::NotInOrder)
        );
        let none = Pyramid::build((&other).into(), &levels).unwrap();
        assert_eq!(none.cells((&other).into(), 0, 60, 9), Ok(Vec::new()));
        assert!(none.is_empty());
    }
}

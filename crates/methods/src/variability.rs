//! Day-to-day and within-day variability: MODD, CONGA, MAGE.

use std::ops::Range;

use interstice_glucose::{DAY_S, Second};

use crate::columns::Columns;
use crate::day::LivedDay;
use crate::level::LevelTable;
use crate::recording::Recording;

/// Weighted sums of differences between two readings a stated time apart.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Differences {
    /// Seconds behind them.
    pub(crate) seconds: f64,
    /// Seconds squared.
    pub(crate) seconds2: f64,
    /// Their sum.
    pub(crate) sum: f64,
    /// Sum of absolute values.
    pub(crate) absolute: f64,
    /// Sum of squares.
    pub(crate) squares: f64,
}

impl Differences {
    /// Adds the differences of readings of a day to readings of `levels`, one each.
    fn add_all(&mut self, table: &LevelTable, columns: &Columns, readings: Range<usize>, levels: &[u32]) {
        let earlier = levels.iter().map(|&level| table.mg_per_dl[level as usize]);
        let pairs = columns.value[readings.clone()]
            .iter()
            .zip(earlier)
            .map(|(later, earlier)| later - earlier);
        let Some(seconds) = columns.even_s else {
            for (difference, &seconds) in pairs.zip(&columns.seconds[readings]) {
                self.add(difference, f64::from(seconds));
            }
            return;
        };
        let (mut sum, mut absolute, mut squares) = (0.0, 0.0, 0.0);
        for difference in pairs {
            sum += difference;
            absolute += difference.abs();
            squares += difference * difference;
        }
        let (seconds, count) = (f64::from(seconds), levels.len() as f64);
        self.seconds += seconds * count;
        self.seconds2 += seconds * seconds * count;
        self.sum += seconds * sum;
        self.absolute += seconds * absolute;
        self.squares += seconds * squares;
    }

    #[inline]
    fn add(&mut self, difference: f64, seconds: f64) {
        self.seconds += seconds;
        self.seconds2 += seconds * seconds;
        self.sum += seconds * difference;
        self.absolute += seconds * difference.abs();
        self.squares += seconds * difference * difference;
    }
}

/// Differences of a day's readings to those `lag_s` earlier.
pub(crate) fn against_earlier(recording: &Recording<'_>, columns: &Columns, lag_s: u32) -> Differences {
    let mut earlier = Nearest::new(recording);
    let mut differences = Differences::default();
    let at = &recording.at[columns.range.clone()];
    let mut i = 0;
    while i < at.len() {
        let found = earlier.find(Second::from(at[i]) - Second::from(lag_s));
        let Some(j) = found else {
            i += 1;
            continue;
        };
        // Nearly always the readings that follow are just as far apart: take them together.
        let apart = |(later, earlier): &(&u32, &u32)| **later - **earlier == lag_s;
        let alike = at[i..]
            .iter()
            .zip(&recording.at[j..])
            .take_while(apart)
            .count()
            .max(1);
        let pairs = i..i + alike;
        let levels = &recording.level[j..j + alike];
        differences.add_all(&recording.table, columns, pairs, levels);
        i += alike;
        earlier.passed(j + alike - 1);
    }
    differences
}

/// Differences of a day's readings to those the wall clock read the same on the date before.
pub(crate) fn against_yesterday(recording: &Recording<'_>, day: &LivedDay, columns: &Columns) -> Differences {
    let (from, to) = (day.from - DAY_S - 7200, day.to);
    if !recording
        .clock
        .pieces()
        .iter()
        .any(|piece| from < piece.0 && piece.0 <= to)
    {
        return against_earlier(recording, columns, DAY_SECONDS);
    }
    let offset = |at: Second| Second::from(recording.clock.offset_s(at));
    let mut earlier = Nearest::new(recording);
    let mut differences = Differences::default();
    let rows = columns.value.iter().zip(&columns.seconds);
    for (&at, (&value, &seconds)) in recording.at[columns.range.clone()].iter().zip(rows) {
        let at = Second::from(at);
        let there = offset(at - DAY_S);
        let target = at - DAY_S + offset(at) - there;
        // In an hour the wall clock skipped there is no such time; of one it repeated, the pass that was at the
        // offset of a day ago is taken.
        if offset(target) == there
            && let Some(j) = earlier.find(target)
        {
            differences.add(value - recording.mg_per_dl(j), f64::from(seconds));
        }
    }
    differences
}

/// [`DAY_S`] for columns.
const DAY_SECONDS: u32 = 86_400;

/// Finds the readings nearest to instants that mostly ascend.
struct Nearest<'a> {
    recording: &'a Recording<'a>,
    /// The last reading at or before the instant looked for.
    index: Option<usize>,
    segment: usize,
}

impl<'a> Nearest<'a> {
    fn new(recording: &'a Recording<'a>) -> Self {
        Nearest {
            recording,
            index: None,
            segment: 0,
        }
    }

    /// The reading nearest to `target`, the earlier at a tie, if it lies within half its own native interval.
    #[inline]
    fn find(&mut self, target: Second) -> Option<usize> {
        let at = self.recording.at;
        let target = u32::try_from(target).ok()?;
        let mut index = match self.index {
            Some(index) if at[index] <= target => index,
            _ => at
                .partition_point(|&at| at <= target)
                .checked_sub(1)
                .unwrap_or(usize::MAX),
        };
        if index == usize::MAX {
            let first = *at.first()?;
            return self.within(0, first - target);
        }
        while at.get(index + 1).is_some_and(|&next| next <= target) {
            index += 1;
        }
        self.index = Some(index);
        let before = target - at[index];
        match at.get(index + 1) {
            Some(&next) if next - target < before => self.within(index + 1, next - target),
            _ => self.within(index, before),
        }
    }

    /// Tells it that instants up to that of this reading have been looked for.
    fn passed(&mut self, index: usize) {
        self.index = Some(index);
    }

    #[inline]
    fn within(&mut self, index: usize, distance: u32) -> Option<usize> {
        let segments = &self.recording.segments;
        while segments
            .get(self.segment + 1)
            .is_some_and(|next| next.start <= index)
        {
            self.segment += 1;
        }
        while segments[self.segment].start > index {
            self.segment -= 1;
        }
        (distance.saturating_mul(2) <= segments[self.segment].interval_s).then_some(index)
    }
}

/// Mean amplitude of the glycaemic excursions of one day, mg/dL.
///
/// The swings are those left when every reversal of no more than one standard deviation of that day's readings is
/// passed over; the first and last reading of an unbroken run can end a swing, and no swing spans a gap. The mean is
/// over the swings in the direction of the first one.
///
/// Service et al. (1970), Diabetes 19:644. `None` where no swing is larger than the deviation.
pub(crate) fn mage_of_day(columns: &Columns, sd: f64) -> Option<f64> {
    let mut swings = Swings::new(sd);
    for run in &columns.runs {
        for &value in &columns.value[run.clone()] {
            swings.step(value);
        }
        swings.end_run();
    }
    swings.mean_in_first_direction()
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Direction {
    Up,
    Down,
}

/// Swings larger than a threshold, found in one pass.
#[derive(Clone, Copy, Debug)]
struct Swings {
    threshold: f64,
    /// Where the swing under way goes; none until the first is large enough.
    heading: Option<Direction>,
    /// Turning point the swing began at (while there is no heading: the lowest reading so far).
    low: f64,
    /// Furthest point it has reached (while there is no heading: the highest reading so far).
    high: f64,
    first: Option<Direction>,
    up: (u32, f64),
    down: (u32, f64),
}

impl Swings {
    fn new(threshold: f64) -> Self {
        Swings {
            threshold,
            heading: None,
            low: f64::INFINITY,
            high: f64::NEG_INFINITY,
            first: None,
            up: (0, 0.0),
            down: (0, 0.0),
        }
    }

    /// `low` and `high` always bound the swing under way, whichever of them it began at.
    #[inline]
    fn step(&mut self, value: f64) {
        match self.heading {
            Some(Direction::Up) if value >= self.high => self.high = value,
            Some(Direction::Up) if self.high - value > self.threshold => {
                self.record(Direction::Up);
                (self.heading, self.low) = (Some(Direction::Down), value);
            }
            Some(Direction::Down) if value <= self.low => self.low = value,
            Some(Direction::Down) if value - self.low > self.threshold => {
                self.record(Direction::Down);
                (self.heading, self.high) = (Some(Direction::Up), value);
            }
            Some(_) => {}
            None => self.look_for_heading(value),
        }
    }

    fn look_for_heading(&mut self, value: f64) {
        if value - self.low > self.threshold {
            (self.heading, self.high) = (Some(Direction::Up), value);
        } else if self.high - value > self.threshold {
            (self.heading, self.low) = (Some(Direction::Down), value);
        } else {
            self.low = self.low.min(value);
            self.high = self.high.max(value);
        }
    }

    fn record(&mut self, direction: Direction) {
        self.first.get_or_insert(direction);
        let tally = match direction {
            Direction::Up => &mut self.up,
            Direction::Down => &mut self.down,
        };
        tally.0 += 1;
        tally.1 += self.high - self.low;
    }

    fn end_run(&mut self) {
        if let Some(direction) = self.heading.take() {
            self.record(direction);
        }
        (self.low, self.high) = (f64::INFINITY, f64::NEG_INFINITY);
    }

    fn mean_in_first_direction(&self) -> Option<f64> {
        let (count, sum) = match self.first? {
            Direction::Up => self.up,
            Direction::Down => self.down,
        };
        Some(sum / f64::from(count))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn swings(values: &[f64], threshold: f64) -> Swings {
        let mut swings = Swings::new(threshold);
        for &value in values {
            swings.step(value);
        }
        swings.end_run();
        swings
    }

    /// By hand from the first day of the variability trace: SD 43.79; swings -40 (too small), +130, -90, +100, -110,
    /// +120, -90.
    #[test]
    fn the_worked_day_by_hand() {
        let day = swings(&[110.0, 70.0, 200.0, 110.0, 210.0, 100.0, 220.0, 130.0], 43.79);
        assert_eq!((day.up.0, day.down.0), (3, 3));
        assert!((day.up.1 - 350.0).abs() < 1e-9 && (day.down.1 - 290.0).abs() < 1e-9);
        assert!((day.mean_in_first_direction().unwrap() - 350.0 / 3.0).abs() < 1e-9);
    }

    #[test]
    fn small_bounces_do_not_cut_a_swing() {
        let day = swings(&[100.0, 150.0, 145.0, 200.0, 195.0, 120.0], 30.0);
        assert_eq!((day.up, day.down), ((1, 100.0), (1, 80.0)));
    }

    #[test]
    fn a_swing_of_exactly_the_threshold_is_none() {
        assert_eq!(
            swings(&[100.0, 130.0, 100.0], 30.0).mean_in_first_direction(),
            None
        );
    }
}

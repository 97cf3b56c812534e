//! What every figure is worked out from: a series within a window, its levels, and the days it was lived in.

use std::ops::Range;

use interstice_glucose::{Levels, LivedClock, Second};

use crate::columns::stands_for;
use crate::day::{LivedDay, lived_days};
use crate::level::LevelTable;
use crate::primary::{Segment, Series, stretches};
use crate::ranges::TargetGroup;
use crate::trace::gap_limit_s;

/// Why a recording cannot be looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RecordingError {
    /// A reading's level is not in the table.
    #[error(
        "reading {index} has level {level}, but the table holds {levels}; give the table the readings belong to"
    )]
    UnknownLevel {
        /// Which reading.
        index: usize,
        /// Its level.
        level: u32,
        /// Levels in the table.
        levels: usize,
    },
}

/// The readings of a window `[from, to)`, by lived day.
///
/// Every reading stands for one native interval of its trace, so that figures are time-weighted: a 1-minute and a
/// 15-minute sensor count alike for an hour worn. Where the next reading follows in less than half of that, it stands
/// only until then, so that readings crowded together share the time. On a regular trace all weights are equal and
/// shares of time are shares of readings. No reading stands for a gap.
#[derive(Clone, Debug)]
pub struct Recording<'a> {
    pub(crate) at: &'a [u32],
    pub(crate) level: &'a [u32],
    pub(crate) segments: Vec<Segment>,
    pub(crate) table: LevelTable,
    pub(crate) clock: &'a LivedClock,
    pub(crate) days: Vec<LivedDay>,
    /// Readings of each day.
    pub(crate) readings: Vec<Range<usize>>,
    pub(crate) group: TargetGroup,
}

impl<'a> Recording<'a> {
    /// The part of `series` in `[from, to)`.
    ///
    /// * `levels`: the table the series' levels index.
    /// * `clock`: what the wearer's wall clock showed.
    ///
    /// # Errors
    /// `UnknownLevel`.
    pub fn new(
        series: &'a Series<'_>,
        levels: &Levels,
        clock: &'a LivedClock,
        from: Second,
        to: Second,
    ) -> Result<Self, RecordingError> {
        let index = |second: Second| series.at().partition_point(|&at| Second::from(at) < second);
        let range = index(from)..index(to).max(index(from));
        let (at, level) = (&series.at()[range.clone()], &series.level()[range.clone()]);
        let table = LevelTable::new(levels);
        if level
            .iter()
            .copied()
            .max()
            .is_some_and(|level| level as usize >= table.len())
            && let Some(index) = level.iter().position(|&level| level as usize >= table.len())
        {
            return Err(RecordingError::UnknownLevel {
                index,
                level: level[index],
                levels: table.len(),
            });
        }
        let segments = stretches(series.segments(), range.clone())
            .map(|(part, segment)| Segment {
                start: part.start - range.start,
                ..segment
            })
            .collect();
        let days = lived_days(clock, from, to);
        let readings = readings_by_day(at, &days);
        Ok(Recording {
            at,
            level,
            segments,
            table,
            clock,
            days,
            readings,
            group: TargetGroup::default(),
        })
    }

    /// With times in range and episodes by the target range of `group`; that of adults where none is said.
    #[must_use]
    pub fn for_group(self, group: TargetGroup) -> Self {
        Recording { group, ..self }
    }

    /// The lived days of the window, oldest first.
    pub fn days(&self) -> &[LivedDay] {
        &self.days
    }

    /// Number of readings in the window.
    pub fn len(&self) -> usize {
        self.at.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.at.is_empty()
    }

    /// Instants and values, mg/dL, of the readings in `[from, to)`.
    pub fn course(&self, from: Second, to: Second) -> impl Iterator<Item = (Second, f64)> + '_ {
        let (first, last) = (first_from(self.at, from), first_from(self.at, to));
        (first..last.max(first)).map(|i| (Second::from(self.at[i]), self.mg_per_dl(i)))
    }

    /// Until when readings follow one another from an instant without a gap of a quarter of an hour, at most until `to`.
    pub(crate) fn unbroken_until(&self, from: Second, to: Second) -> Second {
        let limit = Second::from(gap_limit_s(0));
        let mut last = from;
        for (at, _) in self.course(from, to + 1) {
            if at - last > limit {
                return last;
            }
            last = at;
        }
        if to - last <= limit { to } else { last }
    }

    /// Time the readings stand for, seconds.
    pub fn seconds_read(&self) -> u64 {
        let stretches = self.stretches(0..self.len());
        stretches
            .map(|(part, interval_s)| part.map(|i| u64::from(self.weight(i, interval_s))).sum::<u64>())
            .sum()
    }

    /// Readings a sensor worn for all of `[from, to)` would have given, at the interval of the trace last heard of
    /// (before the first reading, of the first); 0 without any reading to tell an interval from.
    pub fn expected(&self, from: Second, to: Second) -> f64 {
        let begins = |segment: &Segment| Second::from(self.at[segment.start]);
        let first = self
            .segments
            .partition_point(|segment| begins(segment) <= from)
            .saturating_sub(1);
        let mut expected = 0.0;
        for (i, segment) in self.segments.iter().enumerate().skip(first) {
            let start = if i == first { from } else { begins(segment) };
            if start >= to {
                break;
            }
            let end = self.segments.get(i + 1).map_or(to, begins).min(to);
            expected += crate::trace::expected_readings(start, end, segment.interval_s);
        }
        expected
    }

    /// The index range's parts of one interval each.
    pub(crate) fn stretches(&self, range: Range<usize>) -> impl Iterator<Item = (Range<usize>, u32)> + '_ {
        stretches(&self.segments, range).map(|(part, segment)| (part, segment.interval_s))
    }

    /// The parts of a lived day's readings with one offset of the wall clock each, and that offset.
    pub(crate) fn wall_stretches(&self, day: usize) -> impl Iterator<Item = (Range<usize>, Second)> + '_ {
        let range = self.readings[day].clone();
        let pieces = self.clock.pieces();
        let first = pieces
            .partition_point(|piece| piece.0 <= self.days[day].from)
            .saturating_sub(1);
        let mut start = range.start;
        (first..pieces.len()).map_while(move |i| {
            let end = pieces.get(i + 1).map_or(range.end, |next| {
                start + self.at[start..range.end].partition_point(|&at| Second::from(at) < next.0)
            });
            let part = start..end;
            let more = start < range.end;
            start = end;
            more.then_some((part, Second::from(pieces[i].1)))
        })
    }

    /// Seconds from reading `i` to the next; endless after the last.
    #[inline]
    pub(crate) fn gap_after(&self, i: usize) -> u32 {
        self.at.get(i + 1).map_or(u32::MAX, |next| next - self.at[i])
    }

    /// Seconds reading `i` stands for.
    #[inline]
    pub(crate) fn weight(&self, i: usize, interval_s: u32) -> u32 {
        stands_for(self.gap_after(i), interval_s)
    }

    /// The band of reading `i`.
    #[inline]
    pub(crate) fn band(&self, i: usize) -> crate::ranges::Band {
        self.table.band[self.level[i] as usize]
    }

    /// Reading `i`, mg/dL.
    #[inline]
    pub(crate) fn mg_per_dl(&self, i: usize) -> f64 {
        self.table.mg_per_dl[self.level[i] as usize]
    }
}

fn readings_by_day(at: &[u32], days: &[LivedDay]) -> Vec<Range<usize>> {
    let mut start = 0;
    let mut ranges = Vec::with_capacity(days.len());
    for day in days {
        let end = start + first_from(&at[start..], day.to);
        ranges.push(start..end);
        start = end;
    }
    ranges
}

/// Index of the first instant at or after `second`, looked for from the front in doubling strides, since it is
/// nearly always within a day's readings.
fn first_from(at: &[u32], second: Second) -> usize {
    let mut reach = 512;
    while reach < at.len() && Second::from(at[reach]) < second {
        reach *= 2;
    }
    at[..reach.min(at.len())].partition_point(|&at| Second::from(at) < second)
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_glucose::Said;

    #[test]
    fn crowded_readings_share_the_time() {
        let mut levels = Levels::new();
        let level = levels.intern(Said::whole_mg_per_dl(100));
        let at = vec![0, 300, 310, 460, 900, 1200];
        let segment = Segment {
            start: 0,
            interval_s: 300,
            trace: 0,
            assumed: false,
        };
        let series = Series::new(at, vec![level; 6], vec![segment]).unwrap();
        let clock = LivedClock::fixed(0);
        let recording = Recording::new(&series, &levels, &clock, 0, 86_400).unwrap();
        let weights: Vec<u32> = (0..6).map(|i| recording.weight(i, 300)).collect();
        assert_eq!(weights, [300, 10, 300, 300, 300, 300]);
        assert!((recording.expected(0, 86_400) - 288.0).abs() < 1e-12);
    }

    /// `review --from` and `--to` of days without readings beside days with some once panicked here.
    #[test]
    fn a_window_without_readings_expects_none() {
        let mut levels = Levels::new();
        let level = levels.intern(Said::whole_mg_per_dl(100));
        let segment = Segment {
            start: 0,
            interval_s: 300,
            trace: 0,
            assumed: false,
        };
        let series = Series::new(vec![600, 900], vec![level; 2], vec![segment]).unwrap();
        let clock = LivedClock::fixed(0);
        for (from, to) in [(0, 300), (700, 800), (1200, 86_400)] {
            let recording = Recording::new(&series, &levels, &clock, from, to).unwrap();
            assert!(recording.is_empty());
            assert!(recording.expected(from, to).abs() < 1e-12);
        }
    }

    #[test]
    fn a_foreign_level_is_refused() {
        let segment = Segment {
            start: 0,
            interval_s: 300,
            trace: 0,
            assumed: false,
        };
        let series = Series::new(vec![5], vec![3], vec![segment]).unwrap();
        let clock = LivedClock::fixed(0);
        let refused = Recording::new(&series, &Levels::new(), &clock, 0, 10).unwrap_err();
        assert_eq!(
            refused,
            RecordingError::UnknownLevel {
                index: 0,
                level: 3,
                levels: 0
            }
        );
    }
}

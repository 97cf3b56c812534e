//! From overlapping traces to the one series that figures are made of.

use std::borrow::Cow;
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::ops::Range;

use interstice_glucose::{Readings, Second};

use crate::trace::{IntervalFrom, gap_limit_s, native_intervals};

/// Interval taken where no trace shows one: the commonest of automatic sensors.
const ASSUMED_INTERVAL_S: u32 = 300;

/// A stretch of a series from one trace with one native interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Segment {
    /// Index of its first reading in the series. It ends where the next begins.
    pub start: usize,
    /// Native interval, seconds, at least 1.
    pub interval_s: u32,
    /// Which trace, by its place in the input.
    pub trace: usize,
    /// Whether the interval was assumed for want of readings.
    pub assumed: bool,
}

/// Why columns do not make a series.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SeriesError {
    /// Columns of unequal length.
    #[error("{at} instants but {level} levels; give one level an instant")]
    LengthMismatch {
        /// Instants.
        at: usize,
        /// Levels.
        level: usize,
    },
    /// An instant not later than the one before.
    #[error("reading {index} is not later than the one before; sort and keep one reading an instant")]
    NotAscending {
        /// Which.
        index: usize,
    },
    /// The first segment must start at 0, each later one further on, inside the columns; intervals at least 1 s.
    #[error("segment {index} does not start after the one before, or has no interval")]
    BadSegment {
        /// Which.
        index: usize,
    },
}

/// One reading at each instant, strictly ascending, with the native interval each stands for.
#[derive(Clone, Debug)]
pub struct Series<'a> {
    at: Cow<'a, [u32]>,
    level: Cow<'a, [u32]>,
    segments: Vec<Segment>,
    repeated: u64,
    set_aside: Vec<u64>,
}

impl<'a> Series<'a> {
    /// From columns already in order, as a book may keep them.
    ///
    /// # Errors
    /// Any of [`SeriesError`].
    pub fn new(
        at: impl Into<Cow<'a, [u32]>>,
        level: impl Into<Cow<'a, [u32]>>,
        segments: Vec<Segment>,
    ) -> Result<Self, SeriesError> {
        let (at, level) = (at.into(), level.into());
        if at.len() != level.len() {
            return Err(SeriesError::LengthMismatch {
                at: at.len(),
                level: level.len(),
            });
        }
        if let Some(index) = at.windows(2).position(|pair| pair[0] >= pair[1]) {
            return Err(SeriesError::NotAscending { index: index + 1 });
        }
        for (index, segment) in segments.iter().enumerate() {
            let after = index.checked_sub(1).map(|before| segments[before].start);
            let follows = after.map_or(segment.start == 0, |before| segment.start > before);
            if !follows || segment.start >= at.len() || segment.interval_s == 0 {
                return Err(SeriesError::BadSegment { index });
            }
        }
        if segments.is_empty() && !at.is_empty() {
            return Err(SeriesError::BadSegment { index: 0 });
        }
        Ok(Series {
            at,
            level,
            segments,
            repeated: 0,
            set_aside: Vec::new(),
        })
    }

    /// Seconds since 1970, strictly ascending.
    pub fn at(&self) -> &[u32] {
        &self.at
    }

    /// Level indices, one an instant.
    pub fn level(&self) -> &[u32] {
        &self.level
    }

    /// The columns themselves, instants and levels: borrowed where one trace is the whole series, else put together.
    pub fn into_columns(self) -> (Cow<'a, [u32]>, Cow<'a, [u32]>) {
        (self.at, self.level)
    }

    /// Stretches of one trace and interval, in order; empty only of an empty series.
    pub fn segments(&self) -> &[Segment] {
        &self.segments
    }

    /// Number of readings.
    pub fn len(&self) -> usize {
        self.at.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.at.is_empty()
    }

    /// First and last instant.
    pub fn span(&self) -> Option<(Second, Second)> {
        Some((Second::from(*self.at.first()?), Second::from(*self.at.last()?)))
    }

    /// Readings of a trace's own repeated instants, which stand aside for the first one there.
    pub fn repeated(&self) -> u64 {
        self.repeated
    }

    /// Readings of each trace, in input order, that stand aside while another trace is the primary.
    pub fn set_aside(&self) -> &[u64] {
        &self.set_aside
    }

    /// The series without the readings of some spans `[from, to)`, given in any order: what was asked to be left out
    /// of account counts as not received.
    pub fn without(&self, spans: &[(Second, Second)]) -> Series<'static> {
        let kept = self.kept(spans);
        let size = kept.iter().map(Range::len).sum();
        let mut series = Series {
            at: Cow::Owned(Vec::with_capacity(size)),
            level: Cow::Owned(Vec::with_capacity(size)),
            segments: Vec::new(),
            repeated: self.repeated,
            set_aside: self.set_aside.clone(),
        };
        for range in kept {
            for (part, segment) in stretches(&self.segments, range) {
                series.extend(&self.at[part.clone()], &self.level[part], segment);
            }
        }
        series
    }

    /// Time the readings stand for: each its native interval, seconds.
    pub fn stood_for_s(&self) -> u64 {
        stretches(&self.segments, 0..self.at.len())
            .map(|(part, segment)| part.len() as u64 * u64::from(segment.interval_s))
            .sum()
    }

    /// The parts of a span `[from, to)` in which the readings are those of one trace, by its place in the input.
    pub fn parts_of(&self, trace: usize, (from, to): (Second, Second)) -> Vec<(Second, Second)> {
        let index = |second: Second| self.at.partition_point(|&at| Second::from(at) < second);
        let range = index(from)..index(to).max(index(from));
        if range.is_empty() {
            return Vec::new();
        }
        stretches(&self.segments, range)
            .filter(|(_, segment)| segment.trace == trace)
            .map(|(part, _)| {
                (
                    self.at[part.start].into(),
                    Second::from(self.at[part.end - 1]) + 1,
                )
            })
            .collect()
    }

    /// Index ranges outside all of `spans`.
    fn kept(&self, spans: &[(Second, Second)]) -> Vec<Range<usize>> {
        let index = |second: Second| self.at.partition_point(|&at| Second::from(at) < second);
        let mut spans: Vec<_> = spans.iter().copied().filter(|span| span.0 < span.1).collect();
        spans.sort_unstable();
        let mut kept = Vec::new();
        let mut next = 0;
        for (from, to) in spans {
            let (start, end) = (index(from), index(to));
            if start > next {
                kept.push(next..start);
            }
            next = next.max(end);
        }
        kept.push(next..self.at.len());
        kept.retain(|range| !range.is_empty());
        kept
    }

    /// Appends readings, opening a segment where trace or interval change.
    fn extend(&mut self, at: &[u32], level: &[u32], segment: Segment) {
        if at.is_empty() {
            return;
        }
        let same = |last: &Segment| last.trace == segment.trace && last.interval_s == segment.interval_s;
        if !self.segments.last().is_some_and(same) {
            self.segments.push(Segment {
                start: self.at.len(),
                ..segment
            });
        }
        self.at.to_mut().extend_from_slice(at);
        self.level.to_mut().extend_from_slice(level);
    }
}

/// The parts of an index range that lie in one segment each, with that segment; none of an empty range.
pub(crate) fn stretches(
    segments: &[Segment],
    range: Range<usize>,
) -> impl Iterator<Item = (Range<usize>, Segment)> + '_ {
    let first = segments
        .partition_point(|segment| segment.start <= range.start)
        .saturating_sub(1);
    let following = segments.iter().enumerate().skip(first);
    let end = range.end;
    following
        .take_while(move |(_, segment)| segment.start < end)
        .map(move |(index, &segment)| {
            let next = segments.get(index + 1).map_or(end, |next| next.start);
            (segment.start.max(range.start)..next.min(end), segment)
        })
        .filter(|(part, _)| !part.is_empty())
}

/// One trace made ready: ascending, one reading an instant, with its intervals.
struct Ready<'a> {
    at: Cow<'a, [u32]>,
    level: Cow<'a, [u32]>,
    /// Empty while unknown.
    intervals: Vec<IntervalFrom>,
    assumed: bool,
    repeated: u64,
}

impl<'a> Ready<'a> {
    fn new(readings: &'a Readings) -> Self {
        let ascending = readings.at().windows(2).all(|pair| pair[0] < pair[1]);
        let (at, level) = if ascending {
            (Cow::Borrowed(readings.at()), Cow::Borrowed(readings.level()))
        } else {
            let (at, level) = first_of_each_instant(readings);
            (Cow::Owned(at), Cow::Owned(level))
        };
        let repeated = (readings.len() - at.len()) as u64;
        let intervals = native_intervals(&at).unwrap_or_default();
        Ready {
            at,
            level,
            intervals,
            assumed: false,
            repeated,
        }
    }

    fn segments(&self, trace: usize) -> Vec<Segment> {
        let segment = |i: &IntervalFrom| Segment {
            start: i.start,
            interval_s: i.interval_s.max(1),
            trace,
            assumed: self.assumed,
        };
        self.intervals.iter().map(segment).collect()
    }
}

fn first_of_each_instant(readings: &Readings) -> (Vec<u32>, Vec<u32>) {
    let mut sorted = readings.clone();
    sorted.sort();
    let mut rows: Vec<(u32, u32)> = sorted
        .at()
        .iter()
        .copied()
        .zip(sorted.level().iter().copied())
        .collect();
    rows.dedup_by_key(|row| row.0);
    rows.into_iter().unzip()
}

/// Makes one series of automatic traces.
///
/// * `traces`: readings in any order, levels of one table. At a repeated instant within a trace the first in the
///   order of the source stands.
///
/// Rule: at each instant the primary is, of the traces that speak, the one that began first (at a tie the one given
/// first). A trace speaks from its first reading until its last, except in gaps: silences longer than 15 minutes and
/// two of its native intervals, counted from one interval after the reading before. A new sensor's first hours are
/// its worst, so the older sensor stands as long as it speaks, and again when it comes back. Readings of the others
/// stand aside, counted in [`Series::set_aside`]; nothing is averaged.
///
/// A trace too short to show an interval takes the commonest one of the other traces, else five minutes, and its
/// segments say `assumed`. One trace in order is borrowed, not copied.
pub fn primary<'a>(traces: &[&'a Readings]) -> Series<'a> {
    let mut ready: Vec<Ready<'a>> = traces.iter().map(|readings| Ready::new(readings)).collect();
    assume_intervals(&mut ready);
    let repeated = ready.iter().map(|trace| trace.repeated).sum();
    let mut speaking = ready.iter().enumerate().filter(|(_, trace)| !trace.at.is_empty());
    if let (Some((only, _)), None) = (speaking.next(), speaking.next()) {
        let segments = ready[only].segments(only);
        let trace = ready.swap_remove(only);
        let set_aside = vec![0; traces.len()];
        return Series {
            at: trace.at,
            level: trace.level,
            segments,
            repeated,
            set_aside,
        };
    }
    let mut series = Series {
        at: Cow::Owned(Vec::new()),
        level: Cow::Owned(Vec::new()),
        segments: Vec::new(),
        repeated,
        set_aside: ready.iter().map(|trace| trace.at.len() as u64).collect(),
    };
    let segments: Vec<Vec<Segment>> = ready
        .iter()
        .enumerate()
        .map(|(i, trace)| trace.segments(i))
        .collect();
    for piece in pieces(&ready, &segments) {
        let trace = &ready[piece.trace];
        let index = |second: u64| trace.at.partition_point(|&at| u64::from(at) < second);
        let range = index(piece.from)..index(piece.to);
        series.set_aside[piece.trace] -= range.len() as u64;
        for (part, segment) in stretches(&segments[piece.trace], range) {
            series.extend(&trace.at[part.clone()], &trace.level[part], segment);
        }
    }
    series
}

/// Gives traces without an interval of their own the commonest one of the others.
fn assume_intervals(ready: &mut [Ready<'_>]) {
    let mut readings_by_interval = std::collections::BTreeMap::new();
    for trace in ready.iter() {
        if let Some(first) = trace.intervals.first() {
            *readings_by_interval.entry(first.interval_s).or_insert(0usize) += trace.at.len();
        }
    }
    let commonest = readings_by_interval
        .into_iter()
        .max_by_key(|&(interval_s, count)| (count, Reverse(interval_s)));
    let assumed = commonest.map_or(ASSUMED_INTERVAL_S, |(interval_s, _)| interval_s);
    for trace in ready
        .iter_mut()
        .filter(|trace| trace.intervals.is_empty() && !trace.at.is_empty())
    {
        trace.intervals.push(IntervalFrom {
            start: 0,
            interval_s: assumed,
        });
        trace.assumed = true;
    }
}

/// A stretch of time in which one trace is the primary.
struct Piece {
    trace: usize,
    from: u64,
    to: u64,
}

/// A stretch of time in which one trace speaks. Ordered so that the trace which began first comes first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Speech {
    began: u32,
    trace: usize,
    from: u64,
    to: u64,
}

/// Who is the primary when, oldest first.
fn pieces(ready: &[Ready<'_>], segments: &[Vec<Segment>]) -> Vec<Piece> {
    let mut speeches: Vec<Speech> = Vec::new();
    for (trace, (readings, segments)) in ready.iter().zip(segments).enumerate() {
        speeches_of(trace, &readings.at, segments, &mut speeches);
    }
    speeches.sort_unstable_by_key(|speech| (speech.from, *speech));
    let mut pieces = Vec::new();
    let mut waiting: BinaryHeap<Reverse<Speech>> = BinaryHeap::new();
    let mut coming = speeches.into_iter().peekable();
    let mut now = 0;
    loop {
        while waiting.peek().is_some_and(|Reverse(speech)| speech.to <= now) {
            waiting.pop();
        }
        let next_from = coming.peek().map(|speech| speech.from);
        let Some(&Reverse(speaker)) = waiting.peek() else {
            let Some(speech) = coming.next() else {
                return pieces;
            };
            now = speech.from;
            waiting.push(Reverse(speech));
            continue;
        };
        let until = next_from.map_or(speaker.to, |next| next.min(speaker.to));
        if until > now {
            pieces.push(Piece {
                trace: speaker.trace,
                from: now,
                to: until,
            });
            now = until;
        }
        while let Some(speech) = coming.next_if(|speech| speech.from <= now) {
            waiting.push(Reverse(speech));
        }
    }
}

/// The stretches in which a trace speaks, each reaching one interval past its last reading.
fn speeches_of(trace: usize, at: &[u32], segments: &[Segment], speeches: &mut Vec<Speech>) {
    let Some(&began) = at.first() else { return };
    let mut from = u64::from(began);
    let mut close = |from: u64, last: u32, interval_s: u32| {
        speeches.push(Speech {
            began,
            trace,
            from,
            to: u64::from(last) + u64::from(interval_s),
        });
    };
    for (range, segment) in stretches(segments, 0..at.len()) {
        let limit = gap_limit_s(segment.interval_s);
        for i in range {
            let Some(&next) = at.get(i + 1) else {
                close(from, at[i], segment.interval_s);
                continue;
            };
            if next - at[i] > limit {
                close(from, at[i], segment.interval_s);
                from = next.into();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(from: u32, count: u32, step: u32) -> Readings {
        let mut readings = Readings::default();
        for i in 0..count {
            readings.push(from + i * step, 0);
        }
        readings
    }

    #[test]
    fn one_trace_in_order_is_borrowed() {
        let (none, only) = (Readings::default(), trace(1000, 100, 300));
        let series = primary(&[&none, &only]);
        assert!(matches!(series.at, Cow::Borrowed(_)));
        assert_eq!(
            series.segments(),
            [Segment {
                start: 0,
                interval_s: 300,
                trace: 1,
                assumed: false
            }]
        );
    }

    #[test]
    fn the_older_sensor_stands_until_it_ends() {
        let old = trace(0, 100, 300);
        let new = trace(20_010, 200, 300);
        let series = primary(&[&new, &old]);
        assert_eq!(series.segments()[0].trace, 1);
        assert_eq!(series.segments()[1].start, 100);
        // The last old reading, at 29,700, stands until 30,000.
        assert_eq!(series.at()[100], 30_210);
        assert_eq!(series.set_aside(), [34, 0]);
        assert_eq!(series.len(), 266);
    }

    #[test]
    fn gaps_of_the_older_sensor_are_filled_and_it_comes_back() {
        let mut old = trace(0, 50, 300);
        old.append(&mut trace(50_000, 50, 300));
        let new = trace(10_050, 400, 300);
        let series = primary(&[&old, &new]);
        let order: Vec<usize> = series.segments().iter().map(|segment| segment.trace).collect();
        assert_eq!(order, [0, 1, 0, 1]);
        assert!(series.at().windows(2).all(|pair| pair[0] < pair[1]));
    }

    #[test]
    fn one_lost_reading_does_not_change_the_primary() {
        let mut old = trace(0, 50, 300);
        old.append(&mut trace(50 * 300 + 300, 50, 300));
        let new = trace(150, 200, 300);
        let series = primary(&[&old, &new]);
        assert_eq!(series.segments().len(), 2);
        assert_eq!(series.segments()[1].start, 100);
    }

    #[test]
    fn repeats_and_disorder_are_put_right_and_counted() {
        let mut readings = trace(3000, 20, 300);
        readings.push(3000, 7);
        readings.push(0, 9);
        let series = primary(&[&readings]);
        assert_eq!((series.len(), series.repeated()), (21, 1));
        assert_eq!(series.level()[..2], [9, 0]);
    }

    #[test]
    fn a_short_trace_takes_the_interval_of_the_others() {
        let long = trace(0, 100, 900);
        let short = trace(200_000, 2, 900);
        let series = primary(&[&long, &short]);
        assert_eq!(
            series.segments()[1],
            Segment {
                start: 100,
                interval_s: 900,
                trace: 1,
                assumed: true
            }
        );
        assert_eq!(primary(&[&short]).segments()[0].interval_s, 300);
        assert!(primary(&[]).is_empty());
    }

    #[test]
    fn spans_left_out_are_gone_and_segments_follow() {
        let (one, two) = (trace(0, 10, 300), trace(6000, 10, 900));
        let series = primary(&[&one, &two]);
        let left = series.without(&[(6000, 7000), (300, 900), (800, 1000), (9, 9)]);
        assert_eq!(left.at()[..2], [0, 1200]);
        assert_eq!(left.len(), series.len() - 5);
        assert_eq!(left.segments()[1].start, 7);
        assert!(series.without(&[(0, Second::MAX)]).segments().is_empty());
    }

    #[test]
    fn columns_are_checked() {
        let segment = Segment {
            start: 0,
            interval_s: 300,
            trace: 0,
            assumed: false,
        };
        assert!(Series::new(vec![1, 2], vec![0, 0], vec![segment]).is_ok());
        let wrong = Series::new(vec![1, 1], vec![0, 0], vec![segment]);
        assert_eq!(wrong.unwrap_err(), SeriesError::NotAscending { index: 1 });
        assert!(Series::new(vec![1], vec![0, 0], vec![segment]).is_err());
        assert!(Series::new(vec![1], vec![0], vec![]).is_err());
    }
}

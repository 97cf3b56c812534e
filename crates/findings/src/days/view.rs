//! One view: columns or readings, spread, ticks, nights and events of a stretch at a width.

use std::ops::Range;

use interstice_book::{Record, Trace};
use interstice_glucose::{Censor, DAY_S, Levels, Second, TraceKind};
use interstice_methods::timeline::{Cell, Columns, Spread, column_step_s};
use interstice_methods::trace::gap_limit_s;
use interstice_methods::{Band, Range as ReadingRange, Segment};

use super::ticks::{Ticks, nights, ticks};
use super::{Stretch, Timeline, TimelineError, TimelineEvent, events};

/// Beyond this, traces other than the primary are not drawn.
pub(super) const ASIDE_LONGEST_S: Second = 45 * DAY_S;
/// Most readings handed over of one such trace.
const ASIDE_MOST: usize = 20_000;
/// Below this, spread is not drawn: the line itself is legible.
const SPREAD_SHORTEST_S: Second = 10 * DAY_S;
/// Fewest pixels for a day, a week or a month of spread.
const SPREAD_PX: f64 = 2.0;
/// Pixels within which events are one group.
pub(super) const GROUP_PX: u32 = 8;
/// Most columns answered at once.
const MOST_COLUMNS: u32 = 16_384;

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ViewAsk {
    /// First instant.
    pub from: Second,
    /// First instant no longer in it.
    pub to: Second,
    /// Width of the drawing, pixels as text is measured in.
    pub width: u32,
    /// Device pixels in one of those, 1 to 3.
    pub density: u32,
}

/// What a stretch looks like.
#[derive(Clone, Debug)]
pub struct TimelineView {
    /// First instant.
    pub from: Second,
    /// First instant no longer in it.
    pub to: Second,
    /// Width of a column, seconds.
    pub step_s: u32,
    /// The primary series first, then the others.
    pub series: Vec<SeriesView>,
    /// Spread by stretch; `None` where the line itself is legible.
    pub spread: Option<SpreadView>,
    /// Ticks.
    pub ticks: Ticks,
    /// Nights: first instant, first instant after.
    pub nights: Vec<(Second, Second)>,
    /// What was written down, lane by lane, in time order.
    pub events: Vec<TimelineEvent>,
}

/// What a series is in the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// The one that figures are made of.
    Primary,
    /// Another automatic trace of the same time.
    Aside,
    /// Readings by hand.
    Scan,
}

/// One series of a view.
#[derive(Clone, Debug)]
pub struct SeriesView {
    /// What it is in the picture.
    pub role: Role,
    /// The sensor's name; empty of the primary series, which is made of several.
    pub sensor: String,
    /// Every reading, where there are few enough; else `columns` has them.
    pub points: Vec<Point>,
    /// Columns that hold a reading.
    pub columns: Vec<Column>,
}

/// One reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// When.
    pub at: u32,
    /// Value, mg/dL.
    pub mg_dl: f64,
    /// The range it counts in, by its own unit.
    pub range: ReadingRange,
    /// Below or above what the sensor can measure.
    pub censor: Censor,
    /// Whether it is not joined to the reading before: a gap, or another sensor.
    pub open: bool,
}

/// One column of the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    /// Its first instant.
    pub at: u32,
    /// First reading, mg/dL.
    pub first_mg_dl: f64,
    /// Lowest reading, mg/dL.
    pub lowest_mg_dl: f64,
    /// Highest reading, mg/dL.
    pub highest_mg_dl: f64,
    /// Last reading, mg/dL.
    pub last_mg_dl: f64,
    /// Readings in it.
    pub count: u32,
    /// Whether its first reading is not joined to the one before.
    pub open: bool,
    /// Whether any stands below or above what the sensor can measure.
    pub censored: bool,
}

/// Spread by stretch.
#[derive(Clone, Debug)]
pub struct SpreadView {
    /// Days, weeks or months.
    pub stretch: Stretch,
    /// One a stretch with readings, oldest first.
    pub rows: Vec<Spread>,
}

impl Timeline {
    /// What a stretch looks like. The width is held within 1 to 20,000 pixels, the stretch within what columns can
    /// keep (1970 to 2106).
    ///
    /// # Errors
    /// `EmptyWindow`; `Columns` when `record` is not the one the timeline was built of.
    pub fn view(&self, record: &Record, ask: ViewAsk) -> Result<TimelineView, TimelineError> {
        let (from, to) = (ask.from.max(0), ask.to.min(Second::from(u32::MAX)));
        if from >= to {
            return Err(TimelineError::EmptyWindow);
        }
        let width = ask.width.clamp(1, 20_000);
        let columns = (width * ask.density.clamp(1, 3)).min(MOST_COLUMNS);
        let step_s = column_step_s(to - from, columns);
        let mut series = vec![self.primary_view(record, from, to, step_s, columns)?];
        if to - from <= ASIDE_LONGEST_S {
            series.extend(self.others(record, from, to));
        }
        Ok(TimelineView {
            from,
            to,
            step_s,
            series,
            spread: self.spread(from, to, width),
            ticks: ticks(&record.clock, from, to, width),
            nights: nights(&record.clock, self.night, (from, to), width),
            events: events::within(
                record,
                &self.lanes,
                from,
                to,
                column_step_s(to - from, width / GROUP_PX),
            ),
        })
    }

    fn primary_view(
        &self,
        record: &Record,
        from: Second,
        to: Second,
        step_s: u32,
        columns: u32,
    ) -> Result<SeriesView, TimelineError> {
        let readings = self.columns(record);
        let range = readings.range(from, to);
        let mut view = SeriesView::empty(Role::Primary, "");
        if range.len() <= 2 * columns as usize {
            view.points = self.points(readings, &record.levels, range);
            return Ok(view);
        }
        // Columns start on multiples of their width, so that the same readings share one wherever the view begins.
        let first = from.div_euclid(step_s.into()) * Second::from(step_s);
        let count = u32::try_from((to - first) / Second::from(step_s) + 1).unwrap_or(u32::MAX);
        let cells = self.pyramid.cells(readings, first, step_s, count)?;
        let mut gaps = Gaps::new(&self.segments);
        view.columns = cells
            .iter()
            .map(|cell| column(cell, first, step_s, &record.levels, &mut gaps))
            .collect();
        Ok(view)
    }

    /// One reading, named by the target range of the wearer's group.
    pub(super) fn point(&self, at: u32, level: u32, levels: &Levels, open: bool) -> Point {
        let level = levels.get(level);
        Point {
            at,
            mg_dl: level.mg_per_dl,
            range: Band::of(level.said).range_for(self.group),
            censor: level.said.censor(),
            open,
        }
    }

    pub(super) fn points(&self, readings: Columns<'_>, levels: &Levels, range: Range<usize>) -> Vec<Point> {
        let mut gaps = Gaps::new(&self.segments);
        range
            .map(|i| {
                let since = i
                    .checked_sub(1)
                    .map(|before| readings.at[i] - readings.at[before]);
                self.point(readings.at[i], readings.level[i], levels, gaps.opens(i, since))
            })
            .collect()
    }

    /// Traces that are not the primary, or not all of the time, and readings by hand.
    fn others(&self, record: &Record, from: Second, to: Second) -> Vec<SeriesView> {
        let mut series = Vec::new();
        let in_primary = self.counts_by_trace(record, from, to);
        for (trace, in_primary) in record.traces.iter().zip(in_primary) {
            let range = trace.readings.range(from, to);
            if range.is_empty() || range.len() > ASIDE_MOST {
                continue;
            }
            match trace.kind {
                TraceKind::Scan => {
                    series.push(self.aside(trace, &record.levels, range, Role::Scan, |_| true));
                }
                TraceKind::Automatic if in_primary < range.len() => {
                    let interval_s =
                        interstice_methods::trace::native_interval(trace.readings.at()).unwrap_or(300);
                    let limit = gap_limit_s(interval_s);
                    series.push(self.aside(trace, &record.levels, range, Role::Aside, |since| since > limit));
                }
                TraceKind::Automatic => {}
            }
        }
        series
    }

    fn aside(
        &self,
        trace: &Trace,
        levels: &Levels,
        range: Range<usize>,
        role: Role,
        opens: impl Fn(u32) -> bool,
    ) -> SeriesView {
        let (at, level) = (trace.readings.at(), trace.readings.level());
        let mut view = SeriesView::empty(role, &trace.sensor);
        view.points = range
            .map(|i| {
                let since = i.checked_sub(1).map(|before| at[i].saturating_sub(at[before]));
                self.point(at[i], level[i], levels, since.is_none_or(&opens))
            })
            .collect();
        view
    }

    /// Readings of each trace in the primary series within a stretch.
    fn counts_by_trace(&self, record: &Record, from: Second, to: Second) -> Vec<usize> {
        let range = self.columns(record).range(from, to);
        let mut counts = vec![0; record.traces.len()];
        for (i, segment) in self.segments.iter().enumerate() {
            let end = self.segments.get(i + 1).map_or(usize::MAX, |next| next.start);
            let part = segment.start.max(range.start)..end.min(range.end);
            if let Some(count) = counts.get_mut(segment.trace) {
                *count += part.len();
            }
        }
        counts
    }

    /// Spread by the finest stretch that is wide enough to see.
    fn spread(&self, from: Second, to: Second, width: u32) -> Option<SpreadView> {
        if to - from < SPREAD_SHORTEST_S {
            return None;
        }
        let day_px = DAY_S as f64 * f64::from(width) / (to - from) as f64;
        let (stretch, rows) = if day_px >= SPREAD_PX {
            (Stretch::Day, &self.spreads.days)
        } else if day_px * 7.0 >= SPREAD_PX {
            (Stretch::Week, &self.spreads.weeks)
        } else {
            (Stretch::Month, &self.spreads.months)
        };
        Some(SpreadView {
            stretch,
            rows: spreads_within(rows, from, to).to_vec(),
        })
    }

    /// The finest stretches that number no more than `most` within a view, for its table.
    pub(super) fn stretches(&self, from: Second, to: Second, most: usize) -> (Stretch, &[Spread]) {
        let candidates = [
            (Stretch::Day, &self.spreads.days),
            (Stretch::Week, &self.spreads.weeks),
        ];
        for (stretch, rows) in candidates {
            let rows = spreads_within(rows, from, to);
            if rows.len() <= most {
                return (stretch, rows);
            }
        }
        (Stretch::Month, spreads_within(&self.spreads.months, from, to))
    }
}

fn spreads_within(rows: &[Spread], from: Second, to: Second) -> &[Spread] {
    let start = rows.partition_point(|row| row.to <= from);
    let end = rows.partition_point(|row| row.from < to);
    &rows[start..end.max(start)]
}

impl SeriesView {
    fn empty(role: Role, sensor: &str) -> Self {
        SeriesView {
            role,
            sensor: sensor.to_owned(),
            points: Vec::new(),
            columns: Vec::new(),
        }
    }
}

fn column(cell: &Cell, first: Second, step_s: u32, levels: &Levels, gaps: &mut Gaps<'_>) -> Column {
    let value = |level: u32| levels.get(level).mg_per_dl;
    let at = first + Second::from(cell.column) * Second::from(step_s);
    Column {
        at: u32::try_from(at.max(0)).unwrap_or(u32::MAX),
        first_mg_dl: value(cell.first),
        lowest_mg_dl: value(cell.lowest),
        highest_mg_dl: value(cell.highest),
        last_mg_dl: value(cell.last),
        count: cell.count,
        open: gaps.opens(cell.index, cell.since_previous_s),
        censored: cell.censored,
    }
}

/// Where the line is left open, asked in ascending order of readings.
struct Gaps<'a> {
    segments: &'a [Segment],
    /// Segments that begin at or before the reading asked about.
    begun: usize,
}

impl<'a> Gaps<'a> {
    fn new(segments: &'a [Segment]) -> Self {
        Gaps { segments, begun: 0 }
    }

    /// Whether a reading is not joined to the one before: the first of all, the first of another sensor, or one that
    /// follows after more than the gap limit of the trace.
    fn opens(&mut self, index: usize, since_previous_s: Option<u32>) -> bool {
        while self
            .segments
            .get(self.begun)
            .is_some_and(|segment| segment.start <= index)
        {
            self.begun += 1;
        }
        let Some(current) = self.begun.checked_sub(1).map(|i| self.segments[i]) else {
            return true;
        };
        let before = self.begun.checked_sub(2).map(|i| self.segments[i].trace);
        let changes = current.start == index && before.is_some_and(|trace| trace != current.trace);
        changes || since_previous_s.is_none_or(|since| since > gap_limit_s(current.interval_s))
    }
}

//! Days: the long timeline, from forty years to ten minutes, with everything that was written down on its axis.
//!
//! [`Timeline`] is made once for a book and kept; [`Timeline::view`] answers any stretch at any width in a
//! millisecond or two, [`Timeline::account`] tells the same stretch in rows. Instants are seconds since 1970; what the
//! wall clock read there is handed over with them. Glucose is in mg/dL.

mod account;
mod address;
mod beside;
mod events;
mod scale;
mod ticks;
mod view;

use std::borrow::Cow;
use std::sync::{Arc, OnceLock};

use interstice_book::{EntryRef, NightHours, Record};
use interstice_glucose::{DAY_S, LivedClock, MarkKind, Second, WallTime};
use interstice_methods::timeline::{Columns, Pyramid, PyramidError, column_step_s, spreads};
use interstice_methods::{Segment, Series, TargetGroup, Targets, lived_days};

use crate::account::Reader;
use crate::swings::SwingSpan;
use crate::trust::{LowSpan, Lows};
use crate::window;

pub use interstice_methods::Range as ReadingRange;
pub use interstice_methods::timeline::Spread;

pub use account::{AccountRow, AsideLine, DaysAccount, Extreme, ReadingRow, Stretch};
pub use address::{address, date, instant};
pub use beside::{Beside, BesideFindings, ClockPoint, OneDay, USUAL_DAYS, UsualBeside};
pub use events::{Happening, Lane, TimelineEvent};
pub use scale::{Move, Scale, ViewSpan};
pub use ticks::{Tick, TickStep, Ticks, USUAL_NIGHT};
pub(crate) use ticks::{nights, within};
pub use view::{Column, Point, Role, SeriesView, SpreadView, TimelineView, ViewAsk};

/// Why a timeline cannot be shown.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TimelineError {
    /// The columns do not fit the timeline.
    #[error("the readings cannot be drawn: {0}")]
    Columns(#[from] PyramidError),
    /// Nothing to show.
    #[error("from must be before to")]
    EmptyWindow,
}

/// Where the primary series is: one trace as it stands, or columns put together of several.
#[derive(Clone, Debug)]
enum Primary {
    Trace(usize),
    Merged { at: Vec<u32>, level: Vec<u32> },
}

/// All that is worked out once for a book.
#[derive(Clone, Debug)]
pub struct Timeline {
    primary: Primary,
    segments: Vec<Segment>,
    pyramid: Pyramid,
    spreads: Spreads,
    lanes: Vec<(Lane, events::LaneItems)>,
    span: Option<(Second, Second)>,
    lowest: Option<f64>,
    highest: Option<f64>,
    night: NightHours,
    group: TargetGroup,
}

/// Spread by lived day, by week from Monday, and by calendar month.
#[derive(Clone, Debug, Default)]
struct Spreads {
    days: Vec<Spread>,
    weeks: Vec<Spread>,
    months: Vec<Spread>,
}

impl Timeline {
    /// Works out primary series, extremes and spreads of a record.
    ///
    /// * `night`: the hours to shade.
    /// * `group`: whose target range readings are named and coloured by.
    ///
    /// # Errors
    /// `Columns` where a trace is out of order or indexes another table.
    pub fn new(record: &Record, night: NightHours, group: TargetGroup) -> Result<Self, TimelineError> {
        let (automatic, series) = crate::whole::whole(record);
        let columns = Columns::from(&series);
        let pyramid = Pyramid::build(columns, &record.levels)?;
        let spreads = Spreads::of(columns, record);
        let whole = whole(&pyramid, columns)?;
        let value = |level: u32| record.levels.get(level).mg_per_dl;
        let segments = series
            .segments()
            .iter()
            .map(|s| Segment {
                trace: automatic[s.trace],
                ..*s
            })
            .collect();
        let lanes = events::lanes(record);
        Ok(Timeline {
            span: span(record, &lanes),
            lowest: whole.map(|cell| value(cell.lowest)),
            highest: whole.map(|cell| value(cell.highest)),
            primary: kept(series, &automatic),
            segments,
            pyramid,
            spreads,
            lanes,
            night,
            group,
        })
    }

    /// First instant and first instant after all that was read or written down; `None` of an empty book.
    pub fn span(&self) -> Option<(Second, Second)> {
        self.span
    }

    /// The edges of the ranges, and the targets of the group they belong to.
    pub fn targets(&self) -> Targets {
        self.group.targets()
    }

    /// Lowest and highest reading of the primary series, mg/dL.
    pub fn extremes_mg_dl(&self) -> Option<(f64, f64)> {
        self.lowest.zip(self.highest)
    }

    /// The lanes in which something is written down, in the order they are drawn.
    pub fn lanes(&self) -> Vec<Lane> {
        self.lanes
            .iter()
            .filter(|(_, items)| !items.is_empty())
            .map(|&(lane, _)| lane)
            .collect()
    }

    /// Readings in the primary series.
    pub fn len(&self) -> usize {
        self.pyramid.len()
    }

    /// Whether it has none.
    pub fn is_empty(&self) -> bool {
        self.pyramid.is_empty()
    }

    /// The lived day of a calendar date: first instant, first instant after. `None` of a date the wall clock never
    /// showed.
    pub fn day(clock: &LivedClock, date: WallTime) -> Option<(Second, Second)> {
        let start = clock.first_at_or_after(WallTime(date.day() * DAY_S));
        let days = lived_days(clock, start - DAY_S, start + 3 * DAY_S);
        days.iter()
            .find(|day| day.date == date.day())
            .map(|day| (day.from, day.from + day.whole_s))
    }

    fn columns<'a>(&'a self, record: &'a Record) -> Columns<'a> {
        match &self.primary {
            Primary::Trace(trace) => record
                .traces
                .get(*trace)
                .map_or_else(Columns::default, |t| (&t.readings).into()),
            Primary::Merged { at, level } => Columns { at, level },
        }
    }
}

/// The columns of a series, without copying them; a series that is one trace as it stands is only named.
fn kept(series: Series<'_>, automatic: &[usize]) -> Primary {
    let sole = series.segments().first().map(|segment| automatic[segment.trace]);
    match (series.into_columns(), sole) {
        ((Cow::Borrowed(_), _), Some(trace)) => Primary::Trace(trace),
        ((at, level), _) => Primary::Merged {
            at: at.into_owned(),
            level: level.into_owned(),
        },
    }
}

fn whole(
    pyramid: &Pyramid,
    columns: Columns<'_>,
) -> Result<Option<interstice_methods::timeline::Cell>, PyramidError> {
    Ok(pyramid.cells(columns, 0, u32::MAX, 2)?.first().copied())
}

/// From the first to the last of everything.
fn span(record: &Record, lanes: &[(Lane, events::LaneItems)]) -> Option<(Second, Second)> {
    let traces = record.traces.iter().filter_map(|trace| trace.readings.span());
    let events = lanes.iter().filter_map(|(_, items)| items.span());
    traces
        .chain(events)
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
        .map(|(from, to)| (from, to + 1))
}

impl Spreads {
    fn of(columns: Columns<'_>, record: &Record) -> Spreads {
        let (Some(&first), Some(&last)) = (columns.at.first(), columns.at.last()) else {
            return Spreads::default();
        };
        // A month before the first reading, so that the week and the month it falls in are whole.
        let (from, to) = (Second::from(first) - 32 * DAY_S, Second::from(last) + 32 * DAY_S);
        let days = lived_days(&record.clock, from, to);
        let bounds = |begins: fn(i64) -> bool| -> Vec<Second> {
            days.iter()
                .skip(1)
                .filter(|day| begins(day.date))
                .map(|day| day.from)
                .collect()
        };
        let of = |bounds: Vec<Second>| spreads(columns, &record.levels, &bounds);
        Spreads {
            days: of(bounds(|_| true)),
            // 1970-01-01 was a Thursday.
            weeks: of(bounds(|date| (date + 3).rem_euclid(7) == 0)),
            months: of(bounds(|date| {
                WallTime(date * DAY_S)
                    .civil()
                    .is_some_and(|civil| civil.day() == 1)
            })),
        }
    }
}

/// The wearer's words on lows of a stretch.
fn judged(record: &Record, from: Second, to: Second) -> Vec<LowSpan> {
    let mut lows: Vec<LowSpan> = record
        .low_verdicts
        .iter()
        .map(|kept| &kept.it)
        .filter(|word| word.at < to && word.until > from)
        .map(|word| LowSpan {
            from: word.at,
            to: word.until,
            said: Some(word.was),
            probability: None,
        })
        .collect();
    lows.sort_by_key(|low| (low.from, low.to));
    lows
}

/// A record and its timeline, kept together.
#[derive(Debug)]
pub struct DaysBook {
    record: Arc<Record>,
    timeline: Timeline,
    lows: Option<Lows>,
    swings: Option<Swings>,
}

/// The swings of a book, looked for when first asked for.
#[derive(Debug)]
struct Swings {
    reader: Reader,
    found: OnceLock<Vec<SwingSpan>>,
}

impl DaysBook {
    /// Works out the timeline of a record.
    ///
    /// # Errors
    /// As [`Timeline::new`].
    pub fn new(record: Arc<Record>, night: NightHours, group: TargetGroup) -> Result<Self, TimelineError> {
        let timeline = Timeline::new(&record, night, group)?;
        Ok(DaysBook {
            record,
            timeline,
            lows: None,
            swings: None,
        })
    }

    /// The same with possible pressure lows, as Trust tells them.
    ///
    /// * `night`: the hours that were set, if any.
    #[must_use]
    pub fn with_lows(mut self, night: Option<NightHours>) -> Self {
        self.lows = Some(Lows::new(&self.record, night)).filter(|lows| !lows.is_empty());
        self
    }

    /// The same with swings, as the account tells them.
    #[must_use]
    pub fn with_swings(mut self, reader: Reader) -> Self {
        let is_logged = !self.record.doses.is_empty() || !self.record.meals.is_empty();
        self.swings = is_logged.then(|| Swings {
            reader,
            found: OnceLock::new(),
        });
        self
    }

    /// Within 45 days every swing; in longer stretches they would be noise.
    fn swings_within(&self, from: Second, to: Second) -> Vec<SwingSpan> {
        let Some(swings) = self
            .swings
            .as_ref()
            .filter(|_| to - from <= view::ASIDE_LONGEST_S)
        else {
            return Vec::new();
        };
        // A record that was loaded fits together; should it not, the account says so.
        let all = swings
            .found
            .get_or_init(|| crate::swings::spans(&self.record, swings.reader).unwrap_or_default());
        let touches = |swing: &&SwingSpan| swing.from < to && swing.to > from;
        all.iter().filter(touches).cloned().collect()
    }

    /// The lanes there are, in the order they are drawn.
    pub fn lanes(&self) -> Vec<Lane> {
        let mut lanes = self.timeline.lanes();
        lanes.extend(self.lows.as_ref().map(|_| Lane::Low));
        lanes.extend(self.swings.as_ref().map(|_| Lane::Swing));
        lanes.sort();
        lanes
    }

    /// Within 45 days every possible pressure low; beyond that those the wearer judged.
    fn lows_within(&self, from: Second, to: Second) -> Vec<LowSpan> {
        match &self.lows {
            None => Vec::new(),
            Some(lows) if to - from <= view::ASIDE_LONGEST_S => lows.within(&self.record, from, to),
            Some(_) => judged(&self.record, from, to),
        }
    }

    /// The timeline.
    pub fn timeline(&self) -> &Timeline {
        &self.timeline
    }

    /// The wall clock lived by.
    pub fn clock(&self) -> &LivedClock {
        &self.record.clock
    }

    /// What a stretch looks like.
    ///
    /// # Errors
    /// As [`Timeline::view`].
    pub fn view(&self, ask: ViewAsk) -> Result<TimelineView, TimelineError> {
        let mut view = self.timeline.view(&self.record, ask)?;
        let lows = self.lows_within(view.from, view.to);
        let bin_s = column_step_s(view.to - view.from, ask.width.clamp(1, 20_000) / view::GROUP_PX);
        view.events.extend(events::lows(&lows, bin_s));
        view.events
            .extend(events::swings(&self.swings_within(view.from, view.to), bin_s));
        // Lane by lane, each in time order as it came.
        view.events.sort_by_key(|event| event.lane);
        Ok(view)
    }

    /// A stretch in words and rows.
    ///
    /// # Errors
    /// As [`Timeline::account`].
    pub fn account(&self, from: Second, to: Second) -> Result<DaysAccount, TimelineError> {
        let mut told = self.timeline.account(&self.record, from, to)?;
        let lows = self.lows_within(told.from.at, told.to.at);
        let begun = lows.iter().filter(|low| low.from >= told.from.at).count();
        told.counts
            .extend(Some((Lane::Low, begun)).filter(|&(_, count)| count > 0));
        let swings = self.swings_within(told.from.at, told.to.at);
        let begun = swings.iter().filter(|swing| swing.from >= told.from.at).count();
        told.counts
            .extend(Some((Lane::Swing, begun)).filter(|&(_, count)| count > 0));
        let found = lows.iter().map(events::low_event);
        told.add_events(found.chain(swings.iter().map(events::swing_event)), self.clock());
        if told.to.at - told.from.at <= account::BY_READING_S {
            told.episodes = self.episodes(told.from.at, told.to.at);
        }
        Ok(told)
    }

    /// The entry of a stretch marked as not to be believed, by its number.
    pub fn aside_entry(&self, id: i64) -> Option<EntryRef> {
        let marks = self.record.marks.iter();
        let mut marked = marks.filter(|kept| kept.it.kind == MarkKind::Artefact);
        marked.find(|kept| kept.entry.id == id).map(|kept| kept.entry)
    }

    /// The lived day of a calendar date: first instant, first instant after. `None` of a date the wall clock never
    /// showed.
    pub fn day(&self, date: WallTime) -> Option<(Second, Second)> {
        Timeline::day(self.clock(), date)
    }

    /// The last so many whole lived days up to the end of the book; one day from 1970 of an empty one.
    pub fn last_days(&self, days: u32) -> (Second, Second) {
        match self.timeline.span {
            Some((_, end)) => window::last_days(days, self.clock(), end - 1),
            None => (0, DAY_S),
        }
    }

    /// The last lived day with readings; the book's last where it has none.
    pub fn last_read_day(&self) -> (Second, Second) {
        match crate::whole::last_automatic(&self.record) {
            Some(at) => window::last_days(1, self.clock(), at),
            None => self.last_days(1),
        }
    }

    /// The scales a page offers: everything, then shorter ones about the middle of what is shown.
    pub fn scales(&self, from: Second, to: Second) -> Vec<Scale> {
        scale::scales(self.timeline.span.unwrap_or((from, to)), from, to)
    }

    /// Half a width earlier and later.
    pub fn moves(&self, from: Second, to: Second) -> [Move; 2] {
        scale::moves(from, to)
    }
}

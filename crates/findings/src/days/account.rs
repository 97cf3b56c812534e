//! The same stretch in rows: what the picture shows, as words and a table can say it.

use interstice_book::{EntryRef, Record};
use interstice_glucose::{
    AsideWhy, Censor, DAY_S, Level, LivedClock, MarkKind, Moment, Pass, Second, WallTime,
};
use interstice_methods::timeline::Spread;
use interstice_methods::{Band, Range as ReadingRange, lived_days};

use super::view::Point;
use super::{Lane, Timeline, TimelineError, TimelineEvent, events};
use crate::review::EpisodeLine;

/// Up to this long a stretch is told reading by reading: a day of 25 hours, and the minutes a view is off by.
pub(super) const BY_READING_S: Second = 26 * 3600;
/// Most rows of a table.
const MOST_ROWS: usize = 300;
/// Most events listed.
const MOST_EVENTS: usize = 200;

/// What a row of the table stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stretch {
    /// A lived day.
    Day,
    /// A week from Monday.
    Week,
    /// A calendar month.
    Month,
}

/// One reading of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadingRow {
    /// When, with the wall clock's offset.
    pub moment: Moment,
    /// Where the wall clock read that time twice, which of them.
    pub pass: Option<Pass>,
    /// The reading.
    pub point: Point,
}

/// The lowest or the highest reading of a stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extreme {
    /// Value, mg/dL.
    pub mg_dl: f64,
    /// The range it counts in, by its own unit.
    pub range: ReadingRange,
    /// Below or above what the sensor can measure.
    pub censor: Censor,
}

/// A stretch that was marked as not to be believed.
#[derive(Clone, Debug, PartialEq)]
pub struct AsideLine {
    /// Its entry, to take it away.
    pub entry: EntryRef,
    /// When it begins.
    pub from: Moment,
    /// First instant no longer in it.
    pub to: Moment,
    /// Why, where that was said.
    pub why: Option<AsideWhy>,
    /// Words beside it.
    pub words: Option<String>,
    /// Readings of the primary series in it.
    pub readings: u64,
}

/// The rows of the table.
#[derive(Clone, Debug)]
pub enum AccountRow {
    /// Reading by reading.
    Readings(Vec<ReadingRow>),
    /// By day, week or month.
    Stretches(Stretch, Vec<Spread>),
}

/// A stretch in words and rows.
#[derive(Clone, Debug)]
pub struct DaysAccount {
    /// First instant.
    pub from: Moment,
    /// First instant no longer in it.
    pub to: Moment,
    /// Readings in it.
    pub readings: u32,
    /// Lowest of them.
    pub lowest: Option<Extreme>,
    /// Highest of them.
    pub highest: Option<Extreme>,
    /// How much of each lane began in it.
    pub counts: Vec<(Lane, usize)>,
    /// Lows and highs that touch it, of a day or less, with what was logged around each.
    pub episodes: Vec<EpisodeLine>,
    /// Stretches marked as not to be believed that touch it, in time order; capped.
    pub aside: Vec<AsideLine>,
    /// How many there are, capped or not.
    pub aside_in_all: usize,
    /// What was written down, in time order, of a day or less; capped.
    pub events: Vec<(Moment, TimelineEvent)>,
    /// How many there are, capped or not.
    pub events_in_all: usize,
    /// The table's rows, oldest first; capped.
    pub rows: AccountRow,
    /// How many rows there are, capped or not.
    pub rows_in_all: usize,
    /// The lived day its middle lies in: first instant, first instant after.
    pub day: (Second, Second),
    /// The day before that.
    pub day_before: (Second, Second),
    /// The day after it.
    pub day_after: (Second, Second),
    /// Where the wall clock was set within the stretch, of a day or less: what it read just before, and from then on.
    pub clock_set: Vec<(WallTime, WallTime)>,
    /// Whether the stretch is that day, to the minute.
    pub is_day: bool,
}

impl DaysAccount {
    /// Adds what is not in the record's own lanes, where single events are told: of a day or less.
    pub(super) fn add_events(&mut self, more: impl Iterator<Item = TimelineEvent>, clock: &LivedClock) {
        if self.to.at - self.from.at > BY_READING_S {
            return;
        }
        let told = self.events.len();
        self.events
            .extend(more.map(|event| (clock.moment(event.at), event)));
        self.events_in_all += self.events.len() - told;
        self.events.sort_by_key(|(moment, event)| (moment.at, event.lane));
        self.events.truncate(MOST_EVENTS);
    }
}

impl Timeline {
    /// A stretch in words and rows: reading by reading up to a day, else by day, week or month, whichever gives no
    /// more than 300 rows.
    ///
    /// # Errors
    /// `EmptyWindow`; `Columns` when `record` is not the one the timeline was built of.
    pub fn account(&self, record: &Record, from: Second, to: Second) -> Result<DaysAccount, TimelineError> {
        let (from, to) = (from.max(0), to.min(Second::from(u32::MAX)));
        if from >= to {
            return Err(TimelineError::EmptyWindow);
        }
        let readings = self.columns(record);
        let cells = self
            .pyramid
            .cells(readings, from, u32::try_from(to - from).unwrap_or(u32::MAX), 1)?;
        let cell = cells.first();
        let extreme = |level: u32| {
            let Level { said, mg_per_dl } = *record.levels.get(level);
            Extreme {
                mg_dl: mg_per_dl,
                range: Band::of(said).range_for(self.group),
                censor: said.censor(),
            }
        };
        let short = to - from <= BY_READING_S;
        let (events, events_in_all) = if short {
            events::listed(record, &self.lanes, from, to, MOST_EVENTS)
        } else {
            (Vec::new(), 0)
        };
        let (rows, rows_in_all) = self.rows(record, from, to, short);
        let (aside, aside_in_all) = self.marked_aside(record, from, to);
        let [day_before, day, day_after] = days_about(record, from + (to - from) / 2);
        Ok(DaysAccount {
            from: record.clock.moment(from),
            to: record.clock.moment(to),
            readings: cell.map_or(0, |cell| cell.count),
            lowest: cell.map(|cell| extreme(cell.lowest)),
            highest: cell.map(|cell| extreme(cell.highest)),
            counts: events::counts(&self.lanes, from, to),
            episodes: Vec::new(),
            aside,
            aside_in_all,
            events: events
                .into_iter()
                .map(|event| (record.clock.moment(event.at), event))
                .collect(),
            events_in_all,
            rows,
            rows_in_all,
            day,
            day_before,
            day_after,
            clock_set: if short {
                clock_set(record, from, to)
            } else {
                Vec::new()
            },
            is_day: (from - day.0).abs() < 60 && (to - day.1).abs() < 60,
        })
    }

    fn marked_aside(&self, record: &Record, from: Second, to: Second) -> (Vec<AsideLine>, usize) {
        let readings = self.columns(record);
        let marks = record
            .marks
            .iter()
            .filter(|kept| kept.it.kind == MarkKind::Artefact);
        let mut lines: Vec<AsideLine> = marks
            .filter_map(|kept| Some((kept, kept.it.at, kept.it.until?)))
            .filter(|&(_, at, until)| at < to && until > from)
            .map(|(kept, at, until)| {
                let (why, words) = kept.it.text.as_deref().map_or((None, None), AsideWhy::of);
                AsideLine {
                    entry: kept.entry,
                    from: record.clock.moment(at),
                    to: record.clock.moment(until),
                    why,
                    words: words.map(str::to_owned),
                    readings: readings.range(at, until).len() as u64,
                }
            })
            .collect();
        lines.sort_by_key(|line| (line.from.at, line.to.at, line.entry));
        let in_all = lines.len();
        lines.truncate(MOST_EVENTS);
        (lines, in_all)
    }

    fn rows(&self, record: &Record, from: Second, to: Second, short: bool) -> (AccountRow, usize) {
        if !short {
            let (stretch, rows) = self.stretches(from, to, MOST_ROWS);
            let shown = &rows[rows.len().saturating_sub(MOST_ROWS)..];
            return (AccountRow::Stretches(stretch, shown.to_vec()), rows.len());
        }
        let readings = self.columns(record);
        let range = readings.range(from, to);
        let row = |i: usize| ReadingRow {
            moment: record.clock.moment(Second::from(readings.at[i])),
            pass: record.clock.pass(Second::from(readings.at[i])),
            point: self.point(readings.at[i], readings.level[i], &record.levels, false),
        };
        let count = range.len();
        (
            AccountRow::Readings(range.take(MOST_ROWS).map(row).collect()),
            count,
        )
    }
}

/// What the wall clock read before and after each setting in `(from, to)`.
fn clock_set(record: &Record, from: Second, to: Second) -> Vec<(WallTime, WallTime)> {
    record
        .clock
        .pieces()
        .windows(2)
        .filter(|pair| from < pair[1].0 && pair[1].0 < to)
        .map(|pair| {
            let read = |offset: i32| WallTime(pair[1].0 + Second::from(offset));
            (read(pair[0].1), read(pair[1].1))
        })
        .collect()
}

/// The lived day of an instant and its neighbours.
fn days_about(record: &Record, at: Second) -> [(Second, Second); 3] {
    let days = lived_days(&record.clock, at - 4 * DAY_S, at + 4 * DAY_S);
    let here = days.iter().position(|day| day.from <= at && at < day.to);
    let day = |i: Option<usize>| {
        i.and_then(|i| days.get(i))
            .map_or((at, at + DAY_S), |day| (day.from, day.from + day.whole_s))
    };
    [
        day(here.and_then(|i| i.checked_sub(1))),
        day(here),
        day(here.map(|i| i + 1)),
    ]
}

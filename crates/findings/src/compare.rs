//! Before and after: two windows, or days of a kind against others, with what else was different between them.

mod logged;
mod sides;
mod told;

use std::collections::BTreeSet;

use interstice_book::{Book, Record};
use interstice_glucose::{DAY_S, LivedClock, Second, WallTime};
use interstice_methods::compare::{Days, NightMinutes, compare as compare_days};
use interstice_methods::{Bootstrap, EpisodeParams, Recording, episodes, lived_days, mean_block_days};
use jiff::civil::Date;

pub use interstice_methods::compare::Measured;
pub use logged::Logged;
pub use told::{CompareFindings, ComparedLine, SideLine, What};

use crate::account::{Reader, reader};
use crate::aside::{Aside, artefacts};
use crate::ask::{DEFAULT_SEED, FindingsError};
use crate::days::USUAL_NIGHT;
use crate::states::{KnownState, known};
use crate::whole::whole;
use crate::window;

use sides::Sides;

/// What is held against what.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Against {
    /// The days of two windows, first and last included.
    Windows {
        /// The former.
        before: (Date, Date),
        /// The latter.
        after: (Date, Date),
    },
    /// Days of a kind against those without it, or against those of another.
    Kind {
        /// Tag, kind of event, words of the wearer's, `weekend` or `another time zone`.
        state: String,
        /// The other kind; days without the first where none is said.
        than: Option<String>,
        /// Among which days; those near the days of the kind where none are said.
        among: Option<(Date, Date)>,
    },
}

/// A question.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CompareAsk {
    /// What is held against what.
    pub against: Against,
    /// Leave out readings that count as pressed or are marked as artefacts.
    pub exclude_pressure: bool,
    /// Seed of the bootstrap intervals.
    pub seed: u64,
}

impl CompareAsk {
    /// With the usual seed and every reading.
    pub fn of(against: Against) -> Self {
        CompareAsk {
            against,
            exclude_pressure: false,
            seed: DEFAULT_SEED,
        }
    }
}

/// The answer from a book.
///
/// # Errors
/// As [`compare`], and `Book` where the book cannot be read.
pub fn compare_book(book: &Book, ask: &CompareAsk) -> Result<CompareFindings, FindingsError> {
    compare(&book.load_all()?, reader(book)?, ask)
}

/// Kinds of days a book knows.
///
/// # Errors
/// `Empty` without automatic readings; `Book` where it cannot be read.
pub fn states_book(book: &Book) -> Result<Vec<KnownState>, FindingsError> {
    states(&book.load_all()?)
}

/// Kinds of days a record knows.
///
/// # Errors
/// `Empty` without automatic readings.
pub fn states(record: &Record) -> Result<Vec<KnownState>, FindingsError> {
    let (_, series) = whole(record);
    let (first, last) = series.span().ok_or(FindingsError::Empty)?;
    Ok(known(record, &lived(&record.clock, first, last)))
}

/// Dates of the lived days from one instant to another, both included.
fn lived(clock: &LivedClock, first: Second, last: Second) -> BTreeSet<i64> {
    lived_days(clock, first, last + 1)
        .iter()
        .map(|day| day.date)
        .collect()
}

/// The answer from the record of the whole book.
///
/// # Errors
/// `Empty` without automatic readings; `Window` where the days make no two sets: windows that share days or hold none, a kind
/// of day the book does not know.
pub fn compare(record: &Record, reader: Reader, ask: &CompareAsk) -> Result<CompareFindings, FindingsError> {
    let (automatic, all) = whole(record);
    let (first, last) = all.span().ok_or(FindingsError::Empty)?;
    let sides = Sides::of(record, &lived(&record.clock, first, last), &ask.against)?;
    let (from, to) = window::of_dates(&record.clock, sides.first_date(), sides.last_date());
    let sparse = ask.exclude_pressure.then(|| {
        let aside = Aside::of((record, record), reader, &all, &automatic, (from, to));
        all.without(&aside.spans)
    });
    let series = sparse.as_ref().unwrap_or(&all);
    let recording = Recording::new(series, &record.levels, &record.clock, from, to)?.for_group(reader.group);
    let places = sides.places(recording.days());
    let lows = episodes(&recording, &EpisodeParams::default());
    let in_them = logged::Asked {
        record,
        reader,
        recording: &recording,
        episodes: &lows,
        series: (&all, &automatic),
        window: (from, to),
        sides: &places,
    };
    let logged = logged::all(&in_them);
    let night = reader.night.unwrap_or(USUAL_NIGHT);
    let night = NightMinutes {
        from: night.from_minute.into(),
        to: night.to_minute.into(),
    };
    let rates: Vec<_> = logged.lines.iter().map(|line| line.days.clone()).collect();
    let days = Days::of(&recording, night, &rates);
    let found = compare_days(&days, &places[0], &places[1], &Bootstrap::seeded(ask.seed));
    let marked = artefacts(record, from, to).len();
    Ok(told::told(&told::Of {
        record,
        reader,
        ask,
        sides: &sides,
        places: &places,
        days: recording.days(),
        found: &found,
        logged: &logged,
        marked: if ask.exclude_pressure { 0 } else { marked },
        known: known(record, &lived(&record.clock, first, last)),
    }))
}

/// Mean block length of a set of so many days with readings.
fn block_days(days: u32) -> f64 {
    mean_block_days(days as usize)
}

/// Days between which days are near those of a kind: four weeks, ours.
const NEAR_DAYS: i64 = 28;
/// The longest that days of a kind are looked back for where no dates are said: what was years ago is no state of today (ours).
const LATEST_DAYS: i64 = interstice_methods::patterns::LATEST_DAYS;

/// A stretch of lived days held against the one of as many days before it.
pub fn with_the_one_before(window: &crate::Window) -> Option<Against> {
    let (from, to) = (window.from.0.wall().day(), window.to.0.wall());
    // A window that ends within a day takes that day in.
    let end = to.day() + i64::from(to.second_of_day() > 0);
    let date = |day: i64| Some(WallTime(day * DAY_S).civil()?.date());
    Some(Against::Windows {
        before: (date(2 * from - end)?, date(from - 1)?),
        after: (date(from)?, date(end - 1)?),
    })
}

/// A date as days since 1970-01-01.
fn day_of(date: Date) -> Result<i64, FindingsError> {
    Ok(window::midnight(date)?.0.div_euclid(DAY_S))
}

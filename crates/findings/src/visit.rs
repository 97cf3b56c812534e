//! The visit sheet: a few months in ten minutes, for the care team. It assembles what the other findings tell, and adds what
//! only a visit asks: what stands first, what changed since the last one, nights, insulin as it was logged, sensors used and
//! lost, a laboratory's HbA1c beside the sensors' own estimate, and the wearer's questions.

mod change;
mod hba1c;
pub(crate) mod insulin;
mod matters;
mod parts;
mod sensors;

use interstice_book::{Book, Record};
use interstice_glucose::{Second, VisitNotes, day_words};
use interstice_methods::{Account, Recording, Series};
use jiff::civil::Date;
use serde::Serialize;

use crate::account::{Reader, reader, usual_minute};
use crate::aside::Aside;
use crate::trust::{Known, TrustBrief, brief};
use crate::whole::whole;
use crate::{
    Ask, DEFAULT_SEED, FindingsError, LeftOut, ReviewFindings, Span, Summary, UsualMinute, review, summary,
    window,
};

pub use change::{Change, Stretch};
pub use hba1c::Hba1cLine;
pub use insulin::{InsulinGiven, InsulinLine};
pub use matters::{MATTERS_TOLD, MatterLine, MatterName};
pub use parts::{Nights, PartOfDay};
pub use sensors::{LostLine, SensorsUsed, SiteUsed};

/// Days of a sheet where none are asked for: about the time between visits (common practice, no source).
pub const VISIT_DAYS: u32 = 90;

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct VisitAsk {
    /// Which stretch.
    pub span: Span,
    /// Day of the last visit, counted from 1970-01-01, in place of the one the book remembers.
    pub since: Option<i64>,
    /// The day the sheet is made, counted likewise.
    pub made: i64,
    /// Seed of the bootstrap intervals.
    pub seed: u64,
}

impl VisitAsk {
    /// The usual stretch, made on a day.
    pub fn made(made: i64) -> Self {
        VisitAsk {
            span: Span::LastDays(VISIT_DAYS),
            since: None,
            made,
            seed: DEFAULT_SEED,
        }
    }
}

/// Everything the visit sheet shows.
#[derive(Clone, Debug, Serialize)]
pub struct VisitFindings {
    /// The day it was made, 'YYYY-MM-DD'.
    pub made: String,
    /// The wearer's name, where the book has one.
    pub name: Option<String>,
    /// The account of the window, every reading in it.
    pub review: ReviewFindings,
    /// The same without probable pressure lows and what was marked; `None` where there was nothing to leave out.
    pub without_pressure: Option<WithoutPressure>,
    /// What stands first, by rank.
    pub matters: Vec<MatterLine>,
    /// What is different since the last visit.
    pub change: Change,
    /// The quarters of the day, without probable pressure lows.
    pub parts: Vec<PartOfDay>,
    /// The nights, without probable pressure lows.
    pub nights: Nights,
    /// The sensors beside blood, over the whole book; `None` without any sensor.
    pub trust: Option<TrustBrief>,
    /// Sensors used and lost in the window.
    pub sensors: SensorsUsed,
    /// Insulin that was logged.
    pub insulin: InsulinGiven,
    /// What the wearer wants to ask, in the order it was written down.
    pub questions: Vec<String>,
    /// HbA1c from laboratories until the window's end, latest first.
    pub hba1c: Vec<Hba1cLine>,
}

/// The account without what is probably pressure on the sensor.
#[derive(Clone, Debug, Serialize)]
pub struct WithoutPressure {
    /// What was left out.
    pub left_out: LeftOut,
    /// The figures.
    pub summary: Summary,
    /// The usual day.
    pub usual_day: Vec<UsualMinute>,
}

/// The sheet of a book.
///
/// # Errors
/// As [`visit`], and `Book` where the book cannot be read.
pub fn visit_book(book: &Book, ask: &VisitAsk) -> Result<VisitFindings, FindingsError> {
    book.span()?.ok_or(FindingsError::Empty)?;
    let (record, notes, reader) = (book.load_all()?, book.visit_notes()?, reader(book)?);
    visit(&record, reader, &notes, ask)
}

/// The sheet of a whole record already loaded.
///
/// # Errors
/// `Empty` without automatic readings; `Window` where a date is beyond what a book holds.
pub fn visit(
    record: &Record,
    reader: Reader,
    notes: &VisitNotes,
    ask: &VisitAsk,
) -> Result<VisitFindings, FindingsError> {
    visit_with(record, reader, notes, None, ask)
}

/// The same, with what is known of all sensors where that was found out before.
pub(crate) fn visit_with(
    record: &Record,
    reader: Reader,
    notes: &VisitNotes,
    known: Option<&Known>,
    ask: &VisitAsk,
) -> Result<VisitFindings, FindingsError> {
    let (automatic, whole) = whole(record);
    let (_, last) = whole.span().ok_or(FindingsError::Empty)?;
    let (from, to) = window::instants(ask.span, &record.clock, last)?;
    let aside = Aside::of((record, record), reader, &whole, &automatic, (from, to));
    let sparse = (!aside.spans.is_empty()).then(|| whole.without(&aside.spans));
    let basis = sparse.as_ref().unwrap_or(&whole);
    let look = Look {
        record,
        reader,
        seed: ask.seed,
        span: (from, to),
    };
    let account = look.account(basis, from, to)?;
    let review = review(
        record,
        reader,
        &Ask {
            span: ask.span,
            exclude_pressure: false,
            seed: ask.seed,
        },
    )?;
    let parts = parts::parts(&look, basis)?;
    let change = change::change(&look, notes, ask)?;
    let without_pressure = sparse.as_ref().map(|sparse| WithoutPressure {
        left_out: aside.told(record, &whole, sparse),
        summary: summary::of(&account, ask.seed),
        usual_day: account.usual_day.iter().map(usual_minute).collect(),
    });
    let matters = matters::matters(&review, without_pressure.as_ref(), &change);
    Ok(VisitFindings {
        made: day_words(ask.made),
        name: notes.name.clone(),
        nights: parts::nights(&look, basis, &account, without_pressure.as_ref())?,
        trust: brief(record, reader, known),
        sensors: sensors::used(record, from, to),
        insulin: insulin::given(record, from, to),
        questions: notes.questions.iter().map(|asked| asked.text.clone()).collect(),
        hba1c: hba1c::beside(&look, &whole, notes)?,
        review,
        without_pressure,
        matters,
        change,
        parts,
    })
}

/// What every part of a sheet is worked out with.
struct Look<'a> {
    record: &'a Record,
    reader: Reader,
    seed: u64,
    /// The window.
    span: (Second, Second),
}

impl Look<'_> {
    fn account(&self, series: &Series<'_>, from: Second, to: Second) -> Result<Account, FindingsError> {
        let recording = self.recording(series, from, to)?;
        Ok(Account::of(&recording))
    }

    fn recording<'s>(
        &'s self,
        series: &'s Series<'_>,
        from: Second,
        to: Second,
    ) -> Result<Recording<'s>, FindingsError> {
        let recording = Recording::new(series, &self.record.levels, &self.record.clock, from, to)?;
        Ok(recording.for_group(self.reader.group))
    }

    fn stretch(&self, from: Second, to: Second) -> Stretch {
        let date = |at: Second| day_words(self.record.clock.wall(at).day());
        Stretch {
            from: date(from),
            to: date(to - 1),
        }
    }

    /// The first instant of a calendar day.
    fn midnight(&self, day: i64) -> Second {
        let wall = interstice_glucose::WallTime(day.saturating_mul(interstice_glucose::DAY_S));
        self.record.clock.first_at_or_after(wall)
    }
}

/// A calendar day as a count from 1970-01-01.
pub fn day_of(date: Date) -> Option<i64> {
    interstice_glucose::day_from_words(&date.to_string())
}

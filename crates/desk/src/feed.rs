//! What a feed sends: readings that come a few at a time from a phone or a transmitter of one's own.

use interstice_book::{Book, Feed, ImportReceipt};
use interstice_glucose::{Draft, Levels, Moment, Readings, Rejected, Second};
use interstice_intake::{Outcome, ReadFile};
use serde::Serialize;

use crate::import::{ImportRequest, Place, hints};
use crate::{DeskError, ProblemLine};

/// How far ahead of this machine's clock a sender's may go (ours: clocks set by a network agree to a second; minutes are a
/// clock set by hand).
const AHEAD_AT_MOST_S: Second = 300;

/// Nothing is taken from before 2000-01-01: a clock that was never set says so (ours).
const SINCE: Second = 946_684_800;

/// Problems listed in an answer; all of them are in the book.
const LISTED_PROBLEMS: usize = 20;

/// What came of what was sent, field for field as it is answered.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Fed {
    /// Readings and documents seen, used or not.
    pub rows_read: u64,
    /// Automatic readings new to the book.
    pub readings_new: u64,
    /// Hand scans new to the book.
    pub scans_new: u64,
    /// Blood checks new to the book.
    pub blood_checks_new: u64,
    /// Doses new to the book.
    pub doses_new: u64,
    /// Meals new to the book.
    pub meals_new: u64,
    /// What the book had already.
    pub already_there: u64,
    /// Readings that differ from what the book has at the same instant; the first value stands.
    pub conflicts: u64,
    /// What could not be used; it is kept with its reason.
    pub rejected: u64,
    /// The first of that.
    pub problems: Vec<ProblemLine>,
    /// What was passed over.
    pub notes: Vec<String>,
    /// The feed's change of the day, to take it back by.
    pub change: Option<i64>,
}

impl Fed {
    /// Whether anything of it could be used.
    pub fn is_of_use(&self) -> bool {
        self.rejected < self.rows_read
    }

    /// Whether the book has something it had not.
    pub fn has_news(&self) -> bool {
        self.readings_new + self.scans_new + self.blood_checks_new + self.doses_new + self.meals_new > 0
    }
}

/// Writes what a feed sent into the book; when this answers, it is on the disk.
///
/// # Errors
/// `Intake` where it cannot be read as a whole, `Request` where it is of several people: nothing is written. `Book`.
pub fn take_in(book: &mut Book, from: &Feed, bytes: &[u8], place: &Place) -> Result<Fed, DeskError> {
    let hints = hints(Some(book), &ImportRequest::default(), place)?;
    let read = match interstice_intake::read_document("what was sent", bytes, &hints, &mut ())? {
        Outcome::Read(read) => *read,
        Outcome::Question { questions, .. } => {
            let asked = questions
                .into_iter()
                .next()
                .map_or_else(String::new, |question| question.ask);
            return Err(DeskError::Request(format!(
                "{asked} Send what is of one person alone"
            )));
        }
    };
    let ReadFile {
        draft,
        unit,
        rows_read,
        understanding,
        ..
    } = read;
    let from = Feed { unit, ..from.clone() };
    let fed = take_in_read(book, &from, draft, rows_read, place)?;
    Ok(Fed {
        notes: understanding.notes,
        ..fed
    })
}

/// The same of rows that were read already, from so many that were seen.
///
/// # Errors
/// `Book`.
pub fn take_in_read(
    book: &mut Book,
    from: &Feed,
    draft: Draft,
    rows_read: u64,
    place: &Place,
) -> Result<Fed, DeskError> {
    let from = Feed {
        base_zone: from
            .base_zone
            .clone()
            .or_else(|| Some(place.machine_zone.clone())),
        ..from.clone()
    };
    let mut draft = by_the_clock(draft, place.now);
    // What a feed tells is instants. The clock they were lived by is the book's, and what is written down of voyages.
    draft.lived.clear();
    let receipt = book.feed(&draft, &from, place.now)?;
    Ok(answer(&draft, rows_read, &receipt))
}

fn answer(draft: &Draft, rows_read: u64, receipt: &ImportReceipt) -> Fed {
    let listed = draft.rejected.iter().take(LISTED_PROBLEMS).cloned();
    Fed {
        rows_read,
        readings_new: receipt.readings_new,
        scans_new: receipt.scans_new,
        blood_checks_new: receipt.blood_checks_new,
        doses_new: receipt.doses_new,
        meals_new: receipt.meals_new,
        already_there: receipt.already_there,
        conflicts: receipt.conflicts,
        rejected: draft.rejected_count(),
        problems: listed.map(ProblemLine::from).collect(),
        notes: Vec::new(),
        change: receipt.change.map(|change| change.0),
    }
}

/// Leaves out, with the reason, what a clock that runs wrong has dated.
fn by_the_clock(mut draft: Draft, now: Second) -> Draft {
    let mut told = Vec::new();
    let mut is_right = |at: Second, what: &str| {
        let Some(reason) = wrong(at, now) else { return true };
        told.push(Rejected {
            row: 0,
            column: "at".to_owned(),
            text: format!("{} {what}", Moment { at, offset_s: 0 }),
            reason: reason.to_owned(),
        });
        false
    };
    for trace in &mut draft.traces {
        trace.readings = kept(&trace.readings, &draft.levels, &mut is_right);
    }
    draft
        .blood_checks
        .retain(|it| is_right(it.at, &format!("blood check {}", it.said)));
    draft.doses.retain(|it| is_right(it.at, "dose"));
    draft.meals.retain(|it| is_right(it.at, "meal"));
    draft.marks.retain(|it| is_right(it.at, "entry"));
    draft.sensor_notes.retain(|it| is_right(it.at, "sensor note"));
    draft.low_verdicts.retain(|it| is_right(it.at, "word on a low"));
    draft.rejected.extend(told);
    draft
}

fn kept(readings: &Readings, levels: &Levels, is_right: &mut impl FnMut(Second, &str) -> bool) -> Readings {
    let mut kept = Readings::with_capacity(readings.len());
    for (&at, &level) in readings.at().iter().zip(readings.level()) {
        if is_right(Second::from(at), &levels.get(level).said.to_string()) {
            kept.push(at, level);
        }
    }
    kept
}

fn wrong(at: Second, now: Second) -> Option<&'static str> {
    if at > now + AHEAD_AT_MOST_S {
        Some(
            "it lies in the future by this machine's clock; set the clock of the sender or of this machine, and send it again",
        )
    } else if at < SINCE {
        Some("it lies before the year 2000; set the clock of the sender, and send it again")
    } else {
        None
    }
}

//! Writing an entry down by hand.

use interstice_book::{Book, Entry as Kept, EntryRef, NewPhoto};
use interstice_glucose::{
    BloodCheck, DAY_S, Dose, Draft, LowVerdict, LowWas, Mark, MarkKind, Meal, Second, SensorNote,
    SensorNoteKind, one_or_many,
};

use crate::DeskError;

/// A hand-made entry.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// A blood check.
    Blood(BloodCheck),
    /// A dose that was taken.
    Dose(Dose),
    /// Something eaten or drunk.
    Meal(Meal),
    /// Anything that happened or lasted.
    Mark(Mark),
    /// A moment in a sensor's life.
    Sensor(SensorNote),
    /// What a low was, by the wearer's own word.
    Low(LowVerdict),
}

/// Values beyond these are taken for slips of the finger.
const GLUCOSE_MG_PER_DL: std::ops::RangeInclusive<f64> = 10.0..=1000.0;
const UNITS: std::ops::RangeInclusive<f64> = 0.0..=300.0;
/// 1999-01-01T00:00:00Z. The first sensors worn under the skin are of that year (common knowledge, no source): an earlier one is a
/// slip, and would stand among years of wear.
const NO_SENSOR_BEFORE: Second = 915_148_800;
/// A verdict is on one low, not on a week of them.
const LONGEST_LOW_S: Second = DAY_S;
const CARBOHYDRATE_G: std::ops::RangeInclusive<f64> = 0.0..=1000.0;
const DRINK_ML: std::ops::RangeInclusive<f64> = 10.0..=5000.0;
const CELSIUS: std::ops::RangeInclusive<f64> = -60.0..=60.0;

/// Bytes of a key: long enough not to meet another by chance, short enough to be one.
const MIN_KEY: usize = 16;
const MAX_KEY: usize = 64;

/// Writes an entry into the book; answers the number of the change, for undo.
///
/// # Errors
/// `Request` when a number cannot be meant, or the entry lies in the future or ends before it begins; `Book` when the
/// book cannot be written.
pub fn log(book: &mut Book, entry: &Entry, now: Second) -> Result<i64, DeskError> {
    plausible(entry, now).map_err(DeskError::Request)?;
    if let Entry::Low(verdict) = entry
        && let Some(earlier) = earlier_word(book, verdict)?
    {
        let change = book.edit(earlier, &Kept::LowVerdict(verdict.clone()), None, now)?;
        return Ok(change.0);
    }
    log_together(book, std::slice::from_ref(entry), now)
}

/// Writes entries that belong together as one change, so that they are taken back together: a sensor that was put on and
/// started at once. A word on a low is not among them.
///
/// # Errors
/// As [`log`].
pub fn log_together(book: &mut Book, entries: &[Entry], now: Second) -> Result<i64, DeskError> {
    let draft = draft(book, entries, now)?;
    let receipt = book.log(&draft, &lines(entries), now)?;
    receipt
        .change
        .map(|change| change.0)
        .ok_or_else(|| DeskError::Request("the book has this entry already".to_owned()))
}

/// Writes an entry under a key made where it was written, so that sending it again does not write it again, also where
/// it was taken back since; answers the number of the change it was written by. A word on a low is none of these.
///
/// # Errors
/// As [`log`], and `Request` where the key is none.
pub fn log_once(book: &mut Book, entry: &Entry, key: &str, now: Second) -> Result<i64, DeskError> {
    let is_key = (MIN_KEY..=MAX_KEY).contains(&key.len())
        && key
            .bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || byte == b'-');
    if !is_key {
        let why = "this entry has no key to know it by again; write it down anew";
        return Err(DeskError::Request(why.to_owned()));
    }
    if let Some(change) = book.logged_as(key)? {
        return Ok(change.0);
    }
    let entries = std::slice::from_ref(entry);
    let draft = draft(book, entries, now)?;
    let receipt = book.log_once(&draft, &lines(entries), key, now)?;
    receipt
        .change
        .map(|change| change.0)
        .ok_or_else(|| DeskError::Request("the book has this entry already".to_owned()))
}

/// Writes moments in a sensor's life with a photo beside the first of them; answers the number of the change, for undo.
///
/// # Errors
/// As [`log`], and `Book` where the photo is too large or no picture of a known kind; `Request` where no moment is told.
pub fn log_with_photo(
    book: &mut Book,
    entries: &[Entry],
    (name, bytes): (&str, &[u8]),
    now: Second,
) -> Result<i64, DeskError> {
    let Some(Entry::Sensor(note)) = entries.first() else {
        return Err(DeskError::Request(
            "a photo stands beside a moment of a sensor".to_owned(),
        ));
    };
    let photo = NewPhoto {
        at: note.at,
        sensor: note.sensor.as_deref(),
        name,
        bytes,
    };
    let what = format!("{} with a photo", lines(entries));
    let receipt = book.log_with_photo(&draft(book, entries, now)?, photo, &what, now)?;
    Ok(receipt.change.map_or(0, |change| change.0))
}

fn lines(entries: &[Entry]) -> String {
    let lines: Vec<String> = entries.iter().map(line).collect();
    lines.join(", ")
}

fn draft(book: &Book, entries: &[Entry], now: Second) -> Result<Draft, DeskError> {
    let mut draft = Draft::default();
    for entry in entries {
        plausible(entry, now).map_err(DeskError::Request)?;
        if let Entry::Sensor(note) = entry {
            in_order(book, note)?;
        }
        match entry.clone() {
            Entry::Blood(check) => draft.blood_checks.push(check),
            Entry::Dose(dose) => draft.doses.push(dose),
            Entry::Meal(meal) => draft.meals.push(meal),
            Entry::Mark(mark) => draft.marks.push(mark),
            Entry::Sensor(note) => draft.sensor_notes.push(note),
            Entry::Low(verdict) => draft.low_verdicts.push(verdict),
        }
    }
    Ok(draft)
}

/// How far around a moment the others of the same sensor are looked for: longer than any is worn.
const SAME_WEAR_S: Second = 30 * DAY_S;

/// Refuses a moment of a named sensor that cannot be, beside what was written of it: started twice, or started or ended
/// before it was put on.
fn in_order(book: &Book, note: &SensorNote) -> Result<(), DeskError> {
    let Some(name) = &note.sensor else { return Ok(()) };
    let record = book.load(
        note.at.saturating_sub(SAME_WEAR_S),
        note.at.saturating_add(SAME_WEAR_S),
    )?;
    let told = record.sensor_notes.iter().map(|kept| &kept.it);
    let same: Vec<&SensorNote> = told.filter(|told| told.sensor.as_ref() == Some(name)).collect();
    let before = |kind| {
        same.iter()
            .filter(move |told| told.kind == kind && told.at < note.at)
    };
    let after = |kind| same.iter().any(|told| told.kind == kind && told.at > note.at);
    let last = |kind| before(kind).map(|told| told.at).max();
    let refused = |why: &str| {
        Err(DeskError::Request(format!(
            "sensor {name} {why}; look at the time, or take the earlier entry back with `interstice undo`"
        )))
    };
    match note.kind {
        SensorNoteKind::Started if last(SensorNoteKind::Started) > last(SensorNoteKind::Ended) => {
            refused("was started before, and has not ended since")
        }
        SensorNoteKind::Started if after(SensorNoteKind::PutOn) && last(SensorNoteKind::PutOn).is_none() => {
            refused("is put on only later")
        }
        SensorNoteKind::Ended
            if (after(SensorNoteKind::PutOn) || after(SensorNoteKind::Started))
                && last(SensorNoteKind::PutOn)
                    .max(last(SensorNoteKind::Started))
                    .is_none() =>
        {
            refused("is put on or started only later")
        }
        _ => Ok(()),
    }
}

/// An entry as the book keeps it.
pub(crate) fn kept(entry: &Entry) -> Kept {
    match entry.clone() {
        Entry::Blood(check) => Kept::BloodCheck(check),
        Entry::Dose(dose) => Kept::Dose(dose),
        Entry::Meal(meal) => Kept::Meal(meal),
        Entry::Mark(mark) => Kept::Mark(mark),
        Entry::Sensor(note) => Kept::SensorNote(note),
        Entry::Low(verdict) => Kept::LowVerdict(verdict),
    }
}

/// Another word of the wearer on the very same stretch: the new one corrects it.
fn earlier_word(book: &Book, verdict: &LowVerdict) -> Result<Option<EntryRef>, DeskError> {
    let record = book.load(verdict.at, verdict.at + 1)?;
    let mut same = record.low_verdicts.iter().filter(|kept| {
        let it = &kept.it;
        (it.at, it.until, &it.sensor) == (verdict.at, verdict.until, &verdict.sensor) && it != verdict
    });
    Ok(same.next().map(|kept| kept.entry))
}

/// The journal's line for an entry.
fn line(entry: &Entry) -> String {
    match entry {
        Entry::Blood(check) => format!("logged a blood check of {}", check.said),
        Entry::Dose(dose) => format!(
            "logged a dose of {} {}",
            dose.units,
            one_or_many(&dose.units, "unit", "units")
        ),
        Entry::Meal(_) => "logged a meal".to_owned(),
        Entry::Mark(mark) => format!("logged {}", mark_name(mark.kind)),
        Entry::Sensor(note) => sensor_line(note),
        Entry::Low(verdict) => match verdict.was {
            LowWas::Pressure => "logged a low as pressure".to_owned(),
            LowWas::Real => "logged a low as real".to_owned(),
        },
    }
}

fn sensor_line(note: &SensorNote) -> String {
    let name = note
        .sensor
        .as_ref()
        .map_or_else(|| "a sensor".to_owned(), |name| format!("sensor {name}"));
    let what = match note.kind {
        SensorNoteKind::PutOn => "put on",
        SensorNoteKind::Started => "started",
        SensorNoteKind::Ended => "ended",
        SensorNoteKind::Noted => "noted",
    };
    format!("logged {name} {what}")
}

fn mark_name(kind: MarkKind) -> &'static str {
    match kind {
        MarkKind::Activity => "an activity",
        MarkKind::Sleep => "sleep",
        MarkKind::Ketones => "ketones",
        MarkKind::Symptom => "a symptom",
        MarkKind::Illness => "an illness",
        MarkKind::Drink => "a drink",
        MarkKind::Temperature => "a temperature",
        MarkKind::Medicine => "a medicine",
        MarkKind::Device => "a device's report",
        MarkKind::Note => "a note",
        MarkKind::Tag => "a tag",
        MarkKind::Artefact => "readings not to be believed",
    }
}

pub(crate) fn plausible(entry: &Entry, now: Second) -> Result<(), String> {
    let at = match entry {
        Entry::Blood(check) => {
            within(
                check.said.glucose().mg_per_dl(),
                &GLUCOSE_MG_PER_DL,
                "a glucose value",
                "is the unit right",
            )?;
            check.at
        }
        Entry::Dose(dose) => {
            within(dose.units, &UNITS, "a number of units", "is the number right")?;
            dose.at
        }
        Entry::Meal(meal) => {
            if let Some(grams) = meal.carbohydrate_g {
                within(
                    grams,
                    &CARBOHYDRATE_G,
                    "grams of carbohydrate",
                    "is the number right",
                )?;
            }
            meal.at
        }
        Entry::Mark(mark) => {
            if mark.until.is_some_and(|until| until < mark.at) {
                return Err("it ends before it begins; check both times".to_owned());
            }
            match (mark.kind, mark.value) {
                (MarkKind::Drink, Some(ml)) => {
                    within(ml, &DRINK_ML, "millilitres of a drink", "is it in millilitres")?;
                }
                (MarkKind::Temperature, Some(celsius)) => {
                    within(celsius, &CELSIUS, "degrees Celsius", "is it in degrees Celsius")?;
                }
                _ => {}
            }
            mark.at
        }
        Entry::Sensor(note) => {
            if note.at < NO_SENSOR_BEFORE {
                return Err("no sensor was worn before 1999; look at the year".to_owned());
            }
            note.at
        }
        Entry::Low(verdict) => {
            if verdict.until <= verdict.at {
                return Err("it ends before it begins; check both times".to_owned());
            }
            if verdict.until.saturating_sub(verdict.at) > LONGEST_LOW_S {
                return Err("a low does not last longer than a day; check both times".to_owned());
            }
            verdict.until
        }
    };
    // A minute of grace for clocks that disagree a little.
    if at > now + 60 {
        Err("that time lies in the future; check the time".to_owned())
    } else {
        Ok(())
    }
}

fn within(value: f64, range: &std::ops::RangeInclusive<f64>, what: &str, hint: &str) -> Result<(), String> {
    if range.contains(&value) {
        return Ok(());
    }
    Err(format!(
        "{value} cannot be {what} ({} to {} are); {hint}?",
        range.start(),
        range.end()
    ))
}

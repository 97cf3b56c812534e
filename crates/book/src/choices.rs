//! What the wearer chose of the plan, kept among the settings, one line of the journal for each choice, so that each can
//! be taken back alone.

use std::str::FromStr;

use interstice_glucose::{Away, DayHours, Pin, PlanWeight, Second, WearChoice, WearChoices};

use crate::book::Book;
use crate::error::{BookError, BookErrorKind, Result};
use crate::journal::ChangeId;
use crate::settings::{Setting, Settings};

const PUT_ON_HOURS: &str = "wear: put-on hours";
const START_HOURS: &str = "wear: start hours";
const BEDDING_HOURS: &str = "wear: bedding-in hours";
const REST_DAYS: &str = "wear: rest days";
const HORIZON_DAYS: &str = "wear: days ahead";
/// Before the name of a weight.
const WEIGHT: &str = "wear weight: ";
/// Before the days of an absence; its value is the note.
const AWAY: &str = "wear away: ";
/// Before the instant of a settled put-on; its value is the place.
const PIN: &str = "wear pinned: ";
/// The value where no note was given, and no place.
const NO_NOTE: &str = "away";
const ANYWHERE: &str = "anywhere";

impl Book {
    /// What was chosen, and the defaults of the rest.
    ///
    /// # Errors
    /// `Damaged` where a choice cannot be read, `Io`.
    pub fn wear_choices(&self) -> std::result::Result<WearChoices, BookError> {
        let settings = self.settings()?;
        self.reading(|_| choices(&settings))
    }

    /// Chooses, or takes a choice back to its default. The same again writes nothing.
    ///
    /// # Errors
    /// `Refused` where it cannot be planned with; `Busy`, `Full`, `Io`.
    pub fn set_wear_choice(
        &mut self,
        choice: &WearChoice,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        if let Some(trouble) = choice.trouble() {
            return self.reading(|_| {
                Err(BookErrorKind::refused(
                    "a choice that cannot be planned with",
                    trouble,
                ))
            });
        }
        let (key, value) = written(choice);
        self.set(Setting::Other(key, value), at)
    }
}

fn written(choice: &WearChoice) -> (String, Option<String>) {
    let hours = |hours: &Option<DayHours>| hours.map(|hours| hours.to_string());
    let number = |number: &Option<u32>| number.map(|number| number.to_string());
    match choice {
        WearChoice::PutOnHours(chosen) => (PUT_ON_HOURS.to_owned(), hours(chosen)),
        WearChoice::StartHours(chosen) => (START_HOURS.to_owned(), hours(chosen)),
        WearChoice::BeddingHours(chosen) => (BEDDING_HOURS.to_owned(), number(chosen)),
        WearChoice::RestDays(chosen) => (REST_DAYS.to_owned(), number(chosen)),
        WearChoice::HorizonDays(chosen) => (HORIZON_DAYS.to_owned(), number(chosen)),
        WearChoice::Weight(weight, chosen) => (
            format!("{WEIGHT}{}", weight.name()),
            chosen.map(|chosen| chosen.to_string()),
        ),
        WearChoice::Away(away) => {
            let note = away
                .note
                .as_deref()
                .map(str::trim)
                .filter(|note| !note.is_empty());
            (
                format!("{AWAY}{}", away.days()),
                Some(note.unwrap_or(NO_NOTE).to_owned()),
            )
        }
        WearChoice::NotAway(away) => (format!("{AWAY}{}", away.days()), None),
        WearChoice::Pin(pin) => (
            format!("{PIN}{}", pin.instant()),
            Some(pin.site.clone().unwrap_or_else(|| ANYWHERE.to_owned())),
        ),
        WearChoice::Unpin(at) => {
            let pin = Pin { at: *at, site: None };
            (format!("{PIN}{}", pin.instant()), None)
        }
    }
}

pub(crate) fn choices(settings: &Settings) -> Result<WearChoices> {
    let mut chosen = WearChoices::default();
    for (key, value) in &settings.other {
        let unreadable = || BookErrorKind::damaged(format!("the choice '{key}' is '{value}'"));
        take(&mut chosen, key, value).ok_or_else(unreadable)?;
    }
    chosen.away.sort();
    chosen.pins.sort();
    Ok(chosen)
}

/// Takes a setting in where it is a choice of the plan; `None` where it is one and cannot be read.
fn take(chosen: &mut WearChoices, key: &str, value: &str) -> Option<()> {
    let number = || u32::from_str(value).ok();
    match key {
        PUT_ON_HOURS => chosen.put_on_hours = DayHours::from_words(value)?,
        START_HOURS => chosen.start_hours = DayHours::from_words(value)?,
        BEDDING_HOURS => chosen.bedding_h = number()?,
        REST_DAYS => chosen.rest_days = number()?,
        HORIZON_DAYS => chosen.horizon_days = number()?,
        _ => return take_named(chosen, key, value),
    }
    Some(())
}

fn take_named(chosen: &mut WearChoices, key: &str, value: &str) -> Option<()> {
    if let Some(name) = key.strip_prefix(WEIGHT) {
        // A weight that this version does not know weighs nothing here.
        if let Some(weight) = PlanWeight::named(name) {
            chosen.weights.insert(weight, value.parse().ok()?);
        }
    } else if let Some(days) = key.strip_prefix(AWAY) {
        let (from_day, to_day) = Away::days_from_words(days)?;
        chosen.away.push(Away {
            from_day,
            to_day,
            note: (value != NO_NOTE).then(|| value.to_owned()),
        });
    } else if let Some(instant) = key.strip_prefix(PIN) {
        chosen.pins.push(Pin {
            at: Pin::instant_from_words(instant)?,
            site: (value != ANYWHERE).then(|| value.to_owned()),
        });
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn choices_are_kept_changed_and_taken_back_one_by_one() {
        let mut book = Book::in_memory().unwrap();
        assert_eq!(book.wear_choices().unwrap(), WearChoices::default());
        let (from_day, to_day) = Away::days_from_words("2025-05-01..2025-05-20").unwrap();
        let away = |note: Option<&str>| Away {
            from_day,
            to_day,
            note: note.map(str::to_owned),
        };
        let pin = Pin {
            at: 1_740_992_400,
            site: Some("left thigh".to_owned()),
        };
        let evening = DayHours::from_words("18:00-22:00");
        for choice in [
            WearChoice::PutOnHours(evening),
            WearChoice::BeddingHours(Some(0)),
            WearChoice::Weight(PlanWeight::UnusedHour, Some(0.75)),
            WearChoice::Away(away(Some("hills"))),
            WearChoice::Pin(pin.clone()),
        ] {
            assert!(book.set_wear_choice(&choice, 0).unwrap().is_some());
            assert!(
                book.set_wear_choice(&choice, 0).unwrap().is_none(),
                "the same again writes nothing"
            );
        }
        let chosen = book.wear_choices().unwrap();
        assert_eq!(
            (
                chosen.put_on_hours,
                chosen.bedding_h,
                chosen.away.clone(),
                chosen.pins.clone()
            ),
            (evening.unwrap(), 0, vec![away(Some("hills"))], vec![pin.clone()])
        );
        assert!((chosen.weight(PlanWeight::UnusedHour) - 0.75).abs() < 1e-12);
        // The last first, then one by its own word.
        book.undo(None, 1).unwrap();
        assert_eq!(book.wear_choices().unwrap().pins, []);
        book.set_wear_choice(&WearChoice::NotAway(away(None)), 2).unwrap();
        assert_eq!(book.wear_choices().unwrap().away, []);
        let wrong = WearChoice::HorizonDays(Some(0));
        let refused = book.set_wear_choice(&wrong, 3).unwrap_err();
        assert!(
            matches!(refused.kind(), BookErrorKind::Refused { .. }),
            "{refused}"
        );
    }

    #[test]
    fn a_choice_that_cannot_be_read_is_damage() {
        let mut book = Book::in_memory().unwrap();
        book.set(Setting::Other(REST_DAYS.to_owned(), Some("many".to_owned())), 0)
            .unwrap();
        let damaged = book.wear_choices().unwrap_err();
        assert!(
            matches!(damaged.kind(), BookErrorKind::Damaged { .. }),
            "{damaged}"
        );
    }
}

//! What a person writes down in a form: words and numbers as typed, made into an entry.

use interstice_book::{Book, EntryRef};
use interstice_glucose::{
    BloodCheck, BloodSource, Delivery, Dose, InsulinKind, Mark, MarkKind, Meal, Second, Unit, Zone,
};

use crate::entry::{kept, plausible};
use crate::number::{glucose_said, number};
use crate::when::instant;
use crate::{DeskError, Entry};

/// What is written down.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Jot {
    /// A blood check.
    Blood,
    /// A dose.
    Dose,
    /// Something eaten, or drunk for its carbohydrate.
    Meal,
    /// Anything else.
    Mark(MarkKind),
}

impl Jot {
    /// All that can be written down, the most often needed first.
    pub const ALL: [Jot; 13] = [
        Jot::Blood,
        Jot::Dose,
        Jot::Meal,
        Jot::Mark(MarkKind::Activity),
        Jot::Mark(MarkKind::Drink),
        Jot::Mark(MarkKind::Sleep),
        Jot::Mark(MarkKind::Symptom),
        Jot::Mark(MarkKind::Illness),
        Jot::Mark(MarkKind::Ketones),
        Jot::Mark(MarkKind::Medicine),
        Jot::Mark(MarkKind::Temperature),
        Jot::Mark(MarkKind::Tag),
        Jot::Mark(MarkKind::Note),
    ];

    /// Its key in addresses and forms.
    pub fn key(self) -> &'static str {
        match self {
            Jot::Blood => "blood",
            Jot::Dose => "dose",
            Jot::Meal => "meal",
            Jot::Mark(kind) => match kind {
                MarkKind::Activity => "activity",
                MarkKind::Drink => "drink",
                MarkKind::Sleep => "sleep",
                MarkKind::Symptom => "symptom",
                MarkKind::Illness => "illness",
                MarkKind::Ketones => "ketones",
                MarkKind::Medicine => "medicine",
                MarkKind::Temperature => "temperature",
                MarkKind::Tag => "tag",
                MarkKind::Note => "note",
                MarkKind::Device => "device",
                MarkKind::Artefact => "artefact",
            },
        }
    }

    /// By its key.
    pub fn from_key(key: &str) -> Option<Self> {
        Jot::ALL.into_iter().find(|jot| jot.key() == key)
    }

    /// Whether it may last.
    pub fn lasts(self) -> bool {
        use MarkKind::{Activity, Illness, Sleep, Symptom, Tag};
        matches!(self, Jot::Mark(Activity | Sleep | Illness | Symptom | Tag))
    }
}

/// A form as it was filled in. Empty fields are not there.
#[derive(Clone, Debug, PartialEq)]
pub struct JotWords {
    /// What it is about.
    pub what: Jot,
    /// When, as typed; now where it is not said.
    pub at: Option<String>,
    /// When it ended, as typed.
    pub until: Option<String>,
    /// The number: glucose, units, grams, millilitres, mmol/L of ketones, degrees.
    pub amount: Option<String>,
    /// Unit of a blood check, where it was said.
    pub unit: Option<Unit>,
    /// Whether a blood check is a laboratory's.
    pub laboratory: bool,
    /// How long the insulin acts.
    pub insulin: InsulinKind,
    /// Words beside it.
    pub words: Option<String>,
}

/// The entry that is meant.
///
/// * `zone`: the book's; `book_unit`: the unit the wearer reads.
///
/// # Errors
/// `Request` where something is missing or cannot be meant; `WhichUnit` where a blood check is hard to believe in the book's unit.
pub fn jotted(
    words: &JotWords,
    now: Second,
    zone: &Zone,
    book_unit: Option<Unit>,
) -> Result<Entry, DeskError> {
    let time = |text: &Option<String>| text.as_deref().map(|text| instant(text, now, zone)).transpose();
    let at = time(&words.at)?.unwrap_or(now);
    let until = time(&words.until)?;
    let text = words.words.clone();
    let amount = |of: &str| words.amount.as_deref().map(|text| number(text, of)).transpose();
    let missing = |what: &str| DeskError::Request(format!("say {what}"));
    Ok(match words.what {
        Jot::Blood => {
            let value = words
                .amount
                .as_deref()
                .ok_or_else(|| missing("what the meter showed"))?;
            Entry::Blood(BloodCheck {
                at,
                said: glucose_said(value, words.unit, book_unit)?,
                source: if words.laboratory {
                    BloodSource::Laboratory
                } else {
                    BloodSource::Meter
                },
                note: text,
            })
        }
        Jot::Dose => Entry::Dose(Dose {
            at,
            units: amount("a number of units")?.ok_or_else(|| missing("how many units it was"))?,
            insulin: words.insulin,
            delivery: Delivery::AtOnce,
            note: text,
        }),
        Jot::Meal => {
            let carbohydrate_g = amount("grams of carbohydrate")?;
            if carbohydrate_g.is_none() && text.is_none() {
                return Err(missing("what it was, or how many grams of carbohydrate"));
            }
            Entry::Meal(Meal {
                at,
                carbohydrate_g,
                protein_g: None,
                fat_g: None,
                fibre_g: None,
                energy_kcal: None,
                text,
            })
        }
        Jot::Mark(kind) => {
            let value = match kind {
                MarkKind::Ketones => Some(
                    amount("what the ketone meter showed")?
                        .ok_or_else(|| missing("what the ketone meter showed"))?,
                ),
                MarkKind::Temperature => {
                    Some(amount("degrees Celsius")?.ok_or_else(|| missing("how warm it is"))?)
                }
                MarkKind::Drink => amount("millilitres")?,
                _ => None,
            };
            if text.is_none() && matches!(kind, MarkKind::Note | MarkKind::Tag | MarkKind::Symptom) {
                return Err(missing("it in words"));
            }
            if kind == MarkKind::Sleep && until.is_none() {
                return Err(missing("when you woke"));
            }
            if kind == MarkKind::Artefact && until.is_none() {
                return Err(missing("until when the readings are to be left out"));
            }
            Entry::Mark(Mark {
                at,
                until,
                kind,
                value,
                text,
            })
        }
    })
}

/// Corrects an entry; answers the number of the change, for undo.
///
/// # Errors
/// As [`crate::log`], and `Book` where there is no such entry or it is of another kind.
pub fn correct(book: &mut Book, entry: EntryRef, new: &Entry, now: Second) -> Result<i64, DeskError> {
    plausible(new, now).map_err(DeskError::Request)?;
    Ok(book.edit(entry, &kept(new), None, now)?.0)
}

/// Strikes an entry out; answers the number of the change, for undo.
///
/// # Errors
/// `Book` where there is no such entry.
pub fn strike(book: &mut Book, entry: EntryRef, now: Second) -> Result<i64, DeskError> {
    Ok(book.delete(entry, None, now)?.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Second = 1_740_835_800;

    fn words(what: Jot, amount: &str, text: &str) -> JotWords {
        let given = |text: &str| (!text.is_empty()).then(|| text.to_owned());
        JotWords {
            what,
            at: None,
            until: None,
            amount: given(amount),
            unit: None,
            laboratory: false,
            insulin: InsulinKind::Rapid,
            words: given(text),
        }
    }

    fn entry(words: &JotWords) -> Result<Entry, DeskError> {
        jotted(
            words,
            NOW,
            &Zone::named("Europe/Lisbon").unwrap(),
            Some(Unit::MgPerDl),
        )
    }

    #[test]
    fn every_key_is_read_again() {
        for jot in Jot::ALL {
            assert_eq!(Jot::from_key(jot.key()), Some(jot));
        }
        assert_eq!(Jot::from_key("artefact"), None, "it is marked on the timeline");
    }

    #[test]
    fn what_is_missing_is_asked_for() {
        for jot in [Jot::Blood, Jot::Dose, Jot::Meal] {
            assert!(entry(&words(jot, "", "")).is_err(), "{jot:?}");
        }
        for kind in [
            MarkKind::Ketones,
            MarkKind::Temperature,
            MarkKind::Note,
            MarkKind::Sleep,
        ] {
            let refused = entry(&words(Jot::Mark(kind), "", ""));
            assert!(matches!(refused, Err(DeskError::Request(_))), "{kind:?}");
        }
        assert!(entry(&words(Jot::Mark(MarkKind::Activity), "", "")).is_ok());
        assert!(entry(&words(Jot::Meal, "", "soup")).is_ok());
    }

    #[test]
    fn a_blood_check_in_the_other_unit_is_questioned() {
        assert!(matches!(
            entry(&words(Jot::Blood, "6.1", "")),
            Err(DeskError::WhichUnit(_))
        ));
        let said = JotWords {
            unit: Some(Unit::MmolPerL),
            ..words(Jot::Blood, "6,1", "")
        };
        let Ok(Entry::Blood(check)) = entry(&said) else {
            panic!("it is a blood check")
        };
        assert_eq!((check.said.to_string().as_str(), check.at), ("6.1 mmol/L", NOW));
    }
}

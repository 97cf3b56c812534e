//! What is kept for visits, among the settings, one line of the journal for each thing, so that each can be taken back alone.

use interstice_glucose::{
    Hba1c, LabHba1c, Pin, Question, Second, VisitChoice, VisitNotes, day_from_words, day_words,
};

use crate::book::Book;
use crate::error::{BookError, BookErrorKind, Result};
use crate::journal::ChangeId;
use crate::settings::{Setting, Settings, setting_of};

const NAME: &str = "visit name";
/// Before the day of a visit.
const VISIT: &str = "visit on: ";
const WAS: &str = "visited";
/// Before the instant a question was written down.
const QUESTION: &str = "visit question: ";
/// Before the day of a laboratory's HbA1c.
const HBA1C: &str = "HbA1c on: ";

impl Book {
    /// What is kept for visits.
    ///
    /// # Errors
    /// `Damaged` where a note cannot be read, `Io`.
    pub fn visit_notes(&self) -> std::result::Result<VisitNotes, BookError> {
        let settings = self.settings()?;
        self.reading(|_| notes(&settings))
    }

    /// Writes one thing down for a visit, changes it or takes it away. The same again writes nothing.
    ///
    /// # Errors
    /// `Refused` where it is empty or too long; `Busy`, `Full`, `Io`.
    pub fn set_visit_note(
        &mut self,
        choice: &VisitChoice,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        if let Some(trouble) = choice.trouble() {
            return self.reading(|_| Err(BookErrorKind::refused("a note for the visit", trouble)));
        }
        let (key, value) = written(choice);
        self.set(Setting::Other(key, value), at)
    }
}

impl Book {
    /// Takes back a change of what is kept for visits.
    ///
    /// # Errors
    /// `Refused` where the change did something else or cannot be undone; `Busy`, `Full`, `Io`.
    pub fn undo_visit_note(&mut self, change: ChangeId, at: Second) -> std::result::Result<(), BookError> {
        self.reading(|conn| {
            let key = setting_of(conn, change)?;
            let is_note = key.is_some_and(|key| {
                key == NAME
                    || [VISIT, QUESTION, HBA1C]
                        .iter()
                        .any(|before| key.starts_with(before))
            });
            is_note.then_some(()).ok_or_else(|| {
                BookErrorKind::refused(
                    format!("change {change} kept nothing for visits"),
                    "`interstice journal` tells what each change did",
                )
            })
        })?;
        self.undo(Some(change), at).map(|_| ())
    }
}

fn written(choice: &VisitChoice) -> (String, Option<String>) {
    let trimmed = |text: &Option<String>| text.as_ref().map(|text| text.trim().to_owned());
    match choice {
        VisitChoice::Name(name) => (NAME.to_owned(), trimmed(name)),
        VisitChoice::Visit(day, was) => (format!("{VISIT}{}", day_words(*day)), was.then(|| WAS.to_owned())),
        VisitChoice::Question(written, text) => {
            let pin = Pin {
                at: *written,
                site: None,
            };
            (format!("{QUESTION}{}", pin.instant()), trimmed(text))
        }
        VisitChoice::Hba1c(day, said) => (
            format!("{HBA1C}{}", day_words(*day)),
            said.map(|said| said.to_string()),
        ),
    }
}

pub(crate) fn notes(settings: &Settings) -> Result<VisitNotes> {
    let mut notes = VisitNotes::default();
    for (key, value) in &settings.other {
        let unreadable = || BookErrorKind::damaged(format!("the note '{key}' is '{value}'"));
        take(&mut notes, key, value).ok_or_else(unreadable)?;
    }
    notes.visits.sort_unstable();
    notes.questions.sort();
    notes.hba1c.sort();
    Ok(notes)
}

/// Takes a setting in where it is a note for visits; `None` where it is one and cannot be read.
fn take(notes: &mut VisitNotes, key: &str, value: &str) -> Option<()> {
    if key == NAME {
        notes.name = Some(value.to_owned());
    } else if let Some(day) = key.strip_prefix(VISIT) {
        notes.visits.push(day_from_words(day)?);
    } else if let Some(instant) = key.strip_prefix(QUESTION) {
        notes.questions.push(Question {
            written: Pin::instant_from_words(instant)?,
            text: value.to_owned(),
        });
    } else if let Some(day) = key.strip_prefix(HBA1C) {
        notes.hba1c.push(LabHba1c {
            day: day_from_words(day)?,
            said: Hba1c::from_words(value)?,
        });
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_are_kept_changed_and_taken_back_one_by_one() {
        let mut book = Book::in_memory().unwrap();
        assert_eq!(book.visit_notes().unwrap(), VisitNotes::default());
        let day = day_from_words("2025-06-03").unwrap();
        let said = Hba1c::from_words("54 mmol/mol");
        let question = |text: &str| VisitChoice::Question(1_740_992_400, Some(text.to_owned()));
        for choice in [
            VisitChoice::Name(Some(" A. Person ".to_owned())),
            VisitChoice::Visit(day, true),
            VisitChoice::Hba1c(day, said),
            question("why?"),
            question("why at night?"),
        ] {
            assert!(book.set_visit_note(&choice, 0).unwrap().is_some());
            assert!(
                book.set_visit_note(&choice, 0).unwrap().is_none(),
                "the same again writes nothing"
            );
        }
        let notes = book.visit_notes().unwrap();
        let asked = |text: &str| Question {
            written: 1_740_992_400,
            text: text.to_owned(),
        };
        assert_eq!(notes.name.as_deref(), Some("A. Person"));
        assert_eq!(
            (&notes.visits[..], notes.questions),
            (&[day][..], vec![asked("why at night?")])
        );
        assert_eq!(
            notes.hba1c,
            [LabHba1c {
                day,
                said: said.unwrap()
            }]
        );
        // The last first, then others by their own word.
        let last = book
            .journal()
            .unwrap()
            .iter()
            .map(|change| change.id)
            .max()
            .unwrap();
        book.undo_visit_note(last, 1).unwrap();
        let other = book
            .set(Setting::Other("else".to_owned(), Some("x".to_owned())), 1)
            .unwrap();
        assert!(
            book.undo_visit_note(other.unwrap(), 1).is_err(),
            "it is none of the visits"
        );
        assert_eq!(book.visit_notes().unwrap().questions, [asked("why?")]);
        book.set_visit_note(&VisitChoice::Question(1_740_992_400, None), 2)
            .unwrap();
        book.set_visit_note(&VisitChoice::Visit(day, false), 2).unwrap();
        let notes = book.visit_notes().unwrap();
        assert_eq!((notes.questions, notes.visits), (vec![], vec![]));
        let empty = book.set_visit_note(&question(" "), 3).unwrap_err();
        assert!(matches!(empty.kind(), BookErrorKind::Refused { .. }), "{empty}");
    }

    #[test]
    fn a_note_that_cannot_be_read_is_damage() {
        for (key, value) in [("HbA1c on: 2025-01-01", "much"), ("visit on: then", "visited")] {
            let mut book = Book::in_memory().unwrap();
            book.set(Setting::Other(key.to_owned(), Some(value.to_owned())), 0)
                .unwrap();
            let damaged = book.visit_notes().unwrap_err();
            assert!(
                matches!(damaged.kind(), BookErrorKind::Damaged { .. }),
                "{damaged}"
            );
        }
    }
}

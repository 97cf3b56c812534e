//! What the documents of a file bring, put together.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use interstice_glucose::{
    Censor, Draft, LivedSpan, Named, Rejected, Said, Second, TraceKind, Unit, Zone, counted,
};
use jiff::Timestamp;
use serde::Deserialize;
use serde_json::value::RawValue;

use crate::api::{Hints, IntakeError, Outcome, Progress, Question, ReadFile, TableView, Understanding};
use crate::places::Places;

/// Rejected rows that are kept; all are counted.
const MOST_REJECTED: usize = 10_000;
/// Text of a rejected value is kept up to so many letters.
const MOST_TEXT: usize = 200;
/// Documents between two looks at whether to go on.
const AT_ONCE: u64 = 1 << 12;
/// People listed in a question.
const MOST_LISTED: usize = 20;

/// Why a document cannot be used: which part, and the reason.
pub(super) struct Unusable {
    pub(super) part: &'static str,
    pub(super) reason: String,
}

pub(super) fn unusable(part: &'static str, reason: impl Into<String>) -> Unusable {
    Unusable {
        part,
        reason: reason.into(),
    }
}

/// An instant and the offset it was told with; `None` where it was told as universal time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct When {
    pub(super) at: Second,
    pub(super) offset_s: Option<i32>,
}

impl When {
    /// RFC 3339 with an offset. Fractions of a second are cut off.
    pub(super) fn read(part: &'static str, text: Option<&str>) -> Result<When, Unusable> {
        let text = text.ok_or_else(|| unusable(part, "it does not say when"))?;
        let stamp: Timestamp = text.parse().map_err(|_| {
            unusable(
                part,
                format!("'{text}' is no date and time with an offset; a day alone does not say when"),
            )
        })?;
        Ok(When {
            at: stamp.as_second() - i64::from(stamp.subsec_nanosecond() < 0),
            offset_s: offset(text),
        })
    }
}

/// '+01:00' at the end; nothing after a 'Z'.
fn offset(text: &str) -> Option<i32> {
    let end = text.get(text.len().checked_sub(6)?..)?;
    let sign = match end.as_bytes()[0] {
        b'+' => 1,
        b'-' => -1,
        _ => return None,
    };
    let (hours, minutes) = end[1..].split_once(':')?;
    let (hours, minutes) = (hours.parse::<i32>().ok()?, minutes.parse::<i32>().ok()?);
    (hours < 24 && minutes < 60).then_some(sign * (hours * 3600 + minutes * 60))
}

/// A number with a unit, as both standards have it.
#[derive(Default, Deserialize)]
#[serde(default)]
pub(super) struct Quantity {
    pub(super) value: Option<Box<RawValue>>,
    pub(super) comparator: Option<String>,
    pub(super) unit: Option<String>,
    pub(super) code: Option<String>,
}

impl Quantity {
    /// Its unit: the code where there is one.
    pub(super) fn symbol(&self) -> &str {
        self.code.as_deref().or(self.unit.as_deref()).unwrap_or_default()
    }

    /// Glucose exactly as it was said.
    pub(super) fn glucose(&self, part: &'static str) -> Result<Said, Unusable> {
        let unit = [Unit::MgPerDl, Unit::MmolPerL]
            .into_iter()
            .find(|unit| unit.word().eq_ignore_ascii_case(self.symbol().trim()))
            .ok_or_else(|| unusable(part, format!("'{}' is no unit of glucose", self.symbol())))?;
        let censor = match self.comparator.as_deref() {
            None => Censor::None,
            Some("<" | "<=") => Censor::Below,
            Some(">" | ">=") => Censor::Above,
            Some(other) => {
                return Err(unusable(
                    part,
                    format!("'{other}' is no comparison that is known"),
                ));
            }
        };
        let text = self.value.as_ref().map(|value| value.get()).unwrap_or_default();
        Said::from_decimal(text, unit, censor)
            .filter(|said| said.mantissa() >= 0)
            .ok_or_else(|| unusable(part, format!("'{}' is no decimal number", cut(text))))
    }

    /// A number that is not negative, in one of these units.
    pub(super) fn amount(&self, part: &'static str, units: &[&str]) -> Result<f64, Unusable> {
        if !units
            .iter()
            .any(|unit| unit.eq_ignore_ascii_case(self.symbol().trim()))
        {
            return Err(unusable(
                part,
                format!(
                    "'{}' is no unit of this; it may be {}",
                    cut(self.symbol()),
                    units.join(" or ")
                ),
            ));
        }
        let text = self.value.as_ref().map(|value| value.get()).unwrap_or_default();
        let number = text
            .parse::<f64>()
            .ok()
            .filter(|number| number.is_finite() && *number >= 0.0);
        number.ok_or_else(|| unusable(part, format!("'{}' is no number from zero up", cut(text))))
    }
}

pub(super) fn cut(text: &str) -> String {
    text.chars().take(MOST_TEXT).collect()
}

/// A file's documents, as they are taken in.
pub(super) struct Taking<'a> {
    pub(super) draft: Draft,
    hints: &'a Hints,
    progress: &'a mut dyn Progress,
    total: u64,
    bytes: u64,
    traces: Places,
    /// Offsets by instant.
    offsets: BTreeMap<Second, i32>,
    /// Names of sensors by what points at them.
    pub(super) sensors: HashMap<String, String>,
    people: BTreeSet<String>,
    /// What is no measurement kept here, by its kind.
    passed_over: BTreeMap<String, u64>,
    rows: u64,
}

impl<'a> Taking<'a> {
    pub(super) fn new(hints: &'a Hints, progress: &'a mut dyn Progress, total: u64) -> Self {
        Taking {
            draft: Draft::default(),
            hints,
            progress,
            total,
            bytes: 0,
            traces: Places::default(),
            offsets: BTreeMap::new(),
            sensors: HashMap::new(),
            people: BTreeSet::new(),
            passed_over: BTreeMap::new(),
            rows: 0,
        }
    }

    /// Takes one document in; what is wrong with it is kept.
    pub(super) fn row(
        &mut self,
        raw: &RawValue,
        take: impl FnOnce(&mut Self) -> Result<(), Unusable>,
    ) -> Result<(), IntakeError> {
        self.rows += 1;
        self.bytes += raw.get().len() as u64;
        if self.rows.is_multiple_of(AT_ONCE) {
            let done = self.bytes.min(self.total);
            self.progress
                .at(done, self.total, self.rows)
                .map_err(|_| IntakeError::Stopped)?;
        }
        if let Err(Unusable { part, reason }) = take(self) {
            if self.draft.rejected.len() >= MOST_REJECTED {
                self.draft.rejected_more += 1;
            } else {
                self.draft.rejected.push(Rejected {
                    row: self.rows,
                    column: part.to_owned(),
                    text: cut(raw.get()),
                    reason,
                });
            }
        }
        Ok(())
    }

    /// Counts a document that is no measurement kept here.
    pub(super) fn pass_over(&mut self, kind: &str) {
        *self.passed_over.entry(cut(kind)).or_default() += 1;
    }

    /// Whether a document is of the person asked for; where none was, who it is of is remembered.
    pub(super) fn is_of(&mut self, person: Option<&str>) -> bool {
        let Some(person) = person else {
            return true;
        };
        match &self.hints.subject {
            Some(asked) => asked == person,
            None => {
                self.people.insert(person.to_owned());
                true
            }
        }
    }

    /// Remembers the offset at an instant.
    pub(super) fn lived(&mut self, when: When) -> Second {
        if let Some(offset_s) = when.offset_s {
            self.offsets.entry(when.at).or_insert(offset_s);
        }
        when.at
    }

    pub(super) fn reading(
        &mut self,
        when: When,
        sensor: String,
        kind: TraceKind,
        said: Said,
        part: &'static str,
    ) -> Result<(), Unusable> {
        let at =
            u32::try_from(when.at).map_err(|_| unusable(part, "a reading lies between 1970 and 2106"))?;
        self.lived(when);
        self.traces.push(&mut self.draft, sensor, kind, (at, said));
        Ok(())
    }

    /// The file as read, or the question whose it is.
    pub(super) fn finish(mut self, name: &str, standard: &str) -> Result<Outcome, IntakeError> {
        let notes: Vec<String> = self
            .passed_over
            .iter()
            .map(|(kind, count)| {
                format!(
                    "{} of '{kind}' passed over: nothing here keeps such",
                    counted(*count, "document", "documents")
                )
            })
            .collect();
        let view = TableView {
            place: name.to_owned(),
            format: format!("{standard} documents, JSON"),
            columns: Vec::new(),
            unit: None,
            time_rule: "instants with their offsets".to_owned(),
            zone: "as in the file".to_owned(),
            parsed: Vec::new(),
            interval_min: None,
        };
        let understanding = Understanding {
            tables: vec![view],
            notes,
        };
        if self.people.len() > 1 {
            return Ok(Outcome::Question {
                understanding: Box::new(understanding),
                questions: vec![whose(&self.people)],
            });
        }
        if self.rows == 0 {
            return Err(IntakeError::NotATable {
                what: format!("{name} holds no document"),
                next: "export it again".to_owned(),
            });
        }
        self.draft.lived = stretches(&self.offsets);
        let unit = self
            .draft
            .levels
            .as_slice()
            .first()
            .map(|level| level.said.unit());
        Ok(Outcome::Read(Box::new(ReadFile {
            unit: unit.or(self.draft.blood_checks.first().map(|check| check.said.unit())),
            draft: self.draft,
            understanding,
            recipes: Vec::new(),
            rows_read: self.rows,
            zone: "as in the file".to_owned(),
            interval_min: None,
            settings: Vec::new(),
            base_zone: None,
        })))
    }
}

fn whose(people: &BTreeSet<String>) -> Question {
    let answer = |person: &String| {
        (
            format!("--subject '{person}'"),
            format!("the documents of {person}"),
        )
    };
    Question {
        ask: format!(
            "this file holds {} people; whose documents are yours?",
            people.len()
        ),
        answers: people.iter().take(MOST_LISTED).map(answer).collect(),
    }
}

/// Stretches of one offset each, from the first instant that was told with it to the next told with another.
fn stretches(offsets: &BTreeMap<Second, i32>) -> Vec<LivedSpan> {
    let mut spans: Vec<(LivedSpan, i32)> = Vec::new();
    for (&at, &offset_s) in offsets {
        if let Some((last, known)) = spans.last_mut() {
            let is_same = *known == offset_s;
            last.to = if is_same { at + 1 } else { at };
            if is_same {
                continue;
            }
        }
        if let Some(zone) = Zone::fixed(offset_s) {
            let span = LivedSpan {
                from: at,
                to: at + 1,
                zone,
            };
            spans.push((span, offset_s));
        }
    }
    spans.into_iter().map(|(span, _)| span).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_instant_keeps_its_offset() {
        let read = |text| {
            When::read("x", Some(text))
                .ok()
                .map(|when| (when.at, when.offset_s))
        };
        assert_eq!(read("1970-01-01T01:00:00+01:00"), Some((0, Some(3600))));
        assert_eq!(read("1970-01-01T00:00:00.9Z"), Some((0, None)));
        assert_eq!(read("1969-12-31T20:30:00-03:30"), Some((0, Some(-12_600))));
        for text in [
            "1970-01-01",
            "1970-01-01T00:00:00",
            "",
            "é",
            "1970-01-01T00:00:00+99:99",
        ] {
            assert_eq!(read(text), None, "{text}");
        }
    }

    #[test]
    fn stretches_meet_where_the_offset_changes() {
        let spans = stretches(&BTreeMap::from([(0, 0), (10, 0), (20, 3600), (30, 3600)]));
        let told: Vec<_> = spans
            .iter()
            .map(|span| (span.from, span.to, span.zone.name().to_owned()))
            .collect();
        assert_eq!(
            told,
            [(0, 20, "+00:00".to_owned()), (20, 31, "+01:00".to_owned())]
        );
    }
}

//! Claims for sensors, kept among the settings, so that each step is in the journal and can be taken back.

use std::collections::BTreeMap;

use interstice_glucose::{ClaimStep, ClaimWhat, Second};
use serde::{Deserialize, Serialize};

use crate::book::Book;
use crate::error::{BookError, BookErrorKind, Result};
use crate::journal::ChangeId;
use crate::settings::{Setting, Settings};

/// Before the sensor a claim is for.
const CLAIM: &str = "claim: ";

/// A step as it is written.
#[derive(Deserialize, Serialize)]
struct Row {
    what: String,
    at: Second,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    words: Option<String>,
}

/// Claims by the sensor they are for, each its steps in time order.
pub type Claims = BTreeMap<String, Vec<ClaimStep>>;

impl Book {
    /// The claims there are.
    ///
    /// # Errors
    /// `Damaged` where one cannot be read, `Io`.
    pub fn claims(&self) -> std::result::Result<Claims, BookError> {
        let settings = self.settings()?;
        self.reading(|_| claims(&settings))
    }

    /// Writes a step of a claim down, as a change of its own.
    ///
    /// # Errors
    /// `Refused` where the sensor has no name; `Damaged`, `Busy`, `Full`, `Io`.
    pub fn add_claim_step(
        &mut self,
        sensor: &str,
        step: ClaimStep,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        let sensor = sensor.trim();
        if sensor.is_empty() {
            let say = "say which sensor, by the name `interstice wear` has for it";
            return self.reading(|_| Err(BookErrorKind::refused("a claim for no sensor", say)));
        }
        let mut steps = self.claims()?.remove(sensor).unwrap_or_default();
        steps.push(step);
        steps.sort_by_key(|step| step.at);
        self.write_claim(sensor, steps, at)
    }

    /// Takes the last step of a claim back, as a change of its own; nothing where there is none.
    ///
    /// # Errors
    /// `Damaged`, `Busy`, `Full`, `Io`.
    pub fn drop_claim_step(
        &mut self,
        sensor: &str,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        let sensor = sensor.trim();
        let mut steps = self.claims()?.remove(sensor).unwrap_or_default();
        if steps.pop().is_none() {
            return Ok(None);
        }
        self.write_claim(sensor, steps, at)
    }

    fn write_claim(
        &mut self,
        sensor: &str,
        steps: Vec<ClaimStep>,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        let rows: Vec<Row> = steps.into_iter().map(row).collect();
        let text = (!rows.is_empty()).then(|| serde_json::to_string(&rows).unwrap_or_default());
        self.set(Setting::Other(format!("{CLAIM}{sensor}"), text), at)
    }
}

fn row(step: ClaimStep) -> Row {
    Row {
        what: step.what.name().to_owned(),
        at: step.at,
        words: step.words,
    }
}

pub(crate) fn claims(settings: &Settings) -> Result<Claims> {
    let written = settings
        .other
        .iter()
        .filter_map(|(key, text)| Some((key.strip_prefix(CLAIM)?, text)));
    written
        .map(|(sensor, text)| {
            let damaged = |what: String| BookErrorKind::damaged(format!("the claim for '{sensor}': {what}"));
            let rows: Vec<Row> = serde_json::from_str(text).map_err(|error| damaged(error.to_string()))?;
            let step = |row: Row| {
                let what = ClaimWhat::ALL.into_iter().find(|what| what.name() == row.what);
                let what = what.ok_or_else(|| damaged(format!("'{}' is no step", row.what)))?;
                Ok(ClaimStep {
                    what,
                    at: row.at,
                    words: row.words,
                })
            };
            let steps: Result<Vec<ClaimStep>> = rows.into_iter().map(step).collect();
            Ok((sensor.to_owned(), steps?))
        })
        .collect()
}

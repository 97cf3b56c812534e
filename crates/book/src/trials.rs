//! Personal trials, kept among the settings, so that each is in the journal. One that has begun is not changed; it can be
//! abandoned, with a reason, and that is kept too.

use interstice_glucose::{Arm, Compares, Second, Trial, TrialOutcome};
use serde::{Deserialize, Serialize};

use crate::book::Book;
use crate::error::{BookError, BookErrorKind, Result};
use crate::journal::ChangeId;
use crate::settings::{Setting, Settings};

/// Before the name of a trial.
const TRIAL: &str = "trial: ";
/// Before the name of one that was abandoned.
const ABANDONED: &str = "trial abandoned: ";

/// A trial as it is written.
#[derive(Deserialize, Serialize)]
struct Row {
    compares: String,
    arms: Vec<String>,
    outcome: String,
    sensors: u32,
    block: u32,
    checks: u32,
    fewest_checks: u32,
    limit_min: u32,
    seed: u64,
    begun: Second,
    look_after: Option<u32>,
    most_losses: Option<u32>,
}

impl Row {
    fn of(trial: &Trial) -> Self {
        Row {
            compares: trial.compares().map_or("", Compares::name).to_owned(),
            arms: trial.arms.iter().map(ToString::to_string).collect(),
            outcome: trial.outcome.name().to_owned(),
            sensors: trial.sensors,
            block: trial.block,
            checks: trial.checks,
            fewest_checks: trial.fewest_checks,
            limit_min: trial.limit_min,
            seed: trial.seed,
            begun: trial.begun,
            look_after: trial.look_after,
            most_losses: trial.most_losses,
        }
    }

    fn trial(&self, name: &str) -> Option<Trial> {
        let compares = Compares::ALL
            .into_iter()
            .find(|kind| kind.name() == self.compares)?;
        let outcome = TrialOutcome::ALL
            .into_iter()
            .find(|kind| kind.name() == self.outcome)?;
        let arms = self.arms.iter().map(|text| Arm::from_words(compares, text));
        Some(Trial {
            name: name.to_owned(),
            arms: arms.collect::<Option<_>>()?,
            outcome,
            sensors: self.sensors,
            block: self.block,
            checks: self.checks,
            fewest_checks: self.fewest_checks,
            limit_min: self.limit_min,
            seed: self.seed,
            begun: self.begun,
            look_after: self.look_after,
            most_losses: self.most_losses,
        })
    }
}

/// That a trial was given up, and why.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize, Serialize)]
pub struct Abandoned {
    /// When.
    pub at: Second,
    /// Why, in the wearer's words.
    pub reason: String,
}

/// A trial and what became of it, as far as the wearer said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptTrial {
    /// As it was settled.
    pub trial: Trial,
    /// Given up.
    pub abandoned: Option<Abandoned>,
}

impl Book {
    /// All trials, by when they began.
    ///
    /// # Errors
    /// `Damaged` where one cannot be read, `Io`.
    pub fn trials(&self) -> std::result::Result<Vec<KeptTrial>, BookError> {
        let settings = self.settings()?;
        self.reading(|_| trials(&settings))
    }

    /// Begins a trial. What is written is not changed afterwards: a name that was used is refused.
    ///
    /// # Errors
    /// `Refused` where it makes no sense or the name was used; `Busy`, `Full`, `Io`.
    pub fn begin_trial(
        &mut self,
        trial: &Trial,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        if let Some(trouble) = trial.trouble() {
            return self.reading(|_| Err(BookErrorKind::refused("a trial that cannot be", trouble)));
        }
        let name = trial.name.trim();
        let settings = self.settings()?;
        if settings.other.contains_key(&format!("{TRIAL}{name}"))
            || settings.other.contains_key(&format!("{ABANDONED}{name}"))
        {
            return self.reading(|_| {
                Err(BookErrorKind::refused(
                    format!("a second trial called '{name}'"),
                    "one that has begun is not changed; give this one another name",
                ))
            });
        }
        let text = serde_json::to_string(&Row::of(trial)).unwrap_or_default();
        self.set(Setting::Other(format!("{TRIAL}{name}"), Some(text)), at)
    }

    /// Gives a trial up. It is not looked at again, and that it was given up stays on record.
    ///
    /// # Errors
    /// `Refused` where there is no such trial, it was given up already, or no reason is said; `Busy`, `Full`, `Io`.
    pub fn abandon_trial(
        &mut self,
        name: &str,
        reason: &str,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        let name = name.trim();
        let trials = self.trials()?;
        let refused = |what: &str, then: &str| BookErrorKind::refused(what.to_owned(), then.to_owned());
        let trouble = match trials.iter().find(|kept| kept.trial.name == name) {
            None => Some(refused(
                &format!("giving up a trial called '{name}'"),
                "there is none; `interstice trial list` names them",
            )),
            Some(kept) if kept.abandoned.is_some() => {
                Some(refused(&format!("giving up '{name}'"), "that was done already"))
            }
            Some(_) if reason.trim().is_empty() => Some(refused(
                &format!("giving up '{name}' without a reason"),
                "say why",
            )),
            Some(_) => None,
        };
        if let Some(trouble) = trouble {
            return self.reading(|_| Err(trouble));
        }
        let abandoned = Abandoned {
            at,
            reason: reason.trim().to_owned(),
        };
        let text = serde_json::to_string(&abandoned).unwrap_or_default();
        self.set(Setting::Other(format!("{ABANDONED}{name}"), Some(text)), at)
    }
}

pub(crate) fn trials(settings: &Settings) -> Result<Vec<KeptTrial>> {
    let damaged = |name: &str, why: &str| BookErrorKind::damaged(format!("the trial '{name}': {why}"));
    let mut all = Vec::new();
    for (key, text) in &settings.other {
        let Some(name) = key.strip_prefix(TRIAL) else {
            continue;
        };
        let row: Row = serde_json::from_str(text).map_err(|error| damaged(name, &error.to_string()))?;
        let trial = row.trial(name).filter(|trial| trial.trouble().is_none());
        let trial = trial.ok_or_else(|| damaged(name, "it makes no sense"))?;
        let abandoned = settings.other.get(&format!("{ABANDONED}{name}"));
        let abandoned = abandoned.map(|text| serde_json::from_str(text));
        let abandoned = abandoned
            .transpose()
            .map_err(|error| damaged(name, &error.to_string()))?;
        all.push(KeptTrial { trial, abandoned });
    }
    all.sort_by(|a, b| (a.trial.begun, &a.trial.name).cmp(&(b.trial.begun, &b.trial.name)));
    Ok(all)
}

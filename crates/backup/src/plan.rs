//! What is kept beside the book: the key, the schedule, what was written.

use std::path::PathBuf;

use interstice_glucose::Second;
use serde::{Deserialize, Serialize};

use crate::key::Key;
use crate::retention::Keep;

const HOUR_S: Second = 3600;
/// After a backup that failed it is tried again.
const TRY_AGAIN_S: Second = HOUR_S;

/// How a book is backed up.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Plan {
    /// What locks backups; `None` until a passphrase was chosen.
    pub key: Option<Key>,
    /// Where they go by themselves, and how often.
    pub schedule: Option<Schedule>,
    /// The last one, made by hand or by itself.
    pub last: Option<Written>,
    /// Why the last try failed, where it did.
    pub trouble: Option<Trouble>,
    /// Those that were written by the schedule and are still kept, as far as is known; oldest first.
    pub written: Vec<Written>,
    /// Files that were begun and may lie about unfinished.
    pub begun: Vec<PathBuf>,
}

/// Backups that are made by themselves.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Schedule {
    /// The folder they go to.
    pub folder: PathBuf,
    /// Hours between two.
    pub every_hours: u32,
    /// How many are kept.
    pub keep: Keep,
}

/// A backup that was made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Written {
    /// Where it was put.
    pub path: PathBuf,
    /// When.
    pub at: Second,
    /// Its size, bytes.
    pub size_bytes: u64,
    /// SHA-256 of the file.
    pub sha256: String,
    /// Which book it is of.
    pub book: String,
}

/// A try that failed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Trouble {
    /// When.
    pub at: Second,
    /// Why, in words.
    pub why: String,
}

/// When the next backup is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Due {
    /// Never: none are made by themselves.
    Off,
    /// At this moment.
    At(Second),
    /// Now.
    Now,
}

impl Plan {
    /// When the next backup by itself is due.
    pub fn due(&self, now: Second) -> Due {
        let Some(schedule) = &self.schedule else {
            return Due::Off;
        };
        let here = |written: &&Written| written.path.parent() == Some(schedule.folder.as_path());
        // A moment yet to come tells of a clock that was wrong; it must not hold backups up for years.
        let past = |at: &Second| *at <= now;
        let last = self.written.iter().filter(here).map(|written| written.at);
        let next = last
            .filter(past)
            .max()
            .map(|at| at + i64::from(schedule.every_hours) * HOUR_S);
        let again = self
            .trouble
            .as_ref()
            .map(|trouble| trouble.at)
            .filter(past)
            .map(|at| at + TRY_AGAIN_S);
        match next.into_iter().chain(again).max() {
            Some(at) if at > now => Due::At(at),
            _ => Due::Now,
        }
    }
}

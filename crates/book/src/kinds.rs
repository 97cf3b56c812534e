//! The kinds of sensors the wearer described, kept among the settings, so that each change is in the journal and can be
//! taken back.

use interstice_glucose::{Region, Second, SensorKind, WearFrom};
use serde::{Deserialize, Serialize};

use crate::book::Book;
use crate::error::{BookError, BookErrorKind, Result};
use crate::journal::ChangeId;
use crate::settings::{Setting, Settings};

/// Before the name of a kind.
const KIND: &str = "sensor kind: ";
/// The kind that is put on next.
const IN_USE: &str = "sensor kind in use";

/// A kind as it is written.
#[derive(Deserialize, Serialize)]
struct Row {
    wear_min: u32,
    extra_min: u32,
    warm_up_min: u32,
    longest_bedding_min: u32,
    from_put_on: bool,
    side_by_side: bool,
    sites: Vec<String>,
}

impl Row {
    fn of(kind: &SensorKind) -> Self {
        Row {
            wear_min: kind.wear_min,
            extra_min: kind.extra_min,
            warm_up_min: kind.warm_up_min,
            longest_bedding_min: kind.longest_bedding_min,
            from_put_on: kind.wear_from == WearFrom::PutOn,
            side_by_side: kind.side_by_side,
            sites: kind.sites.iter().map(|region| region.name().to_owned()).collect(),
        }
    }

    fn kind(self, name: &str) -> SensorKind {
        let region = |word: &String| Region::ALL.into_iter().find(|region| region.name() == word);
        SensorKind {
            name: name.to_owned(),
            wear_min: self.wear_min,
            extra_min: self.extra_min,
            warm_up_min: self.warm_up_min,
            longest_bedding_min: self.longest_bedding_min,
            wear_from: if self.from_put_on {
                WearFrom::PutOn
            } else {
                WearFrom::Started
            },
            side_by_side: self.side_by_side,
            sites: self.sites.iter().filter_map(region).collect(),
        }
    }
}

/// All kinds, and the one that is put on next.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SensorKinds {
    /// By name.
    pub all: Vec<SensorKind>,
    /// The place of the one in use; `None` where none was described.
    pub in_use: Option<usize>,
}

impl Book {
    /// The kinds of sensors that were described.
    ///
    /// # Errors
    /// `Damaged` where one cannot be read, `Io`.
    pub fn sensor_kinds(&self) -> std::result::Result<SensorKinds, BookError> {
        let settings = self.settings()?;
        let all = self.reading(|_| kinds(&settings))?;
        let named = settings.other.get(IN_USE);
        let place = named.and_then(|name| all.iter().position(|kind| &kind.name == name));
        let in_use = place.or_else(|| (!all.is_empty()).then_some(0));
        Ok(SensorKinds { all, in_use })
    }

    /// Describes a kind, or describes it anew, and puts it in use. The same again writes nothing.
    ///
    /// # Errors
    /// `Refused` where it makes no sense; `Busy`, `Full`, `Io`.
    pub fn set_sensor_kind(
        &mut self,
        kind: &SensorKind,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        if let Some(trouble) = kind.trouble() {
            return self.reading(|_| Err(BookErrorKind::refused("a kind of sensor that cannot be", trouble)));
        }
        let text = serde_json::to_string(&Row::of(kind)).unwrap_or_default();
        let name = kind.name.trim();
        // The kind last, so that taking back the last change takes back the kind.
        let used = self.set(Setting::Other(IN_USE.to_owned(), Some(name.to_owned())), at)?;
        let change = self.set(Setting::Other(format!("{KIND}{name}"), Some(text)), at)?;
        Ok(change.or(used))
    }
}

pub(crate) fn kinds(settings: &Settings) -> Result<Vec<SensorKind>> {
    let written = settings
        .other
        .iter()
        .filter_map(|(key, text)| Some((key.strip_prefix(KIND)?, text)));
    written
        .map(|(name, text)| {
            let row: Row = serde_json::from_str(text)
                .map_err(|error| BookErrorKind::damaged(format!("the kind of sensor '{name}': {error}")))?;
            Ok(row.kind(name))
        })
        .collect()
}

//! How far to trust a sensor at its age: how far the wearer's sensors stood from blood on that day of wear.

use interstice_glucose::Second;
use interstice_methods::agreement::{LAST_DAY_APART, day_of_wear};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use crate::figure::figure_entry;
use crate::{Figure, TrustFindings};

/// Agreement with blood at an age.
#[derive(Clone, Debug, PartialEq)]
pub struct AtAge {
    /// The day of wear the sensor is in, the first being 1.
    pub day: u32,
    /// Whether the figure is of that day of wear; else that day has too few checks, and it is of all days.
    pub of_that_day: bool,
    /// Blood checks beside a reading.
    pub pairs: u64,
    /// Mean absolute relative difference, percent.
    pub mard_percent: Figure,
}

/// At an age in seconds; nothing where even all days together have too few checks.
pub(super) fn at_age(age_s: Second, trust: &TrustFindings) -> Option<AtAge> {
    let day = day_of_wear(age_s);
    let key = if day < LAST_DAY_APART {
        day.to_string()
    } else {
        format!("{LAST_DAY_APART}+")
    };
    let mut days = trust.by.day_of_wear.iter();
    let of_day = days.find(|group| group.key == key && group.mard_percent.value.is_some());
    let (pairs, figure) = match of_day {
        Some(group) => (group.pairs, &group.mard_percent),
        None => (trust.counts.pairs, &trust.agreement.mard_percent),
    };
    figure.value?;
    Some(AtAge {
        day,
        of_that_day: of_day.is_some(),
        pairs,
        mard_percent: figure.clone(),
    })
}

impl Serialize for AtAge {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("day", &self.day)?;
        map.serialize_entry("of_that_day", &self.of_that_day)?;
        map.serialize_entry("pairs", &self.pairs)?;
        figure_entry(&mut map, "mard_percent", &self.mard_percent)?;
        map.end()
    }
}

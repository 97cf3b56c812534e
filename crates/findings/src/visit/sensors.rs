//! Sensors used and lost.

use std::collections::BTreeMap;

use interstice_book::Record;
use interstice_glucose::{Ending, Second};
use serde::Serialize;

use crate::Time;
use crate::worn::sensors_worn;

/// Sensors of a window.
#[derive(Clone, Debug, Default, Serialize)]
pub struct SensorsUsed {
    /// Worn at any time in it.
    pub worn: u32,
    /// Started in it.
    pub started: u32,
    /// Of those worn, by place on the body; the place most used first.
    pub sites: Vec<SiteUsed>,
    /// Ended in it before their time, by their own fault, the skin's or the plaster's, oldest first.
    pub lost: Vec<LostLine>,
}

/// Sensors at one place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SiteUsed {
    /// Part of the body; 'not told' where nobody said.
    pub site: String,
    /// Sensors.
    pub sensors: u32,
}

/// A sensor that was lost.
#[derive(Clone, Debug, Serialize)]
pub struct LostLine {
    /// Its name in the readings.
    pub sensor_id: Option<String>,
    /// Where it was worn.
    pub site: Option<String>,
    /// When it ended.
    pub ended: Time,
    /// How.
    pub ending: &'static str,
    /// Days it was worn, from being put on or started.
    pub days_worn: f64,
}

pub(super) fn used(record: &Record, from: Second, to: Second) -> SensorsUsed {
    let all = sensors_worn(record, Second::MIN / 2, to);
    // What nobody said has ended is over with its last reading, or with being told of.
    let worn: Vec<_> = all
        .iter()
        .filter(|worn| worn.end().unwrap_or(worn.from()) >= from)
        .collect();
    let mut sites: BTreeMap<String, u32> = BTreeMap::new();
    for worn in &worn {
        let site = worn.site.as_ref().map(|site| site.region.name());
        *sites.entry(site.unwrap_or("not told").to_owned()).or_default() += 1;
    }
    let mut sites: Vec<SiteUsed> = sites
        .into_iter()
        .map(|(site, sensors)| SiteUsed { site, sensors })
        .collect();
    sites.sort_by_key(|site| std::cmp::Reverse(site.sensors));
    let lost = worn.iter().filter_map(|worn| {
        let ending: Ending = worn.ending().filter(|ending| ending.is_loss())?;
        let ended = worn.end().filter(|ended| (from..to).contains(ended))?;
        Some(LostLine {
            sensor_id: worn.sensor.clone(),
            site: worn.site.as_ref().map(ToString::to_string),
            ended: Time(record.clock.moment(ended)),
            ending: ending.name(),
            days_worn: (ended - worn.from()).max(0) as f64 / 86_400.0,
        })
    });
    let mut lost: Vec<LostLine> = lost.collect();
    lost.sort_by_key(|lost| lost.ended.0.at);
    let started = worn
        .iter()
        .filter(|worn| worn.start().is_some_and(|start| (from..to).contains(&start)));
    SensorsUsed {
        worn: u32::try_from(worn.len()).unwrap_or(u32::MAX),
        started: u32::try_from(started.count()).unwrap_or(u32::MAX),
        sites,
        lost,
    }
}

//! How the skin was after sensors, by what they have in common.

use std::collections::BTreeMap;

use interstice_glucose::{SkinAfter, counted};
use interstice_methods::agreement::share_interval;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use super::Worn;
use super::staying::tags;
use crate::Figure;
use crate::figure::figure_entry;

/// Confidence of every interval.
const CONFIDENCE: f64 = 0.95;
/// Fewest sensors whose skin was told before a share is given. Common practice, no source.
const FEWEST: u64 = 5;

/// How the skin was, by one thing sensors have in common.
#[derive(Clone, Debug, Serialize)]
pub struct SkinTable {
    /// What they are told apart by: 'all', 'site', 'preparation', 'cover'.
    pub by: &'static str,
    /// The groups, by name.
    pub groups: Vec<SkinGroup>,
}

/// Sensors that ended, of one kind of wear.
#[derive(Clone, Debug)]
pub struct SkinGroup {
    /// What they have in common; 'all' where nothing is told apart.
    pub name: String,
    /// Sensors that ended.
    pub ended: u64,
    /// Of these, sensors after which it was told how the skin was. Only of them is anything known.
    pub told: u64,
    /// Of these, sensors after which the skin reacted.
    pub reactions: u64,
    /// Their share of those told, percent, with its exact interval, or how many more are needed.
    pub reacted_percent: Figure,
    /// How often each reaction was told.
    pub classes: Vec<(SkinAfter, u64)>,
    /// The longest a reaction was told to last, days.
    pub longest_days: Option<u16>,
}

impl Serialize for SkinGroup {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let classes: BTreeMap<&str, u64> = self
            .classes
            .iter()
            .map(|(class, count)| (class.name(), *count))
            .collect();
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("name", &self.name)?;
        map.serialize_entry("ended", &self.ended)?;
        map.serialize_entry("told", &self.told)?;
        map.serialize_entry("reactions", &self.reactions)?;
        figure_entry(&mut map, "reacted_percent", &self.reacted_percent)?;
        map.serialize_entry("classes", &classes)?;
        map.serialize_entry("longest_days", &self.longest_days)?;
        map.end()
    }
}

/// All together, and by site, preparation and cover where it was told of a sensor in any group; empty where nothing of the skin was told.
pub(super) fn skin(worn: &[Worn]) -> Vec<SkinTable> {
    let ended: Vec<&Worn> = worn.iter().filter(|worn| !worn.is_on).collect();
    if ended.iter().all(|worn| worn.it.detail.skin.is_none()) {
        return Vec::new();
    }
    type Name = fn(&Worn) -> Option<String>;
    let ways: [(&'static str, Name); 4] = [
        ("all", |_| Some("all".to_owned())),
        ("site", |worn| {
            worn.site().map(|site| site.region.name().to_owned())
        }),
        ("preparation", |worn| tags(&worn.it.detail.preparation)),
        ("cover", |worn| tags(&worn.it.detail.cover)),
    ];
    let by = |(by, name): (&'static str, Name)| {
        let mut groups: BTreeMap<String, Vec<&Worn>> = BTreeMap::new();
        for worn in &ended {
            if let Some(name) = name(worn) {
                groups.entry(name).or_default().push(worn);
            }
        }
        SkinTable {
            by,
            groups: groups
                .into_iter()
                .map(|(name, worn)| group(name, &worn))
                .collect(),
        }
    };
    ways.into_iter()
        .map(by)
        .filter(|table| table.groups.iter().any(|group| group.told > 0))
        .collect()
}

fn group(name: String, worn: &[&Worn]) -> SkinGroup {
    let told: Vec<(SkinAfter, Option<u16>)> = worn
        .iter()
        .filter_map(|worn| Some((worn.it.detail.skin?, worn.it.detail.skin_days)))
        .collect();
    let of = |class: SkinAfter| told.iter().filter(|(skin, _)| *skin == class).count() as u64;
    let reacted = told.iter().filter(|(skin, _)| skin.is_reaction());
    let (reactions, all) = (reacted.clone().count() as u64, told.len() as u64);
    let share = share_interval(reactions, all.max(1), CONFIDENCE);
    let reacted_percent = if all < FEWEST {
        Figure::missing(format!(
            "told of {} so far; a share is given from {FEWEST} on, {} more",
            counted(all, "sensor", "sensors"),
            FEWEST - all
        ))
    } else {
        Figure {
            value: Some(100.0 * reactions as f64 / all as f64),
            lo95: Some(100.0 * share.lo),
            hi95: Some(100.0 * share.hi),
            reason: None,
        }
    };
    SkinGroup {
        name,
        ended: worn.len() as u64,
        told: all,
        reactions,
        reacted_percent,
        classes: SkinAfter::ALL
            .into_iter()
            .map(|class| (class, of(class)))
            .filter(|&(class, count)| count > 0 && class.is_reaction())
            .collect(),
        longest_days: reacted.filter_map(|(_, days)| *days).max(),
    }
}

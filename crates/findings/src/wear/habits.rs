//! What the wearer does when a sensor is put on, so that writing the next one down takes a tap and no typing.

use serde::Serialize;

use super::Worn;

/// Words for preparing the skin, offered to whoever has not used any yet. Generic; the sensor's instructions come first.
const PREPARATION: [&str; 4] = ["wash", "alcohol", "skin barrier wipe", "liquid adhesive"];
/// Words for covers.
const COVER: [&str; 2] = ["over-patch", "arm band"];

/// Tags used so far, and those of the last sensor.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Habits {
    /// How the skin may be prepared: the wearer's own words, the most used first, then suggestions.
    pub preparation: Vec<String>,
    /// How it was for the last sensor.
    pub last_preparation: Vec<String>,
    /// What may cover a sensor, likewise.
    pub cover: Vec<String>,
    /// What covered the last.
    pub last_cover: Vec<String>,
    /// Lot of the last.
    pub last_lot: Option<String>,
}

pub(super) fn habits(worn: &[Worn]) -> Habits {
    let detail = |one: &Worn| one.it.detail.clone();
    let last = worn.last().map(detail).unwrap_or_default();
    let known = |of: fn(&Worn) -> &[String], offered: &[&str]| {
        let mut counted: Vec<(usize, String)> = Vec::new();
        for tag in worn.iter().flat_map(of) {
            match counted.iter_mut().find(|(_, known)| known == tag) {
                Some((count, _)) => *count += 1,
                None => counted.push((1, tag.clone())),
            }
        }
        counted.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
        let mut tags: Vec<String> = counted.into_iter().map(|(_, tag)| tag).collect();
        for &offer in offered {
            if tags.iter().all(|tag| tag != offer) {
                tags.push(offer.to_owned());
            }
        }
        tags
    };
    Habits {
        preparation: known(|one| &one.it.detail.preparation, &PREPARATION),
        last_preparation: last.preparation,
        cover: known(|one| &one.it.detail.cover, &COVER),
        last_cover: last.cover,
        last_lot: last.lot,
    }
}

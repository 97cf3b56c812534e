//! How each sensor of the invented engineer came off and what it left: part of the story, not of chance.

use interstice_glucose::{Comfort, Removal, Second, SensorDetail, SensorNote, SensorNoteKind, SkinAfter};
use serde::{Serialize, Serializer};

use crate::wear::{Ending, Site, Wear, as_utc};

/// Written down so long after the end.
const LATER_S: Second = 2 * 86_400;

/// What was written down after one sensor.
#[derive(Clone, Debug, Serialize)]
pub struct AfterTruth {
    /// Which.
    pub sensor: String,
    /// When.
    #[serde(serialize_with = "as_utc")]
    pub at: Second,
    /// How it was taken off; not of one that fell off.
    #[serde(serialize_with = "removal_name")]
    pub removal: Option<Removal>,
    /// How the skin was. The abdomen reacts each time; a chest sensor left a bruise once.
    #[serde(serialize_with = "skin_name")]
    pub skin: SkinAfter,
    /// For how many days, where it reacted.
    pub days: Option<u16>,
}

fn removal_name<S: Serializer>(removal: &Option<Removal>, serializer: S) -> Result<S::Ok, S::Error> {
    removal.map(Removal::name).serialize(serializer)
}

fn skin_name<S: Serializer>(skin: &SkinAfter, serializer: S) -> Result<S::Ok, S::Error> {
    skin.name().serialize(serializer)
}

impl AfterTruth {
    /// As the engineer wrote it down.
    pub fn written(&self) -> SensorNote {
        SensorNote {
            at: self.at,
            kind: SensorNoteKind::Noted,
            sensor: Some(self.sensor.clone()),
            site: None,
            note: None,
            detail: SensorDetail {
                removal: self.removal,
                comfort: self.removal.and_then(|removal| match removal {
                    Removal::Dry => Comfort::new(1),
                    Removal::Oil | Removal::Remover => Comfort::new(3),
                }),
                skin: Some(self.skin),
                skin_days: self.days,
                ..SensorDetail::default()
            },
        }
    }
}

/// Of every sensor that ended two days or more before the record does.
pub(crate) fn after(lives: &[Wear], end: Second) -> Vec<AfterTruth> {
    let mut chests = 0;
    let of = |(place, wear): (usize, &Wear)| {
        let bruised = wear.site == Site::Chest && chests == 0;
        chests += u32::from(wear.site == Site::Chest);
        let (skin, days) = match wear.site {
            Site::Abdomen => (SkinAfter::Irritant, Some(3)),
            Site::Chest if bruised => (SkinAfter::Mechanical, Some(5)),
            _ => (SkinAfter::Clear, None),
        };
        let by_hand = wear.ending != Ending::FellOff;
        AfterTruth {
            sensor: wear.sensor.clone(),
            at: wear.ended + LATER_S,
            removal: by_hand.then_some(if place % 2 == 0 {
                Removal::Dry
            } else {
                Removal::Oil
            }),
            skin,
            days,
        }
    };
    lives
        .iter()
        .enumerate()
        .filter(|(_, wear)| wear.ending != Ending::StillOn)
        .map(of)
        .filter(|after| after.at < end)
        .collect()
}

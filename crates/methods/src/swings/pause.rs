//! Where waiting may have changed a swing: what the readings say, no more.

use interstice_glucose::{InsulinKind, Second};

use super::chains::{FIRST_AID_MOST_G, STACKED_FROM, recovered};
use super::roles::Diary;
use super::{Link, LinkKind};
use crate::insulin::{OwnDurations, left_by_models};

/// How long first aid waits before anything more is eaten (American Diabetes Association, Standards of Care).
pub const FIRST_AID_WAIT_S: Second = 15 * 60;
/// A dose of which so much is left can hardly have brought a high down (ours, no source).
const HARDLY_ABSORBED: f64 = 0.80;
/// Nothing eaten acts sooner than this (ours; 10 g of glucose move the mean little before: Wiethop and Cryer 1993).
const FOOD_ACTS_AFTER_S: Second = 10 * 60;

/// A moment at which something was done that the readings had already begun to settle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pause {
    /// When it was done.
    pub at: Second,
    /// What.
    pub before: PauseBefore,
    /// Whether what followed shows that waiting would have been enough: the high was over, or the low was, before what was
    /// done then can have acted.
    pub was_enough: bool,
}

/// What was done at a pause that was not made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PauseBefore {
    /// Another correction.
    Correction {
        /// Share of the one before that was left.
        left: f64,
        /// How long until less than [`STACKED_FROM`] of it would have been.
        spent_after_s: Second,
        /// How fast the sensor rose over the quarter of an hour before, mg/dL/min; negative where it fell.
        slope_mg_dl_min: Option<f64>,
        /// When the high ended, where that was seen.
        high_over: Option<Second>,
    },
    /// Something more eaten against the same low.
    MoreEaten {
        /// After what was eaten before it.
        after_s: Second,
        /// Grams eaten against the low before it.
        before_g: f64,
        /// When the low ended, where that was seen.
        low_over: Option<Second>,
    },
}

pub(super) fn pauses(diary: &Diary<'_>, links: &[Link]) -> Vec<Pause> {
    let mut found = Vec::new();
    let (mut high, mut low) = (None, None);
    let mut earlier: Option<Given> = None;
    let mut eaten: Option<(Second, f64)> = None;
    for link in links {
        match link.what {
            LinkKind::High(place) => (high, eaten) = (Some(place), None),
            LinkKind::Low(place) | LinkKind::PressureLow(place) => low = Some(place),
            LinkKind::Correction {
                units, insulin, left, ..
            } => {
                let this = Given {
                    at: link.at,
                    units,
                    insulin,
                };
                if let (Some(left), Some(before)) = (left, earlier) {
                    found.push(of_correction(diary, this, before, left, high));
                }
                earlier = Some(this);
            }
            LinkKind::Treatment { grams } => {
                if let Some((before, before_g)) = eaten {
                    found.extend(of_more(diary, link.at, before, before_g, low));
                }
                let sum = eaten.map_or(0.0, |(_, sum)| sum) + grams.unwrap_or(0.0);
                eaten = Some((link.at, sum));
            }
            LinkKind::Meal { .. } | LinkKind::LateDose { .. } => {}
        }
    }
    found
}

/// A correction as given.
#[derive(Clone, Copy)]
struct Given {
    at: Second,
    units: f64,
    insulin: InsulinKind,
}

impl Given {
    /// Share left at a moment, by the mean of the models.
    fn left(self, at: Second, own: OwnDurations) -> f64 {
        left_by_models(self.insulin, (at - self.at) as f64 / 60.0, self.units, own).unwrap_or(0.0)
    }
}

/// * `left`: share of the correction before that was left.
fn of_correction(diary: &Diary<'_>, this: Given, before: Given, left: f64, high: Option<usize>) -> Pause {
    let spent = (1..=12 * 60).find(|minute| before.left(this.at + 60 * minute, diary.own) < STACKED_FROM);
    let spent_after_s = 60 * spent.unwrap_or(0);
    let high_over = high
        .and_then(|place| recovered(&diary.episodes[place]))
        .filter(|&over| over >= this.at);
    let by_itself =
        |over: Second| over <= this.at + spent_after_s && this.left(over, diary.own) >= HARDLY_ABSORBED;
    Pause {
        at: this.at,
        before: PauseBefore::Correction {
            left,
            spent_after_s,
            slope_mg_dl_min: diary.slope(this.at),
            high_over,
        },
        was_enough: high_over.is_some_and(by_itself),
    }
}

/// Something more eaten sooner than first aid says, or when first aid was already eaten.
fn of_more(
    diary: &Diary<'_>,
    at: Second,
    before: Second,
    before_g: f64,
    low: Option<usize>,
) -> Option<Pause> {
    if at - before >= FIRST_AID_WAIT_S && before_g < FIRST_AID_MOST_G {
        return None;
    }
    let low_over = low.and_then(|place| recovered(&diary.episodes[place]));
    Some(Pause {
        at,
        before: PauseBefore::MoreEaten {
            after_s: at - before,
            before_g,
            low_over,
        },
        was_enough: low_over.is_some_and(|over| over < at + FOOD_ACTS_AFTER_S),
    })
}

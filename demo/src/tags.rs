//! What the invented engineer tagged days with: the tours on board, and which watch it was.

use interstice_glucose::{Mark, MarkKind, Second};
use serde::Serialize;

use crate::calendar::{Calendar, DAYS, DayKind, day_kind};
use crate::wear::as_utc;

/// The tag of a tour.
pub const ON_BOARD: &str = "on board";

/// One tag and the days it covers.
#[derive(Clone, Debug, Serialize)]
pub struct TagTruth {
    /// The word.
    pub name: &'static str,
    /// First instant of its first day.
    #[serde(serialize_with = "as_utc")]
    pub from: Second,
    /// First instant after its last.
    #[serde(serialize_with = "as_utc")]
    pub to: Second,
}

impl TagTruth {
    /// As the engineer wrote it down.
    pub fn written(&self) -> Mark {
        Mark {
            at: self.from,
            until: Some(self.to),
            kind: MarkKind::Tag,
            value: None,
            text: Some(self.name.to_owned()),
        }
    }
}

impl DayKind {
    /// The tag of the watch; none at home.
    pub fn tag(self) -> Option<&'static str> {
        match self {
            DayKind::Home => None,
            DayKind::MorningWatch => Some("morning watch"),
            DayKind::DawnWatch => Some("dawn watch"),
            DayKind::NightWatch => Some("night watch"),
        }
    }
}

/// Of each tour and of each run of days on one watch.
pub(crate) fn tags(calendar: &Calendar) -> Vec<TagTruth> {
    let on_board = |day: usize| day_kind(day).tag().map(|_| ON_BOARD);
    let watch = |day: usize| day_kind(day).tag();
    let mut all = runs(calendar, on_board);
    all.extend(runs(calendar, watch));
    all.sort_by_key(|tag| tag.from);
    all
}

fn runs(calendar: &Calendar, tag: impl Fn(usize) -> Option<&'static str>) -> Vec<TagTruth> {
    let mut all: Vec<TagTruth> = Vec::new();
    for day in 0..DAYS {
        let Some(name) = tag(day) else { continue };
        let (from, to) = (calendar.at(day, 0), calendar.at(day + 1, 0));
        match all.last_mut() {
            Some(last) if last.name == name && last.to == from => last.to = to,
            _ => all.push(TagTruth { name, from, to }),
        }
    }
    all
}

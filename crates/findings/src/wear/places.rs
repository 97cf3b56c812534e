//! Places on the body, and what speaks against each.

use std::collections::BTreeMap;

use interstice_glucose::{PlanWeight, Region, Second, SensorKind, Side, WearChoices};
use interstice_methods::plan::Spot;

use super::grounds::{About, Evidence, Grounds};
use super::{Settled, Worn, labelled_end};

/// Most spots of one place that are planned with, the last used ones; ours: each more makes the search for places longer.
const MOST_SPOTS: usize = 3;
/// No more places are told apart by their spots than so many in all. Ours, for the same reason.
const MOST_PLACES: usize = 14;

/// A place on the body, or a spot of one.
pub(super) struct Place {
    pub(super) region: Region,
    pub(super) side: Option<Side>,
    /// The spot, where the wearer tells two or more of the place apart: each rests for itself.
    pub(super) part: Option<String>,
    /// Whether the labelling names it; `None` where that was not said.
    pub(super) labelled: Option<bool>,
    pub(super) spot: Spot,
    /// What the record says of it.
    pub(super) grounds: Grounds,
}

impl Place {
    /// 'left upper arm', 'left upper arm, outer'.
    pub(super) fn name(&self) -> String {
        let side = self
            .side
            .map_or_else(String::new, |side| format!("{} ", side.name()));
        let part = self
            .part
            .as_ref()
            .map_or_else(String::new, |part| format!(", {part}"));
        format!("{side}{}{part}", self.region.name())
    }

    /// The spot where one thing the record says is left aside.
    pub(super) fn without(&self, choices: &WearChoices, about: About) -> Spot {
        let all = self.grounds.cost(choices, None);
        Spot {
            cost: self.spot.cost - all + self.grounds.cost(choices, Some(about)),
            ..self.spot
        }
    }

    /// Whether it is one of these.
    pub(super) fn is_among(&self, asked: &[(Region, Option<Side>)]) -> bool {
        asked
            .iter()
            .any(|&(region, side)| region == self.region && (side.is_none() || side == self.side))
    }
}

/// The places the wearer has used, those the labelling names, and those that are asked for, on both sides.
///
/// `waits_until`: how long the sensor that beds in now will be worn.
pub(super) fn places(
    worn: &[Worn],
    kind: &SensorKind,
    settled: &Settled,
    evidence: &Evidence<'_>,
    now: Second,
    waits_until: Option<Second>,
) -> Vec<Place> {
    let mut used: BTreeMap<(Region, Option<Side>), Vec<Use<'_>>> = BTreeMap::new();
    let named = kind.sites.iter().map(|&region| (region, None));
    let pinned = settled.choices.pins.iter().filter_map(|pin| pin.place());
    let asked = named
        .chain(settled.turns.iter().flat_map(|turn| turn.places.iter().copied()))
        .chain(pinned.map(|site| (site.region, site.side)));
    for (region, side) in asked {
        for side in side.map_or(vec![Side::Left, Side::Right], |side| vec![side]) {
            used.insert((region, Some(side)), Vec::new());
        }
    }
    for one in worn {
        let Some(site) = one.site() else { continue };
        let until = if one.is_on {
            let end = labelled_end(one, kind).map(|end| end + 60 * Second::from(kind.extra_min));
            let waits = one.it.start().is_none().then_some(waits_until).flatten();
            waits.or(end).unwrap_or(now)
        } else {
            one.it.end().unwrap_or(now)
        };
        used.entry((site.region, site.side)).or_default().push(Use {
            part: site.spot.as_deref(),
            free_min: (until - now).div_euclid(60),
        });
    }
    let mut room = MOST_PLACES.saturating_sub(used.len());
    let mut places = Vec::new();
    for ((region, side), uses) in used {
        let grounds = evidence.grounds(region, side);
        for (part, free_since_min) in parts(&uses, &mut room) {
            places.push(of_part(
                region,
                side,
                (part, free_since_min),
                &grounds,
                kind,
                &settled.choices,
            ));
        }
    }
    places
}

/// A sensor at a place: at which spot of it, and until when.
struct Use<'a> {
    part: Option<&'a str>,
    free_min: i64,
}

/// The spots of a place with the minute from which each is free, where two or more are told apart; else the place as a whole. A
/// sensor of which no spot was told may have been at any.
fn parts(uses: &[Use<'_>], room: &mut usize) -> Vec<(Option<String>, Option<i64>)> {
    let mut names: Vec<&str> = Vec::new();
    for name in uses.iter().rev().filter_map(|one| one.part) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names.truncate(MOST_SPOTS);
    let free = |is: &dyn Fn(&&Use<'_>) -> bool| uses.iter().filter(is).map(|one| one.free_min).max();
    if names.len() < 2 || names.len() - 1 > *room {
        return vec![(None, free(&|_| true))];
    }
    *room -= names.len() - 1;
    names
        .into_iter()
        .map(|name| {
            let there = |one: &&Use<'_>| one.part.is_none_or(|part| part == name);
            (Some(name.to_owned()), free(&there))
        })
        .collect()
}

fn of_part(
    region: Region,
    side: Option<Side>,
    (part, free_since_min): (Option<String>, Option<i64>),
    grounds: &Grounds,
    kind: &SensorKind,
    choices: &WearChoices,
) -> Place {
    let labelled = (!kind.sites.is_empty()).then(|| kind.sites.contains(&region));
    let own_risk = if labelled == Some(false) {
        choices.weight(PlanWeight::Unlabelled)
    } else {
        0.0
    };
    Place {
        region,
        side,
        part,
        labelled,
        spot: Spot {
            cost: own_risk + grounds.cost(choices, None),
            free_since_min,
        },
        grounds: grounds.clone(),
    }
}

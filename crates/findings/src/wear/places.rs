//! Places on the body, and what speaks against each.

use std::collections::BTreeMap;

use interstice_glucose::{PlanWeight, Region, Second, SensorKind, Side, WearChoices};
use interstice_methods::plan::Spot;

use super::grounds::{About, Evidence, Grounds};
use super::{Settled, Worn, labelled_end};

/// A place on the body.
pub(super) struct Place {
    pub(super) region: Region,
    pub(super) side: Option<Side>,
    /// Whether the labelling names it; `None` where that was not said.
    pub(super) labelled: Option<bool>,
    pub(super) spot: Spot,
    /// What the record says of it.
    pub(super) grounds: Grounds,
}

impl Place {
    /// 'left upper arm'.
    pub(super) fn name(&self) -> String {
        let side = self
            .side
            .map_or_else(String::new, |side| format!("{} ", side.name()));
        format!("{side}{}", self.region.name())
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
    let mut used: BTreeMap<(Region, Option<Side>), Option<i64>> = BTreeMap::new();
    let named = kind.sites.iter().map(|&region| (region, None));
    let pinned = settled.choices.pins.iter().filter_map(|pin| pin.place());
    let asked = named
        .chain(settled.turns.iter().flat_map(|turn| turn.places.iter().copied()))
        .chain(pinned.map(|site| (site.region, site.side)));
    for (region, side) in asked {
        for side in side.map_or(vec![Side::Left, Side::Right], |side| vec![side]) {
            used.insert((region, Some(side)), None);
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
        let free = (until - now).div_euclid(60);
        let known = used.entry((site.region, site.side)).or_default();
        *known = Some(known.map_or(free, |before| before.max(free)));
    }
    let choices = &settled.choices;
    let unlabelled = choices.weight(PlanWeight::Unlabelled);
    used.into_iter()
        .map(|((region, side), free_since_min)| {
            let labelled = (!kind.sites.is_empty()).then(|| kind.sites.contains(&region));
            let grounds = evidence.grounds(region, side);
            let own_risk = if labelled == Some(false) { unlabelled } else { 0.0 };
            Place {
                region,
                side,
                labelled,
                spot: Spot {
                    cost: own_risk + grounds.cost(choices, None),
                    free_since_min,
                },
                grounds,
            }
        })
        .collect()
}

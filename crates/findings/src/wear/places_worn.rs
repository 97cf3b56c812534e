//! The places on the body that sensors were worn on, each with what came of it.

use std::collections::BTreeMap;

use interstice_glucose::{LivedClock, Region, Second, SensorKind, Side};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use super::Worn;
use crate::figure::figure_entry;
use crate::trust::GroupLine;
use crate::{Figure, Time, TrustFindings};

/// A place on the body and what came of the sensors worn there.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceWorn {
    /// Part of the body.
    pub region: Region,
    /// Which side, where that was said.
    pub side: Option<Side>,
    /// Whether the labelling of the kind in use names it; `None` where that was not said.
    pub labelled: Option<bool>,
    /// Whether one is on there now.
    pub on_now: bool,
    /// Sensors worn there, one that is still on among them.
    pub sensors: u64,
    /// Of those, how many came off or failed.
    pub lost: u64,
    /// Hours worn there in all.
    pub worn_h: f64,
    /// When the last one came off; `None` where none has.
    pub last_off: Option<Time>,
    /// Days since; `None` where none has come off, or one is on.
    pub rested_days: Option<f64>,
    /// Spots within it, as they were written, each once, the last used first.
    pub spots: Vec<SpotWorn>,
    /// Agreement with blood there; nothing where trust was not looked at or no check fell to it.
    pub agreement: Option<GroupLine>,
    /// Possible pressure lows a night worn there, with nights and lows; nothing where trust was not looked at.
    pub pressure: Option<PressureThere>,
}

/// A spot within a place, in the wearer's own words.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpotWorn {
    /// As it was written: 'outer'.
    pub name: String,
    /// Sensors worn there.
    pub sensors: u64,
    /// Whether one is on there now.
    pub on_now: bool,
    /// When the last one came off; `None` where none has.
    pub last_off: Option<Time>,
    /// Days since; `None` where none has come off, or one is on.
    pub rested_days: Option<f64>,
}

impl SpotWorn {
    fn new(name: &str) -> Self {
        SpotWorn {
            name: name.to_owned(),
            sensors: 0,
            on_now: false,
            last_off: None,
            rested_days: None,
        }
    }

    fn take(&mut self, worn: &Worn, clock: &LivedClock) {
        self.sensors += 1;
        self.on_now |= worn.is_on;
        self.last_off = later(self.last_off, worn, clock);
    }
}

/// The later of an end known so far and that of a sensor that is off.
fn later(known: Option<Time>, worn: &Worn, clock: &LivedClock) -> Option<Time> {
    let Some(end) = worn.it.end().filter(|_| !worn.is_on) else {
        return known;
    };
    let last = known.map_or(end, |before| before.0.at.max(end));
    Some(Time(clock.moment(last)))
}

/// Days since the last came off; nothing where one is on.
fn rested(last_off: Option<Time>, on_now: bool, now: Second) -> Option<f64> {
    let off = last_off.filter(|_| !on_now);
    off.map(|off| (now - off.0.at).max(0) as f64 / 86_400.0)
}

/// How often possible pressure lows came at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct PressureThere {
    /// Nights worn.
    pub nights: u64,
    /// Lows that count as pressure.
    pub lows: u64,
    /// Lows a night worn, with its exact interval.
    pub per_night: Figure,
}

impl PlaceWorn {
    /// As it is written: 'left upper arm'.
    pub fn name(&self) -> String {
        let side = self
            .side
            .map_or_else(String::new, |side| format!("{} ", side.name()));
        format!("{side}{}", self.region.name())
    }

    fn new(region: Region, side: Option<Side>, kind: Option<&SensorKind>) -> Self {
        let sites = kind.map(|kind| &kind.sites).filter(|sites| !sites.is_empty());
        PlaceWorn {
            region,
            side,
            labelled: sites.map(|sites| sites.contains(&region)),
            on_now: false,
            sensors: 0,
            lost: 0,
            worn_h: 0.0,
            last_off: None,
            rested_days: None,
            spots: Vec::new(),
            agreement: None,
            pressure: None,
        }
    }

    fn take(&mut self, worn: &Worn, clock: &LivedClock) {
        self.sensors += 1;
        self.lost += u64::from(worn.is_lost());
        self.worn_h += worn.hours;
        self.on_now |= worn.is_on;
        self.last_off = later(self.last_off, worn, clock);
        if let Some(name) = worn.site().and_then(|site| site.spot.as_deref()) {
            let known = self.spots.iter().position(|spot| spot.name == name);
            let mut spot = known.map_or_else(|| SpotWorn::new(name), |known| self.spots.remove(known));
            spot.take(worn, clock);
            self.spots.insert(0, spot);
        }
    }

    fn judge(&mut self, trust: &TrustFindings) {
        let name = self.name();
        let mut groups = trust.by.place.iter();
        self.agreement = groups.find(|group| group.key == name).cloned();
        let mut rates = trust.pressure.rates.side_and_site.iter();
        let line = rates.find(|line| line.key == name).filter(|line| line.nights > 0);
        self.pressure = line.map(|line| PressureThere {
            nights: line.nights,
            lows: line.lows,
            per_night: Figure {
                value: line.per_night,
                lo95: line.per_night_lo95,
                hi95: line.per_night_hi95,
                reason: None,
            },
        });
    }
}

impl Serialize for PlaceWorn {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("site", self.region.name())?;
        map.serialize_entry("side", &self.side.map(Side::name))?;
        map.serialize_entry("labelled", &self.labelled)?;
        map.serialize_entry("on_now", &self.on_now)?;
        map.serialize_entry("sensors", &self.sensors)?;
        map.serialize_entry("lost", &self.lost)?;
        map.serialize_entry("worn_h", &self.worn_h)?;
        map.serialize_entry("last_off", &self.last_off)?;
        map.serialize_entry("rested_days", &self.rested_days)?;
        map.serialize_entry("spots", &self.spots)?;
        if let Some(group) = &self.agreement {
            map.serialize_entry("pairs", &group.pairs)?;
            figure_entry(&mut map, "mard_percent", &group.mard_percent)?;
        }
        if let Some(pressure) = &self.pressure {
            map.serialize_entry("nights", &pressure.nights)?;
            map.serialize_entry("pressure_lows", &pressure.lows)?;
            figure_entry(&mut map, "pressure_lows_per_night", &pressure.per_night)?;
        }
        map.end()
    }
}

/// Every place a sensor was worn on, and both sides of every part the labelling names; in the order of the parts, left
/// before right, no side last.
pub(super) fn places_worn(
    worn: &[Worn],
    kind: Option<&SensorKind>,
    clock: &LivedClock,
    now: Second,
    trust: Option<&TrustFindings>,
) -> Vec<PlaceWorn> {
    let key = |region: Region, side: Option<Side>| (region, side.is_none(), side);
    let mut places: BTreeMap<(Region, bool, Option<Side>), PlaceWorn> = BTreeMap::new();
    for &region in kind.iter().flat_map(|kind| &kind.sites) {
        for side in [Side::Left, Side::Right] {
            places.insert(key(region, Some(side)), PlaceWorn::new(region, Some(side), kind));
        }
    }
    for one in worn {
        let Some(site) = one.site() else { continue };
        places
            .entry(key(site.region, site.side))
            .or_insert_with(|| PlaceWorn::new(site.region, site.side, kind))
            .take(one, clock);
    }
    let mut places: Vec<PlaceWorn> = places.into_values().collect();
    for place in &mut places {
        place.rested_days = rested(place.last_off, place.on_now, now);
        for spot in &mut place.spots {
            spot.rested_days = rested(spot.last_off, spot.on_now, now);
        }
        if let Some(trust) = trust {
            place.judge(trust);
        }
    }
    places
}

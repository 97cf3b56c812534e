//! The plan of coming sensors on the wearer's own clock.

use interstice_glucose::{PlanWeight, Second, SensorKind, Side, WearFrom};
use interstice_methods::plan::{self, Spot, Taken, place, plan};
use serde::Serialize;

use super::asked::{Asked, waiting_place};
use super::grounds::{About, Evidence};
use super::places::{Place, places};
use super::why::{Choice, Told, moment};
use super::{Settled, WearAsk, Worn};
use crate::Time;

/// A sensor to come.
#[derive(Clone, Debug, Serialize)]
pub struct Planned {
    /// Its number among all that were ever worn and will be, from 1: the same in each plan until it is on, and then too.
    pub number: u64,
    /// Put on.
    pub put_on: Time,
    /// Started.
    pub start: Time,
    /// First reading.
    pub reads_from: Time,
    /// Labelled end.
    pub end: Time,
    /// Last moment it may be worn.
    pub limit: Time,
    /// Where; `None` where no place is known.
    pub site: Option<&'static str>,
    /// Which side.
    pub side: Option<&'static str>,
    /// Which spot there, where the wearer tells spots apart.
    pub spot: Option<String>,
    /// Whether the labelling of the kind names the place; `None` where that was not said.
    pub labelled: Option<bool>,
    /// Its kind, by name.
    pub kind: String,
    /// 'on already', 'in the drawer' or 'to be bought'; `None` where no drawer is kept.
    pub from: Option<&'static str>,
    /// Its lot, where it is in the drawer and its lot is known.
    pub lot: Option<String>,
    /// Whether the wearer settled when it is put on.
    pub pinned: bool,
    /// Minutes before its first reading in which none reads.
    pub uncovered_min: i64,
    /// Why then and there, a sentence each.
    pub why: Vec<String>,
}

/// Said of the one that beds in.
const ON_ALREADY: &str = "on already";

impl Planned {
    /// Whether it is on already and beds in.
    pub fn is_on(&self) -> bool {
        self.from == Some(ON_ALREADY)
    }
}

/// Sensors to come, or why there are none.
#[derive(Clone, Debug, Default)]
pub struct Coming {
    pub(super) planned: Vec<Planned>,
    pub(super) reason: Option<String>,
    pub(super) unmet: Vec<String>,
    pub(super) uncovered_min: Option<i64>,
}

impl Coming {
    fn none(reason: String) -> Self {
        Coming {
            reason: Some(reason),
            ..Coming::default()
        }
    }
}

/// The labelled end of one that was started, or whose time runs from being put on.
pub(super) fn labelled_end(worn: &Worn, kind: &SensorKind) -> Option<Second> {
    let from = match kind.wear_from {
        WearFrom::PutOn => Some(worn.it.from()),
        WearFrom::Started => worn.it.start(),
    };
    from.map(|from| from + 60 * Second::from(kind.wear_min))
}

/// The plan of the days ahead, from the next half hour on.
pub(super) fn coming(worn: &[Worn], settled: &Settled, evidence: &Evidence<'_>, ask: WearAsk) -> Coming {
    let Some(kind) = settled.kinds.in_use.map(|place| &settled.kinds.all[place]) else {
        let reason =
            "nothing is known of how long your sensors last; describe them with `interstice sensor-kind`";
        return Coming::none(reason.to_owned());
    };
    let asked = Asked::new(worn, kind, evidence.clock, settled, ask);
    let (found, dropped) = match with_pins(&asked) {
        Ok(found) => found,
        Err(reason) => return Coming::none(reason.to_string()),
    };
    let mut coming = told(&found, &asked, worn, kind, settled, evidence);
    let dropped = dropped.iter().map(|&at| {
        let at = moment(evidence.clock, at);
        format!("the put-on you settled for {at} cannot be kept: no sensor can be put on then")
    });
    coming.unmet.extend(dropped);
    coming
}

/// The plan with as many pins as can be kept, and the instants of the others.
fn with_pins(asked: &Asked) -> Result<(plan::Plan, Vec<Second>), plan::NoPlan> {
    let all: Vec<usize> = asked.pins.iter().map(|&(slot, _)| slot).collect();
    let found = plan(&asked.ask(&all))?;
    if found.is_possible() {
        return Ok((found, Vec::new()));
    }
    let (mut kept, mut dropped) = (Vec::new(), Vec::new());
    let mut found = plan(&asked.ask(&[]))?;
    for (slot, pin) in &asked.pins {
        kept.push(*slot);
        let with = plan(&asked.ask(&kept))?;
        if with.is_possible() {
            found = with;
        } else {
            kept.pop();
            dropped.push(pin.at);
        }
    }
    Ok((found, dropped))
}

fn told(
    found: &plan::Plan,
    asked: &Asked,
    worn: &[Worn],
    kind: &SensorKind,
    settled: &Settled,
    evidence: &Evidence<'_>,
) -> Coming {
    let waits = found.sensors.iter().find(|one| one.taken == Taken::BeddingIn);
    let waits_until = waits.map(|one| asked.now + 60 * one.limit_min);
    let places = places(worn, kind, settled, evidence, asked.now, waits_until);
    let mut chosen = placed(found, asked, &places, settled).into_iter();
    let on = waiting_place(worn).and_then(|place| worn[place].site());
    let on = on.and_then(|site| {
        let is_there = |place: &&Place| {
            (place.region, place.side) == (site.region, site.side)
                && (place.part.is_none() || place.part == site.spot)
        };
        places.iter().find(is_there)
    });
    let (mut turns, mut numbers) = (0.., worn.len() as u64 + 1..);
    let on_already = waiting_place(worn);
    let choices: Vec<Choice<'_>> = found
        .sensors
        .iter()
        .map(|one| {
            let to_come = one.taken != Taken::BeddingIn;
            let chosen = to_come.then(|| chosen.next()).flatten().unwrap_or_default();
            Choice {
                one,
                there: if to_come {
                    chosen.spot.map(|spot| &places[spot])
                } else {
                    on
                },
                rested_min: chosen.rested_min,
                moved: chosen.moved,
                number: match on_already.filter(|_| !to_come) {
                    Some(place) => place as u64 + 1,
                    None => numbers.next().unwrap_or_default(),
                },
                turn: to_come.then(|| turns.next()).flatten(),
                stock: match one.taken {
                    Taken::Drawer(place) => settled.stock.get(asked.stock_places[place]),
                    Taken::BeddingIn | Taken::Bought => None,
                },
                kind: &settled.kinds.all[asked.kind_places[one.kind]],
            }
        })
        .collect();
    let told = Told {
        asked,
        settled,
        clock: evidence.clock,
    };
    let mut unmet = told.unmet(found, &choices);
    if places.is_empty() {
        unmet.push("no place on the body is known yet; say where a sensor goes with `interstice log sensor put-on --site`".to_owned());
    }
    Coming {
        planned: choices.iter().map(|choice| planned(choice, &told)).collect(),
        reason: None,
        unmet,
        uncovered_min: Some(found.uncovered_min),
    }
}

/// Where one is to go, and what of the record moved it there.
#[derive(Clone, Debug, Default)]
struct Chosen {
    spot: Option<usize>,
    rested_min: Option<i64>,
    moved: Vec<String>,
}

/// A place for each that is still to be put on.
fn placed(found: &plan::Plan, asked: &Asked, places: &[Place], settled: &Settled) -> Vec<Chosen> {
    let choices = &settled.choices;
    let to_come: Vec<&plan::Planned> = found
        .sensors
        .iter()
        .filter(|one| one.taken != Taken::BeddingIn)
        .collect();
    let wears: Vec<(i64, i64)> = to_come
        .iter()
        .map(|one| (one.put_on_min, one.limit_min))
        .collect();
    let allowed: Vec<Option<Vec<usize>>> = to_come
        .iter()
        .enumerate()
        .map(|(turn, one)| allowed(one, settled.turns.get(turn), asked, places))
        .collect();
    let rest_min = i64::from(choices.rest_days) * 1440;
    let missing_hour = choices.weight(PlanWeight::MissingRestHour);
    let best = |spots: &[Spot]| place(&wears, spots, &allowed, rest_min, missing_hour);
    let spots: Vec<Spot> = places.iter().map(|place| place.spot).collect();
    let mut chosen: Vec<Chosen> = best(&spots)
        .into_iter()
        .map(|put| Chosen {
            spot: put.spot,
            rested_min: put.rested_min,
            moved: Vec::new(),
        })
        .collect();
    // What moved a choice is what, left aside, would have it elsewhere.
    for about in About::ALL {
        let without: Vec<Spot> = places.iter().map(|place| place.without(choices, about)).collect();
        if without == spots {
            continue;
        }
        for (chosen, put) in chosen.iter_mut().zip(best(&without)) {
            if let (Some(here), Some(there)) = (chosen.spot, put.spot)
                && here != there
            {
                let (here, there) = (&places[here], &places[there]);
                let why = here.grounds.rather_than(&there.grounds, &there.name(), about);
                chosen.moved.extend(why);
            }
        }
    }
    chosen
}

/// The places one may go to: as settled for it, else as its turn asks; `None` for any.
fn allowed(
    one: &plan::Planned,
    turn: Option<&super::Turn>,
    asked: &Asked,
    places: &[Place],
) -> Option<Vec<usize>> {
    let slot = one.put_on_min / i64::from(super::asked::SLOT_MIN);
    let pin = asked
        .pins
        .iter()
        .find(|(pinned, _)| one.pinned && *pinned as i64 == slot);
    let pinned = pin.and_then(|(_, pin)| pin.place());
    let settled = pinned.as_ref().map(|site| vec![(site.region, site.side)]);
    let asked_for = settled.or_else(|| {
        turn.map(|turn| turn.places.clone())
            .filter(|places| !places.is_empty())
    })?;
    let fit = places
        .iter()
        .enumerate()
        .filter(|(_, place)| place.is_among(&asked_for));
    let fit: Vec<usize> = fit.map(|(index, _)| index).collect();
    // A spot that was settled too, where it is one that is told apart.
    let spot = pinned.and_then(|site| site.spot);
    let there: Vec<usize> = fit
        .iter()
        .copied()
        .filter(|&index| spot.is_some() && places[index].part == spot)
        .collect();
    Some(if there.is_empty() { fit } else { there })
}

fn planned(choice: &Choice<'_>, told: &Told<'_>) -> Planned {
    let time = |minute: i64| Time(told.clock.moment(told.asked.now + 60 * minute));
    let (one, there) = (choice.one, choice.there);
    let keeps_drawer = !told.settled.stock.is_empty() || told.settled.bought_from.is_some();
    Planned {
        number: choice.number,
        put_on: time(one.put_on_min),
        start: time(one.start_min),
        reads_from: time(one.reads_from_min),
        end: time(one.labelled_end_min),
        limit: time(one.limit_min),
        site: there.map(|there| there.region.name()),
        side: there.and_then(|there| there.side.map(Side::name)),
        spot: there.and_then(|there| there.part.clone()),
        labelled: there.and_then(|there| there.labelled),
        kind: choice.kind.name.clone(),
        from: match one.taken {
            Taken::BeddingIn => Some(ON_ALREADY),
            Taken::Drawer(_) => Some("in the drawer"),
            Taken::Bought => keeps_drawer.then_some("to be bought"),
        },
        lot: choice.stock.and_then(|stock| stock.lot.clone()),
        pinned: one.pinned,
        uncovered_min: one.uncovered_min,
        why: told.why(choice),
    }
}

//! The plan of coming sensors on the wearer's own clock.

use std::collections::BTreeMap;

use interstice_book::Record;
use interstice_glucose::{LivedClock, Region, Second, SensorKind, Side, WearFrom, counted};
use interstice_methods::plan::{
    self, Ask, BeddingIn, Placed, Spot, Stocked, WearClock, Weights, place, plan,
};
use serde::Serialize;

use super::{WearAsk, Worn};
use crate::Time;

/// How far the plan looks.
const DAYS: i64 = 90;
/// Length of a slot.
const SLOT_MIN: u32 = 30;
/// Hours of the lived day in which it suits most people to put a sensor on, and to start one. Ours, until set.
const PUT_ON_HOURS: std::ops::Range<i64> = 8..21;
const START_HOURS: std::ops::Range<i64> = 7..22;
/// What an awkward hour costs, beside an hour of unused wear at 0.5.
const AWKWARD_PUT_ON: f64 = 12.0;
const AWKWARD_START: f64 = 6.0;
/// How long a spot should rest: 'at least a week', in minutes (see docs/methods/plan.md).
const REST_MIN: i64 = 7 * 1440;
const MISSING_HOUR: f64 = 0.1;
/// What speaks against a place the labelling does not name, beside an hour of missing rest at 0.1.
const UNLABELLED: f64 = 10.0;

/// A sensor to come.
#[derive(Clone, Debug, Serialize)]
pub struct Planned {
    /// Put on.
    pub put_on: Time,
    /// Started.
    pub start: Time,
    /// First reading.
    pub reads_from: Time,
    /// Labelled end.
    pub end: Time,
    /// Where; `None` where no place is known.
    pub site: Option<&'static str>,
    /// Which side.
    pub side: Option<&'static str>,
    /// Whether the labelling of the kind names the place; `None` where that was not said.
    pub labelled: Option<bool>,
    /// Minutes before its first reading in which none reads.
    pub uncovered_min: i64,
    /// Why then and there, a sentence each.
    pub why: Vec<String>,
}

/// Sensors to come, or why there are none.
#[derive(Clone, Debug, Default)]
pub struct Coming {
    pub(super) planned: Vec<Planned>,
    pub(super) reason: Option<String>,
    pub(super) unmet: Vec<String>,
    pub(super) uncovered_min: Option<i64>,
}

/// The labelled end of one that was started, or whose time runs from being put on.
pub(super) fn labelled_end(worn: &Worn, kind: &SensorKind) -> Option<Second> {
    let from = match kind.wear_from {
        WearFrom::PutOn => Some(worn.it.from()),
        WearFrom::Started => worn.it.start(),
    };
    from.map(|from| from + 60 * Second::from(kind.wear_min))
}

/// The plan of the next ninety days, from the next half hour on.
pub(super) fn coming(worn: &[Worn], kind: Option<&SensorKind>, record: &Record, ask: WearAsk) -> Coming {
    let Some(kind) = kind else {
        return Coming {
            reason: Some(
                "nothing is known of how long your sensors last; describe them with `interstice sensor-kind`"
                    .to_owned(),
            ),
            ..Coming::default()
        };
    };
    let clock = &record.clock;
    // Slots begin at whole half hours.
    let slot_s = 60 * Second::from(SLOT_MIN);
    let now = ask.now + (-ask.now).rem_euclid(slot_s);
    let slots = DAYS * 1440 / i64::from(SLOT_MIN);
    let hour = |slot: i64| {
        clock
            .wall(now + slot * 60 * Second::from(SLOT_MIN))
            .second_of_day()
            / 3600
    };
    let costs = |good: std::ops::Range<i64>, awkward: f64| -> Vec<f64> {
        (0..slots)
            .map(|slot| if good.contains(&hour(slot)) { 0.0 } else { awkward })
            .collect()
    };
    let (put_on_cost, start_cost) = (
        costs(PUT_ON_HOURS, AWKWARD_PUT_ON),
        costs(START_HOURS, AWKWARD_START),
    );
    let kinds = [plan::Kind {
        wear_min: kind.wear_min,
        extra_min: kind.extra_min,
        warm_up_min: kind.warm_up_min,
        longest_bedding_min: kind.longest_bedding_min,
        clock: match kind.wear_from {
            WearFrom::PutOn => WearClock::PutOn,
            WearFrom::Started => WearClock::Start,
        },
    }];
    let minutes = |at: Second| (at - now).div_euclid(60);
    let on: Vec<&Worn> = worn.iter().filter(|worn| worn.is_on).collect();
    let read = on
        .iter()
        .filter(|worn| worn.it.start().is_some_and(|at| at <= ask.now));
    let ends = read.filter_map(|worn| labelled_end(worn, kind)).max();
    let waits = on
        .iter()
        .find(|worn| worn.it.start().is_none())
        .and_then(|worn| worn.it.put_on);
    let asked = Ask {
        slot_min: SLOT_MIN,
        put_on_cost: &put_on_cost,
        start_cost: &start_cost,
        kinds: &kinds,
        worn: ends.map(|end| plan::Worn {
            labelled_end_min: minutes(end),
            extra_min: kind.extra_min,
        }),
        bedding_in: waits.map(|put_on| BeddingIn {
            kind: 0,
            put_on_min: minutes(put_on).min(0),
        }),
        drawer: &[],
        bought: Some(Stocked {
            kind: 0,
            from_min: 0,
            until_min: i64::MAX / 4,
        }),
        bedding_min: (60 * ask.bedding_h).min(kind.longest_bedding_min),
        side_by_side: kind.side_by_side,
        pinned: &[],
        weights: Weights::default(),
    };
    match plan(&asked) {
        Err(reason) => Coming {
            reason: Some(reason.to_string()),
            ..Coming::default()
        },
        Ok(found) => told(&found, worn, kind, clock, WearAsk { now, ..ask }),
    }
}

fn told(found: &plan::Plan, worn: &[Worn], kind: &SensorKind, clock: &LivedClock, ask: WearAsk) -> Coming {
    let places = places(worn, kind, ask.now);
    let spots: Vec<Spot> = places.iter().map(|place| place.spot).collect();
    let wears: Vec<(i64, i64)> = found
        .sensors
        .iter()
        .map(|one| (one.put_on_min, one.limit_min))
        .collect();
    let allowed = vec![None; wears.len()];
    let placed = place(&wears, &spots, &allowed, REST_MIN, MISSING_HOUR);
    let time = |minute: i64| Time(clock.moment(ask.now + 60 * minute));
    let planned: Vec<Planned> = found
        .sensors
        .iter()
        .zip(&placed)
        .map(|(one, put)| {
            let there = put.spot.map(|spot| &places[spot]);
            Planned {
                put_on: time(one.put_on_min),
                start: time(one.start_min),
                reads_from: time(one.reads_from_min),
                end: time(one.labelled_end_min),
                site: there.map(|there| there.region.name()),
                side: there.and_then(|there| there.side.map(Side::name)),
                labelled: there.and_then(|there| there.labelled),
                uncovered_min: one.uncovered_min,
                why: why(one, put, there, kind, ask),
            }
        })
        .collect();
    let mut unmet = Vec::new();
    if found.uncovered_min > 0 {
        let hours = found.uncovered_min as f64 / 60.0;
        unmet.push(if kind.side_by_side {
            format!("{hours:.1} h of the next {DAYS} days cannot be covered")
        } else {
            format!("a new sensor cannot warm up beside the old one, so that {hours:.1} h of the next {DAYS} days stay uncovered")
        });
    }
    if places.is_empty() {
        unmet.push("no place on the body is known yet; say where a sensor goes with `interstice log sensor put-on --site`".to_owned());
    }
    Coming {
        planned,
        reason: None,
        unmet,
        uncovered_min: Some(found.uncovered_min),
    }
}

fn why(
    one: &plan::Planned,
    put: &Placed,
    there: Option<&Place>,
    kind: &SensorKind,
    ask: WearAsk,
) -> Vec<String> {
    let mut why = Vec::new();
    let bedding = (one.start_min - one.put_on_min) as f64 / 60.0;
    if bedding >= 1.0 {
        why.push(format!(
            "worn {bedding:.0} h before it is started, so that its first unsteady hours are not used"
        ));
    } else if ask.bedding_h > 0 && kind.longest_bedding_min == 0 {
        why.push("started when it is put on: this kind is not worn before its start".to_owned());
    }
    if one.uncovered_min == 0 {
        why.push("it has warmed up before the one before it ends".to_owned());
    } else {
        why.push(format!(
            "{} before it reads no sensor does",
            counted(one.uncovered_min as u64, "minute", "minutes")
        ));
    }
    if let Some(there) = there {
        why.push(match put.rested_min {
            None => "this place was never used".to_owned(),
            Some(rested) => format!(
                "this place has rested for {:.0} days by then",
                rested as f64 / 1440.0
            ),
        });
        if there.labelled == Some(false) {
            why.push(
                "the sensor's own instructions do not name this place: wearing it there is your own choice"
                    .to_owned(),
            );
        }
    }
    why
}

/// A place on the body.
struct Place {
    region: Region,
    side: Option<Side>,
    labelled: Option<bool>,
    spot: Spot,
}

/// The places the wearer has used, and those the labelling names, on both sides.
fn places(worn: &[Worn], kind: &SensorKind, now: Second) -> Vec<Place> {
    let mut used: BTreeMap<(Region, Option<Side>), Option<i64>> = BTreeMap::new();
    for region in &kind.sites {
        for side in [Side::Left, Side::Right] {
            used.insert((*region, Some(side)), None);
        }
    }
    for one in worn {
        let Some(site) = one.site() else { continue };
        let until = if one.is_on {
            labelled_end(one, kind).unwrap_or(now) + 60 * Second::from(kind.extra_min)
        } else {
            one.it.end().unwrap_or(now)
        };
        let free = (until - now).div_euclid(60);
        let known = used.entry((site.region, site.side)).or_default();
        *known = Some(known.map_or(free, |before| before.max(free)));
    }
    used.into_iter()
        .map(|((region, side), free_since_min)| {
            let labelled = (!kind.sites.is_empty()).then(|| kind.sites.contains(&region));
            Place {
                region,
                side,
                labelled,
                spot: Spot {
                    cost: if labelled == Some(false) { UNLABELLED } else { 0.0 },
                    free_since_min,
                },
            }
        })
        .collect()
}

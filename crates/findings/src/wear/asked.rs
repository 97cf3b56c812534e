//! What the plan is asked for: the wearer's clock, choices, drawer and sensors as slots and costs.

use interstice_glucose::{DAY_S, LivedClock, Pin, PlanWeight, Second, SensorKind, WearChoices, WearFrom};
use interstice_methods::plan::{self, Ask, BeddingIn, Stocked, WearClock, Weights};

use super::{Settled, WearAsk, Worn};

/// Length of a slot.
pub(super) const SLOT_MIN: u32 = 30;
const SLOT_S: Second = 60 * SLOT_MIN as Second;
/// Beyond every horizon, minutes.
const NEVER_MIN: i64 = i64::MAX / 4;

/// The question, owned.
pub(super) struct Asked {
    /// The first slot begins then: the next whole half hour.
    pub(super) now: Second,
    put_on_cost: Vec<f64>,
    start_cost: Vec<f64>,
    kinds: Vec<plan::Kind>,
    /// Each kind's place in the wearer's list.
    pub(super) kind_places: Vec<usize>,
    worn: Option<plan::Worn>,
    bedding_in: Option<BeddingIn>,
    drawer: Vec<Stocked>,
    /// The place of each of the drawer in what is settled.
    pub(super) stock_places: Vec<usize>,
    bought: Stocked,
    bedding_min: u32,
    bedding_by_turn: Vec<Option<u32>>,
    side_by_side: bool,
    /// Settled put-ons in the horizon, by slot.
    pub(super) pins: Vec<(usize, Pin)>,
    weights: Weights,
}

impl Asked {
    /// `kind` is the one in use.
    pub(super) fn new(
        worn: &[Worn],
        kind: &SensorKind,
        clock: &LivedClock,
        settled: &Settled,
        ask: WearAsk,
    ) -> Self {
        let choices = &settled.choices;
        let now = ask.now + (-ask.now).rem_euclid(SLOT_S);
        let slots = i64::from(choices.horizon_days) * DAY_S / SLOT_S;
        let minutes = |at: Second| (at - now).div_euclid(60);
        let in_use = settled.kinds.in_use.unwrap_or_default();
        let mut kind_places = vec![in_use];
        kind_places.extend(settled.stock.iter().map(|one| one.kind));
        kind_places.retain(|&place| place < settled.kinds.all.len());
        kind_places[1..].sort_unstable();
        let mut seen = std::collections::BTreeSet::new();
        kind_places.retain(|&place| seen.insert(place));
        let stocked = |one: &super::InStock| {
            let place = kind_places.iter().position(|&place| place == one.kind)?;
            Some(Stocked {
                kind: place,
                from_min: minutes(one.from),
                until_min: one.until.map_or(NEVER_MIN, minutes),
            })
        };
        let stock: Vec<(usize, Stocked)> = (0..)
            .zip(&settled.stock)
            .filter_map(|(place, one)| Some((place, stocked(one)?)))
            .collect();
        let read = worn
            .iter()
            .filter(|worn| worn.is_on && worn.it.start().is_some_and(|at| at <= ask.now));
        let ends = read.filter_map(|worn| super::labelled_end(worn, kind)).max();
        Asked {
            now,
            put_on_cost: costs(slots, choices, clock, now, Act::PutOn),
            start_cost: costs(slots, choices, clock, now, Act::Start),
            kinds: kind_places
                .iter()
                .map(|&place| as_planned(&settled.kinds.all[place]))
                .collect(),
            stock_places: stock.iter().map(|&(place, _)| place).collect(),
            drawer: stock.into_iter().map(|(_, stocked)| stocked).collect(),
            kind_places,
            worn: ends.map(|end| plan::Worn {
                labelled_end_min: minutes(end),
                extra_min: kind.extra_min,
            }),
            bedding_in: waiting_place(worn)
                .and_then(|place| worn[place].it.put_on)
                .map(|put_on| BeddingIn {
                    kind: 0,
                    put_on_min: minutes(put_on).min(0),
                    wished_min: waiting_wish(settled),
                }),
            bought: Stocked {
                kind: 0,
                from_min: settled.bought_from.map_or(0, minutes),
                until_min: NEVER_MIN,
            },
            bedding_min: 60 * ask.bedding_h.unwrap_or(choices.bedding_h),
            bedding_by_turn: turns(settled),
            side_by_side: kind.side_by_side,
            pins: pins(&choices.pins, now, slots),
            weights: weights(choices),
        }
    }

    /// With these slots pinned.
    pub(super) fn ask<'a>(&'a self, pinned: &'a [usize]) -> Ask<'a> {
        Ask {
            slot_min: SLOT_MIN,
            put_on_cost: &self.put_on_cost,
            start_cost: &self.start_cost,
            kinds: &self.kinds,
            worn: self.worn,
            bedding_in: self.bedding_in,
            drawer: &self.drawer,
            bought: Some(self.bought),
            bedding_min: self.bedding_min,
            bedding_by_turn: &self.bedding_by_turn,
            side_by_side: self.side_by_side,
            pinned,
            weights: self.weights,
        }
    }

    /// Whether any sensor reads now, by what is known.
    pub(super) fn reads_now(&self) -> bool {
        self.worn
            .is_some_and(|worn| worn.labelled_end_min + i64::from(worn.extra_min) > 0)
    }

    /// From when one that is bought is there, minutes from now.
    pub(super) fn bought_from_min(&self) -> i64 {
        self.bought.from_min.max(0)
    }

    /// How long one is to bed in, by its turn, or the one that beds in already; minutes.
    pub(super) fn wished_min(&self, turn: Option<usize>) -> u32 {
        let own = match turn {
            Some(turn) => self.bedding_by_turn.get(turn).copied().flatten(),
            None => self.bedding_in.and_then(|bedding| bedding.wished_min),
        };
        own.unwrap_or(self.bedding_min)
    }
}

/// How long the one that beds in is to do so, where its trial says.
fn waiting_wish(settled: &Settled) -> Option<u32> {
    let hours = settled.waiting.as_ref().and_then(|turn| turn.bedding_h);
    hours.map(|hours| 60 * hours)
}

/// How long each coming sensor is to bed in; turns that say nothing of it cost the search nothing where they come last.
fn turns(settled: &Settled) -> Vec<Option<u32>> {
    let turns = settled.turns.iter();
    let mut turns: Vec<Option<u32>> = turns.map(|turn| turn.bedding_h.map(|hours| 60 * hours)).collect();
    let told = turns.iter().rposition(Option::is_some).map_or(0, |last| last + 1);
    turns.truncate(told);
    turns
}

/// The place of the sensor that beds in now.
pub(super) fn waiting_place(worn: &[Worn]) -> Option<usize> {
    worn.iter()
        .position(|worn| worn.is_on && worn.it.start().is_none() && worn.it.put_on.is_some())
}

/// A kind as the method has it.
fn as_planned(kind: &SensorKind) -> plan::Kind {
    plan::Kind {
        wear_min: kind.wear_min,
        extra_min: kind.extra_min,
        warm_up_min: kind.warm_up_min,
        longest_bedding_min: kind.longest_bedding_min,
        clock: match kind.wear_from {
            WearFrom::PutOn => WearClock::PutOn,
            WearFrom::Started => WearClock::Start,
        },
    }
}

/// What is done at a slot.
#[derive(Clone, Copy)]
pub(super) enum Act {
    PutOn,
    Start,
}

impl Act {
    /// Whether the moment lies in the hours chosen for it.
    pub(super) fn suits(self, choices: &WearChoices, clock: &LivedClock, at: Second) -> bool {
        let hours = match self {
            Act::PutOn => choices.put_on_hours,
            Act::Start => choices.start_hours,
        };
        hours.holds(clock.wall(at).second_of_day() / 60)
    }
}

/// Whether the wearer is away then.
pub(super) fn is_away(choices: &WearChoices, clock: &LivedClock, at: Second) -> bool {
    let day = clock.wall(at).day();
    choices.away.iter().any(|away| away.holds(day))
}

/// Whether the wearer settled a put-on for that day, or for so shortly before that the sensor is to be started then: who settles one for a
/// day away can do it there, and no other sensor should be spent to keep that day free.
fn is_settled(choices: &WearChoices, clock: &LivedClock, at: Second) -> bool {
    let day = |at: Second| clock.wall(at).day();
    let beds_in = Second::from(choices.bedding_h) * 3600;
    let mut pins = choices.pins.iter();
    pins.any(|pin| (day(pin.at)..=day(pin.at + beds_in)).contains(&day(at)))
}

fn costs(slots: i64, choices: &WearChoices, clock: &LivedClock, now: Second, act: Act) -> Vec<f64> {
    let awkward = choices.weight(match act {
        Act::PutOn => PlanWeight::AwkwardPutOn,
        Act::Start => PlanWeight::AwkwardStart,
    });
    let away = choices.weight(PlanWeight::Away);
    let cost = |slot: i64| {
        let at = now + slot * SLOT_S;
        let hour = if act.suits(choices, clock, at) {
            0.0
        } else {
            awkward
        };
        let keeps_away = is_away(choices, clock, at) && !is_settled(choices, clock, at);
        hour + if keeps_away { away } else { 0.0 }
    };
    (0..slots).map(cost).collect()
}

/// Settled put-ons at their nearest slots; what is past and what lies beyond is left out, and of two at one slot the second.
fn pins(all: &[Pin], now: Second, slots: i64) -> Vec<(usize, Pin)> {
    let mut pins: Vec<(usize, Pin)> = Vec::new();
    for pin in all {
        let slot = (pin.at - now + SLOT_S / 2).div_euclid(SLOT_S);
        let Ok(place) = usize::try_from(slot) else {
            continue;
        };
        if slot < slots && pins.last().is_none_or(|&(last, _)| last < place) {
            pins.push((place, pin.clone()));
        }
    }
    pins
}

fn weights(choices: &WearChoices) -> Weights {
    Weights {
        unused_hour: choices.weight(PlanWeight::UnusedHour),
        extra_hour: choices.weight(PlanWeight::ExtraHour),
        bedding_hour: choices.weight(PlanWeight::BeddingHour),
        passed_over: choices.weight(PlanWeight::PassedOver),
        bought: choices.weight(PlanWeight::Bought),
    }
}

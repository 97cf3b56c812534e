//! The plan of coming sensors: against a naive search, minute by minute, and in cases with known answers.

use std::collections::BTreeMap;

use interstice_methods::plan::{
    Ask, BeddingIn, Kind, NoPlan, Plan, Spot, Stocked, Taken, WearClock, Weights, Worn, place, plan,
};
use proptest::prelude::*;

const HOUR: u32 = 60;
const DAY: i64 = 1440;

/// A fortnight, twelve hours beyond it, an hour of warm-up.
const FORTNIGHT: Kind = Kind {
    wear_min: 14 * 24 * HOUR,
    extra_min: 12 * HOUR,
    warm_up_min: HOUR,
    longest_bedding_min: 48 * HOUR,
    clock: WearClock::Start,
};

const PLENTY: Stocked = Stocked {
    kind: 0,
    from_min: 0,
    until_min: i64::MAX / 2,
};

/// Ninety days of hours; put on and started by day.
struct Days {
    put_on: Vec<f64>,
    start: Vec<f64>,
}

impl Days {
    fn new() -> Self {
        let by_day = |awkward: f64| -> Vec<f64> {
            let is_day = |hour: usize| (8..22).contains(&(hour % 24));
            (0..90 * 24)
                .map(|hour| if is_day(hour) { 0.0 } else { awkward })
                .collect()
        };
        Days {
            put_on: by_day(12.0),
            start: by_day(6.0),
        }
    }

    fn ask<'a>(&'a self, kinds: &'a [Kind], drawer: &'a [Stocked]) -> Ask<'a> {
        Ask {
            slot_min: HOUR,
            put_on_cost: &self.put_on,
            start_cost: &self.start,
            kinds,
            worn: Some(Worn {
                labelled_end_min: 5 * DAY,
                extra_min: 720,
            }),
            bedding_in: None,
            drawer,
            bought: Some(PLENTY),
            bedding_min: 24 * HOUR,
            bedding_by_turn: &[],
            side_by_side: true,
            pinned: &[],
            weights: Weights::default(),
        }
    }
}

#[test]
fn an_ordinary_quarter_is_covered_without_waste() {
    let (days, kinds) = (Days::new(), [FORTNIGHT]);
    let told = plan(&days.ask(&kinds, &[])).unwrap();
    assert_eq!(told.uncovered_min, 0);
    // 85 days by fortnights: seven, the last beyond the horizon.
    assert_eq!(told.sensors.len(), 7, "{told:#?}");
    let mut end = 5 * DAY;
    for one in &told.sensors {
        assert_eq!(one.taken, Taken::Bought);
        assert!(
            (20 * 60..=28 * 60).contains(&(one.start_min - one.put_on_min)),
            "{one:?}"
        );
        assert!(
            one.reads_from_min <= end + 720 && one.reads_from_min >= end - 14 * 60,
            "{one:?} after {end}"
        );
        assert!((8..22).contains(&((one.put_on_min / 60) % 24)), "{one:?}");
        end = one.labelled_end_min;
    }
}

#[test]
fn the_first_to_expire_goes_on_first_and_none_goes_on_expired() {
    let days = Days::new();
    let lot = |days: i64| Stocked {
        until_min: days * DAY,
        ..PLENTY
    };
    let drawer = [lot(80), lot(30), lot(10)];
    let kinds = [FORTNIGHT];
    let told = plan(&days.ask(&kinds, &drawer)).unwrap();
    let taken: Vec<Taken> = told.sensors.iter().map(|one| one.taken).collect();
    assert_eq!(taken[..3], [Taken::Drawer(2), Taken::Drawer(1), Taken::Drawer(0)]);
    assert_eq!(taken[3], Taken::Bought);
}

#[test]
fn an_empty_drawer_leaves_hours_uncovered_and_says_how_many() {
    let (days, kinds) = (Days::new(), [FORTNIGHT]);
    let drawer = [PLENTY];
    let ask = Ask {
        bought: None,
        ..days.ask(&kinds, &drawer)
    };
    let told = plan(&ask).unwrap();
    assert_eq!(told.sensors.len(), 1);
    let limit = told.sensors[0].limit_min;
    assert_eq!(told.uncovered_min, 90 * DAY - limit);
}

#[test]
fn what_cannot_warm_up_beside_another_leaves_an_hour_each_time() {
    let (days, kinds) = (Days::new(), [FORTNIGHT]);
    let ask = Ask {
        side_by_side: false,
        ..days.ask(&kinds, &[])
    };
    let told = plan(&ask).unwrap();
    assert_eq!(told.uncovered_min, 60 * told.sensors.len() as i64);
}

/// Where the clock of wear runs from being put on, a day of bedding in is a day of wear: more sensors in the same time.
#[test]
fn bedding_in_costs_wear_where_the_clock_says_so() {
    let days = Days::new();
    let short = |clock| {
        [Kind {
            wear_min: 7 * 24 * HOUR,
            extra_min: 0,
            clock,
            ..FORTNIGHT
        }]
    };
    let count = |kinds: &[Kind]| plan(&days.ask(kinds, &[])).unwrap().sensors.len();
    assert!(count(&short(WearClock::PutOn)) > count(&short(WearClock::Start)));
}

#[test]
fn a_pin_is_kept() {
    let (days, kinds) = (Days::new(), [FORTNIGHT]);
    let ask = Ask {
        pinned: &[75, 700],
        ..days.ask(&kinds, &[])
    };
    let told = plan(&ask).unwrap();
    let pinned: Vec<i64> = told
        .sensors
        .iter()
        .filter(|one| one.pinned)
        .map(|one| one.put_on_min / 60)
        .collect();
    assert_eq!(pinned, [75, 700]);
    assert_eq!(told.uncovered_min, 0);
}

#[test]
fn a_week_away_is_planned_around() {
    let (mut days, kinds) = (Days::new(), [FORTNIGHT]);
    // The sensor worn now would be followed on the fourth and fifth day, which are spent away.
    for slot in 3 * 24..9 * 24 {
        days.put_on[slot] = f64::INFINITY;
    }
    let told = plan(&days.ask(&kinds, &[])).unwrap();
    assert_eq!(told.uncovered_min, 0);
    assert!(told.sensors[0].put_on_min < 3 * DAY, "{told:#?}");
}

#[test]
fn one_that_beds_in_is_started_first() {
    let (days, kinds) = (Days::new(), [FORTNIGHT]);
    let ask = Ask {
        bedding_in: Some(BeddingIn {
            kind: 0,
            put_on_min: -125,
            wished_min: None,
        }),
        worn: None,
        ..days.ask(&kinds, &[])
    };
    let told = plan(&ask).unwrap();
    assert_eq!(
        (told.sensors[0].taken, told.sensors[0].put_on_min),
        (Taken::BeddingIn, -125)
    );
    // Nothing reads now, so that it is started at once and only its warm-up stays uncovered.
    assert_eq!((told.sensors[0].start_min, told.uncovered_min), (0, 60));
    // Beside one that reads it beds in as long as is wished of it alone.
    for wished in [600, 1200] {
        let ask = Ask {
            bedding_in: Some(BeddingIn {
                kind: 0,
                put_on_min: -125,
                wished_min: Some(wished),
            }),
            ..days.ask(&kinds, &[])
        };
        let told = plan(&ask).unwrap();
        let beds_in = told.sensors[0].start_min + 125;
        // Whole hours, and an hour of the day that suits.
        assert!((beds_in - i64::from(wished)).abs() <= 120, "{told:#?}");
    }
}

/// One on for so long that nothing is left of its wear is of no use: the plan goes on without it.
#[test]
fn one_that_bedded_in_for_all_of_its_wear_is_left() {
    let days = Days::new();
    let kinds = [Kind {
        clock: WearClock::PutOn,
        ..FORTNIGHT
    }];
    let ask = Ask {
        bedding_in: Some(BeddingIn {
            kind: 0,
            put_on_min: -14 * DAY,
            wished_min: None,
        }),
        worn: None,
        ..days.ask(&kinds, &[])
    };
    let told = plan(&ask).unwrap();
    assert_eq!(
        (told.sensors[0].taken, told.sensors[0].start_min),
        (Taken::Bought, 0)
    );
}

/// The second is to bed in for two days, the third not at all; one that beds in already has no turn.
#[test]
fn each_beds_in_as_its_turn_has_it() {
    let (days, kinds) = (Days::new(), [FORTNIGHT]);
    let turns = [None, Some(48 * HOUR), Some(0)];
    for waits in [false, true] {
        let ask = Ask {
            bedding_by_turn: &turns,
            bedding_in: waits.then_some(BeddingIn {
                kind: 0,
                put_on_min: -60,
                wished_min: None,
            }),
            ..days.ask(&kinds, &[])
        };
        let told = plan(&ask).unwrap();
        let bedding: Vec<i64> = told.sensors[usize::from(waits)..]
            .iter()
            .map(|one| (one.start_min - one.put_on_min) / 60)
            .collect();
        assert_eq!(bedding[..4], [24, 48, 0, 24], "{told:#?}");
    }
}

#[test]
fn questions_without_sense_are_refused() {
    let (days, kinds) = (Days::new(), [FORTNIGHT]);
    let drawer = [Stocked { kind: 4, ..PLENTY }];
    let refused = |ask: &Ask<'_>| plan(ask).unwrap_err();
    assert_eq!(refused(&days.ask(&kinds, &drawer)), NoPlan::UnknownKind);
    assert_eq!(
        refused(&Ask {
            bought: None,
            ..days.ask(&kinds, &[])
        }),
        NoPlan::NoSensor
    );
    assert_eq!(
        refused(&Ask {
            pinned: &[9, 9],
            ..days.ask(&kinds, &[])
        }),
        NoPlan::Pins
    );
    assert_eq!(
        refused(&Ask {
            slot_min: 0,
            ..days.ask(&kinds, &[])
        }),
        NoPlan::NoHorizon
    );
    let brief = [Kind {
        wear_min: 30,
        ..FORTNIGHT
    }];
    assert_eq!(refused(&days.ask(&brief, &[])), NoPlan::ShortWear);
    assert_eq!(
        refused(&Ask {
            start_cost: &[0.0],
            ..days.ask(&kinds, &[])
        }),
        NoPlan::Costs
    );
}

/// Item, turn, pin, labelled end and limit.
type NaiveState = (usize, usize, usize, i64, i64);

/// The same question answered the plain way: every item, every put-on, every start, from each state.
struct Naive<'a> {
    ask: &'a Ask<'a>,
    seen: BTreeMap<NaiveState, (i64, f64)>,
    order: Vec<(Taken, Stocked, f64)>,
    /// When the one that beds in was put on, slots, and the last slot to start it; it is the first item.
    waits: Option<(i64, i64)>,
}

impl<'a> Naive<'a> {
    fn new(ask: &'a Ask<'a>) -> Self {
        let mut order: Vec<(Taken, Stocked, f64)> = Vec::new();
        let waits = Naive::waits(ask);
        if let Some(bedding) = ask.bedding_in.filter(|_| waits.is_some()) {
            let one = Stocked {
                kind: bedding.kind,
                ..PLENTY
            };
            order.push((Taken::BeddingIn, one, 0.0));
        }
        let mut drawer: Vec<(usize, Stocked)> = ask.drawer.iter().copied().enumerate().collect();
        // What has expired already is not passed over.
        drawer.retain(|(_, one)| one.until_min >= 0);
        drawer.sort_by_key(|(_, one)| (one.until_min, one.from_min));
        order.extend(
            drawer
                .into_iter()
                .map(|(place, one)| (Taken::Drawer(place), one, 0.0)),
        );
        if let Some(bought) = ask.bought {
            order.extend((0..24).map(|_| (Taken::Bought, bought, ask.weights.bought)));
        }
        Naive {
            ask,
            seen: BTreeMap::new(),
            order,
            waits,
        }
    }

    /// None where nothing beds in, or where it can no longer be used: it is left then.
    fn waits(ask: &Ask<'_>) -> Option<(i64, i64)> {
        let bedding = ask.bedding_in?;
        let kind = ask.kinds[bedding.kind];
        let put_on = bedding.put_on_min / 60;
        let first = ask.start_cost.iter().position(|cost| cost.is_finite())? as i64;
        let hours = |minutes: u32| i64::from(minutes / 60);
        let mut longest = hours(kind.longest_bedding_min);
        let mut end = first;
        if kind.clock == WearClock::PutOn {
            longest = longest.min(hours(kind.wear_min) - hours(kind.warm_up_min) - 1);
            end = put_on;
        }
        let reads = end + hours(kind.wear_min) > first + hours(kind.warm_up_min);
        reads.then_some((put_on, (put_on + longest).max(first)))
    }

    /// Uncovered slots and cost once the sensor that reads has this labelled end and limit, with slots of an hour.
    fn from(&mut self, item: usize, turn: usize, pin: usize, end: i64, limit: i64) -> (i64, f64) {
        let key = (item, turn, pin, end, limit);
        if let Some(&known) = self.seen.get(&key) {
            return known;
        }
        let slots = self.ask.put_on_cost.len() as i64;
        let weights = self.ask.weights;
        let mut best = if pin < self.ask.pinned.len() {
            (i64::MAX, f64::INFINITY)
        } else {
            (
                (slots - limit).max(0),
                weights.extra_hour * (limit.min(slots) - end).max(0) as f64,
            )
        };
        let mut passed = 0.0;
        for later in item..self.order.len() {
            let (taken, one, price) = self.order[later];
            let kind = self.ask.kinds[one.kind];
            let hours = |minutes: u32| i64::from(minutes / 60);
            for start in 0..slots {
                let first = (start - hours(kind.longest_bedding_min)).max(0);
                let waits = self.waits.filter(|_| taken == Taken::BeddingIn);
                if waits.is_some_and(|(_, last)| start > last) {
                    continue;
                }
                let put_ons = waits.map_or(first..=start, |(put_on, _)| put_on..=put_on);
                for put_on in put_ons {
                    let minute = put_on * 60;
                    let next_pin = self.ask.pinned.get(pin).map(|&slot| slot as i64);
                    let late = next_pin.is_some_and(|slot| put_on > slot);
                    if waits.is_none() && (minute < one.from_min || minute > one.until_min || late) {
                        continue;
                    }
                    let next = pin + usize::from(waits.is_none() && next_pin == Some(put_on));
                    let clock = if kind.clock == WearClock::Start {
                        start
                    } else {
                        put_on
                    };
                    let new_end = clock + hours(kind.wear_min);
                    let reads = start + hours(kind.warm_up_min);
                    if kind.clock == WearClock::PutOn && new_end <= reads {
                        continue;
                    }
                    let rest = self.from(
                        later + 1,
                        (turn + usize::from(waits.is_none())).min(self.ask.bedding_by_turn.len()),
                        next,
                        new_end,
                        new_end + hours(kind.extra_min),
                    );
                    if rest.0 == i64::MAX {
                        continue;
                    }
                    let until = if self.ask.side_by_side { reads } else { start };
                    let uncovered = (reads - limit.min(until)).max(0) + rest.0;
                    // One whose clock runs from being put on must still read for an hour.
                    let most = match kind.clock {
                        WearClock::PutOn => hours(kind.wear_min) - hours(kind.warm_up_min) - 1,
                        WearClock::Start => i64::MAX,
                    };
                    let by_turn = self.ask.bedding_by_turn.get(turn).copied().flatten();
                    let wished = hours(by_turn.unwrap_or(self.ask.bedding_min))
                        .min(hours(kind.longest_bedding_min))
                        .min(most);
                    let (wished, putting_on) = match waits {
                        // What is on is started as soon as the wish is fulfilled, as far off as that is.
                        Some(_) => ((put_on + hours(self.ask.bedding_min)).max(0) - put_on, 0.0),
                        None => (wished, self.ask.put_on_cost[put_on as usize]),
                    };
                    let cost = rest.1
                        + passed
                        + price
                        + putting_on
                        + self.ask.start_cost[start as usize]
                        + weights.bedding_hour * (start - put_on - wished).abs() as f64
                        + weights.unused_hour * (end - until).max(0) as f64
                        + weights.extra_hour * (until.min(limit) - end).max(0) as f64;
                    if cost.is_finite() && (uncovered, cost) < best {
                        best = (uncovered, cost);
                    }
                }
            }
            match taken {
                Taken::Drawer(_) => passed += weights.passed_over,
                Taken::BeddingIn => {
                    passed += weights.passed_over + weights.unused_hour * hours(kind.wear_min) as f64;
                }
                Taken::Bought => {}
            }
        }
        self.seen.insert(key, best);
        best
    }
}

#[derive(Clone, Debug)]
struct Question {
    put_on: Vec<f64>,
    start: Vec<f64>,
    kinds: Vec<Kind>,
    drawer: Vec<Stocked>,
    bought: Option<Stocked>,
    worn: Option<Worn>,
    bedding_in: Option<BeddingIn>,
    bedding_min: u32,
    bedding_by_turn: Vec<Option<u32>>,
    side_by_side: bool,
    pinned: Vec<usize>,
}

impl Question {
    fn ask(&self) -> Ask<'_> {
        Ask {
            slot_min: HOUR,
            put_on_cost: &self.put_on,
            start_cost: &self.start,
            kinds: &self.kinds,
            worn: self.worn,
            bedding_in: self.bedding_in,
            drawer: &self.drawer,
            bought: self.bought,
            bedding_min: self.bedding_min,
            bedding_by_turn: &self.bedding_by_turn,
            side_by_side: self.side_by_side,
            pinned: &self.pinned,
            weights: Weights {
                passed_over: 7.5,
                ..Weights::default()
            },
        }
    }
}

fn any_kind() -> impl Strategy<Value = Kind> {
    (5u32..14, 0u32..3, 1u32..3, 0u32..4, any::<bool>()).prop_map(
        |(wear, extra, warm_up, bedding, from_start)| Kind {
            wear_min: wear * HOUR,
            extra_min: extra * HOUR,
            warm_up_min: warm_up * HOUR,
            longest_bedding_min: bedding * HOUR,
            clock: if from_start {
                WearClock::Start
            } else {
                WearClock::PutOn
            },
        },
    )
}

fn any_costs(slots: usize) -> impl Strategy<Value = Vec<f64>> {
    let cost = prop_oneof![4 => Just(0.0), 2 => (0u32..20).prop_map(|c| f64::from(c) * 0.5), 1 => Just(f64::INFINITY)];
    prop::collection::vec(cost, slots)
}

fn any_stocked() -> impl Strategy<Value = Stocked> {
    (0usize..2, -3i64..20, 0i64..30).prop_map(|(kind, from, lasts)| Stocked {
        kind,
        from_min: from * 60,
        until_min: (from + lasts) * 60,
    })
}

/// Mostly none: each multiplies the naive search.
fn any_turns() -> impl Strategy<Value = Vec<Option<u32>>> {
    let own = prop::option::of(0u32..5);
    prop_oneof![2 => Just(Vec::new()), 1 => prop::collection::vec(own, 1..3)]
}

fn any_question() -> impl Strategy<Value = Question> {
    let body = (
        prop::collection::vec(any_kind(), 2),
        prop::collection::vec(any_stocked(), 0..4),
        prop::option::of((-4i64..12, 0u32..3)),
        prop::option::of(0usize..2),
        (0u32..5, any_turns(), prop::option::of((0usize..2, -8i64..1))),
        any::<bool>(),
    );
    let pins = prop::collection::btree_set(0usize..20, 0..2);
    let costs = (any_costs(30), any_costs(30), 22usize..30);
    (costs, body, pins).prop_map(|((put_on, start, slots), body, pinned)| {
        let (kinds, drawer, worn, bought, bedding, side_by_side) = body;
        Question {
            put_on: put_on[..slots].to_vec(),
            start: start[..slots].to_vec(),
            kinds,
            drawer,
            bought: bought.map(|kind| Stocked { kind, ..PLENTY }),
            worn: worn.map(|(end, extra)| Worn {
                labelled_end_min: end * 60,
                extra_min: extra * HOUR,
            }),
            bedding_in: bedding.2.map(|(kind, put_on)| BeddingIn {
                kind,
                put_on_min: put_on * 60,
                wished_min: None,
            }),
            bedding_min: bedding.0 * HOUR,
            bedding_by_turn: bedding
                .1
                .into_iter()
                .map(|own| own.map(|own| own * HOUR))
                .collect(),
            side_by_side,
            pinned: pinned.into_iter().collect(),
        }
    })
}

/// Walks through the plan minute by minute and counts what is uncovered; fails where a promise is broken.
fn uncovered_minutes(question: &Question, told: &Plan) -> i64 {
    let horizon = question.put_on.len() * 60;
    let mut reads = vec![false; horizon];
    let mut paint = |from: i64, to: i64| {
        for minute in from.max(0)..to.min(horizon as i64) {
            reads[minute as usize] = true;
        }
    };
    if let Some(worn) = question.worn {
        let limit = worn.labelled_end_min + i64::from(worn.extra_min);
        // Where one can read beside another the older one is worn until the new one reads, else until it is started.
        let handed_over = told.sensors.first().map_or(i64::MAX, |next| {
            if question.side_by_side {
                next.reads_from_min
            } else {
                next.start_min
            }
        });
        paint(0, limit.min(handed_over));
    }
    for (index, one) in told.sensors.iter().enumerate() {
        let kind = question.kinds[one.kind];
        let clock = if kind.clock == WearClock::Start {
            one.start_min
        } else {
            one.put_on_min
        };
        assert_eq!(
            one.limit_min,
            clock + i64::from(kind.wear_min + kind.extra_min),
            "{one:?}"
        );
        let is_over = one.start_min - one.put_on_min > i64::from(kind.longest_bedding_min);
        assert!(one.put_on_min <= one.start_min && (!is_over || one.taken == Taken::BeddingIn));
        if let Taken::Drawer(place) = one.taken {
            let stocked = question.drawer[place];
            assert!(
                stocked.from_min <= one.put_on_min && one.put_on_min <= stocked.until_min,
                "{one:?}"
            );
        }
        let next = told.sensors.get(index + 1);
        let handed_over = next.map_or(i64::MAX, |next| {
            if question.side_by_side {
                next.reads_from_min
            } else {
                next.start_min
            }
        });
        paint(one.reads_from_min, one.limit_min.min(handed_over));
    }
    reads.iter().filter(|&&covered| !covered).count() as i64
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// No plan is better, and what it promises holds minute by minute: never beyond a limit, never an expired sensor, and
    /// not one minute more uncovered than the least there can be.
    #[test]
    fn no_plan_is_better(question in any_question()) {
        let ask = question.ask();
        if question.bought.is_none() && question.drawer.is_empty() && question.bedding_in.is_none() {
            prop_assert_eq!(plan(&ask), Err(NoPlan::NoSensor));
            return Ok(());
        }
        let told = plan(&ask).unwrap();
        let worn = question.worn.map_or((0, 0), |worn| {
            let end = worn.labelled_end_min / 60;
            let limit = end + i64::from(worn.extra_min / 60);
            if limit > 0 { (end, limit) } else { (0, 0) }
        });
        let (uncovered, cost) = Naive::new(&ask).from(0, 0, 0, worn.0, worn.1);
        if uncovered == i64::MAX {
            // A pin that no sensor can keep.
            prop_assert!(told.sensors.is_empty());
            return Ok(());
        }
        prop_assert_eq!(told.uncovered_min, uncovered * 60, "{:#?}", told);
        prop_assert!((told.cost - cost).abs() < 1e-9, "{} beside {cost}: {told:#?}", told.cost);
        let overlap = told.sensors.windows(2).any(|two| two[1].start_min <= two[0].start_min);
        if !overlap {
            prop_assert_eq!(uncovered_minutes(&question, &told), told.uncovered_min, "{:#?}", told);
        }
    }
}

fn spot(cost: f64) -> Spot {
    Spot {
        cost,
        free_since_min: None,
    }
}

#[test]
fn spots_rest_and_poor_ones_wait() {
    let worn: Vec<(i64, i64)> = (0..5).map(|i| (i * 13 * DAY, (i + 1) * 14 * DAY)).collect();
    let spots = [spot(0.0), spot(1.0), spot(50.0), spot(f64::INFINITY)];
    let placed = place(&worn, &spots, &[], 7 * DAY, 0.01);
    let chosen: Vec<usize> = placed.iter().map(|one| one.spot.unwrap()).collect();
    assert_eq!(chosen, [0, 1, 0, 1, 0]);
    assert!(placed[2].rested_min.unwrap() >= 7 * DAY);
}

#[test]
fn a_spot_still_worn_is_never_taken_and_a_pin_is_kept() {
    let worn = [(0, 14 * DAY), (13 * DAY, 28 * DAY)];
    let spots = [
        Spot {
            cost: 0.0,
            free_since_min: Some(DAY),
        },
        spot(9.0),
    ];
    let placed = place(&worn, &spots, &[], 0, 1.0);
    assert_eq!([placed[0].spot, placed[1].spot], [Some(1), Some(0)]);
    let pinned = place(&worn, &spots, &[None, Some(vec![1])], 0, 1.0);
    assert_eq!([pinned[0].spot, pinned[1].spot], [None, Some(1)]);
}

/// Cost of one sequence of spots by the rules, summed up from the start; `None` where two sensors would share one.
fn cost_of(
    sequence: &[Option<usize>],
    worn: &[(i64, i64)],
    spots: &[Spot],
    rest_min: i64,
) -> Option<(usize, f64)> {
    let (mut without, mut cost) = (0, 0.0);
    let mut free: Vec<Option<i64>> = spots.iter().map(|spot| spot.free_since_min).collect();
    for (&spot, &(put_on, taken_off)) in sequence.iter().zip(worn) {
        let Some(spot) = spot else {
            without += 1;
            continue;
        };
        let rested = free[spot].map_or(rest_min, |free| put_on - free);
        if rested < 0 {
            return None;
        }
        cost += spots[spot].cost + 0.1 * (rest_min - rested).max(0) as f64 / 60.0;
        free[spot] = Some(taken_off);
    }
    Some((without, cost))
}

proptest! {
    /// No sequence of spots is better, tried one by one.
    #[test]
    fn no_places_are_better(
        worn in prop::collection::vec((8i64..13, 0i64..3), 1..6),
        spots in prop::collection::vec((0i64..20, prop::option::of(-10i64..12)), 1..4),
        rest_days in 0i64..25,
    ) {
        let mut put_on = 0;
        let worn: Vec<(i64, i64)> = worn
            .into_iter()
            .map(|(step, over)| {
                put_on += step * DAY;
                (put_on, put_on + (step + over) * DAY)
            })
            .collect();
        let spots: Vec<Spot> = spots
            .into_iter()
            .map(|(cost, free)| Spot { cost: cost as f64, free_since_min: free.map(|day| day * DAY) })
            .collect();
        let rest_min = rest_days * DAY;
        let placed = place(&worn, &spots, &[], rest_min, 0.1);
        let chosen: Vec<Option<usize>> = placed.iter().map(|one| one.spot).collect();
        let found = cost_of(&chosen, &worn, &spots, rest_min).expect("no two on one spot");
        let choices = spots.len() + 1;
        let best = (0..choices.pow(worn.len() as u32))
            .filter_map(|mut code| {
                let sequence: Vec<Option<usize>> = worn
                    .iter()
                    .map(|_| {
                        let spot = (code % choices).checked_sub(1);
                        code /= choices;
                        spot
                    })
                    .collect();
                cost_of(&sequence, &worn, &spots, rest_min)
            })
            .reduce(|a, b| if b < a { b } else { a })
            .unwrap();
        prop_assert!(found.0 == best.0 && (found.1 - best.1).abs() < 1e-9, "{found:?} beside {best:?}");
    }
}

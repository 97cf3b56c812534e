//! The second look against `checks/second_look.py`, which works it out by another road.
#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot read its own data must stop"
)]

use std::collections::BTreeMap;

use interstice_glucose::LivedClock;
use interstice_methods::second_look::{
    Day, Eaten, HORIZONS_MIN, Moments, NoLook, Past, REACH_DAYS, Replay, Taken, look, score,
    weighted_quantiles,
};
use interstice_methods::trace::IntervalFrom;

/// Sums in another order and another solver: rounding remains.
const EXACT: f64 = 1e-9;
const EACH_5_MIN: [IntervalFrom; 1] = [IntervalFrom {
    start: 0,
    interval_s: 300,
}];
const START: u32 = 1_735_689_600;

#[derive(Default)]
struct Person {
    at: Vec<u32>,
    mg_dl: Vec<f64>,
    on_board: Vec<f64>,
    meals: Vec<Eaten>,
    insulin: Vec<Taken>,
}

impl Person {
    fn past<'a>(&'a self, clock: &'a LivedClock) -> Past<'a> {
        Past {
            at: &self.at,
            mg_dl: &self.mg_dl,
            came_mg_dl: &[],
            intervals: &EACH_5_MIN,
            clock,
            insulin: &self.insulin,
            meals: &self.meals,
            range_mg_dl: (70.0, 180.0),
            on_board: &self.on_board,
        }
    }
}

fn table(name: &str) -> Vec<csv::StringRecord> {
    let path = format!("{}/../../testdata/methods/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    csv::Reader::from_path(path)
        .unwrap()
        .records()
        .map(Result::unwrap)
        .collect()
}

fn invented() -> Person {
    let mut person = Person::default();
    for row in table("second_look_rows") {
        let at = row[1].parse().unwrap();
        if &row[0] == "reading" {
            person.at.push(at);
            person.mg_dl.push(row[2].parse().unwrap());
            person.on_board.push(row[3].parse().unwrap());
        } else {
            let grams = row[2].parse().ok();
            person.meals.push(Eaten { at, grams });
        }
    }
    person
}

fn assert_near(name: &str, at: u32, found: f64, expected: f64) {
    let off = (found - expected).abs() / expected.abs().max(1.0);
    assert!(off < EXACT, "{name} at {at}: {found} is not {expected} ({off:e})");
}

#[test]
fn every_step_is_what_another_road_gives() {
    let person = invented();
    let clock = LivedClock::fixed(0);
    let moments = Moments::of(person.past(&clock));
    let mut replay = Replay::from_the_start(&moments);
    let mut told = BTreeMap::new();
    for day in 6..13 {
        replay.day(&moments, day, |dealt, _| {
            told.insert(person.at[dealt.reading], dealt.clone());
        });
    }
    let rows = table("second_look_expected");
    assert!(rows.len() > 200, "{} rows", rows.len());
    for row in rows {
        let at: u32 = row[0].parse().unwrap();
        let number = |place: usize| row[place].parse::<f64>().unwrap();
        let dealt = &told[&at];
        let h = HORIZONS_MIN
            .iter()
            .position(|minutes| minutes.to_string() == row[1])
            .unwrap();
        assert_eq!(dealt.told.analogs.len().to_string(), row[2]);
        let sum = |of: fn(&interstice_methods::second_look::Analog) -> f64| -> f64 {
            dealt.told.analogs.iter().map(of).sum()
        };
        assert_near("distances", at, sum(|of| of.distance2), number(3));
        assert_near("weights", at, sum(|of| of.weight), number(4));
        assert_near("ridge", at, dealt.told.ridge[h], number(5));
        assert_near("centre", at, dealt.told.centre[h], number(6));
        for (k, place) in [1, 9, 17].into_iter().enumerate() {
            assert_near("fan", at, dealt.told.fan[h][place], number(7 + k));
            assert_near("fan shown", at, dealt.fan[h][place], number(10 + k));
        }
        for (place, chance) in [(13, dealt.back), (14, dealt.low)] {
            assert_eq!(chance.is_none(), row[place].is_empty(), "chance at {at}");
            if let Some(chance) = chance {
                assert_near("chance", at, chance, number(place));
            }
        }
    }
}

/// What comes after a moment's day began must not change what is told of it.
#[test]
fn the_future_tells_nothing() {
    let person = invented();
    let clock = LivedClock::fixed(0);
    let day = i64::from(START) + 10 * 86_400;
    let noon = day + 12 * 3600;
    let now = person.at.partition_point(|&at| i64::from(at) <= noon);
    let whole = look(&Moments::of(person.past(&clock)), noon).unwrap();
    let mut cut = invented();
    cut.at.truncate(now);
    cut.mg_dl.truncate(now);
    cut.on_board.truncate(now);
    assert_eq!(look(&Moments::of(cut.past(&clock)), noon).unwrap(), whole);
    let mut other = invented();
    for mg_dl in &mut other.mg_dl[now..] {
        *mg_dl = 300.0;
    }
    assert_eq!(look(&Moments::of(other.past(&clock)), noon).unwrap(), whole);
}

/// Glucose that steps at random has nothing to be learned: a skill would be a leak.
#[test]
fn a_random_walk_is_not_forecast() {
    let mut state = 12_345_u64;
    let mut step = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / f64::from(1u32 << 31) - 0.5
    };
    let mut walk = 150.0;
    let person = Person {
        at: (0..20 * 288).map(|i| START + i * 300).collect(),
        mg_dl: (0..20 * 288)
            .map(|_| {
                // Held within a wide range by its walls, which alone can be learned.
                walk = f64::clamp(walk + 12.0 * step(), 40.0, 1000.0);
                walk
            })
            .collect(),
        ..Person::default()
    };
    let clock = LivedClock::fixed(0);
    let score = score(&Moments::of(person.past(&clock)));
    let at = &score.horizons[0];
    assert!(at.forecasts > 1000, "{}", at.forecasts);
    assert!(at.rmse > 0.97 * at.rmse_persistence, "{at:?}");
    assert!((at.covered_percent() - 80.0).abs() < 3.0, "{at:?}");
}

#[test]
fn too_little_is_a_reason() {
    let person = invented();
    let clock = LivedClock::fixed(0);
    let moments = Moments::of(person.past(&clock));
    let at = |day: i64, hour: f64| i64::from(START) + day * 86_400 + (hour * 3600.0) as i64;
    assert_eq!(look(&moments, at(3, 12.0)), Err(NoLook::TooEarly { day: 4 }));
    assert_eq!(look(&moments, at(14, 12.0)), Err(NoLook::NoReading));
    // The second hole, of eleven readings, ends before reading 2011 of all.
    assert_eq!(look(&moments, at(0, 0.0) + 2015 * 300), Err(NoLook::Gap));
    let empty = Person::default();
    assert_eq!(look(&Moments::of(empty.past(&clock)), 0), Err(NoLook::NoReading));
    let mut strange = invented();
    let last = strange.mg_dl.len() - 1;
    for mg_dl in &mut strange.mg_dl[last - 20..] {
        *mg_dl = 700.0;
    }
    let refused = look(&Moments::of(strange.past(&clock)), i64::from(strange.at[last]));
    assert!(matches!(refused, Err(NoLook::TooFewAlike { .. })), "{refused:?}");
}

/// Where insulin is written down, only moments of waiting count, and corrections are told apart.
#[test]
fn waiting_and_correcting_are_told_apart() {
    let mut person = invented();
    // A dose with every meal, and a correction without one each evening at 22:00.
    person.insulin = person
        .meals
        .iter()
        .map(|meal| Taken {
            at: meal.at,
            units: 4.0,
        })
        .chain((0..13).map(|day| Taken {
            at: START + day * 86_400 + 22 * 3600,
            units: 2.0,
        }))
        .collect();
    person.insulin.sort_by_key(|dose| dose.at);
    let clock = LivedClock::fixed(0);
    let moments = Moments::of(person.past(&clock));
    let mut replay = Replay::from_the_start(&moments);
    let mut seen = 0;
    replay.day(&moments, 12, |dealt, _| {
        seen += 1;
        let at = person.at[dealt.reading];
        let dosed = person
            .insulin
            .iter()
            .any(|dose| dose.at > at && dose.at <= at + 4 * 3600);
        assert!(!dosed, "insulin followed {at}");
    });
    assert!(seen > 10, "{seen}");
}

/// Weights of one, by hand: the third of five stands at the middle, the first at a tenth.
#[test]
fn quantiles_stand_at_the_middle_of_their_weight() {
    let of = [5.0, 1.0, 2.0, 4.0, 3.0].map(|value| (value, 1.0)).to_vec();
    let found = weighted_quantiles(of, [0.05, 0.1, 0.2, 0.5, 0.95]);
    let expected = [1.0, 1.0, 1.5, 3.0, 5.0];
    for (found, expected) in found.into_iter().zip(expected) {
        assert!((found - expected).abs() < 1e-12, "{found} is not {expected}");
    }
    // Twice the weight is twice the value: 1, 1, 2.
    let [middle] = weighted_quantiles(vec![(1.0, 2.0), (2.0, 1.0)], [2.0 / 3.0]);
    assert!((middle - 1.666_666_666_666_666_7).abs() < 1e-12, "{middle}");
}

/// What a day's looks rest on may be kept while the day goes on, and no longer.
#[test]
fn what_is_ready_is_kept_while_the_day_goes_on() {
    let whole = invented();
    let clock = LivedClock::fixed(0);
    let day = i64::from(START) + 10 * 86_400;
    let cut = |until: i64| {
        let mut cut = invented();
        let upto = whole.at.partition_point(|&at| i64::from(at) <= until);
        cut.at.truncate(upto);
        cut.mg_dl.truncate(upto);
        cut.on_board.truncate(upto);
        cut
    };
    let (morning, noon) = (cut(day + 8 * 3600), cut(day + 12 * 3600));
    let ready = Day::of(&Moments::of(morning.past(&clock)), day + 8 * 3600).unwrap();
    let moments = Moments::of(noon.past(&clock));
    assert!(ready.is_of(&moments, day + 12 * 3600));
    let kept = ready.look(&moments, day + 12 * 3600).unwrap();
    assert_eq!(kept, look(&moments, day + 12 * 3600).unwrap());
    // Another day, another reading of the past, or a dose before the day began: made anew.
    let tomorrow = Moments::of(whole.past(&clock));
    assert!(!ready.is_of(&tomorrow, day + 30 * 3600));
    let mut other = cut(day + 12 * 3600);
    other.mg_dl[100] += 1.0;
    assert!(!ready.is_of(&Moments::of(other.past(&clock)), day + 12 * 3600));
    let mut dosed = cut(day + 12 * 3600);
    dosed.insulin.push(Taken {
        at: START + 9 * 86_400,
        units: 2.0,
    });
    assert!(!ready.is_of(&Moments::of(dosed.past(&clock)), day + 12 * 3600));
}

/// Days further back than a look reaches change nothing of it.
#[test]
fn nothing_beyond_its_reach_counts() {
    let days = u32::try_from(REACH_DAYS).unwrap() + 3;
    let wave = |i: u32| {
        let hour = f64::from(i % 288) / 12.0;
        140.0 + 50.0 * libm::sin(hour) + f64::from(i * 7919 % 41)
    };
    let person = |from: u32| Person {
        at: (from * 288..days * 288 - 60).map(|i| START + i * 300).collect(),
        mg_dl: (from * 288..days * 288 - 60).map(wave).collect(),
        ..Person::default()
    };
    let clock = LivedClock::fixed(0);
    let now = i64::from(START + days * 86_400 - 61 * 300);
    let (whole, reached) = (person(0), person(3));
    let whole = look(&Moments::of(whole.past(&clock)), now).unwrap();
    let reached = look(&Moments::of(reached.past(&clock)), now).unwrap();
    assert_eq!(whole.alike.of, reached.alike.of);
    for (a, b) in whole.fan.iter().zip(&reached.fan) {
        for (a, b) in a.mg_dl.iter().zip(b.mg_dl) {
            assert!((a - b).abs() < 1e-6, "{a} is not {b}");
        }
    }
}

//! The plan of ninety days: what a wearer waits for when a sensor falls off.

use divan::Bencher;
use interstice_methods::plan::{Ask, Kind, Spot, Stocked, WearClock, Weights, Worn, place, plan};

fn main() {
    divan::main();
}

const ALWAYS: i64 = i64::MAX / 2;

/// Ninety days in slots of so many minutes, eight sensors in the drawer, others to be bought, two days of bedding in at most.
#[divan::bench(args = [60, 30, 15])]
fn ninety_days(bencher: Bencher<'_, '_>, slot_min: u32) {
    let slots = 90 * 1440 / slot_min as usize;
    let by_hour = |awkward: f64| -> Vec<f64> {
        let hour = |slot: usize| slot * slot_min as usize / 60 % 24;
        (0..slots)
            .map(|slot| {
                if (8..22).contains(&hour(slot)) {
                    0.0
                } else {
                    awkward
                }
            })
            .collect()
    };
    let (put_on_cost, start_cost) = (by_hour(12.0), by_hour(6.0));
    let kinds = [Kind {
        wear_min: 10 * 1440,
        extra_min: 720,
        warm_up_min: 60,
        longest_bedding_min: 2 * 1440,
        clock: WearClock::PutOn,
    }];
    let drawer: Vec<Stocked> = (1..=8)
        .map(|lot| Stocked {
            kind: 0,
            from_min: 0,
            until_min: lot * 25 * 1440,
        })
        .collect();
    let ask = Ask {
        slot_min,
        put_on_cost: &put_on_cost,
        start_cost: &start_cost,
        kinds: &kinds,
        worn: Some(Worn {
            labelled_end_min: 3 * 1440,
            extra_min: 720,
        }),
        bedding_in: None,
        drawer: &drawer,
        bought: Some(Stocked {
            kind: 0,
            from_min: 5 * 1440,
            until_min: ALWAYS,
        }),
        bedding_min: 1440,
        bedding_by_turn: &[],
        side_by_side: true,
        pinned: &[],
        weights: Weights::default(),
    };
    bencher.bench(|| plan(&ask));
}

/// The places of ten coming sensors among a dozen spots.
#[divan::bench]
fn places(bencher: Bencher<'_, '_>) {
    let worn: Vec<(i64, i64)> = (0..10)
        .map(|sensor| (sensor * 9 * 1440, sensor * 9 * 1440 + 10 * 1440 + 720))
        .collect();
    let spots: Vec<Spot> = (0..12)
        .map(|spot| Spot {
            cost: f64::from(spot % 5),
            free_since_min: (spot % 3 > 0).then_some(-1440 * i64::from(spot)),
        })
        .collect();
    bencher.bench(|| place(&worn, &spots, &[], 7 * 1440, 0.1));
}

//! Personal trials: a printed example, counted orders, and simulated trials with and without a difference.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot read its own data must stop"
)]

use interstice_methods::trial::{
    Look, MOST_P_AFTER_LOOK, MOST_P_AT_LOOK, Order, OrderError, Outcome, Promise, Unanswered, answer,
    least_p, power, size, usual_block,
};
use proptest::prelude::*;

fn outcomes(rows: &[(u32, u32, f64)]) -> Vec<Outcome> {
    rows.iter()
        .map(|&(block, arm, value)| Outcome { block, arm, value })
        .collect()
}

/// Darwin's fifteen pairs of crossed and self-fertilised maize, differences of height in eighths of an inch: of 32,768
/// orders 1,726 are as far apart (Fisher 1935, The Design of Experiments, section 21). From memory; that the count
/// comes out speaks for every number.
const MAIZE: [f64; 15] = [
    49.0, -67.0, 8.0, 16.0, 6.0, 23.0, 28.0, 41.0, 14.0, 29.0, 56.0, 24.0, 75.0, 60.0, -48.0,
];

#[test]
fn the_maize_of_darwin_is_answered_as_fisher_did() {
    let rows: Vec<(u32, u32, f64)> = (0..)
        .zip(MAIZE)
        .flat_map(|(pair, crossed)| [(pair, 0, 0.0), (pair, 1, crossed)])
        .collect();
    let told = answer(&outcomes(&rows), 0.95, 1).unwrap();
    assert_eq!((told.orders, told.exact), (Some(32_768), true));
    assert!((told.p * 32_768.0 - 1726.0).abs() < 1e-6, "{told:?}");
    let beside = told.beside_first[0];
    assert!((beside.more - 314.0 / 15.0).abs() < 1e-9, "{beside:?}");
    // p is above 5 %, so that no difference at all is not ruled out; Student's own interval is −0.03 to 41.9.
    assert!(beside.within.lo < 0.0 && beside.within.lo > -3.0, "{beside:?}");
    assert!(beside.within.hi > 38.0 && beside.within.hi < 46.0, "{beside:?}");
}

/// scipy 1.17.1, stats.permutation_test with the difference of means, exact: 70 orders of eight, p 0.0857
#[test]
fn one_block_is_as_scipy_has_it() {
    let rows = [
        (0, 0, 9.1),
        (0, 0, 11.4),
        (0, 0, 8.2),
        (0, 0, 10.9),
        (0, 1, 12.3),
        (0, 1, 10.2),
        (0, 1, 14.8),
        (0, 1, 13.1),
    ];
    let told = answer(&outcomes(&rows), 0.95, 1).unwrap();
    assert_eq!(told.orders, Some(70));
    assert!((told.p - SCIPY_P).abs() < 1e-12, "{told:?}");
}

const SCIPY_P: f64 = 6.0 / 70.0;

fn table(name: &str) -> Vec<csv::StringRecord> {
    let path = format!("{}/../../testdata/methods/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap();
    reader.records().map(Result::unwrap).collect()
}

/// Six invented trials, every order written out and counted by checks/trials.py: orders, p and differences.
#[test]
fn every_order_is_counted_as_python_counts_it() {
    let rows = table("trials_rows");
    let expected = table("trials_expected");
    assert_eq!(expected.len(), 19);
    for row in &expected {
        let own: Vec<Outcome> = rows
            .iter()
            .filter(|one| one[0] == row[0])
            .map(|one| Outcome {
                block: one[1].parse().unwrap(),
                arm: one[2].parse().unwrap(),
                value: one[3].parse().unwrap(),
            })
            .collect();
        let told = answer(&own, 0.95, 1).unwrap();
        assert!(told.exact);
        let ours = match &row[1] {
            "orders" => told.orders.unwrap() as f64,
            "p" => told.p,
            more => {
                let arm: u32 = more.strip_prefix("more_").unwrap().parse().unwrap();
                told.beside_first
                    .iter()
                    .find(|beside| beside.arm == arm)
                    .unwrap()
                    .more
            }
        };
        let theirs: f64 = row[2].parse().unwrap();
        assert!((ours - theirs).abs() < 1e-9, "{row:?}: {ours}");
    }
}

#[test]
fn too_few_orders_rule_nothing_out() {
    let rows = [(0, 0, 5.0), (0, 1, 50.0), (1, 0, 4.0), (1, 1, 60.0)];
    let told = answer(&outcomes(&rows), 0.95, 1).unwrap();
    assert!((told.p - 0.5).abs() < 1e-12, "{told:?}");
    let within = told.beside_first[0].within;
    assert!(
        within.lo == f64::NEG_INFINITY && within.hi == f64::INFINITY,
        "{within:?}"
    );
}

#[test]
fn without_two_arms_in_a_block_there_is_no_answer() {
    assert_eq!(answer(&[], 0.95, 1), Err(Unanswered::NoComparison));
    let apart = outcomes(&[(0, 0, 1.0), (1, 1, 2.0)]);
    assert_eq!(answer(&apart, 0.95, 1), Err(Unanswered::NoComparison));
    let none = outcomes(&[(0, 0, f64::NAN), (0, 1, 2.0)]);
    assert_eq!(answer(&none, 0.95, 1), Err(Unanswered::NoNumber));
}

#[test]
fn an_order_holds_each_arm_equally_often_in_each_block() {
    let order = Order::draw(26, 3, 6, 4).unwrap();
    for block in 0..4 {
        for arm in 0..3 {
            assert_eq!(
                order.sensors.iter().filter(|&&one| one == (block, arm)).count(),
                2
            );
        }
    }
    assert_eq!(order.sensors.len(), 26);
    assert_eq!(order, Order::draw(26, 3, 6, 4).unwrap());
    assert_ne!(order, Order::draw(26, 3, 6, 5).unwrap());
    assert_eq!(Order::draw(8, 1, 4, 1), Err(OrderError::OneArm));
    assert_eq!(
        Order::draw(8, 3, 4, 1),
        Err(OrderError::Uneven { block: 4, arms: 3 })
    );
}

const USUAL: Promise = Promise {
    arms: 2,
    block: 4,
    between_sensors: 3.0,
    between_checks: 8.0,
    checks: 6,
    difference: 6.0,
    scatter: 1.0,
    power: 0.8,
    most_p: 0.05,
    look: None,
};

/// 2,000 trials in which nothing differs: 4 to 6 in a hundred must be called a difference, where the orders allow 5.
#[test]
fn nothing_is_found_where_there_is_nothing() {
    for (arms, block, sensors) in [(2, 4, 16), (2, 2, 20), (3, 3, 15)] {
        let nothing = Promise {
            arms,
            block,
            difference: 0.0,
            ..USUAL
        };
        let found = power(&nothing, sensors, 2000, 7).unwrap();
        assert!(
            (0.04..=0.06).contains(&found),
            "{arms} arms, blocks of {block}: {found}"
        );
    }
}

/// With one look at half its sensors a trial calls no more than 5 in a hundred a difference where there is none; as the
/// two p are not quite added up, 4 are the least. It is a little less likely to find one, and often sooner.
#[test]
fn a_look_before_the_end_costs_no_false_findings() {
    let look = |after| Promise {
        difference: 0.0,
        most_p: MOST_P_AFTER_LOOK,
        look: Some(Look {
            after,
            most_p: MOST_P_AT_LOOK,
        }),
        ..USUAL
    };
    for (sensors, after, block) in [(24, 12, 4), (24, 16, 4), (24, 16, 2)] {
        let nothing = Promise { block, ..look(after) };
        let found = power(&nothing, sensors, 2000, 21).unwrap();
        assert!(
            (0.035..=0.06).contains(&found),
            "look after {after} of {sensors}, blocks of {block}: {found}"
        );
    }
    let truly = |promise: Promise| {
        power(
            &Promise {
                difference: 6.0,
                ..promise
            },
            24,
            2000,
            5,
        )
        .unwrap()
    };
    let (with, without) = (truly(look(12)), truly(USUAL));
    assert!(
        with > without - 0.05 && with < without + 0.01,
        "{with} beside {without}"
    );
}

/// As `answer` itself finds it, for outcomes wholly apart.
#[test]
fn the_least_p_is_the_clearest_answers() {
    for (sensors, arms, block) in [(4, 2, 4), (8, 2, 4), (8, 2, 2), (6, 3, 3), (6, 2, 6)] {
        let order = Order::draw(sensors, arms, block, 3).unwrap();
        let rows: Vec<Outcome> = order
            .sensors
            .iter()
            .map(|&(block, arm)| Outcome {
                block,
                arm,
                value: 100.0 * f64::from(arm),
            })
            .collect();
        let p = answer(&rows, 0.95, 1).unwrap().p;
        assert!(
            (p - least_p(sensors, arms, block)).abs() < 1e-12,
            "{sensors} {arms} {block}: {p}"
        );
    }
    assert!((least_p(3, 2, 4) - 1.0).abs() < 1e-12 && least_p(104, 2, 2) > 0.0);
    assert!(least_p(104, 6, 12) < 1e-9);
}

#[test]
fn a_block_is_large_enough_to_tell() {
    let usual = [
        (8, 2, 8),
        (12, 2, 4),
        (10, 2, 10),
        (16, 2, 4),
        (14, 2, 2),
        (9, 3, 9),
        (18, 3, 6),
        (4, 2, 4),
    ];
    for (sensors, arms, block) in usual {
        assert_eq!(usual_block(sensors, arms, 0.05), block, "{sensors} {arms}");
    }
}

/// The promised size keeps its promise within 5 points, in other draws than it was made on.
#[test]
fn a_promise_is_kept() {
    for (difference, checks) in [(6.0, 6), (9.0, 2), (4.5, 12)] {
        let promise = Promise {
            difference,
            checks,
            ..USUAL
        };
        let size = size(&promise, 3).unwrap().unwrap();
        let kept = power(&promise, size.sensors, 2000, 99).unwrap();
        assert!(
            (kept - size.power).abs() < 0.05 && kept > 0.75,
            "{promise:?} {size:?}: {kept}"
        );
    }
}

#[test]
fn what_four_years_cannot_tell_is_said() {
    let faint = Promise {
        difference: 0.2,
        ..USUAL
    };
    assert_eq!(size(&faint, 3), Ok(None));
}

/// The interval holds the true difference in 95 of 100 trials, less what few orders round away on the safe side.
#[test]
fn the_interval_holds_the_truth() {
    let mut held = 0;
    for run in 0..400u64 {
        let order = Order::draw(12, 2, 4, run).unwrap();
        let wobble =
            |i: usize| f64::from(u32::try_from((i as u64 * 7919 + run * 104_729) % 1009).unwrap()) / 100.0;
        let rows: Vec<Outcome> = order
            .sensors
            .iter()
            .enumerate()
            .map(|(i, &(block, arm))| Outcome {
                block,
                arm,
                value: 3.0 * f64::from(arm) + wobble(i),
            })
            .collect();
        let within = answer(&rows, 0.95, 1).unwrap().beside_first[0].within;
        held += u32::from(within.lo <= 3.0 && 3.0 <= within.hi);
    }
    assert!((370..=396).contains(&held), "{held} of 400");
}

proptest! {
    /// p never depends on the unit, the zero, or which arm comes first.
    #[test]
    fn units_have_no_say(values in prop::collection::vec(-50.0f64..50.0, 8..9), scale in 0.1f64..10.0, zero in -100.0f64..100.0) {
        let rows = |f: &dyn Fn(f64) -> f64, turn: bool| -> Vec<Outcome> {
            (0u32..).zip(&values).map(|(i, &v)| Outcome { block: i / 4, arm: (i % 2) ^ u32::from(turn), value: f(v) }).collect()
        };
        let plain = answer(&rows(&|v| v, false), 0.9, 1).unwrap();
        let other = answer(&rows(&|v| v * scale + zero, true), 0.9, 1).unwrap();
        prop_assert!((plain.p - other.p).abs() < 1e-9);
        prop_assert!(plain.p > 0.0 && plain.p <= 1.0);
    }
}

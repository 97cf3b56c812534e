//! How long sensors stay on: against lifelines (`checks/staying.py`), printed figures, and cases with known answers.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot read its own data must stop"
)]

use std::collections::BTreeMap;

use interstice_methods::staying::{Curve, Stay, log_rank, mean_apart, still_on};
use proptest::prelude::*;

/// Both sides multiply the same numbers in another order.
const NEAR: f64 = 1e-9;

fn table(name: &str) -> Vec<csv::StringRecord> {
    let path = format!("{}/../../testdata/methods/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap();
    reader.records().map(Result::unwrap).collect()
}

type Sets = BTreeMap<String, BTreeMap<u32, Vec<Stay>>>;

fn sets() -> Sets {
    let mut sets = Sets::new();
    for row in table("staying_rows") {
        let group = sets.entry(row[0].to_owned()).or_default();
        group.entry(row[1].parse().unwrap()).or_default().push(Stay {
            hours: row[2].parse().unwrap(),
            lost: &row[3] == "1",
        });
    }
    sets
}

#[test]
fn curves_means_and_comparisons_are_those_of_lifelines() {
    let sets = sets();
    let rows = table("staying_expected");
    assert!(rows.len() > 200);
    for row in rows {
        let set = &sets[&row[0]];
        let expected: f64 = row[4].parse().unwrap();
        let ours = match &row[2] {
            "chi_square" | "p" => {
                let groups: Vec<&[Stay]> = set.values().map(Vec::as_slice).collect();
                let compared = log_rank(&groups).unwrap();
                if &row[2] == "p" {
                    compared.p
                } else {
                    compared.chi_square
                }
            }
            "apart" | "apart_error" => {
                let curves: Vec<Curve> = set.values().map(|of| still_on(of, 0.95).unwrap()).collect();
                let apart = mean_apart(&curves[0], &curves[1], row[3].parse().unwrap(), 0.95).unwrap();
                assert!((apart.within.hi - apart.within.lo - 2.0 * 1.959_963_985 * apart.error).abs() < 1e-6);
                if &row[2] == "apart" {
                    apart.hours
                } else {
                    apart.error
                }
            }
            what => of_curve(&set[&row[1].parse().unwrap()], what, row[3].parse().unwrap()),
        };
        assert!(
            (ours - expected).abs() <= NEAR * expected.abs().max(1e-3),
            "{row:?}: {ours}"
        );
    }
}

fn of_curve(stays: &[Stay], what: &str, hours: f64) -> f64 {
    let curve = still_on(stays, 0.95).unwrap();
    if what == "mean" {
        return curve.mean_up_to(hours, 0.95).unwrap().hours;
    }
    let step = curve
        .steps
        .iter()
        .find(|step| (step.hours - hours).abs() < 1e-9)
        .unwrap();
    match what {
        "still_on" => step.still_on,
        "lo" => step.within.unwrap().lo,
        "hi" => step.within.unwrap().hi,
        other => panic!("{other}"),
    }
}

/// Kleinbaum and Klein, Survival Analysis (2012), chapter 2; from memory: Greenwood's standard errors as printed.
#[test]
fn errors_are_those_printed() {
    let sets = sets();
    let curve = still_on(&sets["remission"][&0], 0.95).unwrap();
    let printed = [
        (6.0, 0.0764),
        (7.0, 0.0869),
        (10.0, 0.0963),
        (13.0, 0.1068),
        (16.0, 0.1141),
        (22.0, 0.1282),
        (23.0, 0.1346),
    ];
    assert_eq!(curve.steps.len(), printed.len());
    for (step, (week, error)) in curve.steps.iter().zip(printed) {
        assert!(
            (step.hours - week).abs() < 1e-9 && (step.error - error).abs() < 5.1e-5,
            "{step:?}"
        );
    }
    assert_eq!(curve.median(), Some(23.0));
    let both = [sets["remission"][&0].as_slice(), sets["remission"][&1].as_slice()];
    let compared = log_rank(&both).unwrap();
    assert!((compared.chi_square - 16.79).abs() < 0.005, "{compared:?}");
}

fn all_lost(hours: &[f64]) -> Vec<Stay> {
    hours.iter().map(|&hours| Stay { hours, lost: true }).collect()
}

/// With none cut short the mean is the ordinary one, and its error the ordinary one of n rather than n − 1.
#[test]
fn with_none_cut_short_the_mean_is_the_mean() {
    let hours = [20.0, 61.0, 61.0, 130.0, 244.0, 300.0];
    let curve = still_on(&all_lost(&hours), 0.95).unwrap();
    let told = curve.mean_up_to(400.0, 0.95).unwrap();
    let mean = hours.iter().sum::<f64>() / 6.0;
    let square = hours.iter().map(|h| (h - mean) * (h - mean)).sum::<f64>() / 6.0;
    assert!((told.hours - mean).abs() < 1e-9, "{told:?}");
    assert!((told.error - (square / 6.0).sqrt()).abs() < 1e-9, "{told:?}");
}

#[test]
fn what_cannot_be_told_is_not_told() {
    assert_eq!(still_on(&[], 0.95), None);
    assert_eq!(
        still_on(
            &[
                Stay {
                    hours: f64::NAN,
                    lost: true
                },
                Stay {
                    hours: 0.0,
                    lost: true
                }
            ],
            0.95
        ),
        None
    );
    let cut = Stay {
        hours: 100.0,
        lost: false,
    };
    let curve = still_on(&[cut], 0.95).unwrap();
    assert_eq!(
        (curve.at(100.0), curve.at(100.1), curve.median()),
        (Some(1.0), None, None)
    );
    assert!(curve.mean_up_to(101.0, 0.95).is_none());
    assert!(log_rank(&[&[cut], &[cut]]).is_none());
    let one = all_lost(&[5.0, 9.0]);
    assert!(log_rank(&[&one]).is_none());
    assert!(log_rank(&[&one, &[]]).is_none());
}

fn any_stays() -> impl Strategy<Value = Vec<Stay>> {
    prop::collection::vec((1u32..400, any::<bool>()), 1..40).prop_map(|stays| {
        let stay = |(hours, lost)| Stay {
            hours: f64::from(hours),
            lost,
        };
        stays.into_iter().map(stay).collect()
    })
}

proptest! {
    #[test]
    fn a_curve_only_falls_and_stays_within(stays in any_stays()) {
        let curve: Curve = still_on(&stays, 0.95).unwrap();
        let mut before = 1.0;
        for step in &curve.steps {
            prop_assert!(step.still_on < before && step.still_on >= 0.0 && step.at_risk >= step.lost);
            if let Some(within) = step.within {
                prop_assert!(0.0 <= within.lo && within.lo <= step.still_on && step.still_on <= within.hi && within.hi <= 1.0);
            }
            before = step.still_on;
        }
        let mean = curve.mean_up_to(curve.longest, 0.95).unwrap();
        prop_assert!(mean.hours > 0.0 && mean.hours <= curve.longest + 1e-9);
    }

    /// The same stays in another order, and groups in another order, give the same.
    #[test]
    fn order_has_no_say(one in any_stays(), other in any_stays()) {
        let mut turned = one.clone();
        turned.reverse();
        prop_assert_eq!(still_on(&one, 0.95), still_on(&turned, 0.95));
        let (ab, ba) = (log_rank(&[&one, &other]), log_rank(&[&other, &turned]));
        match (ab, ba) {
            (Some(ab), Some(ba)) => prop_assert!((ab.chi_square - ba.chi_square).abs() <= 1e-6 * ab.chi_square.max(1.0)),
            (ab, ba) => prop_assert_eq!(ab.is_some(), ba.is_some()),
        }
    }
}

use interstice_glucose::{Delivery, Dose, InsulinKind, Second};

use super::*;

fn dose(at: Second, units: f64, insulin: InsulinKind, delivery: Delivery) -> Dose {
    Dose {
        at,
        units,
        insulin,
        delivery,
        note: None,
    }
}

fn rapid(at: Second, units: f64) -> Dose {
    dose(at, units, InsulinKind::Rapid, Delivery::AtOnce)
}

/// Fractions worked out by hand from the two papers' formulas (testdata/methods/iob_fraction.csv names them).
#[test]
fn the_published_models_give_their_fractions() {
    let text = include_str!("../../../../testdata/methods/iob_fraction.csv");
    let mut rows = 0;
    for line in text
        .lines()
        .filter(|line| line.starts_with(|c: char| c.is_ascii_digit()))
    {
        let cells: Vec<f64> = line
            .split(',')
            .map(|cell| cell.parse().expect("a number"))
            .collect();
        let t = cells[0];
        let [hovorka, wilinska] = RAPID_MODELS.map(|model| model.left(t, 1.0));
        assert!((hovorka - cells[1]).abs() < 6e-5, "{t}: {hovorka}");
        assert!((wilinska - cells[4]).abs() < 6e-5, "{t}: {wilinska}");
        for (peak_min, column) in [(40.0, 2), (70.0, 3)] {
            let left = Absorption::TwoCompartments { peak_min }.left(t, 1.0);
            assert!((left - cells[column]).abs() < 6e-5, "{t} at {peak_min}: {left}");
        }
        // What appears in plasma is what leaves the depot: the slope, by difference.
        let slope = 60.0 * (RAPID_MODELS[0].left(t - 0.01, 1.0) - RAPID_MODELS[0].left(t + 0.01, 1.0)) / 0.02;
        if t > 0.0 {
            assert!((slope - cells[5]).abs() < 2e-5, "{t}: {slope}");
        }
        rows += 1;
    }
    assert!(rows >= 12);
}

const RAPID_MODELS: [Absorption; 2] = [
    Absorption::TwoCompartments { peak_min: 55.0 },
    Absorption::TwoChannels {
        slow_share: 0.67,
        slow_per_min: 0.011,
        fast_per_min: 0.021,
    },
];

#[test]
fn a_dose_is_a_band_from_the_models_and_the_late_log() {
    let left = left(&rapid(0, 4.0), 4 * 3600, OwnDurations::default()).expect("rapid insulin has a curve");
    // 260 min by the one, 240 by the other (the latter as the table prints it).
    let lo = RAPID_MODELS[0].left(260.0, 4.0);
    assert!((left.lo - lo).abs() < 1e-12);
    assert!((left.hi - 0.1762).abs() < 5e-5, "{left:?}");
    let fresh = super::left(&rapid(0, 4.0), 0, OwnDurations::default()).expect("rapid insulin has a curve");
    assert!(fresh.hi > 0.999_999 && fresh.lo < 0.93, "{fresh:?}");
}

/// The closed integrals against many small doses, which is what spreading means.
#[test]
fn a_spread_dose_is_many_small_ones() {
    for insulin in [InsulinKind::Rapid, InsulinKind::Short, InsulinKind::Intermediate] {
        for (over, at) in [(120_u32, 30_u32), (120, 120), (120, 300), (7, 3), (600, 700)] {
            let parts = 20_000;
            for model in absorptions(insulin).expect("has a curve") {
                let paced = model.lasting(None, 1.0);
                let whole = paced.left_of_spread(at.into(), over.into(), 6.0);
                let small: f64 = (0..parts)
                    .map(|i| f64::from(over) * (f64::from(i) + 0.5) / f64::from(parts))
                    .filter(|&given| given <= f64::from(at))
                    .map(|given| model.left(f64::from(at) - given, 6.0))
                    .sum::<f64>()
                    / f64::from(parts);
                assert!(
                    (whole - small).abs() < 1e-4,
                    "{insulin:?} {over} {at}: {whole} {small}"
                );
            }
        }
    }
}

/// A constant rate comes to stand at rate × the mean time in the depot: 2 T of the first model.
#[test]
fn a_steady_basal_rate_comes_to_a_level() {
    let rates: Vec<Dose> = (0..48)
        .map(|hour| dose(hour * 3600, 0.9, InsulinKind::Rapid, Delivery::BasalRate))
        .collect();
    let all = on_board(&rates, 48 * 3600, OwnDurations::default());
    let expected = 0.9 / 60.0 * 2.0 * 55.0;
    assert!(
        (all.basal.lo - expected).abs() < 1e-3 || (all.basal.hi - expected).abs() < 1e-3,
        "{all:?}"
    );
    assert_eq!((all.doses, all.to_come, all.left_out), (Span::default(), 0.0, 0));
    // A log that stops is not taken to run on for ever.
    let stopped = on_board(&rates[..1], 72 * 3600, OwnDurations::default());
    assert!(stopped.basal.hi < 1e-3, "{stopped:?}");
}

#[test]
fn nothing_is_invented_for_insulins_without_a_curve() {
    let doses = [
        dose(0, 20.0, InsulinKind::Long, Delivery::AtOnce),
        dose(60, 12.0, InsulinKind::Mixed, Delivery::AtOnce),
        dose(120, 3.0, InsulinKind::Unsaid, Delivery::AtOnce),
        dose(180, 3.0, InsulinKind::Rapid, Delivery::Intravenous),
        rapid(3600, 2.0),
        rapid(9000, 50.0),
    ];
    let all = on_board(&doses, 7200, OwnDurations::default());
    assert_eq!(all.left_out, 4);
    assert!(all.doses.hi <= 2.0 && all.doses.lo > 1.0, "{all:?}");
    assert_eq!(on_board(&[], 0, OwnDurations::default()), OnBoard::default());
}

#[test]
fn a_dose_being_spread_is_partly_to_come() {
    let spread = [dose(
        0,
        4.0,
        InsulinKind::Rapid,
        Delivery::Spread { minutes: 120 },
    )];
    let half = on_board(&spread, 3600, OwnDurations::default());
    assert!(
        (half.to_come - 2.0).abs() < 1e-12 && half.doses.hi < 2.0,
        "{half:?}"
    );
    let done = on_board(&spread, 3 * 3600, OwnDurations::default());
    assert!(done.to_come <= 0.0);
}

#[test]
fn the_wearers_own_duration_leaves_a_twentieth_there() {
    let own = OwnDuration::minutes(200.0);
    for model in absorptions(InsulinKind::Rapid).expect("has a curve") {
        let left = model.lasting(own, 1.0).left(200.0, 1.0);
        assert!((left - SPENT).abs() < 1e-9, "{left}");
    }
    // Short insulin, which lasts the longer the more of it: the same, whatever the dose.
    let own = OwnDuration::minutes(420.0);
    for units in [2.0, 12.0] {
        let durations = OwnDurations {
            short: own,
            ..OwnDurations::default()
        };
        let at = |minutes, own| left_by_models(InsulinKind::Short, minutes, units, own);
        let left = at(420.0, durations).expect("has a curve");
        assert!((left - SPENT).abs() < 1e-9, "{left}");
        // What is said of another insulin changes nothing of it.
        let of_rapid = OwnDurations {
            rapid: own,
            ..OwnDurations::default()
        };
        assert_eq!(at(100.0, of_rapid), at(100.0, OwnDurations::default()));
    }
    assert_eq!(OwnDuration::minutes(30.0), None);
    assert_eq!(OwnDuration::minutes(f64::NAN), None);
}

#[test]
fn the_course_is_the_sum_of_each_dose() {
    let doses = [
        rapid(0, 4.0),
        rapid(3600, 2.0),
        dose(4000, 30.0, InsulinKind::Long, Delivery::AtOnce),
    ];
    let times: Vec<Second> = (0..60).map(|i| i * 600).collect();
    for (at, units) in times.iter().zip(course(&doses, &times, OwnDurations::default())) {
        let alone: f64 = doses[..2]
            .iter()
            .filter(|dose| dose.at <= *at)
            .filter_map(|dose| {
                Some(
                    dose.units
                        * left_by_models(
                            dose.insulin,
                            (at - dose.at) as f64 / 60.0,
                            dose.units,
                            OwnDurations::default(),
                        )?,
                )
            })
            .sum();
        assert!((units - alone).abs() < 1e-12, "{at}");
    }
}

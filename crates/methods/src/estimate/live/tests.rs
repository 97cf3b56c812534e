//! What is told while a sensor may be under pressure.

use interstice_glucose::Censor;

use super::*;
use crate::estimate::tests::TRACE;
use crate::estimate::{Delay, Learned};

const STARTED: u32 = 1_700_000_000;

/// Three hours of a sensor at 120 mg/dL, in bed; then what a test makes of it.
fn quiet_night(shown: &[f64]) -> Live {
    let learned = Learned {
        trace: TRACE,
        checks: CheckParams::prior(),
        delay: Delay {
            mean_min: 10.0,
            sd_min: 3.0,
            within_90: (5.0, 15.0),
            profile: Vec::new(),
            stamp_min: 0.0,
        },
        falling: NO_DELAY,
        rising: NO_DELAY,
        checks_used: 0,
    };
    let mut live = Live::new(&learned, STARTED);
    let mut at = STARTED + 4 * 86_400;
    for index in 0..36 {
        live.reading(at, 120.0 + f64::from(index % 3), Censor::None, true);
        at += 300;
    }
    for &mg_dl in shown {
        live.reading(at, mg_dl, Censor::None, true);
        at += 300;
    }
    live
}

const NO_DELAY: Delay = Delay {
    mean_min: 0.0,
    sd_min: 0.0,
    within_90: (0.0, 0.0),
    profile: Vec::new(),
    stamp_min: 0.0,
};

fn now(live: &Live) -> Probable {
    live.blood(live.at.unwrap())
}

#[test]
fn a_sudden_fall_in_bed_that_stays_may_be_pressure() {
    let pressed = quiet_night(&[104.0, 80.0, 66.0, 64.0, 65.0, 64.0]);
    let (low, high) = now(&pressed).most();
    assert!(pressed.pressed() > 0.5, "{}", pressed.pressed());
    // What the sensor shows is never ruled out by it.
    assert!(low < 70.0 && high > 115.0, "{low} to {high}");
}

#[test]
fn a_fall_that_glucose_makes_by_itself_is_believed() {
    let falling: Vec<f64> = (1..=24).map(|step| 120.0 - 2.8 * f64::from(step)).collect();
    let live = quiet_night(&falling);
    assert!(live.pressed() < 0.05, "{}", live.pressed());
    assert!(now(&live).mean_mg_dl < 65.0, "{:?}", now(&live));
}

#[test]
fn a_blood_check_settles_whether_it_is_pressure() {
    let fall = [104.0, 80.0, 66.0, 64.0, 65.0, 64.0];
    let mut low = quiet_night(&fall);
    low.check(low.at.unwrap(), 61.0);
    assert!(low.pressed() < 0.4, "{}", low.pressed());
    assert!((now(&low).mean_mg_dl - 61.0).abs() < 8.0, "{:?}", now(&low));
    let mut fine = quiet_night(&fall);
    fine.check(fine.at.unwrap(), 118.0);
    assert!(fine.pressed() > 0.95, "{}", fine.pressed());
    assert!((now(&fine).mean_mg_dl - 119.0).abs() < 8.0, "{:?}", now(&fine));
}

#[test]
fn pressure_that_ends_is_over() {
    let live = quiet_night(&[104.0, 80.0, 66.0, 64.0, 65.0, 64.0, 90.0, 118.0, 121.0, 122.0]);
    assert!(live.pressed() < 0.1, "{}", live.pressed());
    assert!((now(&live).mean_mg_dl - 121.0).abs() < 8.0, "{:?}", now(&live));
}

#[test]
fn nothing_is_pressure_out_of_bed() {
    let mut live = quiet_night(&[]);
    let mut at = live.at.unwrap();
    for mg_dl in [121.0; 24]
        .into_iter()
        .chain([104.0, 80.0, 66.0, 64.0, 65.0, 64.0])
    {
        at += 300;
        live.reading(at, mg_dl, Censor::None, false);
    }
    assert!(live.pressed() < 0.01, "{}", live.pressed());
}

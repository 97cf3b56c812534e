//! The filter and smoother beside statsmodels, and what must hold of any recording.

use interstice_glucose::Censor;
use proptest::prelude::*;

use super::checks::Met;
use super::joint::{DelayPrior, Given};
use super::sensor::Line;
use super::*;

/// Relative to the larger of one and the value; statsmodels and this add in another order.
const CLOSE: f64 = 1e-8;

/// The same as in checks/blood_estimate.py.
pub(super) const TRACE: TraceParams = TraceParams {
    centre_mg_dl: 130.0,
    rate_per_min: 0.021,
    spread_mg_dl: 55.0,
    noise_mg_dl: 6.0,
    noise_memory_min: 35.0,
    jitter_mg_dl: 1.3,
    new_noise: 0.8,
};
const CHECKS: CheckParams = CheckParams {
    check_noise: 1.2,
    gain_spread: 0.07,
    start_spread: 0.11,
    wander_spread: 0.045,
    gain: 0.01,
    start: -0.02,
};
const DELAY: DelayPrior = DelayPrior {
    mean_min: 13.0,
    sd_min: 3.5,
};
const STARTED: u32 = 1_700_000_000;

/// A row of testdata/methods/blood_estimate.csv.
struct Row {
    at: u32,
    is_check: bool,
    mg_dl: f64,
    /// Level, rate, blood, variance, log density.
    told: [f64; 5],
}

fn rows() -> Vec<Row> {
    let text = include_str!("../../../../testdata/methods/blood_estimate.csv");
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    reader
        .records()
        .map(|row| {
            let row: Vec<f64> = row.unwrap().iter().map(|cell| cell.parse().unwrap()).collect();
            Row {
                at: row[0] as u32,
                is_check: row[1] > 0.5,
                mg_dl: row[2],
                told: [row[3], row[4], row[5], row[6], row[7]],
            }
        })
        .collect()
}

fn close(ours: f64, theirs: f64, what: &str) {
    assert!(
        (ours - theirs).abs() <= CLOSE * theirs.abs().max(1.0),
        "{what}: {ours} beside {theirs}"
    );
}

#[test]
fn filter_and_smoother_are_those_of_statsmodels() {
    let rows = rows();
    let readings: Vec<&Row> = rows.iter().filter(|row| !row.is_check).collect();
    let at: Vec<u32> = readings.iter().map(|row| row.at).collect();
    let mg_dl: Vec<f64> = readings.iter().map(|row| row.mg_dl).collect();
    let checks: Vec<BloodCheck> = rows
        .iter()
        .filter(|row| row.is_check)
        .map(|row| BloodCheck {
            at: row.at,
            mg_dl: row.mg_dl,
        })
        .collect();
    let trace = SensorTrace {
        started: STARTED,
        at: &at,
        mg_dl: &mg_dl,
        censor: &vec![Censor::None; at.len()],
        aside: &vec![false; at.len()],
    };
    let line = Line::new(trace, &checks);
    assert_eq!(line.places.len(), rows.len());
    let smoothed = trace::smooth_in(&line, &TRACE, 1);
    for (index, row) in rows.iter().enumerate() {
        close(smoothed.level[index], row.told[0], "level");
        close(smoothed.rate[index], row.told[1], "rate");
    }
    let mets = checks::meet(&line, &smoothed, 0.0, |_| false);
    let given = Given {
        trace: &TRACE,
        checks: &CHECKS,
        delay: DELAY,
    };
    let weights = vec![1.0; mets.len()];
    let blood = joint::smooth(&line, &smoothed, &mets, &weights, &given);
    let (mut reading, mut check) = (blood.readings.iter(), blood.checks.iter());
    for row in &rows {
        let ours = if row.is_check {
            check.next()
        } else {
            reading.next()
        }
        .unwrap();
        close(ours.0, row.told[2], "blood");
        close(ours.1, row.told[3], "variance");
    }
    let densities = joint::log_densities(&line, &smoothed, &mets, &weights, &given);
    for (ours, row) in densities.iter().zip(&rows) {
        close(*ours, row.told[4], "log density");
    }
}

/// A recording without noise: a sensor that scales and delays a wave as told, and checks that are exact.
struct Wave {
    at: Vec<u32>,
    mg_dl: Vec<f64>,
    checks: Vec<BloodCheck>,
}

fn blood(minutes: f64) -> f64 {
    140.0 + 45.0 * libm::sin(minutes / 55.0) + 20.0 * libm::sin(minutes / 131.0)
}

/// First-order lag of [`blood`], in closed form: each sine comes out scaled and turned.
fn tissue(minutes: f64, delay: f64) -> f64 {
    let part = |size: f64, period: f64| {
        let w = 1.0 / period;
        let wt = w * delay;
        size * (libm::sin(w * minutes) - wt * libm::cos(w * minutes)) / (1.0 + wt * wt)
    };
    140.0 + part(45.0, 55.0) + part(20.0, 131.0)
}

fn wave(days: u32, delay: f64, gain: f64, checks_a_day: u32) -> Wave {
    let minutes = |i: u32, step: u32| f64::from(i * step);
    let at: Vec<u32> = (0..days * 288).map(|i| STARTED + 3600 + i * 300).collect();
    let mg_dl = (0..days * 288)
        .map(|i| gain * tissue(minutes(i, 5), delay))
        .collect();
    let every = 1440 / checks_a_day.max(1);
    let checks = (1..days * checks_a_day)
        .map(|i| {
            // Spread over the wave, never at the same place of the day.
            let minute = i * every + (i * 37) % 97;
            BloodCheck {
                at: STARTED + 3600 + minute * 60,
                mg_dl: blood(f64::from(minute)),
            }
        })
        .collect();
    Wave { at, mg_dl, checks }
}

fn estimator<'a>(wave: &'a Wave, censor: &'a [Censor], aside: &'a [bool]) -> Estimator<'a> {
    let trace = SensorTrace {
        started: STARTED,
        at: &wave.at,
        mg_dl: &wave.mg_dl,
        censor,
        aside,
    };
    Estimator::new(&[trace], &wave.checks)
}

/// Never in bed, nothing set aside.
struct Up<'a>(&'a [usize]);

impl Then for Up<'_> {
    fn in_bed(&self, sensor: usize) -> Vec<bool> {
        vec![false; self.0[sensor]]
    }

    fn aside(&self, _by: u32) -> Vec<Vec<bool>> {
        self.0.iter().map(|&count| vec![false; count]).collect()
    }
}

fn mard(estimate: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = estimate.enumerate().fold((0.0, 0.0), |(sum, count), (i, value)| {
        let truth = blood(i as f64 * 5.0);
        (sum + (value - truth).abs() / truth, count + 1.0)
    });
    100.0 * sum / count
}

#[test]
fn a_delayed_scaled_wave_is_put_right() {
    let wave = wave(6, 15.0, 0.88, 6);
    let (censor, aside) = (vec![Censor::None; wave.at.len()], vec![false; wave.at.len()]);
    let estimator = estimator(&wave, &censor, &aside);
    let learned = estimator.learn();
    let raw = mard(wave.mg_dl.iter().copied());
    let ours = mard(
        estimator.estimate(&learned)[0]
            .readings
            .iter()
            .map(|probable| probable.mean_mg_dl),
    );
    assert!(ours < 0.2 * raw, "{ours} beside {raw}");
    assert!((learned.delay.mean_min - 15.0).abs() < 3.0, "{:?}", learned.delay);
    let scale = estimator.estimate(&learned)[0].scale[1000];
    assert!((scale.gain - (1.0 / 0.88 - 1.0)).abs() < 0.03, "{scale:?}");
    let high = scale.reads_high(130.0);
    assert!((high.percent + 12.0).abs() < 1.0, "{high:?}");
    assert!(high.most.0 < -12.0 && -12.0 < high.most.1, "{high:?}");
    let live = mard(
        estimator.replay(&Up(&[wave.at.len()]))[0]
            .iter()
            .map(|probable| probable.mean_mg_dl),
    );
    assert!(live < 0.6 * raw, "{live} beside {raw}");
}

#[test]
fn a_sensor_that_is_not_late_is_not_made_early() {
    let wave = wave(6, 0.0, 1.0, 8);
    let (censor, aside) = (vec![Censor::None; wave.at.len()], vec![false; wave.at.len()]);
    let estimator = estimator(&wave, &censor, &aside);
    let learned = estimator.learn();
    assert!(
        learned.delay.within_90.0 < 1.0 && learned.delay.mean_min < 4.0,
        "{:?}",
        learned.delay
    );
}

#[test]
fn checks_stamped_with_readings_are_known_to_be_coarse() {
    let mut wave = wave(4, 10.0, 1.0, 6);
    for check in &mut wave.checks {
        check.at = STARTED + 3600 + (check.at - STARTED - 3600) / 300 * 300;
    }
    let (censor, aside) = (vec![Censor::None; wave.at.len()], vec![false; wave.at.len()]);
    assert!((estimator(&wave, &censor, &aside).learn().delay.stamp_min - 5.0).abs() < 1e-9);
}

#[test]
fn without_checks_the_bands_are_wide_and_the_delay_is_the_usual_one() {
    let mut wave = wave(3, 10.0, 1.0, 6);
    let (censor, aside) = (vec![Censor::None; wave.at.len()], vec![false; wave.at.len()]);
    let with = estimator(&wave, &censor, &aside);
    let told = with.estimate(&with.learn())[0].readings[500];
    wave.checks.clear();
    let without = estimator(&wave, &censor, &aside);
    let learned = without.learn();
    let bare = without.estimate(&learned)[0].readings[500];
    assert!(bare.sd_mg_dl > 1.5 * told.sd_mg_dl, "{bare:?} beside {told:?}");
    assert!(
        (10.0..18.0).contains(&learned.delay.mean_min),
        "{:?}",
        learned.delay
    );
}

#[test]
fn readings_set_aside_have_no_say() {
    let mut wave = wave(3, 10.0, 1.0, 6);
    let censor = vec![Censor::None; wave.at.len()];
    let mut aside = vec![false; wave.at.len()];
    let clean = estimator(&wave, &censor, &aside);
    let learned = clean.learn();
    aside[400..408].fill(true);
    let around = estimator(&wave, &censor, &aside).estimate(&learned)[0].readings[403];
    wave.mg_dl[400..408].fill(45.0);
    let marked = estimator(&wave, &censor, &aside).estimate(&learned)[0].readings[403];
    assert_eq!(around, marked);
}

#[test]
fn a_sensor_worn_beside_a_known_one_is_known_sooner() {
    let (old, mut new) = (wave(6, 12.0, 1.0, 6), wave(2, 12.0, 0.8, 6));
    new.checks.clear();
    let shift = 4 * 86_400;
    let new_at: Vec<u32> = new.at.iter().map(|at| at + shift).collect();
    let new_mg: Vec<f64> = (0..new_at.len() as u32)
        .map(|i| 0.8 * tissue(f64::from(shift / 60) + f64::from(i) * 5.0, 12.0))
        .collect();
    let none = vec![Censor::None; old.at.len()];
    let kept = vec![false; old.at.len()];
    let first = SensorTrace {
        started: STARTED,
        at: &old.at,
        mg_dl: &old.mg_dl,
        censor: &none,
        aside: &kept,
    };
    let second = SensorTrace {
        started: STARTED + shift,
        at: &new_at,
        mg_dl: &new_mg,
        censor: &none[..new_at.len()],
        aside: &kept[..new_at.len()],
    };
    let checks: Vec<BloodCheck> = old
        .checks
        .iter()
        .copied()
        .filter(|check| check.at < new_at[0])
        .collect();
    let off = |sensors: &[SensorTrace<'_>]| {
        let estimator = Estimator::new(sensors, &checks);
        let estimates = estimator.estimate(&estimator.learn());
        let own = &estimates[estimates.len() - 1].readings[100..500];
        own.iter()
            .enumerate()
            .map(|(i, probable)| {
                let truth = blood(f64::from(shift / 60) + (i as f64 + 100.0) * 5.0);
                (probable.mean_mg_dl - truth).abs() / truth
            })
            .sum::<f64>()
            / 400.0
    };
    let both = Estimator::new(&[first, second], &checks);
    let learned = both.learn();
    let all = both.estimate(&learned);
    for (place, whole) in all.iter().enumerate() {
        assert_eq!(*whole, both.estimate_of(&learned, place), "asked for alone");
    }
    let (alone, beside) = (off(&[second]), off(&[first, second]));
    assert!(beside < 0.5 * alone, "{beside} beside {alone}");
}

fn any_censor() -> impl Strategy<Value = Censor> {
    prop_oneof![8 => Just(Censor::None), 1 => Just(Censor::Below), 1 => Just(Censor::Above)]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// Whatever the gaps, limits, repeats and values: one finite estimate a reading, twice the same.
    #[test]
    fn any_recording_is_answered(
        steps in prop::collection::vec((0u32..40_000, 20.0f64..600.0, any_censor(), any::<bool>()), 0..60),
        checks in prop::collection::vec((0u32..900_000, 10.0f64..900.0), 0..8),
    ) {
        let mut now = STARTED;
        let mut at = Vec::new();
        for &(step, ..) in &steps {
            now += step;
            at.push(now);
        }
        let mg_dl: Vec<f64> = steps.iter().map(|step| step.1).collect();
        let censor: Vec<Censor> = steps.iter().map(|step| step.2).collect();
        let aside: Vec<bool> = steps.iter().map(|step| step.3).collect();
        let trace = SensorTrace { started: STARTED, at: &at, mg_dl: &mg_dl, censor: &censor, aside: &aside };
        let checks: Vec<BloodCheck> =
            checks.iter().map(|&(at, mg_dl)| BloodCheck { at: STARTED + at, mg_dl }).collect();
        let estimator = Estimator::new(&[trace], &checks);
        let learned = estimator.learn();
        let told = estimator.estimate(&learned);
        prop_assert_eq!(told[0].readings.len(), at.len());
        for probable in &told[0].readings {
            prop_assert!(probable.mean_mg_dl.is_finite() && probable.sd_mg_dl.is_finite());
            prop_assert!(probable.most().0 <= probable.half().0 && probable.half().1 <= probable.most().1);
        }
        prop_assert_eq!(&told, &estimator.estimate(&estimator.learn()));
        for told in estimator.replay(&Up(&[at.len()])) {
            prop_assert_eq!(told.len(), at.len());
            prop_assert!(told.iter().all(|probable| probable.mean_mg_dl.is_finite() && probable.sd_mg_dl.is_finite()));
        }
    }
}

/// A check is met with what the readings say at its own instant.
#[test]
fn a_check_between_two_readings_is_met_between_them() {
    let wave = wave(1, 0.0, 1.0, 4);
    let (censor, aside) = (vec![Censor::None; wave.at.len()], vec![false; wave.at.len()]);
    let trace = SensorTrace {
        started: STARTED,
        at: &wave.at,
        mg_dl: &wave.mg_dl,
        censor: &censor,
        aside: &aside,
    };
    let line = Line::new(trace, &wave.checks);
    let smoothed = trace::smooth(&line, &TRACE);
    let mets: Vec<Met> = checks::meet(&line, &smoothed, 0.0, |_| false);
    for met in mets {
        assert!((met.level - met.check.mg_dl).abs() < 3.0, "{met:?}");
    }
}

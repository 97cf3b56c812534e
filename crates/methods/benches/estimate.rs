//! The blood estimate over an invented 90 days, and a year: 26 sensors of two weeks, a reading each five minutes, four
//! blood checks a day; and one more reading while a sensor is worn.

use divan::Bencher;
use interstice_glucose::Censor;
use interstice_methods::estimate::{BloodCheck, Estimator, Live, SensorTrace};

fn main() {
    divan::main();
}

const WEAR_DAYS: u32 = 14;
const START: u32 = 1_700_000_000;

/// One sensor's columns.
struct Worn {
    at: Vec<u32>,
    mg_dl: Vec<f64>,
    censor: Vec<Censor>,
    aside: Vec<bool>,
}

struct Person {
    sensors: Vec<Worn>,
    checks: Vec<BloodCheck>,
}

/// A cheap repeatable wobble between −1 and 1.
fn wobble(i: u32) -> f64 {
    f64::from(i.wrapping_mul(2_654_435_761) >> 8) / f64::from(1u32 << 23) - 1.0
}

fn blood(at: u32) -> f64 {
    let minutes = f64::from(at - START) / 60.0;
    140.0 + 45.0 * libm::sin(minutes / 61.0) + 25.0 * libm::sin(minutes / 227.0)
}

fn person(days: u32) -> Person {
    let sensors = (0..days.div_ceil(WEAR_DAYS))
        .map(|sensor| {
            let from = START + sensor * WEAR_DAYS * 86_400 + 3600;
            let readings = (days - sensor * WEAR_DAYS).min(WEAR_DAYS) * 288 - 12;
            let at: Vec<u32> = (0..readings).map(|i| from + i * 300).collect();
            let gain = 1.0 + 0.08 * wobble(sensor);
            let mut lasting = 0.0;
            let mg_dl = at
                .iter()
                .map(|&at| {
                    lasting = 0.87 * lasting + 4.0 * wobble(at);
                    (gain * blood(at.saturating_sub(720).max(START)) + lasting).round()
                })
                .collect();
            Worn {
                censor: vec![Censor::None; at.len()],
                aside: vec![false; at.len()],
                at,
                mg_dl,
            }
        })
        .collect();
    let checks = (1..days * 4)
        .map(|i| {
            let at = START + i * 21_600 + (i * 137) % 9_000;
            let mg_dl = blood(at) * (1.0 + 0.06 * wobble(at));
            BloodCheck { at, mg_dl }
        })
        .collect();
    Person { sensors, checks }
}

fn traces(person: &Person) -> Vec<SensorTrace<'_>> {
    person
        .sensors
        .iter()
        .map(|worn| SensorTrace {
            started: worn.at[0] - 3600,
            at: &worn.at,
            mg_dl: &worn.mg_dl,
            censor: &worn.censor,
            aside: &worn.aside,
        })
        .collect()
}

/// Learning and the estimate of all sensors.
#[divan::bench(args = [90, 364], sample_count = 5)]
fn learn_and_estimate(bencher: Bencher<'_, '_>, days: u32) {
    let person = person(days);
    let traces = traces(&person);
    bencher.bench(|| {
        let estimator = Estimator::new(&traces, &person.checks);
        let learned = estimator.learn();
        estimator.estimate(&learned)
    });
}

/// One more reading and what it makes of blood.
#[divan::bench]
fn one_more_reading(bencher: Bencher<'_, '_>) {
    let person = person(14);
    let learned = Estimator::new(&traces(&person), &person.checks).learn();
    let worn = &person.sensors[0];
    let mut live = Live::new(&learned, worn.at[0]);
    for i in 0..500 {
        live.reading(worn.at[i], worn.mg_dl[i], Censor::None, i % 288 < 96);
    }
    let mut at = worn.at[499];
    bencher.bench_local(|| {
        at += 300;
        live.reading(at, 150.0, Censor::None, true);
        live.blood(at)
    });
}

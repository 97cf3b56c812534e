//! Pressure lows of one invented year at five minutes.

use interstice_glucose::{Censor, DAY_S};
use interstice_methods::pressure::{Known, Night, PressureParams, PressureTrace, pressure_lows};

const DAYS: u32 = 365;

fn main() {
    divan::main();
}

#[divan::bench]
fn one_year(bencher: divan::Bencher<'_, '_>) {
    let day = u32::try_from(DAY_S).unwrap_or(0);
    let at: Vec<u32> = (0..DAYS * 288).map(|i| day + i * 300).collect();
    let mg_dl: Vec<f64> = at.iter().map(|&at| invented(at)).collect();
    let censor = vec![Censor::None; at.len()];
    let nights: Vec<Night> = (1..=DAYS)
        .map(|i| Night {
            from: i * day + 82_800,
            to: i * day + 111_600,
            logged: false,
        })
        .collect();
    let known = Known {
        nights: &nights,
        ..Known::default()
    };
    let trace = PressureTrace {
        sensor: 0,
        at: &at,
        mg_dl: &mg_dl,
        censor: &censor,
    };
    bencher.bench(|| pressure_lows(divan::black_box(&trace), &known, &PressureParams::default()));
}

/// Meals, slow waves, a jitter of a few mg/dL, and two dips a night.
fn invented(at: u32) -> f64 {
    let hour = f64::from(at % 86_400) / 3600.0;
    let slow = libm::sin(f64::from(at) / 9000.0) * 30.0 + libm::sin(f64::from(at) / 23_000.0) * 25.0;
    let meals: f64 = [8.0, 13.0, 19.0]
        .iter()
        .map(|meal| 60.0 * libm::exp(-(hour - meal - 1.0).powi(2)))
        .sum();
    let jitter = f64::from(at.wrapping_mul(2_654_435_761) >> 20) / 4096.0 * 6.0 - 3.0;
    let dip = if (1.0..1.6).contains(&hour) || (4.0..4.8).contains(&hour) {
        0.7
    } else {
        1.0
    };
    (140.0 + slow + meals) * dip + jitter
}

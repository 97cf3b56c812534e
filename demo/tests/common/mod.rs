//! Figures about a scenario, computed from its truth.

use interstice_demo::{Deed, Reading, Scenario};

pub struct Figures {
    pub readings: usize,
    pub mean: f64,
    pub cv: f64,
    pub below_54: f64,
    pub below_70: f64,
    pub in_range: f64,
    pub above_250: f64,
}

pub fn figures(scenario: &Scenario) -> Figures {
    let values: Vec<f64> = scenario
        .truth
        .readings
        .iter()
        .map(|r| f64::from(r.mg_dl))
        .collect();
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1.0);
    let share = |is: &dyn Fn(f64) -> bool| values.iter().filter(|&&x| is(x)).count() as f64 / n * 100.0;
    Figures {
        readings: values.len(),
        mean,
        cv: variance.sqrt() / mean * 100.0,
        below_54: share(&|x| x < 54.0),
        below_70: share(&|x| x < 70.0),
        in_range: share(&|x| (70.0..=180.0).contains(&x)),
        above_250: share(&|x| x > 250.0),
    }
}

/// Mean absolute relative difference of readings from the first blood check in the five minutes before them, percent,
/// and the number of pairs.
pub fn mard(scenario: &Scenario, is: impl Fn(&Reading) -> bool) -> (f64, usize) {
    let readings = &scenario.truth.readings;
    let mut differences = Vec::new();
    for entry in &scenario.truth.entries {
        let Deed::BloodCheck { mg_dl, .. } = entry.deed else {
            continue;
        };
        let next = readings.partition_point(|r| r.at < entry.at);
        let Some(reading) = readings.get(next).filter(|r| r.at < entry.at + 300) else {
            continue;
        };
        if is(reading) {
            differences.push((f64::from(reading.mg_dl) - f64::from(mg_dl)).abs() / f64::from(mg_dl) * 100.0);
        }
    }
    (
        differences.iter().sum::<f64>() / differences.len() as f64,
        differences.len(),
    )
}

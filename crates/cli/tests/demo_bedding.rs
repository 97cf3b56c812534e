//! Whether bedding in helps, told of the invented scenario's blood checks, against the planted truth of every reading.

mod common;

use common::said;
use interstice_demo::{DEFAULT_SEED, Scenario};
use interstice_glucose::DAY_S;
use serde_json::Value;

/// Mean absolute relative difference from true blood over the first days of sensors that were, or were not, bedded in; the mean of
/// the sensors' means, percent.
fn truly(scenario: &Scenario, bedded: bool) -> f64 {
    let sensors = scenario.truth.sensors.iter().enumerate();
    let means: Vec<f64> = sensors
        .filter(|(_, sensor)| sensor.wear.bedded_in == bedded)
        .map(|(place, sensor)| {
            let first_day = scenario.truth.readings.iter().filter(|reading| {
                reading.sensor == place && reading.at < sensor.wear.started + DAY_S && reading.beyond == 0
            });
            let off: Vec<f64> = first_day
                .map(|reading| (f64::from(reading.mg_dl) / reading.blood_mg_dl - 1.0).abs())
                .collect();
            100.0 * off.iter().sum::<f64>() / off.len() as f64
        })
        .collect();
    means.iter().sum::<f64>() / means.len() as f64
}

#[test]
fn what_bedding_in_does_is_told_with_the_truth_in_its_margin() {
    let scenario = Scenario::build(DEFAULT_SEED);
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book");
    for file in scenario.write(folder.path()).unwrap() {
        said(
            &book,
            &["import", file.to_str().unwrap(), "--zone", scenario.zone],
        );
    }
    let said: Value = serde_json::from_str(&said(&book, &["wear", "--json"])).unwrap();
    let figure = |name: &str| said["bedding"][name].as_f64().unwrap();
    let (with, without) = (truly(&scenario, true), truly(&scenario, false));
    let truth = with - without;
    println!(
        "truly {with:.2} % with and {without:.2} % without bedding in, {truth:.2} points; told {}",
        said["bedding"]
    );
    assert!(truth < -2.0, "the scenario lets bedding in help: {truth}");
    assert!(figure("points_lo95") <= truth && truth <= figure("points_hi95"));
    assert!(
        (figure("points") - truth).abs() < 4.0,
        "{} beside {truth}",
        figure("points")
    );
    assert_eq!(said["bedding"]["standing"], "open");
    assert!(said["bedding"]["more_sensors"].as_u64().unwrap() > 0);
}

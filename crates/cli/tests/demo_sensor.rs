//! How each sensor of the invented scenario scales, against its planted truth, and its sections of `interstice trust --sensor`.
//!
//! Nothing in the estimate was chosen on this scenario. The truth is the scenario's own gain, settling, drift and offset; what
//! stands between is the whole road from files to figures.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::path::Path;

use common::said;
use interstice_demo::{DEFAULT_SEED, Scenario, SensorTruth};
use interstice_findings::trust::SensorFindings;
use interstice_findings::{Shelf, TrustAsk};
use interstice_glucose::DAY_S;

/// By how much a sensor truly reads high where it shows `level`, percent of the blood, while glucose is flat.
fn truly_high(sensor: &SensorTruth, at: i64, level: f64) -> f64 {
    let (traits, wear) = (&sensor.traits, &sensor.wear);
    let settling = libm::exp(-((at - wear.put_on) as f64) / 3600.0 / traits.settling_h);
    let days = (at - wear.started) as f64 / DAY_S as f64;
    let gain =
        traits.gain_settled + traits.gain_at_put_on * settling + traits.drift_a_day * (days - 7.0).max(0.0);
    let blood = (level - traits.offset_mg_dl) / (1.0 + gain);
    100.0 * (level / blood - 1.0)
}

/// Readings; those whose truth lies in the 90 % band, in the 50 % band; the sum of what it was off by; the same for no scale at all.
#[derive(Default)]
struct Score {
    readings: f64,
    in_90: f64,
    in_50: f64,
    off: f64,
    off_without: f64,
}

impl Score {
    fn add(&mut self, truth: &SensorTruth, found: &SensorFindings) {
        for (&at, high) in found.life.blood.at.iter().zip(&found.life.reads_high) {
            let truth = truly_high(truth, at.into(), found.scale.at_mg_dl);
            let held = |(low, high): (f64, f64)| f64::from(u8::from((low..=high).contains(&truth)));
            self.readings += 1.0;
            self.in_90 += held(high.most);
            self.in_50 += held(high.half);
            self.off += (high.percent - truth).abs();
            self.off_without += truth.abs();
        }
    }
}

#[test]
fn how_each_sensor_scales_is_told_back() {
    let scenario = Scenario::build(DEFAULT_SEED);
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book");
    for file in scenario.write(folder.path()).unwrap() {
        said(
            &book,
            &["import", file.to_str().unwrap(), "--zone", scenario.zone],
        );
    }
    let shelf = Shelf::new(&book);
    let mut score = Score::default();
    for truth in &scenario.truth.sensors {
        let ask = TrustAsk {
            sensor: Some(truth.wear.sensor.clone()),
            ..TrustAsk::default()
        };
        let found = shelf.sensor(&ask).unwrap();
        assert!(found.scale.reason.is_none(), "{}", truth.wear.sensor);
        score.add(truth, &found);
    }
    let share = |of: f64| of / score.readings;
    println!(
        "off by {:.2} points, {:.2} without; within the 90 % band {:.1} %, the 50 % band {:.1} %",
        share(score.off),
        share(score.off_without),
        100.0 * share(score.in_90),
        100.0 * share(score.in_50)
    );
    assert!(score.off < 0.4 * score.off_without);
    assert!(share(score.off) < 2.2);
    assert!(share(score.in_90) > 0.88);
    assert!(share(score.in_50) > 0.45);
    the_command_says_the_same(&book, &shelf);
}

fn the_command_says_the_same(book: &Path, shelf: &Shelf) {
    let text = said(book, &["trust", "--sensor", "S08"]);
    for part in [
        "Sensor S08, 20 December 2025 to 29 December 2025",
        "How this sensor scales, day by day of wear",
        "Beside your other sensors",
        "Silences and pressure",
        "lows of the night look as if someone lay on the sensor",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let json: serde_json::Value =
        serde_json::from_str(&said(book, &["trust", "--sensor", "S08", "--json"])).unwrap();
    let ask = TrustAsk {
        sensor: Some("S08".to_owned()),
        ..TrustAsk::default()
    };
    let kept = shelf.sensor(&ask).unwrap();
    assert_eq!(json["life"], serde_json::to_value(&*kept).unwrap());
    assert_eq!(json["mard_percent"], json["life"]["agreement"]["mard_percent"]);
    let all = said(book, &["trust", "--json"]);
    assert!(!all.contains("\"life\""));
}

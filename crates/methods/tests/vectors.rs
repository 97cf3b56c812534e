//! Published and worked values, each file naming its source in its first lines.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot read its own data must stop"
)]

use interstice_glucose::{Glucose, Levels, LivedClock, Readings, Said, Second, Unit};
use interstice_methods::{
    Account, Band, Episode, EpisodeEnd, Range, TargetGroup, glycaemia_risk, hba1c, primary, risk, symmetrised,
};

/// Half of the last digit printed in a file of four decimals.
const FOUR_DECIMALS: f64 = 0.5e-4 + 1e-9;
const THREE_DECIMALS: f64 = 0.5e-3 + 1e-9;

/// Rows of a vector file, its comment lines passed over.
fn rows(name: &str) -> Vec<csv::StringRecord> {
    let path = format!("{}/../../testdata/methods/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .flexible(true)
        .from_path(path)
        .unwrap();
    let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
    assert!(!rows.is_empty(), "{name} is empty");
    rows
}

fn number(row: &csv::StringRecord, column: usize) -> f64 {
    row[column].parse().unwrap()
}

#[track_caller]
fn near(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

/// A decimal number as a device would say it.
fn said(text: &str, unit: Unit) -> Said {
    let decimals = text.split_once('.').map_or(0, |(_, fraction)| fraction.len());
    let mantissa = text.replace('.', "").parse().unwrap();
    Said::new(
        mantissa,
        u8::try_from(decimals).unwrap(),
        unit,
        interstice_glucose::Censor::None,
    )
    .unwrap()
}

#[test]
fn units() {
    for row in rows("units") {
        let glucose = Glucose::from_mg_per_dl(number(&row, 0));
        near(glucose.mmol_per_l(), number(&row, 1), FOUR_DECIMALS);
        assert_eq!(glucose.shown(Unit::MmolPerL), row[4]);
    }
}

#[test]
fn hba1c_scales() {
    for row in rows("ifcc_ngsp") {
        let ngsp = number(&row, 0);
        let ifcc = hba1c::ifcc_mmol_mol(ngsp);
        near(ifcc, number(&row, 1), THREE_DECIMALS);
        near(ifcc.round(), number(&row, 2), 0.0);
        near(hba1c::ngsp_percent(ifcc), number(&row, 4), 1e-6);
    }
}

#[test]
fn estimated_average_glucose() {
    for row in rows("eag") {
        let mg = hba1c::estimated_average_glucose_mg_dl(number(&row, 0));
        near(mg, number(&row, 1), 1e-9);
        near(mg.round(), number(&row, 2), 0.0);
        near((mg / 18.0 * 10.0).round() / 10.0, number(&row, 6), 1e-9);
    }
}

#[test]
fn glucose_management_indicator() {
    for row in rows("gmi") {
        let mean = number(&row, 1);
        let (gmi, exact) = match &row[0] {
            "mgdl" => (hba1c::gmi_percent(mean), number(&row, 2)),
            _ => (hba1c::gmi_mmol_mol(mean), number(&row, 2)),
        };
        near(gmi, exact, FOUR_DECIMALS);
        near((gmi * 10.0 + 1e-9).round() / 10.0, number(&row, 3), 1e-9);
    }
}

#[test]
fn ranges() {
    for row in rows("range_buckets") {
        let band = Band::of(said(&row[0], Unit::MgPerDl));
        let range = match band.range() {
            Range::VeryLow => "very_low",
            Range::Low => "low",
            Range::InRange => "in_range",
            Range::High => "high",
            Range::VeryHigh => "very_high",
        };
        let pregnancy = match band.range_for(TargetGroup::Pregnancy) {
            Range::VeryLow | Range::Low => "below",
            Range::InRange => "target",
            Range::High | Range::VeryHigh => "above",
        };
        let tight = if band.is_tight() { "tight" } else { "not_tight" };
        assert_eq!(
            (range, tight, pregnancy),
            (&row[1], &row[2], &row[3]),
            "{}",
            &row[0]
        );
    }
}

#[test]
fn risk_of_a_value() {
    for row in rows("lbgi_hbgi") {
        let mg = number(&row, 0);
        near(symmetrised(mg), number(&row, 1), 0.5e-5 + 1e-9);
        near(risk(mg).low, number(&row, 3), FOUR_DECIMALS);
        near(risk(mg).high, number(&row, 4), FOUR_DECIMALS);
    }
    near(risk(1.0).low, risk(20.0).low, 0.0);
    near(risk(2000.0).high, risk(600.0).high, 0.0);
}

#[test]
fn glycaemia_risk_index() {
    for row in rows("gri") {
        let gri = glycaemia_risk(number(&row, 0), number(&row, 1), number(&row, 2), number(&row, 3));
        near(gri.hypo, number(&row, 4), 1e-9);
        near(gri.hyper, number(&row, 5), 1e-9);
        near(gri.index, number(&row, 7), 1e-9);
        assert_eq!(gri.zone().to_string(), row[8]);
    }
}

/// Two days, hourly.
#[test]
fn variability() {
    let mut levels = Levels::new();
    let mut readings = Readings::default();
    for row in rows("variability_trace") {
        let (day, hour): (u32, u32) = (row[0].parse().unwrap(), row[1].parse().unwrap());
        readings.push(
            ((day - 1) * 24 + hour) * 3600,
            levels.intern(said(&row[2], Unit::MgPerDl)),
        );
    }
    let series = primary(&[&readings]);
    let clock = LivedClock::fixed(0);
    let to: Second = 2 * 86_400;
    let account = Account::compute(&series, &levels, &clock, 0, to).unwrap();
    let summary = account.summary.map(Result::unwrap);
    let want: std::collections::BTreeMap<String, String> = rows("variability_expected")
        .iter()
        .map(|row| (row[0].to_owned(), row[1].to_owned()))
        .collect();
    let want = |name: &str| want[name].parse::<f64>().unwrap();
    for (got, name) in [
        (account.sufficiency.received as f64, "n"),
        (summary.mean_mg_dl, "mean_mgdl"),
        (summary.sd_mg_dl, "sd_n1"),
        (summary.cv_percent, "cv_total_pct"),
        (summary.j_index, "J_index_mgdl"),
        (summary.modd_mg_dl, "MODD_mgdl"),
        (summary.conga1_mg_dl, "CONGA1_sd_n1"),
        (summary.lbgi, "LBGI"),
        (summary.hbgi, "HBGI"),
        (summary.mage_mg_dl, "MAGE_mean_of_days"),
        (account.days[0].mage_mg_dl.unwrap(), "MAGE_day1_first_direction"),
        (account.days[1].mage_mg_dl.unwrap(), "MAGE_day2_first_direction"),
        (summary.gmi_percent, "GMI_pct"),
        (summary.very_low_percent, "pct_very_low"),
        (summary.low_percent, "pct_low"),
        (summary.in_range_percent, "pct_in_range"),
        (summary.high_percent, "pct_high"),
        (summary.very_high_percent, "pct_very_high"),
    ] {
        assert!(
            (got - want(name)).abs() <= FOUR_DECIMALS,
            "{name}: got {got}, want {}",
            want(name)
        );
    }
}

/// Low episodes of five-minute traces: start-end:nadir in minutes and mg/dL.
#[test]
fn episodes() {
    let traces = rows("episode_traces");
    for want in rows("episode_expected") {
        let (mut levels, mut readings) = (Levels::new(), Readings::default());
        for row in traces.iter().filter(|row| row[0] == want[0]) {
            let minute: u32 = row[1].parse().unwrap();
            readings.push(minute * 60, levels.intern(said(&row[2], Unit::MgPerDl)));
        }
        let series = primary(&[&readings]);
        let clock = LivedClock::fixed(0);
        let account = Account::compute(&series, &levels, &clock, 0, 86_400).unwrap();
        let level = if &want[1] == "54" { 2 } else { 1 };
        let found: Vec<&Episode> = account
            .episodes
            .iter()
            .filter(|episode| episode.level >= level)
            .collect();
        assert_eq!(found.len().to_string(), want[2], "{} {}", &want[0], &want[1]);
        let shown: Vec<String> = found
            .iter()
            .map(|episode| {
                let start = if level == 2 {
                    episode.level2_start.unwrap()
                } else {
                    episode.start
                };
                assert_eq!(episode.ending, EpisodeEnd::Recovered);
                format!("{}-{}:{}", start / 60, episode.end / 60, episode.extreme_mg_dl)
            })
            .collect();
        assert_eq!(shown.join(";"), want[3], "{} {}", &want[0], &want[1]);
    }
}

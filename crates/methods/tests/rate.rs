//! Rates of pressure lows and what verdicts teach, against files written with scipy by checks/pressure.py.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot read its own data must stop"
)]

use interstice_methods::pressure::Own;
use interstice_methods::rate::{count_interval, ratio_interval};

/// Both sides invert the same functions by other roads; what remains is rounding.
const SCIPY: f64 = 1e-8;
/// The minimiser on the other side stops near this.
const MODE: f64 = 1e-5;

fn rows(name: &str) -> Vec<csv::StringRecord> {
    let path = format!("{}/../../testdata/methods/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    let rows: Result<Vec<_>, _> = csv::Reader::from_path(path).unwrap().into_records().collect();
    rows.unwrap()
}

fn number(row: &csv::StringRecord, column: usize) -> f64 {
    row[column].parse().unwrap()
}

fn near(got: f64, want: f64, tolerance: f64, row: &csv::StringRecord) {
    let apart = (got - want).abs() / want.abs().max(1.0);
    assert!(
        got.total_cmp(&want).is_eq() || apart <= tolerance,
        "{got} for {row:?}"
    );
}

#[test]
fn garwoods_interval_is_that_of_chi_square() {
    let rows = rows("count_interval_scipy");
    assert_eq!(rows.len(), 54);
    for row in &rows {
        let found = count_interval(row[0].parse().unwrap(), number(row, 1));
        near(found.lo, number(row, 2), SCIPY, row);
        near(found.hi, number(row, 3), SCIPY, row);
    }
}

#[test]
fn a_ratio_of_rates_is_that_of_beta() {
    for row in &rows("rate_ratio_scipy") {
        let side = |column| (row[column].parse::<u64>().unwrap(), number(row, column + 1));
        let found = ratio_interval(side(0), side(2), 0.95).unwrap();
        near(found.lo, number(row, 4), SCIPY, row);
        near(found.hi, number(row, 5), SCIPY, row);
    }
}

#[test]
fn verdicts_shift_as_the_posterior_does() {
    for row in &rows("own_prior_scipy") {
        let verdicts = row[0].split(' ').map(|word| {
            let (probability, said) = word.split_at(word.len() - 1);
            (probability.parse::<f64>().unwrap(), said == "+")
        });
        let own = Own::of(verdicts);
        near(own.log_odds, number(row, 1), MODE, row);
        near(own.sd, number(row, 2), MODE, row);
    }
}

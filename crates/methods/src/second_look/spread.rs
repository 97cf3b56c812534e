//! How far the ridge is off, by what describes the moment.

use super::features::{FEATURES, PENALTY};
use super::ridge::{Line, Ridge, Sums};
use super::{HORIZONS, LEVELS, level};

/// Rows looked at, at most; of more, every second or third is taken.
const MOST_ROWS: usize = 4000;
/// The expected error is at least this share of its mean.
const LEAST_SHARE: f64 = 0.3;
/// The penalties are those of the ridge, at least this many rows.
const LEAST_PENALTY: f64 = 100.0;

/// The size of the ridge's error as a ridge of its own, and the levels of errors divided by it.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    at: Vec<OfHorizon>,
}

#[derive(Clone, Debug, PartialEq)]
struct OfHorizon {
    line: Line,
    least: f64,
    levels: [f64; LEVELS],
}

impl OfHorizon {
    fn size(&self, features: &[f64; FEATURES]) -> f64 {
        self.line.at(features).max(self.least)
    }
}

/// A moment with what followed, as the fits see it.
#[derive(Clone, Debug)]
pub(super) struct Row {
    pub(super) features: [f64; FEATURES],
    pub(super) changes: [Option<f64>; HORIZONS],
}

impl Spread {
    /// Fits it to the errors of a ridge over the rows it rests on.
    pub(super) fn fit(ridge: &Ridge, sums: &Sums, rows: &[Row]) -> Option<Self> {
        let step = rows.len().div_ceil(MOST_ROWS).max(1);
        let rows: Vec<&Row> = rows.iter().step_by(step).collect();
        let expected: Vec<[f64; HORIZONS]> = rows.iter().map(|row| ridge.changes(&row.features)).collect();
        let penalty = PENALTY.map(|penalty| penalty.max(LEAST_PENALTY));
        let at: Option<Vec<OfHorizon>> = (0..HORIZONS)
            .map(|h| {
                let known = rows.iter().zip(&expected);
                let errors: Vec<(&Row, f64)> = known
                    .filter_map(|(row, expected)| Some((*row, row.changes[h]? - expected[h])))
                    .collect();
                of_horizon(sums, h, &errors, &penalty)
            })
            .collect();
        Some(Spread { at: at? })
    }

    /// Levels of the error at each horizon, mg/dL.
    pub fn levels(&self, features: &[f64; FEATURES]) -> [[f64; LEVELS]; HORIZONS] {
        let mut all = [[0.0; LEVELS]; HORIZONS];
        for (levels, of) in all.iter_mut().zip(&self.at) {
            let size = of.size(features);
            *levels = of.levels.map(|level| level * size);
        }
        all
    }
}

fn of_horizon(sums: &Sums, h: usize, errors: &[(&Row, f64)], penalty: &[f64; FEATURES]) -> Option<OfHorizon> {
    if errors.is_empty() {
        return None;
    }
    let standard = sums.standard(h);
    // The sizes are those of some rows, the features' means and correlations those of all.
    let share = standard.rows / errors.len() as f64;
    let mut outcomes = [0.0; FEATURES + 1];
    let mut sums_of_rows = [0.0; FEATURES];
    for (row, error) in errors {
        let size = error.abs() * share;
        outcomes[0] += size;
        let both = outcomes[1..].iter_mut().zip(&mut sums_of_rows);
        for ((sum, of_rows), value) in both.zip(&row.features) {
            *sum += value * size;
            *of_rows += value;
        }
    }
    // Only how the size varies with a feature is to be learned: products about the means of the same rows.
    let mean = outcomes[0] / standard.rows;
    for a in 0..FEATURES {
        let own = sums_of_rows[a] / errors.len() as f64;
        outcomes[a + 1] += (standard.mean[a] - own) * mean * standard.rows;
    }
    let line = standard.solve(&outcomes, penalty)?;
    let mut of = OfHorizon {
        line,
        least: LEAST_SHARE * mean,
        levels: [0.0; LEVELS],
    };
    let mut scaled: Vec<f64> = errors
        .iter()
        .map(|(row, error)| error / of.size(&row.features).max(f64::MIN_POSITIVE))
        .collect();
    scaled.sort_unstable_by(f64::total_cmp);
    for place in 0..LEVELS {
        of.levels[place] = crate::quantile(&scaled, level(place)).unwrap_or(0.0);
    }
    Some(of)
}

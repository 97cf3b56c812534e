//! The ridge autoregression: how glucose changes by each horizon, straight from what describes a moment.

use nalgebra::{DMatrix, DVector};

use super::features::{FEATURES, PENALTY};
use super::{HORIZONS, HORIZONS_MIN};

/// Fewest rows a fit rests on at every horizon.
pub(super) const FEWEST_ROWS: f64 = 100.0;
/// A feature that varies less than this is taken for constant.
const FLAT: f64 = 1e-9;
/// One more for the ones.
const WIDE: usize = FEATURES + 1;

/// Products of the columns, ones first; the upper triangle, row after row.
#[derive(Clone, Debug)]
struct Gram {
    rows: f64,
    sums: Vec<f64>,
}

impl Gram {
    fn new() -> Self {
        Gram {
            rows: 0.0,
            sums: vec![0.0; WIDE * WIDE],
        }
    }

    fn add(&mut self, row: &[f64; WIDE]) {
        self.rows += 1.0;
        for (a, (sums, &left)) in self.sums.chunks_exact_mut(WIDE).zip(row).enumerate() {
            for (sum, &right) in sums[a..].iter_mut().zip(&row[a..]) {
                *sum += left * right;
            }
        }
    }

    fn get(&self, a: usize, b: usize) -> f64 {
        self.sums[a.min(b) * WIDE + a.max(b)]
    }
}

/// What a fit rests on, added up as the days go.
#[derive(Clone, Debug)]
pub(super) struct Sums {
    /// Rows whose outcomes are all known.
    whole: Gram,
    /// The others, for each horizon whose outcome is.
    parts: Vec<Gram>,
    /// Products of the columns and the outcomes.
    outcomes: Vec<[f64; WIDE]>,
}

impl Sums {
    pub(super) fn new() -> Self {
        Sums {
            whole: Gram::new(),
            parts: vec![Gram::new(); HORIZONS],
            outcomes: vec![[0.0; WIDE]; HORIZONS],
        }
    }

    /// One moment more, with what followed.
    pub(super) fn add(&mut self, features: &[f64; FEATURES], changes: &[Option<f64>; HORIZONS]) {
        let mut row = [1.0; WIDE];
        row[1..].copy_from_slice(features);
        let whole = changes.iter().all(Option::is_some);
        if whole {
            self.whole.add(&row);
        }
        for (h, change) in changes.iter().enumerate() {
            let Some(change) = change else { continue };
            if !whole {
                self.parts[h].add(&row);
            }
            for (sum, value) in self.outcomes[h].iter_mut().zip(&row) {
                *sum += value * change;
            }
        }
    }

    /// Rows at a horizon.
    pub(super) fn rows(&self, h: usize) -> f64 {
        self.whole.rows + self.parts[h].rows
    }

    /// Fits all horizons; `None` while there are too few rows.
    pub(super) fn fit(&self) -> Option<Ridge> {
        if (0..HORIZONS).any(|h| self.rows(h) < FEWEST_ROWS) {
            return None;
        }
        let lines: Option<Vec<Line>> = (0..HORIZONS)
            .map(|h| self.standard(h).solve(&self.outcomes[h], &PENALTY))
            .collect();
        Some(Ridge { lines: lines? })
    }

    /// Means, spreads and correlations of the features at a horizon.
    pub(super) fn standard(&self, h: usize) -> Standard {
        let rows = self.rows(h);
        let product = |a: usize, b: usize| self.whole.get(a, b) + self.parts[h].get(a, b);
        let mean: Vec<f64> = (1..WIDE).map(|a| product(0, a) / rows).collect();
        let spread: Vec<f64> = (0..FEATURES)
            .map(|a| {
                (product(a + 1, a + 1) / rows - mean[a] * mean[a])
                    .max(FLAT * FLAT)
                    .sqrt()
            })
            .collect();
        let correlation = DMatrix::from_fn(FEATURES, FEATURES, |a, b| {
            (product(a + 1, b + 1) / rows - mean[a] * mean[b]) / (spread[a] * spread[b])
        });
        Standard {
            rows,
            mean,
            spread,
            correlation,
        }
    }
}

/// The features of the rows of a fit, standardised.
#[derive(Clone, Debug)]
pub(super) struct Standard {
    pub(super) rows: f64,
    pub(super) mean: Vec<f64>,
    pub(super) spread: Vec<f64>,
    pub(super) correlation: DMatrix<f64>,
}

impl Standard {
    /// Solves for the line through these rows.
    ///
    /// * `outcomes`: products of ones and features with the outcome, over the rows.
    /// * `penalty`: of each standardised coefficient, in rows.
    pub(super) fn solve(&self, outcomes: &[f64; WIDE], penalty: &[f64; FEATURES]) -> Option<Line> {
        let mean = outcomes[0] / self.rows;
        let with = DVector::from_fn(FEATURES, |a, _| {
            (outcomes[a + 1] / self.rows - self.mean[a] * mean) / self.spread[a]
        });
        let mut system = self.correlation.clone();
        for a in 0..FEATURES {
            system[(a, a)] += penalty[a] / self.rows;
        }
        let solved = system.cholesky()?.solve(&with);
        let mut line = Line {
            constant: mean,
            slopes: [0.0; FEATURES],
        };
        for a in 0..FEATURES {
            line.slopes[a] = solved[a] / self.spread[a];
            line.constant -= line.slopes[a] * self.mean[a];
        }
        Some(line)
    }
}

/// A constant and a slope for each feature.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Line {
    pub(super) constant: f64,
    pub(super) slopes: [f64; FEATURES],
}

impl Line {
    pub(super) fn at(&self, features: &[f64; FEATURES]) -> f64 {
        let sum: f64 = self.slopes.iter().zip(features).map(|(slope, x)| slope * x).sum();
        self.constant + sum
    }
}

/// A ridge autoregression for each horizon (Hoerl and Kennard 1970, Technometrics 12:55).
///
/// With features standardised over the rows of the fit, the slopes minimise the sum of squared errors plus the penalty
/// times the squared slope; the constant is free. Each horizon is fitted by itself to the change since the moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Ridge {
    lines: Vec<Line>,
}

impl Ridge {
    /// Expected change by each horizon, mg/dL.
    pub fn changes(&self, features: &[f64; FEATURES]) -> [f64; HORIZONS] {
        let mut changes = [0.0; HORIZONS];
        for (change, line) in changes.iter_mut().zip(&self.lines) {
            *change = line.at(features);
        }
        changes
    }

    /// Constant, then slope of each feature, at the horizon of so many minutes.
    pub fn coefficients(&self, minutes: u32) -> Option<(f64, [f64; FEATURES])> {
        let place = HORIZONS_MIN.iter().position(|&horizon| horizon == minutes)?;
        Some((self.lines[place].constant, self.lines[place].slopes))
    }
}

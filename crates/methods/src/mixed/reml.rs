//! The variances, by restricted maximum likelihood.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::sums::{MixedError, Nested, Ratios, Solved};

/// Steps of scoring; a handful is usual.
const MOST_STEPS: u32 = 200;
/// Halvings of a step that makes things worse.
const MOST_HALVINGS: u32 = 40;
/// A step is the last one where it changes no variance by more than this share.
const STILL: f64 = 1e-11;
/// Ratios to the variance of a row from which the best is taken to start from.
const STARTS: [f64; 7] = [0.0, 0.02, 0.1, 0.4, 1.0, 4.0, 20.0];

/// Where the variances of groups may lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bounds {
    /// At 0 or above: what a variance is.
    NotNegative,
    /// Anywhere while the covariance of the rows is one. Estimates below 0 are no variances, but with groups of equal size
    /// intervals built on them are exactly those of the t tests on group means. With groups of unequal size and few of them they
    /// are wider than they need be (see `docs/methods/mixed-model.md`).
    Free,
}

/// A fitted model.
#[derive(Clone, Debug)]
pub struct Fit<'a> {
    pub(super) nested: &'a Nested,
    pub(super) solved: Solved,
    /// Variances of rows, outer groups, inner groups.
    pub(super) variances: [f64; 3],
    /// Which of the three were estimated.
    pub(super) free: Vec<usize>,
}

/// What a group is thought to add to its rows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prediction {
    /// Number of the outer group.
    pub group: u32,
    /// Best linear unbiased prediction of its shift.
    pub shift: f64,
    /// Standard error of the prediction, the variances taken as known (Henderson 1975, Biometrics 31:423–447).
    pub standard_error: f64,
}

/// First derivatives and expected information of the restricted likelihood, and what they are made of.
pub(super) struct Slopes {
    /// Inverse of X' V⁻¹ X.
    pub(super) phi: DMatrix<f64>,
    /// X' V⁻¹ Vi V⁻¹ X.
    pub(super) first: Vec<DMatrix<f64>>,
    /// X' V⁻¹ Vi V⁻¹ Vj V⁻¹ X.
    pub(super) second: Vec<Vec<DMatrix<f64>>>,
    pub(super) score: Vec<f64>,
    pub(super) information: DMatrix<f64>,
}

impl Nested {
    /// Fits by REML.
    ///
    /// The best of a coarse grid of starts is followed by Fisher scoring with halved steps; where a variance must not be
    /// negative and would be, it is held at 0 and the rest fitted again, and the best of those fits is taken.
    ///
    /// # Errors
    /// `NoSpread` where the likelihood has no highest point.
    pub fn fit(&self, bounds: Bounds) -> Result<Fit<'_>, MixedError> {
        let steps: &[usize] = if self.has_inner { &[1, 2] } else { &[1] };
        let whole = self.climb(steps);
        let negative = |fit: &Fit<'_>| fit.variances.iter().any(|&variance| variance < 0.0);
        match whole {
            Some(fit) if bounds == Bounds::Free || !negative(&fit) => Ok(fit),
            Some(_) | None => {
                let held: &[&[usize]] = if self.has_inner {
                    &[&[1], &[2], &[]]
                } else {
                    &[&[]]
                };
                let fits = held.iter().filter_map(|steps| self.climb(steps));
                fits.filter(|fit| !negative(fit))
                    .min_by(|a, b| {
                        a.minus_twice_log_likelihood()
                            .total_cmp(&b.minus_twice_log_likelihood())
                    })
                    .ok_or(MixedError::NoSpread)
            }
        }
    }

    /// Twice the restricted log-likelihood, its sign turned, at the best variance of a row, without constants.
    fn height(&self, ratios: Ratios) -> Option<(f64, Solved)> {
        let solved = self.solve(ratios)?;
        let freedom = self.freedom();
        let height = solved.log_determinants + freedom * libm::log(solved.left / freedom);
        height.is_finite().then_some((height, solved))
    }

    /// The highest point with the given steps' variances free and the others at 0.
    fn climb(&self, steps: &[usize]) -> Option<Fit<'_>> {
        let (mut height, mut solved, mut ratios) = self.best_start(steps)?;
        let free: Vec<usize> = std::iter::once(0).chain(steps.iter().copied()).collect();
        for _ in 0..MOST_STEPS {
            let variance = solved.left / self.freedom();
            let variances = [variance, variance * ratios.outer, variance * ratios.inner];
            let slopes = self.slopes(&solved, variances, &free)?;
            let score = DVector::from_column_slice(&slopes.score);
            let Some(step) = Cholesky::new(slopes.information).map(|factor| factor.solve(&score)) else {
                break;
            };
            let Some(next) = self.take_step(&free, variances, &step, height) else {
                break;
            };
            let moved = largest_change(ratios, next.2);
            (height, solved, ratios) = next;
            if moved < STILL {
                break;
            }
        }
        let variance = solved.left / self.freedom();
        Some(Fit {
            nested: self,
            variances: [variance, variance * ratios.outer, variance * ratios.inner],
            solved,
            free,
        })
    }

    fn best_start(&self, steps: &[usize]) -> Option<(f64, Solved, Ratios)> {
        let of = |step: usize| {
            if steps.contains(&step) {
                &STARTS[..]
            } else {
                &STARTS[..1]
            }
        };
        let mut best: Option<(f64, Solved, Ratios)> = None;
        for &outer in of(1) {
            for &inner in of(2) {
                let ratios = Ratios { outer, inner };
                if let Some((height, solved)) = self.height(ratios)
                    && best.as_ref().is_none_or(|best| height < best.0)
                {
                    best = Some((height, solved, ratios));
                }
            }
        }
        best
    }

    /// A step of scoring, halved until it does not climb down.
    fn take_step(
        &self,
        free: &[usize],
        variances: [f64; 3],
        step: &DVector<f64>,
        height: f64,
    ) -> Option<(f64, Solved, Ratios)> {
        let mut part = 1.0;
        for _ in 0..MOST_HALVINGS {
            let mut next = variances;
            for (&which, change) in free.iter().zip(step.iter()) {
                next[which] += part * change;
            }
            let ratios = Ratios {
                outer: next[1] / next[0],
                inner: next[2] / next[0],
            };
            if next[0] > 0.0
                && let Some((reached, solved)) = self.height(ratios)
                && reached <= height + 1e-13 * height.abs()
            {
                return Some((reached, solved, ratios));
            }
            part *= 0.5;
        }
        None
    }

    /// Derivatives at the given variances, for the free ones among them.
    ///
    /// Only what belongs to groups is added up. What belongs to single rows follows, since V is the sum of its parts:
    /// `Σ θi V⁻¹ Vi = 1`.
    pub(super) fn slopes(&self, solved: &Solved, variances: [f64; 3], free: &[usize]) -> Option<Slopes> {
        let p = self.columns;
        let rows = variances[0];
        let parts = self.parts(solved, variances)?;
        let phi = solved.factor.inverse() * rows;
        let used: Vec<usize> = free.iter().copied().filter(|&which| which > 0).collect();
        let theta: Vec<f64> = used.iter().map(|&which| variances[which]).collect();
        let zero = || DMatrix::zeros(p, p);

        let mut first = vec![zero()];
        let mut second = vec![vec![zero(); used.len() + 1]; used.len() + 1];
        let mut trace = vec![0.0; used.len() + 1];
        let mut pair_trace = DMatrix::zeros(used.len() + 1, used.len() + 1);
        let mut squares = vec![0.0; used.len() + 1];
        for (i, &a) in used.iter().enumerate() {
            first.push(parts.first[a - 1].clone());
            trace[i + 1] = parts.trace[a - 1];
            squares[i + 1] = parts.squares[a - 1];
            for (j, &b) in used.iter().enumerate() {
                second[i + 1][j + 1] = parts.second[a - 1][b - 1].clone();
                pair_trace[(i + 1, j + 1)] = parts.pair_trace[a - 1][b - 1];
            }
        }
        let inverse = solved.factor.l() * solved.factor.l().transpose() / rows;
        first[0] = rest(inverse, &theta, &first, rows);
        trace[0] = (self.rows as f64 - dot(&theta, &trace[1..])) / rows;
        squares[0] = (solved.left / rows - dot(&theta, &squares[1..])) / rows;
        for i in (1..=used.len()).chain([0]) {
            let row = second[i].clone();
            second[i][0] = rest(first[i].clone(), &theta, &row, rows);
            second[0][i] = second[i][0].transpose();
            let with_groups: f64 = (1..=used.len()).map(|j| theta[j - 1] * pair_trace[(i, j)]).sum();
            pair_trace[(i, 0)] = (trace[i] - with_groups) / rows;
            pair_trace[(0, i)] = pair_trace[(i, 0)];
        }
        let score = (0..first.len())
            .map(|i| 0.5 * (squares[i] - trace[i] + (&phi * &first[i]).trace()))
            .collect();
        let information = DMatrix::from_fn(first.len(), first.len(), |i, j| {
            let through = (&phi * &second[i][j]).trace();
            let twice = (&phi * &first[i] * &phi * &first[j]).trace();
            0.5 * (pair_trace[(i, j)] - 2.0 * through + twice)
        });
        Some(Slopes {
            phi,
            first,
            second,
            score,
            information,
        })
    }

    fn parts(&self, solved: &Solved, variances: [f64; 3]) -> Option<Parts> {
        let ratios = Ratios {
            outer: variances[1] / variances[0],
            inner: variances[2] / variances[0],
        };
        let mut parts = Parts::new(self.columns);
        for cluster in &self.clusters {
            let weighed = cluster.weigh(ratios, self.has_inner)?;
            parts.add(&weighed, &solved.fixed, variances[0]);
        }
        Some(parts)
    }
}

/// What is left for the rows of `whole`, once what belongs to groups is taken.
fn rest(whole: DMatrix<f64>, theta: &[f64], of_groups: &[DMatrix<f64>], rows: f64) -> DMatrix<f64> {
    let mut left = whole;
    for (variance, part) in theta.iter().zip(&of_groups[1..]) {
        left -= part * *variance;
    }
    left / rows
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn largest_change(from: Ratios, to: Ratios) -> f64 {
    let change = |a: f64, b: f64| (a - b).abs() / (1.0 + b.abs());
    change(from.outer, to.outer).max(change(from.inner, to.inner))
}

/// Sums over groups of what the derivatives by the outer and the inner variance are made of.
struct Parts {
    columns: usize,
    first: [DMatrix<f64>; 2],
    second: [[DMatrix<f64>; 2]; 2],
    trace: [f64; 2],
    pair_trace: [[f64; 2]; 2],
    squares: [f64; 2],
}

impl Parts {
    fn new(columns: usize) -> Self {
        let zero = || DMatrix::zeros(columns, columns);
        Parts {
            columns,
            first: [zero(), zero()],
            second: [[zero(), zero()], [zero(), zero()]],
            trace: [0.0; 2],
            pair_trace: [[0.0; 2]; 2],
            squares: [0.0; 2],
        }
    }

    /// Adds one outer group, `rows` being the variance of a row.
    fn add(&mut self, weighed: &super::sums::Weighed, fixed: &DVector<f64>, rows: f64) {
        let p = self.columns;
        let split = |sums: &DVector<f64>| {
            let x = sums.rows(0, p).into_owned() / rows;
            let left = (sums[p] / rows) - x.dot(fixed);
            (x, left)
        };
        let (outer, left) = split(&weighed.outer_sums);
        let outer_weight = weighed.outer / rows;
        let shared = weighed.shared / rows;
        self.first[0].ger(1.0, &outer, &outer, 1.0);
        self.second[0][0].ger(outer_weight, &outer, &outer, 1.0);
        self.trace[0] += outer_weight;
        self.pair_trace[0][0] += outer_weight * outer_weight;
        self.squares[0] += left * left;

        let mut by_outer = DVector::zeros(p);
        let mut by_weight = DVector::zeros(p);
        let (mut sum2, mut sum4) = (0.0, 0.0);
        for (weight, sums) in &weighed.cells {
            let (x, left) = split(sums);
            let to_outer = weight / (weighed.spread * rows);
            self.first[1].ger(1.0, &x, &x, 1.0);
            self.second[1][1].ger(weight / rows, &x, &x, 1.0);
            by_outer.axpy(to_outer, &x, 1.0);
            by_weight.axpy(*weight, &x, 1.0);
            let own = weight / rows - shared * weight * weight;
            self.trace[1] += own;
            self.pair_trace[1][1] += own * own;
            self.pair_trace[0][1] += to_outer * to_outer;
            self.squares[1] += left * left;
            sum2 += weight * weight;
            sum4 += weight * weight * weight * weight;
        }
        self.second[1][1].ger(-shared, &by_weight, &by_weight, 1.0);
        self.second[0][1].ger(1.0, &outer, &by_outer, 1.0);
        self.second[1][0] = self.second[0][1].transpose();
        self.pair_trace[1][1] += shared * shared * (sum2 * sum2 - sum4);
        self.pair_trace[1][0] = self.pair_trace[0][1];
    }
}

impl Fit<'_> {
    /// Coefficients of the fixed part.
    pub fn fixed(&self) -> &[f64] {
        self.solved.fixed.as_slice()
    }

    /// Variance of a row, once its groups are known.
    pub fn row_variance(&self) -> f64 {
        self.variances[0]
    }

    /// Variance between outer groups.
    pub fn outer_variance(&self) -> f64 {
        self.variances[1]
    }

    /// Variance between inner groups of an outer one; 0 in a model of one step.
    pub fn inner_variance(&self) -> f64 {
        self.variances[2]
    }

    /// Covariance of the coefficients, the variances taken as known: (X' V⁻¹ X)⁻¹.
    pub fn plain_covariance(&self) -> DMatrix<f64> {
        self.solved.factor.inverse() * self.variances[0]
    }

    /// Minus twice the restricted log-likelihood, with the constant `(n - p) (1 + log 2π)`, without `log |X' X|`.
    pub fn minus_twice_log_likelihood(&self) -> f64 {
        let freedom = self.nested.freedom();
        self.solved.log_determinants
            + freedom * (libm::log(self.variances[0]) + 1.0 + libm::log(2.0 * std::f64::consts::PI))
    }

    /// The shift of every outer group, in the order of their numbers. Wants a fit with [`Bounds::NotNegative`].
    pub fn predictions(&self) -> Vec<Prediction> {
        let p = self.nested.columns;
        let ratios = Ratios {
            outer: self.variances[1] / self.variances[0],
            inner: self.variances[2] / self.variances[0],
        };
        let prediction = |cluster: &super::sums::Cluster| {
            let weighed = cluster.weigh(ratios, self.nested.has_inner)?;
            let x = weighed.outer_sums.rows(0, p).into_owned();
            let left = weighed.outer_sums[p] - x.dot(&self.solved.fixed);
            let known = weighed.outer - x.dot(&self.solved.factor.solve(&x));
            let variance = ratios.outer - ratios.outer * ratios.outer * known;
            Some(Prediction {
                group: cluster.number,
                shift: ratios.outer * left,
                standard_error: (variance.max(0.0) * self.variances[0]).sqrt(),
            })
        };
        self.nested.clusters.iter().filter_map(prediction).collect()
    }
}

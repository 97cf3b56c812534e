//! The level of every outer group, drawn towards the others as far as the data ask for it.

use nalgebra::DVector;

use super::sums::{Cluster, Nested, Ratios};
use crate::Interval;
use crate::student::below;

/// Points of the prior of each standard deviation.
const POINTS: u32 = 20;
/// Combinations of variances that weigh less than this are left out.
const LIGHTEST: f64 = 1e-5;
/// Doublings and halvings when a quantile is looked for.
const HALVINGS: u32 = 60;
/// A quantile is found where it lies within this share of the widest scale.
const FINE: f64 = 1e-6;

/// The level of a group: what a new row of it may be expected to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shrunken {
    /// Number of the outer group.
    pub group: u32,
    /// Mean of its rows, nothing shrunken.
    pub raw_mean: f64,
    /// Rows.
    pub rows: u64,
    /// Inner groups (sensors of a site, say).
    pub inner_groups: u64,
    /// Expected level.
    pub level: f64,
    /// Credible interval of the level.
    pub interval: Interval,
}

/// One combination of variances.
struct Point {
    weight: f64,
    ratios: Ratios,
    solved: super::sums::Solved,
}

impl Nested {
    /// The level `x β + shift` of every outer group, with a credible interval.
    ///
    /// * `at`: the row of the fixed part at which the level is taken, one value a column.
    /// * `confidence`: between 0 and 1.
    ///
    /// The variances are not fixed at their estimates, which are often 0 where groups are few: the restricted likelihood is
    /// integrated over them (it is the likelihood with β integrated out: Harville 1974, Biometrika 61:383–385), each
    /// standard deviation of groups, as a multiple of that of rows, having a half-Cauchy prior of scale 1 (Gelman 2006,
    /// Bayesian Analysis 1:515–534), β and the logarithm of the variance of rows flat ones. Given the ratios a level is
    /// Student's t, so that the whole is a mixture of those; the ends are its quantiles.
    pub fn shrunken(&self, at: &[f64], confidence: f64) -> Vec<Shrunken> {
        if at.len() != self.columns {
            return Vec::new();
        }
        let points = self.points();
        let at = DVector::from_column_slice(at);
        let tail = 0.5 * (1.0 - confidence.clamp(0.0, 1.0));
        let level = |cluster: &Cluster| self.level(cluster, &points, &at, tail);
        self.clusters.iter().filter_map(level).collect()
    }

    /// The combinations of variances with their posterior weights.
    fn points(&self) -> Vec<Point> {
        let ratio = |k: u32| {
            // Middle of an equal share of a half-Cauchy's probability.
            let share = (f64::from(k) + 0.5) / f64::from(POINTS);
            let deviation = libm::tan(0.5 * std::f64::consts::PI * share);
            deviation * deviation
        };
        let inner = if self.has_inner { POINTS } else { 1 };
        let mut points = Vec::new();
        for (i, j) in (0..POINTS).flat_map(|i| (0..inner).map(move |j| (i, j))) {
            let ratios = Ratios {
                outer: ratio(i),
                inner: if self.has_inner { ratio(j) } else { 0.0 },
            };
            if let Some(solved) = self.solve(ratios) {
                let log = -0.5 * (solved.log_determinants + self.freedom() * libm::log(solved.left));
                points.push(Point {
                    weight: log,
                    ratios,
                    solved,
                });
            }
        }
        let highest = points.iter().map(|point| point.weight).fold(f64::MIN, f64::max);
        for point in &mut points {
            point.weight = libm::exp(point.weight - highest);
        }
        points.retain(|point| point.weight > LIGHTEST);
        let sum: f64 = points.iter().map(|point| point.weight).sum();
        for point in &mut points {
            point.weight /= sum;
        }
        points
    }

    fn level(&self, cluster: &Cluster, points: &[Point], at: &DVector<f64>, tail: f64) -> Option<Shrunken> {
        let p = self.columns;
        let freedom = self.freedom();
        let mut parts = Vec::with_capacity(points.len());
        for point in points {
            let weighed = cluster.weigh(point.ratios, self.has_inner)?;
            let ratio = point.ratios.outer;
            let x = weighed.outer_sums.rows(0, p).into_owned();
            let shift = ratio * (weighed.outer_sums[p] - x.dot(&point.solved.fixed));
            // The coefficients count at `at`, less what the shift takes back.
            let along = at - &x * ratio;
            let unknown =
                ratio - ratio * ratio * weighed.outer + along.dot(&point.solved.factor.solve(&along));
            let scale = (unknown.max(0.0) * point.solved.left / freedom).sqrt();
            parts.push((point.weight, at.dot(&point.solved.fixed) + shift, scale));
        }
        let rows: f64 = cluster.cells.iter().map(|cell| cell.rows).sum();
        let sum: f64 = cluster.cells.iter().map(|cell| cell.sums[p]).sum();
        Some(Shrunken {
            group: cluster.number,
            raw_mean: sum / rows,
            rows: rows as u64,
            inner_groups: cluster.cells.len() as u64,
            level: parts.iter().map(|(weight, middle, _)| weight * middle).sum(),
            interval: Interval {
                lo: quantile(&parts, freedom, tail),
                hi: quantile(&parts, freedom, 1.0 - tail),
            },
        })
    }
}

/// Quantile of a mixture of (weight, middle, scale), each Student's t.
fn quantile(parts: &[(f64, f64, f64)], freedom: f64, p: f64) -> f64 {
    let share = |value: f64| -> f64 {
        let one = |&(weight, middle, scale): &(f64, f64, f64)| {
            let t = if scale > 0.0 {
                (value - middle) / scale
            } else {
                f64::INFINITY.copysign(value - middle)
            };
            weight * below(t, freedom)
        };
        parts.iter().map(one).sum()
    };
    let reach = parts.iter().map(|part| part.2).fold(0.0, f64::max).max(1e-9);
    let ends = parts.iter().map(|part| part.1);
    let mut low = ends.clone().fold(f64::INFINITY, f64::min) - reach;
    let mut high = ends.fold(f64::NEG_INFINITY, f64::max) + reach;
    for _ in 0..HALVINGS {
        if share(low) <= p {
            break;
        }
        low -= high - low;
    }
    for _ in 0..HALVINGS {
        if share(high) >= p {
            break;
        }
        high += high - low;
    }
    for _ in 0..HALVINGS {
        if high - low < FINE * reach {
            break;
        }
        let middle = 0.5 * (low + high);
        if share(middle) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

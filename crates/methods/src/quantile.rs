//! Quantiles, with and without weights.

/// The middle value, and the mean of the middle two of an even number; 0 of nothing. Sorts what it is given.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    quantile(values, 0.5).unwrap_or(0.0)
}

/// The quantile of `sorted` at `p`: linear between order statistics at `p (n - 1)` (type 7 of Hyndman and Fan 1996,
/// Am Stat 50:361–365).
///
/// * `sorted`: ascending, finite.
/// * `p`: 0 to 1; held within.
///
/// `None` of nothing.
///
/// ```
/// assert_eq!(interstice_methods::quantile(&[1.0, 2.0, 4.0], 0.75), Some(3.0));
/// ```
pub fn quantile(sorted: &[f64], p: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let place = p.clamp(0.0, 1.0) * last as f64;
    let below = (place as usize).min(last);
    let above = (below + 1).min(last);
    Some(sorted[below] + (sorted[above] - sorted[below]) * (place - below as f64))
}

/// Weighted values in ascending order, ready for quantiles.
///
/// With sum of weights W and mean weight v = sum w² / W, the quantile at p is the mean of the weighted values lying
/// between `p (W - v)` and `p (W - v) + v` of their cumulative weight. With equal weights that is exactly
/// [`quantile`]; it moves continuously with the weights (the type 7 form of Akinshin 2023, arXiv:2304.07265).
#[derive(Clone, Debug, Default)]
pub(crate) struct Weighted {
    values: Vec<f64>,
    /// Weight up to and with each value.
    cumulative: Vec<f64>,
    total: u64,
    squares: u64,
}

impl Weighted {
    /// Adds a value not below those before it, with the weight of all readings that have it.
    pub(crate) fn push(&mut self, value: f64, weight: u64) {
        self.total += weight;
        self.values.push(value);
        self.cumulative.push(self.total as f64);
    }

    /// Adds to the sum of squared weights of single readings.
    pub(crate) fn add_squares(&mut self, squares: u64) {
        self.squares += squares;
    }

    /// Sum of the weights.
    pub(crate) fn total(&self) -> u64 {
        self.total
    }

    pub(crate) fn quantile(&self, p: f64) -> Option<f64> {
        let total = self.total as f64;
        let mean_weight = self.squares as f64 / total;
        let from = p * (total - mean_weight);
        let to = from + mean_weight;
        let first = self
            .cumulative
            .partition_point(|&until| until <= from)
            .min(self.values.len().checked_sub(1)?);
        let base = self.values[first];
        let mut above_base = 0.0;
        for k in first + 1..self.values.len() {
            let begins = self.cumulative[k - 1];
            if begins >= to {
                break;
            }
            above_base += (self.values[k] - base) * (self.cumulative[k].min(to) - begins);
        }
        Some(base + above_base / mean_weight)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn weighted(sorted: &[(f64, u64)]) -> Weighted {
        let mut weighted = Weighted::default();
        for &(value, weight) in sorted {
            weighted.push(value, weight);
            weighted.add_squares(weight * weight);
        }
        weighted
    }

    /// Worked with numpy.percentile([3, 1, 4, 1, 5, 9, 2, 6], [5, 25, 50, 75, 95]), default method.
    #[test]
    fn linear_between_order_statistics() {
        let sorted = [1.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 9.0];
        for (p, want) in [(0.05, 1.0), (0.25, 1.75), (0.5, 3.5), (0.75, 5.25), (0.95, 7.95)] {
            assert!((quantile(&sorted, p).unwrap() - want).abs() < 1e-12);
        }
        assert_eq!(quantile(&[], 0.5), None);
        assert_eq!(weighted(&[]).quantile(0.5), None);
    }

    proptest! {
        #[test]
        fn equal_weights_change_nothing(mut values in proptest::collection::vec(20.0f64..600.0, 1..60), weight in 1u64..4000, p in 0.0f64..=1.0) {
            values.sort_by(f64::total_cmp);
            let rows: Vec<_> = values.iter().map(|&value| (value, weight)).collect();
            let (got, want) = (weighted(&rows).quantile(p).unwrap(), quantile(&values, p).unwrap());
            prop_assert!((got - want).abs() < 1e-9, "{} {}", got, want);
        }

        #[test]
        fn quantiles_ascend_and_stay_within(mut rows in proptest::collection::vec((20.0f64..600.0, 1u64..4000), 1..60)) {
            rows.sort_by(|a, b| a.0.total_cmp(&b.0));
            let of = weighted(&rows);
            let found: Vec<f64> = (0..=20).map(|i| of.quantile(f64::from(i) / 20.0).unwrap()).collect();
            for pair in found.windows(2) {
                prop_assert!(pair[0] <= pair[1] + 1e-9);
            }
            prop_assert!(found[0] >= rows[0].0 - 1e-9 && found[20] <= rows[rows.len() - 1].0 + 1e-9);
        }
    }
}

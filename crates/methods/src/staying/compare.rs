//! Whether groups of sensors stay on for different times.

use nalgebra::{DMatrix, DVector};

use super::{Stay, sorted};
use crate::gamma::upper;

/// Groups held against each other over the whole time.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// By group: sensors, lost, and how many would have been lost if all groups were alike.
    pub groups: Vec<(u64, u64, f64)>,
    /// The statistic.
    pub chi_square: f64,
    /// Groups less one.
    pub freedom: u32,
    /// Chance of so large a statistic if all groups were alike. Far too small or too large where fewer than about five
    /// losses were to be expected in a group.
    pub p: f64,
}

/// The log-rank test (Mantel 1966, Cancer Chemother Rep 50:163; Peto and Peto 1972, J R Stat Soc A 135:185).
///
/// At each time of a loss each group would lose its share of those at risk; the losses beyond that, summed, are
/// weighed by their hypergeometric covariance. `None` with fewer than two groups that hold a sensor at risk at any loss, and
/// without a loss.
pub fn log_rank(groups: &[&[Stay]]) -> Option<Compared> {
    let groups: Vec<Vec<Stay>> = groups.iter().map(|group| sorted(group)).collect();
    let counts = groups.len();
    let mut times: Vec<f64> = groups
        .iter()
        .flatten()
        .filter(|stay| stay.lost)
        .map(|stay| stay.hours)
        .collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    let mut lost = vec![0.0; counts];
    let mut expected = vec![0.0; counts];
    let mut covariance = DMatrix::<f64>::zeros(counts, counts);
    for &time in &times {
        let at_risk: Vec<f64> = groups.iter().map(|group| at_risk(group, time)).collect();
        let gone: Vec<f64> = groups.iter().map(|group| lost_at(group, time)).collect();
        let (all, all_gone): (f64, f64) = (at_risk.iter().sum(), gone.iter().sum());
        let spread = if all > 1.0 {
            all_gone * (all - all_gone) / (all - 1.0)
        } else {
            0.0
        };
        for (a, &of_a) in at_risk.iter().enumerate() {
            lost[a] += gone[a];
            expected[a] += all_gone * of_a / all;
            for (b, &of_b) in at_risk.iter().enumerate() {
                let same = if a == b { 1.0 } else { 0.0 };
                covariance[(a, b)] += spread * of_a / all * (same - of_b / all);
            }
        }
    }
    // The differences add up to nothing, so that one group is left out; so is one that was never at risk at a loss.
    let told: Vec<usize> = (0..counts)
        .filter(|&group| covariance[(group, group)] > 0.0)
        .collect();
    let (_, kept) = told.split_first()?;
    let beyond = DVector::from_iterator(
        kept.len(),
        kept.iter().map(|&group| lost[group] - expected[group]),
    );
    let spread = DMatrix::from_fn(kept.len(), kept.len(), |a, b| covariance[(kept[a], kept[b])]);
    let weighed = spread.cholesky()?.solve(&beyond);
    let chi_square = beyond.dot(&weighed);
    let freedom = u32::try_from(kept.len()).ok()?;
    if freedom == 0 {
        return None;
    }
    Some(Compared {
        groups: (0..counts)
            .map(|group| (groups[group].len() as u64, lost[group] as u64, expected[group]))
            .collect(),
        chi_square,
        freedom,
        p: upper(0.5 * f64::from(freedom), 0.5 * chi_square),
    })
}

fn at_risk(group: &[Stay], time: f64) -> f64 {
    (group.len() - group.partition_point(|stay| stay.hours < time)) as f64
}

fn lost_at(group: &[Stay], time: f64) -> f64 {
    let first = group.partition_point(|stay| stay.hours < time);
    let after = group.partition_point(|stay| stay.hours <= time);
    group[first..after].iter().filter(|stay| stay.lost).count() as f64
}

//! The downhill simplex of Nelder and Mead.

/// What the search came to.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Lowest {
    /// Where.
    pub(crate) at: Vec<f64>,
    /// The value there.
    pub(crate) value: f64,
}

/// When to stop.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stop {
    /// Values of the function looked at, at most.
    pub(crate) evaluations: usize,
    /// Difference between the best and the worst corner.
    pub(crate) value: f64,
    /// Largest distance from the best corner along any axis.
    pub(crate) place: f64,
}

/// The place where `f` is lowest, from `start` with first steps of `step` along each axis.
///
/// Reflection 1, expansion 2, contraction and shrinking one half. A value that is not finite counts as higher than
/// any other, so a boundary can be told by infinity. A minimum found is a local one.
///
/// # References
/// Nelder JA, Mead R (1965). Comput J 7:308–313. Order of the tests: Lagarias JC et al. (1998). SIAM J Optim 9:112–147.
pub(crate) fn lowest(start: &[f64], step: &[f64], stop: Stop, mut f: impl FnMut(&[f64]) -> f64) -> Lowest {
    let mut worth = |at: &[f64]| {
        let value = f(at);
        if value.is_finite() { value } else { f64::INFINITY }
    };
    let mut corners = vec![corner(start.to_vec(), &mut worth)];
    for (axis, by) in step.iter().enumerate() {
        let mut at = start.to_vec();
        at[axis] += by;
        corners.push(corner(at, &mut worth));
    }
    let mut used = corners.len();
    while used < stop.evaluations {
        corners.sort_by(|a, b| a.value.total_cmp(&b.value));
        if is_small(&corners, stop) {
            break;
        }
        used += improve(&mut corners, &mut worth);
    }
    corners.sort_by(|a, b| a.value.total_cmp(&b.value));
    corners.swap_remove(0)
}

fn corner(at: Vec<f64>, worth: &mut impl FnMut(&[f64]) -> f64) -> Lowest {
    let value = worth(&at);
    Lowest { at, value }
}

fn is_small(corners: &[Lowest], stop: Stop) -> bool {
    let best = &corners[0];
    let spread = corners[corners.len() - 1].value - best.value;
    let reach = corners
        .iter()
        .flat_map(|corner| corner.at.iter().zip(&best.at).map(|(a, b)| (a - b).abs()))
        .fold(0.0, f64::max);
    spread <= stop.value && reach <= stop.place
}

/// Moves the worst corner, or all but the best; returns how many values were looked at.
fn improve(corners: &mut [Lowest], worth: &mut impl FnMut(&[f64]) -> f64) -> usize {
    let last = corners.len() - 1;
    let axes = corners[0].at.len();
    let middle: Vec<f64> = (0..axes)
        .map(|axis| corners[..last].iter().map(|corner| corner.at[axis]).sum::<f64>() / last as f64)
        .collect();
    let worst = corners[last].clone();
    let along = |by: f64| -> Vec<f64> {
        middle
            .iter()
            .zip(&worst.at)
            .map(|(middle, worst)| middle + by * (middle - worst))
            .collect()
    };
    let reflected = corner(along(1.0), worth);
    if reflected.value < corners[0].value {
        let expanded = corner(along(2.0), worth);
        corners[last] = if expanded.value < reflected.value {
            expanded
        } else {
            reflected
        };
        return 2;
    }
    if reflected.value < corners[last - 1].value {
        corners[last] = reflected;
        return 1;
    }
    let outside = reflected.value < worst.value;
    let contracted = corner(along(if outside { 0.5 } else { -0.5 }), worth);
    if contracted.value < if outside { reflected.value } else { worst.value } {
        corners[last] = contracted;
        return 2;
    }
    let best = corners[0].at.clone();
    for shrunk in &mut corners[1..] {
        let at = best
            .iter()
            .zip(&shrunk.at)
            .map(|(b, a)| b + 0.5 * (a - b))
            .collect();
        *shrunk = corner(at, worth);
    }
    2 + last
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLOSE: Stop = Stop {
        evaluations: 4000,
        value: 1e-14,
        place: 1e-8,
    };

    #[test]
    fn the_valley_of_rosenbrock_is_followed_to_its_end() {
        // Rosenbrock HH (1960). Comput J 3:175–184: the minimum of 100 (y − x²)² + (1 − x)² is 0 at (1, 1).
        let found = lowest(&[-1.2, 1.0], &[0.3, 0.3], CLOSE, |p| {
            100.0 * (p[1] - p[0] * p[0]).powi(2) + (1.0 - p[0]).powi(2)
        });
        assert!(
            (found.at[0] - 1.0).abs() < 1e-6 && (found.at[1] - 1.0).abs() < 1e-6,
            "{found:?}"
        );
    }

    #[test]
    fn a_wall_of_infinity_is_not_crossed() {
        let found = lowest(&[2.0], &[0.5], CLOSE, |p| {
            if p[0] < 1.0 { f64::NAN } else { p[0] * p[0] }
        });
        assert!((found.at[0] - 1.0).abs() < 1e-6, "{found:?}");
    }
}

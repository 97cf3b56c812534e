//! The standard normal distribution.

use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// ln Φ(z), and φ(z) / Φ(z).
///
/// Far below zero both come from the continued fraction of Mills' ratio, where Φ itself would be zero.
pub(crate) fn below(z: f64) -> (f64, f64) {
    let log_density = -0.5 * (z * z + libm::log(2.0 * PI));
    if z > -5.0 {
        let chance = chance_below(z);
        return (libm::log(chance), libm::exp(log_density) / chance);
    }
    // Φ(z) = φ(z) / (x + 1/(x + 2/(x + 3/(x + …)))) with x = −z (Laplace).
    let x = -z;
    let ratio = (1..=60).rev().fold(x, |tail, k| x + f64::from(k) / tail);
    (log_density - libm::log(ratio), ratio)
}

/// Φ(z).
pub(crate) fn chance_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z * FRAC_1_SQRT_2)
}

/// Density of a normal of middle zero.
pub(crate) fn density(off: f64, sd: f64) -> f64 {
    let z = off / sd;
    libm::exp(-0.5 * z * z) / (sd * (2.0 * PI).sqrt())
}

/// The value below which a standard normal lies with the chance of 0.75, and of 0.95.
pub(crate) const QUARTILE: f64 = 0.674_489_750_196_081_7;
/// See [`QUARTILE`].
pub(crate) const P95: f64 = 1.644_853_626_951_472_2;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances_are_those_of_scipy() {
        // scipy 1.17.1: norm.logcdf(z), and exp(norm.logpdf(z) - norm.logcdf(z)).
        for (z, log_chance, ratio) in REFERENCE {
            let (ours, ours_ratio) = below(z);
            assert!(
                (ours - log_chance).abs() <= 1e-12 * log_chance.abs().max(1.0),
                "{z}: {ours}"
            );
            assert!((ours_ratio - ratio).abs() <= 1e-11 * ratio, "{z}: {ours_ratio}");
        }
    }

    const REFERENCE: [(f64, f64, f64); 10] = [
        (-40.0, -804.6084420137539, 40.024968847210886),
        (-12.0, -75.41067300156881, 12.082214175254526),
        (-6.0, -20.73676894997471, 6.158482604544618),
        (-5.001, -15.070185381609441, 5.18747127610327),
        (-4.999, -15.059812373671578, 5.185536668974203),
        (-3.0, -6.60772622151035, 3.28309865493044),
        (-1.0, -1.8410216450092634, 1.525135276160981),
        (0.5, -0.36894641528865635, 0.509160433837843),
        (1.0, -0.1727537790234499, 0.2875999709391784),
        (3.0, -0.0013508099647481925, 0.004437839042125666),
    ];
}

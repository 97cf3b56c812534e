//! How far sensor and blood lie apart.

use super::binomial::student_quantile;
use super::pair::Pair;
use crate::Refusal;
use crate::bootstrap::Interval;
use crate::quantile::quantile;

/// Fewest pairs for any mean over pairs. Ours: with normal errors the mean absolute relative difference of five pairs
/// is still uncertain by two thirds of itself either way.
pub const FEWEST_PAIRS: u64 = 5;

/// Limits of agreement reach so many standard deviations either side (Bland and Altman 1986).
const LIMITS_SD: f64 = 1.96;

/// The differences of a set of pairs, sensor less blood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measures {
    /// Pairs.
    pub pairs: u64,
    /// Mean absolute relative difference, percent of the blood.
    pub mard_percent: f64,
    /// Median absolute relative difference, percent.
    pub median_ard_percent: f64,
    /// Mean (not median) absolute difference, mg/dL.
    pub mad_mg_dl: f64,
    /// Mean difference, mg/dL: above 0 where the sensor reads high.
    pub bias_mg_dl: f64,
    /// Mean relative difference, percent.
    pub relative_bias_percent: f64,
    /// Standard deviation of the differences, mg/dL; the form with n − 1.
    pub sd_mg_dl: f64,
    /// Root of the mean squared difference, mg/dL.
    pub rmse_mg_dl: f64,
    /// Limits of agreement.
    pub limits: Limits,
}

/// Where 95 of 100 differences would lie if they were normal and alike over the whole range (Bland and Altman 1986,
/// Lancet 327:307): bias ± 1.96 standard deviations.
///
/// The intervals are those of Bland and Altman 1999, Stat Methods Med Res 8:135, section 2: a limit has a standard
/// error of SD √(1/n + 1.96²/(2 (n − 1))), and Student's t with n − 1 degrees of freedom. They take the pairs as
/// independent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Lower limit, mg/dL.
    pub lower_mg_dl: f64,
    /// Its 95 % interval.
    pub lower_interval: Interval,
    /// Upper limit, mg/dL.
    pub upper_mg_dl: f64,
    /// Its 95 % interval.
    pub upper_interval: Interval,
}

/// The differences of `pairs`, whose blood values must be above 0.
///
/// # Errors
/// `TooFewPairs` with fewer than [`FEWEST_PAIRS`].
pub fn measures(pairs: &[Pair]) -> Result<Measures, Refusal> {
    enough(pairs.len())?;
    let n = pairs.len() as f64;
    let mean = |of: &dyn Fn(&Pair) -> f64| pairs.iter().map(of).sum::<f64>() / n;
    let bias = mean(&|pair| pair.difference_mg_dl());
    let squares: f64 = pairs
        .iter()
        .map(|pair| (pair.difference_mg_dl() - bias) * (pair.difference_mg_dl() - bias))
        .sum();
    let sd = libm::sqrt(squares / (n - 1.0));
    let mut relative: Vec<f64> = pairs.iter().map(|pair| pair.relative_percent().abs()).collect();
    relative.sort_unstable_by(f64::total_cmp);
    Ok(Measures {
        pairs: pairs.len() as u64,
        mard_percent: mean(&|pair| pair.relative_percent().abs()),
        median_ard_percent: quantile(&relative, 0.5).unwrap_or_default(),
        mad_mg_dl: mean(&|pair| pair.difference_mg_dl().abs()),
        bias_mg_dl: bias,
        relative_bias_percent: mean(&Pair::relative_percent),
        sd_mg_dl: sd,
        rmse_mg_dl: libm::sqrt(mean(&|pair| pair.difference_mg_dl() * pair.difference_mg_dl())),
        limits: limits(bias, sd, n),
    })
}

/// Refuses fewer pairs than any mean is given of.
pub(crate) fn enough(pairs: usize) -> Result<(), Refusal> {
    let have = pairs as u64;
    if have < FEWEST_PAIRS {
        return Err(Refusal::TooFewPairs {
            have,
            need: FEWEST_PAIRS,
        });
    }
    Ok(())
}

fn limits(bias: f64, sd: f64, n: f64) -> Limits {
    let error = sd * libm::sqrt(1.0 / n + LIMITS_SD * LIMITS_SD / (2.0 * (n - 1.0)));
    let reach = student_quantile(0.975, n - 1.0) * error;
    let around = |limit: f64| Interval {
        lo: limit - reach,
        hi: limit + reach,
    };
    let (lower, upper) = (bias - LIMITS_SD * sd, bias + LIMITS_SD * sd);
    Limits {
        lower_mg_dl: lower,
        lower_interval: around(lower),
        upper_mg_dl: upper,
        upper_interval: around(upper),
    }
}

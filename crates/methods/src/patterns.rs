//! What comes again at the same clock time, against the wearer's own base rate; after activity and the like; towards morning.

mod after;
mod clock;
mod dawn;
mod grid;

pub use after::{AfterAsked, AfterFound, after};
pub use clock::{DayKinds, Pattern, PatternEvent, Patterns, patterns};
pub use dawn::{Dawn, DawnExcluded, FEWEST_NIGHTS, dawn};
pub use grid::Grid;

/// Share of false discoveries allowed among the patterns shown (Benjamini and Hochberg 1995, J R Stat Soc B 57:289).
pub const FALSE_SHARE: f64 = 0.05;
/// Fewest days with something in a window for it to be a pattern: no bad day alone makes one (ours, no source).
pub const FEWEST_DAYS_WITH: u32 = 3;
/// Part of a window that must have been read (the same as a day's for its figures).
pub const READ_AT_LEAST: f64 = 0.7;

/// The latest days of a window that are looked at: what came again years ago is no habit of today (ours, no source).
pub const LATEST_DAYS: i64 = 400;

/// Probability of so many or more successes in independent trials with these chances, added up exactly.
///
/// Beyond 600 trials, and where no more came than expected (which decides nothing), by the normal approximation with its
/// skewness (Volkova 1996, Theory Probab Appl 40:791; from memory).
pub fn at_least(chances: &[f64], successes: u32) -> f64 {
    const EXACT_UP_TO: usize = 600;
    if successes == 0 {
        return 1.0;
    }
    if chances.len() > EXACT_UP_TO || f64::from(successes) <= chances.iter().sum::<f64>() {
        return at_least_about(chances, successes);
    }
    // Probability of each count below the one seen; the rest is what is asked for.
    let few = successes as usize;
    let mut exactly = vec![0.0; few];
    exactly[0] = 1.0;
    for &chance in chances {
        for count in (0..few).rev() {
            let one_fewer = if count > 0 { exactly[count - 1] } else { 0.0 };
            exactly[count] = exactly[count] * (1.0 - chance) + one_fewer * chance;
        }
    }
    (1.0 - exactly.iter().sum::<f64>()).clamp(0.0, 1.0)
}

fn at_least_about(chances: &[f64], successes: u32) -> f64 {
    let mean: f64 = chances.iter().sum();
    let variance: f64 = chances.iter().map(|p| p * (1.0 - p)).sum();
    if variance <= 0.0 {
        return if f64::from(successes) <= mean { 1.0 } else { 0.0 };
    }
    let third: f64 = chances.iter().map(|p| p * (1.0 - p) * (1.0 - 2.0 * p)).sum();
    let skewness = third / (variance * variance.sqrt());
    let z = (f64::from(successes) - 0.5 - mean) / variance.sqrt();
    let density = libm::exp(-0.5 * z * z) / (2.0 * std::f64::consts::PI).sqrt();
    (crate::bootstrap::normal_tail(z) + skewness * (z * z - 1.0) * density / 6.0).clamp(0.0, 1.0)
}

/// What each p becomes where the share of false discoveries is held (Benjamini and Hochberg 1995), in the order given.
pub fn adjusted(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[b].total_cmp(&p[a]));
    let (mut adjusted, mut least) = (vec![1.0; p.len()], 1.0_f64);
    for (place, &of) in order.iter().enumerate() {
        let rank = (p.len() - place) as f64;
        least = least.min(p[of] * p.len() as f64 / rank);
        adjusted[of] = least;
    }
    adjusted
}

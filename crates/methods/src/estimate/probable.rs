//! What blood probably was, in numbers.

use super::joint::Moments;
use super::normal::{self, P95, QUARTILE};

/// The model's own bands are this much too wide on people whose blood is known (the six simulated ones).
const BAND: f64 = 0.87;
/// No estimate is put below this, mg/dL.
const LOWEST_MG_DL: f64 = 20.0;
/// Halvings when a percentile of two normals is looked for: from a thousand mg/dL to far below a hundredth.
const HALVINGS: usize = 40;

/// What blood glucose probably was at one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Probable {
    /// Middle, mg/dL.
    pub mean_mg_dl: f64,
    /// Standard deviation, mg/dL.
    pub sd_mg_dl: f64,
    half: (f64, f64),
    most: (f64, f64),
}

impl Probable {
    /// A normal of such a mean and variance.
    pub(crate) fn new((mean, variance): Moments) -> Self {
        let sd = BAND * variance.max(0.0).sqrt();
        Self::within(mean, sd, |z| mean + z * sd)
    }

    /// One of two normals, the second with such a chance. Their mixture may have two tops, so its percentiles are its
    /// own: what the less likely one says is within the band as long as it has a say.
    pub(crate) fn of_two(one: Moments, other: Moments, chance: f64) -> Self {
        let (low, high) = (one.0.min(other.0), one.0.max(other.0));
        let sds = [one, other].map(|(_, variance)| (BAND * variance.max(0.0).sqrt()).max(f64::MIN_POSITIVE));
        let apart = other.0 - one.0;
        let mean = one.0 + chance * apart;
        let variance = (1.0 - chance) * sds[0] * sds[0]
            + chance * sds[1] * sds[1]
            + chance * (1.0 - chance) * apart * apart;
        let below = |at: f64| {
            (1.0 - chance) * normal::chance_below((at - one.0) / sds[0])
                + chance * normal::chance_below((at - other.0) / sds[1])
        };
        let reach = 4.0 * sds[0].max(sds[1]);
        Self::within(mean, variance.sqrt(), |z| {
            let share = normal::chance_below(z);
            let (mut from, mut to) = (low - reach, high + reach);
            for _ in 0..HALVINGS {
                let middle = 0.5 * (from + to);
                if below(middle) < share {
                    from = middle;
                } else {
                    to = middle;
                }
            }
            0.5 * (from + to)
        })
    }

    fn within(mean: f64, sd: f64, at: impl Fn(f64) -> f64) -> Self {
        let between = |z: f64| (at(-z).max(LOWEST_MG_DL), at(z).max(LOWEST_MG_DL));
        Probable {
            mean_mg_dl: mean.max(LOWEST_MG_DL),
            sd_mg_dl: sd,
            half: between(QUARTILE),
            most: between(P95),
        }
    }

    /// What a check there would probably show, its error having such a variance, (mg/dL)².
    pub(crate) fn of_a_check(&self, error: f64) -> Self {
        let sd = (self.variance() + error).sqrt();
        Self::within(self.mean_mg_dl, sd, |z| self.mean_mg_dl + z * sd)
    }

    /// The model's own variance, (mg/dL)².
    pub(crate) fn variance(&self) -> f64 {
        let sd = self.sd_mg_dl / BAND;
        sd * sd
    }

    /// The middle half: 25th and 75th percentile, mg/dL.
    pub fn half(&self) -> (f64, f64) {
        self.half
    }

    /// Nine tenths: 5th and 95th percentile, mg/dL.
    pub fn most(&self) -> (f64, f64) {
        self.most
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17.1: brentq over (1 - p) norm.cdf(x, 60, 0.87 * 8) + p norm.cdf(x, 120, 0.87 * 15).
    #[test]
    fn percentiles_of_two_are_those_of_scipy() {
        for (chance, low, quarter, three, high) in SCIPY {
            let both = Probable::of_two((60.0, 64.0), (120.0, 225.0), chance);
            for (ours, theirs) in [
                (both.most().0, low),
                (both.half().0, quarter),
                (both.half().1, three),
                (both.most().1, high),
            ] {
                assert!((ours - theirs).abs() < 1e-6, "{chance}: {ours} beside {theirs}");
            }
        }
    }

    const SCIPY: [(f64, f64, f64, f64, f64); 3] = [
        (0.1, 48.911_196_85, 55.897_386_608, 66.733_184_926, 120.0),
        (0.5, 51.080_398_559, 59.999_962_737, 120.0, 136.724_247_93),
        (
            0.9,
            59.999_664_674,
            107.375_148_562,
            127.692_398_162,
            140.791_505_575,
        ),
    ];
}

//! What blood probably was, in numbers.

use super::checks::SETTLING_MIN;
use super::joint::Moments;
use super::normal::{self, P95, QUARTILE};

/// The model's own bands are this much too wide on people whose blood is known (the simulated ones).
const BAND: f64 = 0.8;
/// The same of what is told live, likewise.
const BAND_LIVE: f64 = 0.87;
/// How much further out than a normal's the outermost twentieths begin, the quarters being the same: how large a person's
/// errors are is itself learned, so they have the tails of Student's t (with 12 degrees of freedom).
const TAILS: f64 = 1.05;
/// What all checks of a person share and none can show: the strips' or the meter's own scale, as a part of glucose.
const METER_SHARED_PART: f64 = 0.025;
/// How much of glucose a new sensor's gain may be off by beyond what the checks see, since not every sensor settles at the
/// same pace; it fades as that gain does.
const SETTLING_PART: f64 = 0.05;
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
    /// The model's own variance, and what it does not have of it, (mg/dL)².
    own: f64,
    unseen: f64,
    half: (f64, f64),
    most: (f64, f64),
}

impl Probable {
    /// Blood: a normal of such a mean and variance, under a sensor of this age.
    pub(crate) fn blood((mean, variance): Moments, age_min: f64) -> Self {
        let unseen = shared(mean) + settling(mean, age_min);
        Self::one((mean, variance), unseen, BAND)
    }

    /// Blood as it is told live, likewise.
    pub(crate) fn blood_live((mean, variance): Moments, age_min: f64) -> Self {
        let unseen = shared(mean) + settling(mean, age_min);
        Self::one((mean, variance), unseen, BAND_LIVE)
    }

    /// What a check shows but for its own error, likewise: what all checks share it has too.
    pub(crate) fn shown((mean, variance): Moments, age_min: f64) -> Self {
        Self::one((mean, variance), settling(mean, age_min), BAND)
    }

    fn one((mean, variance): Moments, unseen: f64, band: f64) -> Self {
        let sd = band * (variance + unseen).max(0.0).sqrt();
        Self::within(mean, sd, (variance, unseen), |z| mean + z * sd)
    }

    /// Blood as it is told live: one of two normals, the second with such a chance. Their mixture may have two tops, so its percentiles are its
    /// own: what the less likely one says is within the band as long as it has a say.
    pub(crate) fn live_of_two(one: Moments, other: Moments, chance: f64, age_min: f64) -> Self {
        let mean = one.0 + chance * (other.0 - one.0);
        Self::of_two(one, other, chance, shared(mean) + settling(mean, age_min))
    }

    fn of_two(one: Moments, other: Moments, chance: f64, unseen: f64) -> Self {
        let (low, high) = (one.0.min(other.0), one.0.max(other.0));
        let sds = [one, other]
            .map(|(_, variance)| (BAND_LIVE * (variance + unseen).max(0.0).sqrt()).max(f64::MIN_POSITIVE));
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
        let sd = variance.sqrt();
        let own = sd / BAND_LIVE;
        Self::within(mean, sd, (own * own - unseen, unseen), |z| {
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

    fn within(mean: f64, sd: f64, (own, unseen): (f64, f64), at: impl Fn(f64) -> f64) -> Self {
        let between = |z: f64| (at(-z).max(LOWEST_MG_DL), at(z).max(LOWEST_MG_DL));
        Probable {
            mean_mg_dl: mean.max(LOWEST_MG_DL),
            sd_mg_dl: sd,
            own,
            unseen,
            half: between(QUARTILE),
            most: between(TAILS * P95),
        }
    }

    /// What a check there would probably show, its error having such a variance, (mg/dL)².
    pub(crate) fn of_a_check(&self, error: f64) -> Self {
        let sd = (self.own + self.unseen + error).sqrt();
        Self::within(self.mean_mg_dl, sd, (self.own, self.unseen), |z| {
            self.mean_mg_dl + z * sd
        })
    }

    /// The model's own variance, (mg/dL)².
    pub(crate) fn variance(&self) -> f64 {
        self.own
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

fn shared(mg_dl: f64) -> f64 {
    let off = METER_SHARED_PART * mg_dl;
    off * off
}

fn settling(mg_dl: f64, age_min: f64) -> f64 {
    let off = SETTLING_PART * mg_dl;
    off * off * libm::exp(-age_min / SETTLING_MIN)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17.1: brentq over (1 - p) norm.cdf(x, 60, 0.87 * 8) + p norm.cdf(x, 120, 0.87 * 15), at norm.cdf of
    /// 0.6745 and of 1.05 * 1.6449 either way.
    #[test]
    fn percentiles_of_two_are_those_of_scipy() {
        for (chance, low, quarter, three, high) in SCIPY {
            let both = Probable::of_two((60.0, 64.0), (120.0, 225.0), chance, 0.0);
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
        (
            0.1,
            48.326_582_111,
            55.897_386_608,
            66.733_184_926,
            122.609_614_484,
        ),
        (
            0.5,
            50.411_314_104,
            59.999_962_737,
            120.000_000_000,
            137.978_781_962,
        ),
        (
            0.9,
            58.608_001_648,
            107.375_148_562,
            127.692_398_162,
            141.887_658_248,
        ),
    ];
}

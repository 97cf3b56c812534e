//! How many more sensors would settle a question.

use super::answer::More;
use crate::Interval;
use crate::student::{below, two_sided_point};

/// Smallest effect worth knowing, percentage points of relative difference (ours: a third of what separates the sensors of
/// published studies, with mean absolute relative differences from 8 to 16 %).
pub(super) const WORTH_POINTS: f64 = 3.0;
/// How often the question would be settled then.
const POWER: f64 = 0.8;
/// Further sensors that are sensible to wait for: four years of them at one a fortnight.
const MOST: u32 = 100;

/// What is compared, in sensors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Design {
    /// Sensors of one kind against sensors of another.
    Between {
        /// Sensors of either kind.
        sensors: (u64, u64),
    },
    /// Every sensor against itself.
    Within {
        /// Sensors that show both.
        sensors: u64,
    },
}

impl Design {
    /// Variance of the estimate in units of that of one sensor, and its degrees of freedom, with more sensors.
    fn with(self, more: u32) -> (f64, f64) {
        match self {
            Design::Between { sensors: (a, b) } => {
                let (mut fewer, mut others) = (a.min(b), a.max(b));
                for _ in 0..more {
                    if fewer <= others {
                        fewer += 1;
                    } else {
                        others += 1;
                    }
                }
                let (fewer, others) = (fewer as f64, others as f64);
                (1.0 / fewer + 1.0 / others, (fewer + others - 2.0).max(1.0))
            }
            Design::Within { sensors } => {
                let sensors = sensors as f64 + f64::from(more);
                (1.0 / sensors, (sensors - 1.0).max(1.0))
            }
        }
    }
}

/// Further sensors, with as many checks each as now, after which a 95 % interval would exclude 0 with probability 0.8, were
/// the effect as large as now estimated, or as [`WORTH_POINTS`] where it is smaller: the first number at which
/// `standard error (t 0.975 + t 0.8)` is no more than that effect (the usual calculation of sample size, with Student's t
/// for the normal at the degrees of freedom of that many sensors; Cohen 1988, chapter 2). The standard error is today's,
/// falling as the design says; further sensors go to the side that has fewer.
pub(super) fn more(design: Design, points: f64, standard_error: f64, interval: Interval) -> More {
    let no_effect_excluded = interval.lo > 0.0 || interval.hi < 0.0;
    let too_small = interval.lo > -WORTH_POINTS && interval.hi < WORTH_POINTS;
    if no_effect_excluded || too_small {
        return More::Nothing;
    }
    let effect = points.abs().max(WORTH_POINTS);
    let (today, _) = design.with(0);
    for further in 1..=MOST {
        let (variance, freedom) = design.with(further);
        let reach = two_sided_point(0.05, freedom) + one_sided_point(POWER, freedom);
        if standard_error * (variance / today).sqrt() * reach <= effect {
            return More::Sensors(further);
        }
    }
    More::TooMany
}

/// The point below which Student's t lies with probability `p` above one half.
fn one_sided_point(p: f64, freedom: f64) -> f64 {
    let point = two_sided_point(2.0 * (1.0 - p), freedom);
    debug_assert!((below(point, freedom) - p).abs() < 1e-9);
    point
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two groups, difference of one standard deviation, 80 % power at 5 %: 17 in each (Cohen 1988, table 2.4.1).
    #[test]
    fn as_many_as_the_books_say() {
        let design = Design::Between { sensors: (2, 2) };
        let sd = 10.0;
        let now = sd * 1.0f64.sqrt();
        let wide = Interval { lo: -50.0, hi: 60.0 };
        assert_eq!(more(design, 10.0, now, wide), More::Sensors(2 * 17 - 4));
        // Paired, half a standard deviation: 34 pairs (the same book, by the same rule).
        let design = Design::Within { sensors: 4 };
        assert_eq!(more(design, 5.0, sd / 2.0, wide), More::Sensors(34 - 4));
    }

    /// 17 sensors of either kind, one standard deviation apart: how often is the question settled?
    #[test]
    fn so_many_do_settle_it() {
        use rand::{Rng, SeedableRng};
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let mut normal = || {
            let even = |bits: u64| (bits >> 11) as f64 / (1u64 << 53) as f64;
            (0..12).map(|_| even(random.next_u64())).sum::<f64>() - 6.0
        };
        let mut settled = 0;
        let trials = 4000;
        let beyond = two_sided_point(0.05, 32.0);
        for _ in 0..trials {
            let kinds = [0.0, 1.0].map(|shift| (0..17).map(|_| shift + normal()).collect::<Vec<f64>>());
            let means = kinds.each_ref().map(|kind| kind.iter().sum::<f64>() / 17.0);
            let squares: f64 = kinds
                .iter()
                .zip(means)
                .flat_map(|(kind, mean)| kind.iter().map(move |x| (x - mean) * (x - mean)))
                .sum();
            let error = (squares / 32.0 * 2.0 / 17.0).sqrt();
            settled += u32::from((means[1] - means[0]).abs() > beyond * error);
        }
        // Three standard errors of a share of 0.8 over 4,000 trials; 17 a side give 0.807 by the non-central t.
        let share = f64::from(settled) / f64::from(trials);
        assert!((share - 0.807).abs() < 0.02, "{share}");
    }

    #[test]
    fn what_is_settled_needs_nothing() {
        let design = Design::Within { sensors: 9 };
        let settled = |lo, hi| more(design, 0.5 * (lo + hi), 1.0, Interval { lo, hi });
        assert_eq!(settled(1.0, 9.0), More::Nothing);
        assert_eq!(settled(-2.5, 2.5), More::Nothing);
        assert_ne!(settled(-2.5, 3.5), More::Nothing);
        assert_eq!(
            more(
                design,
                0.0,
                400.0,
                Interval {
                    lo: -900.0,
                    hi: 900.0
                }
            ),
            More::TooMany
        );
    }
}

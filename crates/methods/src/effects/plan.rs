//! How many more sensors would settle a question.

use super::answer::More;
use crate::Interval;
use crate::student::{below, two_sided_point};

/// Smallest effect worth knowing, percentage points of relative difference (ours: a third of what separates the sensors of
/// published studies, with mean absolute relative differences from 8 to 16 %).
pub(super) const WORTH_POINTS: f64 = 3.0;
/// How often the question would be settled then, as a share.
const POWER: f64 = 0.8;
/// Further sensors that are sensible to wait for: four years of them at one a fortnight.
const MOST: u32 = 100;
/// Points at which the standard error is taken.
const ERROR_POINTS: usize = 60;

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

/// A comparison as it stands, from which the next sensors are planned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Plan {
    /// What is compared.
    pub(super) design: Design,
    /// The effect as estimated, points.
    pub(super) points: f64,
    /// Its standard error today.
    pub(super) standard_error: f64,
    /// Degrees of freedom that error is known with.
    pub(super) freedom: f64,
}

impl Plan {
    /// Further sensors, with as many checks each as now, after which the comparison would be shown as there in 4 of 5
    /// cases, were the effect as large as now estimated, or as [`WORTH_POINTS`] where it is smaller.
    ///
    /// It is shown as there with a p-value of at most `level`. With a standard error that is known that asks for
    /// `effect / standard error >= t(level) + t(0.8)`, the usual calculation of sample size (Cohen 1988, chapter 2) with
    /// Student's t for the normal at the degrees of freedom of that many sensors. The standard error is today's,
    /// falling as the design says (further sensors go to the side that has fewer), and today's is itself an estimate: the
    /// probability is the mean over what it may truly be, `chi^2 / freedom` being its distribution (a few sensors that happen
    /// to be alike would else promise an early answer).
    pub(super) fn more(self, level: f64) -> More {
        let effect = self.points.abs().max(WORTH_POINTS);
        let (today, _) = self.design.with(0);
        let errors = scaled_errors(self.freedom);
        let settles = |further: &u32| {
            let (variance, freedom) = self.design.with(*further);
            let error = self.standard_error * (variance / today).sqrt();
            let needed = two_sided_point(level, freedom);
            let mean: f64 = errors
                .iter()
                .map(|(scale, weight)| weight * below(effect / error * scale - needed, freedom))
                .sum();
            mean >= POWER
        };
        (1..=MOST).find(settles).map_or(More::TooMany, More::Sensors)
    }
}

/// Whether an interval holds no effect that is worth knowing.
pub(super) fn is_too_small(interval: Interval) -> bool {
    interval.lo > -WORTH_POINTS && interval.hi < WORTH_POINTS
}

/// By how much a standard error may be too large, as a factor, and how likely that is: the square root of
/// `chi^2 / freedom`, at midpoints.
fn scaled_errors(freedom: f64) -> Vec<(f64, f64)> {
    let freedom = freedom.max(1.0);
    let reach = 5.0 / (2.0 * freedom).sqrt();
    let (from, to) = ((1.0 - reach).max(0.0), 1.0 + reach);
    let width = (to - from) / ERROR_POINTS as f64;
    // The density but for a constant; its logarithm less that at 1, since powers of many degrees of freedom overflow.
    let density =
        |scale: f64| libm::exp((freedom - 1.0) * libm::log(scale) - 0.5 * freedom * (scale * scale - 1.0));
    let mut points: Vec<(f64, f64)> = (0..ERROR_POINTS)
        .map(|i| from + width * (i as f64 + 0.5))
        .map(|scale| (scale, density(scale)))
        .collect();
    let all: f64 = points.iter().map(|point| point.1).sum();
    for point in &mut points {
        point.1 /= all;
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    const KNOWN: f64 = 1e6;

    fn plan(design: Design, points: f64, standard_error: f64, freedom: f64) -> Plan {
        Plan {
            design,
            points,
            standard_error,
            freedom,
        }
    }

    /// Two groups, difference of one standard deviation, 80 % power at 5 %: 17 in each (Cohen 1988, table 2.4.1).
    #[test]
    fn as_many_as_the_books_say() {
        let design = Design::Between { sensors: (2, 2) };
        let sd = 10.0;
        assert_eq!(
            plan(design, 10.0, sd, KNOWN).more(0.05),
            More::Sensors(2 * 17 - 4)
        );
        // Paired, half a standard deviation: 34 pairs (the same book, by the same rule).
        let design = Design::Within { sensors: 4 };
        assert_eq!(
            plan(design, 5.0, sd / 2.0, KNOWN).more(0.05),
            More::Sensors(34 - 4)
        );
    }

    /// Fewer degrees of freedom behind the error, or more questions asked, take more sensors.
    #[test]
    fn what_is_less_sure_takes_more() {
        let design = Design::Between { sensors: (4, 4) };
        let needed = |freedom, level| match plan(design, 10.0, 6.0, freedom).more(level) {
            More::Sensors(count) => count,
            other => panic!("{other:?}"),
        };
        assert!(needed(6.0, 0.05) > needed(KNOWN, 0.05));
        assert!(needed(KNOWN, 0.05 / 8.0) > needed(KNOWN, 0.05));
        assert_eq!(plan(design, 0.0, 400.0, 6.0).more(0.05), More::TooMany);
    }

    /// Mean 1 of the squares: `chi^2 / freedom`.
    #[test]
    fn errors_are_right_on_average() {
        for freedom in [1.0, 2.0, 5.5, 40.0, KNOWN] {
            let errors = scaled_errors(freedom);
            let mean: f64 = errors.iter().map(|(scale, weight)| scale * scale * weight).sum();
            assert!((mean - 1.0).abs() < 0.01, "{freedom}: {mean}");
        }
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
    fn too_small_is_within_what_is_worth_knowing() {
        assert!(is_too_small(Interval { lo: -2.5, hi: 2.5 }));
        assert!(!is_too_small(Interval { lo: -2.5, hi: 3.5 }));
    }
}

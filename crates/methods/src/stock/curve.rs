//! A loss curve drawn from the wearer's own sensors.

use rand::Rng;

use super::Past;

/// What is known of the wearer's sensors, in the order of hours.
pub(super) struct Known {
    /// Hours, and whether it ended then; else it was still on.
    timed: Vec<(f64, bool)>,
    /// How many were worn to their end.
    whole: usize,
}

impl Known {
    pub(super) fn of(past: &[Past]) -> Self {
        let timed = past.iter().filter_map(|past| match *past {
            Past::Early(hours) => Some((hours, true)),
            Past::StillOn(hours) => Some((hours, false)),
            Past::Whole => None,
        });
        let mut timed: Vec<(f64, bool)> = timed
            .filter(|(hours, _)| hours.is_finite() && *hours > 0.0)
            .collect();
        // One still on at the very hour of an early end counts as at risk then.
        timed.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        Known {
            timed,
            whole: past.iter().filter(|past| matches!(past, Past::Whole)).count(),
        }
    }
}

/// Chance of having been lost, at each hour of a loss.
pub(super) struct Curve {
    hours: Vec<f64>,
    lost_by: Vec<f64>,
}

impl Curve {
    /// Of the wearer's sensors and an imagined one. See [`super::lasting`].
    pub(super) fn drawn(known: &Known, longest_h: f64, dice: &mut impl Rng) -> Self {
        let imagined = (longest_h * even(dice), true, half(dice));
        let never: f64 = half(dice) + (0..known.whole).map(|_| whole(dice)).sum::<f64>();
        let timed = known.timed.iter();
        let mut weighted: Vec<(f64, bool, f64)> =
            timed.map(|&(hours, ended)| (hours, ended, whole(dice))).collect();
        let place = weighted.partition_point(|&(hours, ..)| hours < imagined.0);
        weighted.insert(place, imagined);
        let mut at_risk = never + weighted.iter().map(|&(.., weight)| weight).sum::<f64>();
        let mut curve = Curve {
            hours: Vec::with_capacity(weighted.len()),
            lost_by: Vec::with_capacity(weighted.len()),
        };
        let mut share = 1.0;
        for (hours, ended, weight) in weighted {
            if ended {
                share *= 1.0 - (weight / at_risk).min(1.0);
                curve.hours.push(hours);
                curve.lost_by.push(1.0 - share);
            }
            at_risk -= weight;
        }
        curve
    }

    /// Hours from being put on to the loss of one that was on for so long already; infinite where it is never lost.
    pub(super) fn draw(&self, worn_h: f64, dice: &mut impl Rng) -> f64 {
        let passed = self.hours.partition_point(|&hours| hours <= worn_h);
        let gone = passed.checked_sub(1).map_or(0.0, |last| self.lost_by[last]);
        let chance = gone + (1.0 - gone) * even(dice);
        let place = self.lost_by.partition_point(|&lost| lost <= chance).max(passed);
        self.hours.get(place).copied().unwrap_or(f64::INFINITY)
    }
}

/// Evenly from 0 up to below 1.
fn even(dice: &mut impl Rng) -> f64 {
    (dice.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
}

/// Standard exponential.
fn whole(dice: &mut impl Rng) -> f64 {
    -libm::log(1.0 - even(dice))
}

/// Gamma of shape one half: half the square of a standard normal, by Box and Muller (1958, Ann Math Stat 29:610).
fn half(dice: &mut impl Rng) -> f64 {
    let cosine = libm::cos(std::f64::consts::TAU * even(dice));
    whole(dice) * cosine * cosine
}

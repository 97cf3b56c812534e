//! Published models of how a dose under the skin is absorbed, with the constants they state.

use interstice_glucose::InsulinKind;

use super::{OwnDuration, SPENT};

/// Time to the greatest appearance of a rapid insulin, minutes (Hovorka et al. 2004, Physiol Meas 25:905).
const PEAK_MIN: f64 = 55.0;
/// Slow and fast channel, per minute, and the share through the slow one (Wilinska et al. 2005, IEEE Trans Biomed Eng 52:3,
/// their best model, local loss left out).
const SLOW_PER_MIN: f64 = 0.011;
const FAST_PER_MIN: f64 = 0.021;
const SLOW_SHARE: f64 = 0.67;
/// A twentieth at most is left by then of any dose that can be logged (300 units of short insulin: 73 hours).
const SPENT_BY_MIN: f64 = 6000.0;
/// Steps of the integral where no closed form is at hand.
const STEPS: u32 = 64;

/// How a dose leaves the depot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Absorption {
    /// Two equal compartments in a row: (1 + t/T) exp(−t/T), T the time of greatest appearance, minutes (Hovorka 2004).
    TwoCompartments {
        /// T.
        peak_min: f64,
    },
    /// A slow channel of two compartments and a fast one of one (Wilinska 2005); the layout is from memory.
    TwoChannels {
        /// Share through the slow channel.
        slow_share: f64,
        /// Its rate, per minute.
        slow_per_min: f64,
        /// Rate of the fast channel, per minute.
        fast_per_min: f64,
    },
    /// Share absorbed t^s / (T50^s + t^s), T50 growing with the dose (Berger and Rodbard 1989, Diabetes Care 12:725;
    /// constants from memory).
    Sigmoid {
        /// s.
        steepness: f64,
        /// T50 of no dose, minutes.
        half_min: f64,
        /// What each unit adds to it, minutes.
        half_min_per_unit: f64,
    },
}

const RAPID: [Absorption; 2] = [
    Absorption::TwoCompartments { peak_min: PEAK_MIN },
    Absorption::TwoChannels {
        slow_share: SLOW_SHARE,
        slow_per_min: SLOW_PER_MIN,
        fast_per_min: FAST_PER_MIN,
    },
];
const SHORT: [Absorption; 1] = [Absorption::Sigmoid {
    steepness: 2.0,
    half_min: 1.7 * 60.0,
    half_min_per_unit: 0.05 * 60.0,
}];
const INTERMEDIATE: [Absorption; 1] = [Absorption::Sigmoid {
    steepness: 2.0,
    half_min: 4.9 * 60.0,
    half_min_per_unit: 0.18 * 60.0,
}];

/// The models of an insulin; `None` where none is used. Long-acting insulin has no curve worth a figure (its makers say 18 to
/// 42 hours without a marked peak), and of a premixed one the shares are not told.
pub fn absorptions(insulin: InsulinKind) -> Option<&'static [Absorption]> {
    match insulin {
        InsulinKind::Rapid => Some(&RAPID),
        InsulinKind::Short => Some(&SHORT),
        InsulinKind::Intermediate => Some(&INTERMEDIATE),
        InsulinKind::Long | InsulinKind::Mixed | InsulinKind::Unsaid => None,
    }
}

/// A model in the wearer's own time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Paced {
    model: Absorption,
    /// Minutes of the model to one minute lived.
    pace: f64,
}

impl Absorption {
    /// Stretched in time so that a twentieth of so many units is left at the wearer's own duration; as published where none is
    /// said.
    pub(super) fn lasting(self, own: Option<OwnDuration>, units: f64) -> Paced {
        let pace = own.map_or(1.0, |own| self.spent_min(units) / own.as_minutes());
        Paced { model: self, pace }
    }

    /// Share of `units` left after so many minutes; all of it before.
    pub fn left(self, minutes: f64, units: f64) -> f64 {
        let t = minutes.max(0.0);
        match self {
            Absorption::TwoCompartments { peak_min } => chain(t / peak_min),
            Absorption::TwoChannels {
                slow_share,
                slow_per_min,
                fast_per_min,
            } => slow_share * chain(slow_per_min * t) + (1.0 - slow_share) * libm::exp(-fast_per_min * t),
            Absorption::Sigmoid { .. } => {
                let (steepness, half) = self.sigmoid(units);
                let ratio = libm::pow(t / half, steepness);
                1.0 / (1.0 + ratio)
            }
        }
    }

    /// Mean share left of a dose spread evenly over the last `minutes`, the first of it so old and the last of it fresh.
    fn mean_left(self, from: f64, to: f64, units: f64) -> f64 {
        let width = to - from;
        if width <= 0.0 {
            return self.left(to, units);
        }
        match self {
            Absorption::TwoCompartments { peak_min } => {
                peak_min * (chain_area(to / peak_min) - chain_area(from / peak_min)) / width
            }
            Absorption::TwoChannels {
                slow_share,
                slow_per_min: slow,
                fast_per_min: fast,
            } => {
                let slow_area = (chain_area(slow * to) - chain_area(slow * from)) / slow;
                let fast_area = (libm::exp(-fast * from) - libm::exp(-fast * to)) / fast;
                (slow_share * slow_area + (1.0 - slow_share) * fast_area) / width
            }
            Absorption::Sigmoid { .. } => simpson(|t| self.left(t, units), from, to) / width,
        }
    }

    fn sigmoid(self, units: f64) -> (f64, f64) {
        match self {
            Absorption::Sigmoid {
                steepness,
                half_min,
                half_min_per_unit,
            } => (steepness, half_min + half_min_per_unit * units.max(0.0)),
            _ => (1.0, 1.0),
        }
    }

    /// Minutes until a twentieth of so many units is left, by halving.
    fn spent_min(self, units: f64) -> f64 {
        let (mut early, mut late) = (0.0, SPENT_BY_MIN);
        for _ in 0..60 {
            let middle = 0.5 * (early + late);
            if self.left(middle, units) > SPENT {
                early = middle;
            } else {
                late = middle;
            }
        }
        0.5 * (early + late)
    }
}

impl Paced {
    /// As [`Absorption::left`].
    pub(super) fn left(self, minutes: f64, units: f64) -> f64 {
        self.model.left(minutes * self.pace, units)
    }

    /// Of a dose spread evenly over `over` minutes, so many minutes after its start: what is left of the part delivered by
    /// then, as a share of the whole dose. Each part is absorbed as if it were alone.
    pub(super) fn left_of_spread(self, minutes: f64, over: f64, units: f64) -> f64 {
        if over <= 0.0 {
            return self.left(minutes, units);
        }
        let delivered = (minutes / over).clamp(0.0, 1.0);
        if delivered <= 0.0 {
            return 0.0;
        }
        let (newest, oldest) = ((minutes - over).max(0.0), minutes);
        delivered
            * self
                .model
                .mean_left(newest * self.pace, oldest * self.pace, units)
    }
}

/// (1 + x) exp(−x): what is left in two equal compartments in a row.
fn chain(x: f64) -> f64 {
    (1.0 + x) * libm::exp(-x)
}

/// Its integral from 0.
fn chain_area(x: f64) -> f64 {
    2.0 - (2.0 + x) * libm::exp(-x)
}

/// Simpson's rule.
fn simpson(of: impl Fn(f64) -> f64, from: f64, to: f64) -> f64 {
    let step = (to - from) / f64::from(2 * STEPS);
    let inner: f64 = (1..2 * STEPS)
        .map(|i| of(from + step * f64::from(i)) * if i % 2 == 1 { 4.0 } else { 2.0 })
        .sum();
    step / 3.0 * (of(from) + inner + of(to))
}

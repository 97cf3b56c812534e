//! The shape of a pressure low: a first-order system driven by a rectangle.

/// A dip: the sensor shows (1 − a) of glucose.
///
/// `a` climbs towards its depth with one time constant from the moment pressure sets in, and falls back with another
/// once it is let go.
///
/// # References
/// Facchinetti A, Del Favero S, Sparacino G, Cobelli C (2016). Diabetes Technol Ther 18:264 (the shape). The ranges of
/// depth and time constants are ours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Dip {
    /// Pressure sets in, minutes from the first reading.
    pub(super) on: f64,
    /// Minutes it lasts.
    pub(super) held: f64,
    /// Largest part taken off, 0 to 1.
    pub(super) part: f64,
    /// Time constant of the fall, minutes.
    pub(super) fall: f64,
    /// Time constant of the recovery, minutes.
    pub(super) rise: f64,
}

/// Shortest and longest pressure looked for, minutes.
pub(super) const HELD_MIN: (f64, f64) = (6.0, 100.0);
const PART: (f64, f64) = (0.08, 0.7);
const CONSTANT_MIN: (f64, f64) = (1.5, 9.0);

impl Dip {
    /// Part of glucose not shown at this minute.
    #[inline]
    pub(super) fn hidden(&self, minute: f64) -> f64 {
        let since = minute - self.on;
        if since <= 0.0 {
            0.0
        } else if since <= self.held {
            self.part * (1.0 - libm::exp(-since / self.fall))
        } else {
            self.part
                * (1.0 - libm::exp(-self.held / self.fall))
                * libm::exp(-(since - self.held) / self.rise)
        }
    }

    /// Pressure is let go.
    pub(super) fn off(&self) -> f64 {
        self.on + self.held
    }

    /// Recovered but for an eighth.
    pub(super) fn end(&self) -> f64 {
        self.off() + 2.0 * self.rise
    }

    /// Nothing worth putting right is left after this.
    pub(super) fn over(&self) -> f64 {
        self.off() + 4.0 * self.rise
    }

    /// What is likely before looking: about 40 minutes in all, about a third taken off, constants about 4 minutes.
    /// Nothing outside the ranges.
    pub(super) fn log_prior(&self) -> f64 {
        let within = |x: f64, (low, high): (f64, f64)| (low..=high).contains(&x);
        let possible = within(self.held, HELD_MIN)
            && within(self.part, PART)
            && within(self.fall, CONSTANT_MIN)
            && within(self.rise, CONSTANT_MIN);
        if !possible {
            return f64::NEG_INFINITY;
        }
        let off_by = |x: f64, usual: f64, spread: f64| {
            let z = libm::log(x / usual) / spread;
            -0.5 * z * z
        };
        off_by(self.part, 0.35, 0.5)
            + off_by(self.held + 8.0, 40.0, 0.6)
            + off_by(self.fall, 4.0, 0.4)
            + off_by(self.rise, 4.0, 0.4)
    }
}

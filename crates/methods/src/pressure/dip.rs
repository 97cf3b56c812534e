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

/// A dip followed reading by reading: what [`Dip::hidden`] says, with few exponentials where readings come regularly.
#[derive(Clone, Copy, Debug)]
pub(super) struct Course {
    dip: Dip,
    /// Part hidden at the release.
    top: f64,
    /// Minute of the reading before.
    before: f64,
    /// Minutes from the one before that.
    step: f64,
    /// e to minus the minutes since onset or release over its time constant.
    left: f64,
    /// What is left of `left` after one more such step.
    kept: f64,
    released: bool,
}

impl Course {
    pub(super) fn new(dip: Dip) -> Self {
        Course {
            dip,
            top: Self::top(&dip),
            before: dip.on,
            step: f64::NAN,
            left: 1.0,
            kept: 1.0,
            released: false,
        }
    }

    fn top(dip: &Dip) -> f64 {
        dip.part * (1.0 - libm::exp(-dip.held / dip.fall))
    }

    /// The course of the same dip let go after so many minutes, where none asked for lies after that.
    pub(super) fn let_go(self, held: f64) -> Self {
        let dip = Dip { held, ..self.dip };
        Course {
            dip,
            top: Self::top(&dip),
            ..self
        }
    }

    /// Part of glucose not shown at this minute, which is after the onset and after the one asked for before.
    #[inline]
    pub(super) fn hidden(&mut self, minute: f64) -> f64 {
        let released = minute > self.dip.off();
        let step = minute - self.before;
        if released == self.released && step.to_bits() == self.step.to_bits() {
            self.left *= self.kept;
        } else {
            let (since, constant) = if released {
                (self.dip.off(), self.dip.rise)
            } else {
                (self.dip.on, self.dip.fall)
            };
            self.left = libm::exp(-(minute - since) / constant);
            self.kept = libm::exp(-step / constant);
        }
        (self.before, self.step, self.released) = (minute, step, released);
        if released {
            self.top * self.left
        } else {
            self.dip.part * (1.0 - self.left)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn followed_and_asked_for_a_dip_is_the_same() {
        let dip = Dip {
            on: 3.0,
            held: 41.0,
            part: 0.4,
            fall: 3.0,
            rise: 5.0,
        };
        let mut course = Course::new(dip);
        for minute in [
            4.0, 9.0, 14.0, 19.0, 26.0, 31.0, 36.0, 43.9, 49.0, 54.0, 59.0, 64.0, 120.0,
        ] {
            assert!(
                (course.hidden(minute) - dip.hidden(minute)).abs() < 1e-12,
                "{minute}"
            );
        }
        let mut held_on = Course::new(Dip {
            held: f64::INFINITY,
            ..dip
        });
        let (mut course, held) = (Course::new(dip), [4.0, 9.0, 14.0, 43.9]);
        assert!(
            held.iter()
                .all(|&minute| held_on.hidden(minute).to_bits() == course.hidden(minute).to_bits())
        );
        assert_eq!(
            held_on.let_go(41.0).hidden(49.0).to_bits(),
            course.hidden(49.0).to_bits()
        );
        assert!((dip.hidden(43.9) - 0.4).abs() < 1e-4 && dip.hidden(2.0) < 1e-12);
        assert!(dip.log_prior().is_finite() && Dip { held: 300.0, ..dip }.log_prior() == f64::NEG_INFINITY);
    }
}

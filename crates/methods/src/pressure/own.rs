//! What the wearer's verdicts on earlier lows say of the next: their own prior.

use super::weigh::{self, Evidence};
use super::{PressureLow, PressureParams};

/// Standard deviation of the normal prior of the shift, natural log-odds (ours). One verdict then moves the log-odds by
/// less than 1, whatever it is about; about ten have to agree before they say more than the signs do.
const PRIOR_SD: f64 = 1.0;
/// A score is never taken for surer than this: one verdict against a probability of 0.999 would tell of the score, not of
/// the person.
const SUREST: f64 = 0.99;
/// Newton's steps; the curve is concave and the slope bounded, so that a dozen are enough.
const STEPS: u32 = 50;

/// What a person's verdicts move the log-odds by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Own {
    /// Verdicts it rests on that say 'pressure'.
    pub pressure: u64,
    /// Verdicts it rests on that say 'a real low'.
    pub real: u64,
    /// The shift, natural log-odds; 0 without verdicts.
    pub log_odds: f64,
    /// How well it is known, one standard deviation; that of the prior without verdicts.
    pub sd: f64,
}

impl Own {
    /// A person of whom no verdict is known.
    pub const UNKNOWN: Self = Own {
        pressure: 0,
        real: 0,
        log_odds: 0.0,
        sd: PRIOR_SD,
    };

    /// The shift under which the verdicts are likeliest, held towards none by its prior: the mode of
    /// `Σ ln P(verdict | p shifted) − shift² / 2 SD²`, and the curvature there.
    ///
    /// * `verdicts`: the probability given by the signs alone (clamped to 0.01 to 0.99), and whether it was pressure.
    ///   Those whose probability is not a number are passed over.
    pub fn of(verdicts: impl IntoIterator<Item = (f64, bool)>) -> Self {
        let verdicts: Vec<(f64, bool)> = verdicts
            .into_iter()
            .filter(|(probability, _)| probability.is_finite())
            .map(|(probability, pressure)| (probability.clamp(1.0 - SUREST, SUREST), pressure))
            .collect();
        let mut own = Own {
            pressure: verdicts.iter().filter(|(_, pressure)| *pressure).count() as u64,
            real: verdicts.iter().filter(|(_, pressure)| !pressure).count() as u64,
            ..Own::UNKNOWN
        };
        if verdicts.is_empty() {
            return own;
        }
        for _ in 0..STEPS {
            let precision = PRIOR_SD.powi(-2);
            let (mut slope, mut curve) = (-own.log_odds * precision, precision);
            for &(probability, pressure) in &verdicts {
                let now = shifted(probability, own.log_odds);
                slope += f64::from(u8::from(pressure)) - now;
                curve += now * (1.0 - now);
            }
            own.sd = 1.0 / curve.sqrt();
            own.log_odds += slope / curve;
        }
        own
    }

    /// The same from dips and what the wearer said of them.
    ///
    /// Only of what was marked could the wearer be asked; a word on any other is likelier to come where it was pressure,
    /// and would teach too much. Marked means: by the signs alone, or with what the verdicts on those already teach.
    ///
    /// * `judged`: dips as [`pressure_lows`](super::pressure_lows) finds them with [`PressureParams::EVERYTHING`], and
    ///   whether each was pressure.
    pub fn learned(judged: &[(&PressureLow, bool)], params: &PressureParams) -> Self {
        let mut own = Own::UNKNOWN;
        let mut asked = vec![false; judged.len()];
        loop {
            let mut grown = false;
            for (asked, (low, _)) in asked.iter_mut().zip(judged) {
                if !*asked && params.marks(&own.told(low)) {
                    (*asked, grown) = (true, true);
                }
            }
            if !grown {
                return own;
            }
            let taught = judged.iter().zip(&asked).filter(|(_, asked)| **asked);
            own = Own::of(taught.map(|((low, pressure), _)| (low.probability, *pressure)));
        }
    }

    /// How many times the odds of each are what they would be of anybody.
    pub fn odds(&self) -> f64 {
        libm::exp(self.log_odds)
    }

    /// A dip as it is told to this person.
    pub fn told(&self, low: &PressureLow) -> PressureLow {
        let mut told = low.clone();
        if self.pressure + self.real > 0 {
            told.evidence.push(Evidence::Verdicts {
                weight: self.log_odds,
                verdicts: self.pressure + self.real,
            });
            told.probability = told.scored();
        }
        told
    }
}

impl PressureLow {
    /// The probability by its signs and its evidence.
    pub(super) fn scored(&self) -> f64 {
        let counted: f64 = self.evidence.iter().map(Evidence::weight).sum();
        weigh::probability(self.signs.log_odds() + counted)
    }
}

fn shifted(probability: f64, log_odds: f64) -> f64 {
    weigh::probability(libm::log(probability / (1.0 - probability)) + log_odds)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_verdict_moves_by_less_than_one_and_none_by_nothing() {
        assert_eq!(Own::of([]), Own::UNKNOWN);
        for probability in [0.0, 0.2, 0.5, 0.9, 1.0] {
            let (up, down) = (Own::of([(probability, true)]), Own::of([(probability, false)]));
            assert!(up.log_odds > 0.0 && up.log_odds < 1.0, "{up:?}");
            assert!(down.log_odds < 0.0 && down.log_odds > -1.0, "{down:?}");
            assert!(up.sd < PRIOR_SD && down.sd < PRIOR_SD);
        }
        assert_eq!(Own::of([(f64::NAN, true)]), Own::UNKNOWN);
    }

    /// Where the shares told are those given, nothing is moved.
    #[test]
    fn verdicts_as_expected_teach_nothing() {
        let verdicts = (0..40).map(|i| (0.75, i % 4 != 0));
        let own = Own::of(verdicts);
        assert!(own.log_odds.abs() < 1e-12, "{own:?}");
        assert_eq!((own.pressure, own.real), (30, 10));
    }
}

//! From the signs of a dip to a probability, and to words.

use std::fmt::Write as _;

use interstice_glucose::{Glucose, Unit};

use super::dip::Dip;
use super::search::Followed;

/// The measured signs of a dip, as they enter the score.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Signs {
    /// How much likelier the readings are with pressure than without, natural logarithm.
    pub log_ratio: f64,
    /// Noise within two hours beside it, as a multiple (in variance) of what the trace usually has.
    pub noise: f64,
    /// Largest part taken off, 0 to 1.
    pub part: f64,
    /// Fall within about a quarter of an hour, mg/dL.
    pub fall_mg_dl: f64,
    /// Recovery within about a quarter of an hour of the release, mg/dL.
    pub rise_mg_dl: f64,
    /// Hours since the sensor's first reading.
    pub age_h: f64,
}

/// Weights of the score, natural log-odds. Fitted on the simulated people and, all taken as no pressure, the people
/// without diabetes; see docs/methods/pressure-lows.md.
const WEIGHTS: [f64; 6] = [-3.62, 1.08, -0.62, 3.11, 2.29, -1.90];
/// Hours from a first reading within which its noise is new, and by which it has settled.
const FIRST_HOURS: (f64, f64) = (6.0, 12.0);
/// Weight of insulin logged before the fall (ours, not fitted: too few of the planted ones have any).
const INSULIN: f64 = -0.5;
/// A blood check moves the log-odds by this at most.
const LARGEST_CHECK: f64 = 4.0;
/// What sensor and meter together miss by: a part of the value, and mg/dL (ours).
const CHECK_SPREAD: (f64, f64) = (0.15, 10.0);

impl Signs {
    pub(super) fn of(followed: &Followed<'_>, dip: &Dip) -> Self {
        let noise = followed.noise_beside(dip);
        let values = &followed.mg_dl;
        let first = followed.after(dip.on);
        let before = &values[first.saturating_sub(3)..first];
        let level = before.iter().sum::<f64>() / before.len().max(1) as f64;
        let fallen = &values[first..followed.from(dip.on + 13.0).max(first + 1).min(values.len())];
        let lowest = fallen.iter().copied().fold(level, f64::min);
        let release = followed.from(dip.off());
        let risen = release..followed.from(dip.off() + 16.0).max(release + 1).min(values.len());
        let last = values.get(release.saturating_sub(1)).copied().unwrap_or(level);
        let highest = values
            .get(risen)
            .into_iter()
            .flatten()
            .copied()
            .fold(0.0, f64::max);
        Signs {
            log_ratio: followed.log_ratio(dip, noise.max(1.0)),
            noise,
            part: dip.part,
            fall_mg_dl: level - lowest,
            rise_mg_dl: highest - last,
            age_h: dip.on / 60.0,
        }
    }

    /// What the weights multiply: 1; √ of the log ratio; ln noise; ln of the part over 0.3; ln of the smaller of fall
    /// and rise over 20 mg/dL; 1 in the first hours of a sensor, 0 from the twelfth on.
    pub fn terms(&self) -> [f64; 6] {
        let edge = self.fall_mg_dl.min(self.rise_mg_dl).clamp(4.0, 60.0);
        let (new, settled) = FIRST_HOURS;
        [
            1.0,
            self.log_ratio.max(0.0).sqrt(),
            libm::log(self.noise.max(0.5)),
            libm::log(self.part / 0.3),
            libm::log(edge / 20.0),
            ((settled - self.age_h) / (settled - new)).clamp(0.0, 1.0),
        ]
    }

    pub(super) fn log_odds(&self) -> f64 {
        self.terms()
            .iter()
            .zip(WEIGHTS)
            .map(|(term, weight)| term * weight)
            .sum()
    }
}

/// Something that speaks for or against pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Evidence {
    /// The sensor fell this far within about a quarter of an hour.
    Fell {
        /// mg/dL.
        mg_dl: f64,
    },
    /// It came back this far within about a quarter of an hour.
    CameBack {
        /// mg/dL.
        mg_dl: f64,
    },
    /// In between it shows the course before and after with this much taken off.
    Copy {
        /// Percent.
        percent: f64,
    },
    /// The wearer slept, as logged.
    Asleep,
    /// It lies in the usual night; no sleep is logged.
    UsualNight,
    /// The sensor is noisier around it than it usually is.
    Noisy {
        /// Times as much, in variance.
        times: f64,
    },
    /// In the first hours of the sensor.
    NewSensor {
        /// Hours since its first reading.
        hours: f64,
    },
    /// Insulin was logged shortly before the fall.
    Insulin,
    /// Food was logged before the recovery; it can be why glucose rose.
    Food,
    /// A blood check during it.
    BloodCheck {
        /// Blood, mg/dL.
        blood_mg_dl: f64,
        /// The sensor then, mg/dL.
        sensor_mg_dl: f64,
        /// What it moves the log-odds by; above 0 for pressure.
        weight: f64,
    },
    /// What the wearer said of earlier ones.
    Verdicts {
        /// What they move the log-odds by.
        weight: f64,
        /// How many they are.
        verdicts: u64,
    },
}

impl Evidence {
    /// What it moves the natural log-odds by, where it is counted on its own.
    pub(super) fn weight(&self) -> f64 {
        match *self {
            Evidence::Insulin => INSULIN,
            Evidence::BloodCheck { weight, .. } | Evidence::Verdicts { weight, .. } => weight,
            _ => 0.0,
        }
    }

    /// A sentence in the wearer's unit.
    pub fn words(&self, unit: Unit) -> String {
        let shown = |mg_dl: f64| Glucose::from_mg_per_dl(mg_dl).shown(unit);
        let mut words = String::new();
        let written = match *self {
            Evidence::Fell { mg_dl } => {
                write!(
                    words,
                    "The sensor fell {} {unit} within about a quarter of an hour.",
                    shown(mg_dl)
                )
            }
            Evidence::CameBack { mg_dl } => {
                write!(
                    words,
                    "It came back {} {unit} within about a quarter of an hour.",
                    shown(mg_dl)
                )
            }
            Evidence::Copy { percent } => write!(
                words,
                "In between it shows the course before and after with about {percent:.0} % taken off."
            ),
            Evidence::Asleep => write!(words, "You were asleep, as logged."),
            Evidence::UsualNight => write!(words, "It lies in your usual night; no sleep is logged."),
            Evidence::Noisy { times } => {
                write!(
                    words,
                    "Against it: the sensor was noisier around it than usual (×{times:.1})."
                )
            }
            Evidence::NewSensor { hours } => write!(
                words,
                "Against it: the sensor had run for only {hours:.0} h, when readings are least settled."
            ),
            Evidence::Insulin => write!(words, "Against it: insulin was logged shortly before the fall."),
            Evidence::Food => {
                write!(
                    words,
                    "Food was logged before the recovery; it can be why glucose rose."
                )
            }
            Evidence::BloodCheck {
                blood_mg_dl,
                sensor_mg_dl,
                weight,
            } => write!(
                words,
                "{} blood check said {} {unit} while the sensor said {}.",
                if weight > 0.0 {
                    "For it: a"
                } else {
                    "Against it: a"
                },
                shown(blood_mg_dl),
                shown(sensor_mg_dl)
            ),
            Evidence::Verdicts { weight, verdicts } => write!(
                words,
                "What you said of others ({verdicts}) makes it {} likely.",
                if weight > 0.0 { "more" } else { "less" }
            ),
        };
        debug_assert!(written.is_ok(), "writing to a string does not fail");
        words
    }
}

/// How a blood check during a dip moves the log-odds: whether it is nearer to what the sensor said or to what it would
/// have said without pressure. Both misses are Student's t about the sensor, so that one contaminated drop decides
/// nothing by itself.
pub(super) fn check_weight(blood_mg_dl: f64, sensor_mg_dl: f64, hidden: f64) -> f64 {
    let free_mg_dl = sensor_mg_dl / (1.0 - hidden);
    let (part, mg_dl) = CHECK_SPREAD;
    let middle = (sensor_mg_dl * free_mg_dl).sqrt().max(1.0);
    let variance = part * part + mg_dl * mg_dl / (middle * middle);
    let surprise_from = |expected: f64| {
        let miss = libm::log(blood_mg_dl.max(1.0) / expected.max(1.0));
        super::filter::surprise(miss * miss / variance)
    };
    (surprise_from(sensor_mg_dl) - surprise_from(free_mg_dl)).clamp(-LARGEST_CHECK, LARGEST_CHECK)
}

pub(super) fn probability(log_odds: f64) -> f64 {
    1.0 / (1.0 + libm::exp(-log_odds))
}

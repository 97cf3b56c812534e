//! How sensitivity and production move: with the body's own day, from day to day, from hour to hour, after exercise,
//! after bad nights. All magnitudes are ours.

use interstice_glucose::Second;

use crate::body::Influence;
use crate::calendar::{Calendar, DAYS};
use crate::days::Plan;
use crate::random::{Dice, Purpose};

/// Swing of sensitivity over the body's day, as a logarithm, and the body's hour at which it is least.
const SENSITIVITY_SWING: (f64, f64) = (0.17, 6.5);
/// Rise of production around the body's dawn, and how wide it is, hours.
const DAWN: (f64, f64, f64) = (0.16, 6.0, 2.2);
/// Days of a planted cold: first, last, and what it does to sensitivity.
const COLD: (usize, usize, f64) = (104, 107, 0.78);
/// Steps of the slow noise, minutes.
const STEP_MIN: f64 = 5.0;
/// Memory of the slow noise, hours, and its standard deviation as a logarithm.
const HOURLY: (f64, f64) = (5.0, 0.31);
/// Fading of exercise, hours, and the gain in sensitivity right after an hour of it.
const AFTER_EXERCISE: (f64, f64) = (5.0, 0.55);

/// The state of the rhythm.
#[derive(Clone, Debug)]
pub(crate) struct Rhythm {
    dice: Dice,
    daily: Vec<f64>,
    hourly: f64,
    exercised: f64,
    /// Hour of the clock around which the person has lately been asleep.
    mid_sleep_h: f64,
    next_sleep: usize,
}

impl Rhythm {
    pub(crate) fn new(calendar: &Calendar, plan: &Plan, seed: u64) -> Self {
        let mut dice = Dice::new(seed, Purpose::Body);
        let daily = (0..=DAYS)
            .map(|day| {
                let bad = plan.sleeps.iter().any(|s| s.bad && calendar.day(s.to) == day);
                let cold = if (COLD.0..=COLD.1).contains(&day) {
                    libm::log(COLD.2)
                } else {
                    0.0
                };
                dice.about(0.0, 0.19) + cold - if bad { 0.09 } else { 0.0 }
            })
            .collect();
        Rhythm {
            dice,
            daily,
            hourly: 0.0,
            exercised: 0.0,
            mid_sleep_h: 3.0,
            next_sleep: 0,
        }
    }

    /// The influence for the five minutes from `at` on.
    pub(crate) fn at(&mut self, at: Second, calendar: &Calendar, plan: &Plan) -> Influence {
        self.follow_sleep(at, calendar, plan);
        let keep = libm::exp(-STEP_MIN / 60.0 / HOURLY.0);
        self.hourly = keep * self.hourly + HOURLY.1 * libm::sqrt(1.0 - keep * keep) * self.dice.normal();
        let active = plan
            .activities
            .iter()
            .find(|a| a.from <= at && at < a.from + a.minutes * 60);
        self.exercised *= libm::exp(-STEP_MIN / 60.0 / AFTER_EXERCISE.0);
        self.exercised += active.map_or(0.0, |a| STEP_MIN / 60.0 * AFTER_EXERCISE.1 * (a.effort - 0.6));
        // The body's own hour: as if mid-sleep were at three.
        let body_h = calendar.hour(at) - self.mid_sleep_h + 3.0;
        let angle = (body_h - SENSITIVITY_SWING.1) * std::f64::consts::TAU / 24.0;
        let day = self.daily.get(calendar.day(at)).copied().unwrap_or(0.0);
        let log = -SENSITIVITY_SWING.0 * libm::cos(angle) + self.hourly + day + self.exercised;
        let from_dawn = around_the_clock(body_h - DAWN.1) / DAWN.2;
        Influence {
            sensitivity: libm::exp(log),
            production: 1.0 + DAWN.0 * libm::exp(-0.5 * from_dawn * from_dawn),
            uptake: active.map_or(1.0, |a| a.effort),
        }
    }

    /// The body follows its sleep slowly: a quarter of the way with every long one.
    fn follow_sleep(&mut self, at: Second, calendar: &Calendar, plan: &Plan) {
        while let Some(sleep) = plan.sleeps.get(self.next_sleep).filter(|sleep| sleep.to <= at) {
            if sleep.to - sleep.from > 4 * 3600 {
                let mid = calendar.hour(i64::midpoint(sleep.from, sleep.to));
                self.mid_sleep_h += 0.25 * around_the_clock(mid - self.mid_sleep_h);
            }
            self.next_sleep += 1;
        }
    }
}

/// An angle in hours, brought to -12..12.
fn around_the_clock(hours: f64) -> f64 {
    let turned = (hours + 12.0) % 24.0;
    if turned < 0.0 {
        turned + 12.0
    } else {
        turned - 12.0
    }
}

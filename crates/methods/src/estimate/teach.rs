//! What one more blood check would teach of how a sensor scales.

use super::Learned;
use super::normal::P95;
use super::probable::Probable;
use super::scale::Scale;

/// How well it is known how far a sensor reads above or below blood at its present level, before a check and after it: half of the
/// band that holds it nine times in ten, percent of that level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Teaches {
    /// Now.
    pub before_percent: f64,
    /// After one check while glucose stands still.
    pub after_steady_percent: f64,
    /// After one check while it changes as handed in.
    pub after_percent: f64,
}

impl Scale {
    /// Variance of blood from gain and offset alone where the sensor shows `level_mg_dl`, (mg/dL)².
    fn variance_at(&self, level_mg_dl: f64) -> f64 {
        let gain = level_mg_dl * self.gain_sd;
        let both = gain * gain
            + self.offset_sd_mg_dl * self.offset_sd_mg_dl
            + 2.0 * level_mg_dl * self.covariance_mg_dl;
        both.max(0.0)
    }
}

impl Learned {
    /// What one more check at a reading would teach, before it is taken: a check is `level · (1 + gain) + offset` with an error,
    /// and a normal belief with variance V, looked at once with error variance R, is left with V R / (V + R), whatever the check
    /// shows (Kalman 1960, J Basic Eng 82:35). R holds the meter's own error, what the readings do not know of the level, and
    /// what is unknown of the delay times the rate, so that a check while glucose stands still teaches most.
    ///
    /// * `scale`, `blood`: as estimated at that reading, the delay undone.
    /// * `level_mg_dl`: what the sensor shows there, above 0.
    /// * `rate_mg_dl_min`: how fast it changes.
    pub fn teaches(&self, scale: &Scale, blood: &Probable, level_mg_dl: f64, rate_mg_dl_min: f64) -> Teaches {
        let level = level_mg_dl.max(1.0);
        let known = scale.variance_at(level);
        let by_delay = self.delay.sd_of_one_min() * rate_mg_dl_min;
        let by_delay = by_delay * by_delay;
        // What the estimate of blood does not know beside gain, offset and delay is what the readings do not tell of the level.
        let by_trace = (blood.variance() - known - by_delay).max(0.0);
        let error = self.checks.error_variance(level) + by_trace;
        let percent = |variance: f64| 100.0 * P95 * variance.sqrt() / level;
        let left = |error: f64| percent(known * error / (known + error));
        Teaches {
            before_percent: percent(known),
            after_steady_percent: left(error),
            after_percent: left(error + by_delay),
        }
    }
}

#[cfg(test)]
mod tests {
    use interstice_glucose::Censor;

    use super::super::{BloodCheck, Estimator, SensorEstimate, SensorTrace};
    use super::*;

    const STARTED: u32 = 1_700_000_000;

    /// A day and a half of a sensor that reads 8 % low, every five minutes, standing still or rising at its end.
    fn readings(rate: f64) -> (Vec<u32>, Vec<f64>) {
        let steps = 432u32;
        let at: Vec<u32> = (0..steps).map(|step| STARTED + 3600 + 300 * step).collect();
        let mg_dl = (0..steps)
            .map(|step| {
                let minutes = 5.0 * f64::from(step);
                let left = (5.0 * f64::from(steps - 1) - minutes).min(90.0);
                let wave = 25.0 * libm::sin(minutes / 70.0) * ((minutes - 1800.0).abs() / 400.0).min(1.0);
                let settled = if left < 90.0 { 0.0 } else { wave };
                (120.0 + settled + rate * (90.0 - left)).round()
            })
            .collect();
        (at, mg_dl)
    }

    fn estimate(
        at: &[u32],
        mg_dl: &[f64],
        checks: &[BloodCheck],
        learned: Option<&Learned>,
    ) -> (Learned, SensorEstimate) {
        let trace = SensorTrace {
            started: STARTED,
            at,
            mg_dl,
            censor: &vec![Censor::None; at.len()],
            aside: &vec![false; at.len()],
        };
        let estimator = Estimator::new(&[trace], checks);
        let learned = learned.cloned().unwrap_or_else(|| estimator.learn());
        let found = estimator.estimate(&learned).remove(0);
        (learned, found)
    }

    /// What is said of a check before it is taken is what the estimate itself knows once it has it.
    #[test]
    fn what_a_check_would_teach_is_what_it_teaches() {
        for rate in [0.0, 1.5] {
            let (at, mg_dl) = readings(rate);
            let last = at.len() - 1;
            for count in [0usize, 1, 3] {
                let mut checks: Vec<BloodCheck> = (0..count)
                    .map(|check| BloodCheck {
                        at: at[100 + 90 * check],
                        mg_dl: 1.08 * mg_dl[100 + 90 * check],
                    })
                    .collect();
                let (learned, before) = estimate(&at, &mg_dl, &checks, None);
                let level = mg_dl[last] + learned.delay.mean_min * rate;
                let teaches = learned.teaches(&before.scale[last], &before.readings[last], level, rate);
                checks.push(BloodCheck {
                    at: at[last],
                    mg_dl: before.readings[last].mean_mg_dl,
                });
                let (_, after) = estimate(&at, &mg_dl, &checks, Some(&learned));
                let found = 100.0 * P95 * after.scale[last].variance_at(level).sqrt() / level;
                assert!(
                    (found - teaches.after_percent).abs() < 0.1 * found,
                    "{count} checks, rate {rate}: {teaches:?}, in truth {found}"
                );
                assert!(teaches.after_percent < teaches.before_percent);
                assert!(teaches.after_steady_percent <= teaches.after_percent);
            }
        }
    }
}

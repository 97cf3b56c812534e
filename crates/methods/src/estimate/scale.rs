//! How a sensor scales: what its gain and offset make of one level of glucose.

use super::normal;

/// How blood lies above what the sensor shows: blood = level · (1 + gain) + offset, the delay undone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Blood over the sensor, less one.
    pub gain: f64,
    /// Standard deviation of that.
    pub gain_sd: f64,
    /// Offset, mg/dL.
    pub offset_mg_dl: f64,
    /// Standard deviation of that, mg/dL.
    pub offset_sd_mg_dl: f64,
    /// Covariance of both, mg/dL: what checks at one level of glucose cannot tell apart.
    pub covariance_mg_dl: f64,
}

/// How far a sensor reads above blood at one level of glucose, percent of the blood; below where negative.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadsHigh {
    /// As likely above as below.
    pub percent: f64,
    /// 25th and 75th percentile.
    pub half: (f64, f64),
    /// 5th and 95th percentile.
    pub most: (f64, f64),
}

/// Blood is not taken to be less than this part of what the sensor shows.
const LEAST_PART: f64 = 0.1;

impl Scale {
    /// How far the sensor reads above blood where it shows `level_mg_dl`, above 0: `100 · (level / blood − 1)` with
    /// `blood / level − 1 = gain + offset / level`, which is normal; percentiles pass through. Bands are the model's own.
    pub fn reads_high(&self, level_mg_dl: f64) -> ReadsHigh {
        let share = 1.0 / level_mg_dl.max(1.0);
        let middle = self.gain + share * self.offset_mg_dl;
        let offset_sd = share * self.offset_sd_mg_dl;
        let variance =
            self.gain_sd * self.gain_sd + offset_sd * offset_sd + 2.0 * share * self.covariance_mg_dl;
        let sd = variance.max(0.0).sqrt();
        let percent = |above: f64| 100.0 * (1.0 / (1.0 + above).max(LEAST_PART) - 1.0);
        let within = |z: f64| (percent(middle + z * sd), percent(middle - z * sd));
        ReadsHigh {
            percent: percent(middle),
            half: within(normal::QUARTILE),
            most: within(normal::P95),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: at 100 mg/dL a gain of 0.2 and an offset of 5 make blood 125, so the sensor reads 20 % low; one normal
    /// deviate of 0.6745 either way with a spread of 0.05 is 1.25 ± 0.0337.
    #[test]
    fn gain_and_offset_make_one_percentage() {
        let scale = Scale {
            gain: 0.2,
            gain_sd: 0.03,
            offset_mg_dl: 5.0,
            offset_sd_mg_dl: 4.0,
            covariance_mg_dl: 0.0,
        };
        let found = scale.reads_high(100.0);
        let near =
            |ours: f64, by_hand: f64| assert!((ours - by_hand).abs() < 0.01, "{ours} beside {by_hand}");
        near(found.percent, -20.0);
        near(found.half.0, 100.0 / 1.283_72 - 100.0);
        near(found.half.1, 100.0 / 1.216_28 - 100.0);
        assert!(found.most.0 < found.half.0 && found.half.1 < found.most.1);
    }

    /// What a check at one level says of gain and offset together is known better there than either alone.
    #[test]
    fn what_is_known_together_is_counted_together() {
        let scale = Scale {
            gain: 0.0,
            gain_sd: 0.05,
            offset_mg_dl: 0.0,
            offset_sd_mg_dl: 5.0,
            covariance_mg_dl: -0.05 * 5.0,
        };
        let at = |level| {
            let (low, high) = scale.reads_high(level).most;
            high - low
        };
        assert!(
            at(100.0) < 1e-5,
            "exactly known where the checks were: {}",
            at(100.0)
        );
        assert!(at(60.0) > 5.0 && at(300.0) > 5.0);
    }
}

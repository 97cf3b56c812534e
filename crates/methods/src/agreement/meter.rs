//! What the meter itself may be off by.

/// Below this blood glucose, mg/dL, ISO 15197:2013 allows a meter [`METER_LIMIT`] mg/dL, from it on percent.
pub const METER_SPLIT_MG_DL: f64 = 100.0;

/// What 95 of 100 results of a meter for home use must keep to by ISO 15197:2013: within 15 mg/dL of the reference
/// below 100 mg/dL and within 15 % from there on.
pub const METER_LIMIT: f64 = 15.0;

/// The point a standard normal stays within 95 times of 100, either side.
const NORMAL_95: f64 = 1.959_963_984_540_054;

/// Mean distance of a standard normal from its mean: the square root of 2/π.
const MEAN_DISTANCE: f64 = 0.797_884_560_802_865_4;

/// The MARD, percent, that a perfect sensor would show beside a meter that only just keeps ISO 15197:2013: normal
/// errors of which 95 % lie within the limit have a mean size of 6.1 mg/dL or 6.1 %. A MARD below that may come from a
/// better meter, from luck, or from a sensor set by these very checks; it does not show how near the sensor is to
/// the blood.
///
/// * `blood_mg_dl`: the checks it is to be held beside, above 0.
///
/// `None` of nothing. The shape of the errors is ours; the standard gives the limit alone.
pub fn meter_mard_percent(blood_mg_dl: impl IntoIterator<Item = f64>) -> Option<f64> {
    let usual = METER_LIMIT / NORMAL_95 * MEAN_DISTANCE;
    let (mut sum, mut count) = (0.0, 0_u32);
    for blood in blood_mg_dl {
        count += 1;
        sum += usual * (METER_SPLIT_MG_DL / blood).max(1.0);
    }
    (count > 0).then(|| sum / f64::from(count))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 15 / 1.96 × 0.798 = 6.106; at 50 mg/dL the same mg/dL are twice the percent.
    #[test]
    fn a_meter_that_just_passes_shows_about_six_percent() {
        assert!((meter_mard_percent([100.0, 250.0]).unwrap() - 6.106).abs() < 0.001);
        assert!((meter_mard_percent([50.0]).unwrap() - 12.213).abs() < 0.001);
        assert_eq!(meter_mard_percent([]), None);
    }
}

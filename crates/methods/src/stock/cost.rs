//! What sensors cost by the hour worn, and what early ends cost.

/// A sensor that is over, and what it cost.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Paid {
    /// Its price in minor units of one currency; 0 where it was free.
    pub price_minor: f64,
    /// Labelled hours.
    pub labelled_h: f64,
    /// Hours of its labelled time that it was worn; beyond its label they count too.
    pub worn_h: f64,
}

/// What some sensors cost.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Cost {
    /// Sensors.
    pub sensors: u64,
    /// Free ones among them.
    pub free: u64,
    /// What they cost together, minor units.
    pub spent_minor: f64,
    /// Hours they were worn.
    pub worn_h: f64,
    /// Cost of an hour worn, minor units: all that was paid over all that was worn. `None` where none was worn.
    pub per_worn_hour_minor: Option<f64>,
    /// Labelled hours that were not worn.
    pub unworn_h: f64,
    /// What these had cost, minor units: of each sensor, its price times the unworn share of its labelled hours.
    pub lost_minor: f64,
}

/// Adds up what sensors cost. Those without a labelled time, or with a figure that is no number, are left out.
pub fn cost(paid: &[Paid]) -> Cost {
    let mut sum = Cost::default();
    for one in paid {
        let is_told = [one.price_minor, one.labelled_h, one.worn_h]
            .iter()
            .all(|figure| figure.is_finite() && *figure >= 0.0);
        if !is_told || one.labelled_h <= 0.0 {
            continue;
        }
        let unworn = (one.labelled_h - one.worn_h).max(0.0);
        sum.sensors += 1;
        sum.free += u64::from(one.price_minor <= 0.0);
        sum.spent_minor += one.price_minor;
        sum.worn_h += one.worn_h;
        sum.unworn_h += unworn;
        sum.lost_minor += one.price_minor * unworn / one.labelled_h;
    }
    sum.per_worn_hour_minor = (sum.worn_h > 0.0).then(|| sum.spent_minor / sum.worn_h);
    sum
}

//! The blood meter.
//!
//! ISO 15197:2013 asks that 95 % of results lie within 15 mg/dL below 100 mg/dL and within 15 % from there on. Ours
//! has a standard deviation of 4.6 mg/dL or 4.6 %, a strip batch that is a little off, and now and then sugar on the
//! finger; it keeps that limit with room to spare.

use crate::random::{Dice, Purpose};

/// A meter with its current batch of strips.
#[derive(Clone, Debug)]
pub(crate) struct Meter {
    dice: Dice,
    batch: f64,
    left: u32,
}

impl Meter {
    pub(crate) fn new(seed: u64) -> Self {
        Meter {
            dice: Dice::new(seed, Purpose::Meter),
            batch: 1.0,
            left: 0,
        }
    }

    /// A result in whole mg/dL, and whether there was sugar on the finger.
    pub(crate) fn check(&mut self, blood_mg_dl: f64) -> (i32, bool) {
        if self.left == 0 {
            self.left = 50;
            self.batch = 1.0 + self.dice.about(0.0, 0.012).clamp(-0.025, 0.025);
        }
        self.left -= 1;
        let error = 4.6 * self.dice.normal().clamp(-3.0, 3.0);
        let sugar = self.dice.chance(0.006);
        let smear = if sugar { self.dice.between(25.0, 80.0) } else { 0.0 };
        let scale = (blood_mg_dl / 100.0).max(1.0);
        (
            (blood_mg_dl * self.batch + error * scale + smear)
                .round()
                .clamp(20.0, 600.0) as i32,
            sugar,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_the_limits_of_the_standard() {
        let mut meter = Meter::new(5);
        let mut within = 0;
        for i in 0..2000_i32 {
            let blood = 45.0 + f64::from(i % 300);
            let (result, _) = meter.check(blood);
            let limit = 15.0_f64.max(0.15 * blood);
            within += i32::from((f64::from(result) - blood).abs() <= limit);
        }
        assert!(within >= 1940, "{within} of 2000");
    }
}

//! The numbers of a plain trace.

use interstice_glucose::{DAY_S, Second};

use crate::random::{Dice, Purpose};

/// Seconds from midnight to noon: days of a trace begin at noon, so that no clock change falls on their border.
const NOON_S: Second = 12 * 3600;
/// Minutes of a day.
const MINUTES: usize = 1440;

/// Days of one trace, made one at a time.
#[derive(Clone, Debug)]
pub(crate) struct Trace {
    seed: u64,
    start: Second,
    interval_s: u32,
    rows: u64,
    base: Vec<f64>,
}

impl Trace {
    /// `rows` readings from `start` on, one every `interval_s` seconds (0 is taken as 1).
    pub(crate) fn new(start: Second, interval_s: u32, rows: u64, seed: u64) -> Self {
        Trace {
            seed,
            start,
            interval_s: interval_s.max(1),
            rows,
            base: vec![0.0; MINUTES],
        }
    }

    /// Number of the first day and of the last.
    pub(crate) fn days(&self) -> (i64, i64) {
        let last = self.start + self.rows.saturating_sub(1) as i64 * i64::from(self.interval_s);
        (day_of(self.start), day_of(last))
    }

    /// The readings of one day in time order, as (instant, mg/dL 40 to 400), into `out`.
    pub(crate) fn day(&mut self, day: i64, out: &mut Vec<(Second, u16)>) {
        out.clear();
        let mut dice = Dice::numbered(self.seed, Purpose::Long, day.rem_euclid(1 << 47) as u64);
        self.lay_base(&mut dice);
        let step = i64::from(self.interval_s);
        let begin = day * DAY_S + NOON_S;
        let first =
            (begin - self.start).max(0).div_euclid(step) + i64::from((begin - self.start).max(0) % step != 0);
        let end = begin + DAY_S;
        let (mut noise, keep) = (0.0, libm::exp(-f64::from(self.interval_s) / 900.0));
        let spread = 9.0 * libm::sqrt(3.0 * (1.0 - keep * keep));
        for i in first..self.rows as i64 {
            let at = self.start + i * step;
            if at >= end {
                break;
            }
            // Uniform noise will do here, and is cheap.
            noise = keep * noise + spread * (2.0 * dice.unit() - 1.0);
            let minute = ((at - begin) / 60) as usize;
            out.push((at, (self.base[minute] + noise).clamp(40.0, 400.0) as u16));
        }
    }

    /// A day's smooth course, minute by minute from noon: meals seen through two compartments, and a slow wander.
    fn lay_base(&mut self, dice: &mut Dice) {
        let meals =
            [40.0, 390.0, 1170.0].map(|minute| (minute + dice.between(-60.0, 60.0)).max(0.0) as usize);
        let sizes = [(); 3].map(|()| dice.between(80.0, 420.0));
        let (mut gut, mut risen, mut wander) = (0.0, 0.0, 0.0);
        let mut next = dice.between(-0.25, 0.25);
        for (minute, value) in self.base.iter_mut().enumerate() {
            for (at, size) in meals.iter().zip(sizes) {
                gut += if *at == minute { size } else { 0.0 };
            }
            if minute % 60 == 0 {
                next = dice.between(-0.3, 0.3);
            }
            wander += next - wander / 400.0;
            risen += gut / 45.0 - risen / 60.0;
            gut -= gut / 45.0;
            *value = 112.0 + wander + risen;
        }
    }
}

/// Noon-to-noon day that contains an instant.
fn day_of(at: Second) -> i64 {
    (at - NOON_S).div_euclid(DAY_S)
}

//! What a sensor makes of blood glucose.
//!
//! reading = pressure × [(1 + gain(t)) × I(t) + offset] × (1 + noise) + jitter, where I lags the blood by a first-order
//! delay. A time-varying gain and offset with autoregressive noise is the structure of Facchinetti et al. 2014, IEEE
//! Trans Biomed Eng 61(3); the first-order delay that of Keenan, Mastrototaro, Voskanyan, Steil 2009, J Diabetes Sci
//! Technol 3:1207 (and others before). The magnitudes are ours and describe no product.

use interstice_glucose::Second;
use serde::Serialize;

use crate::pressure::Compression;
use crate::random::{Dice, Purpose};
use crate::wear::{BIASED_LOT, Ending, LOT_BIAS, Site, Wear};

/// Minutes between readings.
pub const INTERVAL_MIN: Second = 5;
/// After its start a sensor gives no reading for this long, minutes.
pub const WARM_UP_MIN: Second = 60;
/// Readings below this many mg/dL are given as 'below range', above the second as 'above range'.
pub const RANGE_MG_DL: (i32, i32) = (40, 400);
/// A sensor that fails is dying for this long before its end.
const DYING_S: f64 = 8.0 * 3600.0;
/// Correlation of the noise of neighbouring readings: 0.7 at 15 minutes (Breton and Kovatchev 2008, J Diabetes Sci
/// Technol 2:853), so its cube root at 5.
const NOISE_CORRELATION: f64 = 0.887_904;

/// Constants of one sensor.
#[derive(Clone, Debug, Serialize)]
pub struct Traits {
    /// Gain error once settled, as a share, the lot's bias included.
    pub gain_settled: f64,
    /// Gain error at the moment it is put on, over and above the settled one.
    pub gain_at_put_on: f64,
    /// Time constant of settling, hours from putting on.
    pub settling_h: f64,
    /// Gain drift from the eighth day on, share a day.
    pub drift_a_day: f64,
    /// Offset, mg/dL.
    pub offset_mg_dl: f64,
    /// Time constant of the interstitial lag, minutes.
    pub lag_min: f64,
    /// Standard deviation of the noise, as a share of the reading.
    pub noise: f64,
}

/// What a reading was told by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// Nothing special.
    Good,
    /// In the sensor's first 24 hours after its start.
    FirstDay,
    /// Pressed on, or recovering from it.
    Pressed,
    /// In the last hours of a failing sensor.
    Dying,
}

/// One reading with its truth.
#[derive(Clone, Debug, Serialize)]
pub struct Reading {
    /// When.
    pub at: Second,
    /// Index of the sensor among the lives.
    pub sensor: usize,
    /// As the sensor says it: whole mg/dL, at the edge of the range where it is censored.
    pub mg_dl: i32,
    /// Below range (−1), above range (1), or a number (0).
    pub beyond: i8,
    /// True blood glucose then, mg/dL.
    pub blood_mg_dl: f64,
    /// True interstitial glucose at the sensor then, mg/dL.
    pub interstitial_mg_dl: f64,
    /// What it was told by.
    pub state: State,
}

/// A sensor at work.
#[derive(Clone, Debug)]
pub(crate) struct Sensor {
    pub(crate) traits: Traits,
    index: usize,
    put_on: Second,
    started: Second,
    ended: Second,
    fails: bool,
    pressure: Vec<Compression>,
    interstitial: Option<f64>,
    noise: f64,
    silent_until: Second,
    dice: Dice,
}

impl Sensor {
    pub(crate) fn new(index: usize, wear: &Wear, pressure: &[Compression], seed: u64) -> Self {
        let mut dice = Dice::numbered(seed, Purpose::Sensor, index as u64);
        let mut pressure: Vec<Compression> = pressure
            .iter()
            .filter(|c| c.sensor == wear.sensor)
            .cloned()
            .collect();
        pressure.reverse();
        Sensor {
            traits: Traits::draw(wear, &mut dice),
            index,
            put_on: wear.put_on,
            started: wear.started,
            ended: wear.ended,
            fails: wear.ending == Ending::Failed,
            pressure,
            interstitial: None,
            noise: 0.0,
            silent_until: wear.started + WARM_UP_MIN * 60,
            dice,
        }
    }

    /// One minute under the skin at blood glucose `blood`; a reading when one is due and comes through.
    pub(crate) fn minute(&mut self, at: Second, blood: f64) -> Option<Reading> {
        if at < self.put_on || at >= self.ended {
            return None;
        }
        let interstitial = self.interstitial.get_or_insert(blood);
        *interstitial += (blood - *interstitial) * (1.0 - libm::exp(-1.0 / self.traits.lag_min));
        let interstitial = *interstitial;
        let due = at >= self.started && (at - self.started) % (INTERVAL_MIN * 60) == 0;
        if !due {
            return None;
        }
        let (value, state) = self.measure(at, interstitial);
        let lost = self.is_silent(at, state);
        (!lost).then(|| self.reading(at, value, state, blood, interstitial))
    }

    fn measure(&mut self, at: Second, interstitial: f64) -> (f64, State) {
        let traits = &self.traits;
        let settle = libm::exp(-((at - self.put_on) as f64) / 3600.0 / traits.settling_h);
        let worn_days = (at - self.started) as f64 / 86_400.0;
        let gain = traits.gain_settled
            + traits.gain_at_put_on * settle
            + traits.drift_a_day * (worn_days - 7.0).max(0.0);
        let dying = if self.fails {
            (1.0 - (self.ended - at) as f64 / DYING_S).max(0.0)
        } else {
            0.0
        };
        let spread = traits.noise * (1.0 + 1.6 * settle + 3.5 * dying);
        let innovation = libm::sqrt(1.0 - NOISE_CORRELATION * NOISE_CORRELATION);
        self.noise = NOISE_CORRELATION * self.noise + innovation * self.dice.normal();
        while self.pressure.last().is_some_and(|c| c.recovered < at) {
            self.pressure.pop();
        }
        let factor = self.pressure.last().map_or(1.0, |c| c.factor(at));
        let clean = (1.0 + gain) * interstitial + traits.offset_mg_dl;
        let value = factor * clean * (1.0 - 0.5 * dying * dying) * (1.0 + spread * self.noise)
            + self.dice.about(0.0, 1.2);
        let state = if dying > 0.0 {
            State::Dying
        } else if self.pressure.last().is_some_and(|c| c.start <= at) {
            State::Pressed
        } else if worn_days < 1.0 {
            State::FirstDay
        } else {
            State::Good
        };
        (value, state)
    }

    /// Holes: warm-up, a quarter of an hour to four hours now and then, half a night out of reach of the reader once
    /// in three weeks, and more and more of them when dying.
    fn is_silent(&mut self, at: Second, state: State) -> bool {
        let draw = self.dice.unit();
        if at < self.silent_until {
            return true;
        }
        let chance = if state == State::Dying { 0.08 } else { 0.0012 };
        if draw < chance {
            let long = draw < chance * 0.12;
            let (low, high) = if state == State::Dying {
                (10.0, 50.0)
            } else if long {
                (240.0, 560.0)
            } else {
                (12.0, 170.0)
            };
            self.silent_until = at + self.dice.between(low, high) as Second * 60;
        }
        draw < chance
    }

    fn reading(&self, at: Second, value: f64, state: State, blood: f64, interstitial: f64) -> Reading {
        let (low, high) = RANGE_MG_DL;
        let whole = value.round().clamp(0.0, 9999.0) as i32;
        let beyond = i8::from(whole > high) - i8::from(whole < low);
        Reading {
            at,
            sensor: self.index,
            mg_dl: whole.clamp(low, high),
            beyond,
            blood_mg_dl: tenths(blood),
            interstitial_mg_dl: tenths(interstitial),
            state,
        }
    }
}

impl Traits {
    fn draw(wear: &Wear, dice: &mut Dice) -> Self {
        let (spread, noise, slower) = match wear.site {
            Site::UpperArm => (1.0, 1.0, 0.0),
            Site::Thigh => (1.05, 1.05, 0.3),
            Site::Chest => (1.05, 1.12, 0.2),
            Site::Abdomen => (1.6, 2.1, 1.0),
        };
        let lot = if wear.lot == BIASED_LOT { LOT_BIAS } else { 0.0 };
        let mills = |x: f64| (x * 10_000.0).round() / 10_000.0;
        Traits {
            gain_settled: mills(lot + dice.about(-0.005, 0.042 * spread).clamp(-0.14, 0.14)),
            gain_at_put_on: mills(away_from_zero(dice.about(-0.21, 0.10), 0.12) * spread),
            settling_h: mills(dice.between(10.0, 17.0)),
            drift_a_day: mills(dice.about(-0.002, 0.003)),
            offset_mg_dl: mills(dice.about(0.0, 3.5).clamp(-8.0, 8.0)),
            lag_min: mills((dice.between(6.0, 8.0) + slower).min(9.0)),
            noise: mills(dice.between(0.036, 0.052) * noise),
        }
    }
}

fn away_from_zero(x: f64, least: f64) -> f64 {
    if x < 0.0 { x.min(-least) } else { x.max(least) }
}

/// Rounded to a tenth.
pub(crate) fn tenths(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}

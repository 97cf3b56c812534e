//! Live, a reading may be believed or the sensor may be under pressure at this very moment: both accounts are kept, each
//! with its chance, and what is told is both together.
//!
//! Two modes of one Markov chain, each pair of followed steps weighed and then merged by its moments (generalized
//! pseudo-Bayes of order two). While pressed the readings say nothing of blood; how they fall and stay says how
//! likely that account is.
//!
//! # References
//! Ackerson GA, Fu KS (1970). IEEE Trans Autom Control 15:10–17. Bar-Shalom Y, Li XR, Kirubarajan T (2001). Estimation
//! with Applications to Tracking and Navigation, section 11.6.

use super::filter::{self, Belief, Look, Seen, Tails, Transition};
use super::normal;

/// How often pressure sets in while in bed, a minute: once in eight hours. With 40 minutes each that marks 8 % of the
/// readings in bed, about 3 % of all (Baysal 2014, J Diabetes Sci Technol 8:1091).
const SETS_IN: f64 = 1.0 / 480.0;
/// How often it ends, a minute, in bed and out of it. Ours.
const ENDS: f64 = 1.0 / 40.0;
const ENDS_UP: f64 = 1.0 / 10.0;
/// Largest part that pressure takes off at its first reading; all parts up to it are thought equally likely. Ours.
const MOST_OFF: f64 = 0.6;
/// How a pressed reading differs from the one before five minutes ago, mg/dL: while it stays, and while it still falls or
/// comes back, with the share of the latter. Ours.
const STAYS_MG_DL: f64 = 4.0;
const SLIDES_MG_DL: f64 = 15.0;
const SLIDES: f64 = 0.3;
/// Where readings were further out of line than this of late, pressure cannot set in: a failing sensor dips by itself.
/// Square of the surprise over its variance, on average over about three hours, none counted above the last. Ours.
const MOST_RESTLESS: f64 = 2.0;
const REST_MIN: f64 = 180.0;
const MOST_SURPRISE: f64 = 16.0;
/// No reading makes this account surer: one may be low and lie on the sensor, and only a blood check tells. Ours.
const SUREST: f64 = 0.9;
/// Below this chance an account is dropped.
const LEAST: f64 = 1e-4;

/// The account in which the sensor is being pressed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pressing<const N: usize> {
    /// What is thought of the state, from before the pressure.
    pub(crate) belief: Belief<N>,
    /// Chance of this account.
    pub(crate) chance: f64,
    /// What the sensor showed last, from the same zero as a look's value.
    shown: f64,
}

/// Both accounts of one sensor.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Accounts<const N: usize> {
    /// What is thought of the state if the readings are to be believed.
    pub(crate) free: Belief<N>,
    /// The other account, where it has any chance.
    pub(crate) pressed: Option<Pressing<N>>,
    /// How far readings were out of line of late: the square of their surprise over its variance, on average.
    restless: f64,
}

/// What is known beside a reading.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Beside {
    /// Since the look before, minutes.
    pub(crate) minutes: f64,
    /// Whether the wearer is usually in bed then.
    pub(crate) in_bed: bool,
    /// What zero stands for in a look's value, mg/dL.
    pub(crate) centre_mg_dl: f64,
}

impl<const N: usize> Accounts<N> {
    pub(crate) fn new(free: Belief<N>) -> Self {
        Accounts {
            free,
            pressed: None,
            restless: 1.0,
        }
    }

    pub(crate) fn moved(&self, by: &Transition<N>) -> Self {
        Accounts {
            free: self.free.moved(by),
            pressed: self.pressed.map(|pressed| Pressing {
                belief: pressed.belief.moved(by),
                ..pressed
            }),
            restless: self.restless,
        }
    }

    /// Chance that the sensor is being pressed.
    pub(crate) fn chance(&self) -> f64 {
        self.pressed.map_or(0.0, |pressed| pressed.chance)
    }

    /// Takes in a reading.
    pub(crate) fn reading(&mut self, look: &Look<N>, tails: Tails, beside: &Beside) {
        let before = self.chance();
        let may_set_in = beside.in_bed && self.restless <= MOST_RESTLESS;
        let mut kept = self.free;
        let Some(believed) = filter::take(&mut kept, look, tails) else {
            return;
        };
        self.rest(look, beside.minutes);
        if before <= 0.0 && !may_set_in {
            self.free = kept;
            return;
        }
        let sets_in = if may_set_in {
            1.0 - libm::exp(-beside.minutes * SETS_IN)
        } else {
            0.0
        };
        let lasts = libm::exp(-beside.minutes * if beside.in_bed { ENDS } else { ENDS_UP });
        let pressed = self.pressed.unwrap_or(Pressing {
            belief: self.free,
            chance: 0.0,
            shown: look.value,
        });
        let mut back = pressed.belief;
        let again = filter::take(&mut back, look, tails).map_or(0.0, |taken| libm::exp(taken.log_density));
        let off = taken_off(&self.free, look, beside.centre_mg_dl);
        let free = [
            (
                kept,
                (1.0 - before) * (1.0 - sets_in) * libm::exp(believed.log_density),
            ),
            (back, before * (1.0 - lasts) * again),
        ];
        let held = [
            (self.free, (1.0 - before) * sets_in * off),
            (
                pressed.belief,
                before * lasts * stays(&pressed, look, beside.minutes),
            ),
        ];
        self.settle(&free, &held, look.value);
    }

    /// Merges the ways that lead to each account.
    fn settle(&mut self, free: &[(Belief<N>, f64); 2], held: &[(Belief<N>, f64); 2], shown: f64) {
        let (of_free, of_held) = (free[0].1 + free[1].1, held[0].1 + held[1].1);
        let chance = of_held / (of_free + of_held);
        // Neither account explains the reading at all, or pressure does not: it is believed.
        if !chance.is_finite() || chance < LEAST {
            self.free = free[0].0;
            self.pressed = None;
            return;
        }
        self.free = if of_free > 0.0 { merged(free) } else { free[0].0 };
        self.pressed = Some(Pressing {
            belief: merged(held),
            chance: chance.min(SUREST),
            shown,
        });
    }

    /// Keeps count of how far readings are out of line.
    fn rest(&mut self, look: &Look<N>, minutes: f64) {
        if look.seen != Seen::Value {
            return;
        }
        let (forecast, spread) = self.free.of(&look.h);
        let off = look.value - forecast;
        let square = (off * off / (spread + look.variance)).min(MOST_SURPRISE);
        let old = libm::exp(-minutes / REST_MIN);
        self.restless = old * self.restless + (1.0 - old) * square;
    }

    /// Takes in a look at blood, laid out for each account by itself; it also weighs the accounts, as if its noise were
    /// normal: a blood check decides.
    pub(crate) fn blood(&mut self, look: impl Fn(&Belief<N>) -> Look<N>, tails: Tails) {
        let take = |belief: &mut Belief<N>| {
            let look = look(belief);
            let weighed = filter::take(&mut belief.clone(), &look, Tails::Normal)
                .map_or(0.0, |taken| taken.log_density);
            filter::take(belief, &look, tails);
            weighed
        };
        let of_free = take(&mut self.free);
        let Some(mut pressed) = self.pressed else { return };
        let of_held = take(&mut pressed.belief);
        let odds =
            pressed.chance / (1.0 - pressed.chance) * libm::exp((of_held - of_free).clamp(-50.0, 50.0));
        pressed.chance = (odds / (1.0 + odds)).min(1.0 - LEAST);
        self.pressed = (pressed.chance >= LEAST).then_some(pressed);
    }

    /// Mean and variance of something told by each account.
    pub(crate) fn told(&self, of: impl Fn(&Belief<N>) -> (f64, f64)) -> (f64, f64) {
        let free = of(&self.free);
        let Some(pressed) = &self.pressed else { return free };
        let held = of(&pressed.belief);
        let (p, apart) = (pressed.chance, held.0 - free.0);
        (
            free.0 + p * apart,
            (1.0 - p) * free.1 + p * held.1 + p * (1.0 - p) * apart * apart,
        )
    }
}

/// Density of a first pressed reading.
fn taken_off<const N: usize>(free: &Belief<N>, look: &Look<N>, centre_mg_dl: f64) -> f64 {
    let would = look.h.dot(&free.mean) + centre_mg_dl;
    let reach = MOST_OFF * would;
    if reach <= 1.0 {
        return 0.0;
    }
    let off = would - (look.value + centre_mg_dl);
    match look.seen {
        Seen::Value if (0.0..=reach).contains(&off) => 1.0 / reach,
        Seen::Below => ((reach - off) / reach).clamp(0.0, 1.0),
        _ => 0.0,
    }
}

/// Density of one more pressed reading: near the one before, and below what it would be without pressure.
fn stays<const N: usize>(pressed: &Pressing<N>, look: &Look<N>, minutes: f64) -> f64 {
    let by = look.value - pressed.shown;
    let longer = (minutes / 5.0).max(0.2).sqrt();
    let (would, variance) = pressed.belief.of(&look.h);
    let off = normal::below((would - look.value) / (variance + look.variance).sqrt()).0;
    match look.seen {
        Seen::Value => {
            let still = normal::density(by, STAYS_MG_DL * longer);
            let sliding = normal::density(by, SLIDES_MG_DL * longer);
            libm::exp(off) * ((1.0 - SLIDES) * still + SLIDES * sliding)
        }
        // Some of what lies below the limit is near the one before, some is not.
        Seen::Below => 0.5,
        Seen::Above | Seen::Nothing => 0.0,
    }
}

/// Two beliefs as one of the same mean and covariance; their weights need not add up to one but must not both be zero.
fn merged<const N: usize>(parts: &[(Belief<N>, f64); 2]) -> Belief<N> {
    let [(a, of_a), (b, of_b)] = parts;
    let p = of_b / (of_a + of_b);
    let apart = b.mean - a.mean;
    Belief {
        mean: a.mean + apart * p,
        covariance: a.covariance * (1.0 - p) + b.covariance * p + apart * apart.transpose() * (p * (1.0 - p)),
    }
}

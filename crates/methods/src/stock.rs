//! How long a drawer of sensors lasts, and when to order, in simulated futures; and what sensors cost by the hour.
//!
//! In each future sensors follow each other as planned, each until its labelled end or until it is lost; when one would have to be put
//! on and none is there, the drawer has run out. How soon sensors are lost is drawn from the wearer's own stays, anew in each future, so that
//! few stays make the futures differ more. Nothing is supposed of the shape of the curve.

mod cost;
mod curve;
mod walk;

pub use cost::{Cost, Paid, cost};

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use crate::bootstrap::Interval;
use crate::plan::WearClock;
use crate::quantile::quantile;
use curve::{Curve, Known};

/// Futures that are simulated: of a chance of 5 % the share found is then off by less than 0.7 points in 19 cases of 20.
pub const FUTURES: u32 = 4000;
/// Fewest sensors of one's own that are over before futures are told. Common practice, no source.
pub const FEWEST_STAYS: usize = 5;
/// The share of futures in which the drawer may run out before an order arrives.
pub const MAY_RUN_OUT: f64 = 0.05;

/// How sensors follow each other, hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Habit {
    /// Labelled wear, above 0.
    pub wear_h: f64,
    /// What starts its clock.
    pub clock: WearClock,
    /// How long before it takes over a sensor is put on, where the end of the one before it could be planned: bedding in and
    /// warm-up. Below the labelled wear.
    pub before_h: f64,
    /// How much of that it has been started: the warm-up beside the old one; 0 where only one can read at a time.
    pub warm_up_h: f64,
}

/// A sensor in the drawer, or one that is to come, hours from now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Supplied {
    /// From when it is there.
    pub from_h: f64,
    /// Until when it may be put on; infinite where nothing is printed.
    pub until_h: f64,
}

/// The sensor that reads now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnNow {
    /// Hours since it was put on.
    pub worn_h: f64,
    /// Hours to its labelled end, or to the end of what may follow where that is over.
    pub left_h: f64,
}

/// What became of one of the wearer's own sensors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Past {
    /// Used up before its time was over, for whatever reason, so many hours after it was put on; above 0, others are left out.
    Early(f64),
    /// Worn to its labelled end.
    Whole,
    /// Still on, so many hours after it was put on; above 0, others are left out.
    StillOn(f64),
}

impl Past {
    fn is_over(self) -> bool {
        match self {
            Past::Early(hours) => hours.is_finite() && hours > 0.0,
            Past::Whole => true,
            Past::StillOn(_) => false,
        }
    }
}

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct Ask<'a> {
    /// The wearer's own sensors.
    pub past: &'a [Past],
    /// How they follow each other.
    pub habit: Habit,
    /// The sensor that reads now.
    pub on: Option<OnNow>,
    /// Sensors put on already that do not read yet.
    pub waiting: u32,
    /// What is there and what is to come, in any order.
    pub drawer: &'a [Supplied],
    /// Futures to simulate, at least 1.
    pub futures: u32,
    /// Their seed.
    pub seed: u64,
}

/// Why nothing can be told.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Untold {
    /// Too few sensors that are over, early or whole.
    #[error(
        "{have} of your sensors {} over; from {need} on the drawer's end is told",
        if *have == 1 { "is" } else { "are" }
    )]
    TooFew {
        /// Sensors that are over.
        have: usize,
        /// How many would do.
        need: usize,
    },
    /// A habit that cannot be.
    #[error("sensors are put on earlier than the one before them ends by all of their wear; bed in for less")]
    Habit,
}

/// What becomes of the drawer.
#[derive(Clone, Debug, PartialEq)]
pub struct Lasting {
    /// Of each future, hours from now until a sensor would have to be put on and none is there; in order.
    pub out_h: Vec<f64>,
    /// Of each sensor of the drawer, in the order given, the share of futures in which it expires unused.
    pub expires_unused: Vec<f64>,
}

impl Lasting {
    /// The hours in the middle.
    pub fn middle_h(&self) -> f64 {
        quantile(&self.out_h, 0.5).unwrap_or(0.0)
    }

    /// 90 of 100 futures run out within these.
    pub fn within_h(&self) -> Interval {
        Interval {
            lo: quantile(&self.out_h, MAY_RUN_OUT).unwrap_or(0.0),
            hi: quantile(&self.out_h, 1.0 - MAY_RUN_OUT).unwrap_or(0.0),
        }
    }

    /// The latest hour from now at which an order may be made that arrives so many hours later: in no more than 5 of 100 futures has the drawer
    /// run out by then. Negative where it should have been made before now.
    pub fn order_by_h(&self, delivery_h: f64) -> f64 {
        // So many may lie below: the hour at which the next one runs out is still in time.
        let may = (MAY_RUN_OUT * self.out_h.len() as f64).floor() as usize;
        self.out_h.get(may).copied().unwrap_or(0.0) - delivery_h
    }

    /// Share of futures in which it has run out before an hour from now.
    pub fn out_before(&self, hours: f64) -> f64 {
        let out = self.out_h.partition_point(|&out| out < hours);
        out as f64 / (self.out_h.len() as f64).max(1.0)
    }
}

/// What becomes of the drawer in simulated futures.
///
/// In each future the wearer's sensors get weights drawn from the standard exponential distribution (the Bayesian bootstrap: Rubin 1981, Ann
/// Stat 9:130; with some still on, Lo 1993, Ann Stat 21:100), and one imagined sensor joins them: lost at an hour drawn evenly from its time with
/// a weight of gamma(½), worn to its end with another. With none still on the chance of an early end is then drawn from Jeffreys' posterior,
/// beta(early + ½, whole + ½), so that having lost none yet does not mean that none will be. The product-limit curve of these weights says when each sensor
/// of this future is lost; one that is not is worn to its labelled end, not beyond. After a planned end the next one was put on `before_h`
/// earlier; after a loss it is put on at once. The first to expire is taken of those that are there.
///
/// # Errors
/// `TooFew` below [`FEWEST_STAYS`] sensors that are over (early or whole); `Habit`.
pub fn lasting(ask: &Ask<'_>) -> Result<Lasting, Untold> {
    checked(ask)?;
    let mut order: Vec<usize> = (0..ask.drawer.len()).collect();
    order.sort_by(|&a, &b| {
        let (a, b) = (&ask.drawer[a], &ask.drawer[b]);
        a.until_h
            .total_cmp(&b.until_h)
            .then(a.from_h.total_cmp(&b.from_h))
    });
    let mut unused = vec![0_u32; ask.drawer.len()];
    let mut out_h: Vec<f64> = futures(ask)
        .map(|(curve, mut stream)| {
            let mut left = order.clone();
            let mut waiting = ask.waiting;
            let mut out = 0.0;
            walk::walk(&curve, ask.habit, ask.on, &mut stream, |put_on, _| {
                if waiting > 0 {
                    waiting -= 1;
                    return true;
                }
                out = put_on;
                let there = |&place: &usize| {
                    let one = &ask.drawer[place];
                    (one.from_h..=one.until_h).contains(&put_on)
                };
                let first = left.iter().position(there);
                first.map(|first| left.remove(first)).is_some()
            });
            for place in left {
                unused[place] += u32::from(ask.drawer[place].from_h <= out);
            }
            out
        })
        .collect();
    out_h.sort_unstable_by(f64::total_cmp);
    let share = |count: u32| f64::from(count) / out_h.len() as f64;
    Ok(Lasting {
        expires_unused: unused.into_iter().map(share).collect(),
        out_h,
    })
}

/// Sensors used in so many hours of unbroken wear with an endless drawer, one figure a future, in order; the last one by the part of it that
/// falls within. The drawer, the sensor on and those waiting are not looked at.
///
/// # Errors
/// As [`lasting`].
pub fn used_within(ask: &Ask<'_>, hours: f64) -> Result<Vec<f64>, Untold> {
    checked(ask)?;
    let mut used: Vec<f64> = futures(ask)
        .map(|(curve, mut stream)| {
            let (mut count, mut last) = (0_u32, 0.0);
            let mut part = 0.0;
            walk::walk(&curve, ask.habit, None, &mut stream, |_, takes_over| {
                if takes_over >= hours {
                    part = (hours - last) / (takes_over - last);
                    return false;
                }
                count += 1;
                last = takes_over;
                true
            });
            f64::from(count.max(1) - 1) + part
        })
        .collect();
    used.sort_unstable_by(f64::total_cmp);
    Ok(used)
}

fn checked(ask: &Ask<'_>) -> Result<(), Untold> {
    let habit = &ask.habit;
    let fits = habit.wear_h > 0.0
        && habit.wear_h.is_finite()
        && (0.0..habit.wear_h).contains(&habit.before_h)
        && (0.0..=habit.before_h).contains(&habit.warm_up_h);
    if !fits {
        return Err(Untold::Habit);
    }
    let have = ask.past.iter().filter(|past| past.is_over()).count();
    if have < FEWEST_STAYS {
        return Err(Untold::TooFew {
            have,
            need: FEWEST_STAYS,
        });
    }
    Ok(())
}

/// The curve of each future, and its random numbers.
fn futures(ask: &Ask<'_>) -> impl Iterator<Item = (Curve, ChaCha8Rng)> {
    let known = Known::of(ask.past);
    let habit = ask.habit;
    let longest = habit.wear_h
        + match habit.clock {
            WearClock::PutOn => 0.0,
            WearClock::Start => habit.before_h - habit.warm_up_h,
        };
    let base = ChaCha8Rng::seed_from_u64(ask.seed);
    (0..ask.futures.max(1)).map(move |future| {
        let mut stream = base.clone();
        stream.set_stream(future.into());
        let curve = Curve::drawn(&known, longest, &mut stream);
        (curve, stream)
    })
}

#[cfg(test)]
mod tests;

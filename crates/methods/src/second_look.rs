//! The second look: what followed moments like this one, in this person's own past.
//!
//! The forecast blends a ridge autoregression with the outcomes of the moments most alike, both learned from this
//! person's past alone and fitted anew each lived day; its fan is calibrated as the days go. See
//! docs/methods/second-look.md. Start at [`Past`], then [`Moments`], then [`look`] for one moment or [`score`] for how
//! well it would have done.

mod analogs;
mod chance;
mod conformal;
mod features;
mod forecast;
mod laid;
mod look;
mod moments;
mod replay;
mod ridge;
mod score;
mod spread;

use interstice_glucose::LivedClock;

use crate::trace::IntervalFrom;

pub use analogs::{Analog, weighted_quantiles, weights};
pub use chance::{Chance, EpisodeRate, wilson};
pub use conformal::{Stretch, Stretches, Zone};
pub use features::{FEATURES, SHAPE};
pub use forecast::Forecast;
pub use look::{Alike, Day, FanPoint, Followed, NoLook, SecondLook, blurred, look};
pub use moments::{After, Moments};
pub use replay::{Dealt, REACH_DAYS, REPLAY_DAYS, Replay};
pub use ridge::Ridge;
pub use score::{AtHorizon, OfEvent, Score, score};
pub use spread::Spread;

/// Minutes ahead at which outcomes are told.
pub const HORIZONS_MIN: [u32; HORIZONS] = [15, 30, 45, 60, 90, 120, 150, 180, 210, 240];
/// How many of them.
pub const HORIZONS: usize = 10;
/// How many levels a fan has: 5 % to 95 % in steps of five.
pub const LEVELS: usize = 19;
/// Lived days before the first fan, which is on the seventh.
pub const FEWEST_DAYS: i64 = 6;

/// Level of one place of a fan.
pub fn level(place: usize) -> f64 {
    (place as f64 + 1.0) / (LEVELS as f64 + 1.0)
}

/// Insulin taken for food or to correct; what is given in the background is not among it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Taken {
    /// When, seconds since 1970.
    pub at: u32,
    /// Units.
    pub units: f64,
}

/// Carbohydrate eaten.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Eaten {
    /// When, seconds since 1970.
    pub at: u32,
    /// Grams, where they were counted.
    pub grams: Option<f64>,
}

/// What is known of a person.
#[derive(Clone, Copy, Debug)]
pub struct Past<'a> {
    /// Instants of readings, seconds since 1970, strictly ascending; artefacts left out beforehand.
    pub at: &'a [u32],
    /// Glucose there, mg/dL, finite.
    pub mg_dl: &'a [f64],
    /// What it is known to have been, mg/dL, by which what followed is told: of blood, the estimate that looks back, where
    /// `mg_dl` is what was told at the time. Empty where that is the same.
    pub came_mg_dl: &'a [f64],
    /// Native intervals, in order; the first starts at reading 0.
    pub intervals: &'a [IntervalFrom],
    /// The clock lived by.
    pub clock: &'a LivedClock,
    /// Insulin, in time order.
    pub insulin: &'a [Taken],
    /// Meals, in time order.
    pub meals: &'a [Eaten],
    /// Bottom and top of the target range, mg/dL.
    pub range_mg_dl: (f64, f64),
    /// Estimated insulin still acting at each reading, units; empty where none is known.
    pub on_board: &'a [f64],
}

//! The invented scenario: a ship's engineer on rotating watches, two hundred days, with the planted truth beside it.
//!
//! Everything is made by a program from a seed; no person is behind it. [`Scenario::build`] lives the days (a body of
//! differential equations, sensors with their faults, a person who reacts to what the sensor shows) and returns three
//! files with different bad manners, the [`Truth`] behind them and a story; [`Scenario::write`] puts them into a
//! folder. [`long`] makes plain traces of any length, for measuring speed.
//!
//! Nothing here reads a clock or draws an unseeded number, and all functions beyond plain arithmetic are libm's, so
//! the same seed gives the same bytes everywhere.

mod after;
mod before;
mod body;
mod calendar;
mod days;
mod drawer;
mod files;
mod life;
mod log;
pub mod long;
mod meter;
mod person;
mod pressure;
mod random;
mod rhythm;
mod scenario;
mod sensor;
mod story;
mod swings;
mod tags;
mod truth;
mod wear;

pub use after::AfterTruth;
pub use before::{COVER, EarlierTruth, LOSS_A_DAY, LossTruth, RARE_PREPARATION, earlier};
pub use calendar::{DAYS, DayKind, HOME_ZONE};
pub use days::DoseTiming;
pub use drawer::{DELIVERY_DAYS, LotTruth};
pub use files::{Counts, DemoFile, FileCounts};
pub use log::{Deed, DoseReason, Entry, MealReason};
pub use pressure::{Compression, Position};
pub use scenario::{DEFAULT_SEED, Scenario};
pub use sensor::{INTERVAL_MIN, RANGE_MG_DL, Reading, State, Traits, WARM_UP_MIN};
pub use swings::Swing;
pub use tags::{ON_BOARD, TagTruth};
pub use truth::{NOTICE, SensorTruth, ShipTime, Truth};
pub use wear::{BIASED_LOT, Ending, LOT_BIAS, Side, Site, Wear};

//! Every computation: slices in, typed results out.
//!
//! Nothing here does input or output, reads a clock or draws an unseeded random number. Logarithms and powers are
//! those of `libm`, so a result is the same to the last bit on every machine and any number of threads. Too little
//! data gives a [`Refusal`], never a number. Glucose is in mg/dL, time in seconds.
//!
//! Start at [`primary`] (many traces to one series), then [`Account`] (all figures of a window); for sensors beside
//! blood checks, at [`agreement`].

mod account;
pub mod agreement;
mod bootstrap;
pub mod checks;
mod columns;
pub mod compare;
mod day;
pub mod effects;
mod episode;
pub mod estimate;
pub mod faults;
mod gamma;
pub mod given;
pub mod hba1c;
pub mod insulin;
mod level;
mod matern;
pub mod matters;
pub mod meals;
pub mod mixed;
pub mod patterns;
pub mod plan;
pub mod pressure;
mod primary;
mod quantile;
mod ranges;
pub mod rate;
mod recording;
mod refusal;
mod risk;
pub mod second_look;
pub mod staying;
pub mod stock;
mod student;
mod summary;
mod sums;
pub mod swings;
pub mod timeline;
pub mod trace;
pub mod trial;
mod usual_day;
mod variability;

pub use account::{Account, DayAccount};
pub use bootstrap::{Bootstrap, FEWEST_DAYS, Interval, mean_block_days};
pub use day::{LivedDay, is_weekend, lived_days};
pub use episode::{Episode, EpisodeEnd, EpisodeKind, EpisodeParams, EpisodeParamsError, episodes};
pub use primary::{Segment, Series, SeriesError, primary};
pub use quantile::quantile;
pub use ranges::{BANDS, Band, BandTimes, OwnTargets, Range, TargetGroup, Targets};
pub use recording::{Recording, RecordingError};
pub use refusal::Refusal;
pub use risk::{GlycaemiaRisk, Risk, glycaemia_risk, risk, symmetrised};
pub use summary::{Figures, SUFFICIENT_ACTIVE_PERCENT, SUFFICIENT_DAYS, Sufficiency, Summary};
pub use usual_day::{BIN_S, BINS, FEWEST_DAYS_MIDDLE, FEWEST_DAYS_OUTER, UsualBin, usual_day};

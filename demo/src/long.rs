//! Plain traces of any length, invented like the rest, for measuring speed: no body and no person, only numbers with
//! the look of glucose (three meals a day, a slow wander, noise), fast and streaming.
//!
//! A trace is made of days of its own, from noon to noon in universal time, each from its own random stream, so that any
//! day can be made without the ones before it. The clean and the awkward writer tell the same readings for the same
//! `start`, `interval_s`, `rows` and `seed`.

mod awkward;
mod clean;
mod trace;

pub use awkward::{AwkwardOptions, write_awkward};
pub use clean::write_clean;

use interstice_glucose::Second;

/// What a writer wrote.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Written {
    /// Data rows, repeats included.
    pub rows: u64,
    /// Distinct instants.
    pub readings: u64,
    /// Rows that repeat another exactly.
    pub repeats: u64,
    /// Rows at another row's instant with another value.
    pub conflicts: u64,
    /// First instant.
    pub first: Second,
    /// Last instant.
    pub last: Second,
    /// Sum of the readings in mg/dL, each instant once, as the clean file says them.
    pub sum_mg_dl: u64,
}

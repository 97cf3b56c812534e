//! The long timeline: millions of readings in as many columns as a screen has, with no extreme hidden.
//!
//! Three things make a view. [`Pyramid::cells`] gives the first, lowest, highest and last reading of every column,
//! exactly, whatever the window. [`spreads`] gives percentiles by stretch (a lived day, a week, a month), which stay
//! legible when a column holds thousands of readings. [`clusters`] groups events that would lie on one another.
//!
//! Nothing here knows a calendar or a pixel: bounds and column widths are handed in.

mod clusters;
mod columns;
mod pyramid;
mod spread;

pub use clusters::clusters;
pub use columns::Columns;
pub use pyramid::{Cell, Pyramid, PyramidError, column_step_s};
pub use spread::{Spread, spreads};

//! Sensors beside blood: the error grids, the differences against the mean, the differences by day of wear.

mod by_day;
mod difference;
mod error_grid;
mod plane;

pub use by_day::difference_by_day;
pub use difference::differences;
pub use error_grid::error_grid;

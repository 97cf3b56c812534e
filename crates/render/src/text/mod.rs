//! The account for a terminal: no colour, 80 columns at most.

mod pressure;
mod review;
mod table;
mod trust;

pub use pressure::pressure;
pub use review::review;
pub use table::{Align, Table, wrap};
pub use trust::trust;

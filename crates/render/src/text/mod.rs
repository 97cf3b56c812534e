//! The account for a terminal: no colour, 80 columns at most.

mod checks;
mod compare;
mod drawer;
mod estimate;
mod now;
mod pressure;
mod review;
mod second_look;
mod sensor;
mod sensor_record;
mod table;
mod trial;
mod trust;
mod visit;
mod wear;

pub use checks::checks;
pub use compare::{compare, states};
pub use drawer::drawer;
pub use estimate::{ESTIMATE_HEAD, estimate_file, estimate_row};
pub use now::now;
pub use pressure::pressure;
pub use review::review;
pub use second_look::{second_look, second_look_score};
pub use sensor::sensor;
pub use sensor_record::sensor_record;
pub use table::{Align, Table, wrap};
pub use trial::{trial, trial_size, trials};
pub use trust::trust;
pub use visit::visit;
pub use wear::{wear, wear_choices, wear_found};

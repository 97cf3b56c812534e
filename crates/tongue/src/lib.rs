//! Every word a person reads, by language.
//!
//! The words stand in `lang/en/*.ftl` and `lang/es/*.ftl`, one file for each area, and are asked for by name:
//!
//! ```
//! use interstice_tongue::{Tongue, say, within};
//!
//! assert_eq!(say!("time-hours", hours = 6), "6 h");
//! let said = within(Tongue::Spanish, || say!("time-days", days = 2));
//! assert_eq!(said, "2 días");
//! ```
//!
//! Which language is spoken is a matter of the thread, as a locale is: see [`within`]. What is computed once and read by
//! several, such as findings, keeps a [`Message`] and lets it be said later.

mod catalogue;
mod message;
mod number;
mod spoken;
mod tongue;

pub use message::{Message, Value};
pub use number::{Number, decimal, thousands};
pub use spoken::{Speaking, current, speak, while_polled, within};
pub use tongue::Tongue;

//! The book: one person's record, one file.
//!
//! Readings lie in packed blocks, one for each change that brought them, trace and UTC day ([`block`]);
//! everything else is ordinary rows. Each row names the change that brought it, so that undoing a change is dropping
//! its rows, and reading is merging what is left, the first source winning. Nothing that was imported is ever
//! rewritten: a correction hides a content and puts another beside it.
//!
//! Start at [`Book::open`], [`Book::import`] and [`Book::load`]. What is deliberately absent: statistics, parsing of
//! foreign files, and a clock (whoever changes the book says when).

pub mod block;
mod book;
mod check;
mod choices;
mod claims;
mod columns;
mod copy;
mod days;
mod entries;
mod entry;
mod error;
#[cfg(test)]
mod faults;
mod feed;
#[cfg(any(test, fuzzing))]
#[doc(hidden)]
pub mod fuzz;
mod history;
mod import;
mod journal;
mod kinds;
mod load;
mod merge;
mod new_file;
mod photo;
mod salvage;
mod same;
mod schema;
mod seal;
mod settings;
mod stock;
mod telling;
mod trials;
mod visits;

pub use book::{Book, Mode, VersionStamp};
pub use check::{CheckReport, Problem};
pub use claims::Claims;
pub use columns::Conflict;
pub use entries::Kept;
pub use entry::{Entry, EntryKind, EntryRef};
pub use error::{BookError, BookErrorKind};
pub use feed::{FedBy, Feed};
pub use import::{ImportReceipt, KeptRecipe, Progress, Provenance};
pub use journal::{Change, ChangeId, ChangeKind, ImportInfo, UndoReceipt};
pub use kinds::SensorKinds;
pub use load::{Record, Trace};
pub use new_file::NewFile;
pub use photo::{NewPhoto, Photo, PhotoId};
pub use salvage::SalvageReport;
pub use settings::{NightHours, Setting, Settings};
pub use stock::{KeptLot, Stock};
pub use trials::{Abandoned, KeptTrial};

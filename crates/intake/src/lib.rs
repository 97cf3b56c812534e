//! Bytes to rows: any delimited file or spreadsheet, understood by its contents and by generic words, never by
//! who made it.
//!
//! [`read`] understands a file and reads it whole into a [`Draft`]; [`understand`] stops after understanding.
//! Where the evidence leaves two readings possible the answer is [`Outcome::Question`], never a guess.

mod api;

pub use api::{
    ColumnView, DateOrder, Hints, IntakeError, Outcome, Progress, Question, ReadFile, Recipe, Role, Stop, TableView,
    Understanding, ZoneSource,
};

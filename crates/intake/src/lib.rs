//! Bytes to rows: any delimited file or spreadsheet, understood by its contents and by generic words, never by
//! who made it.
//!
//! [`read`] understands a file and reads it whole into a [`Draft`](interstice_glucose::Draft), beside an [`Understanding`] of it in
//! words.
//! Where the evidence leaves two readings possible the answer is [`Outcome::Question`], never a guess.

mod api;
mod assemble;
mod blocks;
pub mod bluetooth;
mod calendar;
mod cell;
mod changed_dates;
mod column;
mod companions;
mod concept;
mod container;
mod dates;
mod day_heading;
mod decode;
mod delimiter;
mod documents;
mod edges;
mod explain;
mod fold;
#[cfg(any(test, fuzzing))]
#[doc(hidden)]
pub mod fuzz;
mod half;
mod head;
mod insulin;
mod kind;
mod meals;
mod meanings;
mod number;
mod own;
mod partial;
mod places;
mod plan;
mod profile;
mod read;
mod recipe;
mod records;
mod roles;
mod rows;
mod settle;
mod sheet;
mod stamp;
mod understand;
mod unit;
mod usual;
mod when;
mod zoned;

pub use api::{
    ColumnView, DateOrder, Hints, IntakeError, Outcome, Progress, Question, ReadFile, Recipe, Role, Stop,
    TableView, Understanding, ZoneSource,
};
pub use read::{read, read_bytes, read_document};

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

/// Stands in until the reader is here.
mod pending {
    use std::path::Path;

    use super::{Hints, IntakeError, Outcome, Progress, Question, Understanding};

    fn pending() -> IntakeError {
        IntakeError::NotATable { what: "reading files is not built yet".to_owned(), next: "wait".to_owned() }
    }

    /// Reads a file whole.
    ///
    /// # Errors
    /// Always, for now.
    pub fn read(_: &Path, _: &Hints, _: &mut dyn Progress) -> Result<Outcome, IntakeError> {
        Err(pending())
    }

    /// Reads bytes whole.
    ///
    /// # Errors
    /// Always, for now.
    pub fn read_bytes(_: &str, _: &[u8], _: &Hints, _: &mut dyn Progress) -> Result<Outcome, IntakeError> {
        Err(pending())
    }

    /// Understands a file.
    ///
    /// # Errors
    /// Always, for now.
    pub fn understand(_: &Path, _: &Hints) -> Result<(Understanding, Vec<Question>), IntakeError> {
        Err(pending())
    }

    /// Understands bytes.
    ///
    /// # Errors
    /// Always, for now.
    pub fn understand_bytes(_: &str, _: &[u8], _: &Hints) -> Result<(Understanding, Vec<Question>), IntakeError> {
        Err(pending())
    }
}
pub use pending::{read, read_bytes, understand, understand_bytes};

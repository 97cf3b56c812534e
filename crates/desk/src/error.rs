//! Why an act could not be carried out.

use interstice_book::BookError;
use interstice_intake::IntakeError;

/// Why an act could not be carried out. Messages say what to do next.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DeskError {
    /// The book cannot be used.
    #[error(transparent)]
    Book(#[from] BookError),
    /// The file cannot be read.
    #[error(transparent)]
    Intake(#[from] IntakeError),
    /// A blood check is hard to believe in the book's unit, and none was said.
    #[error("{0} is hard to believe; is it in the other unit? say --unit mg/dL or --unit mmol/L")]
    WhichUnit(String),
    /// What was asked for makes no sense.
    #[error("{0}")]
    Request(String),
}

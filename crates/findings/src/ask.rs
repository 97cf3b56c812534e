//! What is asked, and why it may not be answered.

use interstice_book::BookError;
use jiff::civil::Date;

/// Seed of random procedures where none is given. Printed with every account.
pub const DEFAULT_SEED: u64 = 20_251_125;

/// Which stretch of lived time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Span {
    /// The last so many whole lived days, the last of them the day of the last reading.
    LastDays(u32),
    /// Lived days from the first to the last, both included.
    Dates {
        /// First day.
        from: Date,
        /// Last day.
        to: Date,
    },
}

/// A question.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ask {
    /// Which stretch.
    pub span: Span,
    /// Leave out readings that count as pressed (flagged and not said to be real, or said to be pressure) or are marked
    /// as artefacts. It takes the record of the whole book.
    pub exclude_pressure: bool,
    /// Seed of the bootstrap intervals.
    pub seed: u64,
}

impl Default for Ask {
    fn default() -> Self {
        Ask {
            span: Span::LastDays(14),
            exclude_pressure: false,
            seed: DEFAULT_SEED,
        }
    }
}

/// Why a question cannot be answered.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FindingsError {
    /// The book cannot be used.
    #[error(transparent)]
    Book(#[from] BookError),
    /// There is nothing to look at.
    #[error("the book has no sensor readings yet; bring some in with `interstice import FILE`")]
    Empty,
    /// A record whose columns do not fit together.
    #[error(transparent)]
    Recording(#[from] interstice_methods::RecordingError),
    /// A record whose readings make no timeline.
    #[error(transparent)]
    Timeline(#[from] crate::days::TimelineError),
    /// There is no sensor of that name, or there are several; the message says which there are.
    #[error("{0}")]
    NoSensor(String),
    /// The window makes no sense.
    #[error("{0}")]
    Window(String),
}

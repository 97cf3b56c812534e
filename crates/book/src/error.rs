//! What can go wrong with a book, in words a wearer can act on.

use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

/// Something went wrong with a book: which one, and what.
#[derive(Debug, thiserror::Error)]
#[error("book {}: {kind}", path.display())]
pub struct BookError {
    path: PathBuf,
    #[source]
    kind: BookErrorKind,
}

impl BookError {
    pub(crate) fn new(path: &Path, kind: impl Into<BookErrorKind>) -> Self {
        BookError {
            path: path.to_owned(),
            kind: kind.into(),
        }
    }

    /// The book's file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What went wrong.
    pub fn kind(&self) -> &BookErrorKind {
        &self.kind
    }

    /// Whether the caller asked for something the book rightly does not do (an unknown change, an entry that is not
    /// there, a stop), rather than the book being unusable.
    pub fn is_refusal(&self) -> bool {
        matches!(self.kind, BookErrorKind::Refused { .. } | BookErrorKind::Stopped)
    }
}

/// What went wrong. Every message says what to do next.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BookErrorKind {
    /// There is no such file.
    #[error("there is no book here; import a file to begin one, or name another with --book")]
    Missing,
    /// The file belongs to something else. Nothing was changed in it.
    #[error("this file is not a book ({what}); name another file with --book")]
    Foreign {
        /// What it is instead.
        what: String,
    },
    /// Written by a later version of this program.
    #[error(
        "written by a newer version of this program (layout {found}, this one knows up to {known}); use that version"
    )]
    Newer {
        /// Layout number in the file.
        found: i64,
        /// Latest layout known here.
        known: i64,
    },
    /// Part of the file does not read as it was written.
    #[error(
        "the file is damaged ({what}); go back to a copy, or save what can be read with 'interstice check --salvage NEW-FILE'"
    )]
    Damaged {
        /// Where the damage shows.
        what: String,
    },
    /// Another program was writing for longer than we wait.
    #[error("another program is writing to it; wait until that has finished, then try again")]
    Busy,
    /// The disk is full. Nothing was written.
    #[error("no room left on the disk; nothing was written; make room and try again")]
    Full,
    /// It may only be read.
    #[error("it can only be read; allow writing to the file and its folder, or work on a copy")]
    ReadOnly,
    /// The operating system refused.
    #[error("cannot open it: {what}; check that the folder exists and that you may write there")]
    CannotOpen {
        /// What was refused.
        what: String,
    },
    /// Reading or writing failed half-way. Nothing was changed.
    #[error("reading or writing failed ({what}); nothing was changed; check the disk and try again")]
    Io {
        /// What failed.
        what: String,
    },
    /// Stopped on request.
    #[error("stopped; nothing was written")]
    Stopped,
    /// The book does not do what was asked.
    #[error("{what}; {next}")]
    Refused {
        /// What cannot be done.
        what: String,
        /// What can.
        next: String,
    },
    /// Anything else the database reported.
    #[error("the database reported: {0}; check the book with 'interstice check'")]
    Database(#[source] rusqlite::Error),
}

impl BookErrorKind {
    pub(crate) fn refused(what: impl Into<String>, next: impl Into<String>) -> Self {
        BookErrorKind::Refused {
            what: what.into(),
            next: next.into(),
        }
    }

    pub(crate) fn damaged(what: impl Into<String>) -> Self {
        BookErrorKind::Damaged { what: what.into() }
    }
}

impl From<rusqlite::Error> for BookErrorKind {
    fn from(error: rusqlite::Error) -> Self {
        match &error {
            rusqlite::Error::SqliteFailure(failure, text) => {
                let what = text.clone().unwrap_or_else(|| failure.to_string());
                match failure.code {
                    ErrorCode::NotADatabase => BookErrorKind::Foreign {
                        what: "it does not begin like one".to_owned(),
                    },
                    ErrorCode::DatabaseCorrupt => BookErrorKind::Damaged { what },
                    ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => BookErrorKind::Busy,
                    ErrorCode::DiskFull => BookErrorKind::Full,
                    ErrorCode::ReadOnly => BookErrorKind::ReadOnly,
                    ErrorCode::CannotOpen | ErrorCode::PermissionDenied => BookErrorKind::CannotOpen { what },
                    ErrorCode::SystemIoFailure => BookErrorKind::Io { what },
                    _ => BookErrorKind::Database(error),
                }
            }
            rusqlite::Error::FromSqlConversionFailure(..)
            | rusqlite::Error::IntegralValueOutOfRange(..)
            | rusqlite::Error::InvalidColumnType(..)
            | rusqlite::Error::Utf8Error(..) => BookErrorKind::Damaged {
                what: error.to_string(),
            },
            _ => BookErrorKind::Database(error),
        }
    }
}

/// Results inside the crate; the path is added at the public surface.
pub(crate) type Result<T> = std::result::Result<T, BookErrorKind>;

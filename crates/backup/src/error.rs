//! What can go wrong with a backup, in words a wearer can act on.

use std::io;
use std::path::{Path, PathBuf};

use interstice_book::BookError;

/// Why a backup could not be made or brought back.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BackupError {
    /// The book, or the new file, cannot be used.
    #[error(transparent)]
    Book(#[from] BookError),
    /// A file cannot be read or written.
    #[error("{}: {}", path.display(), said(source))]
    File {
        /// Which.
        path: PathBuf,
        /// Cause.
        source: io::Error,
    },
    /// It is no backup of this program.
    #[error("{} is not a backup of a book ({what}); name another file", path.display())]
    Foreign {
        /// Which.
        path: PathBuf,
        /// What tells.
        what: String,
    },
    /// It was written by a later version of this program.
    #[error("{} was written by a newer version of this program; use that version", path.display())]
    Newer {
        /// Which.
        path: PathBuf,
    },
    /// It is not as it was written.
    #[error("{} is damaged ({what}); take another backup", path.display())]
    Damaged {
        /// Which.
        path: PathBuf,
        /// Where that shows.
        what: String,
    },
    /// The passphrase does not open it.
    #[error(
        "the passphrase does not open {}; it is the one that was chosen before this backup was made", path.display()
    )]
    Passphrase {
        /// Which.
        path: PathBuf,
    },
    /// What came back was not what was put in. The backup was not kept.
    #[error(
        "the backup was read back and did not give the same book ({what}); it was not kept; make another, and run `interstice check`"
    )]
    NotTheSame {
        /// What differed.
        what: String,
    },
    /// It cannot be meant so.
    #[error("{0}")]
    Request(String),
}

fn said(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::FileTooLarge | io::ErrorKind::QuotaExceeded => {
            "no room left on the disk; nothing was written; make room and try again".to_owned()
        }
        io::ErrorKind::NotFound => "there is no such file or folder; look at the name".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem | io::ErrorKind::PermissionDenied => {
            format!("{error}; allow reading and writing there, or name another place")
        }
        _ => format!("{error}; check the disk and try again"),
    }
}

impl BackupError {
    pub(crate) fn file(path: &Path, source: io::Error) -> Self {
        BackupError::File {
            path: path.to_owned(),
            source,
        }
    }

    pub(crate) fn damaged(path: &Path, what: impl ToString) -> Self {
        BackupError::Damaged {
            path: path.to_owned(),
            what: what.to_string(),
        }
    }
}

//! A copy of an open book.

use std::fs;
use std::path::{Path, PathBuf};

use crate::book::{Book, Mode, sync_folder};
use crate::check::CheckReport;
use crate::error::{BookError, BookErrorKind, Result};

impl Book {
    /// Copies the book into a new file at `to`, as it stands at one moment, whatever others write meanwhile. The copy is
    /// looked at as by [`Book::check`] and is on the disk before it gets its name: a file at `to` is a whole book.
    /// Answers what the check saw. What was taken back is not in the copy's free pages either.
    ///
    /// # Errors
    /// `Refused` where there is a file at `to` already; `Damaged` where this book is, and so the copy would be;
    /// `CannotOpen`, `Full`, `Busy`, `Io`. There is no file at `to` then.
    pub fn copy_to(&self, to: impl AsRef<Path>) -> std::result::Result<CheckReport, BookError> {
        let to = to.as_ref();
        let part = Part::begin(to).map_err(|kind| BookError::new(to, kind))?;
        self.leave_abandoned()
            .and_then(|()| Ok(self.conn.execute("VACUUM INTO ?1", [part.name()?])?))
            .map_err(|kind| match kind {
                damaged @ BookErrorKind::Damaged { .. } => self.error(damaged),
                other => BookError::new(to, other),
            })?;
        let report = part.check()?;
        if let Some(problem) = report.problems.first() {
            let what = format!("{}: {}", problem.place, problem.what);
            return Err(self.error(BookErrorKind::damaged(what)));
        }
        part.finish(to).map_err(|kind| BookError::new(to, kind))?;
        Ok(report)
    }
}

/// The copy under another name while it is written; gone when dropped.
struct Part {
    path: PathBuf,
}

impl Part {
    fn begin(to: &Path) -> Result<Self> {
        // Also where a link leads nowhere.
        if fs::symlink_metadata(to).is_ok() {
            return Err(there_is_one());
        }
        let mut name = to.as_os_str().to_owned();
        name.push(format!(".{}.part", std::process::id()));
        let path = PathBuf::from(name);
        let mut options = fs::OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        options.open(&path).map_err(|error| cannot(&error))?;
        Ok(Part { path })
    }

    fn name(&self) -> Result<&str> {
        self.path.to_str().ok_or_else(|| {
            BookErrorKind::refused(
                "this name cannot be written as text",
                "name the copy in plain letters",
            )
        })
    }

    /// All that `check` looks at, and each index against its table.
    fn check(&self) -> std::result::Result<CheckReport, BookError> {
        let copy = Book::open(&self.path, Mode::ReadOnly)?;
        copy.check()
    }

    /// Gives the copy its name unless somebody else has taken it meanwhile.
    fn finish(self, to: &Path) -> Result<()> {
        let file = fs::File::open(&self.path).map_err(|error| cannot(&error))?;
        file.sync_all().map_err(|error| BookErrorKind::Io {
            what: error.to_string(),
        })?;
        match fs::hard_link(&self.path, to) {
            Ok(()) => {}
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => return Err(there_is_one()),
            // Some file systems know no links: the name is taken first, and then replaced.
            Err(_) => {
                fs::OpenOptions::new()
                    .write(true)
                    .create_new(true)
                    .open(to)
                    .map_err(|error| cannot(&error))?;
                fs::rename(&self.path, to).map_err(|error| cannot(&error))?;
            }
        }
        sync_folder(to);
        Ok(())
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        // Where it has been renamed there is nothing left to remove.
        let _ = fs::remove_file(&self.path);
    }
}

fn there_is_one() -> BookErrorKind {
    BookErrorKind::refused("there is a file here already", "name a new one for the copy")
}

fn cannot(error: &std::io::Error) -> BookErrorKind {
    match error.kind() {
        std::io::ErrorKind::AlreadyExists => there_is_one(),
        std::io::ErrorKind::StorageFull => BookErrorKind::Full,
        _ => BookErrorKind::CannotOpen {
            what: error.to_string(),
        },
    }
}

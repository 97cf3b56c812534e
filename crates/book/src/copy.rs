//! A copy of an open book.

use std::path::Path;

use crate::book::{Book, Mode};
use crate::check::CheckReport;
use crate::error::{BookError, BookErrorKind};
use crate::new_file::NewFile;

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
        let new = NewFile::begin(to)?;
        let name = new.path().to_str().ok_or_else(|| {
            let next = "name the copy in plain letters";
            BookError::new(
                to,
                BookErrorKind::refused("this name cannot be written as text", next),
            )
        })?;
        self.leave_abandoned()
            .and_then(|()| Ok(self.conn.execute("VACUUM INTO ?1", [name])?))
            .map_err(|kind| match kind {
                damaged @ BookErrorKind::Damaged { .. } => self.error(damaged),
                other => BookError::new(to, other),
            })?;
        // All that `check` looks at, and each index against its table.
        let report = Book::open(new.path(), Mode::ReadOnly)?.check()?;
        if let Some(problem) = report.problems.first() {
            let what = format!("{}: {}", problem.place, problem.what);
            return Err(self.error(BookErrorKind::damaged(what)));
        }
        new.finish()?;
        Ok(report)
    }
}

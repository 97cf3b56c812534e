//! Bringing a backup back.

use std::path::Path;

use age::x25519;
use interstice_book::{Book, CheckReport, Mode, NewFile};

use crate::container::Container;
use crate::key::unlock;
use crate::{BackupError, Result};

/// A book that was brought back.
#[derive(Clone, Debug)]
pub struct Restored {
    /// What a look at every part of it saw.
    pub check: CheckReport,
    /// The earlier layout it had, where it was brought forward.
    pub brought_forward_from: Option<i64>,
}

/// Brings the book in the backup at `from` back into a new file at `to`. It gets its name once every part of it was looked at.
///
/// # Errors
/// `Passphrase`; `Foreign`, `Newer`, `Damaged` of the backup; `Book` where `to` exists, or where the book cannot be used. There
/// is no file at `to` then.
pub fn restore(from: &Path, to: &Path, passphrase: &str) -> Result<Restored> {
    let new = NewFile::begin(to)?;
    let restored = into(from, new.path(), passphrase)?;
    new.finish()?;
    Ok(restored)
}

/// Whether it could be brought back: the same into a file that is gone afterwards. `beside` is where the new book would lie.
///
/// # Errors
/// As [`restore`].
pub fn try_restore(from: &Path, beside: &Path, passphrase: &str) -> Result<Restored> {
    let new = NewFile::begin(beside)?;
    into(from, new.path(), passphrase)
}

fn into(from: &Path, to: &Path, passphrase: &str) -> Result<Restored> {
    let mut container = Container::open(from)?;
    let pair: x25519::Identity = unlock(&container.locked_key()?, passphrase)
        .map_err(|what| BackupError::damaged(from, what))?
        .ok_or_else(|| BackupError::Passphrase {
            path: from.to_owned(),
        })?;
    container.unpack(&pair, to)?;
    // For writing: an earlier layout is brought forward, and closing takes its log into the file.
    let book = Book::open(to, Mode::Existing)?;
    let check = book.check()?;
    if let Some(problem) = check.problems.first() {
        return Err(BackupError::damaged(
            from,
            format!("the book in it: {}: {}", problem.place, problem.what),
        ));
    }
    Ok(Restored {
        check,
        brought_forward_from: book.brought_forward_from(),
    })
}

//! Making a backup: a copy, locked, read back, held against the book.

use std::fs;
use std::path::{Path, PathBuf};

use age::x25519;
use interstice_book::{Book, CheckReport, Mode, NewFile};

use crate::container::{Container, pack};
use crate::files::{digest, hex};
use crate::key::Key;
use crate::standing::{Standing, saw_as_much};
use crate::{BackupError, Result};

/// How often the book may be written to while it is looked at, before the copy itself is what the backup is held against.
const TRIES: u32 = 3;

/// A backup that was made and proven.
#[derive(Clone, Debug)]
pub struct Made {
    /// Where it lies.
    pub path: PathBuf,
    /// Its size, bytes.
    pub size_bytes: u64,
    /// SHA-256 of the file.
    pub sha256: String,
    /// What a look at every part of the book saw, in the book that came back.
    pub check: CheckReport,
    /// Whether the findings were held against those of the open book. Else against those of its copy, because somebody
    /// went on writing.
    pub beside_open_book: bool,
}

/// Makes a backup of `book` in a new file at `to`. `scratch` is a folder for its owner alone, where the copy and what comes
/// back from the backup lie meanwhile, readable: on the book's own disk, never beside the backup.
///
/// # Errors
/// `Book` where the book is damaged, `to` exists, or a disk is full; `NotTheSame` where what was read back is not what was
/// put in; `File`, `Request`. There is no file at `to` then.
pub fn back_up(book: &Book, to: &Path, key: &Key, scratch: &Path) -> Result<Made> {
    let scratch = Scratch::begin(scratch)?;
    let copied = copy(book, &scratch.copy)?;
    let new = NewFile::begin(to)?;
    let reader = x25519::Identity::generate();
    pack(&scratch.copy, new.path(), key, &reader)?;
    let check = prove(new.path(), &reader, &copied, &scratch)?;
    let (size_bytes, sha256) = digest(new.path()).map_err(|error| BackupError::file(new.path(), error))?;
    new.finish()?;
    Ok(Made {
        path: to.to_owned(),
        size_bytes,
        sha256: hex(&sha256),
        check,
        beside_open_book: copied.beside_open_book,
    })
}

/// Packs a file as it stands, neither looked at nor brought forward: how tests come by backups of earlier versions.
///
/// # Errors
/// `Book` where `to` exists; `File`, `Request`.
#[doc(hidden)]
pub fn pack_as_it_stands(book: &Path, to: &Path, key: &Key) -> Result<()> {
    let new = NewFile::begin(to)?;
    pack(book, new.path(), key, &x25519::Identity::generate())?;
    new.finish()?;
    Ok(())
}

/// The two files that lie there readable for a moment; gone when dropped.
struct Scratch {
    copy: PathBuf,
    back: PathBuf,
}

impl Scratch {
    fn begin(folder: &Path) -> Result<Self> {
        let scratch = Scratch {
            copy: folder.join("copy"),
            back: folder.join("back"),
        };
        // What a run that was killed left behind.
        scratch.clear();
        Ok(scratch)
    }

    fn clear(&self) {
        for file in [&self.copy, &self.back] {
            for end in ["", "-wal", "-shm", "-journal"] {
                let mut name = file.as_os_str().to_owned();
                name.push(end);
                let _ = fs::remove_file(Path::new(&name));
            }
        }
        let parts = self.copy.parent().and_then(|folder| fs::read_dir(folder).ok());
        for entry in parts.into_iter().flatten().flatten() {
            let name = entry.file_name();
            if name.to_string_lossy().starts_with("copy.") {
                let _ = fs::remove_file(entry.path());
            }
        }
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        self.clear();
    }
}

/// What was copied, and what it says.
struct Copied {
    check: CheckReport,
    standing: Standing,
    beside_open_book: bool,
}

/// Copies the book, with what it says at that moment.
fn copy(book: &Book, to: &Path) -> Result<Copied> {
    for _ in 0..TRIES {
        let _ = fs::remove_file(to);
        let before = book.version_stamp()?;
        let check = book.copy_to(to)?;
        let standing = Standing::of(book)?;
        if book.version_stamp()? == before {
            return Ok(Copied {
                check,
                standing,
                beside_open_book: true,
            });
        }
    }
    let _ = fs::remove_file(to);
    let check = book.copy_to(to)?;
    Ok(Copied {
        check,
        standing: Standing::of(&Book::open(to, Mode::ReadOnly)?)?,
        beside_open_book: false,
    })
}

/// Reads the backup back from the disk into a scratch book, and holds it against what went in.
fn prove(
    backup: &Path,
    reader: &x25519::Identity,
    copied: &Copied,
    scratch: &Scratch,
) -> Result<CheckReport> {
    let differs = |what: &str| BackupError::NotTheSame {
        what: what.to_owned(),
    };
    let mut create = fs::OpenOptions::new();
    crate::files::own(create.write(true).create_new(true))
        .open(&scratch.back)
        .map_err(|error| BackupError::file(&scratch.back, error))?;
    let back = Container::open(backup)?.unpack(reader, &scratch.back)?;
    let (_, copy) = digest(&scratch.copy).map_err(|error| BackupError::file(&scratch.copy, error))?;
    if back != copy {
        return Err(differs("its bytes"));
    }
    let book = Book::open(&scratch.back, Mode::Existing)?;
    let check = book.check()?;
    if !saw_as_much(&check, &copied.check) {
        return Err(differs("what a look at every part saw"));
    }
    match copied.standing.differs_from(&Standing::of(&book)?) {
        Some(what) => Err(differs(what)),
        None => Ok(check),
    }
}

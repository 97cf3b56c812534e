//! A file that has its name only once it is whole.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::book::sync_folder;
use crate::error::{BookError, BookErrorKind, Result};

/// A new file under another name while it is written, readable by its owner alone. It gets its name when it is
/// [finished](NewFile::finish), never in the place of another file, and is gone when dropped before.
#[derive(Debug)]
pub struct NewFile {
    part: PathBuf,
    to: PathBuf,
}

impl NewFile {
    /// Begins it. The folder must exist.
    ///
    /// # Errors
    /// `Refused` where there is anything of that name already, also a link that leads nowhere; `Full`, `CannotOpen`.
    pub fn begin(to: impl AsRef<Path>) -> std::result::Result<Self, BookError> {
        let to = to.as_ref();
        Self::begun(to).map_err(|kind| BookError::new(to, kind))
    }

    fn begun(to: &Path) -> Result<Self> {
        if fs::symlink_metadata(to).is_ok() {
            return Err(there_is_one());
        }
        let part = Self::part_of(to);
        let mut options = fs::OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        options.open(&part).map_err(|error| cannot(&error))?;
        Ok(NewFile {
            part,
            to: to.to_owned(),
        })
    }

    /// The name it has until it is whole, in this process.
    pub fn part_of(to: &Path) -> PathBuf {
        let mut name = to.as_os_str().to_owned();
        name.push(format!(".{}.part", std::process::id()));
        PathBuf::from(name)
    }

    /// Where to write. The file is there and empty.
    pub fn path(&self) -> &Path {
        &self.part
    }

    /// Puts it on the disk and gives it its name, unless somebody else has taken that meanwhile.
    ///
    /// # Errors
    /// `Refused`, `Full`, `CannotOpen`, `Io`.
    pub fn finish(self) -> std::result::Result<(), BookError> {
        self.finished().map_err(|kind| BookError::new(&self.to, kind))
    }

    fn finished(&self) -> Result<()> {
        let file = fs::File::open(&self.part).map_err(|error| cannot(&error))?;
        file.sync_all().map_err(|error| match error.kind() {
            io::ErrorKind::StorageFull => BookErrorKind::Full,
            _ => BookErrorKind::Io {
                what: error.to_string(),
            },
        })?;
        match fs::hard_link(&self.part, &self.to) {
            Ok(()) => {}
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => return Err(there_is_one()),
            // Some file systems know no links: the name is taken first, and then replaced.
            Err(_) => {
                fs::OpenOptions::new()
                    .write(true)
                    .create_new(true)
                    .open(&self.to)
                    .map_err(|error| cannot(&error))?;
                fs::rename(&self.part, &self.to).map_err(|error| cannot(&error))?;
            }
        }
        sync_folder(&self.to);
        Ok(())
    }
}

impl Drop for NewFile {
    fn drop(&mut self) {
        // Where it has been renamed there is nothing left to remove.
        let _ = fs::remove_file(&self.part);
    }
}

fn there_is_one() -> BookErrorKind {
    BookErrorKind::refused("there is a file here already", "name a new one")
}

fn cannot(error: &io::Error) -> BookErrorKind {
    match error.kind() {
        io::ErrorKind::AlreadyExists => there_is_one(),
        io::ErrorKind::StorageFull => BookErrorKind::Full,
        _ => BookErrorKind::CannotOpen {
            what: error.to_string(),
        },
    }
}

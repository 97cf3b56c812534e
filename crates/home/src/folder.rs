//! The folder beside the book: files that are written whole or not at all, one writer at a time, for their owner's eyes.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use crate::{HomeError, Result};

/// The folder.
#[derive(Clone, Debug)]
pub(crate) struct Folder {
    path: PathBuf,
}

impl Folder {
    /// Beside a book: `book.interstice` has `book.interstice.home`.
    pub(crate) fn beside(book: &Path) -> Self {
        let mut name = book.as_os_str().to_owned();
        name.push(".home");
        Folder { path: name.into() }
    }

    /// Whether anything was ever kept there.
    pub(crate) fn exists(&self) -> bool {
        self.path.is_dir()
    }

    /// A file's text; `None` where there is none.
    pub(crate) fn read(&self, name: &str) -> Result<Option<String>> {
        match fs::read_to_string(self.path.join(name)) {
            Ok(text) => Ok(Some(text)),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(source) => Err(self.trouble(name, source)),
        }
    }

    /// Writes a file whole, readable by its owner alone.
    pub(crate) fn write(&self, name: &str, text: &str) -> Result<()> {
        let new = self.path.join(format!("{name}.new"));
        let written = || -> io::Result<()> {
            let _ = fs::remove_file(&new);
            let mut file = own(OpenOptions::new().write(true).create_new(true)).open(&new)?;
            file.write_all(text.as_bytes())?;
            file.sync_all()?;
            fs::rename(&new, self.path.join(name))
        };
        written().map_err(|source| self.trouble(name, source))
    }

    /// Takes a file away; one that is not there is as good as gone.
    pub(crate) fn forget(&self, name: &str) {
        let _ = fs::remove_file(self.path.join(name));
    }

    /// Holds the folder until what is answered is dropped; another program waits so long.
    pub(crate) fn hold(&self) -> Result<File> {
        let held = || -> io::Result<File> {
            if !self.exists() {
                fs::create_dir_all(&self.path)?;
                own_folder(&self.path)?;
            }
            let file = own(OpenOptions::new().write(true).create(true).truncate(false))
                .open(self.path.join("lock"))?;
            file.lock()?;
            Ok(file)
        };
        held().map_err(|source| self.trouble("lock", source))
    }

    pub(crate) fn damaged(&self, name: &str) -> HomeError {
        HomeError::Damaged {
            path: self.path.join(name).display().to_string(),
        }
    }

    fn trouble(&self, name: &str, source: io::Error) -> HomeError {
        HomeError::Folder {
            path: self.path.join(name).display().to_string(),
            source,
        }
    }
}

#[cfg(unix)]
fn own(options: &mut OpenOptions) -> &mut OpenOptions {
    use std::os::unix::fs::OpenOptionsExt;
    options.mode(0o600)
}

#[cfg(not(unix))]
fn own(options: &mut OpenOptions) -> &mut OpenOptions {
    options
}

#[cfg(unix)]
fn own_folder(path: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(0o700))
}

#[cfg(not(unix))]
fn own_folder(_: &Path) -> io::Result<()> {
    Ok(())
}

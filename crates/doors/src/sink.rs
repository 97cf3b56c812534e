//! Where files go.

use std::io;
use std::path::{Path, PathBuf};

/// Takes files by their path within the export, with '/' between folders.
pub trait Sink {
    /// Writes one file whole.
    ///
    /// # Errors
    /// What the operating system says.
    fn put(&mut self, path: &str, bytes: &[u8]) -> io::Result<()>;
}

/// A folder on the disk.
#[derive(Debug)]
pub struct Folder {
    at: PathBuf,
}

impl Folder {
    /// A new folder. One that is there already must be empty: nothing is written over.
    ///
    /// # Errors
    /// `AlreadyExists` where something is in it; what the operating system says.
    pub fn create(at: &Path) -> io::Result<Self> {
        std::fs::create_dir_all(at)?;
        if std::fs::read_dir(at)?.next().is_some() {
            return Err(io::Error::new(
                io::ErrorKind::AlreadyExists,
                "there is something in that folder; name one that is new or empty",
            ));
        }
        Ok(Folder { at: at.to_owned() })
    }
}

impl Sink for Folder {
    fn put(&mut self, path: &str, bytes: &[u8]) -> io::Result<()> {
        let at = self.at.join(path);
        if let Some(folder) = at.parent() {
            std::fs::create_dir_all(folder)?;
        }
        std::fs::write(at, bytes)
    }
}

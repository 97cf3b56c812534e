//! Where an export's files lie.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Component, Path, PathBuf};

/// Opens files by their path within the export.
pub(crate) trait Shelf {
    /// One file.
    fn open(&self, path: &str) -> io::Result<Box<dyn Read + '_>>;
}

/// A folder on the disk.
pub(crate) struct FolderShelf(PathBuf);

impl FolderShelf {
    pub(crate) fn new(folder: &Path) -> Self {
        FolderShelf(folder.to_owned())
    }
}

impl Shelf for FolderShelf {
    /// A manifest may come from anywhere: only what lies inside the folder is opened.
    fn open(&self, path: &str) -> io::Result<Box<dyn Read + '_>> {
        let inner = Path::new(path);
        let inside = inner
            .components()
            .all(|part| matches!(part, Component::Normal(_)));
        if !inside || path.is_empty() {
            return Err(io::Error::new(
                io::ErrorKind::InvalidInput,
                "the manifest names a file outside its folder",
            ));
        }
        Ok(Box::new(File::open(self.0.join(inner))?))
    }
}

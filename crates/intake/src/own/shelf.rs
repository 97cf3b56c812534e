//! Where an export's files lie.

use std::cell::RefCell;
use std::fs::File;
use std::io::{self, Cursor, Read, Seek};
use std::path::{Component, Path, PathBuf};

/// The largest file of an archive that is unpacked, bytes; a month at a reading a minute has seven million.
const LARGEST: u64 = 1 << 28;
/// Bytes of a manifest in which it names its format.
const HEAD: u64 = 1 << 10;
/// How a member of an archive begins (PKWARE, APPNOTE 4.3.7).
const MEMBER: &[u8] = b"PK\x03\x04";

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

/// A .zip archive of an export.
pub(crate) struct ArchiveShelf<R> {
    zip: RefCell<zip::ZipArchive<R>>,
    /// The folder in the archive that the export lies in, with its '/'; empty where it lies at the top.
    folder: String,
}

impl<R: Read + Seek> ArchiveShelf<R> {
    /// `None` where it is no archive, or none of an export of this program.
    pub(crate) fn new(mut bytes: R) -> Option<Self> {
        let mut begin = [0; MEMBER.len()];
        bytes.read_exact(&mut begin).ok()?;
        bytes.rewind().ok()?;
        if begin != MEMBER {
            return None;
        }
        let mut zip = zip::ZipArchive::new(bytes).ok()?;
        let manifest = zip
            .file_names()
            .filter_map(|name| Some(name.ok()?.into_owned()))
            .filter(|name| name.rsplit('/').next() == Some(super::MANIFEST))
            .min_by_key(|name| (name.matches('/').count(), name.len()))?;
        let mut head = Vec::new();
        let member = zip.by_name(&manifest).ok()?;
        member.take(HEAD).read_to_end(&mut head).ok()?;
        let folder = manifest.strip_suffix(super::MANIFEST)?.to_owned();
        memchr::memmem::find(&head, super::FORMAT.as_bytes())?;
        Some(ArchiveShelf {
            zip: RefCell::new(zip),
            folder,
        })
    }
}

impl<R: Read + Seek> Shelf for ArchiveShelf<R> {
    fn open(&self, path: &str) -> io::Result<Box<dyn Read + '_>> {
        let mut zip = self.zip.borrow_mut();
        let member = zip
            .by_name(&format!("{}{path}", self.folder))
            .map_err(|error| io::Error::new(io::ErrorKind::InvalidData, error))?;
        let mut bytes = Vec::new();
        member.take(LARGEST + 1).read_to_end(&mut bytes)?;
        if bytes.len() as u64 > LARGEST {
            return Err(io::Error::new(
                io::ErrorKind::FileTooLarge,
                "it unpacks to more than 256 MB, far more than a month of readings",
            ));
        }
        Ok(Box::new(Cursor::new(bytes)))
    }
}

//! Where files go.

use std::io::{self, Write};
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
    /// A new folder, for its owner alone. One that is there already keeps its mode and must be empty: nothing is written over.
    ///
    /// # Errors
    /// `AlreadyExists` where something is in it; what the operating system says.
    pub fn create(at: &Path) -> io::Result<Self> {
        own_folder(at)?;
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
            own_folder(folder)?;
        }
        let mut options = std::fs::OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        options.open(at)?.write_all(bytes)
    }
}

/// Makes a folder and those above it, readable by their owner alone where they are new.
fn own_folder(at: &Path) -> io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(at)
}

/// Files held in memory, in the order they came.
#[derive(Clone, Debug, Default)]
pub struct InMemory(pub Vec<(String, Vec<u8>)>);

impl Sink for InMemory {
    fn put(&mut self, path: &str, bytes: &[u8]) -> io::Result<()> {
        self.0.push((path.to_owned(), bytes.to_vec()));
        Ok(())
    }
}

/// The files as a .zip archive, without a time, so that the same files are the same bytes.
///
/// # Errors
/// What the archive's writer says.
pub fn zip_archive(files: &InMemory) -> io::Result<Vec<u8>> {
    let mut zip = zip::ZipWriter::new(io::Cursor::new(Vec::new()));
    let plain = zip::write::SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated)
        .last_modified_time(zip::DateTime::default());
    for (path, bytes) in &files.0 {
        zip.start_file(path.as_str(), plain).map_err(io::Error::other)?;
        zip.write_all(bytes)?;
    }
    Ok(zip.finish().map_err(io::Error::other)?.into_inner())
}

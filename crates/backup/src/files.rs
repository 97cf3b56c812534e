//! Folders and short files for their owner alone.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::Path;

use sha2::{Digest, Sha256};

/// Makes a folder, readable by its owner alone, unless it is there.
pub(crate) fn own_folder(path: &Path) -> io::Result<()> {
    if path.is_dir() {
        return Ok(());
    }
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)
}

/// Opens a file for writing, readable by its owner alone where it is new.
pub(crate) fn own(options: &mut OpenOptions) -> &mut OpenOptions {
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(options, 0o600);
    options
}

/// Writes a short file whole or not at all.
pub(crate) fn write_whole(path: &Path, text: &str) -> io::Result<()> {
    let mut new = path.as_os_str().to_owned();
    new.push(".new");
    let new = Path::new(&new);
    let _ = fs::remove_file(new);
    let mut file = own(OpenOptions::new().write(true).create_new(true)).open(new)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    fs::rename(new, path)
}

/// Size and SHA-256 of a file.
pub(crate) fn digest(path: &Path) -> io::Result<(u64, [u8; 32])> {
    let mut file = File::open(path)?;
    let (mut hasher, mut size, mut part) = (Sha256::new(), 0, vec![0; 1 << 16]);
    loop {
        match file.read(&mut part)? {
            0 => return Ok((size, hasher.finalize().into())),
            length => {
                hasher.update(&part[..length]);
                size += length as u64;
            }
        }
    }
}

/// A digest as it is written.
pub(crate) fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

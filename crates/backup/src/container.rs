//! How a backup lies in its file: a ZIP archive, nothing in it packed by the archive itself.
//!
//! | name | what |
//! | --- | --- |
//! | `README.txt` | what this is, and how it is opened without this program |
//! | `key.age` | the secret key, locked with the passphrase |
//! | `book.age` | the book, compressed (Zstandard) and locked to the key |
//!
//! All three are published formats, so that other programs can open it when this one is long gone.

use std::fs::File;
use std::io::{self, BufReader, BufWriter, Read, Write};
use std::path::Path;

use age::x25519;
use sha2::{Digest, Sha256};
use zip::result::ZipError;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use crate::key::{Key, open};
use crate::{BackupError, Result};

/// What the name of a backup ends in.
pub const ENDING: &str = "interstice-backup";
const ABOUT: &str = "README.txt";
const KEY: &str = "key.age";
const BOOK: &str = "book.age";
/// First line of what tells about the archive.
const FIRST_LINE: &str = "A backup of a book of Interstice, form 1.\n";
const FIRST_WORDS: &str = "A backup of a book of Interstice, form ";
const HOW: &str = "
Bring it back with:  interstice --book NEW-FILE restore THIS-FILE

Without that program: this is a ZIP archive, and what is in it is open to any program that reads the age format
(age-encryption.org/v1), with the passphrase that was chosen:

    age -d key.age > key.txt
    age -d -i key.txt book.age | zstd -d > book.sqlite

The book is one SQLite file. Remove key.txt and book.sqlite afterwards: they are not encrypted.
";
/// A locked key takes some hundred bytes.
const LARGEST_KEY: u64 = 1 << 16;
/// Zstandard's usual level: speed matters more here than the last percent.
const LEVEL: i32 = 3;

/// Puts the book at `copy` into `to`, which is there and empty.
pub(crate) fn pack(copy: &Path, to: &Path, key: &Key, reader: &x25519::Identity) -> Result<()> {
    let at_to = |source: io::Error| BackupError::file(to, source);
    let file = File::options().write(true).open(to).map_err(at_to)?;
    let mut archive = ZipWriter::new(BufWriter::new(file));
    // The moment is left out: the archive tells nothing that is not in its name.
    let plain = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Stored)
        .last_modified_time(zip::DateTime::default())
        .large_file(true);
    let put = |archive: &mut ZipWriter<BufWriter<File>>, name: &str, bytes: &[u8]| -> io::Result<()> {
        archive.start_file(name, plain)?;
        archive.write_all(bytes)
    };
    put(&mut archive, ABOUT, format!("{FIRST_LINE}{HOW}").as_bytes()).map_err(at_to)?;
    put(&mut archive, KEY, key.locked()).map_err(at_to)?;
    archive
        .start_file(BOOK, plain)
        .map_err(|error| at_to(error.into()))?;
    let sealed = key.seal(reader, &mut archive)?;
    let mut packed = zstd::stream::Encoder::new(sealed, LEVEL).map_err(at_to)?;
    let mut from = File::open(copy).map_err(|error| BackupError::file(copy, error))?;
    io::copy(&mut from, &mut packed).map_err(at_to)?;
    packed
        .finish()
        .and_then(age::stream::StreamWriter::finish)
        .map_err(at_to)?;
    let mut file = archive.finish().map_err(|error| at_to(error.into()))?;
    file.flush().map_err(at_to)
}

/// A backup, open.
pub(crate) struct Container<'a> {
    path: &'a Path,
    archive: ZipArchive<BufReader<File>>,
}

impl<'a> Container<'a> {
    /// Opens it and looks whether it is one.
    pub(crate) fn open(path: &'a Path) -> Result<Self> {
        let foreign = |what: &str| BackupError::Foreign {
            path: path.to_owned(),
            what: what.to_owned(),
        };
        if path.is_dir() {
            return Err(foreign("it is a folder"));
        }
        let file = File::open(path).map_err(|error| BackupError::file(path, error))?;
        let archive = match ZipArchive::new(BufReader::new(file)) {
            Ok(archive) => archive,
            Err(ZipError::Io(error)) => return Err(BackupError::file(path, error)),
            Err(_) if begins_as_archive(path) => {
                return Err(BackupError::damaged(path, "its end is missing"));
            }
            Err(_) => return Err(foreign("it does not begin like one")),
        };
        let mut container = Container { path, archive };
        let about = container.short(ABOUT)?;
        match about.strip_prefix(FIRST_WORDS.as_bytes()) {
            Some(rest) if rest.starts_with(b"1.\n") => Ok(container),
            Some(_) => Err(BackupError::Newer {
                path: path.to_owned(),
            }),
            None => Err(foreign("it does not say that it is one")),
        }
    }

    /// The locked key.
    pub(crate) fn locked_key(&mut self) -> Result<Vec<u8>> {
        self.short(KEY)
    }

    fn short(&mut self, name: &str) -> Result<Vec<u8>> {
        let path = self.path;
        let entry = self.archive.by_name(name).map_err(|error| match error {
            ZipError::FileNotFound => BackupError::Foreign {
                path: path.to_owned(),
                what: format!("there is no {name} in it"),
            },
            other => BackupError::damaged(path, other),
        })?;
        let mut bytes = Vec::new();
        entry
            .take(LARGEST_KEY)
            .read_to_end(&mut bytes)
            .map_err(|error| BackupError::damaged(path, error))?;
        Ok(bytes)
    }

    /// Unpacks the book into `to`, which is there and empty, and answers its SHA-256.
    pub(crate) fn unpack(&mut self, pair: &x25519::Identity, to: &Path) -> Result<[u8; 32]> {
        let path = self.path;
        let damaged = |error: &dyn std::fmt::Display| BackupError::damaged(path, error);
        let entry = self.archive.by_name(BOOK).map_err(|error| damaged(&error))?;
        let opened = open(pair, entry).map_err(|error| damaged(&error))?;
        let mut book = zstd::stream::Decoder::new(opened).map_err(|error| damaged(&error))?;
        let at_to = |error| BackupError::file(to, error);
        let mut out = File::options().write(true).open(to).map_err(at_to)?;
        let (mut hasher, mut part) = (Sha256::new(), vec![0; 1 << 16]);
        loop {
            let length = book.read(&mut part).map_err(|error| damaged(&error))?;
            if length == 0 {
                break;
            }
            hasher.update(&part[..length]);
            out.write_all(&part[..length]).map_err(at_to)?;
        }
        out.sync_all().map_err(at_to)?;
        Ok(hasher.finalize().into())
    }
}

fn begins_as_archive(path: &Path) -> bool {
    let mut first = [0; 4];
    File::open(path).is_ok_and(|mut file| file.read_exact(&mut first).is_ok()) && first == *b"PK\x03\x04"
}

//! What a file is, and the readable parts inside it: plain text, a compressed file, an archive's members, a
//! workbook's sheets.

use std::fs::File;
use std::io::{self, Cursor, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use flate2::read::{DeflateDecoder, MultiGzDecoder};

use crate::api::IntakeError;
use crate::sheet;

/// Compressed data may grow to this many times its size; delimited text of readings grows five- to thirtyfold.
const MOST_GROWTH: u64 = 300;
/// Growth below this many bytes is never questioned.
const HARMLESS_BYTES: u64 = 64 << 20;
/// Most bytes an archive member may unpack to.
const MOST_UNPACKED: u64 = 16 << 30;
/// Most bytes of a workbook, unpacked: it is read whole.
const MOST_WORKBOOK: u64 = 512 << 20;
/// Most members of an archive that are looked at.
const MOST_MEMBERS: usize = 1000;

/// Bytes that can be read more than once.
#[derive(Clone, Debug)]
pub(crate) enum Bytes {
    Path(PathBuf),
    Memory(Arc<[u8]>),
}

impl Bytes {
    /// Opens them at the start.
    fn open(&self) -> io::Result<Box<dyn ReadSeek>> {
        Ok(match self {
            Bytes::Path(path) => Box::new(File::open(path)?),
            Bytes::Memory(bytes) => Box::new(Cursor::new(Arc::clone(bytes))),
        })
    }

    fn len(&self) -> io::Result<u64> {
        match self {
            Bytes::Path(path) => Ok(std::fs::metadata(path)?.len()),
            Bytes::Memory(bytes) => Ok(bytes.len() as u64),
        }
    }
}

trait ReadSeek: Read + Seek + Send {}
impl<T: Read + Seek + Send> ReadSeek for T {}

/// How a part lies in its file.
#[derive(Clone, Debug)]
enum Packing {
    Plain,
    Gzip,
    /// A stretch of an archive, deflated or stored.
    Member {
        start: u64,
        packed: u64,
        deflated: bool,
    },
}

/// One readable part of a file.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    /// Member or sheet name; empty where the file is one part.
    pub(crate) name: String,
    /// It was a sheet: rows are records, text is ours.
    pub(crate) is_sheet: bool,
    bytes: Bytes,
    packing: Packing,
}

impl Part {
    fn plain(name: &str, bytes: Bytes) -> Self {
        Part {
            name: name.to_owned(),
            is_sheet: false,
            bytes,
            packing: Packing::Plain,
        }
    }

    /// Its bytes, unpacked, from the start.
    pub(crate) fn open(&self) -> io::Result<Box<dyn Read + Send>> {
        let mut file = self.bytes.open()?;
        Ok(match self.packing {
            Packing::Plain => Box::new(file),
            Packing::Gzip => guard(MultiGzDecoder::new(file), self.bytes.len()?),
            Packing::Member {
                start,
                packed,
                deflated,
            } => {
                file.seek(SeekFrom::Start(start))?;
                let taken = file.take(packed);
                if deflated {
                    guard(DeflateDecoder::new(taken), packed)
                } else {
                    Box::new(taken)
                }
            }
        })
    }

    /// Bytes to expect, for progress: exact for plain files, a guess for compressed ones.
    pub(crate) fn expected_bytes(&self) -> u64 {
        match self.packing {
            Packing::Plain => self.bytes.len().unwrap_or(0),
            Packing::Gzip => self.bytes.len().unwrap_or(0).saturating_mul(8),
            Packing::Member { packed, deflated, .. } => {
                if deflated {
                    packed.saturating_mul(8)
                } else {
                    packed
                }
            }
        }
    }

    /// Up to `most` bytes of its head.
    fn head(&self, most: u64) -> io::Result<Vec<u8>> {
        let mut head = Vec::new();
        self.open()?.take(most).read_to_end(&mut head)?;
        Ok(head)
    }
}

fn guard(inner: impl Read + Send + 'static, packed: u64) -> Box<dyn Read + Send> {
    Box::new(Guard {
        inner,
        packed,
        unpacked: 0,
    })
}

/// Stops a compressed stream that grows beyond reason.
struct Guard<R> {
    inner: R,
    packed: u64,
    unpacked: u64,
}

impl<R: Read> Read for Guard<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.inner.read(buffer)?;
        self.unpacked += read as u64;
        let too_much = self.unpacked > HARMLESS_BYTES && self.unpacked / MOST_GROWTH > self.packed;
        if too_much || self.unpacked > MOST_UNPACKED {
            return Err(io::Error::new(
                io::ErrorKind::FileTooLarge,
                "it unpacks to hundreds of times its size, far more than a record of readings could",
            ));
        }
        Ok(read)
    }
}

/// The parts of a file on disk.
pub(crate) fn parts_of_path(path: &Path) -> Result<Vec<Part>, IntakeError> {
    let open = |source| IntakeError::Open {
        path: path.to_owned(),
        source,
    };
    let metadata = std::fs::metadata(path).map_err(open)?;
    if metadata.is_dir() {
        return Err(refuse(
            &format!("{} is a folder", path.display()),
            "name the files in it",
        ));
    }
    // Asks the operating system now, so that a refusal names the file.
    File::open(path).map_err(open)?;
    let name = path
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    parts_of(&name, Bytes::Path(path.to_owned()), true)
}

/// The parts of a file in memory.
pub(crate) fn parts_of_bytes(name: &str, bytes: &[u8]) -> Result<Vec<Part>, IntakeError> {
    parts_of(name, Bytes::Memory(Arc::from(bytes)), true)
}

/// Looks at the first bytes and goes into what is packed, one level deep.
fn parts_of(name: &str, bytes: Bytes, go_in: bool) -> Result<Vec<Part>, IntakeError> {
    let whole = Part::plain("", bytes.clone());
    let head = whole.head(4096).map_err(|source| IntakeError::Open {
        path: PathBuf::from(name),
        source,
    })?;
    if head.is_empty() {
        return Err(refuse(
            &format!("{name} is empty"),
            "export it again and check that it has a size",
        ));
    }
    if head.starts_with(b"PK\x03\x04") || head.starts_with(b"PK\x05\x06") {
        return archive(name, &bytes, go_in);
    }
    if head.starts_with(&[0x1f, 0x8b]) {
        return gzip(name, bytes, go_in);
    }
    if head.starts_with(&[0xd0, 0xcf, 0x11, 0xe0]) {
        return sheets(name, &bytes);
    }
    match foreign(&head) {
        Some(what) => Err(refuse(
            &format!("{name} is {what}, not a table"),
            "export the readings as CSV or as a spreadsheet (.xlsx, .ods) and give that file",
        )),
        None => Ok(vec![whole]),
    }
}

fn gzip(name: &str, bytes: Bytes, go_in: bool) -> Result<Vec<Part>, IntakeError> {
    let part = Part {
        packing: Packing::Gzip,
        ..Part::plain("", bytes)
    };
    let head = part.head(4096).map_err(|e| damaged(name, &e))?;
    let packed_again =
        head.starts_with(b"PK") || head.starts_with(&[0x1f, 0x8b]) || head.starts_with(&[0xd0, 0xcf]);
    if packed_again && go_in {
        let inner = read_limited(&part, name)?;
        return parts_of(name, Bytes::Memory(inner.into()), false);
    }
    if head.is_empty() {
        return Err(refuse(&format!("{name} is empty inside"), "export it again"));
    }
    match foreign(&head) {
        Some(what) => Err(refuse(
            &format!("{name} holds {what}, not a table"),
            "export the readings as CSV",
        )),
        None => Ok(vec![part]),
    }
}

/// A zip archive: a workbook, or members that are tables or workbooks.
fn archive(name: &str, bytes: &Bytes, go_in: bool) -> Result<Vec<Part>, IntakeError> {
    let file = bytes.open().map_err(|e| damaged(name, &e))?;
    let mut zip = zip::ZipArchive::new(file).map_err(|e| unpacking(name, &e))?;
    let names: Vec<String> = zip
        .file_names()
        .filter_map(|n| n.ok().map(|n| n.into_owned()))
        .collect();
    let is_workbook = names
        .iter()
        .any(|n| n == "xl/workbook.xml" || n == "xl/workbook.bin" || n == "content.xml");
    if is_workbook {
        workbook_size(name, &mut zip)?;
        return sheets(name, bytes);
    }
    let mut parts = Vec::new();
    for index in 0..zip.len().min(MOST_MEMBERS) {
        let member = zip.by_index_raw(index).map_err(|e| unpacking(name, &e))?;
        let inner = member
            .name()
            .map(|n| n.into_owned())
            .unwrap_or_else(|_| format!("member {}", index + 1));
        if member.is_dir() || is_litter(&inner) {
            continue;
        }
        if member.encrypted() {
            return Err(refuse(
                &format!("{inner} in {name} is locked with a password"),
                "unpack it first and give the files",
            ));
        }
        let Some(start) = member.data_start() else {
            continue;
        };
        let deflated = match member.compression() {
            zip::CompressionMethod::Stored => false,
            zip::CompressionMethod::Deflated => true,
            other => {
                return Err(refuse(
                    &format!("{inner} in {name} is packed by a method not read here ({other})"),
                    "unpack it first and give the files",
                ));
            }
        };
        let packing = Packing::Member {
            start,
            packed: member.compressed_size(),
            deflated,
        };
        let part = Part {
            name: inner,
            is_sheet: false,
            bytes: bytes.clone(),
            packing,
        };
        parts.extend(member_parts(part, name, go_in)?);
    }
    if parts.is_empty() {
        return Err(refuse(
            &format!("{name} holds no table"),
            "give a .zip with CSV files or a spreadsheet in it",
        ));
    }
    parts.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(parts)
}

/// What a member of an archive brings: itself, its sheets, or nothing where it is no table.
fn member_parts(part: Part, archive: &str, go_in: bool) -> Result<Vec<Part>, IntakeError> {
    let head = part.head(4096).map_err(|e| damaged(archive, &e))?;
    let packed_again = head.starts_with(b"PK")
        || head.starts_with(&[0x1f, 0x8b])
        || head.starts_with(&[0xd0, 0xcf, 0x11, 0xe0]);
    if packed_again && go_in {
        let inner = read_limited(&part, archive)?;
        let mut inner_parts = parts_of(&part.name, Bytes::Memory(inner.into()), false)?;
        for inner in &mut inner_parts {
            inner.name = if inner.name.is_empty() {
                part.name.clone()
            } else {
                format!("{} / {}", part.name, inner.name)
            };
        }
        return Ok(inner_parts);
    }
    if head.is_empty() || packed_again || foreign(&head).is_some() {
        return Ok(Vec::new());
    }
    Ok(vec![part])
}

/// Files that archivers leave behind.
fn is_litter(name: &str) -> bool {
    name.starts_with("__MACOSX/") || name.rsplit('/').next().is_some_and(|file| file.starts_with('.'))
}

fn read_limited(part: &Part, name: &str) -> Result<Vec<u8>, IntakeError> {
    let mut inner = Vec::new();
    part.open()
        .and_then(|r| r.take(MOST_WORKBOOK).read_to_end(&mut inner))
        .map_err(|e| damaged(name, &e))?;
    Ok(inner)
}

/// Refuses a workbook that would not fit in memory.
fn workbook_size<R: Read + Seek>(name: &str, zip: &mut zip::ZipArchive<R>) -> Result<(), IntakeError> {
    let (mut packed, mut unpacked) = (0u64, 0u64);
    for index in 0..zip.len() {
        let member = zip.by_index_raw(index).map_err(|e| unpacking(name, &e))?;
        packed += member.compressed_size();
        unpacked = unpacked.saturating_add(member.size());
    }
    let grows = unpacked > HARMLESS_BYTES && unpacked / MOST_GROWTH > packed;
    if grows || unpacked > MOST_WORKBOOK {
        return Err(refuse(
            &format!(
                "{name} unpacks to {} MiB, too much for a spreadsheet",
                unpacked >> 20
            ),
            "save the sheet as CSV and give that",
        ));
    }
    Ok(())
}

/// A workbook's sheets as delimited text.
fn sheets(name: &str, bytes: &Bytes) -> Result<Vec<Part>, IntakeError> {
    let content: Arc<[u8]> = match bytes {
        Bytes::Memory(memory) => Arc::clone(memory),
        Bytes::Path(_) => {
            if bytes.len().unwrap_or(u64::MAX) > MOST_WORKBOOK {
                return Err(refuse(
                    &format!("{name} is too large for a spreadsheet"),
                    "save the sheet as CSV and give that",
                ));
            }
            let mut content = Vec::new();
            bytes
                .open()
                .and_then(|mut f| f.read_to_end(&mut content))
                .map_err(|e| damaged(name, &e))?;
            content.into()
        }
    };
    let texts = sheet::texts(&content).map_err(|e| unpacking(name, &e))?;
    let parts: Vec<Part> = texts
        .into_iter()
        .map(|(sheet, text)| Part {
            is_sheet: true,
            ..Part::plain(&sheet, Bytes::Memory(text.into()))
        })
        .collect();
    if parts.is_empty() {
        return Err(refuse(
            &format!("{name} has no sheet with anything in it"),
            "check that the readings are in the workbook",
        ));
    }
    Ok(parts)
}

fn refuse(what: &str, next: &str) -> IntakeError {
    IntakeError::NotATable {
        what: what.to_owned(),
        next: next.to_owned(),
    }
}

/// Damage, a file cut short, or growth beyond reason.
pub(crate) fn damaged(name: &str, cause: &io::Error) -> IntakeError {
    if cause.kind() == io::ErrorKind::FileTooLarge {
        return refuse(
            &format!("{name} was not read to its end: {cause}"),
            "check where it comes from; if you trust it, unpack it and give the file inside",
        );
    }
    use io::ErrorKind::{InvalidData, InvalidInput, UnexpectedEof};
    if matches!(cause.kind(), InvalidData | InvalidInput | UnexpectedEof) {
        return unpacking(name, cause);
    }
    refuse(
        &format!("{name} cannot be read to its end ({cause})"),
        "check the disk it lies on, copy it elsewhere and try again",
    )
}

/// The same for what a library says.
fn unpacking(name: &str, cause: &dyn std::fmt::Display) -> IntakeError {
    refuse(
        &format!("{name} cannot be unpacked ({cause})"),
        "it may be damaged or cut short: download or export it again",
    )
}

/// What bytes that are no text are, in words.
fn foreign(head: &[u8]) -> Option<&'static str> {
    const SIGNS: &[(&[u8], &str)] = &[
        (b"%PDF", "a PDF document"),
        (b"\x89PNG", "an image"),
        (b"\xff\xd8\xff", "an image"),
        (b"GIF8", "an image"),
        (b"BM\x00", "an image"),
        (b"RIFF", "a sound, film or image"),
        (b"II*\0", "an image"),
        (b"MM\0*", "an image"),
        (b"SQLite format 3", "a database"),
        (b"\x7fELF", "a program"),
        (b"MZ\x90", "a program"),
        (b"PAR1", "a columnar data file"),
        (b"7z\xbc\xaf", "an archive of another kind"),
        (b"Rar!", "an archive of another kind"),
        (b"\xfd7zXZ", "a compressed file of another kind"),
        (b"BZh", "a compressed file of another kind"),
        (b"\x28\xb5\x2f\xfd", "a compressed file of another kind"),
        (b"{\\rtf", "a word-processor document"),
    ];
    if let Some((_, what)) = SIGNS.iter().find(|(sign, _)| head.starts_with(sign)) {
        return Some(what);
    }
    let text = head
        .strip_prefix(b"\xef\xbb\xbf")
        .unwrap_or(head)
        .trim_ascii_start();
    let lower = text[..text.len().min(64)].to_ascii_lowercase();
    if lower.starts_with(b"<!doctype html") || lower.starts_with(b"<html") {
        return Some("a web page");
    }
    if lower.starts_with(b"<?xml") {
        return Some("an XML document");
    }
    if (lower.starts_with(b"{") || lower.starts_with(b"[{")) && memchr::memchr2(b'"', b'}', &lower).is_some()
    {
        return Some("JSON");
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn message(result: Result<Vec<Part>, IntakeError>) -> String {
        result
            .map(|p| format!("{} parts", p.len()))
            .unwrap_or_else(|e| e.to_string())
    }

    fn zipped(members: &[(&str, &[u8])]) -> Vec<u8> {
        let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for (name, bytes) in members {
            writer
                .start_file(*name, zip::write::SimpleFileOptions::default())
                .unwrap();
            writer.write_all(bytes).unwrap();
        }
        writer.finish().unwrap().into_inner()
    }

    fn text(part: &Part) -> String {
        let mut text = String::new();
        part.open().unwrap().read_to_string(&mut text).unwrap();
        text
    }

    #[test]
    fn members_are_read_where_they_lie() {
        let bytes = zipped(&[
            ("b.csv", b"b,1\n"),
            ("a.csv", b"a,1\n"),
            ("x.png", b"\x89PNG...."),
            ("__MACOSX/._a.csv", b"litter"),
        ]);
        let parts = parts_of_bytes("x.zip", &bytes).unwrap();
        let got: Vec<_> = parts.iter().map(|p| (p.name.as_str(), text(p))).collect();
        assert_eq!(
            got,
            [("a.csv", "a,1\n".to_owned()), ("b.csv", "b,1\n".to_owned())]
        );
    }

    #[test]
    fn what_is_no_table_is_named() {
        assert!(message(parts_of_bytes("a", b"")).contains("empty"));
        assert!(message(parts_of_bytes("a", b"%PDF-1.4")).contains("PDF"));
        assert!(message(parts_of_bytes("a", b"\x89PNG\r\n")).contains("image"));
        assert!(message(parts_of_bytes("a", b"<!DOCTYPE html><html>")).contains("web page"));
        assert!(message(parts_of_path(Path::new("/"))).contains("folder"));
        assert!(message(parts_of_path(Path::new("/no/such/file"))).contains("cannot open"));
    }

    #[test]
    fn a_truncated_archive_says_so() {
        let bytes = zipped(&[("a.csv", &[b'x'; 5000])]);
        assert!(message(parts_of_bytes("x.zip", &bytes[..bytes.len() / 2])).contains("cut short"));
    }

    #[test]
    fn a_bomb_is_stopped() {
        let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
        let zeros = vec![b','; 1 << 20];
        for _ in 0..128 {
            encoder.write_all(&zeros).unwrap();
        }
        let packed = encoder.finish().unwrap();
        // 'fast' squeezes this about 230 to 1 on some libraries; the guard is asked with the growth it forbids.
        let mut reader = Guard {
            inner: MultiGzDecoder::new(Cursor::new(packed)),
            packed: 1000,
            unpacked: 0,
        };
        let error = io::copy(&mut reader, &mut io::sink()).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::FileTooLarge);
    }
}

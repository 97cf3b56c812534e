//! Photos beside what was noted of a sensor: kept byte for byte, whatever the camera wrote into them included.

use interstice_glucose::{Draft, LARGEST_PHOTO, Named, PhotoDraft, PhotoMedia, Second};
use rusqlite::{Connection, OptionalExtension, Row, params};
use sha2::{Digest, Sha256};

use crate::book::{Book, Keep};
use crate::entry::Word;
use crate::error::{BookError, BookErrorKind, Result};
use crate::import::ImportReceipt;
use crate::journal::{ChangeId, ChangeKind, log_detail, record_change};
use crate::seal::seal;

/// Number of a photo, never used twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct PhotoId(pub i64);

impl std::fmt::Display for PhotoId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

impl Word for PhotoMedia {
    const WORDS: &'static [(Self, &'static str)] = PhotoMedia::NAMES;
}

/// A photo to be kept.
#[derive(Clone, Copy, Debug)]
pub struct NewPhoto<'a> {
    /// When it stands: the moment it is noted beside.
    pub at: Second,
    /// The sensor's name, where it was said.
    pub sensor: Option<&'a str>,
    /// Name of its file.
    pub name: &'a str,
    /// All of it.
    pub bytes: &'a [u8],
}

/// A photo in the book, without its bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    /// Its number.
    pub id: PhotoId,
    /// The change that brought it.
    pub origin: ChangeId,
    /// When it stands.
    pub at: Second,
    /// The sensor's name, where it was said.
    pub sensor: Option<String>,
    /// Name of the file it came in.
    pub name: String,
    /// What kind of picture it is.
    pub media: PhotoMedia,
    /// Its size.
    pub size_bytes: u64,
}

impl Photo {
    pub(crate) const COLUMNS: &'static str = "id, origin, at, sensor, name, media, length(bytes)";

    pub(crate) fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Photo {
            id: PhotoId(row.get(0)?),
            origin: ChangeId(row.get(1)?),
            at: row.get(2)?,
            sensor: row.get(3)?,
            name: row.get(4)?,
            media: PhotoMedia::read(row, 5)?,
            size_bytes: row.get(6)?,
        })
    }
}

impl Book {
    /// Writes what a person enters by hand together with a photo, as one change; see [`Book::log`]. The photo is written
    /// even where the entries are in the book already.
    ///
    /// # Errors
    /// `Refused` where it is no picture of a known kind or larger than [`LARGEST_PHOTO`]; otherwise as [`Book::log`].
    pub fn log_with_photo(
        &mut self,
        draft: &Draft,
        photo: NewPhoto<'_>,
        what: &str,
        at: Second,
    ) -> std::result::Result<ImportReceipt, BookError> {
        self.writing(|conn| {
            let media = fit(photo.bytes)?;
            let change = record_change(conn, ChangeKind::Log, at, what, &log_detail(draft))?;
            let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
            let (receipt, _) = crate::import::write_draft(conn, change, draft, go_on)?;
            insert(conn, change, photo, media)?;
            seal(conn, change)?;
            let receipt = ImportReceipt {
                change: Some(change),
                written: true,
                ..receipt
            };
            Ok((receipt, Keep::Change))
        })
    }

    /// One photo, all its bytes; `None` where there is none of that number.
    ///
    /// # Errors
    /// `Damaged`, `Io`.
    pub fn photo(&self, id: PhotoId) -> std::result::Result<Option<(Photo, Vec<u8>)>, BookError> {
        self.reading(|conn| {
            let sql = format!("SELECT {}, bytes FROM photo WHERE id = ?1", Photo::COLUMNS);
            let mut statement = conn.prepare_cached(&sql)?;
            let found = statement.query_row([id.0], |row| Ok((Photo::read(row)?, row.get(7)?)));
            Ok(found.optional()?)
        })
    }
}

fn insert(conn: &Connection, origin: ChangeId, photo: NewPhoto<'_>, media: PhotoMedia) -> Result<()> {
    conn.prepare_cached(
        "INSERT INTO photo (origin, at, sensor, name, media, digest, bytes) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?
    .execute(params![
        origin.0,
        photo.at,
        photo.sensor,
        photo.name,
        Word::word(media),
        digest_of(photo.bytes),
        photo.bytes
    ])?;
    Ok(())
}

fn digest_of(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// Photos that a file brought. One that stands at its moment already is there; one that is no photo is refused whole,
/// the reader lets none through.
pub(crate) fn bring(conn: &Connection, origin: ChangeId, photos: &[PhotoDraft]) -> Result<(u64, u64)> {
    let mut there = conn.prepare_cached(
        "SELECT EXISTS (SELECT 1 FROM photo WHERE digest = ?1 AND at = ?2 AND sensor IS ?3)",
    )?;
    let (mut new, mut known) = (0, 0);
    for photo in photos {
        let media = fit(&photo.bytes)?;
        let key = params![digest_of(&photo.bytes), photo.at, photo.sensor];
        if there.query_row(key, |row| row.get(0))? {
            known += 1;
            continue;
        }
        let photo = NewPhoto {
            at: photo.at,
            sensor: photo.sensor.as_deref(),
            name: &photo.name,
            bytes: &photo.bytes,
        };
        insert(conn, origin, photo, media)?;
        new += 1;
    }
    Ok((new, known))
}

fn fit(bytes: &[u8]) -> Result<PhotoMedia> {
    if bytes.len() > LARGEST_PHOTO {
        return Err(BookErrorKind::refused(
            format!("a photo of {:.1} MB, larger than 8 MB", bytes.len() as f64 / 1e6),
            "save it smaller and bring it again",
        ));
    }
    PhotoMedia::of(bytes).ok_or_else(|| {
        BookErrorKind::refused(
            "a file that is no JPEG, PNG or WebP picture",
            "save the photo as one of these and bring it again",
        )
    })
}

/// Photos with `from <= at < to`, in time order.
pub(crate) fn photos(conn: &Connection, from: Second, to: Second) -> Result<Vec<Photo>> {
    let sql = format!(
        "SELECT {} FROM photo WHERE at >= ?1 AND at < ?2 ORDER BY at, id",
        Photo::COLUMNS
    );
    let mut statement = conn.prepare_cached(&sql)?;
    let rows = statement.query_map([from, to], Photo::read)?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

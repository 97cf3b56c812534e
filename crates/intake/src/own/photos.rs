//! Photos beside sensors' moments: a row each, and a file.

use std::io::Read;

use interstice_glucose::{LARGEST_PHOTO, PhotoDraft, PhotoMedia};

use super::Reading;
use super::row::{Row, Unusable};

/// All photos of an export together, bytes: they are held until they are written.
const MOST_TOGETHER: usize = 2 << 30;

pub(super) fn photo(reading: &mut Reading<'_>, row: &Row<'_>) -> Result<(), Unusable> {
    let file = row.text("file")?;
    let file = file.ok_or_else(|| row.unusable("file", "a photo needs the place of its file"))?;
    let bytes = bytes(reading, &file).map_err(|why| row.unusable("file", why))?;
    if PhotoMedia::of(&bytes).is_none() {
        return Err(row.unusable("file", "this file is no JPEG, PNG or WebP picture"));
    }
    reading.draft.photos.push(PhotoDraft {
        at: row.instant("time_utc")?,
        sensor: row.text("sensor")?,
        name: row.text("name")?.unwrap_or(file),
        bytes,
    });
    Ok(())
}

fn bytes(reading: &Reading<'_>, file: &str) -> Result<Vec<u8>, String> {
    let held: usize = reading.draft.photos.iter().map(|photo| photo.bytes.len()).sum();
    if held + LARGEST_PHOTO > MOST_TOGETHER {
        return Err("the photos before it fill two gigabytes; bring the rest in by hand".to_owned());
    }
    let unread = |error: std::io::Error| format!("its file cannot be read ({error}); export again");
    let mut bytes = Vec::new();
    let open = reading.shelf.open(file).map_err(unread)?;
    open.take(LARGEST_PHOTO as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(unread)?;
    if bytes.len() > LARGEST_PHOTO {
        return Err("its file is larger than 8 MB, the most that is kept of a photo".to_owned());
    }
    Ok(bytes)
}

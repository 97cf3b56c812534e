//! `photo`: listing the photos beside sensors, and taking one out of the book as it was.

use std::fmt::Write;
use std::path::Path;

use interstice_desk::{Mode, PhotoId};
use interstice_glucose::Second;
use serde_json::json;

use crate::args::PhotoArgs;
use crate::exit::{Answer, Exit, Failure};
use crate::opened::open;
use crate::output::Output;

/// Said wherever a photo leaves the book.
const AS_IT_IS: &str =
    "it is as it was kept, with whatever the camera wrote into it: time, and perhaps place";

/// Lists photos, or writes one to a file.
pub(crate) fn photo(args: &PhotoArgs, path: &Path, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let Some(id) = args.id else {
        let record = book.load_all().map_err(Failure::book)?;
        return list(&record.photos, &record.clock, out);
    };
    let (photo, bytes) = book
        .photo(PhotoId(id))
        .map_err(Failure::book)?
        .ok_or_else(|| Failure::usage(format!("there is no photo {id}; `interstice photo` lists them")))?;
    let name = args
        .out
        .clone()
        .unwrap_or_else(|| format!("photo-{id}.{}", photo.media.ending()).into());
    write_new(&name, &bytes)?;
    if out.json() {
        out.document(&json!({ "photo": id, "file": name.display().to_string(), "bytes": bytes.len(), "said": AS_IT_IS }))?;
    } else {
        out.text(&format!("photo {id} is in {}; {AS_IT_IS}\n", name.display()));
    }
    Ok(Exit::Done)
}

/// Writes a file that is not there yet.
pub(crate) fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    use std::io::Write as _;
    let made = std::fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path);
    let failed = |error: std::io::Error| {
        let next = if error.kind() == std::io::ErrorKind::AlreadyExists {
            "there is such a file already; choose another name"
        } else {
            "choose another place"
        };
        Failure::usage(format!(
            "{} could not be written: {error}; {next}",
            path.display()
        ))
    };
    made.and_then(|mut file| file.write_all(bytes)).map_err(failed)
}

fn list(
    photos: &[interstice_desk::Photo],
    clock: &interstice_glucose::LivedClock,
    out: &mut Output,
) -> Answer {
    let day = |at: Second| {
        clock
            .wall(at)
            .civil()
            .map_or_else(String::new, |civil| civil.to_string())
    };
    if out.json() {
        let all: Vec<_> = photos
            .iter()
            .map(|photo| {
                json!({
                    "photo": photo.id.0,
                    "at": day(photo.at),
                    "sensor_id": photo.sensor,
                    "name": photo.name,
                    "media": photo.media.name(),
                    "bytes": photo.size_bytes,
                    "change_id": photo.origin.0,
                })
            })
            .collect();
        out.document(&json!({ "photos": all }))?;
        return Ok(Exit::Done);
    }
    let mut text = String::new();
    for photo in photos {
        let sensor = photo
            .sensor
            .as_deref()
            .map_or_else(String::new, |name| format!(", sensor {name}"));
        let _ = writeln!(
            text,
            "{}: {}{sensor}, {} ({:.1} MB)",
            photo.id,
            day(photo.at),
            photo.name,
            photo.size_bytes as f64 / 1e6
        );
    }
    if text.is_empty() {
        "there is no photo in the book; interstice log sensor noted --photo FILE\n".clone_into(&mut text);
    }
    out.text(&text);
    Ok(Exit::Done)
}

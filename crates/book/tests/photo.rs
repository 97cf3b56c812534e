//! Photos beside sensors: kept byte for byte, taken back, checked, saved from a damaged book.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use std::path::Path;

use common::{SMALLEST_PNG, sensor_note};
use interstice_book::{Book, Mode, NewPhoto};
use interstice_glucose::{Draft, LARGEST_PHOTO, PhotoMedia};
use rusqlite::Connection;

fn photo<'a>(bytes: &'a [u8]) -> NewPhoto<'a> {
    NewPhoto {
        at: 100,
        sensor: Some("S1"),
        name: "arm.png",
        bytes,
    }
}

fn keep(book: &mut Book, bytes: &[u8]) -> Result<i64, String> {
    let draft = Draft {
        sensor_notes: vec![sensor_note(100)],
        ..Draft::default()
    };
    let receipt = book.log_with_photo(&draft, photo(bytes), "with a photo", 5);
    receipt
        .map(|receipt| receipt.change.unwrap().0)
        .map_err(|error| error.to_string())
}

fn kept(book: &Book) -> Vec<Vec<u8>> {
    let photos = book.load_all().unwrap().photos;
    photos
        .iter()
        .map(|photo| book.photo(photo.id).unwrap().unwrap().1)
        .collect()
}

#[test]
fn a_photo_is_kept_as_it_is_and_taken_back_with_its_moment() {
    let mut book = Book::in_memory().unwrap();
    keep(&mut book, SMALLEST_PNG).unwrap();
    // The moment is there already; its photo is not.
    let second = keep(&mut book, SMALLEST_PNG).unwrap();
    assert_eq!(kept(&book), [SMALLEST_PNG, SMALLEST_PNG]);
    let photos = book.load_all().unwrap().photos;
    assert_eq!(
        (photos[1].media, photos[1].size_bytes, photos[1].origin.0),
        (PhotoMedia::Png, SMALLEST_PNG.len() as u64, second)
    );
    let report = book.check().unwrap();
    assert!(report.is_whole() && report.photos == 2, "{report:?}");
    book.undo(None, 6).unwrap();
    book.undo(None, 7).unwrap();
    assert!(kept(&book).is_empty() && book.load_all().unwrap().sensor_notes.is_empty());
    assert!(book.check().unwrap().is_whole());
}

#[test]
fn what_is_no_picture_or_too_large_is_refused_and_nothing_written() {
    let mut book = Book::in_memory().unwrap();
    for bytes in [
        &b""[..],
        b"\xff\xd8",
        b"GIF89a",
        b"RIFF\0\0\0\0WAVE",
        b"%PDF-1.7",
        b"<svg/>",
    ] {
        let refused = keep(&mut book, bytes).unwrap_err();
        assert!(refused.contains("no JPEG, PNG or WebP"), "{refused}");
    }
    let mut large = SMALLEST_PNG.to_vec();
    large.resize(LARGEST_PHOTO + 1, 0);
    assert!(keep(&mut book, &large).unwrap_err().contains("larger than 8 MB"));
    assert!(book.journal().unwrap().is_empty());
    large.truncate(LARGEST_PHOTO);
    keep(&mut book, &large).unwrap();
    assert_eq!(kept(&book)[0].len(), LARGEST_PHOTO);
}

#[test]
fn what_it_is_is_told_from_its_first_bytes() {
    let told = [
        (&b"\xff\xd8\xff\xe0\0\x10JFIF"[..], Some(PhotoMedia::Jpeg)),
        (b"RIFF\x24\0\0\0WEBPVP8 ", Some(PhotoMedia::WebP)),
        (SMALLEST_PNG, Some(PhotoMedia::Png)),
        (b"\x89PNG\r\n", None),
    ];
    for (bytes, media) in told {
        assert_eq!(PhotoMedia::of(bytes), media);
    }
}

fn change(path: &Path, sql: &str) {
    let conn = Connection::open(path).unwrap();
    assert!(conn.execute(sql, []).unwrap() > 0);
}

#[test]
fn a_damaged_photo_is_found_and_left_out_when_the_rest_is_saved() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let written = || {
        let _ = std::fs::remove_file(&path);
        let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
        keep(&mut book, SMALLEST_PNG).unwrap();
    };
    let problems = |sql: &str| {
        written();
        change(&path, sql);
        let report = Book::open(&path, Mode::ReadOnly).unwrap().check().unwrap();
        report
            .problems
            .into_iter()
            .map(|problem| problem.place)
            .collect::<Vec<_>>()
    };
    assert_eq!(problems("UPDATE photo SET name = 'leg.png'"), ["change 1"]);
    assert_eq!(problems("DELETE FROM photo"), ["change 1"]);
    // As many bytes, one of them another: the digest tells.
    let other = "UPDATE photo SET bytes = CAST(substr(bytes, 1, 40) || x'00' || substr(bytes, 42) AS BLOB)";
    assert_eq!(problems(other), ["photo 1"]);
    let saved = folder.path().join("saved");
    let report = Book::salvage(&path, &saved).unwrap();
    assert_eq!(report.unfit.get("photo"), Some(&1));
    let book = Book::open(&saved, Mode::ReadOnly).unwrap();
    assert!(kept(&book).is_empty() && book.load_all().unwrap().sensor_notes.len() == 1);
}

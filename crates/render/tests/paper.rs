//! The record of a sensor on paper and as text: everything in it, the same bytes each time, whatever was written.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]
#![expect(clippy::print_stderr, reason = "a test that is skipped says so")]

use std::io::Write;
use std::process::{Command, Stdio};

use interstice_findings::Time;
use interstice_findings::trust::{CheckLine, Point};
use interstice_findings::wear::{SensorRecord, TraceFacts};
use interstice_glucose::{Moment, Unit};
use interstice_render::pdf::{self, PhotoBytes};
use interstice_render::text;
use interstice_render::words::Shown;

/// 2025-03-03T09:00:00Z.
const START: i64 = 1_740_992_400;
const SHOWN: Shown = Shown { unit: Unit::MmolPerL };
/// One grey pixel: the signature and chunks of RFC 2083, made once by zlib.
const PIXEL: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\0\x01\0\0\0\x01\x08\0\0\0\0\x3a\x7e\x9b\x55\0\0\0\x0aIDAT\x78\xda\x63\x68\0\0\0\x82\0\x81\xda\x45\x08\x3b\0\0\0\0IEND\xae\x42\x60\x82";

fn time(days: i64) -> Time {
    Time(Moment {
        at: START + days * 86_400,
        offset_s: 3600,
    })
}

fn check(days: i64) -> CheckLine {
    CheckLine {
        point: Point {
            at: time(days),
            sensor: "S1".to_owned(),
            wear: 0,
            blood_mg_dl: 100.0,
            sensor_mg_dl: 120.0 + days as f64,
            reading_later_s: 0,
            rate_mg_dl_min: None,
            direction: None,
            worn_h: None,
            clarke: 'A',
            consensus: 'A',
            laboratory: false,
        },
        difference_mg_dl: 20.0 + days as f64,
        difference_percent: 20.0 + days as f64,
        meter_mg_dl: 15.0,
    }
}

/// Invented.
fn record(notes: &[&str], checks: i64) -> SensorRecord {
    SensorRecord {
        made: time(30),
        record: "S1".to_owned(),
        sensor_id: Some("S1".to_owned()),
        kind: None,
        lot: Some("KR-204".to_owned()),
        serial: None,
        site: Some("left thigh".to_owned()),
        preparation: vec!["wash".to_owned()],
        cover: Vec::new(),
        put_on: Some(time(0)),
        started: Some(time(0)),
        start_told: true,
        ended: Some(time(6)),
        end_told: false,
        ending: Some("signal lost"),
        skin: None,
        labelled_end: Some(time(14)),
        hours_worn: Some(144.0),
        hours_short: Some(192.0),
        trace: Some(TraceFacts {
            first: time(0),
            last: time(6),
            readings: 3,
            interval_min: 5.0,
            active_percent: 97.0,
            faults: Vec::new(),
            at: (0..1728)
                .map(|i| (START + 300 * i) as u32)
                .filter(|at| at % 7 != 0)
                .collect(),
            mg_dl: (0..1728)
                .filter(|i| (START + 300 * i) % 7 != 0)
                .map(|i| 100.0 + (i % 90) as f64)
                .collect(),
            gap_s: 900,
        }),
        checks: (0..checks).map(check).collect(),
        notes: notes.iter().map(|&note| note.to_owned()).collect(),
        photos: vec![3],
        claim: None,
    }
}

fn paper(record: &SensorRecord, photos: &[PhotoBytes<'_>]) -> Vec<u8> {
    let bytes = pdf::sensor_record(record, SHOWN, photos).unwrap();
    assert!(bytes.starts_with(b"%PDF-1."));
    assert_eq!(
        bytes,
        pdf::sensor_record(record, SHOWN, photos).unwrap(),
        "same bytes"
    );
    bytes
}

/// What a reader of PDFs (poppler) finds in it; `None` where there is none.
fn text_of(pdf: &[u8]) -> Option<String> {
    let reader = Command::new("pdftotext")
        .args(["-layout", "-", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn();
    let Ok(mut reader) = reader else {
        eprintln!("skipped: there is no pdftotext");
        return None;
    };
    reader.stdin.take().unwrap().write_all(pdf).unwrap();
    Some(String::from_utf8(reader.wait_with_output().unwrap().stdout).unwrap())
}

#[test]
fn all_that_is_known_can_be_read_on_one_page() {
    let record = record(&["itched a little"], 3);
    let bytes = paper(&record, &[]);
    let Some(said) = text_of(&bytes) else { return };
    for known in [
        "Record of sensor S1",
        "KR-204",
        "Serial number",
        "not written down",
        "left thigh",
        "3 March 2025, 10:00",
        "signal lost",
        "97 % of those expected",
        "itched a little",
        "5.6",
    ] {
        assert!(said.contains(known), "{known} is not in\n{said}");
    }
    assert_eq!(said.matches('\u{c}').count(), 1, "one page");
    // The text has the same, to the word.
    let text = text::sensor_record(&record, SHOWN);
    assert!(
        text.contains("KR-204") && text.contains("+1.1") && text.contains("itched a little"),
        "{text}"
    );
}

#[test]
fn any_words_and_any_photo_make_a_paper() {
    let long = "x".repeat(400);
    let odd = [
        "\u{65e5}\u{672c} \u{1f600}\t\n\u{0}",
        long.as_str(),
        "\u{627}\u{644}",
        "",
    ];
    let photos = [
        PhotoBytes { id: 1, bytes: PIXEL },
        PhotoBytes {
            id: 2,
            bytes: b"\xff\xd8\xff\xe0 broken",
        },
        PhotoBytes { id: 3, bytes: b"" },
    ];
    let bytes = paper(&record(&odd, 40), &photos);
    let Some(said) = text_of(&bytes) else { return };
    assert!(
        said.contains("A question mark stands for each character"),
        "{said}"
    );
    assert!(
        said.contains("Photo 2 could not be drawn") && said.contains("Photo 1"),
        "{said}"
    );
    assert!(said.contains("the text file has all 40"), "{said}");
}

//! Files that are broken, foreign or meant ill: always a message with a next step, never a panic, never much memory.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use std::io::Write;

use common::hints;
use interstice_intake::{IntakeError, Outcome, Progress, Stop, read, read_bytes};
use proptest::prelude::*;

fn refusal(name: &str, bytes: &[u8]) -> String {
    match read_bytes(name, bytes, &hints("Europe/Lisbon"), &mut ()) {
        Err(error) => error.to_string(),
        Ok(Outcome::Read(file)) => panic!("{name} was read: {}", common::counts(&file)),
        Ok(Outcome::Question { questions, .. }) => panic!("{name} raised {questions:?}"),
    }
}

#[test]
fn each_says_what_it_is_and_what_to_do() {
    for (name, bytes, what) in [
        ("a.csv", &b""[..], "empty"),
        ("a.pdf", b"%PDF-1.7\n...", "PDF"),
        ("a.png", b"\x89PNG\r\n\x1a\n....", "image"),
        ("a.html", b"<!DOCTYPE html><html></html>", "web page"),
        ("a.json", b"{\"a\": [1, 2]}", "JSON"),
        ("a.db", b"SQLite format 3\0", "database"),
        ("a.bin", &[0u8; 5000], "binary"),
        ("a.txt", b"just a few words\nand more of them\n", "not a table"),
        ("a.csv", b"name,age\nA,3\nB,4\n", "no rows with a date and time"),
        (
            "a.csv",
            b"date,steps\n2025-01-01 10:00,5\n2025-01-01 10:05,6\n",
            "no glucose",
        ),
    ] {
        let message = refusal(name, bytes);
        assert!(message.contains(what), "{name}: {message}");
        assert!(message.contains(';'), "{name} names no next step: {message}");
    }
}

/// '7.5,5' once came out as 10.025 in a release build, by a comma read as a digit.
#[test]
fn a_second_mark_makes_no_number() {
    let text = "time;glucose (mmol/L)\n2025-01-01 10:00;7.5,5\n2025-01-01 10:05;5.6\n2025-01-01 10:10;5.7\n";
    let Outcome::Read(file) = read_bytes("a.csv", text.as_bytes(), &hints("UTC"), &mut ()).unwrap() else {
        panic!("it was not read");
    };
    assert_eq!(file.draft.traces[0].readings.len(), 2);
    assert_eq!(file.draft.rejected[0].text, "7.5,5");
}

#[test]
fn damaged_archives_are_refused() {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    zip.start_file("a.csv", zip::write::SimpleFileOptions::default())
        .unwrap();
    zip.write_all("2025-01-01 10:00,5.5\n".repeat(5000).as_bytes())
        .unwrap();
    let whole = zip.finish().unwrap().into_inner();
    assert!(refusal("a.zip", &whole[..whole.len() / 2]).contains("cut short"));
    let mut gzip = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    let rows: String = (0..40_000u64)
        .map(|i| format!("2025-01-01 10:00:{:02},{}\n", i % 60, i * i % 977))
        .collect();
    gzip.write_all(rows.as_bytes()).unwrap();
    let whole = gzip.finish().unwrap();
    assert!(refusal("a.csv.gz", &whole[..whole.len() / 2]).contains("cut short"));
}

#[test]
fn a_bomb_does_not_go_off() {
    let mut gzip = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    let rows = b"2025-01-01 10:00,5.5\n".repeat(50_000);
    for _ in 0..200 {
        gzip.write_all(&rows).unwrap();
    }
    let message = refusal("a.csv.gz", &gzip.finish().unwrap());
    assert!(message.contains("far more"), "{message}");
}

#[test]
fn a_line_without_end_is_refused() {
    let message = refusal("a.csv", &vec![b'x'; 20 << 20]);
    assert!(message.contains(';'), "{message}");
    let mut text = b"time,glucose\n2025-01-01 10:00,100\n2025-01-01 10:05,101\n".repeat(40_000);
    text.extend(vec![b'7'; 20 << 20]);
    assert!(refusal("a.csv", &text).contains("eight million characters"));
}

/// The name of a file stands once in what is said of it, and what to do next at the end.
#[test]
fn messages_read_as_sentences() {
    assert_eq!(
        refusal("nul.csv", &[0u8; 5000]),
        "nul.csv: this is not text but binary data; export the readings as CSV or as a spreadsheet (.xlsx, .ods)"
    );
    let mut gzip = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    let rows = b"2025-01-01 10:00,5.5\n".repeat(50_000);
    for _ in 0..100 {
        gzip.write_all(&rows).unwrap();
    }
    assert_eq!(
        refusal("a.csv.gz", &gzip.finish().unwrap()),
        "a.csv.gz was not read to its end: it unpacks to hundreds of times its size, far more than a record of readings \
         could; check where it comes from; if you trust it, unpack it and give the file inside"
    );
    let mut text = b"time,glucose\n2025-01-01 10:00,100\n2025-01-01 10:05,101\n".to_vec();
    text.extend(vec![b'x'; 64 << 20]);
    assert_eq!(
        refusal("line.csv", &text),
        "line.csv holds a line of more than eight million characters, and a row of readings has a few dozen; check that \
         it is the file you meant, and export it again with a line for each reading"
    );
}

/// Reading fails although opening does not: a file of the system's own that refuses to be read from its start.
#[test]
#[cfg(target_os = "linux")]
fn a_file_that_cannot_be_read_says_so() {
    let message = read("/proc/self/mem".as_ref(), &hints("UTC"), &mut ())
        .unwrap_err()
        .to_string();
    assert!(
        message.contains("cannot open /proc/self/mem") || message.contains("cannot open mem"),
        "{message}"
    );
    assert!(
        message.contains("check that it exists and that you may read it"),
        "{message}"
    );
}

#[test]
fn folders_and_missing_files_are_named() {
    let folder = read(&std::env::temp_dir(), &hints("UTC"), &mut ())
        .unwrap_err()
        .to_string();
    assert!(folder.contains("folder"), "{folder}");
    let missing = read("/no/such/file.csv".as_ref(), &hints("UTC"), &mut ())
        .unwrap_err()
        .to_string();
    assert!(missing.contains("cannot open"), "{missing}");
}

#[test]
fn a_read_can_be_stopped() {
    struct AtOnce;
    impl Progress for AtOnce {
        fn at(&mut self, _: u64, _: u64, _: u64) -> Result<(), Stop> {
            Err(Stop)
        }
    }
    let rows: String = (0..50)
        .map(|i| format!("2025-01-01 10:{i:02},{}\n", 100 + i))
        .collect();
    let error = read_bytes("a.csv", rows.as_bytes(), &hints("UTC"), &mut AtOnce).unwrap_err();
    assert!(matches!(error, IntakeError::Stopped));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = read_bytes("a", &bytes, &hints("Europe/Lisbon"), &mut ());
    }

    #[test]
    fn no_table_makes_it_panic(
        rows in proptest::collection::vec("(2025-0[1-9]-1[0-9]|1[0-9]/0[1-9]/25|99999999999)?[ ,;]([0-9]{1,2}:[0-9]{2})?[,;]([0-9.,<>-]{0,6}|Low|NaN|\"x)[,;]?[a-z\"]{0,4}", 0..30)
    ) {
        let text = format!("time,glucose,insulin;note\n{}\n", rows.join("\n"));
        let _ = read_bytes("a.csv", text.as_bytes(), &hints("Europe/Lisbon"), &mut ());
    }
}

//! Every row of a file is new, already there, in conflict or rejected: a receipt adds up, whatever the file is like.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

use interstice_desk::{
    Book, FileReport, FileStatus, ImportRequest, Mode, Place, explain_bytes, import_bytes,
};
use interstice_glucose::Zone;
use proptest::prelude::*;

fn place() -> Place {
    Place {
        now: 1_750_000_000,
        machine_zone: Zone::named("Europe/Lisbon").unwrap(),
    }
}

fn bring(book: &mut Book, text: &str) -> FileReport {
    let request = ImportRequest::default();
    import_bytes(book, "log.csv", text.as_bytes(), &request, &place(), &mut ()).unwrap()
}

fn sum(report: &FileReport) -> u64 {
    report.readings_new + report.already_there + report.conflicts + report.rejected
}

/// A row of a sensor's file: most are as they should be, some told again, some told otherwise, some no row at all.
fn row(slot: usize, sort: u8, value: u32) -> String {
    let (day, minute) = (3 + slot / 288, slot % 288 * 5);
    let time = format!("2025-03-{day:02} {:02}:{:02}", minute / 60, minute % 60);
    match sort {
        0 => format!("{time},NaN"),
        1 => format!("{time},-{value}"),
        2 => format!("2025-02-30 10:00,{value}"),
        3 => format!("1970-01-01 00:00,{value}"),
        4 => format!("{time},9{value}9"),
        5 => format!("{time},"),
        6 => format!(",{value}"),
        7 => format!("{time},{}.5", value),
        _ => format!("{time},{value}"),
    }
}

/// A plain start, so that it is a sensor's file whatever follows.
fn plain() -> String {
    (0..40)
        .map(|i| format!("2025-03-01 {:02}:{:02},{}\n", i / 12, i % 12 * 5, 100 + i))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 120, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn receipts_add_up(rows in proptest::collection::vec((0usize..600, 0u8..60, 60u32..300), 1..300)) {
        let dir = tempfile::tempdir().unwrap();
        let mut book = Book::open(dir.path().join("a.interstice"), Mode::CreateIfAbsent).unwrap();
        let lines: Vec<String> = rows.iter().map(|&(slot, sort, value)| row(slot, sort, value)).collect();
        let half = lines.len() / 2;
        let files = [&lines[..half], &lines[..]].map(|part| format!("time,glucose (mg/dL)\n{}{}\n", plain(), part.join("\n")));
        for text in &files {
            let expected = text.lines().filter(|line| !line.is_empty()).count() as u64 - 1;
            let explained = explain_bytes(Some(&book), "log.csv", text.as_bytes(), &ImportRequest::default(), &place());
            let report = bring(&mut book, text);
            prop_assert_eq!(report.status, FileStatus::Imported);
            prop_assert_eq!((report.rows_read, sum(&report)), (expected, expected));
            prop_assert_eq!((explained.rows_read, explained.rejected), (expected, report.rejected));
            let again = bring(&mut book, text);
            prop_assert_eq!((again.readings_new, again.rejected), (0, report.rejected));
        }
    }
}

//! Workbooks as people keep them: several sheets, dates as dates and as text, titles over merged cells.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use common::sheets::{OdsCell, ods};
use common::{counts, hints};
use interstice_glucose::{Second, TraceKind};
use interstice_intake::{Outcome, ReadFile, read_bytes};
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook, Worksheet};

const ZONE: &str = "Europe/Lisbon";
/// 2025-03-03 00:00 in Lisbon, which then keeps universal time.
const MIDNIGHT: Second = 1_740_960_000;

fn brought(name: &str, bytes: &[u8]) -> ReadFile {
    match read_bytes(name, bytes, &hints(ZONE), &mut ()).unwrap() {
        Outcome::Read(file) => *file,
        Outcome::Question { questions, .. } => panic!("{questions:?}"),
    }
}

fn text(sheet: &mut Worksheet, row: u32, cells: &[&str]) {
    for (column, cell) in cells.iter().enumerate() {
        sheet.write_string(row, column as u16, *cell).unwrap();
    }
}

fn moment(sheet: &mut Worksheet, row: u32, column: u16, at: Second, shown: &str) {
    let when = ExcelDateTime::from_timestamp(at).unwrap();
    sheet
        .write_datetime_with_format(row, column, when, &Format::new().set_num_format(shown))
        .unwrap();
}

/// A sheet of readings from midnight on, under a title over merged cells and headings of two lines.
fn readings(sheet: &mut Worksheet) {
    let bold = Format::new().set_bold();
    sheet
        .merge_range(0, 0, 0, 3, "Sensor readings, March 2025 (invented)", &bold)
        .unwrap();
    sheet.merge_range(1, 0, 1, 1, "exported", &bold).unwrap();
    moment(sheet, 1, 2, MIDNIGHT + 40 * 86_400, "yyyy-mm-dd");
    text(sheet, 3, &["When", "Sensor glucose"]);
    text(sheet, 4, &["", "mmol/L"]);
    for i in 0..300u32 {
        moment(sheet, 5 + i, 0, MIDNIGHT + i64::from(i) * 300, "dd/mm/yyyy hh:mm");
        sheet
            .write_number(5 + i, 1, 5.0 + f64::from(i % 40) / 10.0)
            .unwrap();
    }
}

/// A log kept by hand: the date only in the first row of its day (merged over the day), times as text.
fn log(sheet: &mut Worksheet) {
    text(
        sheet,
        0,
        &[
            "Date",
            "Time",
            "Blood glucose (mmol/L)",
            "Rapid insulin (U)",
            "Carbs (g)",
            "How it went",
        ],
    );
    let plain = Format::new();
    for day in 0..3u32 {
        let first = 1 + day * 4;
        sheet
            .merge_range(first, 0, first + 3, 0, &format!("{:02}.03.2025", 3 + day), &plain)
            .unwrap();
        for (i, clock) in ["07:30", "12:15", "18:40", "22:05"].iter().enumerate() {
            let row = first + i as u32;
            sheet.write_string(row, 1, *clock).unwrap();
            sheet.write_number(row, 2, 6.5 + f64::from(day)).unwrap();
            sheet.write_number(row, 3, 4.5).unwrap();
            sheet.write_number(row, 4, 45).unwrap();
        }
        sheet
            .write_string(first + 1, 5, "a long walk, then a bus")
            .unwrap();
    }
}

#[test]
fn sheets_of_several_kinds_in_one_workbook() {
    let mut workbook = Workbook::new();
    readings(workbook.add_worksheet().set_name("Readings").unwrap());
    log(workbook.add_worksheet().set_name("Log").unwrap());
    text(
        workbook.add_worksheet().set_name("About").unwrap(),
        0,
        &["Made by hand", "for a test"],
    );
    workbook.add_worksheet().set_name("Empty").unwrap();
    let file = brought("book.xlsx", &workbook.save_to_buffer().unwrap());
    assert_eq!(
        counts(&file),
        "312 rows: 300 automatic, 0 scans, 12 blood, 12 doses, 12 meals, 0 marks, 0 sensor notes, 0 rejected"
    );
    let at = file.draft.traces[0].readings.at();
    assert!(
        at.iter()
            .enumerate()
            .all(|(i, &at)| Second::from(at) == MIDNIGHT + i as Second * 300),
        "{at:?}"
    );
    let blood: Vec<Second> = file.draft.blood_checks.iter().map(|b| b.at - MIDNIGHT).collect();
    assert_eq!(blood[..5], [27_000, 44_100, 67_200, 79_500, 86_400 + 27_000]);
    assert_eq!(
        file.draft.blood_checks[1].note.as_deref(),
        Some("a long walk, then a bus")
    );
    let notes = &file.understanding.notes;
    assert!(
        notes
            .iter()
            .any(|n| n.starts_with("About") && n.contains("was not read")),
        "{notes:?}"
    );
    let log = &file.understanding.tables[1];
    assert!(
        log.time_rule.contains("first row of its day"),
        "{}",
        log.time_rule
    );
}

#[test]
fn an_opendocument_sheet_with_a_date_and_a_time_column() {
    let cell = |text: &str| OdsCell::Text(text.to_owned());
    let mut rows = vec![
        vec![cell("Glukosetagebuch (erfunden)")],
        vec![],
        vec![cell("Datum"), cell("Uhrzeit"), cell("Glukose mg/dL")],
    ];
    for i in 0..288 {
        rows.push(vec![
            OdsCell::Date("2025-03-03".to_owned()),
            OdsCell::Time(format!("PT{:02}H{:02}M00S", i / 12, i % 12 * 5)),
            OdsCell::Number((100 + i % 50).to_string()),
        ]);
    }
    let second = vec![
        vec![cell("Datum"), cell("Notiz")],
        vec![cell("morgen"), cell("nichts")],
    ];
    let file = brought("tagebuch.ods", &ods(&[("Werte", rows), ("Sonst", second)]));
    assert_eq!(file.draft.count(TraceKind::Automatic), 288);
    let at = file.draft.traces[0].readings.at();
    assert_eq!(
        (Second::from(at[0]), Second::from(at[287])),
        (MIDNIGHT, MIDNIGHT + 287 * 300)
    );
    assert_eq!(file.draft.rejected_count(), 0);
}

/// Text in which a spreadsheet program stored dates as numbers of days, as happens when a format is lost.
#[test]
fn dates_that_lost_their_format() {
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet();
    text(sheet, 0, &["Date/time", "Glucose (mg/dL)"]);
    for i in 0..100u32 {
        // 45719 is 2025-03-03 in days since 1899-12-30.
        sheet
            .write_number(1 + i, 0, 45_719.25 + f64::from(i) / 288.0)
            .unwrap();
        sheet.write_number(1 + i, 1, 100 + i).unwrap();
    }
    let file = brought("lost.xlsx", &workbook.save_to_buffer().unwrap());
    let at = file.draft.traces[0].readings.at();
    assert_eq!(
        (at.len(), Second::from(at[0]), Second::from(at[1])),
        (100, MIDNIGHT + 21_600, MIDNIGHT + 21_900)
    );
}

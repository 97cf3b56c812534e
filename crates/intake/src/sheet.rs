//! Workbooks as delimited text, so that a sheet is understood like any other table.

use std::io::Cursor;

use calamine::{Data, Reader, open_workbook_auto_from_rs};
use jiff::{Unit, civil::DateTime};

/// Each sheet's name and its rows as comma-separated text, rows counted from the sheet's first.
pub(crate) fn texts(content: &[u8]) -> Result<Vec<(String, Vec<u8>)>, String> {
    let mut workbook = open_workbook_auto_from_rs(Cursor::new(content)).map_err(|e| e.to_string())?;
    let mut out = Vec::new();
    for name in workbook.sheet_names().clone() {
        // Chart sheets and the like have no cells.
        let Ok(range) = workbook.worksheet_range(&name) else {
            continue;
        };
        let Some((first_row, _)) = range.start() else {
            continue;
        };
        let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
        for _ in 0..first_row {
            writer.write_record([""]).map_err(|e| e.to_string())?;
        }
        for row in range.rows() {
            writer
                .write_record(row.iter().map(cell_text))
                .map_err(|e| e.to_string())?;
        }
        out.push((name, writer.into_inner().map_err(|e| e.to_string())?));
    }
    Ok(out)
}

/// A cell as text on one line; dates as ISO, so that no order of day and month is left to guess.
fn cell_text(cell: &Data) -> String {
    match cell {
        Data::Empty => String::new(),
        Data::String(text) => text.replace(['\r', '\n'], " "),
        Data::Int(number) => number.to_string(),
        Data::Float(number) => number.to_string(),
        Data::Bool(truth) => truth.to_string(),
        Data::DateTime(when) => date_text(when),
        Data::DateTimeIso(text) => iso_text(text.trim_start_matches('T')),
        Data::DurationIso(text) => duration_text(text),
        Data::Error(_) => String::new(),
    }
}

/// A date as OpenDocument writes it. Moments come out of binary fractions there too ('12:44:59.999999978').
fn iso_text(text: &str) -> String {
    match text.parse::<DateTime>().and_then(|at| at.round(Unit::Second)) {
        Ok(at) if text.contains('T') => at.strftime("%Y-%m-%d %H:%M:%S").to_string(),
        _ => text.to_owned(),
    }
}

/// A time of day as OpenDocument writes it ('PT15H04M00S'); what lasts a day or longer is in minutes.
fn duration_text(text: &str) -> String {
    let seconds = text
        .parse::<jiff::Span>()
        .and_then(|span| span.total((Unit::Second, jiff::SpanRelativeTo::days_are_24_hours())));
    match seconds {
        Ok(seconds) if (0.0..86_400.0).contains(&seconds.round()) => clock_text(seconds.round() as i64),
        Ok(seconds) => format!("{}", seconds / 60.0),
        Err(_) => text.to_owned(),
    }
}

/// A spreadsheet's date as ISO text; a fraction of a day alone is a time of day, a duration is in minutes.
fn date_text(when: &calamine::ExcelDateTime) -> String {
    let serial = when.as_f64();
    if when.is_duration() && serial >= 1.0 {
        return format!("{}", serial * 24.0 * 60.0);
    }
    if (0.0..1.0).contains(&serial) {
        return clock_text((serial * 86_400.0).round() as i64);
    }
    let (year, month, day, hour, minute, second, milli) = when.to_ymd_hms_milli();
    let seconds =
        i64::from(hour) * 3600 + i64::from(minute) * 60 + i64::from(second) + i64::from(milli >= 500);
    let (Ok(year), Ok(month), Ok(day)) = (i16::try_from(year), i8::try_from(month), i8::try_from(day)) else {
        return serial.to_string();
    };
    // Binary fractions fall short: 12:00 may be held as 11:59:59.9996.
    let date = jiff::civil::Date::new(year, month, day)
        .and_then(|date| date.checked_add(jiff::Span::new().days(seconds / 86_400)));
    match date {
        Ok(date) if seconds % 86_400 == 0 && serial.fract() < 1e-6 => date.to_string(),
        Ok(date) => format!("{date} {}", clock_text(seconds % 86_400)),
        Err(_) => serial.to_string(),
    }
}

fn clock_text(second: i64) -> String {
    format!(
        "{:02}:{:02}:{:02}",
        second / 3600 % 24,
        second / 60 % 60,
        second % 60
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use calamine::{ExcelDateTime, ExcelDateTimeType};

    #[test]
    fn serial_dates() {
        let text = |serial: f64, is_1904| {
            date_text(&ExcelDateTime::new(serial, ExcelDateTimeType::DateTime, is_1904))
        };
        assert_eq!(text(45_000.5, false), "2023-03-15 12:00:00");
        assert_eq!(text(45_000.0, false), "2023-03-15");
        assert_eq!(text(45_000.0 - 1462.0, true), "2023-03-15");
        assert_eq!(text(0.25, false), "06:00:00");
    }

    /// OpenDocument 1.3 part 3, 19.369 office:date-value and 19.382 office:time-value: XML Schema's dateTime and
    /// duration.
    #[test]
    fn dates_and_times_of_opendocument() {
        assert_eq!(iso_text("2025-03-07T15:04:00"), "2025-03-07 15:04:00");
        assert_eq!(iso_text("2025-03-07T12:44:59.999999978"), "2025-03-07 12:45:00");
        assert_eq!(iso_text("2025-03-07"), "2025-03-07");
        assert_eq!(duration_text("PT15H04M00S"), "15:04:00");
        assert_eq!(duration_text("PT08H29M59.9999S"), "08:30:00");
        assert_eq!(duration_text("PT26H30M00S"), "1590");
    }
}

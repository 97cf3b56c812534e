//! The clean writer: `time_utc,glucose_mg_dl`, ISO times in universal time.

use std::io::{self, Write};

use interstice_glucose::{DAY_S, Second, WallTime};

use super::Written;
use super::trace::Trace;

/// Writes `rows` readings, one every `interval_s` seconds from `start` (seconds since 1970), as clean CSV with a heading.
///
/// Years 1970 to 9999. Rows look like `2025-03-17T12:04:00Z,104`.
///
/// # Errors
/// Whatever `out` says.
pub fn write_clean(
    out: &mut impl Write,
    start: Second,
    interval_s: u32,
    rows: u64,
    seed: u64,
) -> io::Result<Written> {
    out.write_all(b"time_utc,glucose_mg_dl\n")?;
    let mut trace = Trace::new(start, interval_s, rows, seed);
    let (first, last) = trace.days();
    let mut written = Written {
        first: start,
        ..Written::default()
    };
    let (mut readings, mut buffer, mut date) =
        (Vec::new(), Vec::with_capacity(64 * 1024), DateText::default());
    for day in first..=last {
        trace.day(day, &mut readings);
        buffer.clear();
        for &(at, mg_dl) in &readings {
            date.append(&mut buffer, at);
            buffer.push(b',');
            append_number(&mut buffer, mg_dl);
            buffer.push(b'\n');
            written.sum_mg_dl += u64::from(mg_dl);
            written.last = at;
        }
        written.rows += readings.len() as u64;
        out.write_all(&buffer)?;
    }
    written.readings = written.rows;
    Ok(written)
}

/// The text of the date is kept as long as the day stays the same.
#[derive(Default)]
struct DateText {
    day: Option<i64>,
    text: Vec<u8>,
}

impl DateText {
    fn append(&mut self, buffer: &mut Vec<u8>, at: Second) {
        let day = at.div_euclid(DAY_S);
        if self.day != Some(day) {
            self.day = Some(day);
            let date = WallTime(day * DAY_S).civil();
            self.text = date.map_or_else(Vec::new, |date| {
                date.strftime("%Y-%m-%dT").to_string().into_bytes()
            });
        }
        let second = at.rem_euclid(DAY_S);
        buffer.extend_from_slice(&self.text);
        append_two(buffer, second / 3600);
        buffer.push(b':');
        append_two(buffer, second / 60 % 60);
        buffer.push(b':');
        append_two(buffer, second % 60);
        buffer.push(b'Z');
    }
}

/// Two digits of a number below 100.
pub(super) fn append_two(buffer: &mut Vec<u8>, number: i64) {
    buffer.push(b'0' + (number / 10 % 10) as u8);
    buffer.push(b'0' + (number % 10) as u8);
}

/// A number below 1,000 without leading zeros.
pub(super) fn append_number(buffer: &mut Vec<u8>, number: u16) {
    if number >= 100 {
        buffer.push(b'0' + (number / 100 % 10) as u8);
    }
    if number >= 10 {
        buffer.push(b'0' + (number / 10 % 10) as u8);
    }
    buffer.push(b'0' + (number % 10) as u8);
}

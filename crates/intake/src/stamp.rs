//! Dates and times as people and devices write them.

use crate::api::DateOrder;
use crate::calendar::{days_from_civil, month_of, weekday_of};

/// What one cell says about when.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Stamp {
    /// Days since 1970-01-01 on the wall clock.
    pub(crate) day: Option<i64>,
    /// Seconds since midnight on the wall clock, 0 to 86,400 ('24:00').
    pub(crate) second: Option<i64>,
    /// Seconds east of universal time, where the cell says so.
    pub(crate) offset_s: Option<i32>,
    /// Written with 'Z', 'UTC' or 'GMT': an instant, but nobody's wall clock.
    pub(crate) universal: bool,
}

impl Stamp {
    /// Seconds since 1970 on the wall clock.
    pub(crate) fn wall(self) -> Option<i64> {
        Some(self.day? * 86_400 + self.second?)
    }
}

/// A time of day with points, `7.05` or `15.04.30`, in seconds since midnight. Looks like a number, so only a column
/// that is known to hold times of day is read so.
pub(crate) fn dotted_clock(cell: &[u8]) -> Option<i64> {
    let mut cursor = Cursor {
        bytes: cell.trim_ascii(),
        at: 0,
    };
    let second = clock(&mut cursor, true)?;
    (cursor.is_done() && cell.contains(&b'.')).then_some(second)
}

/// The three numbers of a date as written, for finding out their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct DateParts {
    pub(crate) numbers: [u32; 3],
    /// Digits of each.
    pub(crate) widths: [u8; 3],
    /// The month is a word or the year comes first with four digits: the order is plain to see.
    pub(crate) plain: bool,
    /// The mark between the first two.
    pub(crate) mark: u8,
}

/// A reader walking along a cell.
#[derive(Clone, Copy)]
struct Cursor<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Cursor<'a> {
    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    fn rest(&self) -> &'a [u8] {
        &self.bytes[self.at.min(self.bytes.len())..]
    }

    fn is_done(&self) -> bool {
        self.at >= self.bytes.len()
    }

    /// One to `most` digits: the number and how many digits.
    fn digits(&mut self, most: usize) -> Option<(u32, u8)> {
        let (mut value, mut width) = (0u32, 0u8);
        while let Some(byte) = self.peek().filter(u8::is_ascii_digit) {
            if usize::from(width) == most {
                return None;
            }
            // Only a fraction of a second has more digits than fit, and its value is not used.
            value = value.saturating_mul(10).saturating_add(u32::from(byte - b'0'));
            width += 1;
            self.at += 1;
        }
        (width > 0).then_some((value, width))
    }

    /// Letters of any script, folded by the caller.
    fn word(&mut self) -> &'a [u8] {
        let start = self.at;
        while self
            .peek()
            .is_some_and(|b| b.is_ascii_alphabetic() || (b >= 0x80 && !self.at_wide_space()))
        {
            self.at += 1;
        }
        &self.bytes[start..self.at]
    }

    /// A no-break or narrow space, or the direction mark that browsers put before times.
    fn at_wide_space(&self) -> bool {
        if !matches!(self.peek(), Some(0xc2 | 0xe2)) {
            return false;
        }
        let rest = self.rest();
        [
            &b"\xc2\xa0"[..],
            b"\xe2\x80\xaf",
            b"\xe2\x80\x8e",
            b"\xe2\x80\x89",
        ]
        .iter()
        .any(|space| rest.starts_with(space))
    }

    fn skip_spaces(&mut self) {
        loop {
            if self.peek() == Some(b' ') || self.peek() == Some(b'\t') {
                self.at += 1;
            } else if self.at_wide_space() {
                self.at += if self.peek() == Some(0xc2) { 2 } else { 3 };
            } else {
                return;
            }
        }
    }

    /// A mark between the parts of a date with spaces around it; the mark itself, a space where only spaces stand.
    fn date_mark(&mut self) -> Option<u8> {
        let start = self.at;
        self.skip_spaces();
        let mark = match self.peek() {
            Some(mark @ (b'-' | b'/' | b'.' | b',')) => {
                self.at += 1;
                mark
            }
            _ => b' ',
        };
        self.skip_spaces();
        (self.at > start).then_some(mark)
    }
}

/// Reads a cell as date, time of day or both. `None` where any part of it is something else.
pub(crate) fn parse_stamp(cell: &[u8], order: DateOrder) -> Option<Stamp> {
    usual_iso(cell).or_else(|| read_stamp(cell, order))
}

/// The same by parts, whatever the way of writing.
pub(crate) fn read_stamp(cell: &[u8], order: DateOrder) -> Option<Stamp> {
    let mut cursor = Cursor {
        bytes: cell.trim_ascii(),
        at: 0,
    };
    let mut stamp = Stamp::default();
    if let Some((day, compact_second)) = date(&mut cursor, order) {
        stamp.day = Some(day);
        stamp.second = compact_second;
        let had_space = date_time_gap(&mut cursor);
        if cursor.is_done() {
            return Some(stamp);
        }
        if compact_second.is_none() {
            stamp.second = Some(clock(&mut cursor, had_space)?);
        }
    } else {
        stamp.second = Some(clock(&mut cursor, false)?);
        stamp.day = date_after(&mut cursor, order);
    }
    zone_part(&mut cursor, &mut stamp)?;
    if stamp.second == Some(86_400) && stamp.day.is_some() {
        stamp.day = stamp.day.map(|day| day + 1);
        stamp.second = Some(0);
    }
    Some(stamp)
}

/// The date behind a time of day ('15:04 07/03/2025').
fn date_after(cursor: &mut Cursor<'_>, order: DateOrder) -> Option<i64> {
    let mut ahead = *cursor;
    if ahead.peek() == Some(b',') {
        ahead.at += 1;
    }
    ahead.skip_spaces();
    if ahead.at == cursor.at {
        return None;
    }
    let (day, None) = date(&mut ahead, order)? else {
        return None;
    };
    *cursor = ahead;
    Some(day)
}

/// `2025-03-17T12:04:00+01:00` and its like, by position: the commonest cell, and the one read by the million.
fn usual_iso(cell: &[u8]) -> Option<Stamp> {
    if cell.len() < 16
        || cell[4] != b'-'
        || cell[7] != b'-'
        || cell[13] != b':'
        || !matches!(cell[10], b'T' | b' ')
    {
        return None;
    }
    let two = |at: usize| -> Option<u32> {
        let (tens, ones) = (cell[at].wrapping_sub(b'0'), cell[at + 1].wrapping_sub(b'0'));
        (tens < 10 && ones < 10).then(|| u32::from(tens) * 10 + u32::from(ones))
    };
    let (year, month, day) = (two(0)? * 100 + two(2)?, two(5)?, two(8)?);
    let (hour, minute) = (two(11)?, two(14)?);
    let (second, rest) = match cell.get(16) {
        None => (0, &cell[16..]),
        Some(b':') if cell.len() >= 19 => (two(17)?, &cell[19..]),
        Some(b'+' | b'-' | b'Z') => (0, &cell[16..]),
        Some(_) => return None,
    };
    if hour > 23 || minute > 59 || second > 59 {
        return None;
    }
    let (offset_s, universal) = match rest {
        [] => (None, false),
        [b'Z'] => (Some(0), true),
        [b'+' | b'-', ..] => (Some(offset(rest)?), false),
        _ => return None,
    };
    let day = days_from_civil(year, month, day)?;
    Some(Stamp {
        day: Some(day),
        second: Some(i64::from(hour * 3600 + minute * 60 + second)),
        offset_s,
        universal,
    })
}

/// `+01:00`, `-0330`, `+2`: seconds east.
pub(crate) fn offset(text: &[u8]) -> Option<i32> {
    if let [sign, h1, h2, b':', m1, m2] = text
        && [h1, h2, m1, m2].iter().all(|byte| byte.is_ascii_digit())
    {
        let number = |tens: &u8, ones: &u8| i32::from(tens - b'0') * 10 + i32::from(ones - b'0');
        let (hours, minutes) = (number(h1, h2), number(m1, m2));
        let seconds = hours * 3600 + minutes * 60;
        return (hours <= 15 && minutes <= 59).then_some(if *sign == b'-' { -seconds } else { seconds });
    }
    let mut cursor = Cursor { bytes: text, at: 1 };
    let (number, width) = cursor.digits(4)?;
    let (hours, mut minutes) = if width > 2 {
        (number / 100, number % 100)
    } else {
        (number, 0)
    };
    if cursor.peek() == Some(b':') && width <= 2 {
        cursor.at += 1;
        minutes = cursor.digits(2)?.0;
    }
    if !cursor.is_done() || hours > 15 || minutes > 59 {
        return None;
    }
    let seconds = i32::try_from(hours * 3600 + minutes * 60).ok()?;
    Some(if text.first() == Some(&b'-') {
        -seconds
    } else {
        seconds
    })
}

/// The gap between date and time: 'T', spaces, a comma, an underscore, a word like 'kl.' or 'um'. Says whether
/// there was one.
fn date_time_gap(cursor: &mut Cursor<'_>) -> bool {
    let start = cursor.at;
    // '2025.03.07. 15:04', as Hungarian and Korean dates end.
    if cursor.peek() == Some(b'.') && cursor.rest().get(1).is_none_or(|&next| next == b' ') {
        cursor.at += 1;
    }
    cursor.skip_spaces();
    if matches!(cursor.peek(), Some(b',' | b'_' | b'-' | b';')) && cursor.at + 1 < cursor.bytes.len() {
        cursor.at += 1;
    }
    if cursor.peek() == Some(b'T') && cursor.rest().get(1).is_some_and(u8::is_ascii_digit) {
        cursor.at += 1;
    }
    cursor.skip_spaces();
    let mut ahead = *cursor;
    let word = ahead.word();
    if matches!(
        word,
        b"kl" | b"um" | b"at" | b"om" | b"klo" | b"\xc3\xa0" | b"a" | b"alle" | b"ore"
    ) {
        *cursor = ahead;
        if cursor.peek() == Some(b'.') {
            cursor.at += 1;
        }
        cursor.skip_spaces();
    }
    cursor.at > start
}

/// The day, and the second of it where the date was written compactly with a time ('20250317120400').
fn date(cursor: &mut Cursor<'_>, order: DateOrder) -> Option<(i64, Option<i64>)> {
    let before = cursor.at;
    let found = compact_date(cursor).or_else(|| {
        cursor.at = before;
        let (parts, name_first) = parts(cursor)?;
        Some((day_of(&parts, order, name_first)?, None))
    });
    if found.is_none() {
        cursor.at = before;
    }
    found
}

/// Eight, twelve or fourteen digits without marks.
fn compact_date(cursor: &mut Cursor<'_>) -> Option<(i64, Option<i64>)> {
    let run = cursor.rest().iter().take_while(|b| b.is_ascii_digit()).count();
    if !matches!(run, 8 | 12 | 14) {
        return None;
    }
    let digits = &cursor.rest()[..run];
    let number = |range: std::ops::Range<usize>| {
        digits[range]
            .iter()
            .fold(0u32, |n, b| n * 10 + u32::from(b - b'0'))
    };
    let year = number(0..4);
    if !(1980..2100).contains(&year) {
        return None;
    }
    let day = days_from_civil(year, number(4..6), number(6..8))?;
    cursor.at += run;
    if run == 8 {
        return Some((day, None));
    }
    let second = if run == 14 { number(12..14) } else { 0 };
    let (hour, minute) = (number(8..10), number(10..12));
    (hour < 24 && minute < 60 && second < 60)
        .then(|| (day, Some(i64::from(hour * 3600 + minute * 60 + second))))
}

/// The three parts of a written date; whether a month's name stood first.
fn parts(cursor: &mut Cursor<'_>) -> Option<(DateParts, bool)> {
    let mut ahead = *cursor;
    let word = ahead.word();
    if !word.is_empty() {
        if let Some(month) = month_of(word) {
            return named_first(cursor, ahead, month).map(|parts| (parts, true));
        }
        weekday_of(word)?;
        ahead.date_mark()?;
        *cursor = ahead;
        if let Some(month) = month_of(ahead.word()) {
            return named_first(cursor, ahead, month).map(|parts| (parts, true));
        }
    }
    let first = cursor.digits(4)?;
    let mark = cursor.date_mark()?;
    skip_de(cursor);
    let name = cursor.word();
    let (second, named) = if name.is_empty() {
        (cursor.digits(2)?, false)
    } else {
        ((month_of(name)?, 2), true)
    };
    cursor.date_mark()?;
    skip_de(cursor);
    let third = cursor.digits(4)?;
    let plain = named || first.1 == 4;
    let widths = [first.1, second.1, third.1];
    if widths.contains(&3) || (first.1 == 4 && third.1 > 2) || second.1 > 2 {
        return None;
    }
    let parts = DateParts {
        numbers: [first.0, second.0, third.0],
        widths,
        plain,
        mark,
    };
    Some((parts, false))
}

/// The 'de' of Spanish and Portuguese dates ('12 de marzo de 2024').
fn skip_de(cursor: &mut Cursor<'_>) {
    if cursor.rest().starts_with(b"de ") {
        cursor.at += 3;
    }
}

/// 'Mar 12, 2024' with the month already read; given back as day, month, year.
fn named_first(cursor: &mut Cursor<'_>, after_name: Cursor<'_>, month: u32) -> Option<DateParts> {
    cursor.at = after_name.at;
    let mark = cursor.date_mark()?;
    let day = cursor.digits(2)?;
    cursor.date_mark()?;
    let year = cursor.digits(4)?;
    (year.1 != 3).then_some(DateParts {
        numbers: [day.0, month, year.0],
        widths: [day.1, 2, year.1],
        plain: true,
        mark,
    })
}

/// The day the parts stand for in an order.
fn day_of(parts: &DateParts, order: DateOrder, name_first: bool) -> Option<i64> {
    let [a, b, c] = parts.numbers;
    let (year, month, day) = if name_first {
        (full_year(c, parts.widths[2]), b, a)
    } else if parts.widths[0] == 4 {
        (a, b, c)
    } else if parts.plain {
        (full_year(c, parts.widths[2]), b, a)
    } else {
        match order {
            DateOrder::DayFirst => (full_year(c, parts.widths[2]), b, a),
            DateOrder::MonthFirst => (full_year(c, parts.widths[2]), a, b),
            DateOrder::YearFirst if parts.widths[2] <= 2 => (full_year(a, parts.widths[0]), b, c),
            DateOrder::YearFirst => return None,
        }
    };
    days_from_civil(year, month, day)
}

/// Two-digit years: 70 to 99 are 1970 to 1999, the rest 2000 to 2069.
fn full_year(year: u32, width: u8) -> u32 {
    match (width, year) {
        (4, _) => year,
        (_, 70..) => 1900 + year,
        _ => 2000 + year,
    }
}

/// The parts of the date at the head of a cell, for finding out their order.
pub(crate) fn date_parts(cell: &[u8]) -> Option<DateParts> {
    let mut cursor = Cursor {
        bytes: cell.trim_ascii(),
        at: 0,
    };
    let run = cursor.rest().iter().take_while(|b| b.is_ascii_digit()).count();
    if run > 4 {
        return None;
    }
    let mut after = cursor;
    if clock(&mut after, false).is_some() {
        after.skip_spaces();
        cursor = after;
    }
    parts(&mut cursor).map(|(parts, _)| parts)
}

/// A time of day. Points between hours and minutes only where `dots`.
fn clock(cursor: &mut Cursor<'_>, dots: bool) -> Option<i64> {
    let before = half_before(cursor);
    let (hour, width) = cursor.digits(6)?;
    let (hour, minute, second) = if width >= 4 {
        let (hm, second) = if width == 6 {
            (hour / 100, hour % 100)
        } else {
            (hour, 0)
        };
        if width == 5 || !dots {
            return None;
        }
        (hm / 100, hm % 100, second)
    } else {
        if width > 2 {
            return None;
        }
        minutes(cursor, hour, dots)?
    };
    let half = before.or_else(|| half_after(cursor));
    let hour = match half {
        None => hour,
        Some(_) if !(1..=12).contains(&hour) && hour != 0 => {
            // A 24-hour time with a needless 'PM' beside it still says one thing only.
            if half == Some(Half::Afternoon) && hour < 24 {
                hour
            } else {
                return None;
            }
        }
        Some(Half::Morning) => hour % 12,
        Some(Half::Afternoon) => hour % 12 + 12,
    };
    if hour == 24 && minute == 0 && second == 0 {
        return Some(86_400);
    }
    (hour < 24 && minute < 60 && second < 60).then(|| i64::from(hour * 3600 + minute * 60 + second))
}

/// Minutes and seconds after an hour: ':04', ':04:00', ':04:00.000', 'h04', '.04.00'; or nothing where a half of
/// the day follows ('3 pm').
fn minutes(cursor: &mut Cursor<'_>, hour: u32, dots: bool) -> Option<(u32, u32, u32)> {
    let mark = cursor.peek();
    match mark {
        Some(b':' | b'h' | b'H') => cursor.at += 1,
        Some(b'.') if dots => cursor.at += 1,
        _ => {
            let mut ahead = *cursor;
            return half_after(&mut ahead).map(|_| (hour, 0, 0));
        }
    }
    if matches!(mark, Some(b'h' | b'H')) && !cursor.peek().is_some_and(|b| b.is_ascii_digit()) {
        return Some((hour, 0, 0));
    }
    let (minute, width) = cursor.digits(2)?;
    if width != 2 && mark != Some(b':') {
        return None;
    }
    let mut second = 0;
    let between = cursor.peek();
    if (between == Some(b':') || (between == Some(b'.') && mark == Some(b'.')))
        && cursor.rest().get(1).is_some_and(u8::is_ascii_digit)
    {
        cursor.at += 1;
        second = cursor.digits(2)?.0;
        if matches!(cursor.peek(), Some(b'.' | b',')) && cursor.rest().get(1).is_some_and(u8::is_ascii_digit)
        {
            cursor.at += 1;
            cursor.digits(12).or(Some((0, 0)))?;
        }
    }
    Some((hour, minute, second))
}

/// Half of the day in a 12-hour clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Half {
    Morning,
    Afternoon,
}

/// Whether a cell says only which half of the day it is: `true` for the afternoon.
pub(crate) fn is_afternoon(cell: &[u8]) -> Option<bool> {
    let mut cursor = Cursor {
        bytes: cell.trim_ascii(),
        at: 0,
    };
    let half = half_after(&mut cursor).or_else(|| half_before(&mut cursor))?;
    cursor.is_done().then_some(half == Half::Afternoon)
}

/// A half written before the time, as in Chinese, Japanese and Korean.
fn half_before(cursor: &mut Cursor<'_>) -> Option<Half> {
    let mut ahead = *cursor;
    let half = match ahead.word() {
        b"\xe4\xb8\x8a\xe5\x8d\x88" | b"\xe5\x8d\x88\xe5\x89\x8d" | b"\xec\x98\xa4\xec\xa0\x84" => {
            Half::Morning
        }
        b"\xe4\xb8\x8b\xe5\x8d\x88" | b"\xe5\x8d\x88\xe5\xbe\x8c" | b"\xec\x98\xa4\xed\x9b\x84" => {
            Half::Afternoon
        }
        word if word.eq_ignore_ascii_case(b"am") => Half::Morning,
        word if word.eq_ignore_ascii_case(b"pm") => Half::Afternoon,
        _ => return None,
    };
    ahead.skip_spaces();
    *cursor = ahead;
    Some(half)
}

/// A half written after the time: 'PM', 'p.m.', 'p. m.', 'nachm.', 'em', 'ip.'.
fn half_after(cursor: &mut Cursor<'_>) -> Option<Half> {
    let mut ahead = *cursor;
    ahead.skip_spaces();
    let (mut letters, mut count) = ([0u8; 8], 0);
    while let Some(byte) = ahead.peek() {
        match byte {
            b'.' | b' ' => ahead.at += 1,
            _ if ahead.at_wide_space() => ahead.skip_spaces(),
            b'a'..=b'z' | b'A'..=b'Z' if count < letters.len() => {
                letters[count] = byte.to_ascii_lowercase();
                count += 1;
                ahead.at += 1;
            }
            _ => break,
        }
    }
    let half = match &letters[..count] {
        b"am" | b"a" | b"fm" | b"vorm" | b"ap" | b"fmd" => Half::Morning,
        b"pm" | b"p" | b"em" | b"nachm" | b"ip" | b"nm" => Half::Afternoon,
        _ => return None,
    };
    *cursor = ahead;
    Some(half)
}

/// What may follow a time: an offset, 'Z', 'UTC' or 'GMT' with or without an offset, 'Uhr', or nothing.
fn zone_part(cursor: &mut Cursor<'_>, stamp: &mut Stamp) -> Option<()> {
    cursor.skip_spaces();
    if matches!(cursor.peek(), Some(b'(')) && cursor.bytes.last() == Some(&b')') {
        cursor.bytes = &cursor.bytes[..cursor.bytes.len() - 1];
        cursor.at += 1;
    }
    let word = cursor.word();
    match word {
        b"" => {}
        b"Z" | b"z" | b"UTC" | b"GMT" | b"utc" => {
            stamp.offset_s = Some(0);
            stamp.universal = true;
        }
        b"Uhr" | b"uhr" | b"h" => {}
        [0xe2, 0x88, 0x92, ..] => return None,
        _ => return None,
    }
    if cursor.is_done() {
        return Some(());
    }
    stamp.offset_s = Some(offset(cursor.rest()).filter(|_| matches!(cursor.peek(), Some(b'+' | b'-')))?);
    stamp.universal = false;
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::usual::DayMemo;
    use proptest::prelude::*;

    fn read(text: &str, order: DateOrder) -> Option<String> {
        let stamp = parse_stamp(text.as_bytes(), order)?;
        let zone = stamp
            .offset_s
            .map(|s| format!("{:+}", s / 60))
            .unwrap_or_default();
        let date = stamp.day.map(|day| {
            let date = jiff::civil::date(1970, 1, 1)
                .checked_add(jiff::Span::new().days(day))
                .unwrap();
            date.to_string()
        });
        let time = stamp
            .second
            .map(|s| format!("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60));
        Some(format!(
            "{} {}{zone}",
            date.unwrap_or_default(),
            time.unwrap_or_default()
        ))
    }

    #[test]
    fn one_moment_written_many_ways() {
        use DateOrder::{DayFirst, MonthFirst, YearFirst};
        for (text, order) in [
            ("2025-03-07T15:04:00", YearFirst),
            ("2025-03-07 15:04", YearFirst),
            ("2025-03-07T15:04:00.000", DayFirst),
            ("2025/03/07 15:04:00", MonthFirst),
            ("2025.03.07. 15:04", DayFirst),
            ("07.03.2025 15:04", DayFirst),
            ("7.3.2025 15.04", DayFirst),
            ("07/03/25 3:04 PM", DayFirst),
            ("03/07/2025 03:04:00 PM", MonthFirst),
            ("3/7/2025 3:04 p. m.", MonthFirst),
            ("3/7/2025 3:04\u{202f}PM", MonthFirst),
            ("25/03/07 15:04", YearFirst),
            ("7 mars 2025 15:04", MonthFirst),
            ("7. März 2025, 15:04 Uhr", MonthFirst),
            ("Mar 7, 2025 3:04 PM", DayFirst),
            ("Fri 7 Mar 2025 15:04", DayFirst),
            ("7-Mar-25 15:04", MonthFirst),
            ("7 de marzo de 2025 15:04", MonthFirst),
            ("07.03.2025 kl. 15.04", DayFirst),
            ("07/03/2025 15h04", DayFirst),
            ("15:04 07/03/2025", DayFirst),
            ("3:04 PM, 3/7/2025", MonthFirst),
            ("15:04:00 2025-03-07", DayFirst),
            ("20250307 150400", DayFirst),
            ("20250307T1504", DayFirst),
            ("20250307150400", DayFirst),
            ("2025-03-07 下午3:04", YearFirst),
            ("7.3.2025 3.04 ip.", DayFirst),
        ] {
            assert_eq!(
                read(text, order).as_deref(),
                Some("2025-03-07 15:04:00"),
                "{text}"
            );
        }
    }

    #[test]
    fn offsets() {
        for (text, expect) in [
            ("2025-03-07T15:04:00Z", "2025-03-07 15:04:00+0"),
            ("2025-03-07T15:04:00+0200", "2025-03-07 15:04:00+120"),
            ("2025-03-07 15:04:00 -03:30", "2025-03-07 15:04:00-210"),
            ("07/03/2025 15:04 UTC+2", "2025-03-07 15:04:00+120"),
            ("07/03/2025 15:04 (GMT-05:00)", "2025-03-07 15:04:00-300"),
        ] {
            assert_eq!(read(text, DateOrder::DayFirst).as_deref(), Some(expect), "{text}");
        }
    }

    /// Ten digits after the seconds once were too large a number.
    #[test]
    fn a_long_fraction_of_a_second() {
        for text in [
            "02.02.2021 12:04:07.123456789012",
            "02.02.2021 12.04.07.999999999999",
        ] {
            let expect = Some("2021-02-02 12:04:07");
            assert_eq!(read(text, DateOrder::DayFirst).as_deref(), expect, "{text}");
        }
    }

    /// The memory of the last date once took a 'T' after a point, which the plain parser does not.
    #[test]
    fn a_date_ends_with_a_point_only_before_a_space() {
        for text in ["2025-03-1.T1:15", "2025-03-1\nT12:04:00"] {
            let mut memo = DayMemo::default();
            assert_eq!(memo.parse(text.as_bytes(), DateOrder::YearFirst), None, "{text}");
            assert_eq!(read(text, DateOrder::YearFirst), None, "{text}");
        }
    }

    #[test]
    fn parts_alone_and_midnights() {
        assert_eq!(read("12:30", DateOrder::DayFirst).as_deref(), Some(" 12:30:00"));
        assert_eq!(
            read("12:30 AM", DateOrder::DayFirst).as_deref(),
            Some(" 00:30:00")
        );
        assert_eq!(
            read("12:00 p.m.", DateOrder::DayFirst).as_deref(),
            Some(" 12:00:00")
        );
        assert_eq!(
            read("31.12.2024", DateOrder::DayFirst).as_deref(),
            Some("2024-12-31 ")
        );
        assert_eq!(
            read("31.12.2024 24:00", DateOrder::DayFirst).as_deref(),
            Some("2025-01-01 00:00:00")
        );
    }

    #[test]
    fn what_is_no_time() {
        for text in [
            "",
            "7.8",
            "130",
            "31/02/2024",
            "13:60",
            "25:00",
            "2024-13-01",
            "lunch",
            "1.2.3.4",
            "12:30 lunch",
            "S1",
            "2024-01-01 12:30 mg",
            "1/2",
            "5 mg",
            "003",
            "0.5.1x",
        ] {
            assert_eq!(read(text, DateOrder::DayFirst), None, "{text}");
        }
    }

    proptest! {
        /// jiff's own printing is the reference.
        #[test]
        fn agrees_with_jiff(second in 315_532_800i64..4_000_000_000, form in 0usize..5) {
            let at = jiff::Timestamp::from_second(second).unwrap().to_zoned_datetime(jiff::tz::TimeZone::UTC);
            let (format, order) = [
                ("%Y-%m-%dT%H:%M:%S", DateOrder::YearFirst),
                ("%d.%m.%Y %H:%M:%S", DateOrder::DayFirst),
                ("%m/%d/%Y %I:%M:%S %p", DateOrder::MonthFirst),
                ("%d %B %Y %H:%M:%S", DateOrder::MonthFirst),
                ("%Y%m%d%H%M%S", DateOrder::DayFirst),
            ][form];
            let text = at.strftime(format).to_string();
            prop_assert_eq!(parse_stamp(text.as_bytes(), order).and_then(Stamp::wall), Some(second), "{}", text);
        }

        #[test]
        fn never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..40)) {
            for order in [DateOrder::DayFirst, DateOrder::MonthFirst, DateOrder::YearFirst] {
                let _ = parse_stamp(&bytes, order);
            }
            let _ = date_parts(&bytes);
        }

        /// The memory of the last date changes speed, never the reading.
        #[test]
        fn the_memory_reads_as_the_plain_parser(
            cells in proptest::collection::vec("(0[1-9]/1[0-9]/202[45]|2024-0[1-9]-1[0-9]|[1-9]\\.[1-9]\\.24)[ T][0-2]?[0-9]:[0-6][0-9](:[0-6][0-9])?( ?[AaPp][Mm]|Z|[+-]0[0-9]:?[03]0| p. m.|)", 1..30)
        ) {
            for order in [DateOrder::DayFirst, DateOrder::MonthFirst, DateOrder::YearFirst] {
                let mut memo = DayMemo::default();
                for cell in &cells {
                    prop_assert_eq!(memo.parse(cell.as_bytes(), order), parse_stamp(cell.as_bytes(), order), "{}", cell);
                }
            }
        }

        #[test]
        fn never_panics_on_date_like_text(text in "[0-9:/. TZ+apm-]{0,30}") {
            let _ = parse_stamp(text.as_bytes(), DateOrder::DayFirst);
        }
    }
}

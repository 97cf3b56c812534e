//! The usual ways of writing a time, read by the million: the date met last is not read again, and a plain clock is
//! read by position.

use crate::api::DateOrder;
use crate::stamp::{Stamp, offset, parse_stamp};

/// The day of the date met last. Rows of one day follow each other by the hundred, so that only the time of day has
/// to be read.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct DayMemo {
    text: [u8; 10],
    length: usize,
    day: i64,
}

impl DayMemo {
    /// As [`parse_stamp`], quicker for the usual ways of writing when the date is the one met last.
    pub(crate) fn parse(&mut self, cell: &[u8], order: DateOrder) -> Option<Stamp> {
        let gap = cell
            .iter()
            .take(11)
            .position(|b| matches!(b, b'T') || b.is_ascii_whitespace());
        let Some(gap) = gap.filter(|&at| (6..=10).contains(&at) && matches!(cell[at], b' ' | b'T')) else {
            return parse_stamp(cell, order);
        };
        let day = self.day(&cell[..gap], order);
        match usual_clock(&cell[gap + 1..]).filter(|_| day.is_some()) {
            Some(stamp) => Some(Stamp { day, ..stamp }),
            None => parse_stamp(cell, order),
        }
    }

    /// A date alone, read again only where it differs from the last.
    pub(crate) fn day(&mut self, date: &[u8], order: DateOrder) -> Option<i64> {
        if self.length > 0 && self.text[..self.length] == *date {
            return Some(self.day);
        }
        let Stamp {
            day: Some(day),
            second: None,
            ..
        } = parse_stamp(date, order)?
        else {
            return None;
        };
        self.length = 0;
        if let Some(text) = self.text.get_mut(..date.len()) {
            text.copy_from_slice(date);
            (self.length, self.day) = (date.len(), day);
        }
        Some(day)
    }
}

/// A time of day alone.
pub(crate) fn parse_clock(cell: &[u8], order: DateOrder) -> Option<Stamp> {
    usual_clock(cell).or_else(|| parse_stamp(cell, order))
}

/// `12:04`, `12:04:00`, `1:04 PM`, with 'Z' or an offset after; anything rarer is left to [`clock`].
fn usual_clock(text: &[u8]) -> Option<Stamp> {
    let two = |at: usize| -> Option<i64> {
        let (tens, ones) = (
            text.get(at)?.wrapping_sub(b'0'),
            text.get(at + 1)?.wrapping_sub(b'0'),
        );
        (tens < 10 && ones < 10).then(|| i64::from(tens) * 10 + i64::from(ones))
    };
    let (hour, colon) = match text.get(1)? {
        b':' => (
            i64::from(text[0].checked_sub(b'0').filter(|&digit| digit < 10)?),
            1,
        ),
        _ => (two(0)?, 2),
    };
    let minute = two(colon + 1).filter(|_| text.get(colon) == Some(&b':'))?;
    let (second, rest) = match text.get(colon + 3) {
        Some(b':') => (two(colon + 4)?, text.get(colon + 6..)?),
        _ => (0, text.get(colon + 3..)?),
    };
    let (mut hour, mut stamp) = (hour, Stamp::default());
    match rest {
        [] => {}
        b"Z" => (stamp.offset_s, stamp.universal) = (Some(0), true),
        [b'+' | b'-', ..] => stamp.offset_s = Some(offset(rest)?),
        [b' ', half @ (b'A' | b'P' | b'a' | b'p'), b'M' | b'm'] if (1..=12).contains(&hour) => {
            hour = hour % 12 + if half.eq_ignore_ascii_case(&b'P') { 12 } else { 0 };
        }
        _ => return None,
    }
    stamp.second = Some(hour * 3600 + minute * 60 + second);
    (hour < 24 && minute < 60 && second < 60).then_some(stamp)
}

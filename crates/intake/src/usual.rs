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
        if let Some((&gap, clock)) = self.after_date(cell).and_then(|rest| rest.split_first())
            && is_gap(self.text[self.length - 1], gap)
            && let Some(stamp) = usual_clock(clock)
        {
            return Some(Stamp {
                day: Some(self.day),
                ..stamp
            });
        }
        self.parse_anew(cell, order)
    }

    /// What follows the date met last at the head of a cell.
    fn after_date<'c>(&self, cell: &'c [u8]) -> Option<&'c [u8]> {
        let (date, rest) = cell.split_at_checked(self.length)?;
        (self.length > 0 && date == &self.text[..self.length]).then_some(rest)
    }

    fn parse_anew(&mut self, cell: &[u8], order: DateOrder) -> Option<Stamp> {
        let gap = cell
            .iter()
            .take(11)
            .position(|b| matches!(b, b'T') || b.is_ascii_whitespace());
        let Some(gap) = gap.filter(|&at| (6..=10).contains(&at) && is_gap(cell[at - 1], cell[at])) else {
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

/// Whether a byte after a date's last parts it from the time of day. After a point only a space does.
fn is_gap(last: u8, byte: u8) -> bool {
    byte == b' ' || (byte == b'T' && last != b'.')
}

/// A time of day alone.
pub(crate) fn parse_clock(cell: &[u8], order: DateOrder) -> Option<Stamp> {
    usual_clock(cell).or_else(|| parse_stamp(cell, order))
}

/// `12:04`, `12:04:00`, `1:04 PM`, with 'Z' or an offset after; anything rarer is left to [`parse_stamp`].
fn usual_clock(text: &[u8]) -> Option<Stamp> {
    if let [h1, h2, b':', m1, m2, b':', s1, s2, rest @ ..] = text
        && let Some(stamp) = plain_clock([h1, h2, m1, m2, s1, s2].map(|b| b.wrapping_sub(b'0')), rest)
    {
        return Some(stamp);
    }
    rarer_clock(text)
}

/// The commonest of them, by position: `12:04:00`, alone, with 'Z' or with an offset like `+01:00`.
fn plain_clock(digits: [u8; 6], rest: &[u8]) -> Option<Stamp> {
    let number = |tens: u8, ones: u8| u32::from(tens) * 10 + u32::from(ones);
    let [h1, h2, m1, m2, s1, s2] = digits;
    let (hour, minute, second) = (number(h1, h2), number(m1, m2), number(s1, s2));
    if digits.iter().any(|&digit| digit > 9) || hour > 23 || minute > 59 || second > 59 {
        return None;
    }
    let (offset_s, universal) = match rest {
        [] => (None, false),
        b"Z" => (Some(0), true),
        b"+00:00" => (Some(0), false),
        [b'+' | b'-', ..] => (Some(offset(rest)?), false),
        _ => return None,
    };
    Some(Stamp {
        day: None,
        second: Some(i64::from(hour * 3600 + minute * 60 + second)),
        offset_s,
        universal,
    })
}

fn rarer_clock(text: &[u8]) -> Option<Stamp> {
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

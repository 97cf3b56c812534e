//! Instants and the wall clock they were lived at.

use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::tz::{AmbiguousOffset, Offset, TimeZone};

use crate::{LivedSpan, Second};

/// Why a clock could not be made.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LivedClockError {
    /// The name is not in the zone table.
    #[error("'{0}' is not a time zone; write one like Europe/Lisbon, Asia/Kolkata, UTC or +02:00")]
    UnknownZone(String),
}

/// A time zone by name: of the public zone table ('Europe/Lisbon'), 'UTC', or a fixed offset ('+02:00').
#[derive(Clone, Debug)]
pub struct Zone {
    name: String,
    zone: TimeZone,
}

impl PartialEq for Zone {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

impl Eq for Zone {}

impl Zone {
    /// Universal time.
    pub fn utc() -> Self {
        Zone {
            name: "UTC".to_owned(),
            zone: TimeZone::UTC,
        }
    }

    /// A fixed offset from universal time, in seconds east, within ±25 h.
    pub fn fixed(offset_s: i32) -> Option<Self> {
        let offset = Offset::from_seconds(offset_s).ok()?;
        let (sign, abs) = (if offset_s < 0 { '-' } else { '+' }, offset_s.unsigned_abs());
        let name = if abs % 60 == 0 {
            format!("{sign}{:02}:{:02}", abs / 3600, abs / 60 % 60)
        } else {
            format!("{sign}{:02}:{:02}:{:02}", abs / 3600, abs / 60 % 60, abs % 60)
        };
        Some(Zone {
            name,
            zone: TimeZone::fixed(offset),
        })
    }

    /// By name.
    ///
    /// # Errors
    /// `UnknownZone`.
    pub fn named(name: &str) -> Result<Self, LivedClockError> {
        let unknown = || LivedClockError::UnknownZone(name.to_owned());
        if name.eq_ignore_ascii_case("utc") || name == "Z" {
            return Ok(Zone::utc());
        }
        if let Some(offset_s) = parse_offset(name) {
            return Zone::fixed(offset_s).ok_or_else(unknown);
        }
        let zone = TimeZone::get(name).map_err(|_| unknown())?;
        let name = zone.iana_name().unwrap_or(name).to_owned();
        Ok(Zone { name, zone })
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Seconds east of universal time at an instant.
    pub fn offset_s(&self, at: Second) -> i32 {
        Timestamp::from_second(at).map_or(0, |ts| self.zone.to_offset(ts).seconds())
    }

    /// The instants at which a wall-clock time happened: none in the hour skipped in spring, two in the hour
    /// repeated in autumn (earlier first).
    pub fn instants(&self, wall: WallTime) -> WallInstants {
        let Some(civil) = wall.civil() else {
            return WallInstants::Never;
        };
        let second = |offset: Offset| offset.to_timestamp(civil).map(Timestamp::as_second).ok();
        match self.zone.to_ambiguous_timestamp(civil).offset() {
            AmbiguousOffset::Unambiguous { offset } => {
                second(offset).map_or(WallInstants::Never, WallInstants::Once)
            }
            AmbiguousOffset::Gap { .. } => WallInstants::Never,
            AmbiguousOffset::Fold { before, after } => match (second(before), second(after)) {
                (Some(first), Some(second)) => WallInstants::Twice(first, second),
                _ => WallInstants::Never,
            },
        }
    }

    /// Instants in `(from, to)` at which the offset changes, with the offset from then on.
    fn changes(&self, from: Second, to: Second) -> Vec<(Second, i32)> {
        let (Ok(start), Ok(end)) = (Timestamp::from_second(from), Timestamp::from_second(to)) else {
            return Vec::new();
        };
        self.zone
            .following(start)
            .take_while(|t| t.timestamp() < end)
            .map(|t| (t.timestamp().as_second(), t.offset().seconds()))
            .collect()
    }
}

/// '+02:00', '-0330', '+5' as seconds east.
fn parse_offset(text: &str) -> Option<i32> {
    let (sign, rest) = match text.as_bytes().first()? {
        b'+' => (1, &text[1..]),
        b'-' => (-1, &text[1..]),
        _ => return None,
    };
    let digits: String = rest.chars().filter(|&c| c != ':').collect();
    if digits.is_empty() || digits.len() > 6 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let padded = if digits.len() <= 2 {
        format!("{digits:0>2}0000")
    } else {
        format!("{digits:0<6}")
    };
    let part = |range: std::ops::Range<usize>| padded.get(range).and_then(|p| p.parse::<i32>().ok());
    let (hours, minutes, seconds) = (part(0..2)?, part(2..4)?, part(4..6)?);
    (minutes < 60 && seconds < 60).then_some(sign * (hours * 3600 + minutes * 60 + seconds))
}

/// A wall-clock time without a zone: seconds since 1970-01-01 00:00:00 on that clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct WallTime(pub i64);

impl WallTime {
    /// From calendar date and time of day; `None` where no such date exists.
    pub fn new(year: i16, month: i8, day: i8, second_of_day: i64) -> Option<Self> {
        let date = Date::new(year, month, day).ok()?;
        let days = date.since(Date::constant(1970, 1, 1)).ok()?.get_days();
        Some(WallTime(i64::from(days) * crate::DAY_S + second_of_day))
    }

    /// Days since 1970-01-01 on this clock.
    pub fn day(self) -> i64 {
        self.0.div_euclid(crate::DAY_S)
    }

    /// Seconds since midnight on this clock, 0 to 86,399.
    pub fn second_of_day(self) -> i64 {
        self.0.rem_euclid(crate::DAY_S)
    }

    /// As a calendar date and time.
    pub fn civil(self) -> Option<DateTime> {
        let ts = Timestamp::from_second(self.0).ok()?;
        Some(Offset::UTC.to_datetime(ts))
    }
}

/// The instants a wall-clock time stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WallInstants {
    /// It was skipped, or is out of the calendar.
    Never,
    /// Once.
    Once(Second),
    /// Twice: earlier, later.
    Twice(Second, Second),
}

/// An instant with the offset it was lived at. Displays as RFC 3339 ('2025-03-17T12:04:00+01:00').
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Moment {
    /// Seconds since 1970.
    pub at: Second,
    /// Seconds east of universal time.
    pub offset_s: i32,
}

impl Moment {
    /// The wall clock at that moment.
    pub fn wall(self) -> WallTime {
        WallTime(self.at + i64::from(self.offset_s))
    }
}

impl std::fmt::Display for Moment {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        // Written by position: an account of decades holds a hundred thousand of them.
        let Some(civil) = self.wall().civil().filter(|civil| civil.year() >= 0) else {
            return write!(f, "@{}", self.at);
        };
        let offset = self.offset_s.unsigned_abs();
        let mut text = *b"0000-00-00T00:00:00+00:00";
        if self.offset_s < 0 {
            text[19] = b'-';
        }
        put_digits(&mut text[0..4], civil.year().unsigned_abs().into());
        let pairs = [
            civil.month(),
            civil.day(),
            civil.hour(),
            civil.minute(),
            civil.second(),
        ];
        for (place, number) in [5, 8, 11, 14, 17].into_iter().zip(pairs) {
            put_digits(&mut text[place..place + 2], number.unsigned_abs().into());
        }
        put_digits(&mut text[20..22], offset / 3600);
        put_digits(&mut text[23..25], offset / 60 % 60);
        f.write_str(std::str::from_utf8(&text).map_err(|_| std::fmt::Error)?)
    }
}

/// Which of the two times that the wall clock read the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pass {
    /// The earlier.
    First,
    /// The later.
    Second,
}

/// The last decimal digits of a number, as many as there is room for.
fn put_digits(room: &mut [u8], number: u32) {
    let mut left = number;
    for place in room.iter_mut().rev() {
        *place = b'0' + (left % 10) as u8;
        left /= 10;
    }
}

/// The wall clock a person lived by: an offset from universal time for every instant.
///
/// Built from a base zone and stretches lived elsewhere; later stretches win where they overlap. Reading it costs
/// a binary search, or nothing when walked in time order with [`LivedClock::pieces`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LivedClock {
    /// (first instant, offset), ascending; the first starts at the beginning of time.
    pieces: Vec<(Second, i32)>,
}

impl LivedClock {
    /// One fixed offset for ever.
    pub fn fixed(offset_s: i32) -> Self {
        LivedClock {
            pieces: vec![(Second::MIN, offset_s)],
        }
    }

    /// The clock of `base`, except in `spans`, exact for instants in `[from, to]`.
    pub fn new(base: &Zone, spans: &[LivedSpan], from: Second, to: Second) -> Self {
        let mut cuts: Vec<Second> = vec![from];
        for span in spans {
            cuts.extend([span.from, span.to]);
        }
        cuts.retain(|&cut| cut >= from && cut <= to);
        cuts.sort_unstable();
        cuts.dedup();
        let mut pieces = Vec::new();
        for (i, &start) in cuts.iter().enumerate() {
            let end = cuts.get(i + 1).copied().unwrap_or(to.saturating_add(1));
            let zone = spans
                .iter()
                .rev()
                .find(|s| s.from <= start && start < s.to)
                .map_or(base, |s| &s.zone);
            pieces.push((start, zone.offset_s(start)));
            pieces.extend(zone.changes(start, end));
        }
        pieces.dedup_by_key(|piece| piece.1);
        if let Some(first) = pieces.first_mut() {
            first.0 = Second::MIN;
        } else {
            pieces.push((Second::MIN, base.offset_s(from)));
        }
        LivedClock { pieces }
    }

    /// Seconds east of universal time at an instant.
    pub fn offset_s(&self, at: Second) -> i32 {
        let next = self.pieces.partition_point(|&(start, _)| start <= at);
        self.pieces[next.max(1) - 1].1
    }

    /// Stretches in which another clock reads differently, ascending: the first instant of each, and the first after it.
    pub fn apart_from(&self, other: &LivedClock) -> Vec<(Second, Second)> {
        let starts = self.pieces.iter().chain(&other.pieces).map(|&(start, _)| start);
        let mut cuts: Vec<Second> = starts.chain([Second::MAX]).collect();
        cuts.sort_unstable();
        cuts.dedup();
        let stretches = cuts.windows(2).map(|pair| (pair[0], pair[1]));
        stretches
            .filter(|&(start, _)| self.offset_s(start) != other.offset_s(start))
            .collect()
    }

    /// The wall clock at an instant.
    pub fn wall(&self, at: Second) -> WallTime {
        WallTime(at + i64::from(self.offset_s(at)))
    }

    /// An instant with its offset.
    pub fn moment(&self, at: Second) -> Moment {
        Moment {
            at,
            offset_s: self.offset_s(at),
        }
    }

    /// The first instant whose wall clock reads `wall` or later. In a skipped hour that is the jump itself; of a
    /// repeated hour it is the first pass.
    pub fn first_at_or_after(&self, wall: WallTime) -> Second {
        for (i, &(start, offset)) in self.pieces.iter().enumerate() {
            let end = self.pieces.get(i + 1).map_or(Second::MAX, |piece| piece.0);
            let candidate = (wall.0 - i64::from(offset)).max(start);
            if candidate < end {
                return candidate;
            }
        }
        wall.0
    }

    /// Where the wall clock reads the same twice (the hour that autumn repeats, a voyage west), which time this is;
    /// `None` elsewhere.
    pub fn pass(&self, at: Second) -> Option<Pass> {
        let next = self.pieces.partition_point(|&(start, _)| start <= at).max(1);
        let put_back = |set: usize| {
            let by = self.pieces[set - 1].1 - self.pieces.get(set)?.1;
            (by > 0).then_some(Second::from(by))
        };
        let since = at.saturating_sub(self.pieces[next - 1].0);
        if next > 1 && put_back(next - 1).is_some_and(|by| since < by) {
            return Some(Pass::Second);
        }
        let until = self.pieces.get(next)?.0 - at;
        put_back(next).filter(|&by| until <= by).map(|_| Pass::First)
    }

    /// Pieces of constant offset: (first instant, offset in seconds east), ascending.
    pub fn pieces(&self) -> &[(Second, i32)] {
        &self.pieces
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wall(text: &str) -> WallTime {
        let civil: DateTime = text.parse().unwrap();
        WallTime::new(
            civil.year(),
            civil.month(),
            civil.day(),
            i64::from(civil.hour()) * 3600 + i64::from(civil.minute()) * 60,
        )
        .unwrap()
    }

    /// Clock changes of the European Union by directive 2000/84/EC: last Sundays of March and October at 01:00 UTC.
    #[test]
    fn lisbon_skips_and_repeats_an_hour() {
        let lisbon = Zone::named("Europe/Lisbon").unwrap();
        assert_eq!(lisbon.instants(wall("2025-03-30T01:30")), WallInstants::Never);
        let WallInstants::Twice(first, second) = lisbon.instants(wall("2025-10-26T01:30")) else {
            panic!("not repeated")
        };
        assert_eq!(second - first, 3600);
    }

    #[test]
    fn clock_follows_zone_and_voyage() {
        let home = Zone::named("Europe/Lisbon").unwrap();
        let from = home_second(&home, "2025-03-01T00:00");
        let to = home_second(&home, "2025-12-01T00:00");
        let away = LivedSpan {
            from: home_second(&home, "2025-06-01T00:00"),
            to: home_second(&home, "2025-06-08T00:00"),
            zone: Zone::named("+05:30").unwrap(),
        };
        let clock = LivedClock::new(&home, std::slice::from_ref(&away), from, to);
        assert_eq!(clock.offset_s(from), 0);
        assert_eq!(clock.offset_s(away.from), 19_800);
        assert_eq!(clock.offset_s(away.to), 3600);
        assert_eq!(clock.offset_s(to), 0);
        let midnight = wall("2025-03-30T00:00");
        let next = wall("2025-03-31T00:00");
        assert_eq!(
            clock.first_at_or_after(next) - clock.first_at_or_after(midnight),
            23 * 3600
        );
    }

    /// Lisbon is an hour ahead of universal time from the last Sunday of March to that of October (directive
    /// 2000/84/EC).
    #[test]
    fn clocks_are_apart_where_their_offsets_differ() {
        let lisbon = Zone::named("Europe/Lisbon").unwrap();
        let (from, to) = (wall("2025-01-01T00:00").0, wall("2026-01-01T00:00").0);
        let clock = LivedClock::new(&lisbon, &[], from, to);
        let summer = (wall("2025-03-30T01:00").0, wall("2025-10-26T01:00").0);
        assert_eq!(clock.apart_from(&LivedClock::fixed(0)), [summer]);
        assert_eq!(clock.apart_from(&clock), []);
    }

    /// Autumn of 2025 in Lisbon: 01:00 to 02:00 came twice, until and from 01:00 UTC.
    #[test]
    fn a_time_that_came_twice_says_which() {
        let lisbon = Zone::named("Europe/Lisbon").unwrap();
        let set = home_second(&lisbon, "2025-10-26T02:00");
        assert_eq!(lisbon.offset_s(set), 0);
        let set = set - 3600;
        let clock = LivedClock::new(&lisbon, &[], set - 40 * crate::DAY_S, set + 40 * crate::DAY_S);
        let passes = [-3601, -3600, -1, 0, 3599, 3600].map(|seconds| clock.pass(set + seconds));
        let (first, second) = (Some(Pass::First), Some(Pass::Second));
        assert_eq!(passes, [None, first, first, second, second, None]);
        assert_eq!(LivedClock::fixed(0).pass(set), None);
        // Spring skips an hour and repeats none.
        let spring = home_second(&lisbon, "2025-03-30T02:00");
        let clock = LivedClock::new(&lisbon, &[], spring - 86_400, spring + 86_400);
        assert!(
            (-7200..7200)
                .step_by(600)
                .all(|seconds| clock.pass(spring + seconds).is_none())
        );
    }

    fn home_second(zone: &Zone, text: &str) -> Second {
        match zone.instants(wall(text)) {
            WallInstants::Once(at) | WallInstants::Twice(at, _) => at,
            WallInstants::Never => panic!("no such time"),
        }
    }

    #[test]
    fn offsets_and_names_are_read() {
        assert_eq!(Zone::named("+02:00").unwrap().offset_s(0), 7200);
        assert_eq!(Zone::named("-0330").unwrap().offset_s(0), -12_600);
        assert_eq!(Zone::named("+5").unwrap().name(), "+05:00");
        assert!(Zone::named("Atlantis/Central").is_err());
        assert!(Zone::named("+99:00").is_err());
    }

    #[test]
    fn moments_print_with_their_offset() {
        assert_eq!(
            Moment {
                at: 1_742_209_440,
                offset_s: 3600
            }
            .to_string(),
            "2025-03-17T12:04:00+01:00"
        );
    }
}

//! Days by quarters of an hour of the clock: what was read there, and whether it was low, high, rising or falling.

use interstice_glucose::{DAY_S, Second};

use super::LATEST_DAYS;
use super::clock::PatternEvent;
use crate::ranges::Range;
use crate::recording::Recording;

/// Quarters of an hour of a clock day.
pub(super) const SLOTS: usize = 96;
const SLOT_S: i64 = 900;
/// Glucose that changes by so much within an hour counts as rising or falling fast, mg/dL (ours, no source).
const FAST_MG_DL: f64 = 54.0;
const HOUR_SLOTS: usize = 4;

/// One day of the clock.
#[derive(Clone, Debug)]
pub(super) struct Day {
    /// Days since 1970-01-01 on the wall clock.
    pub(super) number: i64,
    /// Bits of [`PatternEvent::bit`] and [`READ`]; past midnight those of the day that follows.
    pub(super) slots: [u8; SLOTS + OVER],
}

/// Quarters of an hour of the next day that a window may reach into.
pub(super) const OVER: usize = 8;

/// Set where a slot was read.
pub(super) const READ: u8 = 1 << 7;

/// Sum and number of the readings of each quarter of an hour, and what they were.
type Sums = [(f64, u32, u8); SLOTS];

/// A window's days.
#[derive(Clone, Debug, Default)]
pub struct Grid {
    pub(super) days: Vec<Day>,
}

impl Grid {
    /// Of the latest [`LATEST_DAYS`] of a recording; what `aside` covers is not read.
    pub fn of(recording: &Recording<'_>, aside: &[(Second, Second)]) -> Self {
        let mut aside = aside.to_vec();
        aside.sort_unstable();
        let (mut next, mut covered_until) = (0, Second::MIN);
        let mut sums: Vec<(i64, Sums)> = Vec::new();
        let last = recording.at.last().map_or(0, |&at| Second::from(at));
        let latest = last - LATEST_DAYS * DAY_S;
        let first = recording.at.partition_point(|&at| Second::from(at) < latest);
        for i in first..recording.len() {
            let at = Second::from(recording.at[i]);
            while let Some(&(_, to)) = aside.get(next).filter(|span| span.0 <= at) {
                (covered_until, next) = (covered_until.max(to), next + 1);
            }
            if at < covered_until {
                continue;
            }
            let wall = recording.clock.wall(at);
            if sums.last().is_none_or(|day| day.0 < wall.day()) {
                sums.push((wall.day(), [(0.0, 0, 0); SLOTS]));
            }
            let Some(day) = sums.last_mut().filter(|day| day.0 == wall.day()) else {
                // The clock was put back over midnight: that hour is told by the day it came to.
                continue;
            };
            let slot = usize::try_from(wall.second_of_day() / SLOT_S)
                .unwrap_or(0)
                .min(SLOTS - 1);
            let range = recording.table.band[recording.level[i] as usize].range_for(recording.group);
            let (sum, count, bits) = &mut day.1[slot];
            (*sum, *count) = (*sum + recording.mg_per_dl(i), *count + 1);
            *bits |= match range {
                Range::VeryLow | Range::Low => PatternEvent::Low.bit(),
                Range::High | Range::VeryHigh => PatternEvent::High.bit(),
                Range::InRange => 0,
            };
        }
        let means = |day: &Sums| -> [Option<f64>; SLOTS] {
            std::array::from_fn(|slot| (day[slot].1 > 0).then(|| day[slot].0 / f64::from(day[slot].1)))
        };
        let days = sums.iter().enumerate().map(|(place, (number, day))| {
            let (these, next) = (
                means(day),
                sums.get(place + 1).filter(|next| next.0 == number + 1),
            );
            let next = next.map(|next| means(&next.1));
            let later = |slot: usize| match slot + HOUR_SLOTS {
                same if same < SLOTS => these[same],
                over => next.as_ref().and_then(|next| next[over - SLOTS]),
            };
            let mut slots = [0; SLOTS + OVER];
            for slot in 0..SLOTS {
                let Some(now) = these[slot] else { continue };
                slots[slot] = day[slot].2 | READ;
                let change = later(slot).map_or(0.0, |later| later - now);
                if change >= FAST_MG_DL {
                    slots[slot] |= PatternEvent::Rise.bit();
                } else if change <= -FAST_MG_DL {
                    slots[slot] |= PatternEvent::Fall.bit();
                }
            }
            Day {
                number: *number,
                slots,
            }
        });
        let mut days: Vec<Day> = days.collect();
        for place in 1..days.len() {
            let (before, rest) = days.split_at_mut(place);
            if let (Some(day), Some(next)) = (before.last_mut(), rest.first())
                && next.number == day.number + 1
            {
                day.slots[SLOTS..].copy_from_slice(&next.slots[..OVER]);
            }
        }
        Grid { days }
    }

    /// Bits of a quarter of an hour, counted from midnight of a day; it may lie in days after it.
    pub(super) fn slot(&self, day: i64, slot: usize) -> u8 {
        let number = day + (slot / SLOTS) as i64;
        let place = self.days.binary_search_by_key(&number, |day| day.number);
        place.map_or(0, |place| self.days[place].slots[slot % SLOTS])
    }

    /// Days with any reading.
    pub fn days(&self) -> usize {
        self.days.len()
    }
}

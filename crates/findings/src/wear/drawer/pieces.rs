//! The sensors that are left, one by one.

use interstice_book::SensorKinds;
use interstice_glucose::{Arrival, DAY_S, Holds, LivedClock, Second, WallTime, same_words};
use jiff::civil::Date;

use super::used::{Used, day};
use crate::wear::InStock;

/// A sensor that is there or is to come, and may be put on some day.
pub(super) struct Piece {
    /// The place of its lot.
    pub(super) lot: usize,
    /// From when it is there.
    pub(super) from: Second,
    /// Last second to put it on.
    pub(super) until: Option<Second>,
}

/// When a day begins where the wearer is.
pub(super) fn begins(clock: &LivedClock, date: Date) -> Second {
    let wall = WallTime::new(date.year(), date.month(), date.day(), 0);
    wall.map_or(0, |wall| clock.first_at_or_after(wall))
}

/// The last second of a day.
fn ends(clock: &LivedClock, date: Date) -> Second {
    date.tomorrow()
        .map_or(Second::MAX / 4, |next| begins(clock, next) - 1)
}

/// Every sensor that is left and not expired. One that is to come counts from the end of its day; one that should have come
/// does not count.
pub(super) fn pieces(used: &Used<'_>, clock: &LivedClock, now: Second) -> Vec<Piece> {
    let today = day(clock, now);
    let mut pieces = Vec::new();
    for (place, drawn) in used.lots.iter().enumerate() {
        let lot = drawn.lot();
        let from = match lot.arrival {
            Arrival::Arrived(date) => begins(clock, date),
            Arrival::Expected(date) if date >= today => ends(clock, date) + 1,
            Arrival::Expected(_) => continue,
        };
        let expired = lot.use_by.is_some_and(|last| last < today);
        if lot.holds != Holds::Sensors || expired {
            continue;
        }
        let until = lot.use_by.map(|date| ends(clock, date));
        let left = usize::try_from(drawn.left()).unwrap_or(0);
        pieces.extend((0..left).map(|_| Piece {
            lot: place,
            from,
            until,
        }));
    }
    pieces
}

/// As the plan takes them; those of a kind that was never described are left out.
pub(super) fn in_stock(pieces: &[Piece], used: &Used<'_>, kinds: &SensorKinds) -> Vec<InStock> {
    let kind_of = |name: Option<&String>| match name {
        None => kinds.in_use,
        Some(name) => kinds.all.iter().position(|kind| same_words(&kind.name, name)),
    };
    pieces
        .iter()
        .filter_map(|piece| {
            let lot = used.lots[piece.lot].lot();
            Some(InStock {
                kind: kind_of(lot.name.as_ref())?,
                from: piece.from,
                until: piece.until,
                lot: lot.number.clone(),
            })
        })
        .collect()
}

/// Days as seconds.
pub(super) fn days(count: u32) -> Second {
    Second::from(count) * DAY_S
}

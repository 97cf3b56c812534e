//! Which pieces of the drawer were put on.

use std::cmp::Reverse;

use interstice_book::{KeptLot, Stock};
use interstice_glucose::{Arrival, Holds, LivedClock, Lot, Second, same_words};
use jiff::civil::Date;

use crate::wear::Worn;

/// A lot and what of it was put on.
pub(super) struct Drawn<'a> {
    pub(super) kept: &'a KeptLot,
    /// Put on.
    pub(super) put_on: u64,
    /// Of these, put on without a word on the lot.
    pub(super) assumed: u64,
}

impl Drawn<'_> {
    pub(super) fn lot(&self) -> &Lot {
        &self.kept.lot
    }

    /// Pieces left; fewer than none where more were put on than came.
    pub(super) fn left(&self) -> i64 {
        self.lot().pieces() - i64::try_from(self.put_on).unwrap_or(i64::MAX)
    }
}

/// What was taken from the drawer.
pub(super) struct Used<'a> {
    /// Every lot, by number.
    pub(super) lots: Vec<Drawn<'a>>,
    /// Of each sensor worn, in their order, the place of its lot among them.
    pub(super) of: Vec<Option<usize>>,
}

/// The day of an instant by the lived clock.
pub(super) fn day(clock: &LivedClock, at: Second) -> Date {
    let civil = clock.wall(at).civil();
    civil.map_or(Date::constant(1970, 1, 1), |civil| civil.date())
}

/// What was put on since each lot came.
///
/// A sensor whose lot number was written down is of that lot, if it was put on from the day it came. One whose lot was not written
/// down is supposed to be the first to expire of those that were there. Covers and preparations are told by their words, one piece each time.
pub(super) fn used<'a>(
    worn: &[Worn],
    stock: &'a Stock,
    in_use: Option<&str>,
    clock: &LivedClock,
) -> Used<'a> {
    let mut used = Used {
        lots: stock
            .lots
            .iter()
            .map(|kept| Drawn {
                kept,
                put_on: 0,
                assumed: 0,
            })
            .collect(),
        of: vec![None; worn.len()],
    };
    // What was written down first, so that what is only supposed does not take its place.
    for (index, one) in worn.iter().enumerate() {
        let on = day(clock, one.it.from());
        if let Some(number) = &one.it.detail.lot {
            used.of[index] = used.take(on, false, |lot| {
                lot.holds == Holds::Sensors
                    && lot.number.as_ref().is_some_and(|known| same_words(known, number))
            });
        }
        for (holds, tags) in [
            (Holds::Covers, &one.it.detail.cover),
            (Holds::Preparations, &one.it.detail.preparation),
        ] {
            for tag in tags {
                used.take(on, false, |lot| {
                    lot.holds == holds && lot.name.as_ref().is_some_and(|name| same_words(name, tag))
                });
            }
        }
    }
    for (index, one) in worn.iter().enumerate() {
        let on = day(clock, one.it.from());
        let told = one.it.detail.lot.is_some();
        if used.of[index].is_none() {
            let fits = |lot: &Lot| {
                lot.holds == Holds::Sensors && !(told && lot.number.is_some()) && is_kind(lot, in_use)
            };
            used.of[index] = used.take(on, true, fits);
        }
    }
    used
}

/// Whether a lot may be of this kind: it says so, or it says nothing.
pub(super) fn is_kind(lot: &Lot, kind: Option<&str>) -> bool {
    match (&lot.name, kind) {
        (Some(name), Some(kind)) => same_words(name, kind),
        _ => true,
    }
}

impl Used<'_> {
    /// Takes a piece of the lot that expires first of those that had come, have any left and suit; of one that is certain, more than
    /// there are if need be.
    fn take(&mut self, on: Date, assumed: bool, suits: impl Fn(&Lot) -> bool) -> Option<usize> {
        let place = (0..self.lots.len())
            .filter(|&place| {
                let drawn = &self.lots[place];
                let had_come = match drawn.lot().arrival {
                    Arrival::Arrived(day) => day <= on,
                    // Its use is proof enough that it came.
                    Arrival::Expected(_) => !assumed,
                };
                let good = drawn.lot().use_by.is_none_or(|last| last >= on);
                had_come && suits(drawn.lot()) && (!assumed || (good && drawn.left() > 0))
            })
            .min_by_key(|&place| {
                let drawn = &self.lots[place];
                let use_by = drawn.lot().use_by.unwrap_or(Date::MAX);
                (Reverse(drawn.left() > 0), use_by, drawn.kept.id)
            })?;
        let drawn = &mut self.lots[place];
        drawn.put_on += 1;
        drawn.assumed += u64::from(assumed);
        Some(place)
    }
}

//! Wall-clock time to instants, fast: a day without a clock change has one offset.

use interstice_glucose::{Second, WallInstants, WallTime, Zone};

/// First and last day for which offsets are remembered: 1980-01-01 and 2070-01-01.
const FIRST_DAY: i64 = 3_652;
const LAST_DAY: i64 = 36_525;

/// Not looked up yet.
const UNKNOWN: i32 = i32::MIN;
/// The clock changes on this day: ask for every time of it.
const CHANGES: i32 = i32::MAX;

/// A zone with the offsets of days already met.
#[derive(Clone, Debug)]
pub(crate) struct ZoneCache {
    zone: Zone,
    offsets: Vec<i32>,
}

impl ZoneCache {
    pub(crate) fn new(zone: Zone) -> Self {
        ZoneCache {
            zone,
            offsets: Vec::new(),
        }
    }

    pub(crate) fn zone(&self) -> &Zone {
        &self.zone
    }

    /// The instants of a wall time, in seconds on the wall clock since 1970.
    pub(crate) fn instants(&mut self, wall: i64) -> WallInstants {
        let day = wall.div_euclid(86_400);
        let Some(index) = usize::try_from(day - FIRST_DAY).ok().filter(|_| day <= LAST_DAY) else {
            return self.zone.instants(WallTime(wall));
        };
        if self.offsets.is_empty() {
            self.offsets = vec![UNKNOWN; usize::try_from(LAST_DAY - FIRST_DAY + 1).unwrap_or(0)];
        }
        if self.offsets[index] == UNKNOWN {
            self.offsets[index] = self.look_up(day);
        }
        match self.offsets[index] {
            CHANGES => self.zone.instants(WallTime(wall)),
            offset => WallInstants::Once(wall - Second::from(offset)),
        }
    }

    fn look_up(&self, day: i64) -> i32 {
        let at = |second: i64| match self.zone.instants(WallTime(day * 86_400 + second)) {
            WallInstants::Once(at) => i32::try_from(day * 86_400 + second - at).ok(),
            _ => None,
        };
        // Both ends of the day and its hours: no zone has changed its clock twice within an hour.
        let first = at(0);
        let steady = (0..=24).all(|hour| at((hour * 3600).min(86_399)) == first);
        first.filter(|_| steady).unwrap_or(CHANGES)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn agrees_with_the_zone_itself(wall in 0i64..2_500_000_000, name in 0usize..4) {
            let zone = Zone::named(["Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata"][name]).unwrap();
            let mut cache = ZoneCache::new(zone.clone());
            prop_assert_eq!(cache.instants(wall), zone.instants(WallTime(wall)));
        }
    }
}

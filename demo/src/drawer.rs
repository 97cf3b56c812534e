//! The drawer of the invented engineer: part of the story, not of chance.

use interstice_glucose::{Arrival, Correction, Currency, Holds, Lot, Money, Price};
use jiff::civil::{Date, date};
use serde::Serialize;

use crate::wear::{BIASED_LOT, Wear};

/// Days from an order to its arrival on board.
pub const DELIVERY_DAYS: u32 = 10;

/// A lot as it is planted, and what is left of it.
#[derive(Clone, Debug, Serialize)]
pub struct LotTruth {
    /// Invented lot number.
    pub lot: &'static str,
    /// Sensors that came, or are to come.
    pub came: u32,
    /// What all of them cost, cents of EUR; 0 where they were free.
    pub price_minor: u64,
    /// Where they came from.
    pub source: &'static str,
    /// The day they came.
    #[serde(serialize_with = "as_text")]
    pub day: Date,
    /// Whether they are still to come at the end.
    pub to_come: bool,
    /// Last day to put one on.
    #[serde(serialize_with = "as_text")]
    pub use_by: Date,
    /// Dropped and never worn.
    pub dropped: u32,
    /// Worn.
    pub worn: u32,
}

fn as_text<S: serde::Serializer>(date: &Date, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(date)
}

/// The day one was dropped.
const DROPPED_ON: Date = date(2025, 12, 14);

impl LotTruth {
    const fn new(
        lot: &'static str,
        came: u32,
        price_minor: u64,
        source: &'static str,
        day: Date,
        use_by: Date,
    ) -> Self {
        LotTruth {
            lot,
            came,
            price_minor,
            source,
            day,
            to_come: false,
            use_by,
            dropped: 0,
            worn: 0,
        }
    }

    /// As the engineer writes it down.
    pub fn written(&self) -> Lot {
        let currency = Currency::named("EUR").expect("a name of three letters");
        let dropped = Correction {
            by: -i32::try_from(self.dropped).unwrap_or(0),
            on: DROPPED_ON,
            reason: "dropped".to_owned(),
        };
        Lot {
            holds: Holds::Sensors,
            name: None,
            number: Some(self.lot.to_owned()),
            count: self.came,
            price: Some(if self.price_minor == 0 {
                Price::Free
            } else {
                Price::All(Money {
                    minor: self.price_minor,
                    currency,
                })
            }),
            source: Some(self.source.to_owned()),
            arrival: if self.to_come {
                Arrival::Expected(self.day)
            } else {
                Arrival::Arrived(self.day)
            },
            use_by: Some(self.use_by),
            note: Some("invented".to_owned()),
            corrections: if self.dropped > 0 {
                vec![dropped]
            } else {
                Vec::new()
            },
        }
    }
}

/// The lots, and how many of each were worn.
pub(crate) fn drawer(lives: &[Wear]) -> Vec<LotTruth> {
    let (before, autumn, winter) = (date(2025, 9, 15), date(2025, 11, 10), date(2026, 1, 2));
    let mut lots = vec![
        LotTruth::new("KR-198", 1, 0, "free starter", before, date(2025, 12, 31)),
        LotTruth::new("KR-204", 5, 29_950, "bought", before, date(2026, 3, 31)),
        LotTruth {
            dropped: 1,
            ..LotTruth::new(BIASED_LOT, 5, 29_950, "bought", autumn, date(2026, 5, 31))
        },
        LotTruth::new("KR-233", 5, 5000, "subsidised", winter, date(2026, 7, 31)),
        LotTruth::new(
            "KR-250",
            5,
            29_950,
            "bought",
            date(2026, 2, 26),
            date(2026, 4, 30),
        ),
        LotTruth::new(
            "KR-261",
            1,
            0,
            "replacement",
            date(2026, 3, 20),
            date(2026, 9, 30),
        ),
        LotTruth {
            to_come: true,
            ..LotTruth::new(
                "KR-268",
                5,
                29_950,
                "bought",
                date(2026, 4, 27),
                date(2026, 12, 31),
            )
        },
    ];
    for lot in &mut lots {
        let worn = lives.iter().filter(|wear| wear.lot == lot.lot).count();
        lot.worn = u32::try_from(worn).unwrap_or(u32::MAX);
    }
    lots
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calendar::Calendar;
    use crate::days::Plan;
    use crate::wear::lives;

    #[test]
    fn every_sensor_comes_out_of_the_drawer_after_its_lot_came_and_before_it_expires() {
        let calendar = Calendar::new();
        for seed in [1, 3, 20_250_927] {
            let lives = lives(&calendar, &Plan::new(&calendar, seed), seed);
            let drawer = drawer(&lives);
            assert_eq!(
                drawer.iter().map(|lot| lot.worn as usize).sum::<usize>(),
                lives.len()
            );
            for wear in &lives {
                let lot = drawer.iter().find(|lot| lot.lot == wear.lot).unwrap();
                let on = calendar.lived.wall(wear.put_on).civil().unwrap().date();
                assert!(
                    lot.day < on && on <= lot.use_by && !lot.to_come,
                    "{}: {on}",
                    wear.lot
                );
            }
            for lot in &drawer {
                assert!(lot.worn + lot.dropped <= lot.came, "{lot:?}");
                assert_eq!(lot.written().trouble(), None);
            }
        }
    }
}

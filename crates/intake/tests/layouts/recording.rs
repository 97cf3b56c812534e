//! An invented recording: what a file should come back as.

use interstice_glucose::{Censor, InsulinKind, Said, Second, Unit, WallInstants, Zone};

use crate::common::dice::Dice;

/// What happened at an instant.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum What {
    Automatic(Said),
    Scan(Said),
    Blood(Said),
    /// Tenths of a unit.
    Dose(InsulinKind, i64),
    /// Grams.
    Carbohydrate(i64),
    Note(&'static str),
}

#[derive(Clone, Debug)]
pub(crate) struct Recording {
    pub(crate) zone: Zone,
    pub(crate) unit: Unit,
    pub(crate) interval_min: i64,
    /// Digits after the decimal mark of glucose.
    pub(crate) decimals: u8,
    /// In time order; at one instant at most one of each sort.
    pub(crate) entries: Vec<(Second, What)>,
}

const ZONES: [&str; 6] = [
    "Europe/Lisbon",
    "Europe/Berlin",
    "America/New_York",
    "Asia/Kolkata",
    "Australia/Sydney",
    "UTC",
];

/// What to invent.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wish {
    pub(crate) mixed: bool,
    pub(crate) whole_minutes: bool,
}

impl Recording {
    pub(crate) fn invent(dice: &mut Dice, wish: Wish, remarks: &'static [&'static str]) -> Recording {
        let zone = Zone::named(dice.pick(&ZONES)).unwrap();
        let unit = dice.pick(&[Unit::MgPerDl, Unit::MmolPerL]);
        let interval_min = dice.pick(&[1, 5, 5, 15]);
        let finer = u8::from(dice.once_in(8));
        let decimals = finer + u8::from(unit == Unit::MmolPerL);
        let days = match interval_min {
            1 => 1,
            5 => dice.pick(&[1, 1, 3, 6]),
            _ => dice.pick(&[1, 2, 10, 20]),
        };
        let mut start = start(dice, &zone, days, wish.whole_minutes);
        let mut length = days * 86_400;
        if dice.once_in(6) {
            // Some hours of one day, in which no date differs from another.
            start -=
                (start + i64::from(zone.offset_s(start))).rem_euclid(86_400) - dice.between(6, 11) * 3600;
            length = dice.between(4, 12) * 3600;
        }
        let mut recording = Recording {
            zone,
            unit,
            interval_min,
            decimals,
            entries: Vec::new(),
        };
        recording.readings(dice, start, length);
        if wish.mixed {
            recording.events(dice, (start, length), wish.whole_minutes, remarks);
        }
        recording.entries.sort_by_key(|(at, what)| (*at, rank(what)));
        recording.entries.dedup_by_key(|(at, what)| (*at, rank(what)));
        recording.keep_notes_apart();
        recording
    }

    /// A note in the row of something else would belong to it.
    fn keep_notes_apart(&mut self) {
        let instants: Vec<Second> = self.entries.iter().map(|e| e.0).collect();
        let mut index = 0;
        self.entries.retain(|(at, what)| {
            let (before, after) = (
                index > 0 && instants[index - 1] == *at,
                instants.get(index + 1) == Some(at),
            );
            index += 1;
            !matches!(what, What::Note(_)) || !(before || after)
        });
    }

    /// A walk that a person's glucose could take, with gaps.
    fn readings(&mut self, dice: &mut Dice, start: Second, length: i64) {
        let step = self.interval_min * 60;
        let (mut tenths_mg, mut drift) = (1000 + dice.between(0, 800), 0);
        let mut at = start;
        while at < start + length {
            drift = (drift * 9 + dice.between(-60, 60) * self.interval_min) / 10;
            // Turned back before the ends of a sensor's range, where values would pile up.
            if !(650..=2800).contains(&(tenths_mg + drift)) {
                drift = -drift;
            }
            tenths_mg = (tenths_mg + drift).clamp(620 + dice.between(0, 60), 2750 + dice.between(0, 90));
            let said = self.said(tenths_mg);
            self.entries.push((at, What::Automatic(said)));
            // A sensor out of reach now and then.
            at += if dice.once_in(120) {
                step * dice.between(2, 30)
            } else {
                step
            };
        }
    }

    /// Tenths of mg/dL as a device would show them.
    fn said(&self, tenths_mg: i64) -> Said {
        let mantissa = match (self.unit, self.decimals) {
            (Unit::MgPerDl, 0) => tenths_mg / 10,
            (Unit::MgPerDl, _) => tenths_mg,
            (Unit::MmolPerL, 1) => tenths_mg / 18,
            (Unit::MmolPerL, _) => tenths_mg * 10 / 18,
        };
        Said::new(mantissa, self.decimals, self.unit, Censor::None).unwrap()
    }

    fn events(
        &mut self,
        dice: &mut Dice,
        span: (Second, i64),
        whole: bool,
        remarks: &'static [&'static str],
    ) {
        let (start, length) = span;
        let days = (length / 86_400).max(1);
        for _ in 0..days * 4 + 6 {
            let mut at = start + dice.between(0, length - 1);
            if whole {
                at -= at.rem_euclid(60);
            }
            let value = self.said(dice.between(600, 2500));
            match dice.between(0, 5) {
                0 => self.entries.push((at, What::Scan(value))),
                1 => self.entries.push((at, What::Blood(value))),
                2 => self
                    .entries
                    .push((at, What::Dose(InsulinKind::Rapid, dice.between(1, 24) * 5))),
                3 => self.entries.push((at, What::Carbohydrate(dice.between(5, 110)))),
                4 => self.entries.push((at, What::Note(dice.pick(remarks)))),
                _ => {
                    // Eaten and injected at once.
                    self.entries.push((at, What::Carbohydrate(dice.between(5, 110))));
                    self.entries
                        .push((at, What::Dose(InsulinKind::Rapid, dice.between(1, 24) * 5)));
                }
            }
        }
        for day in 0..days {
            let at = start + day * 86_400 + dice.between(0, 230) * 60;
            self.entries
                .push((at, What::Dose(InsulinKind::Long, dice.between(8, 30) * 10)));
        }
    }
}

/// A place for each sort, so that the same sort stands once at an instant.
pub(crate) fn rank(what: &What) -> u8 {
    match what {
        What::Automatic(_) => 0,
        What::Scan(_) => 1,
        What::Blood(_) => 2,
        What::Carbohydrate(_) => 3,
        What::Dose(InsulinKind::Rapid, _) => 4,
        What::Dose(..) => 5,
        What::Note(_) => 6,
    }
}

/// Whether the wall clock of an instant stood twice where it was lived.
pub(crate) fn is_twice(zone: &Zone, at: Second) -> bool {
    let wall = interstice_glucose::WallTime(at + i64::from(zone.offset_s(at)));
    matches!(zone.instants(wall), WallInstants::Twice(..))
}

/// A start between 2012 and 2030; one in six shortly before the hour that a clock goes through twice, where there is one,
/// the others away from it.
fn start(dice: &mut Dice, zone: &Zone, days: i64, whole: bool) -> Second {
    let into_autumn = dice.once_in(6);
    loop {
        let mut at = dice.between(1_325_376_000, 1_900_000_000);
        if into_autumn {
            let year = (at..at + 366 * 86_400).step_by(1800);
            if let Some(twice) = year.into_iter().find(|&at| is_twice(zone, at)) {
                at = twice - dice.between(0, 20 * 3600);
            }
        }
        if whole {
            at -= at.rem_euclid(60);
        }
        let mut hours = (at - 86_400..at + (days + 2) * 86_400).step_by(1800);
        if into_autumn || !hours.any(|at| is_twice(zone, at)) {
            return at;
        }
    }
}

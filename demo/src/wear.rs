//! Which sensor was worn when, where, from which lot, and how it ended.

use interstice_glucose::Second;
use serde::{Serialize, Serializer};

use crate::calendar::Calendar;
use crate::days::Plan;
use crate::random::{Dice, Purpose};

/// A place on the body.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Site {
    /// Back of the upper arm.
    UpperArm,
    /// Thigh.
    Thigh,
    /// Abdomen.
    Abdomen,
    /// Chest.
    Chest,
}

impl Site {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Site::UpperArm => "upper arm",
            Site::Thigh => "thigh",
            Site::Abdomen => "abdomen",
            Site::Chest => "chest",
        }
    }
}

/// Left or right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

impl Side {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
        }
    }
}

/// How a sensor's life ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ending {
    /// After its fourteen days.
    Planned,
    /// It came off.
    FellOff,
    /// Its signal died.
    Failed,
    /// Still worn at the end of the record.
    StillOn,
}

/// One sensor's life. Instants are seconds since 1970.
#[derive(Clone, Debug, Serialize)]
pub struct Wear {
    /// Its name in the files.
    pub sensor: String,
    /// Where.
    pub site: Site,
    /// Which side.
    pub side: Side,
    /// Invented lot number.
    pub lot: &'static str,
    /// Put on the body.
    #[serde(serialize_with = "as_utc")]
    pub put_on: Second,
    /// Started.
    #[serde(serialize_with = "as_utc")]
    pub started: Second,
    /// Last moment of readings; the end of the record for the sensor still on.
    #[serde(serialize_with = "as_utc")]
    pub ended: Second,
    /// How it ended.
    pub ending: Ending,
    /// Put on at least half a day before it was started.
    pub bedded_in: bool,
}

/// An instant in RFC 3339, universal time.
pub(crate) fn as_utc<S: Serializer>(at: &Second, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(&utc_text(*at))
}

/// An instant as '2025-09-20T07:04:00Z'.
pub(crate) fn utc_text(at: Second) -> String {
    jiff::Timestamp::from_second(at).map_or_else(|_| format!("@{at}"), |ts| ts.to_string())
}

/// The lot with the planted high bias.
pub const BIASED_LOT: &str = "KR-219";
/// What its sensors read too high, as a share.
pub const LOT_BIAS: f64 = 0.12;

/// Days a sensor runs.
const LIFE_S: Second = 14 * 86_400;

struct Row {
    site: Site,
    side: Side,
    lot: &'static str,
    bedded_in: bool,
    /// Unplanned end, days after the start.
    lost: Option<(Ending, f64)>,
    /// Hours for which it runs beside the sensor before it.
    beside_h: f64,
}

const fn row(site: Site, side: Side, lot: &'static str, bedded_in: bool) -> Row {
    Row {
        site,
        side,
        lot,
        bedded_in,
        lost: None,
        beside_h: 0.0,
    }
}

const fn lost(row: Row, ending: Ending, days: f64) -> Row {
    Row {
        lost: Some((ending, days)),
        ..row
    }
}

/// The drawer and what became of it: part of the story, not of chance.
fn rows() -> [Row; 18] {
    use Side::{Left, Right};
    use Site::{Abdomen, Chest, Thigh, UpperArm};
    [
        row(UpperArm, Left, "KR-204", false),
        row(Thigh, Right, "KR-204", true),
        lost(row(Abdomen, Left, "KR-204", false), Ending::FellOff, 6.21),
        row(UpperArm, Right, "KR-204", false),
        row(Chest, Left, "KR-204", true),
        row(Abdomen, Right, BIASED_LOT, false),
        row(UpperArm, Left, BIASED_LOT, true),
        lost(row(Thigh, Left, BIASED_LOT, false), Ending::FellOff, 8.87),
        row(UpperArm, Right, BIASED_LOT, false),
        row(Chest, Right, "KR-233", true),
        lost(row(Thigh, Right, "KR-233", false), Ending::Failed, 9.6),
        row(Abdomen, Left, "KR-233", false),
        Row {
            beside_h: 19.0,
            ..row(UpperArm, Left, "KR-233", true)
        },
        row(Thigh, Left, "KR-233", false),
        row(Abdomen, Right, "KR-250", true),
        row(UpperArm, Right, "KR-250", false),
        row(Chest, Left, "KR-250", false),
        row(Thigh, Right, "KR-250", false),
    ]
}

/// The lives of all sensors that were started before the record ends, in order.
pub(crate) fn lives(calendar: &Calendar, plan: &Plan, seed: u64) -> Vec<Wear> {
    let mut dice = Dice::new(seed, Purpose::Wear);
    let end_of_record = calendar.to();
    let mut lives: Vec<Wear> = Vec::new();
    for (i, row) in rows().iter().enumerate() {
        let (put_on, started) = match lives.last() {
            None => (calendar.at(0, 8 * 60 + 12), calendar.at(0, 8 * 60 + 20)),
            Some(last) => next_start(row, last, plan, &mut dice),
        };
        if started >= end_of_record {
            break;
        }
        let (ending, life) = row.lost.map_or((Ending::Planned, LIFE_S), |(e, days)| {
            (e, (days * 86_400.0) as Second)
        });
        let over = started + life >= end_of_record;
        lives.push(Wear {
            sensor: format!("S{:02}", i + 1),
            site: row.site,
            side: row.side,
            lot: row.lot,
            put_on,
            started,
            ended: if over {
                end_of_record
            } else {
                (started + life) / 60 * 60
            },
            ending: if over { Ending::StillOn } else { ending },
            bedded_in: row.bedded_in,
        });
    }
    lives
}

/// When the next sensor is put on and started. After a planned end within the hour or so; after a loss it takes
/// half a day or more, because the drawer is elsewhere. One bedded in is put on a day before the old one ends.
fn next_start(row: &Row, last: &Wear, plan: &Plan, dice: &mut Dice) -> (Second, Second) {
    let minutes = |low: f64, high: f64, dice: &mut Dice| dice.between(low, high) as Second * 60;
    let free = if last.ending == Ending::Planned {
        minutes(6.0, 75.0, dice)
    } else {
        minutes(300.0, 1500.0, dice)
    };
    let beside = (row.beside_h * 3600.0) as Second;
    let started = plan.awake(last.ended + free - beside) / 60 * 60;
    if row.bedded_in {
        (
            plan.awake(started - minutes(20.0 * 60.0, 30.0 * 60.0, dice)) / 60 * 60,
            started,
        )
    } else {
        (started - minutes(3.0, 12.0, dice), started)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_site_twice_two_fell_off_one_failed() {
        let calendar = Calendar::new();
        let lives = lives(&calendar, &Plan::new(&calendar, 3), 3);
        let count = |pick: &dyn Fn(&Wear) -> bool| lives.iter().filter(|w| pick(w)).count();
        for site in [Site::UpperArm, Site::Thigh, Site::Abdomen, Site::Chest] {
            assert!(count(&|w| w.site == site) >= 2, "{site:?}");
        }
        assert_eq!(count(&|w| w.ending == Ending::FellOff), 2);
        assert_eq!(count(&|w| w.ending == Ending::Failed), 1);
        assert_eq!(count(&|w| w.ending == Ending::StillOn), 1);
        assert!(lives.iter().all(|w| w.put_on < w.started && w.started < w.ended));
        assert!(
            lives
                .iter()
                .filter(|w| w.bedded_in)
                .all(|w| w.started - w.put_on > 12 * 3600)
        );
    }
}

//! How long the drawer lasts, and when to order.

use interstice_glucose::{LivedClock, Second, SensorKind, WearFrom};
use interstice_methods::plan::WearClock;
use interstice_methods::stock::{Ask, FUTURES, Habit, OnNow, Past, Supplied, lasting, used_within};
use interstice_methods::{Interval, quantile};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use super::pieces::{Piece, days};
use super::used::{Used, day, is_kind};
use crate::wear::{Settled, WearAsk, Worn, labelled_end};

/// Ends so much before the labelled one count as whole wear: a change at a convenient hour. Ours.
const ROUGHLY_S: Second = 12 * 3600;
/// What stands for a year, hours.
const YEAR_H: f64 = 8766.0;

/// How long the sensors last that are left.
#[derive(Clone, Debug, Default)]
pub struct Supply {
    /// Sensors left that have not expired.
    pub sensors: u64,
    /// Sensors that are to come.
    pub to_come: u64,
    /// Sensors on the body now, which last beside them.
    pub on: u64,
    /// Days they last if each is worn to its labelled end, those that are on now included; `None` without a kind.
    pub labelled_days: Option<f64>,
    /// Days until one would have to be put on and none is there, in the middle of the simulated futures.
    pub days: Option<f64>,
    /// Nine futures of ten lie within these.
    pub days_within: Option<Interval>,
    /// Why that cannot be told.
    pub reason: Option<String>,
    /// The day up to which it lasts in 95 of 100 futures, as YYYY-MM-DD.
    pub lasts_to: Option<String>,
    /// How long a delivery takes, days, where that was said.
    pub delivery_days: Option<u32>,
    /// The last day to order, so that in 95 of 100 futures the drawer does not run out before the order arrives.
    pub order_by: Option<String>,
    /// Whether that day is over.
    pub order_late: bool,
    /// Share of futures in which the drawer has run out before an order made now arrives, percent.
    pub out_before_delivery_percent: Option<f64>,
    /// Sensors used in a year at this pace.
    pub year: Option<f64>,
    /// Nine futures of ten lie within these.
    pub year_within: Option<Interval>,
    /// The wearer's sensors of this kind that are over, and how many of them ended early, for whatever reason.
    pub learned_from: (u64, u64),
}

impl Serialize for Supply {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("sensors", &self.sensors)?;
        map.serialize_entry("to_come", &self.to_come)?;
        map.serialize_entry("on", &self.on)?;
        map.serialize_entry("labelled_days", &self.labelled_days)?;
        map.serialize_entry("days", &self.days)?;
        if let Some(within) = self.days_within {
            map.serialize_entry("days_lo90", &within.lo)?;
            map.serialize_entry("days_hi90", &within.hi)?;
        }
        if let Some(reason) = &self.reason {
            map.serialize_entry("days_reason", reason)?;
        }
        map.serialize_entry("lasts_to", &self.lasts_to)?;
        map.serialize_entry("delivery_days", &self.delivery_days)?;
        map.serialize_entry("order_by", &self.order_by)?;
        map.serialize_entry("order_late", &self.order_late)?;
        map.serialize_entry("out_before_delivery_percent", &self.out_before_delivery_percent)?;
        map.serialize_entry("sensors_a_year", &self.year)?;
        if let Some(within) = self.year_within {
            map.serialize_entry("sensors_a_year_lo90", &within.lo)?;
            map.serialize_entry("sensors_a_year_hi90", &within.hi)?;
        }
        map.serialize_entry("learned_from_sensors", &self.learned_from.0)?;
        map.serialize_entry("learned_from_early_ends", &self.learned_from.1)?;
        map.end()
    }
}

/// What the drawer is asked with.
pub(super) struct Pace {
    pub(super) past: Vec<Past>,
    pub(super) habit: Habit,
    /// Hours to bed in.
    pub(super) bedding_h: f64,
}

impl Pace {
    /// From the sensors of the kind in use, and how they are to follow each other.
    pub(super) fn new(
        worn: &[Worn],
        used: &Used<'_>,
        kind: &SensorKind,
        settled: &Settled,
        ask: WearAsk,
    ) -> Self {
        let is_one = |index: usize| {
            let lot = used.of[index].map(|place| used.lots[place].lot());
            lot.is_none_or(|lot| is_kind(lot, Some(&kind.name)))
        };
        let past = worn
            .iter()
            .enumerate()
            .filter(|&(index, _)| is_one(index))
            .map(|(_, worn)| past(worn, kind))
            .collect();
        let wished = 60 * ask.bedding_h.unwrap_or(settled.choices.bedding_h);
        let bedding_h = f64::from(wished.min(kind.longest_bedding_min)) / 60.0;
        let warm_up_h = if kind.side_by_side {
            f64::from(kind.warm_up_min) / 60.0
        } else {
            0.0
        };
        Pace {
            past,
            habit: Habit {
                wear_h: f64::from(kind.wear_min) / 60.0,
                clock: match kind.wear_from {
                    WearFrom::PutOn => WearClock::PutOn,
                    WearFrom::Started => WearClock::Start,
                },
                before_h: bedding_h + warm_up_h,
                warm_up_h,
            },
            bedding_h,
        }
    }

    /// A question about an endless drawer.
    pub(super) fn ask(&self) -> Ask<'_> {
        Ask {
            past: &self.past,
            habit: self.habit,
            on: None,
            waiting: 0,
            drawer: &[],
            futures: FUTURES,
            seed: crate::DEFAULT_SEED,
        }
    }

    /// Sensors used in a year in the middle of the futures, and within which nine of ten lie.
    pub(super) fn year(&self, habit: Habit) -> Option<(f64, Interval)> {
        let used = used_within(&Ask { habit, ..self.ask() }, YEAR_H).ok()?;
        let at = |share| quantile(&used, share).unwrap_or(0.0);
        Some((
            at(0.5),
            Interval {
                lo: at(0.05),
                hi: at(0.95),
            },
        ))
    }
}

/// What became of a sensor, as far as the drawer is concerned: whatever ended it, another was needed then.
fn past(worn: &Worn, kind: &SensorKind) -> Past {
    if worn.is_on {
        return Past::StillOn(worn.hours);
    }
    let end = labelled_end(worn, kind);
    if end
        .zip(worn.it.end())
        .is_some_and(|(end, ended)| ended >= end - ROUGHLY_S)
    {
        return Past::Whole;
    }
    // Where readings stop and nothing was told, it is not known whether the sensor or the reading of it ended.
    let is_told = worn.it.ended.is_some() || worn.it.ending().is_some();
    if is_told {
        Past::Early(worn.hours)
    } else {
        Past::StillOn(worn.hours)
    }
}

fn on_now(worn: &[Worn], kind: &SensorKind, now: Second) -> Option<OnNow> {
    let reading = worn
        .iter()
        .filter(|worn| worn.is_on && worn.it.start().is_some_and(|at| at <= now));
    let (end, worn) = reading
        .filter_map(|worn| Some((labelled_end(worn, kind)?, worn)))
        .max_by_key(|&(end, _)| end)?;
    // Beyond its labelled end what may follow counts.
    let end = if end > now {
        end
    } else {
        end + 60 * Second::from(kind.extra_min)
    };
    Some(OnNow {
        worn_h: worn.hours,
        left_h: hours(end - now).max(0.0),
    })
}

fn hours(seconds: Second) -> f64 {
    seconds as f64 / 3600.0
}

/// How long the pieces last; with them, of each, the share of futures in which it expires unused.
pub(super) fn supply(
    worn: &[Worn],
    used: &Used<'_>,
    pieces: &[Piece],
    settled: &Settled,
    clock: &LivedClock,
    ask: WearAsk,
) -> (Supply, Vec<f64>) {
    let now = ask.now;
    let kind = settled.kinds.in_use.map(|place| &settled.kinds.all[place]);
    let name = kind.map(|kind| kind.name.as_str());
    let own: Vec<&Piece> = pieces
        .iter()
        .filter(|piece| is_kind(used.lots[piece.lot].lot(), name))
        .collect();
    let mut supply = Supply {
        sensors: own.iter().filter(|piece| piece.from <= now).count() as u64,
        to_come: own.iter().filter(|piece| piece.from > now).count() as u64,
        delivery_days: settled.drawer.delivery_days,
        ..Supply::default()
    };
    let Some(kind) = kind else {
        supply.reason = Some("describe your kind of sensor first, with `interstice sensor-kind`".to_owned());
        return (supply, Vec::new());
    };
    let pace = Pace::new(worn, used, kind, settled, ask);
    let on = on_now(worn, kind, now);
    let waiting = worn
        .iter()
        .filter(|worn| worn.is_on && worn.it.start().is_none())
        .count();
    let reads_h = pace.habit.wear_h
        - match pace.habit.clock {
            WearClock::PutOn => pace.habit.before_h,
            WearClock::Start => pace.habit.warm_up_h,
        };
    let left_h = on.map_or(0.0, |on| on.left_h);
    supply.on = u64::from(on.is_some()) + waiting as u64;
    supply.labelled_days = Some((left_h + (own.len() + waiting) as f64 * reads_h) / 24.0);
    supply.learned_from = (
        pace.past
            .iter()
            .filter(|past| !matches!(past, Past::StillOn(_)))
            .count() as u64,
        pace.past
            .iter()
            .filter(|past| matches!(past, Past::Early(_)))
            .count() as u64,
    );
    let drawer: Vec<Supplied> = own
        .iter()
        .map(|piece| Supplied {
            from_h: hours(piece.from - now),
            until_h: piece.until.map_or(f64::INFINITY, |until| hours(until - now)),
        })
        .collect();
    let asked = Ask {
        on,
        waiting: u32::try_from(waiting).unwrap_or(u32::MAX),
        drawer: &drawer,
        ..pace.ask()
    };
    let found = match lasting(&asked) {
        Ok(found) => found,
        Err(reason) => {
            supply.reason = Some(reason.to_string());
            return (supply, Vec::new());
        }
    };
    let date = |hours: f64| day(clock, now + (3600.0 * hours).floor() as Second).to_string();
    let within = found.within_h();
    supply.days = Some(found.middle_h() / 24.0);
    supply.days_within = Some(Interval {
        lo: within.lo / 24.0,
        hi: within.hi / 24.0,
    });
    supply.lasts_to = Some(date(found.order_by_h(0.0)));
    if let Some(delivery) = supply.delivery_days {
        let delivery_h = hours(days(delivery));
        let by = found.order_by_h(delivery_h);
        supply.order_by = Some(date(by));
        supply.order_late = by < 0.0;
        supply.out_before_delivery_percent = Some(100.0 * found.out_before(delivery_h));
    }
    if let Some((year, within)) = pace.year(pace.habit) {
        (supply.year, supply.year_within) = (Some(year), Some(within));
    }
    // By the pieces as they were handed in.
    let mut shares = found.expires_unused.into_iter();
    let of = |piece: &Piece| is_kind(used.lots[piece.lot].lot(), name);
    let unused = pieces
        .iter()
        .map(|piece| {
            if of(piece) {
                shares.next().unwrap_or(0.0)
            } else {
                0.0
            }
        })
        .collect();
    (supply, unused)
}

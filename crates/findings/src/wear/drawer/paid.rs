//! What sensors cost: by the hour worn, by kind, by how they ended; and what was never worn.

use std::collections::BTreeMap;

use interstice_glucose::{
    Currency, Ending, Holds, LivedClock, Lot, Price, Second, SensorKind, WearFrom, same_words,
};
use interstice_methods::plan::WearClock;
use interstice_methods::stock::{Cost, Habit, Paid, cost};
use serde::Serialize;

use super::supply::Pace;
use super::used::{Drawn, Used, day};
use crate::wear::{Settled, Worn, labelled_end};

/// What the sensors that are over cost.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Costs {
    /// One for each currency; free sensors stand with the only one there is, else by themselves.
    pub by_currency: Vec<CostIn>,
    /// Sensors that are over and are counted at the usual price of their kind, since no lot tells theirs.
    pub sensors_at_usual_price: u64,
    /// Sensors that are over and whose price nothing tells: not counted.
    pub sensors_without_price: u64,
    /// What a year of unbroken wear costs; `None` where the sensors it takes or their price are not known.
    pub year: Option<Year>,
    /// Pieces that were never worn.
    pub never_worn: Vec<NeverWorn>,
    /// What bedding in costs; `None` without a kind.
    pub bedding: Option<Bedding>,
}

/// What a year costs.
#[derive(Clone, Debug, Serialize)]
pub struct Year {
    /// Sensors it takes, in the middle of the simulated futures.
    pub sensors: f64,
    /// At the price of one: minor units. The usual price of the kind, else that of the newest lot that was paid for.
    pub price_each_minor: f64,
    /// Together, minor units.
    pub cost_minor: f64,
    /// Of this currency.
    pub currency: String,
}

/// In one currency.
#[derive(Clone, Debug, Serialize)]
pub struct CostIn {
    /// The currency; `None` where all were free.
    pub currency: Option<String>,
    /// All of them.
    pub all: CostOf,
    /// By kind of sensor.
    pub by_kind: Vec<CostOf>,
    /// By how they ended.
    pub by_cause: Vec<CostOf>,
}

/// What some sensors cost. Amounts are in minor units of the currency.
#[derive(Clone, Debug, Serialize)]
pub struct CostOf {
    /// Which: 'all', the kind, or how they ended.
    pub name: String,
    /// Sensors.
    pub sensors: u64,
    /// Free ones among them.
    pub free: u64,
    /// What was paid for them.
    pub spent_minor: f64,
    /// Hours worn of their labelled time and beyond.
    pub worn_h: f64,
    /// Paid for each hour worn.
    pub per_worn_hour_minor: Option<f64>,
    /// Paid for each day worn.
    pub per_worn_day_minor: Option<f64>,
    /// Labelled hours not worn.
    pub unworn_h: f64,
    /// What had been paid for these.
    pub lost_minor: f64,
}

impl CostOf {
    fn new(name: &str, cost: Cost) -> Self {
        CostOf {
            name: name.to_owned(),
            sensors: cost.sensors,
            free: cost.free,
            spent_minor: cost.spent_minor,
            worn_h: cost.worn_h,
            per_worn_hour_minor: cost.per_worn_hour_minor,
            per_worn_day_minor: cost.per_worn_hour_minor.map(|hour| 24.0 * hour),
            unworn_h: cost.unworn_h,
            lost_minor: cost.lost_minor,
        }
    }
}

/// Pieces that were never put on.
#[derive(Clone, Debug, Serialize)]
pub struct NeverWorn {
    /// The number of their lot.
    pub lot_id: u32,
    /// 'sensors', 'covers' or 'preparations'.
    pub holds: &'static str,
    /// Why: 'expired', or the reason the count was corrected for.
    pub why: String,
    /// How many.
    pub pieces: u64,
    /// What had been paid for them, minor units; `None` where no price was said.
    pub price_minor: Option<f64>,
    /// Of this currency; none where they were free.
    pub currency: Option<String>,
}

/// What a year of bedding in costs.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Bedding {
    /// Hours each sensor beds in, as chosen and as far as its kind allows.
    pub bedding_h: f64,
    /// Whether these hours are taken from its labelled time.
    pub from_wear: bool,
    /// Hours of labelled time that bedding in takes in a year.
    pub hours_a_year: Option<f64>,
    /// Sensors that are used in a year because of it.
    pub sensors_a_year: Option<f64>,
    /// What these cost at the usual price of the kind, else at that of the newest lot that was paid for; minor units.
    pub cost_a_year_minor: Option<f64>,
    /// Of this currency.
    pub currency: Option<String>,
}

/// The price of one piece: minor units and currency; none where no price was said.
fn each(lot: &Lot) -> Option<(f64, Option<&Currency>)> {
    match lot.price.as_ref()? {
        Price::Free => Some((0.0, None)),
        Price::All(money) => Some((
            money.minor as f64 / f64::from(lot.count.max(1)),
            Some(&money.currency),
        )),
    }
}

struct Ended<'a> {
    currency: Option<&'a Currency>,
    kind: &'a str,
    how: &'static str,
    paid: Paid,
}

/// What the sensors that are over cost, by what is known of their lots.
pub(super) fn costs(
    worn: &[Worn],
    used: &Used<'_>,
    settled: &Settled,
    pace: Option<&Pace>,
    clock: &LivedClock,
    now: Second,
) -> Costs {
    let in_use = settled.kinds.in_use.map(|place| &settled.kinds.all[place]);
    let (mut ended, mut without, mut at_usual) = (Vec::new(), 0, 0);
    for (worn, lot) in worn.iter().zip(&used.of).filter(|(worn, _)| !worn.is_on) {
        let lot = lot.map(|place| used.lots[place].lot());
        let kind = match lot.and_then(|lot| lot.name.as_ref()) {
            Some(name) => settled.kinds.all.iter().find(|kind| same_words(&kind.name, name)),
            None => in_use,
        };
        let own = lot.and_then(each);
        let usual = kind.and_then(|kind| settled.drawer.usual_prices.get(&kind.name));
        let usual = usual.map(|money| (money.minor as f64, Some(&money.currency)));
        at_usual += u64::from(own.is_none() && usual.is_some());
        match (own.or(usual), kind) {
            (Some((price_minor, currency)), Some(kind)) => ended.push(Ended {
                currency,
                kind: &kind.name,
                how: worn.it.ending().map_or("not told", Ending::name),
                paid: Paid {
                    price_minor,
                    labelled_h: f64::from(kind.wear_min) / 60.0,
                    worn_h: worn_h(worn, kind),
                },
            }),
            _ => without += 1,
        }
    }
    let price = price_now(used, settled, in_use);
    let year = pace.and_then(|pace| pace.year(pace.habit));
    Costs {
        by_currency: by_currency(&ended),
        sensors_at_usual_price: at_usual,
        sensors_without_price: without,
        year: price.zip(year).map(|((each, currency), (sensors, _))| Year {
            sensors,
            price_each_minor: each,
            cost_minor: each * sensors,
            currency: currency.name().to_owned(),
        }),
        never_worn: never_worn(used, clock, now),
        bedding: pace.map(|pace| bedding(pace, price, in_use)),
    }
}

/// What one sensor costs when it is bought: as the wearer said it of the kind, else as the newest lot that was paid for.
fn price_now<'a>(
    used: &Used<'a>,
    settled: &'a Settled,
    kind: Option<&SensorKind>,
) -> Option<(f64, &'a Currency)> {
    let usual = kind.and_then(|kind| settled.drawer.usual_prices.get(&kind.name));
    let of_lots = || {
        used.lots.iter().rev().find_map(|drawn| {
            let lot = &drawn.kept.lot;
            let (minor, currency) = each(lot).filter(|_| lot.holds == Holds::Sensors)?;
            Some((minor, currency?))
        })
    };
    usual
        .map(|money| (money.minor as f64, &money.currency))
        .or_else(of_lots)
}

/// Hours of its labelled time that a sensor was worn, and beyond it.
fn worn_h(worn: &Worn, kind: &SensorKind) -> f64 {
    let ended = worn.it.end();
    let began = labelled_end(worn, kind).map(|end| end - 60 * Second::from(kind.wear_min));
    let hours = began.zip(ended).map_or(0, |(began, ended)| ended - began);
    hours.max(0) as f64 / 3600.0
}

fn by_currency(ended: &[Ended<'_>]) -> Vec<CostIn> {
    let mut names: Vec<&Currency> = ended.iter().filter_map(|one| one.currency).collect();
    names.sort();
    names.dedup();
    let only = match names.as_slice() {
        [one] => Some(*one),
        _ => None,
    };
    let mut by: BTreeMap<Option<&Currency>, Vec<&Ended<'_>>> = BTreeMap::new();
    for one in ended {
        by.entry(one.currency.or(only)).or_default().push(one);
    }
    by.into_iter()
        .map(|(currency, all)| CostIn {
            currency: currency.map(|currency| currency.name().to_owned()),
            all: of("all", all.iter().copied()),
            by_kind: groups(&all, |one| one.kind),
            by_cause: groups(&all, |one| one.how),
        })
        .collect()
}

fn of<'a, 'b: 'a>(name: &str, some: impl Iterator<Item = &'a Ended<'b>>) -> CostOf {
    let paid: Vec<Paid> = some.map(|one| one.paid).collect();
    CostOf::new(name, cost(&paid))
}

fn groups<'b>(all: &[&Ended<'b>], name: impl Fn(&Ended<'b>) -> &'b str) -> Vec<CostOf> {
    let mut names: Vec<&str> = all.iter().map(|one| name(one)).collect();
    names.sort_unstable();
    names.dedup();
    let group = |group: &str| of(group, all.iter().copied().filter(|one| name(one) == group));
    names.into_iter().map(group).collect()
}

fn never_worn(used: &Used<'_>, clock: &LivedClock, now: Second) -> Vec<NeverWorn> {
    let today = day(clock, now);
    let one = |drawn: &Drawn<'_>, why: String, pieces: u64| {
        let lot = drawn.lot();
        let price = each(lot);
        NeverWorn {
            lot_id: drawn.kept.id,
            holds: lot.holds.name(),
            why,
            pieces,
            price_minor: price.map(|(minor, _)| minor * pieces as f64),
            currency: price.and_then(|(_, currency)| Some(currency?.name().to_owned())),
        }
    };
    let mut out = Vec::new();
    for drawn in &used.lots {
        let lot = drawn.lot();
        let gone = lot.corrections.iter().filter(|correction| correction.by < 0);
        out.extend(gone.map(|gone| one(drawn, gone.reason.clone(), u64::from(gone.by.unsigned_abs()))));
        let left = u64::try_from(drawn.left()).unwrap_or(0);
        if left > 0 && lot.use_by.is_some_and(|last| last < today) {
            out.push(one(drawn, "expired".to_owned(), left));
        }
    }
    out
}

fn bedding(pace: &Pace, price: Option<(f64, &Currency)>, kind: Option<&SensorKind>) -> Bedding {
    let from_wear = kind.is_some_and(|kind| kind.wear_from == WearFrom::PutOn);
    let mut told = Bedding {
        bedding_h: pace.bedding_h,
        from_wear,
        ..Bedding::default()
    };
    if !from_wear || pace.bedding_h <= 0.0 {
        return told;
    }
    let without = Habit {
        before_h: pace.habit.warm_up_h,
        ..pace.habit
    };
    debug_assert!(
        pace.habit.clock == WearClock::PutOn,
        "its clock runs from being put on"
    );
    let (Some((with, _)), Some((less, _))) = (pace.year(pace.habit), pace.year(without)) else {
        return told;
    };
    told.hours_a_year = Some(pace.bedding_h * with);
    told.sensors_a_year = Some(with - less);
    if let Some((minor, currency)) = price {
        told.cost_a_year_minor = Some(minor * (with - less));
        told.currency = Some(currency.name().to_owned());
    }
    told
}

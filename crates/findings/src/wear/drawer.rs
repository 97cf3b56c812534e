//! The drawer: what is left of each lot, how long it lasts, what it cost.

mod paid;
mod pieces;
mod supply;
mod used;

use interstice_glucose::{Arrival, Holds, LivedClock, Price, Second, counted};
use jiff::civil::Date;
use serde::Serialize;

use super::{InStock, Settled, WearAsk, Worn};
use used::Drawn;

pub use paid::{Bedding, CostIn, CostOf, Costs, NeverWorn, Year};
pub use supply::Supply;

/// A lot in the drawer, or one that is to come.
#[derive(Clone, Debug, Serialize)]
pub struct DrawerLot {
    /// The number it is called by.
    pub id: u32,
    /// 'sensors', 'covers' or 'preparations'.
    pub holds: &'static str,
    /// The kind of sensor, the cover or the preparation.
    pub name: Option<String>,
    /// Lot number.
    pub lot: Option<String>,
    /// Where it came from.
    pub source: Option<String>,
    /// Pieces that came.
    pub came: u32,
    /// What corrections added; taken away where negative.
    pub corrected: i64,
    /// Pieces put on since.
    pub put_on: u64,
    /// Of these, put on without a word on their lot.
    pub put_on_assumed: u64,
    /// Pieces left.
    pub left: u64,
    /// The day it came, as YYYY-MM-DD.
    pub arrived: Option<String>,
    /// The day it is to come, where it has not.
    pub expected: Option<String>,
    /// Last day on which one may be put on.
    pub use_by: Option<String>,
    /// Whether that day is over.
    pub expired: bool,
    /// What all pieces cost together, minor units of the currency.
    pub price_minor: Option<u64>,
    /// Currency of the price; none where they were free.
    pub currency: Option<String>,
    /// How many will expire before they can be used at the wearer's pace, on the mean of simulated futures.
    pub expire_unused: Option<f64>,
    /// What was said of it.
    pub note: Option<String>,
    /// What is to be known of it, a sentence each.
    pub said: Vec<String>,
}

/// The drawer as it is now.
#[derive(Clone, Debug, Serialize)]
pub struct Drawer {
    /// What is left of each lot: sensors first, then covers, then preparations; the first to expire first.
    pub stock: Vec<DrawerLot>,
    /// How long the sensors last.
    pub supply: Supply,
    /// What they cost.
    pub cost: Costs,
    /// As the plan takes them.
    #[serde(skip)]
    pub(super) in_stock: Vec<InStock>,
}

impl Drawer {
    /// What is settled, with the sensors that are left, and when one ordered now would come. Without any lot nothing is known of
    /// them.
    pub(super) fn settle(&self, settled: &Settled, now: Second) -> Settled {
        let mut settled = settled.clone();
        if self.stock.iter().any(|lot| lot.holds == Holds::Sensors.name()) {
            settled.stock.clone_from(&self.in_stock);
            let delivery = settled.drawer.delivery_days;
            settled.bought_from = delivery.map(|count| now + pieces::days(count));
        }
        settled
    }
}

/// What is left, how long it lasts, what it cost.
pub(super) fn drawer(worn: &[Worn], settled: &Settled, clock: &LivedClock, ask: WearAsk) -> Drawer {
    let today = used::day(clock, ask.now);
    let kind = settled.kinds.in_use.map(|place| &settled.kinds.all[place]);
    let in_use = kind.map(|kind| kind.name.as_str());
    let used = used::used(worn, &settled.drawer, in_use, clock);
    let pieces = pieces::pieces(&used, clock, ask.now);
    let (supply, unused) = supply::supply(worn, &used, &pieces, settled, clock, ask);
    let mut expires = vec![0.0; used.lots.len()];
    for (piece, share) in pieces.iter().zip(&unused) {
        expires[piece.lot] += share;
    }
    let pace = kind.map(|kind| supply::Pace::new(worn, &used, kind, settled, ask));
    let mut lots: Vec<(&Drawn<'_>, f64)> = used.lots.iter().zip(expires).collect();
    lots.sort_by_key(|(drawn, _)| {
        let lot = drawn.lot();
        (lot.holds, lot.use_by.unwrap_or(Date::MAX), drawn.kept.id)
    });
    Drawer {
        stock: lots
            .into_iter()
            .map(|(drawn, expires)| told(drawn, expires, today))
            .collect(),
        cost: paid::costs(worn, &used, settled, pace.as_ref(), clock, ask.now),
        in_stock: pieces::in_stock(&pieces, &used, &settled.kinds),
        supply,
    }
}

fn told(drawn: &Drawn<'_>, expires: f64, today: Date) -> DrawerLot {
    let lot = drawn.lot();
    let (arrived, expected) = match lot.arrival {
        Arrival::Arrived(day) => (Some(day.to_string()), None),
        Arrival::Expected(day) => (None, Some(day.to_string())),
    };
    let (price_minor, currency) = match &lot.price {
        None => (None, None),
        Some(Price::Free) => (Some(0), None),
        Some(Price::All(money)) => (Some(money.minor), Some(money.currency.name().to_owned())),
    };
    DrawerLot {
        id: drawn.kept.id,
        holds: lot.holds.name(),
        name: lot.name.clone(),
        lot: lot.number.clone(),
        source: lot.source.clone(),
        came: lot.count,
        corrected: lot.pieces() - i64::from(lot.count),
        put_on: drawn.put_on,
        put_on_assumed: drawn.assumed,
        left: u64::try_from(drawn.left()).unwrap_or(0),
        arrived,
        expected,
        use_by: lot.use_by.map(|day| day.to_string()),
        expired: lot.use_by.is_some_and(|day| day < today),
        price_minor,
        currency,
        note: lot.note.clone(),
        expire_unused: (expires > 0.0).then_some(expires),
        said: said(drawn, expires, today),
    }
}

fn said(drawn: &Drawn<'_>, expires: f64, today: Date) -> Vec<String> {
    let lot = drawn.lot();
    let left = drawn.left();
    let mut said = Vec::new();
    if let Some(last) = lot.use_by.filter(|&last| last < today)
        && left > 0
    {
        let count = left.unsigned_abs();
        let (is, they) = if count == 1 {
            ("is", "it is")
        } else {
            ("are", "they are")
        };
        let whose = if lot.holds == Holds::Sensors {
            " and never planned with"
        } else {
            ""
        };
        said.push(format!(
            "{count} {is} left that expired: {last} was the last day to put one on; {they} not counted as stock{whose}"
        ));
    }
    if expires >= 0.5 {
        said.push(format!(
            "about {expires:.0} of {left} will expire before {} can be used at your pace",
            if expires < 1.5 { "it" } else { "they" }
        ));
    }
    if left < 0 {
        said.push(format!(
            "{} put on than came; correct the count with `interstice stock correct {} --by {}`, or look at the lots written beside the sensors",
            counted(left.unsigned_abs(), "more was", "more were"),
            drawn.kept.id,
            -left
        ));
    }
    if drawn.assumed > 0 {
        said.push(format!(
            "{} put on without a word on the lot; it is supposed that the first to expire was taken",
            counted(drawn.assumed, "was", "were")
        ));
    }
    if let Arrival::Expected(day) = lot.arrival {
        if drawn.put_on > 0 {
            said.push(format!(
                "one was put on, so it has come; say when with `interstice stock arrived {}`",
                drawn.kept.id
            ));
        } else if day < today {
            said.push(format!(
                "it was expected on {day}; until `interstice stock arrived {}` says so it is not counted as there",
                drawn.kept.id
            ));
        }
    }
    said
}

//! The drawer: lots of sensors, covers and preparations, kept among the settings, so that each change is in the journal
//! and can be taken back. What was put on is not kept here: the record of the sensors tells that.

use std::collections::BTreeMap;

use interstice_glucose::{Arrival, Correction, Currency, Holds, Lot, Money, Price, Second};
use jiff::civil::Date;
use rusqlite::Connection;
use serde::{Deserialize, Serialize};

use crate::book::{Book, Keep};
use crate::error::{BookError, BookErrorKind, Result};
use crate::journal::ChangeId;
use crate::settings::{Setting, Settings, get_other, set_told, setting_of};

/// Before the number of a lot.
const LOT: &str = "stock lot ";
/// How long a delivery takes.
const DELIVERY_DAYS: &str = "stock delivery days";
/// Before the kind of sensor that usually costs so much.
const PRICE: &str = "stock price of ";
/// The longest delivery that can be said.
const LONGEST_DELIVERY_DAYS: u32 = 366;

/// A lot as it is written. What later versions add has to have a default.
#[derive(Deserialize, Serialize)]
struct Row {
    holds: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    name: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    number: Option<String>,
    count: u32,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    price_minor: Option<u64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    currency: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    source: Option<String>,
    arrives: String,
    arrived: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    use_by: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    note: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    corrections: Vec<CorrectionRow>,
}

#[derive(Deserialize, Serialize)]
struct CorrectionRow {
    by: i32,
    on: String,
    reason: String,
}

impl Row {
    fn of(lot: &Lot) -> Self {
        let (price_minor, currency) = match &lot.price {
            None => (None, None),
            Some(Price::Free) => (Some(0), None),
            Some(Price::All(money)) => (Some(money.minor), Some(money.currency.name().to_owned())),
        };
        let correction = |one: &Correction| CorrectionRow {
            by: one.by,
            on: one.on.to_string(),
            reason: one.reason.clone(),
        };
        Row {
            holds: lot.holds.name().to_owned(),
            name: lot.name.clone(),
            number: lot.number.clone(),
            count: lot.count,
            price_minor,
            currency,
            source: lot.source.clone(),
            arrives: lot.arrival.date().to_string(),
            arrived: matches!(lot.arrival, Arrival::Arrived(_)),
            use_by: lot.use_by.map(|date| date.to_string()),
            note: lot.note.clone(),
            corrections: lot.corrections.iter().map(correction).collect(),
        }
    }

    fn lot(self) -> std::result::Result<Lot, String> {
        let holds = Holds::named(&self.holds).ok_or_else(|| format!("holds '{}'", self.holds))?;
        let price = match (self.price_minor, self.currency) {
            (None, _) => None,
            (Some(0), None) => Some(Price::Free),
            (Some(minor), Some(name)) => {
                let currency = Currency::named(&name).ok_or_else(|| format!("a price in '{name}'"))?;
                Some(Price::All(Money { minor, currency }))
            }
            (Some(_), None) => return Err("a price without a currency".to_owned()),
        };
        let correction = |one: CorrectionRow| -> std::result::Result<Correction, String> {
            Ok(Correction {
                by: one.by,
                on: day(&one.on)?,
                reason: one.reason,
            })
        };
        let arrives = day(&self.arrives)?;
        let arrival = if self.arrived {
            Arrival::Arrived(arrives)
        } else {
            Arrival::Expected(arrives)
        };
        let lot = Lot {
            holds,
            name: self.name,
            number: self.number,
            count: self.count,
            price,
            source: self.source,
            arrival,
            use_by: self.use_by.as_deref().map(day).transpose()?,
            note: self.note,
            corrections: self
                .corrections
                .into_iter()
                .map(correction)
                .collect::<std::result::Result<_, _>>()?,
        };
        lot.trouble().map_or(Ok(lot), |trouble| Err(trouble.to_owned()))
    }
}

fn day(text: &str) -> std::result::Result<Date, String> {
    text.parse().map_err(|_| format!("'{text}' is not a date"))
}

/// A lot and the number it is called by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptLot {
    /// Its number in this book, from 1.
    pub id: u32,
    /// What it is.
    pub lot: Lot,
}

/// The drawer as it was written down.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Stock {
    /// Every lot, by number.
    pub lots: Vec<KeptLot>,
    /// Days from an order to its arrival, where that was said.
    pub delivery_days: Option<u32>,
    /// What one sensor of a kind usually costs, by the name of the kind.
    pub usual_prices: BTreeMap<String, Money>,
}

/// The drawer among the settings.
pub(crate) fn of_settings(settings: &Settings) -> Result<Stock> {
    let (mut lots, mut usual_prices) = (Vec::new(), BTreeMap::new());
    for (key, text) in &settings.other {
        if let Some(kind) = key.strip_prefix(PRICE) {
            usual_prices.insert(kind.to_owned(), price(kind, text)?);
        }
        if let Some(id) = id_of(key) {
            lots.push(KeptLot {
                id,
                lot: read(id, text)?,
            });
        }
    }
    lots.sort_by_key(|kept| kept.id);
    let days = settings.other.get(DELIVERY_DAYS);
    Ok(Stock {
        lots,
        delivery_days: days.and_then(|days| days.parse().ok()),
        usual_prices,
    })
}

impl Book {
    /// The drawer as it was written down.
    ///
    /// # Errors
    /// `Damaged` where a lot cannot be read, `Io`.
    pub fn stock(&self) -> std::result::Result<Stock, BookError> {
        let settings = self.settings()?;
        self.reading(|_| of_settings(&settings))
    }

    /// Puts a lot into the drawer; answers the number it is called by.
    ///
    /// # Errors
    /// `Refused` where it makes no sense; `Busy`, `Full`, `Io`.
    pub fn add_lot(&mut self, lot: &Lot, at: Second) -> std::result::Result<(u32, ChangeId), BookError> {
        self.writing(|conn| {
            let id = highest(conn)? + 1;
            let change = write(
                conn,
                id,
                Some(lot),
                &format!("put lot {id} into the drawer: {}", said(lot)),
                at,
            )?;
            let change = change.ok_or_else(|| BookErrorKind::damaged(format!("the number of lot {id}")))?;
            Ok(((id, change), Keep::Change))
        })
    }

    /// Corrects how many pieces of a lot there are.
    ///
    /// # Errors
    /// `Refused` where there is no such lot, or the correction makes no sense; `Busy`, `Full`, `Io`.
    pub fn correct_lot(
        &mut self,
        id: u32,
        correction: Correction,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        let what = format!(
            "corrected the count of lot {id} by {:+}: {}",
            correction.by, correction.reason
        );
        self.change_lot(id, &what, at, |lot| lot.corrections.push(correction))
    }

    /// Says that a lot has come.
    ///
    /// # Errors
    /// `Refused` where there is no such lot; `Busy`, `Full`, `Io`.
    pub fn lot_arrived(
        &mut self,
        id: u32,
        on: Date,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        let what = format!("lot {id} arrived on {on}");
        self.change_lot(id, &what, at, |lot| lot.arrival = Arrival::Arrived(on))
    }

    /// Takes a lot out of the book, as if it had never been written down.
    ///
    /// # Errors
    /// `Refused` where there is no such lot; `Busy`, `Full`, `Io`.
    pub fn remove_lot(&mut self, id: u32, at: Second) -> std::result::Result<Option<ChangeId>, BookError> {
        self.writing(|conn| {
            let lot = one(conn, id)?;
            let what = format!("removed lot {id}: {}", said(&lot));
            let change = write(conn, id, None, &what, at)?;
            Ok((change, Keep::Change))
        })
    }

    /// Says how many days a delivery takes.
    ///
    /// # Errors
    /// `Refused` beyond a year; `Busy`, `Full`, `Io`.
    pub fn set_delivery_days(
        &mut self,
        days: u32,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        if days > LONGEST_DELIVERY_DAYS {
            let refusal = BookErrorKind::refused("a delivery of more than a year", "say it in days");
            return self.reading(|_| Err(refusal));
        }
        self.set(
            Setting::Other(DELIVERY_DAYS.to_owned(), Some(days.to_string())),
            at,
        )
    }

    /// Says what one sensor of a kind usually costs.
    ///
    /// # Errors
    /// `Refused` where there is no such kind; `Busy`, `Full`, `Io`.
    pub fn set_usual_price(
        &mut self,
        kind: &str,
        price: &Money,
        at: Second,
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        let kinds = self.sensor_kinds()?;
        if kinds.all.iter().all(|known| known.name != kind) {
            let refusal = BookErrorKind::refused(
                format!("no kind of sensor is called '{kind}'"),
                "describe it first, with `interstice sensor-kind`",
            );
            return self.reading(|_| Err(refusal));
        }
        let text = format!("{} {}", price.minor, price.currency);
        let what = format!("a sensor of kind {kind} usually costs {price}");
        self.writing(|conn| {
            let setting = Setting::Other(format!("{PRICE}{kind}"), Some(text));
            let change = set_told(conn, setting, Some(&what), at)?;
            let keep = if change.is_some() {
                Keep::Change
            } else {
                Keep::Nothing
            };
            Ok((change, keep))
        })
    }

    /// Takes a change of the drawer back, and no other.
    ///
    /// # Errors
    /// `Refused` where that change was of something else, or cannot be taken back; `Busy`, `Full`, `Io`.
    pub fn undo_stock(&mut self, change: ChangeId, at: Second) -> std::result::Result<(), BookError> {
        self.reading(|conn| {
            let key = setting_of(conn, change)?;
            let is_stock = key
                .is_some_and(|key| id_of(&key).is_some() || key == DELIVERY_DAYS || key.starts_with(PRICE));
            is_stock.then_some(()).ok_or_else(|| {
                BookErrorKind::refused(
                    format!("change {change} is none of the drawer's"),
                    "`interstice journal` tells what each change did",
                )
            })
        })?;
        self.undo(Some(change), at).map(|_| ())
    }

    fn change_lot(
        &mut self,
        id: u32,
        what: &str,
        at: Second,
        change: impl FnOnce(&mut Lot),
    ) -> std::result::Result<Option<ChangeId>, BookError> {
        self.writing(|conn| {
            let mut lot = one(conn, id)?;
            change(&mut lot);
            let change = write(conn, id, Some(&lot), what, at)?;
            let keep = if change.is_some() {
                Keep::Change
            } else {
                Keep::Nothing
            };
            Ok((change, keep))
        })
    }
}

/// A price as it is written: minor units and currency.
fn price(kind: &str, text: &str) -> Result<Money> {
    let parts = text.split_once(' ');
    let money = parts.and_then(|(minor, currency)| {
        Some(Money {
            minor: minor.parse().ok()?,
            currency: Currency::named(currency)?,
        })
    });
    money.ok_or_else(|| BookErrorKind::damaged(format!("the price of the kind of sensor '{kind}': '{text}'")))
}

/// A lot in the words of the journal.
fn said(lot: &Lot) -> String {
    let name = lot
        .name
        .as_ref()
        .map_or_else(String::new, |name| format!(" ({name})"));
    let number = lot
        .number
        .as_ref()
        .map_or_else(String::new, |number| format!(", lot number {number}"));
    format!("{} {}{name}{number}", lot.count, lot.holds.name())
}

fn id_of(key: &str) -> Option<u32> {
    key.strip_prefix(LOT)?.parse().ok()
}

fn read(id: u32, text: &str) -> Result<Lot> {
    let row: Row = serde_json::from_str(text)
        .map_err(|error| BookErrorKind::damaged(format!("lot {id} of the drawer: {error}")))?;
    row.lot()
        .map_err(|what| BookErrorKind::damaged(format!("lot {id} of the drawer: {what}")))
}

fn one(conn: &Connection, id: u32) -> Result<Lot> {
    let key = format!("{LOT}{id}");
    let text = get_other(conn, &key)?.ok_or_else(|| {
        BookErrorKind::refused(
            format!("there is no lot {id} in the drawer"),
            "`interstice stock list` tells their numbers",
        )
    })?;
    read(id, &text)
}

fn highest(conn: &Connection) -> Result<u32> {
    let mut statement = conn.prepare_cached("SELECT key FROM setting")?;
    let keys = statement.query_map([], |row| row.get::<_, String>(0))?;
    let mut highest = 0;
    for key in keys {
        let number = key?.strip_prefix(crate::settings::OTHER).and_then(id_of);
        highest = highest.max(number.unwrap_or(0));
    }
    Ok(highest)
}

/// Writes a lot in the place of what was under its number; `None` forgets it.
fn write(conn: &Connection, id: u32, lot: Option<&Lot>, what: &str, at: Second) -> Result<Option<ChangeId>> {
    if let Some(trouble) = lot.and_then(Lot::trouble) {
        return Err(BookErrorKind::refused("a lot that cannot be", trouble));
    }
    let text = lot.map(|lot| serde_json::to_string(&Row::of(lot)).unwrap_or_default());
    let setting = Setting::Other(format!("{LOT}{id}"), text);
    set_told(conn, setting, Some(what), at)
}

//! Lots as a person writes them down, at the command line or in a form.

use interstice_book::{Book, ChangeId, Stock};
use interstice_glucose::{Arrival, Correction, Currency, Holds, Lot, Money, Price, Second};
use jiff::civil::Date;

use crate::DeskError;

/// Something done to the drawer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum StockAct {
    /// A lot is put in, or is to come.
    Add(Box<LotWords>),
    /// There are so many pieces more, or fewer, for a reason.
    Correct {
        /// The lot's number.
        lot: u32,
        /// How many more.
        by: i32,
        /// Why.
        reason: String,
    },
    /// A lot has come.
    Arrived {
        /// The lot's number.
        lot: u32,
        /// The day; today where it is empty.
        on: String,
    },
    /// A lot is taken out of the book.
    Remove {
        /// The lot's number.
        lot: u32,
    },
    /// How long a delivery takes.
    Delivery {
        /// Days.
        days: u32,
    },
    /// What one sensor of a kind usually costs.
    Price {
        /// The kind; the one in use where it is empty.
        kind: String,
        /// The amount.
        price: String,
        /// Its currency; that of the newest lot with a price where it is empty.
        currency: String,
    },
    /// An earlier act is taken back.
    Undo {
        /// Its change.
        change: i64,
    },
}

/// What was done.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct StockDone {
    /// The lot it was done to.
    pub lot: Option<u32>,
    /// The change, to take it back by; `None` where the book said so already, or the act was to take back.
    pub change: Option<i64>,
}

/// Does something to the drawer. `today` is the wearer's day.
///
/// # Errors
/// `Request` where it cannot be meant; `Book` where the book refuses it or cannot be written.
pub fn act(book: &mut Book, act: &StockAct, today: Date, now: Second) -> Result<StockDone, DeskError> {
    let done = |lot: Option<u32>, change: Option<ChangeId>| StockDone {
        lot,
        change: change.map(|change| change.0),
    };
    Ok(match act {
        StockAct::Add(words) => {
            let stock = book.stock()?;
            let lot = words.lot(&stock, today)?;
            if let Some(same) = stock.lots.iter().find(|kept| kept.lot == lot) {
                return Err(DeskError::Request(format!(
                    "the book has this lot already, as number {}; if there are more of it, correct its count",
                    same.id
                )));
            }
            let (id, change) = book.add_lot(&lot, now)?;
            done(Some(id), Some(change))
        }
        StockAct::Correct { lot, by, reason } => {
            let correction = Correction {
                by: *by,
                on: today,
                reason: reason.trim().to_owned(),
            };
            done(Some(*lot), book.correct_lot(*lot, correction, now)?)
        }
        StockAct::Arrived { lot, on } => {
            let on = said(on).as_deref().map(day).transpose()?.unwrap_or(today);
            if on > today {
                return Err(request("that day lies in the future; say it when it has come"));
            }
            done(Some(*lot), book.lot_arrived(*lot, on, now)?)
        }
        StockAct::Remove { lot } => done(Some(*lot), book.remove_lot(*lot, now)?),
        StockAct::Delivery { days } => done(None, book.set_delivery_days(*days, now)?),
        StockAct::Price {
            kind,
            price,
            currency,
        } => {
            let money = amount(price, currency, &book.stock()?)?;
            let kinds = book.sensor_kinds()?;
            let in_use = kinds.in_use.map(|place| kinds.all[place].name.clone());
            let kind = said(kind).or(in_use).ok_or_else(|| {
                request("describe your kind of sensor first, with `interstice sensor-kind`")
            })?;
            done(None, book.set_usual_price(&kind, &money, now)?)
        }
        StockAct::Undo { change } => {
            book.undo_stock(ChangeId(*change), now)?;
            StockDone::default()
        }
    })
}

/// The words a lot is described by. What is empty was not said.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LotWords {
    /// The cover or preparation; `None` of sensors.
    pub holds: Option<Holds>,
    /// The kind of sensor, the cover or the preparation.
    pub name: String,
    /// Lot number.
    pub number: String,
    /// Pieces.
    pub count: u32,
    /// Price of one, or of all.
    pub price: String,
    /// Whether the price is of all pieces together.
    pub price_of_all: bool,
    /// Its currency; that of the newest lot with a price where it was not said.
    pub currency: String,
    /// Whether they cost nothing.
    pub free: bool,
    /// Where they came from.
    pub source: String,
    /// The day they came, like 2026-03-01; today where neither this nor the next was said.
    pub arrived: String,
    /// The day they are to come.
    pub expected: String,
    /// Last day on which one may be put on.
    pub use_by: String,
    /// Anything else.
    pub note: String,
}

impl LotWords {
    /// The lot that is meant.
    ///
    /// # Errors
    /// `Request`, saying what cannot be meant and how it could be written.
    pub fn lot(&self, stock: &Stock, today: Date) -> Result<Lot, DeskError> {
        let arrival = match (said(&self.arrived), said(&self.expected)) {
            (Some(_), Some(_)) => {
                return Err(request("say either when it arrived or when it is expected"));
            }
            (Some(on), None) => Arrival::Arrived(day(&on)?),
            (None, Some(on)) => Arrival::Expected(day(&on)?),
            (None, None) => Arrival::Arrived(today),
        };
        let lot = Lot {
            holds: self.holds.unwrap_or(Holds::Sensors),
            name: said(&self.name),
            number: said(&self.number),
            count: self.count,
            price: self.price(stock)?,
            source: said(&self.source),
            arrival,
            use_by: said(&self.use_by).as_deref().map(day).transpose()?,
            note: said(&self.note),
            corrections: Vec::new(),
        };
        if let Arrival::Arrived(on) = lot.arrival
            && on > today
        {
            return Err(request(
                "that day of arrival lies in the future; say when it is expected instead",
            ));
        }
        match lot.trouble() {
            Some(trouble) => Err(request(trouble)),
            None => Ok(lot),
        }
    }

    fn price(&self, stock: &Stock) -> Result<Option<Price>, DeskError> {
        let Some(price) = said(&self.price) else {
            return Ok(self.free.then_some(Price::Free));
        };
        if self.free {
            return Err(request("it is either free or has a price; say one of them"));
        }
        let money = amount(&price, &self.currency, stock)?;
        if self.price_of_all {
            return Ok(Some(Price::All(money)));
        }
        let all = money.times(self.count);
        Ok(Some(Price::All(all.ok_or_else(|| {
            request("that price is beyond belief; look at it and at the count")
        })?)))
    }
}

/// An amount in a currency; where none is named, in that of the newest lot with a price.
///
/// # Errors
/// `Request`, saying how it could be written.
pub fn amount(price: &str, currency: &str, stock: &Stock) -> Result<Money, DeskError> {
    let currency = match said(currency) {
        Some(name) => Currency::named(&name)
            .ok_or_else(|| request(format!("'{name}' is not a currency; write it like EUR")))?,
        None => usual_currency(stock).ok_or_else(|| {
            request("say the currency of the price, like EUR; later ones are taken to be in it")
        })?,
    };
    Money::parse(price, currency).map_err(|error| request(error.to_string()))
}

/// The currency of the newest lot with a price, else of a kind's usual price.
pub fn usual_currency(stock: &Stock) -> Option<Currency> {
    let of_lots = stock.lots.iter().rev().find_map(|kept| match &kept.lot.price {
        Some(Price::All(money)) => Some(money.currency.clone()),
        _ => None,
    });
    let usual = stock.usual_prices.values().next();
    of_lots.or_else(|| usual.map(|money| money.currency.clone()))
}

/// A day as a person writes it.
///
/// # Errors
/// `Request`.
pub fn day(text: &str) -> Result<Date, DeskError> {
    text.trim()
        .parse()
        .map_err(|_| request(format!("'{text}' is not a day; write it like 2026-03-31")))
}

fn said(text: &str) -> Option<String> {
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_owned())
}

fn request(message: impl Into<String>) -> DeskError {
    DeskError::Request(message.into())
}

#[cfg(test)]
mod tests {
    use interstice_book::KeptLot;
    use jiff::civil::date;

    use super::*;

    const TODAY: Date = date(2026, 3, 1);

    fn words() -> LotWords {
        LotWords {
            number: " KR-300 ".to_owned(),
            count: 3,
            price: "59,90".to_owned(),
            currency: "eur".to_owned(),
            use_by: "2026-09-30".to_owned(),
            ..LotWords::default()
        }
    }

    #[test]
    fn a_price_of_one_and_of_all_and_the_currency_said_before() {
        let lot = words().lot(&Stock::default(), TODAY).unwrap();
        let money = |minor| {
            let currency = Currency::named("EUR").unwrap();
            Some(Price::All(Money { minor, currency }))
        };
        assert_eq!(
            (lot.price.clone(), lot.number.as_deref()),
            (money(17_970), Some("KR-300"))
        );
        assert_eq!(
            (lot.holds, lot.arrival),
            (Holds::Sensors, Arrival::Arrived(TODAY))
        );
        let stock = Stock {
            lots: vec![KeptLot { id: 1, lot }],
            ..Stock::default()
        };
        let next = LotWords {
            currency: String::new(),
            price: "100".to_owned(),
            price_of_all: true,
            expected: "2026-03-09".to_owned(),
            ..words()
        };
        let lot = next.lot(&stock, TODAY).unwrap();
        assert_eq!(
            (lot.price, lot.arrival),
            (money(10_000), Arrival::Expected(date(2026, 3, 9)))
        );
        let free = LotWords {
            price: String::new(),
            free: true,
            ..words()
        };
        assert_eq!(free.lot(&stock, TODAY).unwrap().price, Some(Price::Free));
    }

    #[test]
    fn what_cannot_be_meant_is_refused_with_how_to_write_it() {
        let no = |text: &str| text.to_owned();
        for (wrong, word) in [
            (
                LotWords {
                    currency: String::new(),
                    ..words()
                },
                "currency",
            ),
            (
                LotWords {
                    currency: no("two words"),
                    ..words()
                },
                "write it like EUR",
            ),
            (
                LotWords {
                    price: no("much"),
                    ..words()
                },
                "write it like 59.90",
            ),
            (
                LotWords {
                    free: true,
                    ..words()
                },
                "either free",
            ),
            (
                LotWords {
                    use_by: no("30.9.2026"),
                    ..words()
                },
                "write it like 2026-03-31",
            ),
            (
                LotWords {
                    arrived: no("2026-03-02"),
                    ..words()
                },
                "future",
            ),
            (
                LotWords {
                    arrived: no("2026-03-01"),
                    expected: no("2026-03-02"),
                    ..words()
                },
                "either",
            ),
            (LotWords { count: 0, ..words() }, "count"),
            (
                LotWords {
                    holds: Some(Holds::Covers),
                    ..words()
                },
                "which cover",
            ),
            (
                LotWords {
                    price: no("900000000"),
                    count: 9000,
                    ..words()
                },
                "beyond belief",
            ),
        ] {
            let said = wrong.lot(&Stock::default(), TODAY).unwrap_err().to_string();
            assert!(said.contains(word), "{said}");
        }
    }
}

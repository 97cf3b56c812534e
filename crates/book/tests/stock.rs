//! Lots in the drawer: written, corrected, taken back.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Setting};
use interstice_glucose::{Arrival, Correction, Currency, Holds, Lot, Money, Price, SensorKind, WearFrom};
use jiff::civil::{Date, date};

const AT: i64 = 1_770_000_000;
const TODAY: Date = date(2026, 2, 2);

fn lot(number: &str, count: u32) -> Lot {
    Lot {
        holds: Holds::Sensors,
        name: None,
        number: Some(number.to_owned()),
        count,
        price: Some(Price::All(Money {
            minor: 11_980,
            currency: Currency::named("EUR").unwrap(),
        })),
        source: Some("bought".to_owned()),
        arrival: Arrival::Expected(TODAY),
        use_by: Some(date(2026, 8, 31)),
        note: Some("two in a box".to_owned()),
        corrections: Vec::new(),
    }
}

fn free_covers() -> Lot {
    Lot {
        holds: Holds::Covers,
        name: Some("clear patch".to_owned()),
        number: None,
        price: Some(Price::Free),
        source: None,
        arrival: Arrival::Arrived(TODAY),
        use_by: None,
        note: None,
        ..lot("", 10)
    }
}

fn dropped() -> Correction {
    Correction {
        by: -1,
        on: TODAY,
        reason: "dropped".to_owned(),
    }
}

#[test]
fn what_is_written_is_read_and_each_change_can_be_taken_back() {
    let mut book = Book::in_memory().unwrap();
    let (first, _) = book.add_lot(&lot("KR-300", 2), AT).unwrap();
    let (second, _) = book.add_lot(&free_covers(), AT).unwrap();
    assert_eq!((first, second), (1, 2));
    book.set_delivery_days(9, AT).unwrap();
    book.correct_lot(1, dropped(), AT).unwrap().unwrap();
    book.lot_arrived(1, TODAY, AT).unwrap().unwrap();
    // The same again is no change.
    assert_eq!(book.lot_arrived(1, TODAY, AT).unwrap(), None);
    let stock = book.stock().unwrap();
    assert_eq!(stock.delivery_days, Some(9));
    let expected = Lot {
        arrival: Arrival::Arrived(TODAY),
        corrections: vec![dropped()],
        ..lot("KR-300", 2)
    };
    assert_eq!(stock.lots[0].lot, expected);
    assert_eq!(stock.lots[1].lot, free_covers());
    assert_eq!(stock.lots[0].lot.pieces(), 1);

    let words: Vec<String> = book
        .journal()
        .unwrap()
        .into_iter()
        .map(|change| change.what)
        .collect();
    assert_eq!(
        words[0],
        "put lot 1 into the drawer: 2 sensors, lot number KR-300"
    );
    assert_eq!(words[3], "corrected the count of lot 1 by -1: dropped");

    book.undo(None, AT).unwrap();
    book.undo(None, AT).unwrap();
    assert_eq!(book.stock().unwrap().lots[0].lot, lot("KR-300", 2));
    book.remove_lot(2, AT).unwrap();
    assert_eq!(book.stock().unwrap().lots.len(), 1);
    book.undo(None, AT).unwrap();
    assert_eq!(book.stock().unwrap().lots[1].lot, free_covers());
    // From the drawer's own page nothing else is taken back.
    let other = book
        .set(Setting::Other("else".to_owned(), Some("x".to_owned())), AT)
        .unwrap()
        .unwrap();
    assert!(book.undo_stock(other, AT).unwrap_err().is_refusal());
    let (_, change) = book.add_lot(&lot("KR-301", 1), AT).unwrap();
    book.undo_stock(change, AT).unwrap();
    assert!(book.undo_stock(change, AT).unwrap_err().is_refusal());
    assert_eq!(book.stock().unwrap().lots.len(), 2);
    assert!(book.check().unwrap().is_whole());
}

#[test]
fn a_kind_has_a_usual_price_once_it_is_described() {
    let mut book = Book::in_memory().unwrap();
    let price = Money {
        minor: 5990,
        currency: Currency::named("EUR").unwrap(),
    };
    assert!(book.set_usual_price("mine", &price, AT).unwrap_err().is_refusal());
    let kind = SensorKind {
        name: "mine".to_owned(),
        wear_min: 14 * 1440,
        extra_min: 0,
        warm_up_min: 60,
        longest_bedding_min: 0,
        wear_from: WearFrom::Started,
        side_by_side: true,
        sites: Vec::new(),
    };
    book.set_sensor_kind(&kind, AT).unwrap();
    let change = book.set_usual_price("mine", &price, AT).unwrap().unwrap();
    assert_eq!(book.set_usual_price("mine", &price, AT).unwrap(), None);
    assert_eq!(book.stock().unwrap().usual_prices["mine"], price);
    book.undo_stock(change, AT).unwrap();
    assert!(book.stock().unwrap().usual_prices.is_empty());
    let key = "stock price of mine".to_owned();
    book.set(Setting::Other(key, Some("much".to_owned())), AT)
        .unwrap();
    assert!(book.stock().unwrap_err().to_string().contains("damaged"));
}

#[test]
fn what_makes_no_sense_is_refused_and_nothing_is_written() {
    let mut book = Book::in_memory().unwrap();
    book.add_lot(&lot("KR-300", 2), AT).unwrap();
    let before = book.journal().unwrap().len();
    let refused = |error: interstice_book::BookError, word: &str| {
        assert!(error.is_refusal() && error.to_string().contains(word), "{error}");
    };
    refused(book.add_lot(&lot("KR-301", 0), AT).unwrap_err(), "count");
    refused(book.correct_lot(7, dropped(), AT).unwrap_err(), "no lot 7");
    let three = Correction { by: -3, ..dropped() };
    refused(
        book.correct_lot(1, three, AT).unwrap_err(),
        "more pieces than came",
    );
    refused(book.remove_lot(7, AT).unwrap_err(), "stock list");
    refused(book.set_delivery_days(400, AT).unwrap_err(), "days");
    assert_eq!(book.journal().unwrap().len(), before);
    assert_eq!(book.stock().unwrap().lots[0].lot, lot("KR-300", 2));
}

#[test]
fn a_lot_that_cannot_be_read_is_damage_and_not_a_missing_lot() {
    for text in [
        "{",
        r#"{"holds":"spoons","count":1,"arrives":"2026-01-01","arrived":true}"#,
    ] {
        let mut book = Book::in_memory().unwrap();
        let key = "stock lot 1".to_owned();
        book.set(Setting::Other(key, Some(text.to_owned())), AT).unwrap();
        let said = book.stock().unwrap_err().to_string();
        assert!(
            said.contains("lot 1 of the drawer") && said.contains("damaged"),
            "{said}"
        );
    }
}

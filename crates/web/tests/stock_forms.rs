//! The drawer by the forms of the Wear page: a lot put in, corrected, come, taken back.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use axum::http::StatusCode;
use common::desk::{Desk, OWN, form_of};
use interstice_glucose::{
    Arrival, Currency, Draft, Holds, Money, Price, Readings, Said, Second, TraceDraft, TraceKind,
};

/// 2026-01-01T00:00:00Z.
const NOW: Second = 1_767_225_600;

/// Invented: a day of one sensor.
fn desk() -> Desk {
    let mut draft = Draft::default();
    let level = draft.levels.intern(Said::whole_mg_per_dl(110));
    let mut readings = Readings::default();
    for i in 0..288_i64 {
        readings.push(u32::try_from(NOW - 86_400 + 300 * i).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: "one".to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
    Desk::new(&draft, || NOW)
}

const LOT: &str = "holds=sensors&count=3&number=%3CKR%3E-300&use_by=2026-09-30&name=&price=179%2C70&price_of=all&currency=eur&source=bought&when=arrived&day=2025-12-30";

#[tokio::test]
async fn a_lot_goes_in_is_shown_and_is_taken_back() {
    let desk = desk();
    let before = desk.get("/wear").await;
    assert!(before.contains("Nothing is written down of it yet"));
    let (status, to, _) = desk.post("/wear/stock", LOT, OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    // Sent twice it is one lot, and it says which.
    let (status, _, said) = desk.post("/wear/stock", LOT, OWN).await;
    assert!(
        status == StatusCode::BAD_REQUEST && said.contains("has this lot already, as number 1"),
        "{said}"
    );
    let [kept] = desk.book.stock().unwrap().lots.try_into().unwrap();
    let money = Money {
        minor: 17_970,
        currency: Currency::named("EUR").unwrap(),
    };
    assert_eq!((kept.lot.price, kept.lot.count), (Some(Price::All(money)), 3));
    let page = desk
        .get(to.split('#').next().unwrap())
        .await
        .replace('\u{a0}', " ");
    assert!(page.contains("&lt;KR&gt;-300") && page.contains("179.70 EUR") && !page.contains("<KR>"));
    assert!(page.contains("sensors are in the drawer"));
    let (_, undo) = form_of(&page, "/wear/stock/undo");
    assert_eq!(
        desk.post("/wear/stock/undo", &undo, OWN).await.0,
        StatusCode::SEE_OTHER
    );
    assert!(desk.book.stock().unwrap().lots.is_empty());
    // Twice it cannot be taken back, and it says so.
    let (status, _, said) = desk.post("/wear/stock/undo", &undo, OWN).await;
    assert!(
        status.is_client_error() && said.contains("was undone"),
        "{status}: {said}"
    );
}

#[tokio::test]
async fn counts_deliveries_and_arrivals_are_written_and_nonsense_is_refused() {
    let desk = desk();
    desk.post("/wear/stock", LOT, OWN).await;
    let coming = "holds=covers&count=10&number=&use_by=&name=clear+patch&price=&price_of=free&currency=&source=&when=expected&day=2026-01-20";
    desk.post("/wear/stock", coming, OWN).await;
    for (path, form) in [
        ("/wear/stock/correct", "lot=1&by=%E2%88%921&reason=dropped"),
        ("/wear/stock/arrived", "lot=2"),
        ("/wear/stock/delivery", "days=9"),
    ] {
        assert_eq!(
            desk.post(path, form, OWN).await.0,
            StatusCode::SEE_OTHER,
            "{path}"
        );
    }
    let stock = desk.book.stock().unwrap();
    assert_eq!((stock.lots[0].lot.pieces(), stock.delivery_days), (2, Some(9)));
    assert_eq!(
        (stock.lots[1].lot.holds, stock.lots[1].lot.price.clone()),
        (Holds::Covers, Some(Price::Free))
    );
    assert!(matches!(stock.lots[1].lot.arrival, Arrival::Arrived(day) if day.to_string() == "2026-01-01"));
    for (path, form, word) in [
        (
            "/wear/stock",
            LOT.replace("count=3", "count=three"),
            "whole number",
        ),
        (
            "/wear/stock",
            LOT.replace("holds=sensors", "holds=spoons"),
            "choose one",
        ),
        (
            "/wear/stock",
            LOT.replace("when=arrived&day=2025-12-30", "when=expected&day="),
            "which day",
        ),
        (
            "/wear/stock",
            LOT.replace("currency=eur", "currency=two+words"),
            "currency",
        ),
        (
            "/wear/stock/correct",
            "lot=1&by=-9&reason=lost".to_owned(),
            "more pieces than came",
        ),
        (
            "/wear/stock/correct",
            "lot=1&by=one&reason=lost".to_owned(),
            "number of pieces",
        ),
        ("/wear/stock/remove", "lot=7".to_owned(), "no lot 7"),
        ("/wear/stock/delivery", "days=".to_owned(), "whole number"),
        (
            "/wear/stock/price",
            "price=59.90&currency=EUR".to_owned(),
            "your kind of sensor first",
        ),
    ] {
        let (status, _, said) = desk.post(path, &form, OWN).await;
        assert!(
            status.is_client_error() && said.contains(word),
            "{path} {form}: {status} {said}"
        );
    }
    // Another page cannot write here.
    let (status, ..) = desk.post("/wear/stock", LOT, "http://example.org").await;
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert_eq!(desk.book.stock().unwrap(), stock);
    assert_eq!(
        desk.post("/wear/stock/remove", "lot=1", OWN).await.0,
        StatusCode::SEE_OTHER
    );
    assert_eq!(desk.book.stock().unwrap().lots.len(), 1);
}

//! The pages in a real browser: phone and laptop, light and dark, both units.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use common::Fake;
use common::browser::{Driver, LAPTOP, Look, PHONE, app, browser, keep, sideways};

async fn visit(driver: &Driver, look: Look, address: &str, pages: &[(&str, &str)]) {
    let profile = tempfile::tempdir().unwrap();
    let client = browser(driver, look, profile.path()).await;
    for (name, path) in pages {
        client.goto(&format!("{address}{path}")).await.unwrap();
        keep(&client, look, name).await;
        assert!(
            !sideways(&client).await,
            "{name} scrolls sideways on a {}",
            look.name
        );
    }
    client.close().await.unwrap();
}

/// Every page in one look.
async fn pages(driver: &Driver, look: Look, (book, empty): (&str, &str)) {
    let pages = [
        ("now-mg", "/now"),
        ("now-mmol", "/now?unit=mmol"),
        ("second-look", "/second-look"),
        ("review-mg", "/review"),
        ("review-mmol", "/review?unit=mmol"),
        ("quarter", "/review?days=90"),
        ("compare-form", "/review/compare"),
        ("compare", "/review/compare?days=weekend"),
        ("imports", "/imports"),
        ("settings", "/settings"),
        ("write", "/write?what=dose"),
        ("days", "/days"),
        (
            "find",
            "/find?what=low&from=22:00&to=06:00&after=activity&days=90",
        ),
        ("trust", "/trust"),
        ("wear", "/wear"),
        ("sensor-mg", "/trust/sensor/sensor%203"),
        ("sensor-day", "/trust/sensor/sensor%203?day=4"),
        ("sensor-mmol", "/trust/sensor/sensor%203?unit=mmol"),
    ];
    visit(driver, look, book, &pages).await;
    visit(driver, look, empty, &[("welcome", "/")]).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_fits_phone_and_laptop_in_light_and_dark() {
    let (Some(driver), Some(other)) = (Driver::start(), Driver::start()) else {
        return;
    };
    let book = app(Fake::days(14)).await;
    let empty = app(Fake::empty()).await;
    let at = (book.as_str(), empty.as_str());
    for dark in [false, true] {
        let tall = |look| Look {
            dark,
            height: 6400,
            ..look
        };
        tokio::join!(pages(&driver, tall(PHONE), at), pages(&other, tall(LAPTOP), at));
    }
}

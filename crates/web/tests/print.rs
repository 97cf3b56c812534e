//! Every page on paper: nothing to press, nothing wider than the sheet, nothing empty.

mod common;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use common::browser::{Driver, LAPTOP, browser, protocol, sideways};
use common::pages::{PAGES, served};
use serde_json::{Value, json};

/// What lies between the margins of an A4 sheet: 182 mm at 96 pixels an inch (CSS 2.1, section 4.3.2).
const BETWEEN_MARGINS_PX: u32 = 688;

/// Anything shown that can only be pressed or typed in. The settings say by their form what they are.
const PRESSED: &str = "const shown = (e) => e.checkVisibility({ visibilityProperty: true }) && e.getClientRects().length > 0; \
    return [...document.querySelectorAll('button, select, input, textarea, .top nav, a[download]')] \
        .filter((e) => !e.closest('form.settings') && shown(e)).map((e) => e.outerHTML.slice(0, 90))";

const SAID: &str = "return document.querySelector('main').innerText.trim().length";

#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_fit_for_paper() {
    let Some(driver) = Driver::start() else { return };
    let folder = tempfile::tempdir().unwrap();
    let own = served(folder.path()).await;
    let profile = tempfile::tempdir().unwrap();
    let client = browser(&driver, LAPTOP, profile.path()).await;
    let size =
        json!({ "width": BETWEEN_MARGINS_PX, "height": 1000, "deviceScaleFactor": 1, "mobile": false });
    protocol(&client, "Emulation.setDeviceMetricsOverride", size).await;
    protocol(&client, "Emulation.setEmulatedMedia", json!({ "media": "print" })).await;
    let mut wrong = Vec::new();
    for (name, path) in PAGES {
        client.goto(&format!("{own}{path}")).await.unwrap();
        let pressed = client.execute(PRESSED, vec![]).await.unwrap();
        if pressed != json!([]) {
            wrong.push(format!("{name}: {pressed}"));
        }
        if sideways(&client).await {
            wrong.push(format!("{name} is wider than the sheet"));
        }
        let said = client.execute(SAID, vec![]).await.unwrap();
        if said.as_u64() < Some(20) {
            wrong.push(format!("{name} says nothing on paper"));
        }
        let paper = json!({ "paperWidth": 8.27, "paperHeight": 11.69, "preferCSSPageSize": true });
        let Value::String(pdf) = protocol(&client, "Page.printToPDF", paper).await["data"].take() else {
            panic!("{name} was not printed")
        };
        let pdf = STANDARD.decode(pdf).unwrap();
        assert!(pdf.starts_with(b"%PDF"), "{name}");
        if let Some(folder) = std::env::var_os("INTERSTICE_SCREENS").map(std::path::PathBuf::from) {
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(folder.join(format!("{name}.pdf")), pdf).unwrap();
        }
    }
    client.close().await.unwrap();
    assert_eq!(wrong, Vec::<String>::new());
}

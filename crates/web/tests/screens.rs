//! The pages in a real browser: phone and laptop, light and dark, both units. Skipped where there is no chromedriver.
//! With `INTERSTICE_SCREENS=FOLDER` the pictures taken are kept there, to be looked at.

#![expect(clippy::unwrap_used, clippy::print_stdout, reason = "a test fails by panicking, and says why it is skipped")]

mod common;

use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

use common::Fake;
use fantoccini::{Client, ClientBuilder};
use hyper_util::client::legacy::connect::HttpConnector;
use interstice_web::Served;
use serde_json::json;

/// The driver, ended with the test.
struct Driver {
    child: Child,
    port: u16,
}

impl Driver {
    fn start() -> Option<Self> {
        let port = TcpListener::bind("127.0.0.1:0").ok()?.local_addr().ok()?.port();
        let mut command = Command::new("chromedriver");
        let child = command
            .arg(format!("--port={port}"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn();
        match child {
            Ok(child) => Some(Driver { child, port }),
            Err(error) => {
                println!("skipped: chromedriver cannot be started ({error})");
                None
            }
        }
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// How the page is looked at.
#[derive(Clone, Copy)]
struct Look {
    name: &'static str,
    width: u32,
    height: u32,
    phone: bool,
    dark: bool,
    script: bool,
}

const PHONE: Look = Look {
    name: "phone",
    width: 390,
    height: 760,
    phone: true,
    dark: false,
    script: true,
};
const LAPTOP: Look = Look {
    name: "laptop",
    width: 1280,
    height: 800,
    phone: false,
    dark: false,
    script: true,
};

async fn browser(driver: &Driver, look: Look, profile: &Path) -> Client {
    let mut args: Vec<String> = [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--hide-scrollbars",
    ]
    .map(str::to_owned)
    .to_vec();
    args.push(format!("--window-size={},{}", look.width, look.height));
    args.push(format!("--user-data-dir={}", profile.display()));
    args.push(format!(
        "--blink-settings=preferredColorScheme={}",
        u8::from(!look.dark)
    ));
    let mut options = json!({ "args": args });
    if look.phone {
        options["mobileEmulation"] = json!({ "deviceMetrics": { "width": look.width, "height": look.height, "pixelRatio": 2, "touch": true } });
    }
    if !look.script {
        options["prefs"] = json!({ "profile.managed_default_content_settings.javascript": 2 });
    }
    let mut capabilities = serde_json::Map::new();
    capabilities.insert("goog:chromeOptions".to_owned(), options);
    let address = format!("http://127.0.0.1:{}", driver.port);
    for _ in 0..50 {
        match ClientBuilder::new(HttpConnector::new())
            .capabilities(capabilities.clone())
            .connect(&address)
            .await
        {
            Ok(client) => return client,
            Err(_) => tokio::time::sleep(Duration::from_millis(200)).await,
        }
    }
    panic!("the browser did not start");
}

/// The app over an invented book, on a port of its own.
async fn app(fake: Arc<Fake>) -> String {
    let served = Served::over(fake, 0).await.unwrap();
    let address = format!("http://{}", served.address());
    tokio::spawn(served.until(std::future::pending()));
    address
}

/// Keeps a picture where the person asked for pictures.
async fn keep(client: &Client, look: Look, name: &str) {
    let png = client.screenshot().await.unwrap();
    assert!(png.starts_with(b"\x89PNG"), "{name} is no picture");
    if let Some(folder) = std::env::var_os("INTERSTICE_SCREENS").map(PathBuf::from) {
        let shade = if look.dark { "dark" } else { "light" };
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(folder.join(format!("{name}-{}-{shade}.png", look.name)), png).unwrap();
    }
}

/// Whether anything is wider than the window.
async fn sideways(client: &Client) -> bool {
    let script = "return document.documentElement.scrollWidth > document.documentElement.clientWidth + 1";
    client.execute(script, vec![]).await.unwrap().as_bool().unwrap()
}

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

#[tokio::test(flavor = "multi_thread")]
async fn every_page_fits_phone_and_laptop_in_light_and_dark() {
    let Some(driver) = Driver::start() else { return };
    let book = app(Fake::days(14)).await;
    let empty = app(Fake::empty()).await;
    for look in [PHONE, LAPTOP] {
        for dark in [false, true] {
            let look = Look {
                dark,
                height: 6400,
                ..look
            };
            let pages = [
                ("review-mg", "/review"),
                ("review-mmol", "/review?unit=mmol"),
                ("quarter", "/review?days=90"),
            ];
            visit(&driver, look, &book, &pages).await;
            visit(
                &driver,
                look,
                &book,
                &[
                    ("imports", "/imports"),
                    ("settings", "/settings"),
                    ("days", "/days"),
                ],
            )
            .await;
            visit(&driver, look, &empty, &[("welcome", "/")]).await;
        }
    }
}

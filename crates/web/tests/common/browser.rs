//! A real browser. Skipped where there is no chromedriver. With `INTERSTICE_SCREENS=FOLDER` the pictures taken are kept
//! there, to be looked at.

#![expect(clippy::print_stdout, reason = "a test says why it is skipped")]

use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

use axum::http::Method;
use fantoccini::wd::{TimeoutConfiguration, WebDriverCompatibleCommand};
use fantoccini::{Client, ClientBuilder};
use hyper_util::client::legacy::connect::HttpConnector;
use interstice_web::{Backend, Served};
use serde_json::{Value, json};

use super::Fake;

/// The driver, ended with the test.
pub(crate) struct Driver {
    child: Child,
    port: u16,
}

impl Driver {
    pub(crate) fn start() -> Option<Self> {
        let port = TcpListener::bind("127.0.0.1:0").ok()?.local_addr().ok()?.port();
        let mut command = Command::new("chromedriver");
        let child = command
            .arg(format!("--port={port}"))
            // A zone nobody here lives in: a page that used the browser's own would be hours off.
            .env("TZ", "Pacific/Chatham")
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
pub(crate) struct Look {
    pub(crate) name: &'static str,
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) phone: bool,
    pub(crate) dark: bool,
    pub(crate) script: bool,
}

pub(crate) const PHONE: Look = Look {
    name: "phone",
    width: 390,
    height: 760,
    phone: true,
    dark: false,
    script: true,
};
pub(crate) const LAPTOP: Look = Look {
    name: "laptop",
    width: 1280,
    height: 800,
    phone: false,
    dark: false,
    script: true,
};

pub(crate) async fn browser(driver: &Driver, look: Look, profile: &Path) -> Client {
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
    capabilities.insert(
        "goog:loggingPrefs".to_owned(),
        json!({ "browser": "ALL", "performance": "ALL" }),
    );
    let address = format!("http://127.0.0.1:{}", driver.port);
    for _ in 0..50 {
        match ClientBuilder::new(HttpConnector::new())
            .capabilities(capabilities.clone())
            .connect(&address)
            .await
        {
            Ok(client) => {
                // On a machine that does much else a long page takes its time to be looked through.
                let patient = TimeoutConfiguration::new(Some(Duration::from_secs(300)), None, None);
                client.update_timeouts(patient).await.unwrap();
                return client;
            }
            Err(_) => tokio::time::sleep(Duration::from_millis(200)).await,
        }
    }
    panic!("the browser did not start");
}

/// The app over an invented book, on a port of its own.
pub(crate) async fn app(fake: Arc<Fake>) -> String {
    app_over(fake).await
}

/// The app over any book, on a port of its own.
pub(crate) async fn app_over(book: Arc<dyn Backend>) -> String {
    let served = Served::over(book, 0).await.unwrap();
    let address = format!("http://{}", served.address());
    tokio::spawn(served.until(std::future::pending()));
    address
}

/// Keeps a picture where the person asked for pictures.
pub(crate) async fn keep(client: &Client, look: Look, name: &str) {
    let png = client.screenshot().await.unwrap();
    assert!(png.starts_with(b"\x89PNG"), "{name} is no picture");
    if let Some(folder) = std::env::var_os("INTERSTICE_SCREENS").map(PathBuf::from) {
        let shade = if look.dark { "dark" } else { "light" };
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(folder.join(format!("{name}-{}-{shade}.png", look.name)), png).unwrap();
    }
}

/// Whether anything is wider than the window.
pub(crate) async fn sideways(client: &Client) -> bool {
    let script = "return document.documentElement.scrollWidth > document.documentElement.clientWidth + 1";
    client.execute(script, vec![]).await.unwrap().as_bool().unwrap()
}

/// Something asked of the driver that its standard has no word for.
#[derive(Debug)]
struct Beyond {
    what: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for Beyond {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/{}", session.unwrap_or_default(), self.what))
    }

    fn method_and_body(&self, _: &url::Url) -> (Method, Option<String>) {
        (Method::POST, Some(self.body.to_string()))
    }
}

/// What the browser logged since it was last asked: 'browser' (its console) or 'performance' (its network).
pub(crate) async fn logged(client: &Client, kind: &str) -> Vec<Value> {
    let command = Beyond {
        what: "se/log",
        body: json!({ "type": kind }),
    };
    let lines = client.issue_cmd(command).await.unwrap();
    lines.as_array().unwrap().clone()
}

/// Asks the browser itself, by its debugging protocol.
pub(crate) async fn protocol(
    client: &Client,
    method: &'static str,
    parameters: serde_json::Value,
) -> serde_json::Value {
    let command = Beyond {
        what: "goog/cdp/execute",
        body: json!({ "cmd": method, "params": parameters }),
    };
    client.issue_cmd(command).await.unwrap()
}

/// Shows the open page anew at a width and in a scheme.
pub(crate) async fn look_at(client: &Client, look: Look) {
    let size =
        json!({ "width": look.width, "height": look.height, "deviceScaleFactor": 1, "mobile": look.phone });
    protocol(client, "Emulation.setDeviceMetricsOverride", size).await;
    let scheme = if look.dark { "dark" } else { "light" };
    let media = json!({ "features": [{ "name": "prefers-color-scheme", "value": scheme }] });
    protocol(client, "Emulation.setEmulatedMedia", media).await;
}

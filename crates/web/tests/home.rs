//! The home network: encrypted, through the door, for paired devices; and links that show one page.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::net::SocketAddr;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use common::browser::{Driver, Look, PHONE, browser, keep, look_at, protocol, sideways};
use common::{Fake, routes};
use interstice_glucose::Second;
use interstice_home::{Household, Names, Page};
use interstice_web::{Door, Served, router};
use rustls::pki_types::ServerName;
use rustls::{ClientConfig, RootCertStore};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;

const NOW: Second = 1_767_225_600;
const PASSPHRASE: &str = "five words are enough here";

/// The app at home, on this machine's own address, and a device that trusts its certificate.
struct Home {
    door: Arc<Door>,
    household: Household,
    at: SocketAddr,
    here: SocketAddr,
    trust: Arc<ClientConfig>,
    said: Arc<Mutex<Vec<String>>>,
    _folder: tempfile::TempDir,
}

struct Told {
    status: u16,
    head: String,
    body: String,
}

impl Told {
    fn header(&self, name: &str) -> &str {
        let lines = self.head.lines().filter_map(|line| line.split_once(": "));
        lines
            .filter(|(own, _)| own.eq_ignore_ascii_case(name))
            .map(|(_, value)| value)
            .next()
            .unwrap_or("")
    }
}

impl Home {
    async fn open() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let household = Household::beside(&folder.path().join("book"));
        household.choose_passphrase(PASSPHRASE).unwrap();
        let names = Names::here(Some("127.0.0.1".parse().unwrap())).unwrap();
        let certificate = household.certificate(&names.all(), now()).unwrap();
        let mut roots = RootCertStore::empty();
        roots.add(certificate.chain[1].clone()).unwrap();
        let ring = Arc::new(rustls::crypto::ring::default_provider());
        let trust = ClientConfig::builder_with_provider(ring)
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_root_certificates(roots)
            .with_no_client_auth();
        let said = Arc::new(Mutex::new(Vec::new()));
        let heard = Arc::clone(&said);
        let told = Box::new(move |text: &str| heard.lock().unwrap().push(text.to_owned()));
        let door = Door::at_home(household.clone(), || NOW, certificate.root().to_vec(), told);
        let served = Served::over(Fake::days(14), 0).await.unwrap();
        let served = served
            .at_home(Arc::clone(&door), &names, 0, certificate)
            .await
            .unwrap();
        let (at, here) = (served.home_addresses()[0], served.address());
        tokio::spawn(served.until(std::future::pending()));
        Home {
            door,
            household,
            at,
            here,
            trust: Arc::new(trust),
            said,
            _folder: folder,
        }
    }

    async fn ask(&self, method: &str, path: &str, headers: &str, body: &str) -> Told {
        let name = ServerName::try_from("127.0.0.1").unwrap();
        let stream = TcpStream::connect(self.at).await.unwrap();
        let mut stream = TlsConnector::from(Arc::clone(&self.trust))
            .connect(name, stream)
            .await
            .unwrap();
        let host = if headers.contains("Host: ") {
            String::new()
        } else {
            format!("Host: {}\r\n", self.at)
        };
        let request = format!(
            "{method} {path} HTTP/1.1\r\n{host}{headers}Connection: close\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        );
        stream.write_all(request.as_bytes()).await.unwrap();
        let mut answer = Vec::new();
        // The other side may close without a farewell.
        let _ = stream.read_to_end(&mut answer).await;
        parsed(&answer)
    }

    async fn get(&self, path: &str, cookie: &str) -> Told {
        self.ask("GET", path, &format!("Accept: text/html\r\n{cookie}"), "")
            .await
    }

    async fn post(&self, path: &str, cookie: &str, form: &str) -> Told {
        let headers = format!(
            "Origin: https://{}\r\nContent-Type: application/x-www-form-urlencoded\r\n{cookie}",
            self.at
        );
        self.ask("POST", path, &headers, form).await
    }

    async fn pair(&self, code: &str, passphrase: &str) -> Told {
        let form = [("code", code), ("passphrase", passphrase), ("name", "a phone")];
        self.post("/home/pair", "", &serde_urlencoded::to_string(form).unwrap())
            .await
    }

    /// A device that was paired, as the header it sends.
    async fn paired(&self) -> String {
        let code = self.door.show_code().unwrap();
        let told = self.pair(&code, PASSPHRASE).await;
        assert_eq!(
            (told.status, told.header("location")),
            (303, "/now"),
            "{}",
            told.body
        );
        let cookie = told.header("set-cookie").split(';').next().unwrap().to_owned();
        format!("Cookie: {cookie}\r\n")
    }
}

fn parsed(answer: &[u8]) -> Told {
    let answer = String::from_utf8_lossy(answer);
    let (head, body) = answer.split_once("\r\n\r\n").unwrap_or((&answer, ""));
    let status = head.split(' ').nth(1).and_then(|status| status.parse().ok());
    Told {
        status: status.unwrap_or(0),
        head: head.to_owned(),
        body: body.to_owned(),
    }
}

/// The certificate is held against the real clock by whoever connects.
fn now() -> Second {
    let passed = std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .unwrap();
    i64::try_from(passed.as_secs()).unwrap()
}

/// What is open to everybody, and tells of nothing.
const OPEN: [&str; 8] = [
    "/home/pair",
    "/home/root.crt",
    "/app.webmanifest",
    "/favicon.ico",
    "/assets/{name}",
    "/assets/chart.css",
    "/assets/sheet.css",
    "/link/{secret}",
];

/// A token is a right of its own: it sends, encrypted, without being paired, and opens nothing else.
#[tokio::test]
async fn a_token_sends_without_being_paired_and_opens_nothing() {
    let home = Home::open().await;
    let (source, token) = home.household.let_send("phone", NOW).unwrap();
    let by = |token: &str| format!("Authorization: Bearer {token}\r\nContent-Type: application/json\r\n");
    let taken = home.ask("POST", "/push", &by(&token), "{}").await;
    assert!(
        taken.body.contains("\"rows_read\":0"),
        "{} {}",
        taken.status,
        taken.body
    );
    for (method, path) in [
        ("GET", "/now"),
        ("GET", "/feeds"),
        ("GET", "/events"),
        ("POST", "/settings"),
    ] {
        let answer = home.ask(method, path, &by(&token), "").await;
        assert!([401, 403].contains(&answer.status), "{path}: {}", answer.status);
    }
    assert_eq!(home.ask("POST", "/push", &by("forged"), "{}").await.status, 401);
    let elsewhere = by(&token) + "Origin: https://example.org\r\n";
    assert!([401, 403].contains(&home.ask("POST", "/push", &elsewhere, "{}").await.status));
    home.household.revoke_source(source.id).unwrap();
    assert_eq!(home.ask("POST", "/push", &by(&token), "{}").await.status, 401);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_device_that_is_not_paired_reads_and_writes_nothing() {
    let home = Home::open().await;
    let forged = format!("Cookie: __Host-interstice={}\r\n", "0".repeat(64));
    let mut asked = 0;
    for route in routes::all(&router(Fake::empty())) {
        let path = route.filled("1");
        if route.get && !OPEN.contains(&route.path.as_str()) {
            let told = home.get(&path, &forged).await;
            assert_eq!(
                (told.status, told.header("location")),
                (303, "/home/pair"),
                "{path}"
            );
            let told = home.ask("GET", &path, "", "").await;
            assert_eq!(told.status, 401, "{path}");
            asked += 1;
        }
        if route.post && route.path != "/home/pair" {
            assert_eq!(home.post(&path, &forged, "a=b").await.status, 401, "{path}");
            asked += 1;
        }
    }
    assert!(asked > 80, "{asked}");
    for open in [
        "/home/pair",
        "/home/root.crt",
        "/app.webmanifest",
        "/assets/app.css",
    ] {
        assert_eq!(home.get(open, "").await.status, 200, "{open}");
    }
    assert_eq!(home.get("/link/1", "").await.status, 404);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_paired_device_reads_until_it_is_revoked() {
    let home = Home::open().await;
    let code = home.door.show_code().unwrap();
    let told = home.pair(&code, PASSPHRASE).await;
    let cookie = told.header("set-cookie").to_owned();
    for part in [
        "__Host-interstice=",
        "; Path=/;",
        "; Secure",
        "; HttpOnly",
        "; SameSite=Strict",
        "Max-Age=",
    ] {
        assert!(cookie.contains(part), "{cookie}");
    }
    assert!(!cookie.contains("Domain"));
    assert_eq!(home.said.lock().unwrap().as_slice(), ["paired: a phone"]);
    let paired = format!("Cookie: other=1; {}\r\n", cookie.split(';').next().unwrap());
    let page = home.get("/now", &paired).await;
    assert_eq!(page.status, 200);
    assert!(page.body.contains("<h1>Now"));
    let list = home.get("/devices", &paired).await.body;
    assert!(
        list.contains("a phone") && list.contains("one device is paired"),
        "{list}"
    );
    // The same code again pairs nobody.
    assert_eq!(home.pair(&code, PASSPHRASE).await.status, 403);
    // A write from the device's own pages is taken, one that began elsewhere is not.
    let own = home
        .post(
            "/settings",
            &paired,
            "unit=mmol%2FL&targets=adult&zone=Europe%2FLisbon",
        )
        .await;
    assert_eq!(own.status, 303);
    let insecure = format!("Origin: http://{}\r\n{paired}", home.at);
    assert_eq!(home.ask("POST", "/settings", &insecure, "").await.status, 403);
    // Revoked from another program, it is out at once.
    home.household.revoke(1).unwrap();
    assert_eq!(home.get("/now", &paired).await.status, 303);
    // And by the page itself.
    let second = home.paired().await;
    let id = home.household.devices(NOW).unwrap()[0].id;
    assert_eq!(
        home.post("/devices/revoke", &second, &format!("id={id}"))
            .await
            .status,
        303
    );
    assert_eq!(home.get("/now", &second).await.status, 303);
}

#[tokio::test(flavor = "multi_thread")]
async fn wrong_codes_and_passphrases_are_slow_and_few() {
    let home = Home::open().await;
    assert_eq!(
        home.pair("12345678", PASSPHRASE).await.status,
        403,
        "no code was shown yet"
    );
    let code = home.door.show_code().unwrap();
    let begun = std::time::Instant::now();
    assert_eq!(home.pair(&code, "not the passphrase").await.status, 403);
    assert!(begun.elapsed() >= Duration::from_secs(1), "{:?}", begun.elapsed());
    let wrong = if code == "00000000" {
        "11111111"
    } else {
        "00000000"
    };
    for _ in 0..4 {
        assert_eq!(home.pair(wrong, PASSPHRASE).await.status, 403);
    }
    let ended = home.pair(&code, PASSPHRASE).await;
    assert_eq!(ended.status, 403, "five wrong tries end a code");
    assert!(ended.body.contains("ask for a new one"));
    let mut held = 0;
    for _ in 0..6 {
        held += u32::from(home.pair(wrong, PASSPHRASE).await.status == 429);
    }
    assert!(held >= 1, "ten tries at once, then six a minute");
    assert!(home.household.devices(NOW).unwrap().is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_encrypted_or_not_named_is_refused() {
    let home = Home::open().await;
    let mut plain = TcpStream::connect(home.at).await.unwrap();
    let request = format!(
        "GET /home/pair HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
        home.at
    );
    plain.write_all(request.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    let _ = plain.read_to_end(&mut answer).await;
    assert!(!String::from_utf8_lossy(&answer).contains("HTTP/"), "{answer:?}");

    let paired = home.paired().await;
    for host in ["example.org", "192.168.77.1:8743", "127.0.0.1.example.org"] {
        let told = home
            .ask("GET", "/now", &format!("Host: {host}\r\n{paired}"), "")
            .await;
        assert_eq!(told.status, 403, "{host}");
    }
    // The certificate is good for its own names alone.
    let other = ServerName::try_from("example.org").unwrap();
    let stream = TcpStream::connect(home.at).await.unwrap();
    let connected = TlsConnector::from(Arc::clone(&home.trust))
        .connect(other, stream)
        .await;
    assert!(connected.is_err());
    // On the machine itself nothing changed.
    let mut here = TcpStream::connect(home.here).await.unwrap();
    let request = format!(
        "GET /settings HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
        home.here
    );
    here.write_all(request.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    here.read_to_end(&mut answer).await.unwrap();
    assert_eq!(parsed(&answer).status, 200);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_link_shows_one_page_and_leads_nowhere() {
    let home = Home::open().await;
    let (link, secret) = home.household.link(Page::Visit, 7, NOW).unwrap();
    let shown = home.get(&format!("/link/{secret}"), "").await;
    assert_eq!(shown.status, 200);
    assert!(shown.body.contains("sheet-file"));
    assert_eq!(shown.header("cache-control"), "no-store");
    let page = scraper::Html::parse_document(&shown.body);
    let ways = scraper::Selector::parse("form, button, input, script, a:not([href^='#'])").unwrap();
    let ways: Vec<String> = page.select(&ways).map(|way| way.html()).collect();
    assert_eq!(ways, Vec::<String>::new());
    // It opens nothing else, and it cannot be posted to.
    for path in ["/now", "/visit", "/api/visit", "/devices"] {
        let cookie = format!("Cookie: __Host-interstice={secret}\r\n");
        assert_eq!(home.get(path, &cookie).await.status, 303, "{path}");
    }
    assert_eq!(home.get(&format!("/link/{secret}/more"), "").await.status, 404);
    assert_eq!(home.post(&format!("/link/{secret}"), "", "").await.status, 401);
    assert_eq!(home.get(&format!("/link/{}", &secret[1..]), "").await.status, 404);
    home.household.revoke_link(link.id).unwrap();
    let ended = home.get(&format!("/link/{secret}"), "").await;
    assert_eq!(ended.status, 404);
    assert!(!ended.body.contains("<nav"));

    // Made on the page, shown once.
    let paired = home.paired().await;
    let made = home.post("/devices/link", &paired, "days=3").await.body;
    let path = made
        .split("href=\"/link/")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    assert_eq!(home.get(&format!("/link/{path}"), "").await.status, 200);
    assert!(!home.get("/devices", &paired).await.body.contains(path));
}

/// A phone's browser is paired by hand. Its driver goes on past the certificate, as a person does who has compared it.
#[tokio::test(flavor = "multi_thread")]
async fn a_phone_is_paired_by_its_form() {
    let Some(driver) = Driver::start() else { return };
    let home = Home::open().await;
    let own = format!("https://{}", home.at);
    let profile = tempfile::tempdir().unwrap();
    let client = browser(&driver, PHONE, profile.path()).await;
    // A certificate it does not know is warned of, and nothing is shown.
    let _ = client.goto(&format!("{own}/now")).await;
    let warned = client.execute("return location.protocol", vec![]).await.unwrap();
    assert_eq!(warned, "chrome-error:");
    let go_on = serde_json::json!({ "ignore": true });
    protocol(&client, "Security.setIgnoreCertificateErrors", go_on).await;
    client.goto(&format!("{own}/now")).await.unwrap();
    let at = "return location.pathname";
    assert_eq!(client.execute(at, vec![]).await.unwrap(), "/home/pair");
    assert!(!sideways(&client).await);
    for dark in [false, true] {
        let look = Look { dark, ..PHONE };
        look_at(&client, look).await;
        keep(&client, look, "pair").await;
    }
    let code = home.door.show_code().unwrap();
    let fill = "const form = document.querySelector('form'); for (const [name, value] of Object.entries(arguments[0])) \
        form.querySelector(`[name=${name}]`).value = value; form.requestSubmit()";
    let wrong = serde_json::json!({ "code": code, "passphrase": "not the passphrase", "name": "phone" });
    client.execute(fill, vec![wrong]).await.unwrap();
    until(
        &client,
        "return document.querySelector('.answer').textContent.includes('is not right')",
    )
    .await;
    let right = serde_json::json!({ "code": code, "passphrase": PASSPHRASE, "name": "phone" });
    client.execute(fill, vec![right]).await.unwrap();
    until(&client, "return location.pathname === '/now'").await;
    assert_eq!(
        client.execute("return document.cookie", vec![]).await.unwrap(),
        "",
        "no script can read it"
    );
    client.goto(&format!("{own}/devices")).await.unwrap();
    assert!(!sideways(&client).await);
    look_at(&client, PHONE).await;
    keep(&client, PHONE, "devices").await;
    client.goto(&format!("{own}/settings")).await.unwrap();
    assert_eq!(client.execute(at, vec![]).await.unwrap(), "/settings");
    // Put out while this moment is open: it does not go on looking live.
    client.goto(&format!("{own}/now")).await.unwrap();
    home.household.revoke(1).unwrap();
    let news = "dispatchEvent(new Event('online'))";
    client.execute(news, vec![]).await.unwrap();
    until(&client, "return document.getElementById('unreached') !== null").await;
    client.close().await.unwrap();
}

async fn until(client: &fantoccini::Client, script: &str) {
    for _ in 0..100 {
        if client.execute(script, vec![]).await.is_ok_and(|so| so == true) {
            return;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    panic!("never so: {script}");
}

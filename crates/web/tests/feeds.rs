//! What comes by itself, on the pages: how each feed is, files that wait, and news in an open page.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use axum::Router;
use axum::http::StatusCode;
use common::browser::{Driver, LAPTOP, Look, PHONE, browser, keep, look_at, sideways};
use common::desk::flat;
use common::{Answer, answer_of, send_to};
use fantoccini::Client;
use interstice_book::{Book, Mode, Provenance};
use interstice_glucose::{Second, Zone};
use interstice_home::Household;
use interstice_web::{Door, KeptBook, Outside, Served, look_into_folders, router_with_door};
use serde_json::{Value, json};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::sync::oneshot;

const HOST: (&str, &str) = ("host", "127.0.0.1:8080");

fn now() -> Second {
    let passed = SystemTime::now().duration_since(UNIX_EPOCH).unwrap();
    i64::try_from(passed.as_secs()).unwrap()
}

struct Home {
    folder: tempfile::TempDir,
    household: Household,
}

impl Home {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let household = Household::beside(&folder.path().join("book"));
        Home { folder, household }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("book")
    }

    fn kept(&self) -> KeptBook {
        KeptBook::new(
            self.path(),
            Outside::new(Zone::named("Europe/Lisbon").unwrap(), now),
        )
    }

    fn app(&self) -> Router {
        router_with_door(Arc::new(self.kept()), Door::shut(self.household.clone(), now))
    }

    fn readings(&self) -> usize {
        let book = Book::open(self.path(), Mode::ReadOnly).unwrap();
        book.load_all().unwrap().reading_count()
    }
}

async fn page(app: &Router, path: &str) -> String {
    let answer = answer_of(app.clone(), "GET", path, &[HOST], "").await;
    assert_eq!(answer.status, StatusCode::OK, "{path}: {}", answer.text);
    // Numbers are kept beside their words.
    answer.text.replace('\u{a0}', " ")
}

fn readings(from: Second, count: i64) -> String {
    let list: Vec<Value> = (0..count)
        .map(|i| json!({ "at": from + i * 300, "glucose": 100 + i % 30, "unit": "mg/dL", "sensor": "A" }))
        .collect();
    json!(list).to_string()
}

async fn push(app: &Router, token: &str, body: &str) -> Answer {
    let bearer = format!("Bearer {token}");
    let headers = [
        HOST,
        ("content-type", "application/json"),
        ("authorization", bearer.as_str()),
    ];
    answer_of(app.clone(), "POST", "/push", &headers, body).await
}

/// The token a page shows, once.
fn token_in(page: &str) -> String {
    let parsed = scraper::Html::parse_document(page);
    let code = scraper::Selector::parse("code.token").unwrap();
    parsed.select(&code).next().unwrap().text().collect()
}

#[tokio::test]
async fn a_feed_is_made_told_of_and_ended_in_the_page() {
    let home = Home::new();
    let app = home.app();
    assert!(
        page(&app, "/feeds")
            .await
            .contains("Nothing brings readings by itself yet.")
    );
    let made = send_to(&app, "/feeds/token", "name=%3Cb%3Ephone").await;
    assert_eq!(made.status, StatusCode::OK);
    let token = token_in(&made.text);
    assert!(!page(&app, "/feeds").await.contains(&token), "it is shown once");
    assert_eq!(
        push(&app, &token, &readings(now() - 9000, 20)).await.status,
        StatusCode::OK
    );
    assert_eq!(
        push(&app, &token, &readings(now() + 9000, 1)).await.status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    for path in ["/now", "/feeds"] {
        let told = page(&app, path).await;
        assert!(
            told.contains("Late: the next reading") && told.contains("1 row could not be used"),
            "{told}"
        );
        assert!(
            told.contains("&lt;b&gt;phone") && !told.contains("<b>phone"),
            "{path}"
        );
    }
    assert!(page(&app, "/imports/1/rejected").await.contains("in the future"));
    assert_eq!(
        send_to(&app, "/feeds/end", "number=1").await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(
        push(&app, &token, &readings(now() - 60, 1)).await.status,
        StatusCode::UNAUTHORIZED
    );
    assert!(!page(&app, "/now").await.contains("id=\"feeds\""));
    assert_eq!(
        send_to(&app, "/feeds/end", "number=1").await.status,
        StatusCode::BAD_REQUEST
    );
}

fn export(day: u32) -> String {
    let rows = (0..60).map(|i| format!("2026-03-{day:02}T{:02}:{:02}:00;{}\n", i / 12, i % 12 * 5, 90 + i));
    format!("time;glucose mg/dL\n{}", rows.collect::<String>())
}

/// A file that has come to rest long ago.
fn lay(folder: &Path, name: &str, text: &str) {
    std::fs::write(folder.join(name), text).unwrap();
    let file = std::fs::File::options()
        .append(true)
        .open(folder.join(name))
        .unwrap();
    file.set_modified(SystemTime::now() - Duration::from_secs(60))
        .unwrap();
}

#[tokio::test]
async fn a_file_that_waits_is_looked_at_from_the_page_and_the_next_comes_by_itself() {
    let home = Home::new();
    let exports = home.folder.path().join("exports");
    std::fs::create_dir(&exports).unwrap();
    std::fs::write(home.folder.path().join("secret.csv"), export(9)).unwrap();
    lay(&exports, "a.csv", &export(1));
    home.household
        .watch("exports", exports.to_str().unwrap(), now())
        .unwrap();
    let (app, kept) = (home.app(), home.kept());
    let look = || look_into_folders(&home.household, &kept).unwrap();
    assert_eq!(look() + look(), 0);
    let told = page(&app, "/feeds").await;
    assert!(told.contains("1 file waits for you: a.csv"), "{told}");
    for other in ["..%2Fsecret.csv", "secret.csv", "b.csv", "%2Fetc%2Fpasswd"] {
        let answer = send_to(&app, "/feeds/look", &format!("number=1&file={other}")).await;
        assert_eq!(answer.status, StatusCode::BAD_REQUEST, "{other}");
    }
    let answer = send_to(&app, "/feeds/look", "number=1&file=a.csv").await;
    assert_eq!(
        (answer.status, answer.header("location")),
        (StatusCode::SEE_OTHER, "/bring/1")
    );
    assert!(page(&app, "/bring/1").await.contains("How a.csv is understood"));
    send_to(&app, "/bring/1/write", "").await;
    assert_eq!(home.readings(), 60);
    lay(&exports, "b.csv", &export(2));
    assert_eq!(look() + look() + look(), 60, "the layout is known now");
    assert_eq!(home.readings(), 120);
    let told = page(&app, "/now").await;
    assert!(
        told.contains("Exports, from the folder") && !told.contains("waits for you"),
        "{told}"
    );
}

/// While an invented recording is shown in place of an empty book, what is sent goes to the book, which is shown again.
#[tokio::test]
async fn what_is_sent_goes_to_the_book_also_while_another_recording_is_shown() {
    static INVENTED: OnceLock<PathBuf> = OnceLock::new();
    let home = Home::new();
    let invented = home.folder.path().join("invented");
    let mut book = Book::open(&invented, Mode::CreateIfAbsent).unwrap();
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(&flat("invented"), &Provenance::named("made up", [0; 32]), go_on)
        .unwrap();
    drop(book);
    let before = std::fs::read(INVENTED.get_or_init(|| invented)).unwrap();
    let outside = Outside {
        invent: Some(|| Ok((INVENTED.get().unwrap().clone(), Outside::new(Zone::utc(), now)))),
        ..Outside::new(Zone::utc(), now)
    };
    let (_, token) = home.household.let_send("phone", now()).unwrap();
    let door = Door::shut(home.household.clone(), now);
    let app = router_with_door(Arc::new(KeptBook::new(home.path(), outside)), door);
    assert_eq!(
        send_to(&app, "/begin/invented", "").await.status,
        StatusCode::SEE_OTHER
    );
    let shown = page(&app, "/now").await;
    assert!(shown.contains("does not exist") && !shown.contains("id=\"feeds\""));
    assert_eq!(
        push(&app, &token, &readings(now() - 6000, 20)).await.status,
        StatusCode::OK
    );
    assert_eq!(home.readings(), 20);
    assert!(!page(&app, "/now").await.contains("does not exist"));
    assert_eq!(before, std::fs::read(INVENTED.get().unwrap()).unwrap());
}

/// The app on a port, and somebody who may send.
struct Reach {
    home: Home,
    at: SocketAddr,
    token: String,
    stop: oneshot::Sender<()>,
    served: tokio::task::JoinHandle<()>,
}

async fn reach() -> Reach {
    let home = Home::new();
    let (_, token) = home.household.let_send("phone", now()).unwrap();
    let served = Served::over(Arc::new(home.kept()), 0).await.unwrap();
    let served = served.with_door(Door::shut(home.household.clone(), now));
    let at = served.address();
    let (stop, stopped) = oneshot::channel();
    let served = tokio::spawn(async move {
        served.until(async { drop(stopped.await) }).await.unwrap();
    });
    Reach {
        home,
        at,
        token,
        stop,
        served,
    }
}

impl Reach {
    async fn push(&self, body: &str) {
        let request = format!(
            "POST /push HTTP/1.1\r\nHost: {}\r\nAuthorization: Bearer {}\r\nContent-Type: application/json\r\n\
             Connection: close\r\nContent-Length: {}\r\n\r\n{body}",
            self.at,
            self.token,
            body.len()
        );
        let mut stream = TcpStream::connect(self.at).await.unwrap();
        stream.write_all(request.as_bytes()).await.unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).await.unwrap();
        assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    }
}

/// Reads until a piece of text has come.
async fn heard(line: &mut TcpStream, text: &str) -> String {
    let mut all = String::new();
    let mut piece = [0; 1024];
    while !all.contains(text) {
        let read = tokio::time::timeout(Duration::from_secs(15), line.read(&mut piece)).await;
        let read = read
            .unwrap_or_else(|_| panic!("'{text}' never came: {all}"))
            .unwrap();
        assert!(read > 0, "'{text}' never came: {all}");
        all.push_str(&String::from_utf8_lossy(&piece[..read]));
    }
    all
}

#[tokio::test(flavor = "multi_thread")]
async fn who_listens_hears_of_news_and_of_nothing_else_and_holds_up_no_end() {
    let there = reach().await;
    let mut line = TcpStream::connect(there.at).await.unwrap();
    let ask = format!(
        "GET /events HTTP/1.1\r\nHost: {}\r\nAccept: text/event-stream\r\n\r\n",
        there.at
    );
    line.write_all(ask.as_bytes()).await.unwrap();
    let head = heard(&mut line, "retry: ").await;
    assert!(
        head.contains("content-type: text/event-stream") && head.contains("no-store"),
        "{head}"
    );
    assert!(
        head.contains("content-security-policy: default-src 'none';") && !head.contains("gzip"),
        "{head}"
    );
    there.push(&readings(now() - 6000, 20)).await;
    let news = heard(&mut line, "\n\n").await;
    assert!(news.contains("data: news\n\n") && !news.contains("20"), "{news}");
    // What was found in a folder is told of too.
    let exports = there.home.folder.path().join("exports");
    std::fs::create_dir(&exports).unwrap();
    let kept = there.home.kept();
    let known = interstice_web::Upload {
        name: "first.csv".to_owned(),
        bytes: export(1).into_bytes(),
    };
    interstice_web::Backend::import(&kept, &known, &interstice_web::Answers::default()).unwrap();
    lay(&exports, "b.csv", &export(2));
    there
        .home
        .household
        .watch("exports", exports.to_str().unwrap(), now())
        .unwrap();
    let mut all = String::new();
    for _ in 0..4 {
        all += &heard(&mut line, "\n\n").await;
        if all.contains("data: news") {
            break;
        }
    }
    assert!(all.contains("data: news"), "{all}");
    assert_eq!(there.home.readings(), 140);
    there.stop.send(()).unwrap();
    let ended = tokio::time::timeout(Duration::from_secs(5), there.served).await;
    assert!(ended.is_ok(), "a page that listens keeps the app from ending");
}

async fn ask(client: &Client, script: &str) -> Value {
    client.execute(script, vec![]).await.unwrap()
}

/// Until a script answers true; how long that took.
async fn until(client: &Client, script: &str) -> Duration {
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(20) {
        if ask(client, script).await == json!(true) {
            return begun.elapsed();
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    let page = ask(client, "return document.body.innerText").await;
    panic!("never so: {script}\n{page}");
}

/// A reading is in an open page within this time of being sent.
const WITHIN: Duration = Duration::from_secs(1);

#[tokio::test(flavor = "multi_thread")]
async fn a_reading_is_in_the_open_page_within_a_second() {
    let Some(driver) = Driver::start() else { return };
    let there = reach().await;
    let first = now() - 40 * 300;
    there.push(&readings(first, 38)).await;
    let profile = tempfile::tempdir().unwrap();
    let client = browser(&driver, LAPTOP, profile.path()).await;
    let own = format!("http://{}", there.at);
    client.goto(&format!("{own}/now")).await.unwrap();
    let read = |at: Second| format!("return document.getElementById('now')?.dataset.read === '{at}'");
    until(&client, &read(first + 37 * 300)).await;
    // The line stands.
    tokio::time::sleep(Duration::from_millis(600)).await;
    let sent = Instant::now();
    there.push(&readings(first + 38 * 300, 1)).await;
    let took = (until(&client, &read(first + 38 * 300)).await, sent.elapsed());
    println!("in the page of now {took:?} after it was acknowledged, and after it was sent");
    assert!(took.1 < WITHIN, "{took:?}");
    let words = ask(
        &client,
        "return document.getElementById('feeds').parentElement.innerText",
    )
    .await;
    assert!(
        words
            .as_str()
            .unwrap()
            .contains("Phone, by its token: last reading"),
        "{words}"
    );
    pictures(&client, "now-feeds").await;

    client.goto(&format!("{own}/days")).await.unwrap();
    until(&client, "return window.interstice?.timeline?.ready() === true").await;
    let told = |count: usize| {
        format!(
            "return document.getElementById('timeline-answer').innerText.includes('{count}\u{a0}readings') || \
            document.getElementById('timeline-answer').innerText.includes('{count} readings')"
        )
    };
    until(&client, &told(39)).await;
    tokio::time::sleep(Duration::from_millis(600)).await;
    let sent = Instant::now();
    there.push(&readings(first + 39 * 300, 1)).await;
    until(&client, &told(40)).await;
    let took = sent.elapsed();
    println!("in the picture of days {took:?} after it was sent");
    assert!(took < WITHIN, "{took:?}");

    client.goto(&format!("{own}/feeds")).await.unwrap();
    pictures(&client, "feeds").await;
    client.close().await.unwrap();
}

async fn pictures(client: &Client, name: &str) {
    for dark in [false, true] {
        for look in [PHONE, LAPTOP].map(|look| Look { dark, ..look }) {
            look_at(client, look).await;
            assert!(!sideways(client).await, "{name} is wider than a {}", look.name);
            keep(client, look, name).await;
        }
    }
    look_at(client, LAPTOP).await;
}

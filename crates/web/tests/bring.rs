//! A file on its way into a real book: handed over, looked at, asked about, written, taken back.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::fmt::Write as _;
use std::sync::Arc;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use interstice_glucose::Zone;
use interstice_web::{Backend, KeptBook, Outside, router};
use tempfile::TempDir;
use tower::ServiceExt;

const HOST: &str = "127.0.0.1:8080";

/// A book that does not exist yet, and the app over it.
struct Desk {
    app: axum::Router,
    book: Arc<KeptBook>,
    folder: TempDir,
}

struct Answer {
    status: StatusCode,
    location: String,
    text: String,
}

impl Desk {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let outside = Outside::new(Zone::named("Europe/Lisbon").unwrap(), || 1_767_225_600);
        let book = Arc::new(KeptBook::new(folder.path().join("book"), outside));
        Desk {
            app: router(Arc::clone(&book) as Arc<dyn Backend>),
            book,
            folder,
        }
    }

    async fn send(&self, method: &str, path: &str, kind: &str, body: String) -> Answer {
        let request = Request::builder().method(method).uri(path).header("host", HOST);
        let request = request
            .header("origin", format!("http://{HOST}"))
            .header("content-type", kind);
        let response = self
            .app
            .clone()
            .oneshot(request.body(Body::from(body)).unwrap())
            .await
            .unwrap();
        let (parts, body) = response.into_parts();
        let bytes = axum::body::to_bytes(body, usize::MAX).await.unwrap();
        let location = parts
            .headers
            .get("location")
            .map_or("", |value| value.to_str().unwrap())
            .to_owned();
        Answer {
            status: parts.status,
            location,
            text: String::from_utf8(bytes.to_vec()).unwrap(),
        }
    }

    async fn get(&self, path: &str) -> Answer {
        self.send("GET", path, "text/plain", String::new()).await
    }

    async fn post(&self, path: &str, form: &str) -> Answer {
        self.send("POST", path, "application/x-www-form-urlencoded", form.to_owned())
            .await
    }

    async fn hand_over(&self, name: &str, text: &str) -> Answer {
        let body = format!(
            "--cut\r\ncontent-disposition: form-data; name=\"file\"; filename=\"{name}\"\r\n\r\n{text}\r\n--cut--\r\n"
        );
        self.send("POST", "/bring", "multipart/form-data; boundary=cut", body)
            .await
    }
}

/// Three invented days at five minutes, in the unit said.
fn invented(unit: &str) -> String {
    let mut text = format!("time,glucose ({unit})\n");
    for step in 0..864_u32 {
        let swing = f64::from((step * 7) % 96) / 96.0;
        let value = if unit == "mg/dL" {
            format!("{:.0}", 80.0 + 130.0 * swing)
        } else {
            format!("{:.1}", 4.4 + 7.2 * swing)
        };
        let (day, minute) = (3 + step / 288, step % 288 * 5);
        writeln!(
            text,
            "2025-03-{day:02} {:02}:{:02},{value}",
            minute / 60,
            minute % 60
        )
        .unwrap();
    }
    text
}

#[tokio::test]
async fn a_file_is_looked_at_before_anything_is_written() {
    let desk = Desk::new();
    let handed = desk.hand_over("<three> days.csv", &invented("mmol/L")).await;
    assert_eq!(
        (handed.status, handed.location.as_str()),
        (StatusCode::SEE_OTHER, "/bring/1")
    );
    let look = desk.get("/bring/1").await;
    assert!(
        look.text.contains("This file can be read.") && look.text.contains("&lt;three&gt; days.csv"),
        "{}",
        look.text
    );
    assert!(look.text.contains("Europe/Lisbon") && look.text.contains("mmol/L"));
    assert!(std::fs::read_dir(desk.folder.path()).unwrap().next().is_none());
}

#[tokio::test]
async fn a_file_is_written_once_and_taken_back_whole() {
    let desk = Desk::new();
    desk.hand_over("three.csv", &invented("mg/dL")).await;
    assert_eq!(desk.post("/bring/1/write", "").await.location, "/bring/1");
    desk.post("/bring/1/write", "").await;
    assert!(desk.get("/bring/1").await.text.contains("New: 864 readings."));
    assert!(
        desk.get("/review?days=3")
            .await
            .text
            .contains("of the time measured, ")
    );
    let imports = desk.book.imports().unwrap();
    assert_eq!((imports.len(), imports[0].brought.readings), (1, 864));
    let undone = desk.post("/imports/undo", &format!("id={}", imports[0].id)).await;
    assert_eq!(undone.status, StatusCode::SEE_OTHER);
    assert!(
        desk.get(&undone.location)
            .await
            .text
            .contains("Taken back: three.csv<")
    );
    assert_eq!(desk.get("/").await.status, StatusCode::OK);
    assert!(desk.get("/").await.text.contains("An empty book"));
}

#[tokio::test]
async fn what_is_set_right_is_read_that_way() {
    let desk = Desk::new();
    desk.hand_over("three.csv", &invented("mg/dL")).await;
    let answered = desk
        .post("/bring/1/answer", "zone=Asia%2FKolkata&unit=&dates=")
        .await;
    assert_eq!(answered.location, "/bring/1");
    assert!(desk.get("/bring/1").await.text.contains("Asia/Kolkata"));
    desk.post("/bring/1/answer", "zone=Atlantis").await;
    let refused = desk.get("/bring/1").await;
    assert_eq!(refused.status, StatusCode::BAD_REQUEST);
    assert!(refused.text.contains("is not a time zone"));
}

#[tokio::test]
async fn a_doubt_is_asked_before_writing() {
    let desk = Desk::new();
    // One day alone: the fourth of May or the fifth of April.
    let rows =
        (0..96_u32).map(|i| format!("05/04/2025 {:02}:{:02},{}\n", i / 4, i % 4 * 15, 90 + i * 7 % 60));
    let doubtful = "when,glucose (mg/dL)\n".to_owned() + &rows.collect::<String>();
    desk.hand_over("doubtful.csv", &doubtful).await;
    let look = desk.get("/bring/1").await;
    assert!(look.text.contains("One thing only you can say."), "{}", look.text);
    assert!(
        !look.text.contains("Bring it in"),
        "a question and the act stand on one page"
    );
    desk.post("/bring/1/write", "").await;
    assert!(
        desk.book.imports().unwrap().is_empty(),
        "written in spite of an open question"
    );
    let offered = scraper::Html::parse_document(&look.text);
    let answer = scraper::Selector::parse("input[name=answer]").unwrap();
    let first = offered
        .select(&answer)
        .next()
        .unwrap()
        .value()
        .attr("value")
        .unwrap();
    let form: String = form_urlencoded(first);
    desk.post("/bring/1/answer", &format!("answer={form}")).await;
    let again = desk.get("/bring/1").await;
    assert!(again.text.contains("This file can be read."), "{}", again.text);
}

/// The page used to say what to type after a command.
#[tokio::test]
async fn a_column_that_was_not_understood_can_be_named() {
    let desk = Desk::new();
    let rows = (0..96_u32).map(|i| format!("2025-04-05 {:02}:{:02},{}\n", i / 4, i % 4 * 15, (i * 37) % 900));
    desk.hand_over(
        "plain.csv",
        &("when,value\n".to_owned() + &rows.collect::<String>()),
    )
    .await;
    let look = desk.get("/bring/1").await.text;
    assert!(
        look.contains("cannot be used") && look.contains("A column of it does hold something"),
        "{look}"
    );
    desk.post("/bring/1/answer", "column=value&holds=glucose&unit=mg%2FdL")
        .await;
    let again = desk.get("/bring/1").await.text;
    assert!(again.contains("This file can be read."), "{again}");
}

/// Text as a form sends it.
fn form_urlencoded(text: &str) -> String {
    text.bytes().fold(String::new(), |mut out, byte| {
        write!(out, "%{byte:02X}").unwrap();
        out
    })
}

#[tokio::test]
async fn what_is_no_table_is_refused_calmly() {
    let desk = Desk::new();
    desk.hand_over("picture.png", "\u{89}PNG\r\n\u{1a}\n\0\0\0\rIHDR")
        .await;
    let look = desk.get("/bring/1").await;
    assert!(
        look.text
            .contains("This file cannot be used. Nothing was written."),
        "{}",
        look.text
    );
    desk.post("/bring/1/write", "").await;
    assert!(desk.book.imports().unwrap().is_empty());
}

#[tokio::test]
async fn nothing_chosen_and_nothing_waiting_are_said() {
    let desk = Desk::new();
    assert!(desk.hand_over("", "").await.text.contains("No file was chosen"));
    assert_eq!(desk.get("/bring/7").await.status, StatusCode::BAD_REQUEST);
    desk.hand_over("three.csv", &invented("mg/dL")).await;
    desk.post("/bring/1/leave", "").await;
    assert!(desk.get("/bring/1").await.text.contains("no longer waiting"));
}

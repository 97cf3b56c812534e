//! A real book behind the app, and the forms of its pages.

use std::sync::Arc;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use interstice_book::{Book, Mode, Provenance};
use interstice_glucose::{Draft, Readings, Said, Second, TraceDraft, TraceKind, Zone};
use interstice_web::{Backend, KeptBook, Outside, router};
use tower::ServiceExt;

pub(crate) struct Desk {
    app: axum::Router,
    pub(crate) book: Book,
    _folder: tempfile::TempDir,
}

impl Desk {
    /// With what was brought in, asked at `now`.
    pub(crate) fn new(draft: &Draft, now: fn() -> Second) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("book");
        let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
        let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
        book.import(draft, &Provenance::named("made up", [0; 32]), go_on)
            .unwrap();
        let outside = Outside::new(Zone::utc(), now);
        let kept = Arc::new(KeptBook::new(&path, outside));
        Desk {
            app: router(kept as Arc<dyn Backend>),
            book,
            _folder: folder,
        }
    }

    /// Over an app of a test's own; the book here is another one.
    #[allow(dead_code, reason = "each test binary uses its own part")]
    pub(crate) fn over(app: axum::Router) -> Self {
        Desk {
            app,
            book: Book::in_memory().unwrap(),
            _folder: tempfile::tempdir().unwrap(),
        }
    }

    async fn send(&self, request: Request<Body>) -> (StatusCode, String, String) {
        let response = self.app.clone().oneshot(request).await.unwrap();
        let status = response.status();
        let to = response.headers().get("location");
        let to = to.map_or(String::new(), |to| to.to_str().unwrap().to_owned());
        let bytes = axum::body::to_bytes(response.into_body(), usize::MAX)
            .await
            .unwrap();
        (status, to, String::from_utf8_lossy(&bytes).into_owned())
    }

    pub(crate) async fn get(&self, path: &str) -> String {
        let request = Request::builder().uri(path).header("host", "127.0.0.1:8080");
        let (status, _, page) = self.send(request.body(Body::empty()).unwrap()).await;
        assert_eq!(status, StatusCode::OK, "{path}");
        if !path.starts_with("/api/") && !path.ends_with(".js") {
            assert_eq!(super::repairs(&page), Vec::<String>::new(), "{path}");
        }
        page
    }

    /// A form in parts, with the boundary 'x'.
    #[allow(dead_code, reason = "each test binary uses its own part")]
    pub(crate) async fn parts(
        &self,
        path: &str,
        body: Vec<u8>,
        origin: &str,
    ) -> (StatusCode, String, String) {
        let request = Request::builder()
            .method("POST")
            .uri(path)
            .header("host", "127.0.0.1:8080")
            .header("origin", origin)
            .header("content-type", "multipart/form-data; boundary=x");
        self.send(request.body(Body::from(body)).unwrap()).await
    }

    /// What a file is said to be, and its bytes.
    #[allow(dead_code, reason = "each test binary uses its own part")]
    pub(crate) async fn file(&self, path: &str) -> (String, Vec<u8>) {
        let request = Request::builder().uri(path).header("host", "127.0.0.1:8080");
        let request = request.body(Body::empty()).unwrap();
        let response = self.app.clone().oneshot(request).await.unwrap();
        assert_eq!(response.status(), StatusCode::OK, "{path}");
        let media = response.headers()["content-type"].to_str().unwrap().to_owned();
        let bytes = axum::body::to_bytes(response.into_body(), usize::MAX)
            .await
            .unwrap();
        (media, bytes.to_vec())
    }

    pub(crate) async fn post(&self, path: &str, form: &str, origin: &str) -> (StatusCode, String, String) {
        let request = Request::builder()
            .method("POST")
            .uri(path)
            .header("host", "127.0.0.1:8080")
            .header("origin", origin)
            .header("content-type", "application/x-www-form-urlencoded");
        self.send(request.body(Body::from(form.to_owned())).unwrap())
            .await
    }
}

/// Where the app's own pages come from.
pub(crate) const OWN: &str = "http://127.0.0.1:8080";

/// The fields a browser would send from the only form of a page that posts to `action`, and where to.
pub(crate) fn form_of(page: &str, action: &str) -> (String, String) {
    let page = scraper::Html::parse_document(page);
    let forms = scraper::Selector::parse("form[method=post]").unwrap();
    let inputs = scraper::Selector::parse("input[type=hidden]").unwrap();
    let form = page
        .select(&forms)
        .find(|form| {
            let to = form.value().attr("action").unwrap();
            to.split('?').next() == Some(action)
        })
        .unwrap();
    let fields: Vec<(&str, &str)> = form
        .select(&inputs)
        .map(|input| {
            let input = input.value();
            (input.attr("name").unwrap(), input.attr("value").unwrap())
        })
        .collect();
    let action = form.value().attr("action").unwrap().to_owned();
    (action, serde_urlencoded::to_string(fields).unwrap())
}

/// 2025-12-01T00:00:00Z.
#[allow(dead_code, reason = "each test binary uses its own part")]
pub(crate) const START: Second = 1_764_547_200;
/// 2026-01-01T00:00:00Z.
#[allow(dead_code, reason = "each test binary uses its own part")]
pub(crate) const NOW: Second = 1_767_225_600;

/// Invented: ten days from [`START`] of one sensor that stays at 110 mg/dL; nobody wrote down that it was worn.
#[allow(dead_code, reason = "each test binary uses its own part")]
pub(crate) fn flat(sensor: &str) -> Draft {
    let mut draft = Draft::default();
    let level = draft.levels.intern(Said::whole_mg_per_dl(110));
    let mut readings = Readings::default();
    for i in 0..10 * 288_i64 {
        readings.push(u32::try_from(START + 300 * i).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: sensor.to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
    draft
}

/// The body of a form in parts, with the boundary 'x', and a file last.
#[allow(dead_code, reason = "each test binary uses its own part")]
pub(crate) fn in_parts(fields: &[(&str, &str)], file: (&str, &[u8])) -> Vec<u8> {
    let mut body = Vec::new();
    for (name, value) in fields {
        let part = format!("--x\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
        body.extend(part.as_bytes());
    }
    let head = format!(
        "--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"{}\"\r\n\r\n",
        file.0
    );
    body.extend(head.as_bytes());
    body.extend(file.1);
    body.extend(b"\r\n--x--\r\n");
    body
}

/// A signature and a header are enough to be kept as a PNG.
#[allow(dead_code, reason = "each test binary uses its own part")]
pub(crate) const PHOTO: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR";

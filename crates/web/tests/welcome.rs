//! An empty book and the invented recording beside it.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::path::PathBuf;
use std::sync::{Arc, LazyLock};

use axum::http::StatusCode;
use common::desk::{Desk, NOW, OWN, flat};
use interstice_book::{Book, Mode, Provenance};
use interstice_glucose::Zone;
use interstice_web::{Backend, KeptBook, Outside, router};

static FOLDER: LazyLock<tempfile::TempDir> = LazyLock::new(|| tempfile::tempdir().unwrap());

fn invent() -> Result<(PathBuf, Outside), String> {
    let path = FOLDER.path().join("invented");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(&flat("made up"), &Provenance::named("made up", [0; 32]), go_on)
        .unwrap();
    let outside = Outside {
        stands_at: Some(NOW),
        ..Outside::new(Zone::utc(), || NOW)
    };
    Ok((path, outside))
}

const SAID: &str = "Invented data";

#[tokio::test]
async fn an_invented_recording_is_shown_beside_an_empty_book_and_put_away() {
    let own = FOLDER.path().join("own");
    let outside = Outside {
        invent: Some(invent),
        ..Outside::new(Zone::utc(), || NOW)
    };
    let kept = Arc::new(KeptBook::new(&own, outside));
    let app = router(kept as Arc<dyn Backend>);
    let desk = Desk::over(app);
    let first = desk.get("/").await;
    assert!(first.contains("An empty book") && !first.contains(SAID));
    let (status, to, _) = desk.post("/begin/invented", "", OWN).await;
    assert_eq!((status, to.as_str()), (StatusCode::SEE_OTHER, "/now"));
    for page in ["/now", "/review", "/write", "/settings", "/methods"] {
        let shown = desk.get(page).await;
        assert!(
            shown.contains(SAID) && shown.contains("Back to your own book"),
            "{page}"
        );
    }
    // Nothing can be written where it would be lost, nor what waited on a phone land there.
    let (status, _, said) = desk.post("/write/new", "what=blood&amount=104", OWN).await;
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert!(said.contains("nothing is written in it") && said.contains("Back to your own book"));
    assert!(!own.exists(), "the own book is not touched");
    let nothing: String = interstice_desk::digest(b"")[..16].to_owned();
    let waited =
        format!("key=0123456789abcdef0123&book={nothing}&what=blood&amount=104&at=2025-12-31T20%3A30");
    let (status, _, said) = desk.post("/write/queued", &waited, OWN).await;
    assert!(status == StatusCode::OK && said.contains("written"), "{said}");
    let kept = Book::open(&own, Mode::ReadOnly).unwrap().load_all().unwrap();
    assert_eq!(kept.blood_checks.len(), 1, "it is in the own book");
    let (status, to, _) = desk.post("/begin/own", "", OWN).await;
    assert_eq!((status, to.as_str()), (StatusCode::SEE_OTHER, "/"));
    let back = desk.get("/").await;
    assert!(back.contains("An empty book") && !back.contains(SAID));
}

/// What another program brings into the book meanwhile is what is shown from then on.
#[tokio::test]
async fn a_book_with_something_in_it_is_shown_itself() {
    let path = FOLDER.path().join("filled");
    let outside = Outside {
        invent: Some(invent),
        ..Outside::new(Zone::utc(), || NOW)
    };
    let desk = Desk::over(router(Arc::new(KeptBook::new(&path, outside)) as Arc<dyn Backend>));
    assert_eq!(
        desk.post("/begin/invented", "", OWN).await.0,
        StatusCode::SEE_OTHER
    );
    assert!(desk.get("/now").await.contains(SAID));
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(&flat("mine"), &Provenance::named("mine", [1; 32]), go_on)
        .unwrap();
    assert!(!desk.get("/now").await.contains(SAID));
    assert_eq!(
        desk.post("/begin/invented", "", OWN).await.0,
        StatusCode::BAD_REQUEST
    );
}

#[tokio::test]
async fn where_nothing_can_be_invented_it_is_not_offered() {
    let path = FOLDER.path().join("bare");
    let kept = Arc::new(KeptBook::new(&path, Outside::new(Zone::utc(), || NOW)));
    let desk = Desk::over(router(kept as Arc<dyn Backend>));
    assert!(!desk.get("/").await.contains("/begin/invented"));
    assert_eq!(
        desk.post("/begin/invented", "", OWN).await.0,
        StatusCode::NOT_FOUND
    );
}

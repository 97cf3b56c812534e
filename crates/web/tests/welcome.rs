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
    // What is tried out there is written there.
    desk.post("/write/new", "what=blood&amount=104", OWN).await;
    assert!(!own.exists(), "the own book is not touched");
    let (status, to, _) = desk.post("/begin/own", "", OWN).await;
    assert_eq!((status, to.as_str()), (StatusCode::SEE_OTHER, "/"));
    let back = desk.get("/").await;
    assert!(back.contains("An empty book") && !back.contains(SAID));
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

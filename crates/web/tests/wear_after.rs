//! Confirming what the readings tell, the record of a lost sensor, its photo and its claim, through the forms of the pages.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use axum::http::StatusCode;
use common::desk::{Desk, NOW, OWN, PHOTO, START, flat, form_of, in_parts};
use interstice_book::{Book, NewPhoto};
use interstice_glucose::{Draft, Ending, SensorDetail, SensorNote, SensorNoteKind};

#[tokio::test]
async fn what_was_found_is_confirmed_and_taken_back() {
    let desk = Desk::new(&flat("S<1>"), || NOW);
    let page = desk.get("/wear").await;
    assert!(
        page.contains("Not written down") && page.contains("S&lt;1&gt;"),
        "{page}"
    );
    let (action, fields) = form_of(&page, "/wear/found");
    let (status, to, _) = desk.post(&action, &fields, OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    assert_eq!(desk.book.load_all().unwrap().sensor_notes.len(), 2);
    // It is offered no more, also to whoever has the old page.
    assert_eq!(desk.post(&action, &fields, OWN).await.0, StatusCode::BAD_REQUEST);
    let page = desk.get(to.split('#').next().unwrap()).await;
    assert!(!page.contains("Not written down"));
    let (action, fields) = form_of(&page, "/wear/undo");
    assert_eq!(desk.post(&action, &fields, OWN).await.0, StatusCode::SEE_OTHER);
    assert!(desk.book.load_all().unwrap().sensor_notes.is_empty());
}

fn lose(book: &mut Book) {
    let ended = SensorNote {
        at: START + 10 * 86_400,
        kind: SensorNoteKind::Ended,
        sensor: Some("S<1>".to_owned()),
        site: None,
        note: Some("<b>no signal</b>".to_owned()),
        detail: SensorDetail {
            ending: Some(Ending::SignalLost),
            ..SensorDetail::default()
        },
    };
    let draft = Draft {
        sensor_notes: vec![ended],
        ..Draft::default()
    };
    let photo = NewPhoto {
        at: START + 10 * 86_400,
        sensor: None,
        name: "arm.png",
        bytes: PHOTO,
    };
    book.log_with_photo(&draft, photo, "ended", NOW).unwrap();
}

async fn photos_are_added_and_taken_back(desk: &Desk, record: &str) {
    assert!(form_of(record, "/wear/photo").1.contains("sensor=S%3C1%3E"));
    let parts = |bytes: &[u8]| in_parts(&[("sensor", "S<1>")], ("a.png", bytes));
    let photos = || desk.book.load_all().unwrap().photos.len();
    assert_eq!(
        desk.parts("/wear/photo", parts(b"no picture"), OWN).await.0,
        StatusCode::BAD_REQUEST
    );
    assert_eq!(
        desk.parts("/wear/photo", parts(PHOTO), "http://elsewhere")
            .await
            .0,
        StatusCode::FORBIDDEN
    );
    let large = vec![0; interstice_glucose::LARGEST_PHOTO + 200_000];
    assert_eq!(
        desk.parts("/wear/photo", parts(&large), OWN).await.0,
        StatusCode::BAD_REQUEST
    );
    assert_eq!(photos(), 1);
    let (status, to, _) = desk.parts("/wear/photo", parts(PHOTO), OWN).await;
    assert_eq!((status, photos()), (StatusCode::SEE_OTHER, 2));
    let page = desk.get(to.split('#').next().unwrap()).await;
    let (action, fields) = form_of(&page, "/wear/undo");
    assert_eq!(desk.post(&action, &fields, OWN).await.0, StatusCode::SEE_OTHER);
    assert_eq!(photos(), 1);
}

#[tokio::test]
async fn a_lost_sensor_has_a_page_two_files_a_photo_and_a_claim() {
    let mut desk = Desk::new(&flat("S<1>"), || NOW);
    lose(&mut desk.book);
    let page = desk.get("/wear").await;
    assert!(page.contains("/wear/record?sensor=S%3C1%3E"), "{page}");
    let record = desk.get("/wear/record?sensor=S%3C1%3E").await;
    assert!(record.contains("signal lost") && record.contains("/wear/photo/1"));
    assert!(record.contains("&lt;b&gt;no signal") && !record.contains("<b>no signal"));
    let text = desk.file("/wear/record.txt?sensor=S%3C1%3E").await;
    assert!(
        String::from_utf8(text.1)
            .unwrap()
            .contains("Record of sensor S<1>")
    );
    let (media, bytes) = desk.file("/wear/record.pdf?sensor=S%3C1%3E").await;
    assert!(media == "application/pdf" && bytes.starts_with(b"%PDF-"));
    assert_eq!(
        desk.file("/wear/photo/1").await,
        ("image/png".to_owned(), PHOTO.to_vec())
    );
    photos_are_added_and_taken_back(&desk, &record).await;
    let (action, _) = form_of(&page, "/wear/claim");
    assert!(page.contains("<option value=\"S&lt;1&gt;\">"), "{page}");
    let fields = "sensor=S%3C1%3E";
    let nothing = desk.post(&action, &format!("{fields}&what=lost"), OWN).await;
    assert_eq!(nothing.0, StatusCode::BAD_REQUEST);
    let sent = desk
        .post(&action, &format!("{fields}&what=sent&words=by+letter"), OWN)
        .await;
    assert_eq!(sent.0, StatusCode::SEE_OTHER);
    let page = desk.get("/wear").await;
    assert!(page.contains("sent: by letter"), "{page}");
    // The step is taken back by its button, and there is none left to take back.
    let (undo, which) = form_of(&page, "/wear/claim/undo");
    let back = desk.post(&undo, &which, OWN).await;
    assert_eq!((back.0, back.1.as_str()), (StatusCode::SEE_OTHER, "/wear#lost"));
    assert!(desk.book.claims().unwrap().is_empty());
    let nothing = desk.post(&undo, &which, OWN).await;
    assert_eq!(nothing.0, StatusCode::BAD_REQUEST);
    assert!(nothing.2.contains("href=\"/wear#lost\""), "{}", nothing.2);
    desk.post(&action, &format!("{fields}&what=sent&words=by+letter"), OWN)
        .await;
    // From another page nothing is written.
    let forged = desk
        .post(&action, &format!("{fields}&what=replaced"), "http://elsewhere")
        .await;
    assert_eq!(forged.0, StatusCode::FORBIDDEN);
    assert_eq!(desk.book.claims().unwrap()["S<1>"].len(), 1);
}

//! Confirming what the readings tell, the record of a lost sensor, its photo and its claim, through the forms of the pages.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use axum::http::StatusCode;
use common::desk::{Desk, OWN, form_of};
use interstice_book::{Book, NewPhoto};
use interstice_glucose::{
    Draft, Ending, Readings, Said, Second, SensorDetail, SensorNote, SensorNoteKind, TraceDraft, TraceKind,
};

/// 2025-12-01T00:00:00Z.
const START: Second = 1_764_547_200;
/// 2026-01-01T00:00:00Z.
const NOW: Second = 1_767_225_600;

/// Invented: ten days of one sensor that stays at 110 mg/dL; nobody wrote down that it was worn.
fn draft() -> Draft {
    let mut draft = Draft::default();
    let level = draft.levels.intern(Said::whole_mg_per_dl(110));
    let mut readings = Readings::default();
    for i in 0..10 * 288_i64 {
        readings.push(u32::try_from(START + 300 * i).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: "S<1>".to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
    draft
}

#[tokio::test]
async fn what_was_found_is_confirmed_and_taken_back() {
    let desk = Desk::new(&draft(), || NOW);
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

/// A signature and a header are enough to be kept as a PNG.
const PHOTO: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR";

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
    let parts = |bytes: &[u8]| {
        let mut body = b"--x\r\nContent-Disposition: form-data; name=\"sensor\"\r\n\r\nS<1>\r\n--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a.png\"\r\n\r\n".to_vec();
        body.extend(bytes);
        body.extend(b"\r\n--x--\r\n");
        body
    };
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
    let large = vec![0; interstice_book::LARGEST_PHOTO + 200_000];
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
    let mut desk = Desk::new(&draft(), || NOW);
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
    let (action, fields) = form_of(&page, "/wear/claim");
    let nothing = desk.post(&action, &format!("{fields}&what=lost"), OWN).await;
    assert_eq!(nothing.0, StatusCode::BAD_REQUEST);
    let sent = desk
        .post(&action, &format!("{fields}&what=sent&words=by+letter"), OWN)
        .await;
    assert_eq!(sent.0, StatusCode::SEE_OTHER);
    let page = desk.get("/wear").await;
    assert!(page.contains("sent: by letter"), "{page}");
    // From another page nothing is written.
    let forged = desk
        .post(&action, &format!("{fields}&what=replaced"), "http://elsewhere")
        .await;
    assert_eq!(forged.0, StatusCode::FORBIDDEN);
    assert_eq!(desk.book.claims().unwrap()["S<1>"].len(), 1);
}

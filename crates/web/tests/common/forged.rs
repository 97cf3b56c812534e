//! A book in which every text a person or a file can bring is markup that would run if it were taken for such.

use std::sync::Arc;

use axum::http::StatusCode;
use interstice_book::{Book, Mode, Provenance};
use interstice_glucose::{Mark, MarkKind, SensorDetail, SensorNote, SensorNoteKind, Zone};
use interstice_web::{Backend, KeptBook, Outside, router};

use super::desk::{NOW, START, flat};
use super::send_to;

/// Closes what it may stand in, brings an element named 'forged' and would say so in the page's title.
pub(crate) const FORGED: &str = "\"'></title></script><img id=forged src=x onerror=\"document.title=1\">";

/// Such a book; the folder it lies in.
pub(crate) async fn book() -> (Arc<dyn Backend>, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    let mut draft = flat(FORGED);
    let mark = |kind, days: i64| Mark {
        at: START + days * 86_400 + 7200,
        until: Some(START + days * 86_400 + 9000),
        kind,
        value: None,
        text: Some(FORGED.to_owned()),
    };
    draft.marks = vec![
        mark(MarkKind::Activity, 1),
        mark(MarkKind::Symptom, 2),
        mark(MarkKind::Tag, 3),
        mark(MarkKind::Device, 4),
        mark(MarkKind::Artefact, 5),
        mark(MarkKind::Sleep, 6),
    ];
    let moment = |kind, at| SensorNote {
        at,
        kind,
        sensor: Some(FORGED.to_owned()),
        site: Some(format!("left thigh {FORGED}")),
        note: Some(FORGED.to_owned()),
        detail: SensorDetail {
            preparation: vec![FORGED.to_owned()],
            cover: vec![FORGED.to_owned()],
            lot: Some(FORGED.to_owned()),
            serial: Some(FORGED.to_owned()),
            ..SensorDetail::default()
        },
    };
    draft.sensor_notes = vec![
        moment(SensorNoteKind::PutOn, START),
        moment(SensorNoteKind::Started, START + 60),
        moment(SensorNoteKind::Ended, START + 5 * 86_400),
    ];
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(&draft, &Provenance::named(FORGED, [0; 32]), go_on)
        .unwrap();
    drop(book);
    let kept: Arc<dyn Backend> = Arc::new(KeptBook::new(&path, Outside::new(Zone::utc(), || NOW)));
    by_hand(&kept).await;
    (kept, folder)
}

/// The same by the app's own forms.
async fn by_hand(kept: &Arc<dyn Backend>) {
    let app = router(Arc::clone(kept));
    let said = [("words", FORGED), ("at", "2025-12-31T20:00")];
    let forms: Vec<(&str, Vec<(&str, &str)>)> = vec![
        ("/write/new", vec![("what", "blood"), ("amount", "100")]),
        (
            "/write/new",
            vec![("what", "dose"), ("amount", "4"), ("insulin", "rapid-acting")],
        ),
        ("/write/new", vec![("what", "meal"), ("amount", "40")]),
        ("/write/new", vec![("what", "note")]),
        ("/write/new", vec![("what", "tag")]),
        ("/write/new", vec![("what", "illness")]),
        ("/visit/question", vec![("text", FORGED)]),
        ("/visit/name", vec![("name", FORGED)]),
        (
            "/wear/kind",
            vec![
                ("name", FORGED),
                ("wear_days", "10"),
                ("extra_h", "0"),
                ("warm_up_min", "60"),
                ("longest_bedding_h", "24"),
                ("site", "thigh"),
            ],
        ),
        (
            "/wear/stock",
            vec![
                ("holds", "covers"),
                ("name", FORGED),
                ("number", FORGED),
                ("count", "5"),
                ("use_by", ""),
                ("price", ""),
                ("price_of", "piece"),
                ("currency", ""),
                ("source", FORGED),
                ("when", "here"),
                ("day", ""),
            ],
        ),
        (
            "/wear/put-on",
            vec![
                ("place", "right thigh"),
                ("another_spot", FORGED),
                ("preparation", FORGED),
                ("cover", FORGED),
                ("lot", FORGED),
                ("serial", FORGED),
                ("sensor", "<i id=forged>"),
                ("note", FORGED),
                ("then", "wait"),
            ],
        ),
    ];
    for (path, fields) in forms {
        let fields: Vec<(&str, &str)> = fields.into_iter().chain(said).collect();
        let form = serde_urlencoded::to_string(fields).unwrap();
        let answer = send_to(&app, path, &form).await;
        assert_eq!(
            answer.status,
            StatusCode::SEE_OTHER,
            "{path} {form}: {}",
            answer.text
        );
    }
}

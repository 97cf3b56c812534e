//! The drawer, of books made up here.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::Book;
use interstice_findings::wear::{DrawerLot, WearFindings};
use interstice_findings::{WearAsk, wear_book};
use interstice_glucose::{
    Arrival, Correction, Draft, Ending, Holds, Lot, Second, SensorDetail, SensorNote, SensorNoteKind,
};
use jiff::civil::{Date, date};

const DAY: Second = 86_400;
/// 2025-03-03T09:00:00Z.
const START: Second = 1_740_992_400;
const FIRST: Date = date(2025, 3, 1);

fn lot(number: &str, count: u32, use_by: Date) -> Lot {
    Lot {
        holds: Holds::Sensors,
        name: None,
        number: (!number.is_empty()).then(|| number.to_owned()),
        count,
        price: None,
        source: None,
        arrival: Arrival::Arrived(FIRST),
        use_by: Some(use_by),
        note: None,
        corrections: Vec::new(),
    }
}

/// Sensors by days after the start, lot, and cover; each worn for ten days.
fn book(worn: &[(i64, &str, &[&str])], lots: &[Lot]) -> Book {
    let mut draft = Draft::default();
    for (index, &(day, lot, cover)) in worn.iter().enumerate() {
        let note = |at, kind, ending| SensorNote {
            at,
            kind,
            sensor: Some(format!("W{index}")),
            site: None,
            note: None,
            detail: SensorDetail {
                lot: (!lot.is_empty()).then(|| lot.to_owned()),
                cover: cover.iter().map(|&tag| tag.to_owned()).collect(),
                ending,
                ..SensorDetail::default()
            },
        };
        let at = START + day * DAY;
        draft.sensor_notes.push(note(at, SensorNoteKind::Started, None));
        draft.sensor_notes.push(note(
            at + 10 * DAY - 3600,
            SensorNoteKind::Ended,
            Some(Ending::Planned),
        ));
    }
    let mut book = Book::in_memory().unwrap();
    book.log(&draft, "made up", START).unwrap();
    for lot in lots {
        book.add_lot(lot, START).unwrap();
    }
    book
}

fn told(book: &Book, day: i64) -> WearFindings {
    wear_book(book, WearAsk::at(START + day * DAY)).unwrap()
}

fn of(findings: &WearFindings, id: u32) -> &DrawerLot {
    findings.drawer.stock.iter().find(|lot| lot.id == id).unwrap()
}

#[test]
fn what_is_left_is_what_came_less_what_was_put_on() {
    let lots = [
        lot("A-1", 3, date(2025, 12, 31)),
        lot("B-2", 2, date(2025, 6, 30)),
    ];
    let mut book = book(&[(0, "a1", &[]), (10, "B-2", &[]), (20, "", &[])], &lots);
    let found = told(&book, 25);
    // The first to expire stands first; of it was the one without a word on its lot.
    assert_eq!(
        found.drawer.stock.iter().map(|lot| lot.id).collect::<Vec<_>>(),
        [2, 1]
    );
    let (a, b) = (of(&found, 1), of(&found, 2));
    assert_eq!((a.left, a.put_on, a.put_on_assumed), (2, 1, 0));
    assert_eq!((b.left, b.put_on, b.put_on_assumed), (0, 2, 1));
    assert!(b.said[0].contains("first to expire"), "{:?}", b.said);
    // What was not yet put on then does not count then.
    assert_eq!(of(&told(&book, 5), 2).left, 2);
    let correction = Correction {
        by: -1,
        on: date(2025, 3, 20),
        reason: "dropped".to_owned(),
    };
    book.correct_lot(1, correction, START).unwrap();
    let found = told(&book, 25);
    assert_eq!((of(&found, 1).left, of(&found, 1).corrected), (1, -1));
}

#[test]
fn sensors_from_elsewhere_and_from_before_take_nothing() {
    let later = Lot {
        arrival: Arrival::Arrived(date(2025, 3, 20)),
        ..lot("A-1", 3, date(2025, 12, 31))
    };
    // Put on before it came, though of the same lot; and of a lot that never was in the drawer.
    let book = book(&[(0, "A-1", &[]), (20, "Z-9", &[])], &[later]);
    assert_eq!(of(&told(&book, 25), 1).left, 3);
}

#[test]
fn what_expired_is_named_and_never_supposed_to_be_used() {
    let book = book(
        &[(0, "", &[]), (40, "", &[])],
        &[
            lot("A-1", 3, date(2025, 3, 31)),
            lot("B-2", 3, date(2025, 12, 31)),
        ],
    );
    let found = told(&book, 45);
    let old = of(&found, 1);
    assert!(
        old.expired && old.left == 2 && old.said[0].contains("2 are left that expired"),
        "{old:?}"
    );
    // The later one was put on after the first lot had expired.
    assert_eq!(of(&found, 2).left, 2);
    assert!(
        !of(&told(&book, 28), 1).expired,
        "the last day is still a day to put one on"
    );
}

#[test]
fn more_put_on_than_came_and_a_late_delivery_are_named() {
    let coming = Lot {
        arrival: Arrival::Expected(date(2025, 3, 10)),
        ..lot("C-3", 5, date(2025, 12, 31))
    };
    let book = book(
        &[(0, "A-1", &[]), (10, "A-1", &[])],
        &[lot("A-1", 1, date(2025, 12, 31)), coming],
    );
    let found = told(&book, 25);
    assert!(
        of(&found, 1).said[0].starts_with("1 more was put on than came"),
        "{:?}",
        of(&found, 1).said
    );
    let late = of(&found, 2);
    assert!(
        late.said[0].contains("expected on 2025-03-10") && late.arrived.is_none(),
        "{late:?}"
    );
}

#[test]
fn covers_are_counted_by_their_words() {
    let covers = Lot {
        holds: Holds::Covers,
        name: Some("Clear patch".to_owned()),
        ..lot("", 10, date(2026, 12, 31))
    };
    let book = book(
        &[
            (0, "", &["clear patch"]),
            (10, "", &["clear patch", "ring"]),
            (20, "", &[]),
        ],
        &[covers],
    );
    let found = told(&book, 25);
    assert_eq!((of(&found, 1).left, of(&found, 1).put_on_assumed), (8, 0));
    let json = serde_json::to_value(&found).unwrap();
    assert_eq!(json["stock"][0]["holds"], "covers");
    assert_eq!(json["stock"][0]["use_by"], "2026-12-31");
}

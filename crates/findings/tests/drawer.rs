//! The drawer, of books made up here.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::Book;
use interstice_findings::wear::{DrawerLot, WearFindings};
use interstice_findings::{WearAsk, wear_book};
use interstice_glucose::{
    Arrival, Correction, Currency, Draft, Ending, Holds, Lot, Money, Price, Region, Second, SensorDetail,
    SensorKind, SensorNote, SensorNoteKind, WearFrom,
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

fn fortnight(wear_from: WearFrom) -> SensorKind {
    SensorKind {
        name: "mine".to_owned(),
        wear_min: 14 * 1440,
        extra_min: 0,
        warm_up_min: 0,
        longest_bedding_min: 0,
        wear_from,
        side_by_side: true,
        sites: vec![Region::UpperArm],
    }
}

/// Fortnight sensors one after another, of a lot at 60.00 EUR each, as many as came; the hours worn tell which were lost.
fn fortnights(hours: &[i64], kind: &SensorKind) -> (Book, Second) {
    let mut draft = Draft::default();
    let mut at = START;
    for (index, &worn) in hours.iter().enumerate() {
        let whole = worn >= 336;
        let note = |at, kind, ending| SensorNote {
            at,
            kind,
            sensor: Some(format!("W{index}")),
            site: None,
            note: None,
            detail: SensorDetail {
                lot: Some("A-1".to_owned()),
                ending,
                ..SensorDetail::default()
            },
        };
        draft.sensor_notes.push(note(at, SensorNoteKind::PutOn, None));
        draft.sensor_notes.push(note(at, SensorNoteKind::Started, None));
        at += 3600 * worn;
        let ending = if whole { Ending::Planned } else { Ending::Failed };
        draft
            .sensor_notes
            .push(note(at, SensorNoteKind::Ended, Some(ending)));
    }
    let mut book = Book::in_memory().unwrap();
    book.log(&draft, "made up", START).unwrap();
    book.set_sensor_kind(kind, START).unwrap();
    let count = u32::try_from(hours.len()).unwrap();
    book.add_lot(&paid_for(lot("A-1", count, date(2027, 12, 31)), 6000), START)
        .unwrap();
    (book, at)
}

fn paid_for(lot: Lot, each_minor: u64) -> Lot {
    let minor = each_minor * u64::from(lot.count);
    let currency = Currency::named("EUR").unwrap();
    Lot {
        price: Some(Price::All(Money { minor, currency })),
        ..lot
    }
}

fn day_after(date_said: &str, days: i64) -> String {
    let day: Date = date_said.parse().unwrap();
    (day + jiff::Span::new().days(days)).to_string()
}

/// Half the labelled wear lost of one sensor in four: its price's half is lost, and an hour costs 4 sensors over 3.5 wears.
#[test]
fn an_hour_costs_what_was_paid_and_early_ends_what_was_not_worn() {
    let (mut book, now) = fortnights(&[336, 168, 336, 336], &fortnight(WearFrom::Started));
    let found = wear_book(&book, WearAsk::at(now + 3600)).unwrap().drawer;
    let [cost] = found.cost.by_currency.as_slice() else {
        panic!("{:?}", found.cost)
    };
    assert_eq!(
        (cost.currency.as_deref(), cost.all.sensors, cost.all.free),
        (Some("EUR"), 4, 0)
    );
    assert!((cost.all.per_worn_hour_minor.unwrap() - 24_000.0 / 1176.0).abs() < 1e-9);
    assert!((cost.all.lost_minor - 3000.0).abs() < 1e-9 && (cost.all.unworn_h - 168.0).abs() < 1e-9);
    let failed = cost.by_cause.iter().find(|cause| cause.name == "failed").unwrap();
    assert_eq!((failed.sensors, cost.by_kind[0].name.as_str()), (1, "mine"));
    assert!((failed.lost_minor - 3000.0).abs() < 1e-9);

    // A free replacement, dropped before it was worn, cost nothing; one that was paid for and expired did.
    let free = Lot {
        price: Some(Price::Free),
        ..lot("R-1", 1, date(2027, 12, 31))
    };
    let (free, _) = book.add_lot(&free, START).unwrap();
    book.add_lot(&paid_for(lot("B-2", 2, date(2025, 3, 31)), 5000), START)
        .unwrap();
    let gone = Correction {
        by: -1,
        on: date(2025, 4, 2),
        reason: "dropped".to_owned(),
    };
    book.correct_lot(free, gone, START).unwrap();
    let never = wear_book(&book, WearAsk::at(now + 3600))
        .unwrap()
        .drawer
        .cost
        .never_worn;
    let told: Vec<_> = never
        .iter()
        .map(|one| {
            (
                one.why.as_str(),
                one.pieces,
                one.price_minor,
                one.currency.as_deref(),
            )
        })
        .collect();
    assert_eq!(
        told,
        [
            ("dropped", 1, Some(0.0), None),
            ("expired", 2, Some(10_000.0), Some("EUR"))
        ]
    );
}

#[test]
fn the_drawer_lasts_by_its_labels_and_by_ones_own_losses() {
    let kind = fortnight(WearFrom::Started);
    let (mut book, now) = fortnights(&[336, 336, 60, 336], &kind);
    book.add_lot(&lot("B-2", 4, date(2027, 6, 30)), START).unwrap();
    let supply = |book: &Book| wear_book(book, WearAsk::at(now)).unwrap().drawer.supply;
    let found = supply(&book);
    // Four sensors are too few to tell of losses; what the labels say is arithmetic all the same.
    assert!(
        found.days.is_none()
            && found
                .reason
                .as_ref()
                .unwrap()
                .contains("4 of your sensors are over")
    );
    assert_eq!((found.sensors, found.labelled_days), (4, Some(56.0)));

    let (mut book, now) = fortnights(&[336, 336, 60, 336, 336, 200, 336, 336], &kind);
    book.add_lot(&lot("B-2", 4, date(2027, 6, 30)), START).unwrap();
    let supply = |book: &Book| wear_book(book, WearAsk::at(now)).unwrap().drawer.supply;
    let found = supply(&book);
    let within = found.days_within.unwrap();
    assert!(
        within.lo < found.days.unwrap() && found.days.unwrap() <= 56.0 && within.hi <= 56.0,
        "{found:?}"
    );
    assert_eq!((found.learned_from, found.order_by.as_ref()), ((8, 2), None));
    // More than 26 a year, since one in four is lost early.
    assert!((27.0..36.0).contains(&found.year.unwrap()), "{found:?}");
    book.set_delivery_days(10, START).unwrap();
    let found = supply(&book);
    let by = found.order_by.clone().unwrap();
    assert_eq!(day_after(&by, 10), found.lasts_to.unwrap());
    assert!(!found.order_late && found.out_before_delivery_percent.unwrap() < 5.0);
    book.set_delivery_days(60, START).unwrap();
    let found = supply(&book);
    assert!(
        found.order_late && found.out_before_delivery_percent.unwrap() > 99.0,
        "{found:?}"
    );
}

#[test]
fn the_plan_takes_the_first_to_expire_and_never_an_expired_one() {
    let (mut book, now) = fortnights(&[336; 5], &fortnight(WearFrom::Started));
    let today = date(2025, 5, 12);
    assert_eq!(START + 70 * DAY, now);
    let expires = today + jiff::Span::new().days(20);
    for (number, count, use_by) in [
        ("LATE", 2, date(2027, 1, 1)),
        ("SOON", 2, expires),
        ("GONE", 2, today - jiff::Span::new().days(1)),
    ] {
        book.add_lot(&lot(number, count, use_by), START).unwrap();
    }
    let coming = Lot {
        arrival: Arrival::Expected(today + jiff::Span::new().days(50)),
        ..lot("NEXT", 1, date(2027, 1, 1))
    };
    book.add_lot(&coming, START).unwrap();
    book.set_delivery_days(7, START).unwrap();
    let found = wear_book(&book, WearAsk::at(now + 1800)).unwrap();
    let lots: Vec<&str> = found
        .plan
        .iter()
        .map(|one| one.lot.as_deref().unwrap_or("bought"))
        .collect();
    assert_eq!(&lots[..5], ["SOON", "SOON", "LATE", "LATE", "NEXT"], "{lots:?}");
    assert_eq!(found.plan[5].from, Some("to be bought"));
    assert_eq!(
        found.uncovered_min.map(|minutes| minutes <= 30),
        Some(true),
        "{:?}",
        found.unmet
    );
    // At that pace the second that expires soon is still used; the third would not be.
    book.add_lot(&lot("SOON2", 3, expires), START).unwrap();
    let found = wear_book(&book, WearAsk::at(now + 1800)).unwrap();
    let soon = found
        .drawer
        .stock
        .iter()
        .find(|lot| lot.lot.as_deref() == Some("SOON2"))
        .unwrap();
    assert!(
        soon.said.iter().any(|said| said.contains("3 of 3 will expire")),
        "{soon:?}"
    );
}

#[test]
fn bedding_in_costs_wear_only_where_the_clock_runs_from_being_put_on() {
    let kind = SensorKind {
        longest_bedding_min: 48 * 60,
        ..fortnight(WearFrom::PutOn)
    };
    let (book, now) = fortnights(&[336; 40], &kind);
    let ask = WearAsk {
        bedding_h: Some(24),
        ..WearAsk::at(now)
    };
    let told = wear_book(&book, ask).unwrap().drawer.cost.bedding.unwrap();
    assert!(told.from_wear && (told.bedding_h - 24.0).abs() < 1e-9);
    // Arithmetic but for a rare loss: a year over 13 days of reading against 14.
    let expected = 8766.0 / 312.0 - 8766.0 / 336.0;
    let more = told.sensors_a_year.unwrap();
    assert!((more - expected).abs() < 0.15, "{more}, not {expected}");
    assert!((told.cost_a_year_minor.unwrap() - 6000.0 * more).abs() < 1e-6);
    let started = SensorKind {
        wear_from: WearFrom::Started,
        ..kind
    };
    let (book, now) = fortnights(&[336; 6], &started);
    let told = wear_book(&book, WearAsk { now, ..ask })
        .unwrap()
        .drawer
        .cost
        .bedding
        .unwrap();
    assert!(!told.from_wear && told.hours_a_year.is_none());
}

/// A sensor of no known lot counts at the usual price of its kind, and what a year costs follows from it.
#[test]
fn a_usual_price_stands_where_no_lot_tells_one() {
    let (mut book, now) = fortnights(&[336; 8], &fortnight(WearFrom::Started));
    book.remove_lot(1, START).unwrap();
    let before = wear_book(&book, WearAsk::at(now)).unwrap().drawer.cost;
    assert_eq!((before.by_currency.len(), before.sensors_without_price), (0, 8));
    assert!(before.year.is_none());
    let price = Money {
        minor: 5000,
        currency: Currency::named("EUR").unwrap(),
    };
    book.set_usual_price("mine", &price, START).unwrap();
    let found = wear_book(&book, WearAsk::at(now)).unwrap().drawer.cost;
    assert_eq!(
        (found.sensors_at_usual_price, found.sensors_without_price),
        (8, 0)
    );
    assert!((found.by_currency[0].all.per_worn_hour_minor.unwrap() - 5000.0 / 336.0).abs() < 1e-9);
    let year = found.year.unwrap();
    assert!((26.0..30.0).contains(&year.sensors), "{year:?}");
    assert!((year.cost_minor - 5000.0 * year.sensors).abs() < 1e-6 && year.currency == "EUR");
}

#[test]
fn a_book_without_a_drawer_or_a_kind_says_what_is_missing() {
    let book = book(&[(0, "", &[])], &[]);
    let found = told(&book, 25);
    assert!(found.drawer.stock.is_empty() && found.drawer.cost.by_currency.is_empty());
    assert_eq!(found.drawer.cost.sensors_without_price, 1);
    assert!(found.drawer.supply.reason.unwrap().contains("sensor-kind"));
}

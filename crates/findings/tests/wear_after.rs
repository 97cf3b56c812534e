//! What comes after a sensor: the skin, losses and claims, the record to send, and what the readings tell that nobody wrote down.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Provenance};
use interstice_findings::wear::{WearFindings, record_book};
use interstice_findings::{FindingsError, WearAsk, wear_book};
use interstice_glucose::{
    BloodCheck, BloodSource, ClaimStep, ClaimWhat, Draft, Ending, Readings, Said, Second, SensorDetail,
    SensorKind, SensorNote, SensorNoteKind, SkinAfter, TraceDraft, TraceKind, WearFrom,
};

const DAY: Second = 86_400;
/// 2025-03-03T09:00:00Z.
const START: Second = 1_740_992_400;

fn kind() -> SensorKind {
    SensorKind {
        name: "mine".to_owned(),
        wear_min: 14 * 1440,
        extra_min: 0,
        warm_up_min: 60,
        longest_bedding_min: 0,
        wear_from: WearFrom::Started,
        side_by_side: true,
        sites: Vec::new(),
    }
}

fn note(at: Second, kind: SensorNoteKind, sensor: &str) -> SensorNote {
    SensorNote {
        at,
        kind,
        sensor: Some(sensor.to_owned()),
        site: None,
        note: None,
        detail: SensorDetail::default(),
    }
}

/// Every five minutes from `from` until before `to`, a slow wave, so much higher from `up_from` on.
fn readings(draft: &mut Draft, sensor: &str, stretches: &[(Second, Second)], up_from: Second) {
    let mut readings = Readings::default();
    for at in stretches.iter().flat_map(|&(from, to)| (from..to).step_by(300)) {
        let hours = (at - START) as f64 / 3600.0;
        let up = if at >= up_from { 90.0 } else { 0.0 };
        let value = 120.0 + 20.0 * libm::sin(hours / 3.0) + up;
        let level = draft.levels.intern(Said::whole_mg_per_dl(value.round() as i64));
        readings.push(u32::try_from(at).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: sensor.to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
}

fn book(draft: &Draft) -> Book {
    let mut book = Book::in_memory().unwrap();
    book.set_sensor_kind(&kind(), START).unwrap();
    let provenance = Provenance::named("made up", [1; 32]);
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(draft, &provenance, go_on).unwrap();
    book
}

fn told(book: &Book, now: Second) -> WearFindings {
    wear_book(book, WearAsk::at(now)).unwrap()
}

/// The wearer confirms what was found.
fn confirm(book: &mut Book, found: &WearFindings, key: &str) {
    let found = found.found.iter().find(|found| found.key == key).unwrap();
    let draft = Draft {
        sensor_notes: found.notes.clone(),
        ..Draft::default()
    };
    book.log(&draft, "confirmed", START).unwrap();
}

#[test]
fn a_name_nobody_told_of_is_offered_and_counts_the_same_once_confirmed() {
    let mut draft = Draft::default();
    readings(&mut draft, "A", &[(START, START + 9 * DAY)], Second::MAX);
    let mut book = book(&draft);
    let now = START + 20 * DAY;
    let before = told(&book, now);
    let [found] = before.found.as_slice() else {
        panic!("{:?}", before.found)
    };
    assert_eq!((found.what, found.sensor_id.as_deref()), ("sensor", Some("A")));
    // Started a warm-up before its first reading, ended at its last.
    let would: Vec<_> = found.notes.iter().map(|note| (note.kind, note.at)).collect();
    let last = START + 9 * DAY - 300;
    assert_eq!(
        would,
        [
            (SensorNoteKind::Started, START - 3600),
            (SensorNoteKind::Ended, last)
        ]
    );
    let key = found.key.clone();
    confirm(&mut book, &before, &key);
    let after = told(&book, now);
    assert!(after.found.is_empty(), "{:?}", after.found);
    let hours = |findings: &WearFindings| findings.survival[0].groups[0].longest_h;
    assert!(
        (hours(&after) - hours(&before) - 1.0).abs() < 1e-9,
        "the warm-up is worn too"
    );
}

#[test]
fn an_end_nobody_told_of_is_offered_and_one_that_is_on_is_not() {
    let mut draft = Draft::default();
    readings(&mut draft, "A", &[(START, START + 9 * DAY)], Second::MAX);
    draft.sensor_notes.push(note(START, SensorNoteKind::Started, "A"));
    let book = book(&draft);
    assert!(told(&book, START + 9 * DAY).found.is_empty());
    let later = told(&book, START + 11 * DAY);
    let [found] = later.found.as_slice() else {
        panic!("{:?}", later.found)
    };
    assert_eq!((found.what, found.notes[0].kind), ("end", SensorNoteKind::Ended));
}

/// A silence as long as a warm-up, and another level or other seconds after it; neither alone says anything.
#[test]
fn a_change_under_one_name_is_offered_and_a_lost_signal_is_not() {
    let middle = START + 5 * DAY;
    let found = |silence: Second, up: bool, shift: Second| {
        let mut draft = Draft::default();
        let again = middle + silence + shift;
        let up_from = if up { middle } else { Second::MAX };
        readings(
            &mut draft,
            "A",
            &[(START, middle), (again, START + 10 * DAY)],
            up_from,
        );
        draft.sensor_notes.push(note(START, SensorNoteKind::Started, "A"));
        let book = book(&draft);
        let found = told(&book, START + 10 * DAY);
        (
            found.found.iter().map(|found| found.what).collect::<Vec<_>>(),
            book,
        )
    };
    assert_eq!(found(3300, true, 0).0, ["change"]);
    assert_eq!(found(3300, false, 100).0, ["change"]);
    assert!(found(3300, false, 0).0.is_empty(), "its own level and beat");
    assert!(found(5 * 3600, true, 0).0.is_empty(), "no warm-up is so long");
    let (_, mut book) = found(3300, true, 0);
    let now = START + 10 * DAY;
    // Whoever told its end too has told of one sensor: the silence is its own.
    let ended = Draft {
        sensor_notes: vec![note(now, SensorNoteKind::Ended, "A")],
        ..Draft::default()
    };
    let change = book.log(&ended, "made up", now).unwrap().change;
    assert!(told(&book, now + 60).found.is_empty());
    book.undo(change, now).unwrap();
    let before = told(&book, now);
    let key = before.found[0].key.clone();
    confirm(&mut book, &before, &key);
    let after = told(&book, now);
    assert!(after.found.is_empty(), "{:?}", after.found);
    assert_eq!(
        (
            before.survival[0].groups[0].sensors,
            after.survival[0].groups[0].sensors
        ),
        (1, 2)
    );
}

fn ended(draft: &mut Draft, place: i64, site: &str, cover: &str, detail: SensorDetail) {
    let name = format!("W{place}");
    let at = START + place * 2 * DAY;
    let mut put_on = note(at, SensorNoteKind::PutOn, &name);
    put_on.site = Some(site.to_owned());
    put_on.detail.cover = vec![cover.to_owned()];
    let mut ended = note(at + DAY, SensorNoteKind::Ended, &name);
    ended.detail = detail;
    draft.sensor_notes.extend([put_on, ended]);
}

#[test]
fn the_skin_is_counted_of_those_told_with_exact_margins() {
    let mut draft = Draft::default();
    let skin = |skin: Option<SkinAfter>, days: Option<u16>| SensorDetail {
        skin,
        skin_days: days,
        ..SensorDetail::default()
    };
    for place in 0..10 {
        let after = match place {
            0 => skin(Some(SkinAfter::Irritant), Some(3)),
            1 => skin(Some(SkinAfter::Mechanical), Some(5)),
            9 => skin(None, None),
            _ => skin(Some(SkinAfter::Clear), None),
        };
        let (site, cover) = if place < 4 {
            ("thigh", "tape")
        } else {
            ("abdomen", "band")
        };
        ended(&mut draft, place, site, cover, after);
    }
    let found = told(&book(&draft), START + 30 * DAY);
    let all = &found.skin[0].groups[0];
    assert_eq!(
        (all.ended, all.told, all.reactions, all.longest_days),
        (10, 9, 2, Some(5))
    );
    assert_eq!(
        all.classes,
        [(SkinAfter::Irritant, 1), (SkinAfter::Mechanical, 1)]
    );
    // Two of nine, Clopper and Pearson: the ends are the 2.5 and 97.5 % points of Beta(2, 8) and Beta(3, 7), here as scipy
    // 1.16 (stats.beta.ppf) has them.
    let share = &all.reacted_percent;
    assert!((share.value.unwrap() - 200.0 / 9.0).abs() < 1e-9);
    assert!((share.lo95.unwrap() - 2.814_497_4).abs() < 1e-4, "{share:?}");
    assert!((share.hi95.unwrap() - 60.009_357_4).abs() < 1e-4, "{share:?}");
    let by = |by: &str| found.skin.iter().find(|table| table.by == by).unwrap();
    let thigh = by("site")
        .groups
        .iter()
        .find(|group| group.name == "thigh")
        .unwrap();
    assert_eq!(
        (thigh.told, thigh.reactions, thigh.reacted_percent.value),
        (4, 2, None)
    );
    assert!(thigh.reacted_percent.reason.as_ref().unwrap().ends_with("1 more"));
    assert_eq!(by("cover").groups.len(), 2);
    assert!(told(&book(&Draft::default()), START).skin.is_empty());
}

#[test]
fn a_lost_sensor_has_a_record_of_facts_and_a_claim() {
    let mut draft = Draft::default();
    readings(&mut draft, "A", &[(START + 3600, START + 6 * DAY)], Second::MAX);
    readings(
        &mut draft,
        "B",
        &[(START + 7 * DAY, START + 16 * DAY)],
        Second::MAX,
    );
    let mut started = note(START, SensorNoteKind::Started, "A");
    started.site = Some("left thigh".to_owned());
    started.detail.lot = Some("KR-9".to_owned());
    let mut ended = note(START + 6 * DAY, SensorNoteKind::Ended, "A");
    ended.detail.ending = Some(Ending::SignalLost);
    ended.note = Some("silent".to_owned());
    draft.sensor_notes.extend([
        started,
        ended,
        note(START + 7 * DAY, SensorNoteKind::Started, "B"),
    ]);
    draft.blood_checks.push(BloodCheck {
        at: START + DAY,
        said: Said::whole_mg_per_dl(130),
        source: BloodSource::Meter,
        note: None,
    });
    let mut book = book(&draft);
    let now = START + 16 * DAY;
    let lost = &told(&book, now).lost;
    assert_eq!(
        (lost.len(), lost[0].record.as_str(), lost[0].claim),
        (1, "A", None)
    );
    assert!((lost[0].hours_short.unwrap() - 8.0 * 24.0).abs() < 1e-9);
    let step = |what, days: i64| ClaimStep {
        what,
        at: START + days * DAY,
        words: None,
    };
    book.add_claim_step("A", step(ClaimWhat::Answered, 9), now)
        .unwrap();
    book.add_claim_step("A", step(ClaimWhat::Sent, 7), now).unwrap();
    let record = record_book(&book, "A", now).unwrap();
    let trace = record.trace.as_ref().unwrap();
    // Six days less the warm-up, a reading every five minutes.
    assert_eq!((trace.readings, record.checks.len()), (6 * 288 - 12, 1));
    assert_eq!(
        (record.lot.as_deref(), record.ending, record.hours_worn),
        (Some("KR-9"), Some("signal lost"), Some(144.0))
    );
    assert_eq!(record.notes, ["silent"]);
    let steps: Vec<_> = record.claim.unwrap().steps.iter().map(|step| step.what).collect();
    assert_eq!(steps, ["sent", "answered"]);
    let found = told(&book, now);
    assert_eq!(
        (found.lost[0].claim, found.claims[0].settled),
        (Some("answered"), false)
    );
    book.add_claim_step("A", step(ClaimWhat::Replaced, 12), now)
        .unwrap();
    assert!(told(&book, now).claims[0].settled);
    // Each step is a change, and can be taken back.
    book.undo(None, now).unwrap();
    assert!(!told(&book, now).claims[0].settled);
    let refused = |name: &str| matches!(record_book(&book, name, now), Err(FindingsError::NoSensor(_)));
    assert!(refused("B") && refused("C"), "one is still on, one is none");
}

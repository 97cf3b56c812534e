//! One sensor over its life: facts, how it scales, its days, and what is said where too little is known.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Mode, Provenance};
use interstice_findings::trust::{SensorFindings, Started, sensor_book};
use interstice_findings::{FindingsError, Shelf, TrustAsk};
use interstice_glucose::{
    BloodCheck, BloodSource, DAY_S, Draft, Mark, MarkKind, Readings, Said, Second, SensorDetail, SensorNote,
    SensorNoteKind, TraceDraft, TraceKind,
};

/// 2025-03-03T08:00:00Z.
const START: Second = 1_740_988_800;
/// Two sensors end to end, days apart.
const STEP_S: Second = 11 * DAY_S;

/// Blood made of two sines, mg/dL; nobody's.
fn blood(at: Second) -> f64 {
    let minutes = (at - START) as f64 / 60.0;
    140.0 + 30.0 * libm::sin(minutes / 90.0) + 20.0 * libm::sin(minutes / 310.0)
}

/// Ten days of a sensor that is not late and shows so much of the blood, with a silence of two hours on its third day.
fn worn(draft: &mut Draft, name: &str, start: Second, part: f64) {
    let mut readings = Readings::default();
    for i in (0..10 * 288_i64).filter(|i| !(700..724).contains(i)) {
        let at = start + i * 300;
        let level = draft
            .levels
            .intern(Said::whole_mg_per_dl((part * blood(at)).round() as i64));
        readings.push(u32::try_from(at).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: name.to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
}

/// Exact checks, four a day, none in the silence.
fn checks(draft: &mut Draft, start: Second) {
    for i in 0..40_i64 {
        let at = start + i * 21_600 + 3600 + (i * 37 % 60) * 60;
        draft.blood_checks.push(BloodCheck {
            at,
            said: Said::whole_mg_per_dl(blood(at).round() as i64),
            source: BloodSource::Meter,
            note: None,
        });
    }
}

fn note(draft: &mut Draft, at: Second, kind: SensorNoteKind, words: &str) {
    draft.sensor_notes.push(SensorNote {
        at,
        kind,
        sensor: Some("S1".to_owned()),
        site: Some("left upper arm".to_owned()),
        note: Some(words.to_owned()),
        detail: SensorDetail::default(),
    });
}

/// S0 reads true, S1 reads 12 % low with its moments told, S2 has no check.
fn three() -> Draft {
    let mut draft = Draft::default();
    for (name, part, number) in [("S0", 1.0, 0), ("S1", 0.88, 1), ("S2", 1.0, 2)] {
        let start = START + number * STEP_S;
        worn(&mut draft, name, start, part);
        if number < 2 {
            checks(&mut draft, start);
        }
    }
    let start = START + STEP_S;
    note(&mut draft, start - 9 * 3600, SensorNoteKind::PutOn, "lot A7");
    note(
        &mut draft,
        start - 3600,
        SensorNoteKind::Started,
        "itches a little",
    );
    note(
        &mut draft,
        start + 10 * DAY_S,
        SensorNoteKind::Ended,
        "time was over",
    );
    draft.marks.push(Mark {
        at: start + 5 * DAY_S,
        until: Some(start + 5 * DAY_S + 7200),
        kind: MarkKind::Artefact,
        value: None,
        text: Some("pressure".to_owned()),
    });
    draft
}

fn book(draft: &Draft) -> Book {
    let mut book = Book::in_memory().unwrap();
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(draft, &Provenance::named("made up", [0; 32]), go_on)
        .unwrap();
    book
}

fn ask(name: &str) -> TrustAsk {
    TrustAsk {
        sensor: Some(name.to_owned()),
        ..TrustAsk::default()
    }
}

fn found(name: &str) -> SensorFindings {
    sensor_book(&book(&three()), &ask(name)).unwrap()
}

#[test]
fn what_was_told_of_a_sensor_is_there() {
    let found = found("S1");
    let start = START + STEP_S;
    assert_eq!(
        (found.wear.sensor.as_str(), found.wear.started_by),
        ("S1", Started::Noted)
    );
    assert_eq!(found.wear.started.unwrap().0.at, start - 3600);
    assert_eq!(found.wear.put_on.unwrap().0.at, start - 9 * 3600);
    assert_eq!(found.ended.unwrap().0.at, start + 10 * DAY_S);
    assert_eq!(found.wear.bedding_in_h, Some(8.0));
    assert_eq!(
        (found.wear.site.as_deref(), found.wear.lot.as_deref()),
        (Some("upper arm"), Some("A7"))
    );
    assert!(found.written.contains(&"itches a little".to_owned()));
    assert_eq!(
        (found.previous.as_deref(), found.next.as_deref()),
        (Some("S0"), Some("S2"))
    );
    // 24 of 2,880 readings are missing.
    assert_eq!((found.readings, found.interval_s), (2856, 300));
    assert!((found.active_percent - 100.0 * 2856.0 / 2880.0).abs() < 1e-9);
    assert_eq!(
        (found.around.from, found.around.to),
        (start - 9 * 3600, start + 10 * DAY_S)
    );
    assert_eq!(
        found.around.marked,
        [(start + 5 * DAY_S, start + 5 * DAY_S + 7200)]
    );
    assert_eq!((found.around.nights.len(), found.around.days.len()), (11, 11));
}

/// The planted 12 % is told back, in the pairs and by the estimate, and stands beside the other sensor's nothing.
#[test]
fn how_it_scales_is_what_was_planted() {
    let found = found("S1");
    let bias = found.agreement.relative_bias_percent.value.unwrap();
    assert!((bias + 12.0).abs() < 0.5, "{bias}");
    let others = found.others.as_ref().unwrap();
    assert_eq!((others.pairs, others.sensors), (40, 1));
    assert!(others.agreement.mard_percent.value.unwrap() < 1.0);
    assert_eq!(found.life.reads_high.len(), found.life.blood.at.len());
    // The eleventh day is its last hour, without a check.
    assert!(found.days.len() == 11 && found.days[10].difference_percent.is_none());
    for day in &found.days[1..10] {
        let high = day.reads_high.unwrap();
        assert!((high.percent + 12.0).abs() < 1.5, "day {}: {high:?}", day.day);
        assert!(
            high.most.0 <= -12.0 && -12.0 <= high.most.1,
            "day {}: {high:?}",
            day.day
        );
        let (low, high) = day.difference_percent.unwrap();
        assert!(-14.0 < low && high < -10.0, "{low} to {high}");
    }
    let off = |value: fn(usize, &SensorFindings) -> f64| {
        let life = &found.life.blood;
        let sum: f64 = (0..life.at.len())
            .map(|i| (value(i, &found) - blood(life.at[i].into())).abs() / blood(life.at[i].into()))
            .sum();
        100.0 * sum / life.at.len() as f64
    };
    let (raw, told) = (
        off(|i, found| found.life.blood.sensor_mg_dl[i]),
        off(|i, found| found.life.blood.blood[i].mean_mg_dl),
    );
    assert!(told < 0.3 * raw, "{told} beside {raw}");
}

#[test]
fn its_pairs_lie_in_its_days() {
    let found = found("S1");
    // Of 40 checks one fell into the readings marked as an artefact.
    assert_eq!((found.counts.pairs, found.counts.artefact), (39, 1));
    assert_eq!(found.checks.len(), 39);
    assert_eq!(found.days.iter().map(|day| day.checks).sum::<u64>(), 39);
    assert_eq!(
        found.days.iter().map(|day| day.readings).sum::<u64>(),
        found.readings
    );
    assert_eq!(found.first_day.of, found.days[0].checks);
    let line = &found.checks[0];
    assert!((line.difference_mg_dl - (line.point.sensor_mg_dl - line.point.blood_mg_dl)).abs() < 1e-9);
    // ISO 15197:2013: 15 mg/dL below 100 mg/dL, 15 % from there on.
    for line in &found.checks {
        let blood = line.point.blood_mg_dl;
        let by_hand = if blood < 100.0 { 15.0 } else { 0.15 * blood };
        assert!((line.meter_mg_dl - by_hand).abs() < 1e-9);
    }
    let silence = found.faults.iter().find(|fault| fault.kind == "dropout").unwrap();
    assert_eq!(silence.sensor, "S1");
    assert!((silence.minutes - 120.0).abs() < 1e-9, "{silence:?}");
}

#[test]
fn without_a_check_its_scale_is_a_reason() {
    let found = found("S2");
    assert_eq!((found.counts.pairs, found.scale.checks), (0, 0));
    let reason = found.scale.reason.as_deref().unwrap();
    assert!(
        reason.contains("no blood check fell while this sensor was read"),
        "{reason}"
    );
    assert!(found.life.reads_high.is_empty() && found.days.iter().all(|day| day.reads_high.is_none()));
    assert!(found.agreement.mard_percent.value.is_none() && found.agreement.mard_percent.reason.is_some());
    assert_eq!(found.life.blood.blood.len(), found.life.blood.at.len());
    assert_eq!(found.others.unwrap().sensors, 2);
}

#[test]
fn the_first_has_none_before_it_and_a_lone_one_no_others() {
    let first = found("S0");
    assert_eq!((first.previous, first.next.as_deref()), (None, Some("S1")));
    assert_eq!(first.wear.started_by, Started::FirstReading);
    let mut draft = Draft::default();
    worn(&mut draft, "only", START, 1.0);
    let alone = sensor_book(&book(&draft), &ask("only")).unwrap();
    assert!(alone.others.is_none() && alone.next.is_none());
}

#[test]
fn a_name_that_is_none_or_several_is_said() {
    let refused = |draft: &Draft, name: &str| match sensor_book(&book(draft), &ask(name)).unwrap_err() {
        FindingsError::NoSensor(message) => message,
        other => panic!("{other}"),
    };
    let none = refused(&three(), "none");
    assert!(
        none.contains("no sensor 'none'") && none.contains("S0, S1, S2"),
        "{none}"
    );
    assert!(matches!(
        sensor_book(&Book::in_memory().unwrap(), &ask("S1")),
        Err(FindingsError::Empty)
    ));
    // Two starts under one name are two sensors.
    let mut twice = Draft::default();
    worn(&mut twice, "S1", START, 1.0);
    let again = START + 5 * DAY_S;
    note(&mut twice, START - 3600, SensorNoteKind::Started, "first");
    note(&mut twice, again - 3600, SensorNoteKind::Ended, "gone");
    note(&mut twice, again, SensorNoteKind::Started, "second");
    let several = refused(&twice, "S1");
    assert!(
        several.contains("'S1' names 2 sensors")
            && several.contains("S1, from 2025-03-03; S1, from 2025-03-08"),
        "{several}"
    );
    let second = sensor_book(&book(&twice), &ask("S1, from 2025-03-08")).unwrap();
    assert_eq!(second.previous.as_deref(), Some("S1, from 2025-03-03"));
}

/// From the warm shelf it is the very same, before and after the page of all sensors, and anew once a check is written down.
#[test]
fn a_warm_shelf_gives_the_same_answer() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let mut kept = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    kept.import(&three(), &Provenance::named("made up", [0; 32]), go_on)
        .unwrap();
    let json = |found: &SensorFindings| serde_json::to_value(found).unwrap();
    let cold = json(&found("S1"));
    let shelf = Shelf::new(&path);
    assert_eq!(json(&shelf.sensor(&ask("S1")).unwrap()), cold);
    shelf.trust(&TrustAsk::default()).unwrap();
    assert_eq!(json(&shelf.sensor(&ask("S1")).unwrap()), cold);
    for name in [
        "at_s",
        "estimate_mg_dl",
        "p95_mg_dl",
        "reads_high_percent",
        "reads_high_p5_percent",
    ] {
        assert_eq!(cold["life"][name].as_array().unwrap().len(), 2856, "{name}");
    }
    let mut entry = Draft::default();
    entry.blood_checks.push(BloodCheck {
        at: START + STEP_S + 2 * DAY_S + 7 * 3600,
        said: Said::whole_mg_per_dl(60),
        source: BloodSource::Meter,
        note: None,
    });
    kept.log(&entry, "logged a blood check", START + 100 * DAY_S)
        .unwrap();
    assert_eq!(shelf.sensor(&ask("S1")).unwrap().counts.pairs, 40);
}

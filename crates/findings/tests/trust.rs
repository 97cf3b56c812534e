//! Sensors beside blood from a book: starts, groups, what is left out, and too few checks.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Mode, Provenance};
use interstice_findings::trust::{GroupLine, IntervalBy, NextCheck, Pairing, Started};
use interstice_findings::{FindingsError, Shelf, TrustAsk, TrustFindings, trust_book};
use interstice_glucose::{
    BloodCheck, BloodSource, Censor, DAY_S, Draft, Mark, MarkKind, Readings, Said, Second, SensorNote,
    SensorNoteKind, TraceDraft, TraceKind, Unit,
};

/// 2025-03-03T08:00:00Z.
const START: Second = 1_740_988_800;

/// Fourteen days of a sensor at 100 mg/dL and a line falling by 3 mg/dL a minute in the second hour of every day.
fn sensor(draft: &mut Draft, name: &str, start: Second) {
    let mut readings = Readings::default();
    for i in 0..14 * 288_i64 {
        let minute = i * 5 % 1440;
        let value = if (60..120).contains(&minute) {
            280 - 3 * (minute - 60)
        } else {
            100
        };
        let level = draft.levels.intern(Said::whole_mg_per_dl(value));
        readings.push(u32::try_from(start + i * 300).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: name.to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
}

fn check(draft: &mut Draft, at: Second, mg_dl: i64) {
    draft.blood_checks.push(BloodCheck {
        at,
        said: Said::whole_mg_per_dl(mg_dl),
        source: BloodSource::Meter,
        note: None,
    });
}

fn note(draft: &mut Draft, at: Second, kind: SensorNoteKind, sensor: &str, site: &str, words: &str) {
    draft.sensor_notes.push(SensorNote {
        at,
        kind,
        sensor: Some(sensor.to_owned()),
        site: Some(site.to_owned()),
        note: Some(words.to_owned()),
        detail: interstice_glucose::SensorDetail::default(),
    });
}

fn import(book: &mut Book, draft: &Draft) {
    let provenance = Provenance::named("made up", [0; 32]);
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(draft, &provenance, go_on).unwrap();
}

fn answer(draft: &Draft, ask: &TrustAsk) -> TrustFindings {
    let mut book = Book::in_memory().unwrap();
    import(&mut book, draft);
    trust_book(&book, ask).unwrap()
}

fn group<'a>(lines: &'a [GroupLine], key: &str) -> &'a GroupLine {
    lines
        .iter()
        .find(|line| line.key == key)
        .unwrap_or_else(|| panic!("no group {key} in {lines:?}"))
}

#[test]
fn an_empty_book_has_no_answer() {
    let book = Book::in_memory().unwrap();
    assert!(matches!(
        trust_book(&book, &TrustAsk::default()),
        Err(FindingsError::Empty)
    ));
}

#[test]
fn without_a_check_it_says_what_to_do() {
    let mut draft = Draft::default();
    sensor(&mut draft, "S1", START);
    let found = answer(&draft, &TrustAsk::default());
    assert_eq!((found.counts.checks, found.counts.pairs), (0, 0));
    assert_eq!(found.agreement.mard_percent.value, None);
    assert!(found.agreement.mard_percent.reason.is_some());
    assert!(found.by.sensor.is_empty() && found.points.is_empty());
    assert_eq!(found.next[0], NextCheck::Flat { more: 5 });
    assert_eq!(found.next[1], NextCheck::FirstDay { more: 5 });
}

/// Three checks: no mean, but the share with its exact bounds (Clopper and Pearson; 2 of 3 by scipy: 9.43 to 99.16 %).
#[test]
fn three_checks_give_a_share_and_no_mean() {
    let mut draft = Draft::default();
    sensor(&mut draft, "S1", START);
    for (hours, mg_dl) in [(5, 102), (30, 95), (60, 150)] {
        check(&mut draft, START + hours * 3600, mg_dl);
    }
    let found = answer(&draft, &TrustAsk::default());
    assert_eq!(found.counts.pairs, 3);
    let reason = found.agreement.mard_percent.reason.clone().unwrap();
    assert_eq!(
        reason,
        "3 pairs of blood check and reading are too few; 2 more would do"
    );
    let share = found.agreement.share(15.0).unwrap();
    assert_eq!((share.within, share.of), (2, 3));
    assert!((share.percent.lo95.unwrap() - 9.43).abs() < 0.01, "{share:?}");
    assert!((share.percent.hi95.unwrap() - 99.16).abs() < 0.01, "{share:?}");
    assert_eq!(group(&found.by.day_of_wear, "1").pairs_missing, 4);
}

/// Six sensors, each 10 mg/dL above the blood, on its first day 20.
fn six_sensors() -> Draft {
    let mut draft = Draft::default();
    for number in 0..6_i64 {
        let (name, start) = (format!("S{number}"), START + number * 15 * DAY_S);
        sensor(&mut draft, &name, start);
        let (site, lot) = if number % 2 == 0 {
            ("left upper arm", "lot A1")
        } else {
            ("right thigh", "lot B2")
        };
        note(
            &mut draft,
            start - (number + 1) * 3600 * 4,
            SensorNoteKind::PutOn,
            &name,
            site,
            lot,
        );
        note(
            &mut draft,
            start - 3600,
            SensorNoteKind::Started,
            &name,
            site,
            lot,
        );
        for day in 0..8 {
            check(
                &mut draft,
                start + day * DAY_S + 6 * 3600,
                if day == 0 { 80 } else { 90 },
            );
        }
    }
    draft
}

#[test]
fn sensors_are_told_by_what_was_written_down() {
    let found = answer(&six_sensors(), &TrustAsk::default());
    assert_eq!(
        (found.counts.checks, found.counts.pairs, found.counts.sensors),
        (48, 48, 6)
    );
    let wear = &found.wears[1];
    assert_eq!((wear.sensor.as_str(), wear.started_by), ("S1", Started::Noted));
    assert_eq!(wear.started.unwrap().0.at, START + 15 * DAY_S - 3600);
    assert_eq!(
        (wear.site.as_deref(), wear.side.as_deref(), wear.lot.as_deref()),
        (Some("thigh"), Some("right"), Some("B2"))
    );
    assert_eq!(wear.bedding_in_h, Some(7.0));
    assert_eq!(found.agreement.interval_by, Some(IntervalBy::Sensors));

    let first = group(&found.by.day_of_wear, "1");
    assert_eq!((first.pairs, first.sensors), (6, 6));
    assert!((first.bias_mg_dl.value.unwrap() - 20.0).abs() < 1e-9);
    assert!((first.mard_percent.value.unwrap() - 25.0).abs() < 1e-9);
    let second = group(&found.by.day_of_wear, "2");
    assert!((second.bias_mg_dl.value.unwrap() - 10.0).abs() < 1e-9);
    // 7 hours after the start: the check at the sixth hour of readings, which began an hour late.
    assert_eq!(group(&found.by.first_day_hours, "4-8").pairs, 6);
    assert_eq!(group(&found.by.site, "upper arm").pairs, 24);
    assert_eq!(group(&found.by.side, "right").pairs, 24);
    assert_eq!(group(&found.by.lot, "A1").pairs, 24);
    // Put on 3, 7, 11, 15, 19, 23 hours before the start.
    assert_eq!(group(&found.by.bedding_in, "2_to_12_h").pairs, 24);
    assert_eq!(group(&found.by.bedding_in, "12_h_or_more").pairs, 24);
    assert_eq!(group(&found.by.direction, "steady").pairs, 48);
    assert_eq!(group(&found.by.preparation, GroupLine::UNKNOWN).pairs, 48);
    assert_eq!(group(&found.by.range, "in_range").pairs, 48);
    // 14:00 universal time, no zone said.
    assert_eq!(group(&found.by.time_of_day, "12-18").pairs, 48);
    assert_eq!(
        found
            .grid
            .consensus
            .zones
            .iter()
            .map(|zone| zone.pairs)
            .sum::<u64>(),
        48
    );
}

#[test]
fn one_sensor_can_be_asked_for_and_an_unknown_one_is_named() {
    let ask = |name: &str| TrustAsk {
        sensor: Some(name.to_owned()),
        ..TrustAsk::default()
    };
    let found = answer(&six_sensors(), &ask("S3"));
    assert_eq!((found.counts.pairs, found.wears.len()), (8, 1));
    assert_eq!(found.agreement.interval_by, Some(IntervalBy::Days));
    assert!(found.next.contains(&NextCheck::OtherSensors { more: 4 }));
    let mut book = Book::in_memory().unwrap();
    import(&mut book, &six_sensors());
    let refused = trust_book(&book, &ask("none")).unwrap_err().to_string();
    assert!(
        refused.contains("no sensor 'none'") && refused.contains("S0, S1"),
        "{refused}"
    );
}

/// The delay is one person's, whichever of their sensors is asked for.
#[test]
fn one_sensor_is_told_with_what_all_teach() {
    let draft = six_sensors();
    let all = answer(&draft, &TrustAsk::default());
    let ask = TrustAsk {
        sensor: Some(all.wears[2].sensor.clone()),
        ..TrustAsk::default()
    };
    let one = answer(&draft, &ask);
    assert!(one.counts.pairs < all.counts.pairs);
    assert_eq!(format!("{:?}", one.lag), format!("{:?}", all.lag));
}

#[test]
fn falling_is_told_from_steady() {
    let mut draft = Draft::default();
    sensor(&mut draft, "S1", START);
    for day in 0..6 {
        // Ninety minutes into the day the sensor shows 190 and falls by 3 mg/dL a minute.
        check(&mut draft, START + day * DAY_S + 5400, 175);
    }
    let found = answer(&draft, &TrustAsk::default());
    let falling = group(&found.by.direction, "falling_fast");
    assert_eq!(falling.pairs, 6);
    assert!((falling.bias_mg_dl.value.unwrap() - 15.0).abs() < 1e-9);
    assert_eq!(found.points[0].direction, Some("falling_fast"));
    assert!((found.points[0].rate_mg_dl_min.unwrap() + 3.0).abs() < 1e-9);
}

#[test]
fn artefacts_and_limits_are_left_out_and_counted() {
    let mut draft = Draft::default();
    sensor(&mut draft, "S1", START);
    for hours in 30..40 {
        check(&mut draft, START + hours * 3600, 100);
    }
    draft.marks.push(Mark {
        at: START + 33 * 3600 - 60,
        until: Some(START + 33 * 3600 + 60),
        kind: MarkKind::Artefact,
        value: None,
        text: Some("pressure".to_owned()),
    });
    draft.blood_checks.push(BloodCheck {
        at: START + 41 * 3600,
        said: Said::new(600, 0, Unit::MgPerDl, Censor::Above).unwrap(),
        source: BloodSource::Meter,
        note: None,
    });
    let found = answer(&draft, &TrustAsk::default());
    let counts = found.counts;
    assert_eq!((counts.checks, counts.pairs, counts.artefact), (11, 9, 1));
    // At least 600 in the blood beside 100 on the sensor: apart whatever the true value was.
    assert_eq!((counts.censored, counts.censored_apart), (1, 1));
    assert!(found.agreement.mad_mg_dl.value.unwrap().abs() < 1e-9);
    assert!(found.meter.below_meter, "a MARD of nothing is not believable");
}

#[test]
fn readings_without_a_name_are_cut_where_a_sensor_seems_to_change() {
    let mut draft = Draft::default();
    let mut all = Readings::default();
    for wear in 0..3_i64 {
        // Each next sensor reads a minute later in its five.
        let start = START + wear * (10 * DAY_S + 3660);
        for i in (0..10 * 288_i64).filter(|i| !(600..612).contains(i)) {
            let level = draft.levels.intern(Said::whole_mg_per_dl(100));
            all.push(u32::try_from(start + i * 300).unwrap(), level);
        }
    }
    draft.traces.push(TraceDraft {
        sensor: String::new(),
        kind: TraceKind::Automatic,
        readings: all,
    });
    let found = answer(&draft, &TrustAsk::default());
    let names: Vec<&str> = found.wears.iter().map(|wear| wear.sensor.as_str()).collect();
    assert_eq!(
        names,
        [
            "sensor from 2025-03-03",
            "sensor from 2025-03-13",
            "sensor from 2025-03-23"
        ]
    );
    assert!(found.wears.iter().all(|wear| wear.started_by == Started::Pause));
    assert!(
        found
            .notes
            .iter()
            .any(|note| note.contains("guessed from a pause"))
    );
}

#[test]
fn scans_are_paired_apart() {
    let mut draft = Draft::default();
    sensor(&mut draft, "S1", START);
    let mut scans = Readings::default();
    for day in 0..6 {
        check(&mut draft, START + day * DAY_S + 6 * 3600, 100);
        let level = draft.levels.intern(Said::whole_mg_per_dl(120));
        scans.push(u32::try_from(START + day * DAY_S + 6 * 3600 + 60).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: "S1".to_owned(),
        kind: TraceKind::Scan,
        readings: scans,
    });
    let found = answer(&draft, &TrustAsk::default());
    assert!(found.agreement.bias_mg_dl.value.unwrap().abs() < 1e-9);
    let scans = found.scans.unwrap();
    assert_eq!(scans.pairs, 6);
    assert!((scans.bias_mg_dl.value.unwrap() - 20.0).abs() < 1e-9);
}

#[test]
fn the_same_question_has_the_same_answer_and_the_other_rule_is_counted() {
    let draft = six_sensors();
    let json = |ask: &TrustAsk| serde_json::to_value(answer(&draft, ask)).unwrap();
    let ask = TrustAsk::default();
    assert_eq!(json(&ask).to_string(), json(&ask).to_string());
    let other = json(&TrustAsk {
        pairing: Pairing::Interpolated,
        ..TrustAsk::default()
    });
    assert_eq!(other["pairing"], "interpolated");
    assert_eq!(other["pairs_by_other_rule"], 48);
    for name in [
        "pairs",
        "mard_percent",
        "mard_percent_lo95",
        "median_ard_percent",
        "mad_mg_dl",
        "bias_mg_dl",
        "within_15_percent",
        "within_15_percent_lo95",
        "within_15_percent_lower95",
        "within_20_percent",
        "split_mg_dl",
    ] {
        assert!(other[name].is_number(), "{name}: {}", other[name]);
    }
    assert!(other["by"]["day_of_wear"].is_array() && other["grid"]["clarke"]["zones"].is_array());
}

#[test]
fn a_shelf_answers_anew_when_a_check_is_written_down() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    import(&mut book, &six_sensors());
    let shelf = Shelf::new(&path);
    let before = shelf.trust(&TrustAsk::default()).unwrap();
    assert_eq!(before.counts.pairs, 48);
    let mut entry = Draft::default();
    check(&mut entry, START + 9 * DAY_S + 6 * 3600, 60);
    book.log(&entry, "logged a blood check", START + 100 * DAY_S)
        .unwrap();
    let after = shelf.trust(&TrustAsk::default()).unwrap();
    assert_eq!(after.counts.pairs, 49);
    assert_eq!(group(&after.by.range, "low").pairs, 1);
}

//! Possible pressure lows of a book: without any blood check, by the night that was set, of one sensor, as marked.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::sync::Arc;

use interstice_book::{Book, ChangeId, NightHours, Provenance, Setting};
use interstice_findings::days::{DaysBook, Happening, Lane, USUAL_NIGHT, ViewAsk};
use interstice_findings::trust::{EstimateAsk, RateLine, estimate_book, pressure_book};
use interstice_findings::{Ask, FindingsError, Span, TargetGroup, TrustAsk, review_book, trust_book};
use interstice_glucose::{
    Draft, LowVerdict, LowWas, Mark, MarkKind, Readings, Said, Second, SensorDetail, SensorNote,
    SensorNoteKind, Side, TraceDraft, TraceKind, Unit,
};

/// 2025-03-03T00:00:00Z, a midnight in the zone of the book.
const START: Second = 1_740_960_000;
/// The dip: from 02:30 of the third day for 40 minutes.
const PRESSED: Second = START + 2 * 86_400 + 150 * 60;
const FOR_S: Second = 40 * 60;

/// Four days of a slow wave with a mg/dL or two of wobble; two fifths are taken off while pressed.
fn draft() -> Draft {
    let mut draft = Draft::default();
    let mut readings = Readings::default();
    for i in 0..4 * 288_i64 {
        let at = START + i * 300;
        let wave = 130.0 + 25.0 * libm::sin(i as f64 / 47.0) + ((i * 37) % 5 - 2) as f64 * 0.6;
        let pressed = (PRESSED..PRESSED + FOR_S).contains(&at);
        let value = if pressed { 0.6 * wave } else { wave };
        let level = draft.levels.intern(Said::whole_mg_per_dl(value.round() as i64));
        readings.push(u32::try_from(at).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: "S1".to_owned(),
        kind: TraceKind::Automatic,
        readings,
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

#[test]
fn a_dip_is_told_without_any_blood_check() {
    let book = book(&draft());
    let found = pressure_book(&book, Some("S1")).unwrap();
    let [event] = found.events.as_slice() else {
        panic!("{found:?}")
    };
    let (start, end) = (event.start.0.at, event.end.0.at);
    let shared = end.min(PRESSED + FOR_S) - start.max(PRESSED);
    assert!(2 * shared > FOR_S, "{start} to {end}");
    assert!((25.0..55.0).contains(&event.attenuation_percent), "{event:?}");
    assert_eq!((found.nights_logged, event.verdict), (0, None));
    let trust = trust_book(&book, &TrustAsk::default()).unwrap();
    assert_eq!(trust.pressure.events.len(), 1);
    assert!(trust.lag.lag_min.is_none() && trust.lag.lag_min_reason.is_some());
}

#[test]
fn the_night_is_the_one_that_was_set() {
    let mut book = book(&draft());
    let day = NightHours {
        from_minute: 10 * 60,
        to_minute: 15 * 60,
    };
    book.set(Setting::Night(Some(day)), START).unwrap();
    let found = pressure_book(&book, None).unwrap();
    assert!(found.nights > 0 && found.events.is_empty(), "{found:?}");
}

#[test]
fn a_mark_of_the_wearer_is_its_verdict() {
    let mut draft = draft();
    draft.marks.push(Mark {
        at: PRESSED,
        until: Some(PRESSED + FOR_S),
        kind: MarkKind::Artefact,
        value: None,
        text: Some("lay on it".to_owned()),
    });
    let found = pressure_book(&book(&draft), None).unwrap();
    let verdict = found.events[0].verdict.unwrap();
    assert_eq!((verdict.was, verdict.change), (LowWas::Pressure, None));
    assert!(found.events[0].left_out && found.events[0].probability < 1.0);
}

/// The word on the dip of [`draft`], written by hand.
fn say(book: &mut Book, was: LowWas, sensor: Option<&str>, now: Second) -> i64 {
    let said = Draft {
        low_verdicts: vec![LowVerdict {
            at: PRESSED,
            until: PRESSED + FOR_S,
            sensor: sensor.map(str::to_owned),
            was,
            note: None,
        }],
        ..Draft::default()
    };
    book.log(&said, "said", now).unwrap().change.unwrap().0
}

#[test]
fn a_word_of_the_wearer_stands_for_any_probability_until_it_is_taken_back() {
    let mut book = book(&draft());
    let before = format!("{:?}", pressure_book(&book, None).unwrap());
    let change = say(&mut book, LowWas::Real, Some("S1"), 5);
    let real = pressure_book(&book, None).unwrap();
    let event = &real.events[0];
    let verdict = event.verdict.unwrap();
    assert_eq!((verdict.was, verdict.change.unwrap().0), (LowWas::Real, change));
    assert_eq!((event.probability, event.left_out), (0.0, false), "{event:?}");
    assert!(event.probability_by_signs > 0.37);
    assert_eq!((real.own.pressure, real.own.real), (0, 1));
    assert!(real.own.log_odds < 0.0 && real.own.log_odds > -1.0);
    // The latest word counts.
    let change = say(&mut book, LowWas::Pressure, None, 6);
    let pressure = pressure_book(&book, None).unwrap();
    let event = &pressure.events[0];
    assert_eq!((event.probability, event.left_out), (1.0, true), "{event:?}");
    assert_eq!(event.verdict.unwrap().change.unwrap().0, change);
    assert!(
        pressure.said.is_empty(),
        "the word before it is about the same low"
    );
    book.undo(None, 7).unwrap();
    book.undo(None, 8).unwrap();
    assert_eq!(format!("{:?}", pressure_book(&book, None).unwrap()), before);
}

/// A fall as sharp as this one is taken for contaminated all the same: the estimate hears of it and moves a little.
#[test]
fn a_real_low_is_not_set_aside_by_the_estimate() {
    let mut book = book(&draft());
    let told = |book: &Book| {
        let found = estimate_book(book, &EstimateAsk::default()).unwrap();
        let at = found.sensors[0].at.iter();
        let middle = at.clone().position(|&at| Second::from(at) >= PRESSED + FOR_S / 2);
        found.sensors[0].blood[middle.unwrap()].mean_mg_dl
    };
    let (aside, change) = (told(&book), say(&mut book, LowWas::Real, Some("S1"), 5));
    assert!(!told(&book).total_cmp(&aside).is_eq());
    book.undo(Some(ChangeId(change)), 6).unwrap();
    assert!(told(&book).total_cmp(&aside).is_eq());
}

#[test]
fn a_word_where_nothing_was_found_is_kept_and_teaches_nothing() {
    let mut quiet = draft();
    quiet.traces[0].sensor = "S2".to_owned();
    let mut book = book(&quiet);
    let elsewhere = Draft {
        low_verdicts: vec![LowVerdict {
            at: PRESSED + 6 * 3600,
            until: PRESSED + 7 * 3600,
            sensor: Some("S2".to_owned()),
            was: LowWas::Pressure,
            note: None,
        }],
        ..Draft::default()
    };
    book.log(&elsewhere, "said", 5).unwrap();
    say(&mut book, LowWas::Real, Some("another"), 6);
    let found = pressure_book(&book, None).unwrap();
    assert_eq!((found.said.len(), found.own.pressure, found.own.real), (1, 0, 0));
    assert_eq!(found.events[0].verdict, None, "a word on another sensor");
}

#[test]
fn nights_worn_are_counted_with_their_exact_interval() {
    let found = pressure_book(&book(&draft()), None).unwrap();
    let all = &found.rates.all;
    assert_eq!((all.nights, all.lows), (found.nights, 1));
    // Garwood 1936: 0.0253 to 5.572 for one event, as tables reprint it (from memory).
    let nights = all.nights as f64;
    assert!((all.per_night_lo95.unwrap() * nights - 0.0253).abs() < 1e-4);
    assert!((all.per_night_hi95.unwrap() * nights - 5.572).abs() < 1e-3);
    assert!((all.expected - found.events[0].probability).abs() < 1e-12);
    assert!(found.rates.side.is_empty() && found.rates.right_to_left.is_none());
}

/// Three hours, awake for half an hour, the rest of the night, and a nap after noon: two nights, not four.
#[test]
fn broken_sleep_is_one_night() {
    let unbroken = pressure_book(&book(&draft()), None).unwrap();
    let mut broken = draft();
    let evening = START + 2 * 86_400 - 3600;
    for (from, minutes) in [(0, 180), (210, 300), (16 * 60, 60)] {
        broken.marks.push(Mark {
            at: evening + from * 60,
            until: Some(evening + (from + minutes) * 60),
            kind: MarkKind::Sleep,
            value: None,
            text: Some("left side".to_owned()),
        });
    }
    let found = pressure_book(&book(&broken), None).unwrap();
    assert_eq!((found.nights, found.nights_logged), (unbroken.nights, 2));
    let line = |key: &str| found.rates.slept.iter().find(|line| line.key == key).unwrap();
    assert_eq!(
        (
            found.rates.all.nights,
            line("left").nights,
            line("unknown").nights
        ),
        (unbroken.nights, 1, unbroken.nights - 1)
    );
    assert_eq!((found.rates.all.lows, line("left").lows), (1, 1));
}

/// On the timeline a low is open until it is judged; beyond 45 days only those judged are there.
#[test]
fn the_timeline_has_a_lane_for_lows() {
    let lows = |book: &Book, from: Second, to: Second| -> Vec<Happening> {
        let record = Arc::new(book.load_all().unwrap());
        let days = DaysBook::new(record, USUAL_NIGHT, TargetGroup::Adult).unwrap();
        let days = days.with_lows(None);
        assert!(days.lanes().contains(&Lane::Low));
        let ask = ViewAsk {
            from,
            to,
            width: 920,
            density: 1,
        };
        let view = days.view(ask).unwrap();
        assert!(view.events.is_sorted_by_key(|event| event.lane));
        let told = view.events.into_iter().filter(|event| event.lane == Lane::Low);
        told.map(|event| event.what).collect()
    };
    let mut book = book(&draft());
    let (day, year) = (
        (PRESSED - 7200, PRESSED + 7200),
        (START - 300 * 86_400, START + 60 * 86_400),
    );
    let found = lows(&book, day.0, day.1);
    let [Happening::Low(open)] = found.as_slice() else {
        panic!("{found:?}")
    };
    let on_trust = pressure_book(&book, None).unwrap();
    let on_trust = &on_trust.events[0];
    assert_eq!(
        (open.from, open.to, open.said),
        (on_trust.span.0, on_trust.span.1, None)
    );
    assert!((open.probability.unwrap() - on_trust.probability).abs() < 1e-12);
    assert_eq!(lows(&book, year.0, year.1), []);
    say(&mut book, LowWas::Real, None, 5);
    for (from, to) in [day, year] {
        let found = lows(&book, from, to);
        let [Happening::Low(judged)] = found.as_slice() else {
            panic!("{found:?}")
        };
        assert_eq!(judged.said, Some(LowWas::Real));
    }
    assert_eq!(lows(&book, day.1, day.1 + 7200), []);
}

#[test]
fn its_signs_are_told_in_either_unit() {
    let found = pressure_book(&book(&draft()), None).unwrap();
    let signs = &found.events[0].evidence;
    assert!(
        signs
            .words(Unit::MgPerDl)
            .iter()
            .any(|sign| sign.contains("mg/dL"))
    );
    let other = signs.words(Unit::MmolPerL);
    assert!(
        other.iter().any(|sign| sign.contains("mmol/L")) && !other.iter().any(|sign| sign.contains("mg/dL"))
    );
}

#[test]
fn rates_are_told_by_side_site_and_the_side_slept_on() {
    let mut two = draft();
    let readings = two.traces[0].readings.clone();
    two.traces.push(TraceDraft {
        sensor: "S2".to_owned(),
        kind: TraceKind::Automatic,
        readings: Readings::default(),
    });
    // The second sensor shows the same but for the dip.
    for (&at, &level) in readings.at().iter().zip(readings.level()) {
        if !(PRESSED..PRESSED + FOR_S).contains(&Second::from(at)) {
            two.traces[1].readings.push(at, level);
        }
    }
    for (sensor, site) in [("S1", "left upper arm"), ("S2", "right thigh")] {
        two.sensor_notes.push(SensorNote {
            at: START,
            kind: SensorNoteKind::Started,
            sensor: Some(sensor.to_owned()),
            site: Some(site.to_owned()),
            note: None,
            detail: SensorDetail::default(),
        });
    }
    for (day, side) in [(1, "left side"), (2, "slept badly"), (3, "right side")] {
        two.marks.push(Mark {
            at: START + day * 86_400 - 3600,
            until: Some(START + day * 86_400 + 7 * 3600),
            kind: MarkKind::Sleep,
            value: None,
            text: Some(side.to_owned()),
        });
    }
    let found = pressure_book(&book(&two), None).unwrap();
    let rates = &found.rates;
    let told = |lines: &[RateLine]| -> Vec<(String, u64, u64)> {
        let line = |line: &RateLine| (line.key.clone(), line.nights, line.lows);
        lines.iter().map(line).collect()
    };
    let nights = found.nights;
    let key = |key: &str, nights, lows| (key.to_owned(), nights, lows);
    assert_eq!(
        told(&rates.side),
        [key("left", nights, 1), key("right", nights, 0)]
    );
    assert_eq!(
        told(&rates.site),
        [key("thigh", nights, 0), key("upper arm", nights, 1)]
    );
    let unsaid = 2 * (nights - 2);
    let slept = [key("left", 2, 0), key("right", 2, 0), key("unknown", unsaid, 1)];
    assert_eq!(told(&rates.slept), slept);
    assert_eq!(
        told(&rates.slept_on_it),
        [key("its own side", 2, 0), key("the other side", 2, 0)]
    );
    assert_eq!((rates.all.nights, rates.all.lows), (2 * nights, 1));
    // Nights beside which no side was logged take the side mostly slept on while their sensors were worn.
    for note in &mut two.sensor_notes {
        note.detail.slept = Some(Side::Right);
    }
    let mostly = pressure_book(&book(&two), None).unwrap().rates;
    assert_eq!(
        told(&mostly.slept),
        [key("left", 2, 0), key("right", 2 + unsaid, 1)]
    );
    // Where two worn at once say different sides, neither is believed.
    two.sensor_notes[0].detail.slept = Some(Side::Left);
    assert_eq!(
        told(&pressure_book(&book(&two), None).unwrap().rates.slept),
        slept
    );
    // None of one on the right: anything from no times to 39 times as often (a share of 0 to 0.975; 0.975 / 0.025 = 39).
    let ratio = rates.right_to_left.unwrap();
    assert!(
        (ratio.hi95.unwrap() - 39.0).abs() < 1e-9 && ratio.lo95.abs() < 1e-12,
        "{ratio:?}"
    );
    assert!(rates.sites_apart().is_empty());
}

#[test]
fn an_unknown_sensor_is_named_whatever_is_asked() {
    let book = book(&draft());
    let name = Some("S9".to_owned());
    let ask = EstimateAsk {
        sensor: name.clone(),
        ..EstimateAsk::default()
    };
    let refused = [
        pressure_book(&book, name.as_deref()).map(|_| ()),
        estimate_book(&book, &ask).map(|_| ()),
        trust_book(
            &book,
            &TrustAsk {
                sensor: name,
                ..TrustAsk::default()
            },
        )
        .map(|_| ()),
    ];
    for answer in refused {
        assert!(
            matches!(&answer, Err(FindingsError::NoSensor(why)) if why.contains("S1")),
            "{answer:?}"
        );
    }
}

#[test]
fn the_estimate_bridges_the_dip() {
    let book = book(&draft());
    let found = estimate_book(&book, &EstimateAsk::default()).unwrap();
    let told = &found.sensors[0];
    let middle = told
        .at
        .iter()
        .position(|&at| Second::from(at) >= PRESSED + FOR_S / 2)
        .unwrap();
    let (sensor, blood) = (told.sensor_mg_dl[middle], told.blood[middle].mean_mg_dl);
    assert!(blood > 1.4 * sensor, "{blood} beside {sensor}");
}

fn ask(exclude_pressure: bool) -> Ask {
    Ask {
        span: Span::LastDays(4),
        exclude_pressure,
        ..Ask::default()
    }
}

#[test]
fn the_account_leaves_out_what_counts_as_pressed_and_says_what() {
    let mut book = book(&draft());
    let all = review_book(&book, &ask(false)).unwrap();
    assert!(all.left_out.is_none() && all.summary_without_artefacts.is_none());
    let without = review_book(&book, &ask(true)).unwrap();
    let out = without.left_out.as_ref().unwrap();
    assert_eq!((out.possible, out.said, out.marked, out.kept_real), (1, 0, 0, 0));
    assert_eq!(
        out.readings,
        all.sufficiency.received - without.sufficiency.received
    );
    assert!((out.minutes - 5.0 * out.readings as f64).abs() < 1e-9, "{out:?}");
    assert!((8..=14).contains(&out.readings), "a dip of 40 minutes: {out:?}");
    let with = out.summary_with.as_ref().unwrap();
    assert_eq!(
        with.mean_mg_dl.value, all.summary.mean_mg_dl.value,
        "beside it the figures of all readings"
    );
    assert!(without.summary.mean_mg_dl.value > with.mean_mg_dl.value);
    // The wearer's word decides.
    say(&mut book, LowWas::Real, Some("S1"), 5);
    let kept = review_book(&book, &ask(true)).unwrap();
    let out = kept.left_out.as_ref().unwrap();
    assert_eq!(
        (out.possible, out.said, out.readings, out.kept_real),
        (0, 0, 0, 1)
    );
    assert!(out.summary_with.is_none() && out.lows.is_empty());
    assert_eq!(kept.summary.mean_mg_dl.value, all.summary.mean_mg_dl.value);
    say(&mut book, LowWas::Pressure, Some("S1"), 6);
    let said = review_book(&book, &ask(true)).unwrap();
    let out = said.left_out.as_ref().unwrap();
    assert_eq!((out.possible, out.said, out.kept_real), (0, 1, 0));
    assert!(out.lows[0].said);
}

#[test]
fn what_is_left_out_is_that_of_the_sensor_which_gives_the_figures() {
    let mut two = draft();
    // A second sensor, put on a day later and read all the while, is pressed at another time.
    let second: Vec<(u32, u32)> = (0..3 * 288_u32)
        .map(|i| {
            let at = START + 86_400 + i64::from(i) * 300;
            let wave = 130.0 + 25.0 * libm::sin(f64::from(i + 288) / 47.0);
            let pressed = (PRESSED + 7200..PRESSED + 7200 + FOR_S).contains(&at);
            let value = if pressed { 0.6 * wave } else { wave };
            let level = two.levels.intern(Said::whole_mg_per_dl(value.round() as i64));
            (u32::try_from(at).unwrap(), level)
        })
        .collect();
    let mut readings = Readings::default();
    for (at, level) in second {
        readings.push(at, level);
    }
    two.traces.push(TraceDraft {
        sensor: "S2".to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
    let book = book(&two);
    assert_eq!(pressure_book(&book, None).unwrap().events.len(), 2);
    let out = review_book(&book, &ask(true)).unwrap().left_out.unwrap();
    assert_eq!((out.possible, out.lows.len()), (1, 1));
    assert_eq!(out.lows[0].sensor, "S1");
}

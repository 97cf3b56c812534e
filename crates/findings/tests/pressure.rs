//! Possible pressure lows of a book: without any blood check, by the night that was set, of one sensor, as marked.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, NightHours, Provenance, Setting};
use interstice_findings::trust::{EstimateAsk, estimate_book, pressure_book};
use interstice_findings::{FindingsError, TrustAsk, trust_book};
use interstice_glucose::{Draft, Mark, MarkKind, Readings, Said, Second, TraceDraft, TraceKind};

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
    assert_eq!(found.events[0].verdict, Some("pressure"));
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

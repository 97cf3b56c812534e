//! What looks wrong with a sensor, from books with planted faults and from one without any.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Provenance};
use interstice_findings::trust::FaultLine;
use interstice_findings::{TrustAsk, trust_book};
use interstice_glucose::{
    DAY_S, Draft, Ending, Readings, Said, Second, SensorDetail, SensorNote, SensorNoteKind, TraceDraft,
    TraceKind, Unit,
};

/// 2025-03-03T08:00:00Z.
const START: Second = 1_740_988_800;
const STEP_S: Second = 11 * DAY_S;

/// Glucose of two waves with a little noise from reading to reading, mg/dL; nobody's.
fn glucose(at: Second) -> f64 {
    let hours = (at - START) as f64 / 3600.0;
    let noise = (at / 300 * 7919 % 11) as f64 - 5.0;
    160.0 + 25.0 * libm::sin(hours / 1.7) + 15.0 * libm::sin(hours / 5.3) + 0.5 * noise
}

/// One sensor: what it would have read at a time, changed by what is planted; `None` is a silence.
type Reads = dyn Fn(Second, f64) -> Option<f64>;

/// Five sensors end to end of ten days each, every fifteen minutes; the third as planted.
fn book(third: &Reads, ending: Option<Ending>) -> Draft {
    let mut draft = Draft::default();
    for number in 0..5_i64 {
        let start = START + number * STEP_S;
        let mut readings = Readings::default();
        for i in 0..10 * 96_i64 {
            let at = start + i * 900;
            let usual = glucose(at);
            let value = if number == 2 {
                third(at - start, usual)
            } else {
                Some(usual)
            };
            if let Some(value) = value {
                let level = draft.levels.intern(Said::whole_mg_per_dl(value.round() as i64));
                readings.push(u32::try_from(at).unwrap(), level);
            }
        }
        let name = format!("S{number}");
        if let Some(ending) = ending.filter(|_| number == 2) {
            draft.sensor_notes.push(SensorNote {
                at: start + 6 * DAY_S,
                kind: SensorNoteKind::Ended,
                sensor: Some(name.clone()),
                site: None,
                note: None,
                detail: SensorDetail {
                    ending: Some(ending),
                    ..SensorDetail::default()
                },
            });
        }
        draft.traces.push(TraceDraft {
            sensor: name,
            kind: TraceKind::Automatic,
            readings,
        });
    }
    draft
}

fn faults(draft: &Draft) -> Vec<FaultLine> {
    let mut book = Book::in_memory().unwrap();
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(draft, &Provenance::named("made up", [0; 32]), go_on)
        .unwrap();
    trust_book(&book, &TrustAsk::default()).unwrap().faults
}

fn only(draft: &Draft) -> FaultLine {
    let mut found = faults(draft);
    assert_eq!(found.len(), 1, "{found:?}");
    found.remove(0)
}

const HOUR: Second = 3600;

#[test]
fn nothing_looks_wrong_where_nothing_is() {
    assert_eq!(faults(&book(&|_, value| Some(value), None)), Vec::new());
}

/// Two and a half hours of one value while glucose goes on: told in the wearer's unit.
#[test]
fn a_value_that_sticks_is_told_in_both_units() {
    let from = 5 * DAY_S + 2 * HOUR;
    let held = glucose(START + 2 * STEP_S + from).round();
    let stuck = move |at: Second, value: f64| {
        let inside = (from..from + 5 * HOUR / 2).contains(&at);
        Some(if inside { held } else { value })
    };
    let line = only(&book(&stuck, None));
    assert_eq!((line.sensor.as_str(), line.kind), ("S2", "stuck"));
    // The reading before may happen to have the value already.
    assert!(
        (0..=900).contains(&(START + 2 * STEP_S + from - line.from.0.at)),
        "{line:?}"
    );
    assert_eq!(line.mg_dl, Some(held));
    let said = line.fault.words(Unit::MgPerDl);
    assert!(
        said.starts_with(&format!("{held} mg/dL 1")) && said.contains(" times in a row over 2 h "),
        "{said}"
    );
    let said = line.fault.words(Unit::MmolPerL);
    assert!(
        said.contains(" mmol/L 1") && said.contains(" times in a row over 2 h "),
        "{said}"
    );
}

/// Ninety up between two readings, and it stays: less than glucose could do in a quarter of an hour at 6 mg/dL a minute.
#[test]
fn a_jump_that_stays_is_told() {
    let from = 4 * DAY_S + 5 * HOUR;
    let up = move |at: Second, value: f64| {
        let inside = (from..from + 12 * HOUR).contains(&at);
        Some(if inside { value + 90.0 } else { value })
    };
    let found = faults(&book(&up, None));
    let first = &found[0];
    assert_eq!((first.sensor.as_str(), first.kind), ("S2", "step"));
    assert_eq!(first.to.0.at, START + 2 * STEP_S + from);
    assert!((first.mg_dl.unwrap() - 90.0).abs() < 15.0, "{first:?}");
    let said = first.fault.words(Unit::MmolPerL);
    assert!(
        said.starts_with("jumped by ") && said.contains("mmol/L"),
        "{said}"
    );
    // Down again at its end, and nothing else.
    assert!(found.iter().all(|line| line.kind == "step"), "{found:?}");
}

/// It stops after six days, where the other four lasted ten: told with what came next, and with what was written down.
#[test]
fn an_end_before_the_others_is_told_without_blame() {
    let short = |at: Second, value: f64| (at < 6 * DAY_S).then_some(value);
    let line = only(&book(&short, None));
    assert_eq!((line.sensor.as_str(), line.kind), ("S2", "early_end"));
    let said = line.fault.words(Unit::MgPerDl);
    assert_eq!(
        said,
        "its readings stopped 4 days before the 10 days that 3 of 3 sensors around it lasted, its signal as steady as before; \
         the next one read 5 days later"
    );
    let failed = only(&book(&short, Some(Ending::Failed)));
    assert!(
        failed
            .fault
            .words(Unit::MgPerDl)
            .ends_with("you wrote down that it failed")
    );
    // Taken off on purpose is no fault.
    for by_the_wearer in [Ending::TakenOff, Ending::PainOrSkin] {
        assert_eq!(faults(&book(&short, Some(by_the_wearer))), Vec::new());
    }
    let lost = only(&book(&short, Some(Ending::SignalLost)));
    assert!(
        lost.fault
            .words(Unit::MgPerDl)
            .ends_with("you wrote down that its signal was lost")
    );
}

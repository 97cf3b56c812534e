//! The importer understands the three files without a question and brings what the truth counts.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use interstice_demo::{BIASED_LOT, DEFAULT_SEED, Deed, HOME_ZONE, Scenario, long};
use interstice_glucose::{
    Censor, Delivery, Draft, InsulinKind, LivedClock, MarkKind, SensorNoteKind, TraceKind, Unit, Zone,
};
use interstice_intake::{Hints, Outcome, ReadFile, ZoneSource, read_bytes};

const RELAY: usize = 0;
const READINGS: usize = 1;
const DIARY: usize = 2;

static SCENARIO: LazyLock<Scenario> = LazyLock::new(|| Scenario::build(DEFAULT_SEED));
static READ: LazyLock<Vec<ReadFile>> = LazyLock::new(|| (0..3).map(read).collect());

fn read(file: usize) -> ReadFile {
    let file = &SCENARIO.files[file];
    read_named(file.name, &file.bytes)
}

fn read_named(name: &str, bytes: &[u8]) -> ReadFile {
    let hints = Hints {
        zone: (Zone::named(HOME_ZONE).unwrap(), ZoneSource::Asked),
        unit: None,
        dates: None,
        roles: Vec::new(),
        subject: None,
        recipes: Vec::new(),
    };
    match read_bytes(name, bytes, &hints, &mut ()).unwrap() {
        Outcome::Read(read) => *read,
        Outcome::Question { questions, .. } => panic!("{name}: {questions:?}"),
    }
}

/// Readings as (sensor, instant, mg/dL as said, censoring), each once, in order.
fn readings(draft: &Draft) -> BTreeSet<(String, i64, i64, Censor)> {
    let mut found = BTreeSet::new();
    for trace in draft
        .traces
        .iter()
        .filter(|trace| trace.kind == TraceKind::Automatic)
    {
        for (&at, &level) in trace.readings.at().iter().zip(trace.readings.level()) {
            let said = draft.levels.get(level).said;
            let mg_dl = said.glucose().mg_per_dl().round() as i64;
            found.insert((trace.sensor.clone(), i64::from(at), mg_dl, said.censor()));
        }
    }
    found
}

/// (sensor, instant) → mg/dL and how it is censored, as it is true.
fn truth() -> BTreeMap<(String, i64), (i64, Censor)> {
    let censor = |beyond| match beyond {
        -1 => Censor::Below,
        1 => Censor::Above,
        _ => Censor::None,
    };
    let readings = SCENARIO.truth.readings.iter();
    readings
        .map(|r| {
            let sensor = SCENARIO.truth.sensors[r.sensor].wear.sensor.clone();
            ((sensor, r.at), (i64::from(r.mg_dl), censor(r.beyond)))
        })
        .collect()
}

#[test]
fn nothing_is_rejected() {
    for (read, file) in READ.iter().zip(&SCENARIO.files) {
        assert!(
            read.draft.rejected.is_empty(),
            "{}: {:?}",
            file.name,
            &read.draft.rejected[..3]
        );
    }
}

#[test]
fn relay_brings_every_reading_exactly() {
    let relay = &READ[RELAY];
    let counts = &SCENARIO.truth.counts.files[RELAY];
    assert_eq!((relay.unit, relay.interval_min), (Some(Unit::MgPerDl), Some(5.0)));
    assert_eq!(relay.rows_read, counts.rows);
    let (found, truth) = (readings(&relay.draft), truth());
    assert_eq!(found.len() as u64, counts.readings);
    for (sensor, at, mg_dl, censor) in found {
        assert_eq!(truth[&(sensor, at)], (mg_dl, censor), "at {at}");
    }
    let checks: BTreeSet<i64> = relay.draft.blood_checks.iter().map(|check| check.at).collect();
    assert_eq!(checks.len() as u64, counts.blood_checks);
}

#[test]
fn relay_knows_the_ships_time() {
    let home = Zone::named(SCENARIO.zone).unwrap();
    let (from, to) = (SCENARIO.truth.from, SCENARIO.truth.to);
    let clock = LivedClock::new(&home, &READ[RELAY].draft.lived, from, to);
    for ship in &SCENARIO.truth.voyage {
        let noon = i64::midpoint(ship.from, ship.to);
        let offset = Zone::named(&ship.offset).unwrap().offset_s(noon);
        assert_eq!(clock.offset_s(noon), offset, "in the stretch at {}", ship.offset);
    }
    assert_eq!(clock.offset_s(to - 86_400), 7200);
}

#[test]
fn reader_brings_every_reading_at_its_instant_through_both_clock_changes() {
    let reader = &READ[READINGS];
    let counts = &SCENARIO.truth.counts.files[READINGS];
    assert_eq!(
        (reader.unit, reader.interval_min),
        (Some(Unit::MmolPerL), Some(5.0))
    );
    let (found, truth) = (readings(&reader.draft), truth());
    assert_eq!(found.len() as u64, counts.readings);
    let censored = |is| found.iter().filter(|reading| reading.3 == is).count() as u64;
    assert_eq!(
        (censored(Censor::Below), censored(Censor::Above)),
        (counts.below_range, counts.above_range)
    );
    let mut contradictions = 0;
    for (sensor, at, mg_dl, _) in &found {
        let known = truth
            .get(&(sensor.clone(), *at))
            .unwrap_or_else(|| panic!("no reading of {sensor} at {at}"));
        contradictions += u64::from((mg_dl - known.0).abs() > 2);
    }
    assert_eq!(contradictions, SCENARIO.truth.counts.conflicts);
}

#[test]
fn diary_brings_every_entry_at_its_instant() {
    let draft = &READ[DIARY].draft;
    let counts = &SCENARIO.truth.counts.files[DIARY];
    let marks = |kind| draft.marks.iter().filter(|mark| mark.kind == kind).count() as u64;
    let doses = |kind| draft.doses.iter().filter(|dose| dose.insulin == kind).count() as u64;
    assert_eq!(
        draft.blood_checks.len() as u64,
        counts.blood_checks,
        "blood checks"
    );
    assert_eq!(doses(InsulinKind::Rapid), counts.rapid_doses, "rapid");
    assert_eq!(doses(InsulinKind::Long), counts.long_doses, "long");
    assert_eq!(draft.meals.len() as u64, counts.meals, "meals");
    assert_eq!(marks(MarkKind::Activity), counts.activities, "activities");
    assert_eq!(marks(MarkKind::Sleep), counts.sleeps, "sleeps");
    assert_eq!(marks(MarkKind::Note), counts.notes, "notes");
    assert_eq!(
        draft.sensor_notes.len() as u64,
        counts.sensor_notes,
        "sensor notes"
    );
    assert!(
        draft.traces.iter().all(|trace| trace.readings.is_empty()),
        "a diary has no sensor readings"
    );
    let logged = |is: &dyn Fn(&Deed) -> bool| -> Vec<i64> {
        SCENARIO
            .truth
            .entries
            .iter()
            .filter(|e| e.logged && is(&e.deed))
            .map(|e| e.at)
            .collect()
    };
    let checks: Vec<i64> = draft.blood_checks.iter().map(|check| check.at).collect();
    assert_eq!(checks, logged(&|deed| matches!(deed, Deed::BloodCheck { .. })));
    let meals: Vec<i64> = draft.meals.iter().map(|meal| meal.at).collect();
    assert_eq!(meals, logged(&|deed| matches!(deed, Deed::Meal { .. })));
}

#[test]
fn diary_keeps_amounts_words_and_durations() {
    let draft = &READ[DIARY].draft;
    let logged = || SCENARIO.truth.entries.iter().filter(|entry| entry.logged);
    let units: f64 = draft.doses.iter().map(|dose| dose.units).sum();
    let true_units = logged().map(|entry| match entry.deed {
        Deed::Rapid { units, .. } | Deed::Long { units } => units,
        _ => 0.0,
    });
    assert!((units - true_units.sum::<f64>()).abs() < 1e-6);
    assert!(draft.doses.iter().all(|dose| dose.delivery == Delivery::AtOnce));
    let grams: f64 = draft.meals.iter().filter_map(|meal| meal.carbohydrate_g).sum();
    let true_grams = logged().map(|entry| match entry.deed {
        Deed::Meal { counted_g, .. } => counted_g,
        _ => 0.0,
    });
    assert!((grams - true_grams.sum::<f64>()).abs() < 1e-6);
    assert!(
        draft
            .meals
            .iter()
            .any(|meal| meal.text.as_deref() == Some("pancakes, \"small\" pile"))
    );
    let long_marks = [MarkKind::Sleep, MarkKind::Activity];
    for mark in draft.marks.iter().filter(|mark| long_marks.contains(&mark.kind)) {
        let entry = logged().find(|entry| {
            entry.at == mark.at && matches!(entry.deed, Deed::Sleep { .. } | Deed::Activity { .. })
        });
        let (Deed::Sleep { minutes, .. } | Deed::Activity { minutes, .. }) = entry.unwrap().deed else {
            unreachable!("only these were looked for")
        };
        assert_eq!(mark.until, Some(mark.at + minutes * 60), "{mark:?}");
    }
}

#[test]
fn diary_tells_the_sensors_lives() {
    let notes = &READ[DIARY].draft.sensor_notes;
    for sensor in &SCENARIO.truth.sensors {
        let wear = &sensor.wear;
        let note = |kind| {
            notes
                .iter()
                .find(|n| n.kind == kind && n.sensor.as_deref() == Some(&wear.sensor))
        };
        let put_on = note(SensorNoteKind::PutOn).unwrap();
        assert_eq!(put_on.at, wear.put_on);
        assert_eq!(note(SensorNoteKind::Started).unwrap().at, wear.started);
        let site = put_on.site.as_deref().unwrap();
        assert!(
            site.contains(wear.site.words()) && site.contains(wear.side.words()),
            "{site}"
        );
        let biased = put_on
            .note
            .as_deref()
            .is_some_and(|text| text.contains(BIASED_LOT));
        assert_eq!(biased, wear.lot == BIASED_LOT, "{put_on:?}");
    }
}

/// A year of both long writers, through both clock changes: the same instants either way.
#[test]
fn long_traces_are_understood_clean_and_awkward() {
    let (start, rows) = (1_740_787_620, 105_000);
    let (mut clean, mut awkward) = (Vec::new(), Vec::new());
    long::write_clean(&mut clean, start, 300, rows, 5).unwrap();
    let written = long::write_awkward(
        &mut awkward,
        start,
        300,
        rows,
        5,
        &long::AwkwardOptions::default(),
    )
    .unwrap();
    let instants = |name: &str, bytes: &[u8]| -> (BTreeSet<i64>, u64) {
        let read = read_named(name, bytes);
        assert!(
            read.draft.rejected.is_empty(),
            "{name}: {:?}",
            &read.draft.rejected[..3]
        );
        let found = readings(&read.draft)
            .into_iter()
            .map(|reading| reading.1)
            .collect();
        (found, read.rows_read)
    };
    let (clean, clean_rows) = instants("clean.csv", &clean);
    let (awkward, awkward_rows) = instants("awkward.csv", &awkward);
    assert_eq!((clean_rows, awkward_rows), (rows, written.rows));
    assert_eq!(clean.len() as u64, written.readings);
    assert_eq!(clean, awkward);
}

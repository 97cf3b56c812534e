//! The three files in one book: what two of them tell of is in it once, and the sensors worn are those of the story.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

use interstice_book::Trace;
use interstice_demo::{DEFAULT_SEED, Ending, HOME_ZONE, Scenario, Wear};
use interstice_desk::{Book, FileReport, ImportRequest, Place, import_bytes};
use interstice_findings::{KnownFrom, SensorWorn, WORN_BEFORE_S, sensors_worn};
use interstice_glucose::{Readings, TraceKind, Zone};

/// The book of the scenario, and what came of each file.
fn book(scenario: &Scenario) -> (Book, Vec<FileReport>) {
    let mut book = Book::in_memory().unwrap();
    let place = Place {
        now: scenario.truth.to,
        machine_zone: Zone::named(HOME_ZONE).unwrap(),
    };
    let request = ImportRequest::default();
    let reports: Vec<FileReport> = scenario
        .files
        .iter()
        .map(|file| import_bytes(&mut book, file.name, &file.bytes, &request, &place, &mut ()).unwrap())
        .collect();
    (book, reports)
}

#[test]
fn every_check_and_reading_is_in_the_book_once() {
    let scenario = Scenario::build(DEFAULT_SEED);
    let counts = &scenario.truth.counts;
    let (book, reports) = book(&scenario);
    let record = book.load_all().unwrap();
    // The relay tells a check as 110 mg/dL, the diary the same one as 6.1 mmol/L.
    assert!(counts.blood_checks_in_two_files > 300);
    assert_eq!(record.blood_checks.len() as u64, counts.blood_checks);
    let told: u64 = counts.files.iter().map(|file| file.blood_checks).sum();
    let new: u64 = reports.iter().map(|report| report.blood_checks_new).sum();
    assert_eq!(
        (new, told - new),
        (counts.blood_checks, counts.blood_checks_in_two_files)
    );
    let twice = record
        .blood_checks
        .iter()
        .filter(|kept| !kept.also.is_empty())
        .count();
    assert_eq!(twice as u64, counts.blood_checks_in_two_files);
    assert_eq!(record.reading_count() as u64, counts.readings);
    assert_eq!(record.conflicts, counts.conflicts);
    let doses: u64 = counts
        .files
        .iter()
        .map(|file| file.rapid_doses + file.long_doses)
        .sum();
    assert_eq!(record.doses.len() as u64, doses);
    let meals: u64 = counts.files.iter().map(|file| file.meals).sum();
    assert_eq!(record.meals.len() as u64, meals);
}

/// The diary tells of each sensor in words; what is planted is what comes of it.
#[test]
fn the_sensors_worn_are_those_that_were_worn() {
    let scenario = Scenario::build(DEFAULT_SEED);
    let record = book(&scenario).0.load_all().unwrap();
    let worn = sensors_worn(&record, scenario.truth.from, scenario.truth.to);
    let truth: Vec<&Wear> = scenario.truth.sensors.iter().map(|sensor| &sensor.wear).collect();
    assert_eq!(worn.len(), truth.len());
    for (worn, truth) in worn.iter().zip(truth) {
        assert_eq!(worn.sensor.as_deref(), Some(truth.sensor.as_str()));
        assert_eq!(worn.known_from, KnownFrom::Told);
        assert_eq!(
            (worn.put_on, worn.started),
            (Some(truth.put_on), Some(truth.started)),
            "{}",
            truth.sensor
        );
        let site = worn.site.as_ref().unwrap();
        assert_eq!(
            site.to_string(),
            format!("{} {}", truth.side.words(), truth.site.words())
        );
        assert_eq!(worn.detail.lot.as_deref(), Some(truth.lot));
        let ending = match truth.ending {
            Ending::Planned => Some(interstice_glucose::Ending::Planned),
            Ending::FellOff => Some(interstice_glucose::Ending::CameOff),
            Ending::Failed => Some(interstice_glucose::Ending::Failed),
            Ending::StillOn => None,
        };
        assert_eq!(worn.ending(), ending);
        let is_over = truth.ending != Ending::StillOn;
        assert_eq!(worn.ended, is_over.then_some(truth.ended), "{}", truth.sensor);
        let bedding_in_h = worn.bedding_in_h().unwrap();
        assert!((bedding_in_h - (truth.started - truth.put_on) as f64 / 3600.0).abs() < 1e-9);
        assert_eq!(bedding_in_h > 12.0, truth.bedded_in);
        let (first, last) = worn.readings.unwrap();
        assert!(first >= truth.started && last <= truth.ended, "{}", truth.sensor);
    }
    // A window has those alone that were worn in it.
    let (from, to) = (
        scenario.truth.from + 30 * 86_400,
        scenario.truth.from + 40 * 86_400,
    );
    let some = record.sensor_notes.len();
    let part = book(&scenario).0.load(from - WORN_BEFORE_S, to).unwrap();
    assert!(part.sensor_notes.len() < some);
    let names = |worn: &[SensorWorn]| {
        worn.iter()
            .filter_map(|worn| worn.sensor.clone())
            .collect::<Vec<_>>()
    };
    assert_eq!(
        names(&sensors_worn(&part, from, to)),
        names(&sensors_worn(&record, from, to))
    );
}

/// Without names and without the diary the pauses tell most of them; the bounds are what was measured, rounded.
#[test]
fn sensors_nobody_named_are_guessed_from_pauses() {
    let scenario = Scenario::build(DEFAULT_SEED);
    let mut record = book(&scenario).0.load_all().unwrap();
    record.sensor_notes.clear();
    let named: Vec<_> = record
        .traces
        .iter()
        .filter(|trace| trace.kind == TraceKind::Automatic)
        .collect();
    // One trace of all: where two were worn at once, both.
    let mut at: Vec<u32> = named
        .iter()
        .flat_map(|trace| trace.readings.at().to_vec())
        .collect();
    at.sort_unstable();
    at.dedup();
    let level = vec![0; at.len()];
    record.traces = vec![Trace {
        sensor: String::new(),
        kind: TraceKind::Automatic,
        readings: Readings::from_columns(at, level).unwrap(),
    }];
    let worn = sensors_worn(&record, scenario.truth.from, scenario.truth.to);
    let begins: Vec<i64> = scenario
        .truth
        .sensors
        .iter()
        .map(|sensor| sensor.wear.started)
        .collect();
    let is_one = |worn: &&SensorWorn| begins.iter().any(|begin| (worn.from() - begin).abs() < 3 * 3600);
    let right = worn.iter().filter(is_one).count();
    println!(
        "{} sensors, {} guessed, {right} of them right",
        begins.len(),
        worn.len()
    );
    assert!(worn.iter().all(|worn| worn.known_from == KnownFrom::Pause));
    assert!(right * 10 >= begins.len() * 7, "{right} of {}", begins.len());
    assert!(
        (worn.len() - right) * 10 <= worn.len() * 2,
        "{} of {} are wrong",
        worn.len() - right,
        worn.len()
    );
}

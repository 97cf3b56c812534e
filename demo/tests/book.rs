//! The three files in one book: what two of them tell of is in it once, and the sensors worn are those of the story.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

use interstice_book::Trace;
use interstice_demo::{DEFAULT_SEED, DELIVERY_DAYS, Ending, HOME_ZONE, Scenario, Wear};
use interstice_desk::{Book, FileReport, ImportRequest, Place, import_bytes};
use interstice_findings::wear::{DrawerLot, drawer_book};
use interstice_findings::{KnownFrom, SensorWorn, WORN_BEFORE_S, WearAsk, sensors_worn, wear_book};
use interstice_glucose::{Readings, Region, SensorKind, TraceKind, WearFrom, Zone};

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
            Ending::Failed => Some(interstice_glucose::Ending::SignalLost),
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

/// What is left, what expired, what was dropped and what early ends cost follow from the record, and are what was planted.
#[test]
fn the_drawer_is_what_was_planted() {
    let scenario = Scenario::build(DEFAULT_SEED);
    let truth = &scenario.truth;
    let mut book = book(&scenario).0;
    let kind = SensorKind {
        name: "invented fortnight sensor".to_owned(),
        wear_min: 14 * 1440,
        extra_min: 0,
        warm_up_min: 60,
        longest_bedding_min: 0,
        wear_from: WearFrom::Started,
        side_by_side: true,
        sites: vec![Region::UpperArm],
    };
    book.set_sensor_kind(&kind, truth.to).unwrap();
    for lot in &truth.drawer {
        book.add_lot(&lot.written(), truth.to).unwrap();
    }
    book.set_delivery_days(DELIVERY_DAYS, truth.to).unwrap();
    let found = drawer_book(&book, WearAsk::at(truth.to - 60)).unwrap();
    for planted in &truth.drawer {
        let lot: &DrawerLot = found
            .stock
            .iter()
            .find(|lot| lot.lot.as_deref() == Some(planted.lot))
            .unwrap();
        let left = planted.came - planted.dropped - planted.worn;
        assert_eq!(
            (lot.put_on, lot.left),
            (planted.worn.into(), left.into()),
            "{}",
            planted.lot
        );
        assert_eq!(
            (lot.put_on_assumed, lot.expired && lot.left > 0),
            (0, planted.lot == "KR-198"),
            "{}",
            planted.lot
        );
    }
    // The engineer told of every start and end; silences as long as a warm-up are the sensors' own.
    let offered = wear_book(&book, WearAsk::at(truth.to - 60)).unwrap().found;
    assert!(offered.is_empty(), "{offered:?}");
    let [cost] = found.cost.by_currency.as_slice() else {
        panic!("{:?}", found.cost)
    };
    // Worked out from the truth: the price of each sensor that is over, and what of its fortnight it was not worn.
    let (mut spent, mut lost, mut over) = (0.0, 0.0, 0);
    for sensor in truth
        .sensors
        .iter()
        .filter(|sensor| sensor.wear.ending != Ending::StillOn)
    {
        let wear = &sensor.wear;
        let lot = truth.drawer.iter().find(|lot| lot.lot == wear.lot).unwrap();
        let price = lot.price_minor as f64 / f64::from(lot.came);
        let unworn = 1.0 - (wear.ended - wear.started) as f64 / (14.0 * 86_400.0);
        spent += price;
        lost += price * unworn.max(0.0);
        over += 1;
    }
    assert_eq!((cost.all.sensors, found.cost.sensors_without_price), (over, 0));
    assert!(
        (cost.all.spent_minor - spent).abs() < 1e-6,
        "{} {spent}",
        cost.all.spent_minor
    );
    // A planned end is written to the minute.
    assert!(
        (cost.all.lost_minor - lost).abs() < 5.0,
        "{} {lost}",
        cost.all.lost_minor
    );
    let never: Vec<(&str, u64)> = found
        .cost
        .never_worn
        .iter()
        .map(|one| (one.why.as_str(), one.pieces))
        .collect();
    assert_eq!(never, [("expired", 1), ("dropped", 1)]);
    let supply = &found.supply;
    let losses = truth
        .sensors
        .iter()
        .filter(|sensor| matches!(sensor.wear.ending, Ending::FellOff | Ending::Failed))
        .count() as u64;
    assert_eq!(supply.learned_from, (over, losses));
    assert!(supply.days.is_some() && supply.order_by.is_some(), "{supply:?}");
}

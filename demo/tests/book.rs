//! The three files in one book: what two of them tell of is in it once.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

use interstice_demo::{DEFAULT_SEED, HOME_ZONE, Scenario};
use interstice_desk::{Book, FileReport, ImportRequest, Place, import_bytes};
use interstice_glucose::Zone;

#[test]
fn every_check_and_reading_is_in_the_book_once() {
    let scenario = Scenario::build(DEFAULT_SEED);
    let counts = &scenario.truth.counts;
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

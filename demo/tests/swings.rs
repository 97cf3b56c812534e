//! The swings that were planted, or came about by themselves, in the account of the book.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

use interstice_demo::{DEFAULT_SEED, Deed, DoseReason, HOME_ZONE, Scenario, Swing};
use interstice_desk::{Book, ImportRequest, Place, import_bytes};
use interstice_findings::swings::{LinkName, SwingKindLine, SwingLine};
use interstice_findings::{Ask, DEFAULT_SEED as SEED, ReviewFindings, Span, review_book};
use interstice_glucose::{Second, Zone};

fn account(scenario: &Scenario) -> ReviewFindings {
    let mut book = Book::in_memory().unwrap();
    let place = Place {
        now: scenario.truth.to,
        machine_zone: Zone::named(HOME_ZONE).unwrap(),
    };
    for file in &scenario.files {
        import_bytes(
            &mut book,
            file.name,
            &file.bytes,
            &ImportRequest::default(),
            &place,
            &mut (),
        )
        .unwrap();
    }
    let ask = Ask {
        span: Span::LastDays(250),
        exclude_pressure: false,
        seed: SEED,
    };
    review_book(&book, &ask).unwrap()
}

fn stacked(found: &ReviewFindings) -> Vec<&SwingLine> {
    let all = found.swings.swings.iter();
    all.filter(|swing| swing.kinds.contains(&SwingKindLine::StackedCorrections))
        .collect()
}

fn overlaps(found: &SwingLine, truth: &Swing) -> bool {
    found.start.0.at <= truth.last_correction && found.end.0.at >= truth.first_correction
}

/// Whether three readings on end were below 70 mg/dL within five hours of the last correction: blood may be low while the
/// sensor, late or silent, shows none.
fn is_shown(scenario: &Scenario, truth: &Swing) -> bool {
    let readings: Vec<_> = scenario
        .truth
        .readings
        .iter()
        .filter(|reading| (truth.last_correction..truth.last_correction + 5 * 3600).contains(&reading.at))
        .collect();
    readings
        .windows(3)
        .any(|three| three.iter().all(|reading| reading.mg_dl < 70) && three[2].at - three[0].at <= 11 * 60)
}

/// Every complete swing whose low the sensor showed is found, and what is called one is two corrections that were meant as such.
#[test]
fn the_planted_swings_are_found() {
    let scenario = Scenario::build(DEFAULT_SEED);
    let account = account(&scenario);
    let found = stacked(&account);
    let truth: Vec<&Swing> = scenario
        .truth
        .swings
        .iter()
        .filter(|swing| swing.complete)
        .collect();
    let recalled = truth
        .iter()
        .filter(|truth| found.iter().any(|found| overlaps(found, truth)))
        .count();
    let meant = |at: Second| {
        scenario.truth.entries.iter().any(|entry| {
            (entry.at - at).abs() <= 60
                && matches!(
                    entry.deed,
                    Deed::Rapid {
                        reason: DoseReason::Correction,
                        ..
                    }
                )
        })
    };
    let right = found
        .iter()
        .filter(|swing| {
            let corrections = swing
                .links
                .iter()
                .filter(|link| matches!(link.what, LinkName::Correction | LinkName::StackedCorrection));
            corrections.filter(|link| meant(link.at.0.at)).count() > 1
        })
        .count();
    println!(
        "stacked corrections: {recalled} of {} complete ones found, the sensor showed the low of {}; {right} of {} told were \
         two corrections meant as such",
        truth.len(),
        truth.iter().filter(|truth| is_shown(&scenario, truth)).count(),
        found.len()
    );
    assert!(truth.len() >= 10);
    for truth in truth.iter().filter(|truth| is_shown(&scenario, truth)) {
        assert!(found.iter().any(|found| overlaps(found, truth)), "{truth:?}");
    }
    assert!(4 * recalled >= 3 * truth.len() && 4 * right >= 3 * found.len());
}

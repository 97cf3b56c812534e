//! What differs on board from home, planted and found: true blood beside what the book tells.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

use interstice_demo::{DEFAULT_SEED, Deed, HOME_ZONE, ON_BOARD, Scenario, TagTruth};
use interstice_desk::{Book, Entry, ImportRequest, Place, import_bytes, log_together};
use interstice_findings::compare::{Against, CompareAsk, CompareFindings, ComparedLine, compare_book};
use interstice_glucose::{DAY_S, Second, Zone};

fn book(scenario: &Scenario) -> Book {
    let mut book = Book::in_memory().unwrap();
    let place = Place {
        now: scenario.truth.to,
        machine_zone: Zone::named(HOME_ZONE).unwrap(),
    };
    for file in &scenario.files {
        let request = ImportRequest::default();
        import_bytes(&mut book, file.name, &file.bytes, &request, &place, &mut ()).unwrap();
    }
    let tags = scenario.truth.tags.iter().map(TagTruth::written).map(Entry::Mark);
    log_together(&mut book, &tags.collect::<Vec<_>>(), scenario.truth.to).unwrap();
    book
}

fn compared(book: &Book, state: &str) -> CompareFindings {
    let ask = CompareAsk::of(Against::Kind {
        state: state.to_owned(),
        than: None,
        among: None,
    });
    compare_book(book, &ask).unwrap()
}

fn line<'a>(found: &'a CompareFindings, name: &str) -> &'a ComparedLine {
    let all = found.figures.iter().chain(&found.also);
    all.clone().find(|line| line.what.name() == name).unwrap()
}

/// Tagged spans of a word.
fn spans(scenario: &Scenario, state: &str) -> Vec<(Second, Second)> {
    let tags = scenario.truth.tags.iter().filter(|tag| tag.name == state);
    tags.map(|tag| (tag.from, tag.to)).collect()
}

/// Mean of something over instants inside the spans, and outside.
fn means(all: impl Iterator<Item = (Second, f64)>, spans: &[(Second, Second)]) -> [f64; 2] {
    let mut sums = [(0.0, 0.0); 2];
    for (at, value) in all {
        let inside = spans.iter().any(|span| (span.0..span.1).contains(&at));
        let sum = &mut sums[usize::from(inside)];
        *sum = (sum.0 + value, sum.1 + 1.0);
    }
    sums.map(|(sum, count)| sum / count)
}

/// Prints what is planted and what is found. The interval of what the sensors showed holds what they truly showed of blood only so far
/// as they read right: the lot that reads too high is worn on some of the days.
#[test]
fn on_board_against_home() {
    let scenario = Scenario::build(DEFAULT_SEED);
    let book = book(&scenario);
    for state in [ON_BOARD, "night watch", "morning watch"] {
        let (found, spans) = (compared(&book, state), spans(&scenario, state));
        let shown = |name: &str| {
            let line = line(&found, name);
            format!(
                "{name} {:+.2} ({:+.2} to {:+.2}), all allowed for p {:.3}",
                line.difference.unwrap(),
                line.difference_lo95.unwrap(),
                line.difference_hi95.unwrap(),
                line.p_all_allowed_for.unwrap()
            )
        };
        let within = |mg_dl: f64| {
            if (70.0..=180.0).contains(&mg_dl) {
                100.0
            } else {
                0.0
            }
        };
        let blood = means(
            scenario.truth.blood.iter().map(|&(at, mg_dl)| (at, mg_dl)),
            &spans,
        );
        let in_range = means(
            scenario
                .truth
                .blood
                .iter()
                .map(|&(at, mg_dl)| (at, within(mg_dl))),
            &spans,
        );
        println!("{state}: {} and {} days", found.after.days, found.before.days);
        println!(
            "  planted in true blood: time in range {:+.2}, mean {:+.2} mg/dL",
            in_range[1] - in_range[0],
            blood[1] - blood[0]
        );
        for name in [
            "in_range_percent",
            "mean_mg_dl",
            "sleep_hours_per_day",
            "activity_min_per_day",
            "carbohydrate_g_per_day",
            "blood_checks_per_day",
        ] {
            println!("  found {}", shown(name));
        }
        println!("  {} of {} stand with all allowed for", found.stand, found.asked);
        // The truth of blood lies in the interval, or within what sensors of these lots are off by.
        let told = line(&found, "mean_mg_dl");
        let (lo, hi) = (told.difference_lo95.unwrap(), told.difference_hi95.unwrap());
        let truth = blood[1] - blood[0];
        assert!(lo <= truth && truth <= hi, "{state}: {truth} not in {lo} to {hi}");
    }
    let found = compared(&book, ON_BOARD);
    let boarded = spans(&scenario, ON_BOARD);
    // What is counted is counted right: grams eaten and logged, by the truth beside the files, a day.
    let mut grams = [0.0; 2];
    for entry in scenario.truth.entries.iter().filter(|entry| entry.logged) {
        if let Deed::Meal { counted_g, .. } = &entry.deed {
            let inside = boarded.iter().any(|span| (span.0..span.1).contains(&entry.at));
            grams[usize::from(inside)] += *counted_g;
        }
    }
    let days = boarded
        .iter()
        .map(|span| (span.1 - span.0) as f64 / DAY_S as f64)
        .sum::<f64>();
    let carbohydrate = line(&found, "carbohydrate_g_per_day");
    println!(
        "carbohydrate on board: {:.1} g a day logged, {:.1} told over {} days with a meal",
        grams[1] / days,
        carbohydrate.after.unwrap(),
        carbohydrate.days_after
    );
    assert!((carbohydrate.after.unwrap() / (grams[1] / days) - 1.0).abs() < 0.02);
}

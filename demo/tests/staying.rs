//! What is planted of how long sensors stay on is found, with the truth in its margin, and too few are said to be too few.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

use interstice_book::Book;
use interstice_demo::{COVER, DEFAULT_SEED, EarlierTruth, RARE_PREPARATION, Site, earlier};
use interstice_findings::wear::{Against, Group, Standing};
use interstice_findings::{WearAsk, WearFindings, wear_book};
use interstice_glucose::{Draft, Ending, Region, SensorKind, WearFrom};

fn found(truth: &[EarlierTruth]) -> WearFindings {
    let mut book = Book::in_memory().unwrap();
    let draft = Draft {
        sensor_notes: truth.iter().flat_map(EarlierTruth::written).collect(),
        ..Draft::default()
    };
    let now = truth.last().unwrap().ended + 86_400;
    book.log(&draft, "invented", now).unwrap();
    let kind = SensorKind {
        name: "invented fortnight sensor".to_owned(),
        wear_min: 14 * 1440,
        extra_min: 12 * 60,
        warm_up_min: 60,
        longest_bedding_min: 0,
        wear_from: WearFrom::Started,
        side_by_side: true,
        sites: vec![Region::UpperArm],
    };
    book.set_sensor_kind(&kind, now).unwrap();
    wear_book(&book, WearAsk::at(now)).unwrap()
}

fn group<'a>(found: &'a WearFindings, by: &str, name: &str) -> &'a Group {
    let staying = found.survival.iter().find(|staying| staying.by == by).unwrap();
    staying.groups.iter().find(|group| group.name == name).unwrap()
}

fn against<'a>(found: &'a WearFindings, by: &str, name: &str) -> &'a Against {
    group(found, by, name).against_others.as_ref().unwrap()
}

/// Days by which those it holds for truly stay on longer than the others, up to the labelled end: the mean of each sensor's own
/// expectation.
fn truly(truth: &[EarlierTruth], is: impl Fn(&EarlierTruth) -> bool) -> f64 {
    let mean = |of: Vec<&EarlierTruth>| of.iter().map(|one| one.mean_days()).sum::<f64>() / of.len() as f64;
    mean(truth.iter().filter(|one| is(one)).collect()) - mean(truth.iter().filter(|one| !is(one)).collect())
}

fn is_within(against: &Against, days: f64) -> bool {
    let longer = &against.longer_h;
    longer
        .lo95
        .zip(longer.hi95)
        .is_some_and(|(lo, hi)| lo <= 24.0 * days && 24.0 * days <= hi)
}

#[test]
fn the_thigh_loses_sensors_the_cover_helps_and_three_are_not_enough() {
    let truth = earlier(DEFAULT_SEED);
    let found = found(&truth);
    let lost = truth.iter().filter(|one| one.ending == Ending::CameOff).count() as u64;
    let all = &found.survival[0].groups[0];
    assert_eq!(
        (all.sensors, all.lost, all.came_off),
        (truth.len() as u64, lost, lost)
    );
    let thigh = against(&found, "site", "thigh");
    let (days, cover_days) = (
        truly(&truth, |one| one.site == Site::Thigh),
        truly(&truth, |one| one.cover == Some(COVER)),
    );
    println!(
        "{} sensors, {lost} lost; thigh truly {days:.2} days, told {thigh:?}",
        truth.len()
    );
    assert_eq!(thigh.standing, Standing::Shorter);
    assert!(is_within(thigh, days) && days < -2.0);
    let cover = against(&found, "cover", COVER);
    println!("cover truly {cover_days:.2} days, told {cover:?}");
    assert_eq!(
        (cover.standing, against(&found, "cover", "nothing").standing),
        (Standing::Longer, Standing::Shorter)
    );
    assert!(is_within(cover, cover_days) && cover_days > 2.0);
    let rare = format!("{RARE_PREPARATION}, wash");
    assert_eq!(group(&found, "preparation", &rare).sensors, 3);
    let rare = against(&found, "preparation", &rare);
    assert_eq!(rare.standing, Standing::TooFew);
    assert!(rare.more_sensors.unwrap() >= 5 && rare.p.value.is_none() && rare.longer_h.value.is_none());
}

/// Not one lucky seed: how often the same is found in a hundred other histories, and how often what makes no difference is
/// told as one. The bounds lie four standard deviations of a binomial count from 95 and from 5 of 100.
#[test]
fn margins_hold_the_truth_as_often_as_they_say() {
    let (mut thigh, mut thigh_within, mut cover, mut cover_within, mut alarms) = (0, 0, 0, 0, 0);
    let seeds = 100;
    for seed in 1..=seeds {
        let truth = earlier(seed);
        let found = found(&truth);
        let at = against(&found, "site", "thigh");
        thigh += u32::from(at.standing == Standing::Shorter);
        thigh_within += u32::from(is_within(at, truly(&truth, |one| one.site == Site::Thigh)));
        let with = against(&found, "cover", COVER);
        cover += u32::from(with.standing == Standing::Longer);
        cover_within += u32::from(is_within(with, truly(&truth, |one| one.cover == Some(COVER))));
        let alarm = against(&found, "preparation", "alcohol, wash");
        alarms += u32::from(!matches!(alarm.standing, Standing::Open | Standing::TooFew));
    }
    println!(
        "thigh found {thigh}, truth within {thigh_within}; cover found {cover}, within {cover_within}; false alarms {alarms}; of {seeds}"
    );
    assert!(thigh_within >= 87 && cover_within >= 87);
    assert!(thigh >= 60 && cover >= 80);
    assert!(alarms <= 13);
}

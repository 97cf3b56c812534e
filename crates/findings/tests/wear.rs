//! What is on, how long sensors stay on, and what comes next, of books made up here.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, BookErrorKind};
use interstice_findings::wear::WearFindings;
use interstice_findings::{WearAsk, wear_book};
use interstice_glucose::{
    Draft, Ending, PlanWeight, Region, Second, SensorDetail, SensorKind, SensorNote, SensorNoteKind,
    SkinAfter, WearChoice, WearFrom,
};

const DAY: Second = 86_400;
/// 2025-03-03T09:00:00Z.
const START: Second = 1_740_992_400;

fn fortnight() -> SensorKind {
    SensorKind {
        name: "mine".to_owned(),
        wear_min: 14 * 1440,
        extra_min: 0,
        warm_up_min: 60,
        longest_bedding_min: 48 * 60,
        wear_from: WearFrom::Started,
        side_by_side: true,
        sites: vec![Region::UpperArm],
    }
}

fn note(
    at: Second,
    kind: SensorNoteKind,
    sensor: &str,
    site: Option<&str>,
    ending: Option<Ending>,
) -> SensorNote {
    SensorNote {
        at,
        kind,
        sensor: Some(sensor.to_owned()),
        site: site.map(str::to_owned),
        note: None,
        detail: SensorDetail {
            ending,
            ..SensorDetail::default()
        },
    }
}

/// Sensors by site, days worn and how they ended, one after another; a day between.
fn book(worn: &[(&str, i64, Option<Ending>)]) -> (Book, Second) {
    let mut draft = Draft::default();
    let mut at = START;
    for (index, &(site, days, ending)) in worn.iter().enumerate() {
        let name = format!("W{index}");
        draft
            .sensor_notes
            .push(note(at, SensorNoteKind::Started, &name, Some(site), None));
        at += days * DAY;
        if ending.is_some() {
            draft
                .sensor_notes
                .push(note(at, SensorNoteKind::Ended, &name, None, ending));
            at += DAY;
        }
    }
    let mut book = Book::in_memory().unwrap();
    book.log(&draft, "made up", START).unwrap();
    (book, at)
}

fn told(book: &Book, now: Second) -> WearFindings {
    wear_book(book, WearAsk::at(now)).unwrap()
}

const ARM: &str = "left upper arm";
const THIGH: &str = "left thigh";

#[test]
fn without_a_kind_there_is_no_plan_and_it_says_what_to_do() {
    let (book, now) = book(&[(ARM, 14, Some(Ending::Planned))]);
    let found = told(&book, now);
    assert!(found.plan.is_empty() && found.plan_reason.unwrap().contains("sensor-kind"));
    let all = &found.survival[0].groups[0];
    assert!(all.labelled_percent.value.is_none() && all.labelled_percent.reason.is_some());
    assert_eq!(all.week_percent.value, Some(100.0));
    // One that lasted a week tells little: of one, all, the share lies anywhere above 2.5 %.
    assert!((all.week_percent.lo95.unwrap() - 2.5).abs() < 1e-9);
}

#[test]
fn losses_are_told_apart_by_site_and_counted_in_hours() {
    let arm = (ARM, 14, Some(Ending::Planned));
    let (mut book, now) = book(&[
        arm,
        (THIGH, 3, Some(Ending::CameOff)),
        arm,
        (THIGH, 5, Some(Ending::Failed)),
        arm,
    ]);
    book.set_sensor_kind(&fortnight(), START).unwrap();
    let found = told(&book, now);
    let all = &found.survival[0].groups[0];
    assert_eq!((all.sensors, all.lost), (5, 2));
    assert!((all.week_percent.value.unwrap() - 60.0).abs() < 1e-9);
    let by_site = found
        .survival
        .iter()
        .find(|staying| staying.by == "site")
        .unwrap();
    let thigh = by_site.groups.iter().find(|group| group.name == "thigh").unwrap();
    assert_eq!(
        (thigh.sensors, thigh.lost, thigh.week_percent.value),
        (2, 2, Some(0.0))
    );
    // Two losses tell of no difference, and it says how many would.
    assert!(
        by_site.p.value.is_none()
            && by_site
                .p
                .reason
                .as_ref()
                .unwrap()
                .contains("2 losses are too few")
    );
    let lost: f64 = found
        .ends
        .iter()
        .filter(|end| end.loss)
        .filter_map(|end| end.hours_lost)
        .sum();
    assert!((lost - 24.0 * (11.0 + 9.0)).abs() < 1e-6, "{lost}");
}

#[test]
fn what_was_planned_is_cut_short_and_each_loss_has_its_cause() {
    let worn: Vec<(&str, i64, Option<Ending>)> =
        Ending::ALL.iter().map(|&ending| (ARM, 5, Some(ending))).collect();
    let (book, now) = book(&worn);
    let found = told(&book, now);
    let all = &found.survival[0].groups[0];
    assert_eq!(
        (all.sensors, all.lost, all.came_off, all.failed, all.pain_or_skin),
        (10, 7, 3, 3, 1)
    );
    let cut_short: Vec<&str> = found
        .ends
        .iter()
        .filter(|end| !end.loss)
        .map(|end| end.how)
        .collect();
    assert_eq!(cut_short, ["planned", "taken off", "other"]);
    assert_eq!(found.ends.len(), 10);
    // Seven of ten were lost at once: the share still on is 3 of 10 (no source but counting).
    assert!((all.curve[0].percent - 30.0).abs() < 1e-9);
}

/// As `preparation` and `cover` are told when a sensor is put on and its loss when it ends, both must meet in one group.
#[test]
fn losses_are_told_apart_by_preparation_and_by_cover() {
    let (mut book, mut at) = book(&[]);
    let mut draft = Draft::default();
    let worn: [(&[&str], &str, i64, Ending); 4] = [
        (&["wash", "alcohol"], "over-patch", 10, Ending::Planned),
        (&["alcohol", "wash"], "over-patch", 10, Ending::Planned),
        (&["wash"], "arm band", 4, Ending::AdhesiveGaveWay),
        (&["wash"], "over-patch", 6, Ending::PainOrSkin),
    ];
    for (index, (prepared, cover, days, ending)) in worn.into_iter().enumerate() {
        let name = format!("W{index}");
        let mut put_on = note(at, SensorNoteKind::PutOn, &name, Some(ARM), None);
        put_on.detail.preparation = prepared.iter().map(|&tag| tag.to_owned()).collect();
        put_on.detail.cover = vec![cover.to_owned()];
        at += days * DAY;
        let ended = note(at, SensorNoteKind::Ended, &name, None, Some(ending));
        draft.sensor_notes.extend([put_on, ended]);
    }
    book.log(&draft, "made up", START).unwrap();
    let found = told(&book, at);
    let groups = |by: &str| -> Vec<(String, u64, u64, u64)> {
        let staying = found.survival.iter().find(|staying| staying.by == by).unwrap();
        let of = |group: &interstice_findings::wear::Group| {
            (
                group.name.clone(),
                group.sensors,
                group.came_off,
                group.pain_or_skin,
            )
        };
        staying.groups.iter().map(of).collect()
    };
    assert_eq!(
        groups("preparation"),
        [
            ("alcohol, wash".to_owned(), 2, 0, 0),
            ("wash".to_owned(), 2, 1, 1)
        ]
    );
    assert_eq!(
        groups("cover"),
        [
            ("arm band".to_owned(), 1, 1, 0),
            ("over-patch".to_owned(), 3, 0, 1)
        ]
    );
}

#[test]
fn what_is_on_is_told_and_followed_without_a_gap() {
    let (mut book, _) = book(&[(ARM, 14, Some(Ending::Planned)), (ARM, 0, None)]);
    book.set_sensor_kind(&fortnight(), START).unwrap();
    let started = START + 15 * DAY;
    let found = told(&book, started + 3600);
    let [on] = found.on_now.as_slice() else {
        panic!("{:?}", found.on_now)
    };
    assert_eq!(on.sensor_id.as_deref(), Some("W1"));
    assert!((on.left_h.unwrap() - (14.0 * 24.0 - 1.0)).abs() < 1e-9);
    assert_eq!((found.uncovered_min, found.unmet.len()), (Some(0), 0));
    let mut end = started + 14 * DAY;
    for one in &found.plan {
        assert!(one.reads_from.0.at <= end, "{one:?}");
        assert_eq!(one.start.0.at - one.put_on.0.at, DAY);
        assert_eq!((one.site, one.labelled), (Some("upper arm"), Some(true)));
        end = one.end.0.at;
    }
    assert!(end >= started + 90 * DAY);
    // Never twice on one side in a row: the other rests.
    let sides: Vec<_> = found.plan.iter().map(|one| one.side).collect();
    assert!(sides.windows(2).all(|two| two[0] != two[1]), "{sides:?}");
}

/// A day and a half of bedding in, and a sensor of which no readings are ever brought in: both are on, and not planned again.
#[test]
fn what_has_not_read_is_on_all_the_same() {
    let (mut book, _) = book(&[(ARM, 0, None)]);
    book.set_sensor_kind(&fortnight(), START).unwrap();
    let put_on = START + 13 * DAY;
    let next = Draft {
        sensor_notes: vec![note(
            put_on,
            SensorNoteKind::PutOn,
            "N",
            Some("right upper arm"),
            None,
        )],
        ..Draft::default()
    };
    book.log(&next, "made up", put_on).unwrap();
    let found = told(&book, put_on + DAY + DAY / 2 - 13 * 3600);
    let on: Vec<_> = found.on_now.iter().map(|on| on.sensor_id.as_deref()).collect();
    assert_eq!(on, [Some("W0"), Some("N")]);
    assert!(found.on_now[1].started.is_none());
    assert_eq!(
        (found.plan[0].put_on.0.at, found.uncovered_min),
        (put_on, Some(0))
    );
    // A day later its forerunner is over, and it waits still.
    let later = told(&book, put_on + DAY + DAY / 2);
    assert_eq!(later.on_now.len(), 1, "{:?}", later.on_now);
    assert_eq!(
        (later.on_now[0].sensor_id.as_deref(), later.plan[0].put_on.0.at),
        (Some("N"), put_on)
    );
}

#[test]
fn one_at_a_time_leaves_its_warm_up_uncovered_and_says_so() {
    let (mut book, _) = book(&[(ARM, 14, Some(Ending::Planned)), (ARM, 0, None)]);
    book.set_sensor_kind(
        &SensorKind {
            side_by_side: false,
            ..fortnight()
        },
        START,
    )
    .unwrap();
    let found = told(&book, START + 15 * DAY + 3600);
    assert_eq!(found.uncovered_min, Some(60 * found.plan.len() as i64));
    assert!(found.unmet[0].contains("cannot warm up beside the old one"));
}

#[test]
fn a_kind_is_kept_changed_and_taken_back() {
    let (mut book, now) = book(&[]);
    assert_eq!(book.sensor_kinds().unwrap().in_use, None);
    book.set_sensor_kind(&fortnight(), now).unwrap();
    let longer = SensorKind {
        wear_min: 15 * 1440,
        ..fortnight()
    };
    book.set_sensor_kind(&longer, now).unwrap();
    assert_eq!(book.sensor_kinds().unwrap().all, std::slice::from_ref(&longer));
    assert!(
        book.set_sensor_kind(&longer, now).unwrap().is_none(),
        "the same again writes nothing"
    );
    book.undo(None, now).unwrap();
    assert_eq!(book.sensor_kinds().unwrap().all, [fortnight()]);
    let wrong = SensorKind {
        wear_min: 30,
        ..fortnight()
    };
    let refused = book.set_sensor_kind(&wrong, now).unwrap_err();
    assert!(
        matches!(refused.kind(), BookErrorKind::Refused { .. }),
        "{refused}"
    );
}

#[test]
fn an_empty_book_has_an_answer() {
    let (book, now) = book(&[]);
    let found = told(&book, now);
    assert!(found.on_now.is_empty() && found.survival.is_empty() && found.ends.is_empty());
}

#[test]
fn each_place_is_told_with_what_came_of_it() {
    let (mut book, now) = book(&[
        (ARM, 14, Some(Ending::Planned)),
        (THIGH, 3, Some(Ending::CameOff)),
        ("left thigh, outer", 5, Some(Ending::Planned)),
        ("left thigh, inner", 2, Some(Ending::Planned)),
    ]);
    book.set_sensor_kind(&fortnight(), START).unwrap();
    let found = told(&book, now + 4 * DAY);
    let names: Vec<String> = found.places.iter().map(|place| place.name()).collect();
    // Both sides of what the labelling names, and where one was worn.
    assert_eq!(names, ["left upper arm", "right upper arm", "left thigh"]);
    let [left, right, thigh] = found.places.as_slice() else {
        panic!("{names:?}")
    };
    assert_eq!((left.sensors, left.lost, left.labelled), (1, 0, Some(true)));
    assert!((left.worn_h - 14.0 * 24.0).abs() < 1e-9);
    // Off since day 14; worn after it: 3, 5 and 2 days, a day after each, and four days more.
    assert!((left.rested_days.unwrap() - 18.0).abs() < 1e-9, "{left:?}");
    assert_eq!(
        (right.sensors, right.rested_days, &right.last_off),
        (0, None, &None)
    );
    assert_eq!((thigh.sensors, thigh.lost, thigh.labelled), (3, 1, Some(false)));
    let spots: Vec<&str> = thigh.spots.iter().map(|spot| spot.name.as_str()).collect();
    assert_eq!(spots, ["inner", "outer"]);
    assert!((thigh.rested_days.unwrap() - 5.0).abs() < 1e-9, "{thigh:?}");
    // No readings: nothing is said of trust.
    assert!(thigh.agreement.is_none() && thigh.pressure.is_none());
    let json = serde_json::to_value(&found.places[2]).unwrap();
    assert_eq!((&json["site"], &json["side"]), (&"thigh".into(), &"left".into()));
}

/// Three of four lost on the left arm, none of three on the right: the left gives way to the belly, and it says why; where an
/// hour lost weighs nothing it does not.
#[test]
fn a_place_that_loses_sensors_gives_way_and_it_says_why() {
    let (left, right, belly) = ("left upper arm", "right upper arm", "left abdomen");
    let kept = |site| (site, 14, Some(Ending::Planned));
    let lost = |site| (site, 3, Some(Ending::CameOff));
    let worn = [
        lost(left),
        kept(right),
        lost(left),
        kept(belly),
        lost(left),
        kept(right),
        kept(left),
        kept(right),
    ];
    let (mut book, now) = book(&worn);
    let kind = SensorKind {
        sites: vec![Region::UpperArm, Region::Abdomen],
        ..fortnight()
    };
    book.set_sensor_kind(&kind, START).unwrap();
    let goes = |found: &WearFindings, place: &str| {
        let places = found
            .plan
            .iter()
            .map(|one| format!("{} {}", one.side.unwrap(), one.site.unwrap()));
        places.filter(|name| name == place).count()
    };
    let found = told(&book, now);
    assert_eq!(goes(&found, left), 0, "{:#?}", found.plan);
    let why: Vec<&String> = found.plan.iter().flat_map(|one| &one.why).collect();
    let moved = "rather than the left upper arm: fewer hours should be lost here";
    assert!(
        why.iter()
            .any(|why| why.starts_with(moved) && why.contains("3 of 4 sensors lost")),
        "{why:#?}"
    );
    let weightless = WearChoice::Weight(PlanWeight::LostHour, Some(0.0));
    book.set_wear_choice(&weightless, now).unwrap();
    let found = told(&book, now);
    assert!(
        found
            .plan
            .iter()
            .flat_map(|one| &one.why)
            .all(|why| !why.starts_with("rather")),
        "{:#?}",
        found.plan
    );
}

/// Itches on the right arm twice in two: the skin there is spared.
#[test]
fn a_place_where_the_skin_suffered_gives_way() {
    let (mut book, _) = book(&[]);
    let mut draft = Draft::default();
    let mut at = START;
    let sides = ["right upper arm", "left upper arm"];
    for index in 0..6 {
        let (name, site) = (format!("W{index}"), sides[index % 2]);
        draft
            .sensor_notes
            .push(note(at, SensorNoteKind::Started, &name, Some(site), None));
        at += 14 * DAY;
        let mut end = note(at, SensorNoteKind::Ended, &name, None, Some(Ending::Planned));
        end.detail.skin = Some(if index % 2 == 0 {
            SkinAfter::Irritant
        } else {
            SkinAfter::Clear
        });
        draft.sensor_notes.push(end);
    }
    book.log(&draft, "made up", START).unwrap();
    let kind = SensorKind {
        sites: vec![Region::UpperArm, Region::Abdomen],
        ..fortnight()
    };
    book.set_sensor_kind(&kind, START).unwrap();
    let found = told(&book, at + 10 * DAY);
    assert!(
        found
            .plan
            .iter()
            .all(|one| (one.side, one.site) != (Some("right"), Some("upper arm"))),
        "{:#?}",
        found.plan
    );
    let why: Vec<&String> = found.plan.iter().flat_map(|one| &one.why).collect();
    let moved = "rather than the right upper arm: trouble with the skin is less to be expected here";
    assert!(why.iter().any(|why| why.starts_with(moved)), "{why:#?}");
}

/// Two spots told apart on each arm rest for themselves: with four, each rests for thirty days, with two arms none does.
#[test]
fn spots_of_one_place_rest_for_themselves() {
    let rest = |spots: [&str; 4]| {
        let wears = spots.map(|spot| (spot, 14, Some(Ending::Planned)));
        let (mut book, now) = book(&wears);
        book.set_sensor_kind(&fortnight(), START).unwrap();
        book.set_wear_choice(&WearChoice::RestDays(Some(30)), START)
            .unwrap();
        let found = told(&book, now);
        let too_short = found
            .unmet
            .iter()
            .any(|unmet| unmet.contains("rested for less than 30 days"));
        let places: Vec<String> = found
            .plan
            .iter()
            .map(|one| format!("{} {}", one.side.unwrap_or(""), one.spot.as_deref().unwrap_or("")))
            .collect();
        (too_short, places)
    };
    let (too_short, places) = rest([
        "left upper arm, outer",
        "right upper arm, outer",
        "left upper arm, back",
        "right upper arm, back",
    ]);
    assert!(!too_short, "{places:?}");
    let four: std::collections::BTreeSet<&String> = places[..4].iter().collect();
    assert_eq!(four.len(), 4, "{places:?}");
    let (too_short, places) = rest([
        "left upper arm",
        "right upper arm",
        "left upper arm",
        "right upper arm",
    ]);
    assert!(too_short, "{places:?}");
    // One of which no spot was told may have been at any of them.
    let (too_short, places) = rest([
        "left upper arm, outer",
        "right upper arm",
        "left upper arm, back",
        "right upper arm",
    ]);
    assert!(too_short, "{places:?}");
}

/// As of an earlier time it is what the book cut off there tells, whatever came later.
#[test]
fn what_came_later_was_not_known_then() {
    let early = [
        (ARM, 14, Some(Ending::Planned)),
        (THIGH, 3, Some(Ending::CameOff)),
    ];
    let later = [
        early.as_slice(),
        &[(THIGH, 2, Some(Ending::CameOff)), (ARM, 0, None)],
    ]
    .concat();
    let (short, end) = book(&early);
    let (long, _) = book(&later);
    let as_json = |book: &Book| {
        let mut json = serde_json::to_value(told(book, end - 60)).unwrap();
        json.as_object_mut().unwrap().remove("book_id");
        json
    };
    assert_eq!(as_json(&short), as_json(&long));
}

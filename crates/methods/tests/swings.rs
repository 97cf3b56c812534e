//! Swings: each rule, its bounds, and what must not be told. The days are invented.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot make its own data must stop"
)]

use interstice_glucose::{Censor, InsulinKind, InsulinLasts, Levels, LivedClock, Readings, Said, Unit};
use interstice_methods::insulin::OwnDurations;
use interstice_methods::swings::{
    Carbs, CarbsFor, Diary, DoseFor, LinkKind, LowsTreated, PauseBefore, RapidDose, Reactions, Roles, Swing,
    SwingKind, Tally, Window, is_by_check, lows_treated, reactions, scans_a_day, swings, tally,
    with_checked_lows,
};
use interstice_methods::{Account, Bootstrap, EpisodeEnd, Recording, TargetGroup, primary};

/// What came of a day: glucose by straight lines between (minute, mg/dL), read every five minutes.
#[derive(Debug)]
struct Found {
    roles: Roles,
    swings: Vec<Swing>,
    lows: LowsTreated,
    reactions: Reactions,
    tally: Tally,
}

#[derive(Default)]
struct Day {
    course: Vec<(f64, f64)>,
    doses: Vec<RapidDose>,
    carbs: Vec<Carbs>,
    pressed: Vec<(i64, i64)>,
    own: OwnDurations,
    checks: Vec<(i64, Said)>,
}

impl Day {
    fn of(course: &[(f64, f64)]) -> Self {
        Day {
            course: course.to_vec(),
            ..Day::default()
        }
    }

    fn dose(mut self, minute: i64, units: f64) -> Self {
        self.doses.push(RapidDose {
            at: minute * 60,
            units,
            insulin: InsulinKind::Rapid,
            said: None,
        });
        self
    }

    fn eat(mut self, minute: i64, grams: f64) -> Self {
        self.carbs.push(Carbs {
            at: minute * 60,
            grams: Some(grams),
            said: None,
        });
        self
    }

    fn pressed(mut self, from: i64, to: i64) -> Self {
        self.pressed.push((from * 60, to * 60));
        self
    }

    fn at(&self, minute: f64) -> f64 {
        let next = self.course.partition_point(|point| point.0 <= minute);
        let (a, b) = (
            self.course[next.max(1) - 1],
            self.course[next.min(self.course.len() - 1)],
        );
        if b.0 > a.0 {
            a.1 + (b.1 - a.1) * (minute - a.0) / (b.0 - a.0)
        } else {
            a.1
        }
    }

    fn look(self) -> Found {
        let (mut levels, mut readings) = (Levels::new(), Readings::default());
        let last = self.course.last().unwrap().0 as u32;
        for minute in (0..=last).step_by(5) {
            let value = self.at(f64::from(minute)).round() as i64;
            readings.push(minute * 60, levels.intern(Said::whole_mg_per_dl(value)));
        }
        let columns = [&readings];
        let series = primary(&columns);
        let clock = LivedClock::fixed(0);
        let to = i64::from(last + 5) * 60;
        let recording = Recording::new(&series, &levels, &clock, 0, to).unwrap();
        let account = Account::of(&recording);
        let episodes = with_checked_lows(&account.episodes, &self.checks, TargetGroup::Adult);
        let diary = Diary {
            recording: &recording,
            episodes: &episodes,
            doses: &self.doses,
            carbs: &self.carbs,
            pressed: &self.pressed,
            own: self.own,
        };
        let roles = Roles::of(&diary);
        let found = swings(&diary, &roles);
        let window = Window {
            from: 0,
            to,
            read_s: recording.seconds_read() as f64,
            clock: &clock,
        };
        Found {
            lows: lows_treated(&diary, &roles),
            reactions: reactions(&diary, &roles),
            tally: tally(&found, &window, &Bootstrap::seeded(1)),
            swings: found,
            roles,
        }
    }
}

/// High from 60 to `over`, low from about 330 to 390, high again from about 450.
fn seesaw(over: f64) -> Day {
    Day::of(&[
        (0.0, 120.0),
        (60.0, 181.0),
        (120.0, 260.0),
        (over, 180.0),
        (330.0, 69.0),
        (360.0, 50.0),
        (395.0, 75.0),
        (450.0, 181.0),
        (500.0, 240.0),
        (600.0, 150.0),
        (900.0, 120.0),
    ])
}

#[test]
fn a_chain_is_told_whole() {
    let found = seesaw(230.0)
        .dose(110, 3.0)
        .dose(170, 3.0)
        .eat(340, 20.0)
        .eat(350, 25.0)
        .look();
    assert_eq!(found.roles.doses, [DoseFor::Correction; 2]);
    assert_eq!(found.roles.carbs, [CarbsFor::Low; 2]);
    let [swing] = &found.swings[..] else {
        panic!("one swing: {found:?}")
    };
    assert_eq!(
        swing.kinds,
        [SwingKind::StackedCorrections, SwingKind::OverTreatedLow]
    );
    let kinds: Vec<&str> = swing.links.iter().map(|link| name(link.what)).collect();
    assert_eq!(
        kinds,
        ["high", "correction", "stacked", "low", "eaten", "eaten", "high"]
    );
    // By hand: an hour after the first, (0.7024 + 0.6684) / 2 is left (testdata/methods/iob_fraction.csv).
    let LinkKind::Correction { left: Some(left), .. } = swing.links[2].what else {
        panic!("{swing:?}")
    };
    assert!((left - 0.6854).abs() < 1e-4, "{left}");
    // The low and the second high, not the first.
    assert!(
        swing.low_s >= 50 * 60 && swing.low_s <= 70 * 60,
        "{}",
        swing.low_s
    );
    assert!(swing.high_s > 60 * 60);
    assert_eq!(found.lows.lows.len(), 1);
    assert_eq!(
        (found.lows.lows[0].grams, found.lows.lows[0].times),
        (Some(45.0), 2)
    );
    assert_eq!(found.tally.swings, 1);
}

fn name(what: LinkKind) -> &'static str {
    match what {
        LinkKind::High(_) => "high",
        LinkKind::Low(_) => "low",
        LinkKind::PressureLow(_) => "pressed",
        LinkKind::Meal { undosed: true, .. } => "undosed",
        LinkKind::Meal { .. } => "meal",
        LinkKind::LateDose { .. } => "late",
        LinkKind::Correction { left: Some(_), .. } => "stacked",
        LinkKind::Correction { .. } => "correction",
        LinkKind::Treatment { .. } => "eaten",
    }
}

/// 165 minutes leave 20 % by the one model and 32 by the other; after 200 the mean of both is below 20.
#[test]
fn a_correction_is_stacked_while_a_fifth_is_left() {
    let apart = |minutes: i64| {
        let found = seesaw(300.0).dose(65, 3.0).dose(65 + minutes, 3.0).look();
        found
            .swings
            .iter()
            .any(|swing| swing.kinds.contains(&SwingKind::StackedCorrections))
    };
    assert!(apart(165));
    assert!(!apart(200));
}

/// What is left of a tiny dose, as pumps give them, is nothing beside a large one.
#[test]
fn a_large_dose_after_a_tiny_one_is_no_stack() {
    let kinds = |first: f64| {
        let found = seesaw(300.0).dose(65, first).dose(110, 5.0).look();
        let mut kinds = found.swings.into_iter().flat_map(|swing| swing.kinds);
        kinds.any(|kind| kind == SwingKind::StackedCorrections)
    };
    assert!(kinds(2.0));
    assert!(!kinds(0.3));
}

/// The wearer's own duration decides instead: spent after two and a half hours, nothing is left to stack on at 165 minutes; lasting
/// eight, much is at 200.
#[test]
fn the_wearers_own_duration_decides_what_is_stacked() {
    let apart = |minutes: i64, own_min: u16| {
        let day = Day {
            own: OwnDurations::from(InsulinLasts {
                rapid_min: Some(own_min),
                short_min: None,
            }),
            ..seesaw(300.0).dose(65, 3.0).dose(65 + minutes, 3.0)
        };
        day.look()
            .swings
            .iter()
            .any(|swing| swing.kinds.contains(&SwingKind::StackedCorrections))
    };
    assert!(!apart(165, 150));
    assert!(apart(200, 480));
}

#[test]
fn one_correction_is_no_stack_and_a_late_low_is_none_of_it() {
    let one = seesaw(230.0).dose(110, 3.0).look();
    assert!(
        one.swings
            .iter()
            .all(|s| !s.kinds.contains(&SwingKind::StackedCorrections))
    );
    // Both more than four hours before the low.
    let early = seesaw(230.0).dose(62, 3.0).dose(85, 3.0).look();
    assert!(
        early
            .swings
            .iter()
            .all(|s| !s.kinds.contains(&SwingKind::StackedCorrections))
    );
}

/// The sensor stays above 70; the meter says 3.7 mmol/L, then 62 mg/dL, then 90: one low, of which carbohydrate and a rebound may follow.
#[test]
fn a_low_that_only_blood_checks_show_is_a_low() {
    let said = |value: i64| Said::whole_mg_per_dl(value);
    let tenths = |value: i64| Said::new(value, 1, Unit::MmolPerL, Censor::None).unwrap();
    let flat = || {
        Day::of(&[
            (0.0, 200.0),
            (120.0, 200.0),
            (200.0, 80.0),
            (260.0, 80.0),
            (330.0, 240.0),
            (600.0, 240.0),
        ])
    };
    let minute = |minutes: i64| 60 * minutes;
    let day = |checks: &[(i64, Said)]| Day {
        checks: checks.iter().map(|&(at, said)| (minute(at), said)).collect(),
        ..flat().dose(60, 3.0).dose(110, 3.0).eat(212, 40.0)
    };
    // 3.9 mmol/L and 70 mg/dL are in range, whatever they are in the other unit.
    let none = day(&[(205, tenths(39)), (215, said(70))]).look();
    let kinds: Vec<SwingKind> = none.swings.iter().flat_map(|swing| swing.kinds.clone()).collect();
    assert_eq!(
        kinds,
        [SwingKind::MissedMealDose],
        "without a low, what was eaten is a meal"
    );
    assert!(none.lows.lows.is_empty());
    let found = day(&[(205, tenths(37)), (215, said(62)), (240, said(90))]).look();
    let [swing] = found.swings.as_slice() else {
        panic!("{:?}", found.swings)
    };
    assert_eq!(
        swing.kinds,
        [SwingKind::StackedCorrections, SwingKind::OverTreatedLow]
    );
    // How long it lasted is not known.
    assert!(swing.low_s == 0 && swing.high_s > 0);
    assert_eq!(found.lows.lows.len(), 1);
    assert_eq!(found.lows.lows[0].back_after_s, Some(minute(240 - 212)));
    let lows = with_checked_lows(&[], &[(0, said(65)), (1800, said(52))], TargetGroup::Adult);
    let [low] = lows.as_slice() else {
        panic!("{lows:?}")
    };
    assert!(is_by_check(low) && low.level == 2 && low.ending == EpisodeEnd::Gap);
    assert_eq!((low.end, low.level2_start), (1800 + 900, Some(1800)));
    assert!((low.extreme_mg_dl - 52.0).abs() < 1e-9);
    // Beside a low of the sensor it is the same low.
    let before = seesaw(230.0).look();
    let same = Day {
        checks: vec![(before_low(&before), said(60))],
        ..seesaw(230.0)
    };
    assert_eq!(same.look().swings.len(), before.swings.len());
}

/// Twenty minutes before a swing's low.
fn before_low(found: &Found) -> i64 {
    let links = found.swings.iter().flat_map(|swing| &swing.links);
    let mut lows = links.filter(|link| matches!(link.what, LinkKind::Low(_)));
    lows.next().unwrap().at - 20 * 60
}

#[test]
fn scans_are_counted_where_they_are_kept() {
    assert_eq!(scans_a_day(&[0; 30]), None, "not kept");
    assert_eq!(scans_a_day(&[9; 6]), None, "too few days");
    assert_eq!(scans_a_day(&[4, 6, 8, 10, 12, 0, 14]), Some([5.0, 8.0, 11.0]));
}

#[test]
fn first_aid_is_not_too_much_and_nothing_logged_is_no_cause() {
    let kinds = |day: Day| {
        day.look()
            .swings
            .into_iter()
            .flat_map(|s| s.kinds)
            .collect::<Vec<_>>()
    };
    assert_eq!(kinds(seesaw(230.0).eat(340, 20.0)), [SwingKind::Rebound]);
    assert_eq!(kinds(seesaw(230.0).eat(340, 21.0)), [SwingKind::OverTreatedLow]);
    assert_eq!(kinds(seesaw(230.0)), [SwingKind::Rebound]);
    // A meal with its dose came between: the high is the meal's.
    assert_eq!(kinds(seesaw(230.0).dose(400, 4.0).eat(405, 60.0)), []);
}

#[test]
fn pressure_starts_no_swing_unless_it_was_treated() {
    let untreated = seesaw(230.0).pressed(320, 400).look();
    assert_eq!(untreated.swings, []);
    assert_eq!((untreated.lows.untreated, untreated.lows.lows.len()), (0, 0));
    let treated = seesaw(230.0).pressed(320, 400).eat(350, 30.0).look();
    assert_eq!(treated.swings.len(), 1);
    assert_eq!(treated.swings[0].kinds, [SwingKind::TreatedPressureLow]);
    // Less than half of it is a real low.
    let part = seesaw(230.0).pressed(320, 345).look();
    assert_eq!(part.swings[0].kinds, [SwingKind::Rebound]);
}

/// In range at noon, high an hour later.
fn after_a_meal() -> Day {
    Day::of(&[
        (0.0, 110.0),
        (120.0, 110.0),
        (180.0, 181.0),
        (240.0, 260.0),
        (360.0, 150.0),
        (900.0, 110.0),
    ])
}

#[test]
fn a_dose_is_missed_late_or_in_time() {
    let kinds = |day: Day| {
        day.look()
            .swings
            .into_iter()
            .flat_map(|s| s.kinds)
            .collect::<Vec<_>>()
    };
    // Another dose that day: its wearer logs them.
    let meal = || after_a_meal().eat(120, 50.0);
    assert_eq!(kinds(meal().dose(700, 4.0)), [SwingKind::MissedMealDose]);
    assert_eq!(kinds(meal().dose(150, 4.0)), [SwingKind::LateMealDose]);
    assert_eq!(kinds(meal().dose(134, 4.0)), []);
    assert_eq!(kinds(meal().dose(65, 4.0)), []);
    // Nobody who logs no dose at all is told of a missing one; a small bite asks for none.
    assert_eq!(kinds(meal()), []);
    assert_eq!(kinds(after_a_meal().eat(120, 15.0).dose(700, 4.0)), []);
    // A low came between, and what was eaten against it.
    let low_between = Day::of(&[
        (0.0, 110.0),
        (120.0, 110.0),
        (180.0, 60.0),
        (200.0, 60.0),
        (215.0, 110.0),
        (240.0, 190.0),
        (300.0, 240.0),
        (400.0, 110.0),
        (900.0, 110.0),
    ]);
    let told = kinds(low_between.eat(120, 50.0).eat(190, 40.0).dose(700, 4.0));
    assert_eq!(told, [SwingKind::OverTreatedLow]);
    // The high was on its way already.
    assert_eq!(kinds(after_a_meal().eat(175, 50.0).dose(700, 4.0)), []);
}

#[test]
fn waiting_was_enough_where_the_high_ended_before_the_second_can_have_acted() {
    let pause = |second: i64| {
        let found = seesaw(230.0).dose(110, 3.0).dose(second, 3.0).look();
        let stacked = found
            .swings
            .into_iter()
            .find(|s| s.kinds.contains(&SwingKind::StackedCorrections));
        stacked.unwrap().pauses[0]
    };
    let soon = pause(210);
    assert!(soon.was_enough, "{soon:?}");
    let PauseBefore::Correction {
        slope_mg_dl_min: Some(slope),
        high_over: Some(over),
        ..
    } = soon.before
    else {
        panic!("{soon:?}")
    };
    assert!(slope < -0.5, "{slope}");
    assert!((225 * 60..=240 * 60).contains(&over), "{over}");
    let early = pause(140);
    assert!(!early.was_enough, "{early:?}");
}

#[test]
fn how_soon_one_acts_is_counted_from_the_rise() {
    let mut day = seesaw(230.0);
    day = day.dose(110, 3.0).dose(170, 3.0);
    let found = day.look();
    let minutes: Vec<Option<i64>> = found
        .reactions
        .all
        .iter()
        .map(|reaction| reaction.after_rise_s.map(|s| s / 60))
        .collect();
    assert_eq!(minutes, [Some(50), Some(110)]);
    assert_eq!(found.reactions.all[1].after_dose_s, Some(3600));
    assert_eq!(found.reactions.all[0].low_after, Some(true));
    // Two are too few for a share or a median.
    assert_eq!(found.reactions.soon(), None);
    assert_eq!(found.reactions.after_rise_min(), None);
    assert_eq!((found.reactions.highs, found.reactions.left_alone), (2, 1));
}

#[test]
fn nothing_logged_and_nothing_read_is_nothing_told() {
    let found = Day::of(&[(0.0, 110.0), (600.0, 110.0)]).look();
    assert_eq!(found.swings, []);
    assert_eq!(found.tally.swings, 0);
    assert_eq!(found.tally.usual_hours, None);
    assert!(found.tally.kinds.is_empty());
}

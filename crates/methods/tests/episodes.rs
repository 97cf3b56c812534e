//! Episodes at the edges: sampling intervals, gaps, level 2, extended, units.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot make its own data must stop"
)]

use interstice_glucose::{Censor, Levels, LivedClock, Readings, Said, Unit};
use interstice_methods::{
    Account, Bootstrap, Episode, EpisodeEnd, EpisodeKind, EpisodeParams, Recording, Segment, Series,
    TargetGroup, episodes, primary,
};

const CLOCK: fn() -> LivedClock = || LivedClock::fixed(0);

/// Episodes of whole mg/dL values at a step of some minutes, between quiet hours; times in minutes from the first value.
fn at_step(minutes: u32, values: &[i64]) -> Vec<Episode> {
    let quiet = 1200 / minutes;
    let mut rows = vec![];
    for i in 0..quiet {
        rows.push((i * minutes, 110));
    }
    let first = quiet * minutes;
    rows.extend((0..).zip(values).map(|(i, &value)| (first + i * minutes, value)));
    let after = first + values.len() as u32 * minutes;
    rows.extend((0..quiet).map(|i| (after + i * minutes, 110)));
    let mut found = of(&rows);
    for episode in &mut found {
        for at in [&mut episode.start, &mut episode.end, &mut episode.extreme_at] {
            *at -= i64::from(first) * 60;
        }
    }
    found
}

/// Episodes of (minute, mg/dL).
fn of(rows: &[(u32, i64)]) -> Vec<Episode> {
    let (mut levels, mut readings) = (Levels::new(), Readings::default());
    for &(minute, value) in rows {
        readings.push(minute * 60, levels.intern(Said::whole_mg_per_dl(value)));
    }
    let series = primary(&[&readings]);
    Account::compute(&series, &levels, &CLOCK(), 0, 10 * 86_400)
        .unwrap()
        .episodes
}

#[test]
fn fifteen_minutes_are_three_readings_at_five_one_at_fifteen_fifteen_at_one() {
    assert_eq!(at_step(5, &[65, 65]).len(), 0);
    assert_eq!(at_step(5, &[65, 65, 65]).len(), 1);
    assert_eq!(at_step(15, &[65]).len(), 1);
    assert_eq!(at_step(1, &[65; 14]).len(), 0);
    assert_eq!(at_step(1, &[65; 15]).len(), 1);
    assert_eq!(at_step(10, &[65]).len(), 0);
    assert_eq!(at_step(10, &[65, 65]).len(), 1);
}

#[test]
fn start_end_extreme_and_area() {
    let found = at_step(5, &[68, 60, 64, 71, 66, 90, 90, 90]);
    assert_eq!(found.len(), 1);
    let episode = found[0];
    assert_eq!(
        (episode.kind, episode.level, episode.extended),
        (EpisodeKind::Low, 1, false)
    );
    assert_eq!(
        (episode.start, episode.end, episode.ending),
        (0, 25 * 60, EpisodeEnd::Recovered)
    );
    assert_eq!((episode.extreme_at, episode.seconds), (300, 1500));
    assert!((episode.extreme_mg_dl - 60.0).abs() < 1e-12);
    // (2 + 10 + 6 + 4) mg/dL for five minutes each.
    assert!((episode.area_mg_dl_min - 110.0).abs() < 1e-9);
    assert!(!episode.start_unknown);
}

#[test]
fn level_two_stands_once_within_level_one() {
    let found = at_step(5, &[60, 50, 60, 50, 50, 50, 60, 80, 60, 90, 90, 90]);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].level, 2);
    assert_eq!(found[0].level2_start.map(|at| at - 1200 * 60), Some(15 * 60));
    assert_eq!(found[0].end, 45 * 60);
    let high = at_step(5, &[200, 260, 260, 260, 200]);
    assert_eq!((high[0].kind, high[0].level), (EpisodeKind::High, 2));
    assert!((high[0].area_mg_dl_min - (2.0 * 20.0 + 3.0 * 80.0) * 5.0).abs() < 1e-9);
}

#[test]
fn extended_low_is_unbroken_for_more_than_two_hours() {
    assert!(!at_step(5, &[65; 24])[0].extended);
    assert!(at_step(5, &[65; 25])[0].extended);
    let mut broken = [65; 40];
    broken[20] = 75;
    assert_eq!(at_step(5, &broken).len(), 1);
    assert!(!at_step(5, &broken)[0].extended);
}

#[test]
fn extended_high_is_ninety_minutes_of_any_two_hours() {
    let of_four = |high: usize| {
        (0..24)
            .map(|i| if i % 4 < high { 260 } else { 240 })
            .collect::<Vec<i64>>()
    };
    assert!(at_step(5, &of_four(3))[0].extended);
    assert!(!at_step(5, &of_four(2))[0].extended);
    assert!(!at_step(5, &[260; 17])[0].extended);
    assert!(at_step(5, &[260; 18])[0].extended);
}

#[test]
fn a_gap_ends_an_episode_unknown_and_is_never_bridged() {
    let quiet = |from: u32| (0..20).map(move |i| (from + 5 * i, 110));
    let mut rows: Vec<(u32, i64)> = quiet(0).collect();
    rows.extend([(100, 65), (105, 60), (110, 65), (131, 65), (136, 66), (141, 66)]);
    rows.extend(quiet(146));
    let found = of(&rows);
    assert_eq!(found.len(), 2);
    assert_eq!(
        (found[0].end, found[0].ending, found[0].seconds),
        (110 * 60, EpisodeEnd::Gap, 900)
    );
    assert!(found[1].start_unknown && !found[0].start_unknown);
    // The same with a silence of 15 minutes, two readings lost, is one episode.
    for row in &mut rows {
        row.0 -= if row.0 > 110 { 6 } else { 0 };
    }
    let found = of(&rows);
    assert_eq!(found.len(), 1);
    assert_eq!(
        (found[0].ending, found[0].seconds),
        (EpisodeEnd::Recovered, 40 * 60)
    );
}

#[test]
fn two_readings_before_a_gap_and_one_after_are_no_episode() {
    let mut rows: Vec<(u32, i64)> = (0..20).map(|i| (5 * i, 110)).collect();
    rows.extend([(100, 65), (105, 60), (140, 65)]);
    rows.extend((0..20).map(|i| (145 + 5 * i, 110)));
    assert!(of(&rows).is_empty());
}

#[test]
fn recovery_under_way_at_a_gap_dates_the_end_but_does_not_make_it_known() {
    let mut rows: Vec<(u32, i64)> = (0..20).map(|i| (5 * i, 110)).collect();
    rows.extend([(100, 65), (105, 60), (110, 65), (115, 80), (120, 85)]);
    let found = of(&rows);
    assert_eq!((found[0].end, found[0].ending), (115 * 60, EpisodeEnd::UnderWay));
    rows.push((200, 110));
    assert_eq!(of(&rows)[0].ending, EpisodeEnd::Gap);
}

#[test]
fn mmol_readings_are_held_against_mmol_thresholds() {
    let episodes_of = |tenths: i64| {
        let mut levels = Levels::new();
        let level = levels.intern(Said::new(tenths, 1, Unit::MmolPerL, Censor::None).unwrap());
        let quiet = levels.intern(Said::new(60, 1, Unit::MmolPerL, Censor::None).unwrap());
        let mut readings = Readings::default();
        for i in 0..30 {
            readings.push(i * 300, if (10..16).contains(&i) { level } else { quiet });
        }
        let series = primary(&[&readings]);
        Account::compute(&series, &levels, &CLOCK(), 0, 86_400)
            .unwrap()
            .episodes
    };
    assert_eq!(episodes_of(39).len(), 0);
    assert_eq!(episodes_of(38)[0].level, 1);
    assert_eq!(episodes_of(30)[0].level, 1);
    assert_eq!(episodes_of(29)[0].level, 2);
    assert_eq!(episodes_of(100).len(), 0);
    assert_eq!(episodes_of(139)[0].level, 1);
    assert_eq!(episodes_of(140)[0].level, 2);
}

#[test]
fn other_durations_can_be_asked_for_within_reason() {
    assert!(EpisodeParams::new(0, 7200, 5400, 7200).is_err());
    assert!(EpisodeParams::new(900, 7200, 5400, 86_401).is_err());
    let half_hour = EpisodeParams::new(1800, 7200, 5400, 7200).unwrap();
    let mut levels = Levels::new();
    let (low, quiet) = (
        levels.intern(Said::whole_mg_per_dl(60)),
        levels.intern(Said::whole_mg_per_dl(100)),
    );
    let level: Vec<u32> = (0..20)
        .map(|i| if (5..10).contains(&i) { low } else { quiet })
        .collect();
    let at: Vec<u32> = (0..20).map(|i| i * 300).collect();
    let segment = Segment {
        start: 0,
        interval_s: 300,
        trace: 0,
        assumed: false,
    };
    let series = Series::new(at, level, vec![segment]).unwrap();
    let clock = CLOCK();
    let recording = Recording::new(&series, &levels, &clock, 0, 86_400).unwrap();
    assert_eq!(episodes(&recording, &EpisodeParams::default()).len(), 1);
    assert!(episodes(&recording, &half_hour).is_empty());
}

/// A fortnight of two-hour steps through every band: 63–140 mg/dL is the range of pregnancy (Battelino et al. 2019,
/// Diabetes Care 42:1593), by which a quarter of the day at 150 is a high and an hour at 65 no low.
#[test]
fn in_pregnancy_ranges_and_episodes_go_by_its_target_range() {
    let (mut levels, mut readings) = (Levels::new(), Readings::default());
    let day = [(72, 100), (12, 65), (72, 150), (12, 60), (120, 110)];
    let values = day
        .iter()
        .flat_map(|&(count, value)| std::iter::repeat_n(value, count));
    for (i, value) in (0u32..).zip(values.cycle().take(14 * 288)) {
        readings.push(i * 300, levels.intern(Said::whole_mg_per_dl(value)));
    }
    let series = primary(&[&readings]);
    let clock = CLOCK();
    let account = |group| {
        let recording = Recording::new(&series, &levels, &clock, 0, 14 * 86_400).unwrap();
        Account::of(&recording.for_group(group))
    };
    let (adult, pregnancy) = (account(TargetGroup::Adult), account(TargetGroup::Pregnancy));
    let share = |account: &Account| {
        let s = account.summary;
        [
            s.low_percent,
            s.in_range_percent,
            s.high_percent,
            s.below_percent,
            s.above_percent,
        ]
        .map(|f| (f.unwrap() * 288.0 / 100.0).round() as i64)
    };
    assert_eq!(share(&adult), [24, 264, 0, 24, 0]);
    assert_eq!(share(&pregnancy), [12, 204, 72, 12, 72]);
    assert_eq!(
        adult.summary.gri, pregnancy.summary.gri,
        "the index keeps its own thresholds"
    );
    let count = |account: &Account, kind| account.episodes.iter().filter(|e| e.kind == kind).count();
    assert_eq!(
        (count(&adult, EpisodeKind::Low), count(&adult, EpisodeKind::High)),
        (28, 0)
    );
    assert_eq!(
        (
            count(&pregnancy, EpisodeKind::Low),
            count(&pregnancy, EpisodeKind::High)
        ),
        (14, 14)
    );
    let low = pregnancy
        .episodes
        .iter()
        .find(|e| e.kind == EpisodeKind::Low)
        .unwrap();
    assert!(
        (low.area_mg_dl_min - 3.0 * 60.0).abs() < 1e-9,
        "depth is below 63: {}",
        low.area_mg_dl_min
    );
    let interval = Bootstrap::seeded(1)
        .intervals(&pregnancy)
        .unwrap()
        .in_range_percent
        .unwrap();
    assert!(
        (interval.lo - 100.0 * 204.0 / 288.0).abs() < 1e-9,
        "margins go by it too"
    );
}

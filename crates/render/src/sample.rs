//! An invented account for tests and pictures: nobody's glucose, made of sines.

mod followed;

use interstice_findings::{
    DayLine, EpisodeKind, EpisodeLine, Figure, Nearby, NearbyKind, RangeMinutes, ReviewFindings, Sufficiency,
    Summary, TargetGroup, Time, TraceLine, UsualMinute, Window,
};
use interstice_glucose::{DAY_S, Moment, Unit};

/// 3 March 2025, 00:00 at +01:00.
const FIRST: i64 = 1_740_956_400;
const OFFSET_S: i32 = 3600;

/// An invented account of `days` days, with a gap in the afternoon and lows before dawn.
pub fn review(days: u32) -> ReviewFindings {
    let to = FIRST + i64::from(days) * DAY_S;
    ReviewFindings {
        unit: Unit::MgPerDl,
        without_artefacts: false,
        left_out: None,
        window: Window {
            from: time(FIRST),
            to: time(to),
            days,
        },
        sufficiency: sufficiency(days),
        summary: summary(),
        summary_without_artefacts: None,
        targets: TargetGroup::Adult.targets(),
        average_day: RangeMinutes {
            very_low_min: Some(6.0),
            low_min: Some(37.0),
            below_min: Some(43.0),
            in_range_min: Some(980.0),
            high_min: Some(331.0),
            very_high_min: Some(86.0),
            above_min: Some(417.0),
        },
        usual_day: usual_day(days, 0.0),
        usual_weekday: usual_day(days * 5 / 7, -6.0),
        usual_weekend: usual_day(days * 2 / 7, 18.0),
        days: (0..days).map(day).collect(),
        episodes: episodes(days),
        traces: traces(days),
        swings: followed::swings(days),
        meals: followed::meals(days),
        patterns: followed::patterns(days),
        blood_checks: None,
        seed: 1,
        notes: vec![
            "Two sensors overlapped for 9 h on 11 March; the older one counts until it ends.".to_owned(),
        ],
    }
}

/// The account of a window without readings.
pub fn empty_review() -> ReviewFindings {
    let reason = "there are no readings in this window";
    let mut findings = review(0);
    findings.window.to = time(FIRST + 14 * DAY_S);
    findings.window.days = 14;
    findings.summary = Summary {
        in_range_percent: Figure::missing(reason),
        ..Summary::default()
    };
    findings.average_day = RangeMinutes::default();
    findings.sufficiency = Sufficiency {
        expected: 0,
        received: 0,
        active_percent: None,
        days_with_data: 0,
        enough: false,
        reason: Some(reason.to_owned()),
    };
    findings.usual_day.clear();
    findings.usual_weekday.clear();
    findings.usual_weekend.clear();
    findings.traces.clear();
    findings.notes.clear();
    findings
}

fn time(at: i64) -> Time {
    Time(Moment {
        at,
        offset_s: OFFSET_S,
    })
}

fn sufficiency(days: u32) -> Sufficiency {
    let enough = days >= 14;
    Sufficiency {
        expected: u64::from(days) * 288,
        received: u64::from(days) * 270,
        active_percent: Some(93.8),
        days_with_data: days,
        enough,
        reason: (!enough).then(|| format!("{} more days are needed", 14 - days)),
    }
}

fn figure(value: f64, lo95: f64, hi95: f64) -> Figure {
    Figure {
        value: Some(value),
        lo95: Some(lo95),
        hi95: Some(hi95),
        reason: None,
    }
}

fn summary() -> Summary {
    Summary {
        mean_mg_dl: figure(151.3, 142.8, 160.1),
        sd_mg_dl: figure(54.2, 49.0, 59.7),
        cv_percent: figure(35.8, 32.9, 38.9),
        gmi_percent: figure(6.93, 6.73, 7.14),
        very_low_percent: figure(0.42, 0.1, 0.9),
        low_percent: figure(2.57, 1.6, 3.7),
        below_percent: figure(2.99, 1.8, 4.3),
        in_range_percent: figure(68.05, 62.9, 73.4),
        high_percent: figure(22.99, 18.9, 27.0),
        very_high_percent: figure(5.97, 3.8, 8.6),
        above_percent: figure(28.96, 23.6, 34.1),
        tight_range_percent: figure(44.1, 39.2, 49.3),
        lbgi: figure(0.84, 0.6, 1.1),
        hbgi: figure(6.2, 4.9, 7.6),
        gri: figure(34.7, 27.9, 42.0),
        gri_hypo: figure(2.5, 1.5, 3.8),
        gri_hyper: figure(17.5, 13.4, 21.9),
        mage_mg_dl: figure(118.0, 104.0, 131.0),
        modd_mg_dl: figure(47.0, 41.0, 53.0),
        j_index: figure(42.2, 37.0, 47.9),
        conga1_mg_dl: Figure::missing("needs two readings an hour apart on ten days"),
    }
}

/// A hump after each of three meals and a dip before dawn; nothing between 16:00 and 16:30.
fn usual_day(days: u32, shift: f64) -> Vec<UsualMinute> {
    if days == 0 {
        return Vec::new();
    }
    (0..1440)
        .step_by(5)
        .map(|minute| usual_minute(minute, days, shift))
        .collect()
}

fn usual_minute(minute: u32, days: u32, shift: f64) -> UsualMinute {
    let hump = |at: f64, width: f64| {
        let straight = (f64::from(minute) - at).abs();
        let away = straight.min(1440.0 - straight) / width;
        1.0 / (1.0 + away * away)
    };
    let middle =
        118.0 + shift + 62.0 * hump(530.0, 75.0) + 38.0 * hump(830.0, 80.0) + 70.0 * hump(1220.0, 110.0)
            - 22.0 * hump(225.0, 110.0);
    let spread = 0.62 + 0.3 * hump(1230.0, 150.0) + 0.1 * hump(225.0, 90.0);
    let gap = (960..990).contains(&minute);
    let at = |ratio: f64| (!gap).then_some(middle * ratio);
    let thin = (840..1080).contains(&minute);
    UsualMinute {
        minute,
        days: if gap {
            2
        } else if thin {
            days - days / 4
        } else {
            days
        },
        p5_mg_dl: at(1.0 - 0.66 * spread),
        p25_mg_dl: at(1.0 - 0.29 * spread),
        p50_mg_dl: at(1.0),
        p75_mg_dl: at(1.0 + 0.33 * spread),
        p95_mg_dl: at(1.0 + 0.92 * spread),
    }
}

fn day(index: u32) -> DayLine {
    let start = FIRST + i64::from(index) * DAY_S;
    let wave = f64::from((index * 37) % 17) / 17.0;
    let very_low = if index % 5 == 2 { 1.4 } else { 0.0 };
    let low = 6.0 * f64::from((index * 11) % 7) / 7.0;
    let very_high = if index % 3 == 1 { 9.0 * wave } else { 0.0 };
    let high = 8.0 + 30.0 * wave;
    let moment = Moment {
        at: start,
        offset_s: OFFSET_S,
    };
    let wall = moment.wall();
    DayLine {
        date: wall
            .civil()
            .map(|civil| civil.date().to_string())
            .unwrap_or_default(),
        weekday: u8::try_from((wall.day() + 3).rem_euclid(7) + 1).unwrap_or(1),
        from: Time(moment),
        hours: 24.0,
        received: if index % 6 == 4 { 190 } else { 284 },
        active_percent: if index % 6 == 4 { 66.0 } else { 98.6 },
        mean_mg_dl: Some(132.0 + 40.0 * wave),
        lowest_mg_dl: Some(if very_low > 0.0 { 48.0 } else { 66.0 + 10.0 * wave }),
        censored_below: 0,
        censored_above: 0,
        highest_mg_dl: Some(210.0 + 90.0 * wave),
        very_low_percent: Some(very_low),
        low_percent: Some(low),
        below_percent: Some(very_low + low),
        in_range_percent: Some(100.0 - very_low - low - high - very_high),
        high_percent: Some(high),
        very_high_percent: Some(very_high),
        above_percent: Some(high + very_high),
    }
}

fn episodes(days: u32) -> Vec<EpisodeLine> {
    (0..days)
        .flat_map(|index| [night_low(index), evening_high(index)].into_iter().flatten())
        .collect()
}

fn night_low(index: u32) -> Option<EpisodeLine> {
    (!index.is_multiple_of(3)).then(|| {
        let deep = index % 5 == 2;
        let start = FIRST + i64::from(index) * DAY_S + 11_400 + i64::from((index * 1_130) % 5_400);
        episode(
            EpisodeKind::Low,
            deep,
            start,
            if deep {
                85.0
            } else {
                25.0 + f64::from(index % 4) * 10.0
            },
            if deep { 48.0 } else { 62.0 },
        )
    })
}

fn evening_high(index: u32) -> Option<EpisodeLine> {
    (index % 4 != 1).then(|| {
        let far = index % 4 == 2;
        let start = FIRST + i64::from(index) * DAY_S + 70_200 + i64::from((index * 2_710) % 9_000);
        let mut line = episode(
            EpisodeKind::High,
            far,
            start,
            95.0 + f64::from(index % 5) * 40.0,
            if far { 287.0 } else { 224.0 },
        );
        line.end_unknown = index % 7 == 3;
        line
    })
}

fn episode(kind: EpisodeKind, serious: bool, start: i64, minutes: f64, extreme: f64) -> EpisodeLine {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "whole minutes of an invented episode"
    )]
    let length = (minutes * 60.0) as i64;
    EpisodeLine {
        kind,
        level: if serious { 2 } else { 1 },
        extended: serious && minutes > 120.0,
        start: time(start),
        start_pass: None,
        end: time(start + length),
        end_unknown: false,
        minutes,
        extreme_mg_dl: extreme,
        extreme_at: time(start + length / 2),
        area_mg_dl_min: minutes * 8.0,
        before: vec![nearby(start, -130.0, NearbyKind::RapidInsulin, 4.0)],
        after: if kind == EpisodeKind::Low {
            vec![nearby(start, 12.0, NearbyKind::Carbohydrate, 15.0)]
        } else {
            Vec::new()
        },
    }
}

fn nearby(start: i64, minutes: f64, what: NearbyKind, amount: f64) -> Nearby {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "whole minutes of an invented entry"
    )]
    let away = (minutes * 60.0) as i64;
    Nearby {
        at: time(start + away),
        minutes,
        what,
        amount: Some(amount),
        text: None,
    }
}

fn traces(days: u32) -> Vec<TraceLine> {
    let half = i64::from(days / 2) * DAY_S;
    [
        ("A1", FIRST, FIRST + half),
        ("A2", FIRST + half - 32_400, FIRST + i64::from(days) * DAY_S - 300),
    ]
    .into_iter()
    .map(|(sensor, from, to)| TraceLine {
        sensor: sensor.to_owned(),
        by_hand: false,
        interval_min: Some(5.0),
        received: u64::from(days) * 135,
        from: time(from),
        to: time(to),
        censored: 3,
    })
    .collect()
}

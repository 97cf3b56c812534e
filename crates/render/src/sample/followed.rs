//! What followed what in the invented account: one swing, two meals.

use interstice_findings::meals::{MealLine, MealsFindings, RepeatedLine, TimingLine};
use interstice_findings::patterns::{AfterLine, DawnLine, EventName, PatternLine, PatternsFindings};
use interstice_findings::swings::{
    HabitLine, KindLine, LastsLine, LinkLine, LinkName, LowTreatedLine, LowsTreatedLine, PauseLine,
    Quartiles, Rate, RatioLine, ShareLine, SwingKindLine, SwingLine, SwingTally, SwingsFindings,
    UsualHoursLine,
};

use super::{FIRST, time};

const MINUTE: i64 = 60;

/// One swing of two corrections, a low treated twice and a high; nothing in an empty account.
pub(super) fn swings(days: u32) -> SwingsFindings {
    if days == 0 {
        return SwingsFindings::default();
    }
    SwingsFindings {
        swings: vec![swing()],
        swing_tally: tally(),
        lows_treated: LowsTreatedLine {
            lows: vec![LowTreatedLine {
                start: time(FIRST + 1290 * MINUTE),
                lowest_mg_dl: 52.0,
                first: time(FIRST + 1295 * MINUTE),
                times: 2,
                grams: Some(45.0),
                back_after_min: Some(25.0),
                high_after: true,
                by_blood_check: false,
            }],
            untreated: 3,
            grams: Some(quartiles(16.0, 20.0, 32.0)),
            back_after_min: Some(quartiles(15.0, 20.0, 35.0)),
            more_than_first_aid: Some(share(4, 9, 14.0, 79.0)),
            high_after_more: None,
            high_after_less: Some(share(1, 5, 0.5, 72.0)),
            reason: None,
        },
        reaction_habit: HabitLine {
            corrections: 12,
            highs: 30,
            left_alone: 18,
            after_rise_min: Some(quartiles(25.0, 48.0, 80.0)),
            within_an_hour: Some(share(5, 12, 15.0, 72.0)),
            low_after_soon: Some(share(3, 5, 15.0, 95.0)),
            low_after_others: Some(share(1, 7, 0.4, 58.0)),
            scans_per_day: Some(quartiles(6.0, 8.0, 11.0)),
            scan_days: 14,
            reason: None,
        },
        insulin_lasts_hours: LastsLine {
            rapid: Some(4.5),
            short: None,
        },
    }
}

fn quartiles(p25: f64, p50: f64, p75: f64) -> Quartiles {
    Quartiles { p25, p50, p75 }
}

fn share(of: u64, all: u64, lo95: f64, hi95: f64) -> ShareLine {
    ShareLine {
        of,
        all,
        percent: 100.0 * of as f64 / all as f64,
        lo95,
        hi95,
    }
}

fn tally() -> SwingTally {
    let rate = Rate {
        per_week: Some(0.5),
        lo95: Some(0.0),
        hi95: Some(2.8),
    };
    SwingTally {
        swings: 9,
        rate,
        low_hours_per_week: Some(0.4),
        high_hours_per_week: Some(1.0),
        hours_per_week_lo95: Some(0.3),
        hours_per_week_hi95: Some(2.6),
        kinds: vec![KindLine {
            kind: SwingKindLine::StackedCorrections,
            swings: 9,
            rate,
        }],
        later_to_earlier: Some(RatioLine {
            lo95: 1.2,
            hi95: None,
        }),
        weekend_to_weekday: Some(RatioLine {
            lo95: 0.4,
            hi95: Some(2.2),
        }),
        usual_hours: Some(UsualHoursLine {
            from_hour: 20,
            hours: 4,
            swings: 6,
            by_chance: 0.012,
        }),
        pause_was_enough: 1,
        reason: None,
    }
}

fn swing() -> SwingLine {
    let link = |minute: i64, what: LinkName| LinkLine {
        at: time(FIRST + minute * MINUTE),
        what,
        units: None,
        grams: None,
        shown_mg_dl: Some(course(minute)),
        extreme_mg_dl: None,
        until: None,
        left_percent: None,
        after_min: None,
        rule: "",
    };
    SwingLine {
        kinds: vec![SwingKindLine::StackedCorrections, SwingKindLine::OverTreatedLow],
        start: time(FIRST + 1080 * MINUTE),
        end: time(FIRST + 1430 * MINUTE),
        low_min: 30.0,
        high_min: 70.0,
        links: vec![
            LinkLine {
                extreme_mg_dl: Some(260.0),
                ..link(1080, LinkName::High)
            },
            LinkLine {
                units: Some(4.0),
                ..link(1100, LinkName::Correction)
            },
            LinkLine {
                units: Some(3.5),
                left_percent: Some(68.5),
                after_min: Some(60.0),
                ..link(1160, LinkName::StackedCorrection)
            },
            LinkLine {
                extreme_mg_dl: Some(52.0),
                ..link(1290, LinkName::Low)
            },
            LinkLine {
                grams: Some(20.0),
                ..link(1295, LinkName::Treatment)
            },
            LinkLine {
                grams: Some(25.0),
                ..link(1303, LinkName::Treatment)
            },
            LinkLine {
                extreme_mg_dl: Some(221.0),
                ..link(1360, LinkName::High)
            },
        ],
        pauses: vec![
            PauseLine {
                at: time(FIRST + 1160 * MINUTE),
                before: "another_correction",
                left_percent: Some(68.5),
                spent_after_min: Some(131.0),
                slope_mg_dl_min: Some(-1.2),
                after_min: None,
                before_grams: None,
                over_at: Some(time(FIRST + 1190 * MINUTE)),
                was_enough: true,
            },
            PauseLine {
                at: time(FIRST + 1303 * MINUTE),
                before: "more_eaten",
                left_percent: None,
                spent_after_min: None,
                slope_mg_dl_min: None,
                after_min: Some(8.0),
                before_grams: Some(20.0),
                over_at: Some(time(FIRST + 1320 * MINUTE)),
                was_enough: false,
            },
        ],
        course: (0..88)
            .map(|i| 1035 + 5 * i)
            .map(|minute| (FIRST + minute * MINUTE, course(minute)))
            .collect(),
    }
}

/// Glucose by straight lines.
fn course(minute: i64) -> f64 {
    let corners = [
        (1035, 150.0),
        (1080, 182.0),
        (1120, 260.0),
        (1190, 180.0),
        (1290, 69.0),
        (1305, 52.0),
        (1320, 75.0),
        (1360, 182.0),
        (1395, 221.0),
        (1480, 130.0),
    ];
    let next = corners
        .iter()
        .position(|corner| corner.0 >= minute)
        .unwrap_or(corners.len() - 1)
        .max(1);
    let (a, b) = (corners[next - 1], corners[next]);
    a.1 + (b.1 - a.1) * (minute - a.0) as f64 / (b.0 - a.0) as f64
}

/// Two meals, one of them eaten twice.
pub(super) fn meals(days: u32) -> MealsFindings {
    if days == 0 {
        return MealsFindings::default();
    }
    let meal = |minute: i64, rise: f64| MealLine {
        at: time(FIRST + minute * MINUTE),
        text: Some("porridge".to_owned()),
        grams: Some(45.0),
        units: Some(4.5),
        lead_min: Some(10.0),
        before_mg_dl: 110.0,
        peak_mg_dl: 110.0 + rise,
        rise_mg_dl: rise,
        to_peak_min: 75.0,
        area_mg_dl_min: Some(70.0 * rise),
        back_after_min: Some(160.0),
    };
    MealsFindings {
        meals: vec![meal(480, 62.0), meal(1925, 88.0)],
        meals_unread: 1,
        repeated_meals: vec![RepeatedLine {
            name: "porridge".to_owned(),
            times: 2,
            undisturbed: 2,
            grams: Some(45.0),
            mean_rise_mg_dl: Some(75.0),
            expected_rise_mg_dl: Some(69.0),
            expected_rise_mg_dl_lo95: Some(41.0),
            expected_rise_mg_dl_hi95: Some(96.0),
            to_peak_min: Some(75.0),
            area_mg_dl_min: Some(5250.0),
            rises_mg_dl: vec![62.0, 88.0],
        }],
        meal_timing: TimingLine {
            meals: 2,
            reason: Some("2 of the 20 counted, dosed and undisturbed meals it takes".to_owned()),
            ..TimingLine::default()
        },
    }
}

/// Lows at night in both halves, something after activity, a rise towards morning.
pub(super) fn patterns(days: u32) -> PatternsFindings {
    if days == 0 {
        return PatternsFindings::default();
    }
    PatternsFindings {
        patterns: vec![PatternLine {
            event: EventName::Low,
            days_kind: "weekdays".to_owned(),
            from_minute: 120,
            minutes: 120,
            days_with: 5,
            days: 10,
            base_percent: 8.2,
            earlier_percent: 40.0,
            later_percent: 60.0,
            p: 0.004,
        }],
        patterns_asked: 288,
        patterns_days: days as usize,
        after: vec![AfterLine {
            what: "activity",
            event: EventName::Low,
            from_hours: 4.0,
            to_hours: 16.0,
            with: 4,
            times: 6,
            expected: 1.9,
            p: 0.07,
        }],
        dawn: DawnLine {
            nights: 6,
            low_food_or_pressure: 5,
            no_breakfast: 1,
            rise_mg_dl: Some(24.0),
            rise_mg_dl_p25: Some(11.0),
            rise_mg_dl_p75: Some(33.0),
            marked_percent: Some(66.7),
            marked_percent_lo95: Some(22.3),
            marked_percent_hi95: Some(95.7),
            ..DawnLine::default()
        },
    }
}

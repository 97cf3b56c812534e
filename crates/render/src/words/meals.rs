//! Meals as sentences and tables.

use interstice_findings::meals::{MealLine, MealsFindings, RepeatedLine, TimingLine};
use interstice_glucose::round_half_up;
use interstice_tongue::say;

use super::number::{amount, units};
use super::time::duration;
use super::trust::signed;
use super::{Shown, Table, date_and_clock};

/// Meals of a name listed before the rest is left to `--json`.
pub const MEALS_LISTED: usize = 12;

/// How many could be followed, and what they rose by.
pub fn meals_answer(findings: &MealsFindings, shown: Shown) -> String {
    let count = findings.meals.len();
    if count == 0 {
        return match findings.meals_unread {
            0 => say!("meals-none"),
            unread => say!("meals-none-followed", meals = unread),
        };
    }
    let mut rises: Vec<f64> = findings.meals.iter().map(|meal| meal.rise_mg_dl).collect();
    rises.sort_unstable_by(f64::total_cmp);
    let middle = rises[rises.len() / 2];
    let told = say!(
        "meals-answer",
        meals = count,
        rise = shown.glucose_with_unit(middle)
    );
    match findings.meals_unread {
        0 => told,
        unread => format!("{told} {}", say!("meals-unread", meals = unread)),
    }
}

/// The same meal again, those eaten most often first.
pub fn repeated_table(findings: &MealsFindings, shown: Shown) -> Table {
    let row = |meal: &RepeatedLine| {
        let expected = meal.expected_rise_mg_dl.map_or_else(
            || "–".to_owned(),
            |rise| {
                let ends = meal.expected_rise_mg_dl_lo95.zip(meal.expected_rise_mg_dl_hi95);
                let rise = shown.glucose(rise);
                match ends {
                    Some((lo, hi)) => say!(
                        "number-with-margin",
                        value = rise,
                        low = shown.glucose(lo),
                        high = shown.glucose(hi)
                    ),
                    None => rise,
                }
            },
        );
        vec![
            meal.name.clone(),
            meal.times.to_string(),
            meal.grams.map_or_else(|| "–".to_owned(), amount),
            meal.mean_rise_mg_dl
                .map_or_else(|| "–".to_owned(), |rise| shown.glucose(rise)),
            expected,
            meal.to_peak_min.map_or_else(|| "–".to_owned(), duration),
        ]
    };
    let (own, expected) = (
        say!("meals-own-rise", unit = shown.unit.symbol()),
        say!("meals-expected-rise", unit = shown.unit.symbol()),
    );
    Table::new(
        "meals",
        &[
            (&say!("meals-meal"), false),
            (&say!("meals-times"), true),
            (&say!("meals-grams"), true),
            (&own, true),
            (&expected, true),
            (&say!("meals-to-peak"), true),
        ],
        findings
            .repeated_meals
            .iter()
            .take(MEALS_LISTED)
            .map(row)
            .collect(),
    )
}

/// Why what is to be expected is not the meal's own mean.
pub fn shrunken_said() -> String {
    say!("meals-shrunken")
}

/// What an earlier dose goes with.
pub fn timing_said(timing: &TimingLine, shown: Shown) -> String {
    let (Some(slope), Some(lo), Some(hi), Some(lead)) = (
        timing.per_ten_min_mg_dl,
        timing.per_ten_min_mg_dl_lo95,
        timing.per_ten_min_mg_dl_hi95,
        timing.median_lead_min,
    ) else {
        let reason = timing.reason.clone();
        let reason = reason.unwrap_or_else(|| say!("meals-too-few"));
        return say!("meals-timing-untold", reason = reason);
    };
    let usual = match lead {
        lead if lead >= 1.0 => say!("meals-dose-mostly-before", time = duration(lead)),
        lead if lead <= -1.0 => say!("meals-dose-mostly-after", time = duration(-lead)),
        _ => say!("meals-dose-mostly-with"),
    };
    let rose = if hi < 0.0 {
        "less"
    } else if lo > 0.0 {
        "more"
    } else {
        "untold"
    };
    say!(
        "meals-timing",
        rose = rose,
        slope = signed(slope, shown),
        unit = shown.unit.symbol(),
        low = signed(lo, shown),
        high = signed(hi, shown),
        meals = timing.meals,
        usual = usual
    )
}

/// One meal, a line.
pub fn meal_said(meal: &MealLine, shown: Shown) -> Vec<String> {
    let lead = meal.lead_min.map_or_else(
        || say!("meals-no-dose"),
        |lead| {
            let dose = meal.units.map_or_else(String::new, units);
            match round_half_up(lead, 0).as_str() {
                "0" | "-0" => dose,
                _ if lead > 0.0 => say!("meals-dose-before", dose = dose, time = duration(lead)),
                _ => say!("meals-dose-after", dose = dose, time = duration(-lead)),
            }
        },
    );
    vec![
        date_and_clock(meal.at.0),
        meal.text.clone().unwrap_or_default(),
        meal.grams.map_or_else(|| "–".to_owned(), amount),
        lead,
        say!(
            "number-span",
            low = shown.glucose(meal.before_mg_dl),
            high = shown.glucose(meal.peak_mg_dl)
        ),
        duration(meal.to_peak_min),
        meal.back_after_min
            .map_or_else(|| say!("meals-not-seen"), duration),
    ]
}

/// Each meal.
pub fn meal_table(findings: &MealsFindings, shown: Shown) -> Table {
    let course = say!("meals-course", unit = shown.unit.symbol());
    Table::new(
        "each-meal",
        &[
            (&say!("review-began"), false),
            (&say!("meals-what"), false),
            (&say!("meals-grams"), true),
            (&say!("meals-dose"), false),
            (&course, true),
            (&say!("meals-to-peak"), true),
            (&say!("meals-back-after"), true),
        ],
        findings
            .meals
            .iter()
            .rev()
            .map(|meal| meal_said(meal, shown))
            .collect(),
    )
}

//! Meals as sentences and tables.

use interstice_findings::meals::{MealLine, MealsFindings, RepeatedLine, TimingLine};
use interstice_glucose::round_half_up;

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
            0 => "No meal was logged in this window.".to_owned(),
            unread => format!(
                "None of the {unread} meals logged could be followed: readings are missing before or after."
            ),
        };
    }
    let mut rises: Vec<f64> = findings.meals.iter().map(|meal| meal.rise_mg_dl).collect();
    rises.sort_unstable_by(f64::total_cmp);
    let middle = rises[rises.len() / 2];
    let unread = match findings.meals_unread {
        0 => String::new(),
        1 => " One more could not be followed: readings are missing before or after.".to_owned(),
        unread => format!(" {unread} more could not be followed: readings are missing before or after."),
    };
    let meals = if count == 1 { "meal was" } else { "meals were" };
    format!(
        "{count} {meals} followed; half of them rose by more than {}.{unread}",
        shown.glucose_with_unit(middle)
    )
}

/// The same meal again, those eaten most often first.
pub fn repeated_table(findings: &MealsFindings, shown: Shown) -> Table {
    let row = |meal: &RepeatedLine| {
        let expected = meal.expected_rise_mg_dl.map_or_else(
            || "–".to_owned(),
            |rise| {
                let ends = meal.expected_rise_mg_dl_lo95.zip(meal.expected_rise_mg_dl_hi95);
                let margin = ends.map_or_else(String::new, |(lo, hi)| {
                    format!(" ({} to {})", shown.glucose(lo), shown.glucose(hi))
                });
                format!("{}{margin}", shown.glucose(rise))
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
        format!("Its own mean rise, {}", shown.unit),
        format!("To be expected, {}, 95 % margin", shown.unit),
    );
    Table::new(
        "meals",
        &[
            ("Meal", false),
            ("Times", true),
            ("Grams", true),
            (&own, true),
            (&expected, true),
            ("To the peak", true),
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
pub const SHRUNKEN_SAID: &str = "What is to be expected is drawn from the meal's own mean towards all of your meals, the more the seldomer it was eaten: a meal seen \
     twice says little by itself. Everything done meanwhile is in it, corrections too.";

/// What an earlier dose goes with.
pub fn timing_said(timing: &TimingLine, shown: Shown) -> String {
    let (Some(slope), Some(lo), Some(hi), Some(lead)) = (
        timing.per_ten_min_mg_dl,
        timing.per_ten_min_mg_dl_lo95,
        timing.per_ten_min_mg_dl_hi95,
        timing.median_lead_min,
    ) else {
        let reason = timing.reason.as_deref().unwrap_or("too few meals");
        return super::sentence(&format!(
            "what the timing of the dose goes with cannot be told yet: {reason}"
        ));
    };
    let usual = match lead {
        lead if lead >= 1.0 => format!("{} before", duration(lead)),
        lead if lead <= -1.0 => format!("{} after", duration(-lead)),
        _ => "with".to_owned(),
    };
    let told = if hi < 0.0 {
        "Meals dosed earlier rose less"
    } else if lo > 0.0 {
        "Meals dosed earlier rose more"
    } else {
        "Whether meals dosed earlier rose less cannot be told"
    };
    format!(
        "{told}: {} {} for each ten minutes earlier ({} to {}), at like grams and level, over {} meals; the dose mostly came {usual} \
         the meal. It says what went together, not what a change would do.",
        signed(slope, shown),
        shown.unit,
        signed(lo, shown),
        signed(hi, shown),
        timing.meals
    )
}

/// One meal, a line.
pub fn meal_said(meal: &MealLine, shown: Shown) -> Vec<String> {
    let lead = meal.lead_min.map_or_else(
        || "none".to_owned(),
        |lead| {
            let dose = meal.units.map_or_else(String::new, units);
            match round_half_up(lead, 0).as_str() {
                "0" | "-0" => dose,
                _ if lead > 0.0 => format!("{dose}, {} before", duration(lead)),
                _ => format!("{dose}, {} after", duration(-lead)),
            }
        },
    );
    vec![
        date_and_clock(meal.at.0),
        meal.text.clone().unwrap_or_default(),
        meal.grams.map_or_else(|| "–".to_owned(), amount),
        lead,
        format!(
            "{} to {}",
            shown.glucose(meal.before_mg_dl),
            shown.glucose(meal.peak_mg_dl)
        ),
        duration(meal.to_peak_min),
        meal.back_after_min
            .map_or_else(|| "not seen".to_owned(), duration),
    ]
}

/// Each meal.
pub fn meal_table(findings: &MealsFindings, shown: Shown) -> Table {
    let course = format!("From and to, {}", shown.unit);
    Table::new(
        "each-meal",
        &[
            ("Began", false),
            ("What", false),
            ("Grams", true),
            ("Dose", false),
            (&course, true),
            ("To the peak", true),
            ("Back after", true),
        ],
        findings
            .meals
            .iter()
            .rev()
            .map(|meal| meal_said(meal, shown))
            .collect(),
    )
}

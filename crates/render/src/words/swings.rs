//! Swings, lows treated and the habit of reacting, as sentences. They tell what followed what, without blame and without
//! advice.

use interstice_findings::Time;
use interstice_findings::swings::{
    HabitLine, KindLine, LastsLine, LinkLine, LinkName, LowsTreatedLine, PauseLine, Rate, RatioLine,
    ShareLine, SwingKindLine, SwingLine, SwingTally,
};
use interstice_glucose::{Second, counted, round_half_up};
use interstice_tongue::say;

use super::number::{amount, units};
use super::time::{clock, duration};
use super::{Shown, Table, date_and_clock, percent};

/// One swing of a kind, as it is named in a list.
pub fn swing_kind(kind: SwingKindLine) -> &'static str {
    match kind {
        SwingKindLine::StackedCorrections => "a correction while one still acted, then a low",
        SwingKindLine::OverTreatedLow => "a low, more eaten than first aid, then a high",
        SwingKindLine::MissedMealDose => "a meal without a logged dose, then a high",
        SwingKindLine::LateMealDose => "a meal with a late dose, then a high",
        SwingKindLine::Rebound => "a low, then a high that nothing logged explains",
        SwingKindLine::TreatedPressureLow => "something eaten against a low that was probably pressure",
    }
}

/// How many there were and what they cost.
pub fn swings_answer(tally: &SwingTally) -> String {
    if tally.swings == 0 {
        return "No swing was found in this window: no low, high, dose and meal that fed each other by the rules below."
            .to_owned();
    }
    let count = match tally.swings {
        1 => "1 swing".to_owned(),
        count => format!("{count} swings"),
    };
    let rate = rate(&tally.rate).map_or_else(String::new, |rate| format!(": {rate}"));
    let hours = tally
        .low_hours_per_week
        .zip(tally.high_hours_per_week)
        .map_or_else(String::new, |(low, high)| {
            let margin = tally
                .hours_per_week_lo95
                .zip(tally.hours_per_week_hi95)
                .map_or_else(String::new, |(lo, hi)| {
                    format!(" (together {} to {})", tenths(lo), tenths(hi))
                });
            format!(
                " They brought {} low and {} high a week{margin}.",
                hours(low),
                hours(high)
            )
        });
    format!("{count}{rate}.{hours}")
}

fn hours(hours: f64) -> String {
    match tenths(hours).as_str() {
        "1.0" => "1.0 hour".to_owned(),
        text => format!("{text} hours"),
    }
}

fn tenths(value: f64) -> String {
    round_half_up(value, 1)
}

fn rate(rate: &Rate) -> Option<String> {
    let (lo, hi) = rate.lo95.zip(rate.hi95)?;
    Some(format!(
        "{} a week ({} to {})",
        tenths(rate.per_week?),
        tenths(lo),
        tenths(hi)
    ))
}

/// How often each kind came.
pub fn swing_table(tally: &SwingTally) -> Table {
    let row = |kind: &KindLine| {
        let rate = rate(&kind.rate).map_or_else(|| "–".to_owned(), |rate| rate.replace(" a week", ""));
        vec![swing_kind(kind.kind).to_owned(), kind.swings.to_string(), rate]
    };
    Table::new(
        "swings",
        &[
            ("What fed what", false),
            ("Swings", true),
            ("A week, 95 % margin", true),
        ],
        tally.kinds.iter().map(row).collect(),
    )
}

/// When they come, and whether there are more of them lately; empty without any swing.
pub fn swings_when(tally: &SwingTally) -> Vec<String> {
    let mut said = Vec::new();
    if tally.swings == 0 {
        return said;
    }
    if let Some(usual) = &tally.usual_hours {
        let (from, to) = (usual.from_hour, (usual.from_hour + usual.hours) % 24);
        let span = format!("{} and {}", clock(60 * from), clock(60 * to));
        said.push(if usual.by_chance < 0.05 {
            format!(
                "Most begin between {span}: {} of {}. Were all hours alike, the fullest {} hours would hold so many {} in 100.",
                usual.swings,
                tally.swings,
                usual.hours,
                in_hundred(usual.by_chance)
            )
        } else {
            format!(
                "They keep to no hours: the fullest, between {span}, hold {} of {}, and chance alone does as much {} in 100.",
                usual.swings,
                tally.swings,
                in_hundred(usual.by_chance)
            )
        });
    }
    said.extend(
        tally
            .later_to_earlier
            .map(|ratio| compared(ratio, "in the later half of the window", "in the earlier")),
    );
    said.extend(
        tally
            .weekend_to_weekday
            .map(|ratio| compared(ratio, "at weekends", "from Monday to Friday")),
    );
    if tally.pause_was_enough > 0 {
        said.push(format!(
            "In {} of {} what followed shows that waiting would have been enough: the high or the low was over before what was \
             done last can have acted.",
            tally.pause_was_enough, tally.swings
        ));
    }
    said.extend(tally.reason.as_ref().map(|reason| super::sentence(reason)));
    said
}

fn in_hundred(share: f64) -> String {
    match round_half_up(100.0 * share, 0).as_str() {
        "0" => "less than once".to_owned(),
        "1" => "once".to_owned(),
        times => format!("{times} times"),
    }
}

fn compared(ratio: RatioLine, these: &str, those: &str) -> String {
    let hi = ratio.hi95.map_or_else(|| "any number of".to_owned(), tenths);
    let margin = format!("{} to {hi} times as often", tenths(ratio.lo95));
    if ratio.lo95 > 1.0 {
        format!("They came more often {these} than {those}: {margin}.")
    } else if ratio.hi95.is_some_and(|hi| hi < 1.0) {
        format!("They came less often {these} than {those}: {margin}.")
    } else {
        format!("Whether they came more often {these} than {those} cannot be told: {margin}.")
    }
}

/// Swings in the order they are shown: those a correction or what was eaten against a low carried on before those after a
/// meal, the latest first.
pub fn swings_shown(swings: &[SwingLine]) -> Vec<&SwingLine> {
    let carried_on = |swing: &SwingLine| {
        swing.kinds.iter().any(|kind| {
            matches!(
                kind,
                SwingKindLine::StackedCorrections | SwingKindLine::OverTreatedLow | SwingKindLine::Rebound
            )
        })
    };
    let mut shown: Vec<&SwingLine> = swings.iter().rev().collect();
    shown.sort_by_key(|swing| !carried_on(swing));
    shown
}

/// One link, with its clock time.
pub fn swing_link(link: &LinkLine, shown: Shown) -> String {
    let time = clock_of(link.at);
    let at = link
        .shown_mg_dl
        .map_or_else(String::new, |mg_dl| format!(" at {}", shown.glucose(mg_dl)));
    let extreme = link
        .extreme_mg_dl
        .map_or_else(String::new, |mg_dl| shown.glucose(mg_dl));
    let grams = link.grams.map_or_else(
        || "carbohydrate, not counted".to_owned(),
        |grams| format!("{} g", amount(grams)),
    );
    let dose = link.units.map_or_else(String::new, units);
    let after = link
        .after_min
        .map_or_else(String::new, |minutes| format!("{} later", duration(minutes)));
    let what = match link.what {
        LinkName::High => format!("high, up to {extreme}"),
        LinkName::Low => format!("low, down to {extreme}"),
        LinkName::CheckedLow => format!(
            "low of {extreme} by a blood check, which the sensor did not show{}",
            at.replace(" at ", ": it showed ")
        ),
        LinkName::PressureLow => format!("low, down to {extreme}, probably pressure"),
        LinkName::UndosedMeal => format!("{grams} eaten{at}, no dose logged"),
        LinkName::Meal => format!("{grams} eaten{at}"),
        LinkName::LateDose => format!("{dose} for it, {after}"),
        LinkName::Correction => format!("{dose} as correction{at}"),
        LinkName::StackedCorrection => format!(
            "{dose} as correction{at}, {after}, with about {} % of the one before left",
            link.left_percent
                .map_or_else(|| "–".to_owned(), |left| round_half_up(left, 0))
        ),
        LinkName::Treatment => format!("{grams} against the low{at}"),
    };
    format!("{time} {what}")
}

fn clock_of(at: Time) -> String {
    let second = at.0.wall().second_of_day();
    clock(u32::try_from(second / 60).unwrap_or(0))
}

/// A swing in one line: when, and its links one after another.
pub fn swing_said(swing: &SwingLine, shown: Shown) -> String {
    let links: Vec<String> = swing.links.iter().map(|link| swing_link(link, shown)).collect();
    format!("{}: {}", date_and_clock(swing.start.0), links.join("; "))
}

/// What it brought.
pub fn swing_cost(swing: &SwingLine) -> String {
    match (swing.low_min > 0.0, swing.high_min > 0.0) {
        (true, true) => format!(
            "{} low and {} high",
            duration(swing.low_min),
            duration(swing.high_min)
        ),
        (true, false) => format!("{} low", duration(swing.low_min)),
        (false, true) => format!("{} high", duration(swing.high_min)),
        (false, false) => "no time out of range".to_owned(),
    }
}

/// What the readings say about waiting.
pub fn swing_pause(pause: &PauseLine, shown: Shown) -> String {
    let time = clock_of(pause.at);
    let over = pause.over_at.map(clock_of);
    if let Some(left) = pause.left_percent {
        let moving = pause
            .slope_mg_dl_min
            .map_or_else(String::new, |slope| match slope {
                slope if slope <= -0.5 => format!(
                    " and the sensor was falling by {} in a quarter of an hour",
                    shown.glucose_with_unit(-15.0 * slope)
                ),
                slope if slope >= 0.5 => " and the sensor was still rising".to_owned(),
                _ => " and the sensor was level".to_owned(),
            });
        let spent = pause.spent_after_min.map_or_else(String::new, |minutes| {
            format!(" Little of it would have been left {} later.", duration(minutes))
        });
        let end = match (pause.was_enough, over) {
            (true, Some(over)) => {
                format!(" The high was over at {over}, before this one can have done much.")
            }
            (false, Some(over)) => {
                format!(" The high was over at {over}; what waiting would have changed cannot be told.")
            }
            (_, None) => String::new(),
        };
        return format!(
            "At {time} about {} % of the correction before was left{moving}.{spent}{end}",
            round_half_up(left, 0)
        );
    }
    let grams = pause.before_grams.map_or_else(String::new, amount);
    let after = pause.after_min.map_or_else(String::new, duration);
    let end = match (pause.was_enough, over) {
        (true, Some(over)) => format!(" The low was over at {over}, before this can have acted."),
        (false, Some(over)) => format!(" The low was over at {over}."),
        (_, None) => String::new(),
    };
    format!("At {time} more was eaten, {after} after {grams} g.{end}")
}

/// How lows were treated.
pub fn lows_treated_said(lows: &LowsTreatedLine) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(grams) = &lows.grams {
        said.push(format!(
            "Against {} you logged {} g as a rule (half of the time between {} and {}). First aid is 15 to 20 g, then a \
             quarter of an hour's wait (American Diabetes Association).",
            counted(lows.lows.iter().filter(|low| low.grams.is_some()).count() as u64, "low", "lows"),
            round_half_up(grams.p50, 0),
            round_half_up(grams.p25, 0),
            round_half_up(grams.p75, 0)
        ));
    }
    if let Some(back) = &lows.back_after_min {
        said.push(format!(
            "The sensor was back above the low range {} after the first bite as a rule (half of the time between {} and {}); it \
             lags behind the blood, so a value still low after a quarter of an hour is usual.",
            duration(back.p50),
            duration(back.p25),
            duration(back.p75)
        ));
    }
    if let Some(more) = &lows.more_than_first_aid {
        said.push(format!("More than 20 g was eaten in {}.", share(more)));
    }
    match (&lows.high_after_more, &lows.high_after_less) {
        (Some(more), Some(less)) => said.push(format!(
            "A high followed within two hours in {} with more than 20 g, and in {} with less.",
            share(more),
            share(less)
        )),
        (Some(more), None) => said.push(format!(
            "A high followed within two hours in {} with more than 20 g.",
            share(more)
        )),
        (None, Some(less)) => said.push(format!(
            "A high followed within two hours in {} with 20 g or less.",
            share(less)
        )),
        (None, None) => {}
    }
    if let Some(reason) = &lows.reason {
        said.push(super::sentence(&format!(
            "too few to tell how lows are treated: {reason}"
        )));
    }
    said
}

fn share(share: &ShareLine) -> String {
    format!(
        "{} of {} ({} to {} %)",
        share.of,
        share.all,
        percent(share.lo95),
        percent(share.hi95)
    )
}

/// How soon the wearer acts.
pub fn habit_said(habit: &HabitLine) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(after) = &habit.after_rise_min {
        said.push(format!(
            "A correction came {} after the sensor went high as a rule (half of the time between {} and {}). {} of {} highs \
             were left alone.",
            duration(after.p50),
            duration(after.p25),
            duration(after.p75),
            habit.left_alone,
            habit.highs
        ));
    }
    if let Some(soon) = &habit.within_an_hour {
        said.push(format!(
            "Within an hour of the dose before came {} corrections.",
            share(soon)
        ));
    }
    match (&habit.low_after_soon, &habit.low_after_others) {
        (Some(soon), Some(others)) => said.push(format!(
            "A low followed within four hours after {} of those, and after {} of the others.",
            share(soon),
            share(others)
        )),
        (None, Some(others)) => {
            said.push(format!(
                "A low followed within four hours after {} of the others.",
                share(others)
            ));
        }
        (Some(soon), None) => said.push(format!(
            "A low followed within four hours after {} of those.",
            share(soon)
        )),
        (None, None) => {}
    }
    if let Some(scans) = &habit.scans_per_day {
        said.push(format!(
            "You looked at the sensor by hand {} times a day as a rule (half of {} days between {} and {}).",
            amount(scans.p50),
            habit.scan_days,
            amount(scans.p25),
            amount(scans.p75)
        ));
    }
    if let Some(reason) = &habit.reason {
        said.push(super::sentence(&format!(
            "too few to tell how soon you act: {reason}"
        )));
    }
    said
}

/// By what is left of a dose goes; empty where the published curves stand.
pub fn insulin_said(lasts: &LastsLine) -> Option<String> {
    let rapid = lasts
        .rapid
        .map(|hours| say!("now-lasts-rapid", hours = amount(hours)));
    let short = lasts
        .short
        .map(|hours| say!("now-lasts-short", hours = amount(hours)));
    let kinds = match (rapid, short) {
        (Some(rapid), Some(short)) => say!("now-lasts-both", rapid = rapid, short = short),
        (rapid, short) => rapid.or(short)?,
    };
    Some(say!("now-lasts", kinds = kinds))
}

/// Where a swing stands on the Review page.
pub fn swing_anchor(start: Second) -> String {
    format!("swing-{start}")
}

/// Grams of a low treated, or that they were not counted.
pub fn grams(grams: Option<f64>) -> String {
    grams.map_or_else(|| "not counted".to_owned(), amount)
}

/// Time until back above the low range.
pub fn back_after(minutes: Option<f64>) -> String {
    match minutes {
        None => "not seen".to_owned(),
        Some(minutes) if minutes <= 0.0 => "already was".to_owned(),
        Some(minutes) => duration(minutes),
    }
}

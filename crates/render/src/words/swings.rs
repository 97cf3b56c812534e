//! Swings, lows treated and the habit of reacting, as sentences. They tell what followed what, without blame and without
//! advice.

use interstice_findings::Time;
use interstice_findings::swings::{
    HabitLine, KindLine, LastsLine, LinkLine, LinkName, LowsTreatedLine, PauseLine, Rate, RatioLine,
    ShareLine, SwingKindLine, SwingLine, SwingTally,
};
use interstice_glucose::{Second, round_half_up};
use interstice_tongue::say;

use super::number::{amount, units};
use super::time::{clock, duration};
use super::{Shown, Table, date_and_clock, percent, rounded};

/// One swing of a kind, as it is named in a list.
pub fn swing_kind(kind: SwingKindLine) -> String {
    match kind {
        SwingKindLine::StackedCorrections => say!("swings-kind-stacked"),
        SwingKindLine::OverTreatedLow => say!("swings-kind-over-treated"),
        SwingKindLine::MissedMealDose => say!("swings-kind-missed-dose"),
        SwingKindLine::LateMealDose => say!("swings-kind-late-dose"),
        SwingKindLine::Rebound => say!("swings-kind-rebound"),
        SwingKindLine::TreatedPressureLow => say!("swings-kind-pressure"),
    }
}

/// How many there were and what they cost.
pub fn swings_answer(tally: &SwingTally) -> String {
    if tally.swings == 0 {
        return say!("swings-none");
    }
    let count = match rate(&tally.rate) {
        Some([rate, low, high]) => say!(
            "swings-answer-rate",
            swings = tally.swings,
            rate = rate,
            low = low,
            high = high
        ),
        None => say!("swings-answer", swings = tally.swings),
    };
    let Some((low, high)) = tally.low_hours_per_week.zip(tally.high_hours_per_week) else {
        return count;
    };
    let (low, high) = (hours(low), hours(high));
    let brought = match tally.hours_per_week_lo95.zip(tally.hours_per_week_hi95) {
        Some((least, most)) => say!(
            "swings-brought-margin",
            low = low,
            high = high,
            least = tenths(least),
            most = tenths(most)
        ),
        None => say!("swings-brought", low = low, high = high),
    };
    format!("{count} {brought}")
}

fn hours(hours: f64) -> String {
    let is_one = round_half_up(hours, 1) == "1.0";
    say!("swings-hours", is_one = is_one, hours = tenths(hours))
}

fn tenths(value: f64) -> String {
    rounded(value, 1)
}

/// How many a week, and the ends of its margin.
fn rate(rate: &Rate) -> Option<[String; 3]> {
    let (lo, hi) = rate.lo95.zip(rate.hi95)?;
    Some([rate.per_week?, lo, hi].map(tenths))
}

/// How often each kind came.
pub fn swing_table(tally: &SwingTally) -> Table {
    let row = |kind: &KindLine| {
        let rate = rate(&kind.rate).map_or_else(
            || "–".to_owned(),
            |[rate, low, high]| say!("number-with-margin", value = rate, low = low, high = high),
        );
        vec![swing_kind(kind.kind), kind.swings.to_string(), rate]
    };
    Table::new(
        "swings",
        &[
            (&say!("swings-kind-head"), false),
            (&say!("swings-count-head"), true),
            (&say!("swings-rate-head"), true),
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
        let (from, to) = (clock(60 * from), clock(60 * to));
        said.push(if usual.by_chance < 0.05 {
            say!(
                "swings-hours-usual",
                from = from,
                to = to,
                with = usual.swings,
                swings = tally.swings,
                span = usual.hours,
                chance = in_hundred(usual.by_chance)
            )
        } else {
            say!(
                "swings-hours-none",
                from = from,
                to = to,
                with = usual.swings,
                swings = tally.swings,
                chance = in_hundred(usual.by_chance)
            )
        });
    }
    said.extend(tally.later_to_earlier.map(|ratio| compared(ratio, "halves")));
    said.extend(tally.weekend_to_weekday.map(|ratio| compared(ratio, "week")));
    if tally.pause_was_enough > 0 {
        said.push(say!(
            "swings-pause-enough",
            enough = tally.pause_was_enough,
            swings = tally.swings
        ));
    }
    said.extend(tally.reason.as_ref().map(|reason| super::sentence(reason)));
    said
}

fn in_hundred(share: f64) -> String {
    match round_half_up(100.0 * share, 0).as_str() {
        "0" => say!("swings-less-than-once"),
        "1" => say!("swings-once"),
        times => say!("swings-times", times = times),
    }
}

/// * `of`: what is compared, `halves` or `week`.
fn compared(ratio: RatioLine, of: &str) -> String {
    let came = if ratio.lo95 > 1.0 {
        "more"
    } else if ratio.hi95.is_some_and(|hi| hi < 1.0) {
        "less"
    } else {
        "untold"
    };
    say!(
        "swings-compared",
        of = of,
        came = came,
        low = tenths(ratio.lo95),
        high = ratio.hi95.map_or_else(|| say!("swings-any-number"), tenths)
    )
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
    let extreme = link
        .extreme_mg_dl
        .map_or_else(String::new, |mg_dl| shown.glucose(mg_dl));
    let what = match link.what {
        LinkName::High => say!("swings-link-high", extreme = extreme),
        LinkName::Low => say!("swings-link-low", extreme = extreme),
        LinkName::CheckedLow => match link.shown_mg_dl {
            Some(at) => say!(
                "swings-link-checked-low-at",
                extreme = extreme,
                at = shown.glucose(at)
            ),
            None => say!("swings-link-checked-low", extreme = extreme),
        },
        LinkName::PressureLow => say!("swings-link-pressure-low", extreme = extreme),
        _ => done(link, shown),
    };
    format!("{time} {what}")
}

/// What somebody did: a meal, a dose, something against a low.
fn done(link: &LinkLine, shown: Shown) -> String {
    let is_shown = link.shown_mg_dl.is_some();
    let at = link
        .shown_mg_dl
        .map_or_else(String::new, |mg_dl| shown.glucose(mg_dl));
    let grams = link.grams.map_or_else(
        || say!("swings-not-counted"),
        |grams| say!("swings-grams", grams = amount(grams)),
    );
    let dose = link.units.map_or_else(String::new, units);
    let after = link.after_min.map_or_else(String::new, |minutes| {
        say!("swings-later", time = duration(minutes))
    });
    match link.what {
        LinkName::UndosedMeal => say!(
            "swings-link-undosed-meal",
            is_shown = is_shown,
            grams = grams,
            at = at
        ),
        LinkName::Meal => say!("swings-link-meal", is_shown = is_shown, grams = grams, at = at),
        LinkName::LateDose => say!("swings-link-late-dose", dose = dose, after = after),
        LinkName::Correction => say!(
            "swings-link-correction",
            is_shown = is_shown,
            dose = dose,
            at = at
        ),
        LinkName::StackedCorrection => say!(
            "swings-link-stacked",
            is_shown = is_shown,
            dose = dose,
            at = at,
            after = after,
            left = link
                .left_percent
                .map_or_else(|| "–".to_owned(), |left| rounded(left, 0))
        ),
        _ => say!(
            "swings-link-treatment",
            is_shown = is_shown,
            grams = grams,
            at = at
        ),
    }
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
        (true, true) => say!(
            "swings-cost-both",
            low = duration(swing.low_min),
            high = duration(swing.high_min)
        ),
        (true, false) => say!("swings-cost-low", low = duration(swing.low_min)),
        (false, true) => say!("swings-cost-high", high = duration(swing.high_min)),
        (false, false) => say!("swings-cost-none"),
    }
}

/// What the readings say about waiting.
pub fn swing_pause(pause: &PauseLine, shown: Shown) -> String {
    let time = clock_of(pause.at);
    let mut said = Vec::new();
    let of = if let Some(left) = pause.left_percent {
        said.push(say!(
            "swings-pause-left",
            moving = pause.slope_mg_dl_min.map_or("untold", moving),
            time = time,
            left = rounded(left, 0),
            fall = pause
                .slope_mg_dl_min
                .map_or_else(String::new, |slope| shown.glucose_with_unit(-15.0 * slope))
        ));
        said.extend(
            pause
                .spent_after_min
                .map(|minutes| say!("swings-pause-spent", time = duration(minutes))),
        );
        "high"
    } else {
        said.push(say!(
            "swings-pause-eaten",
            time = time,
            after = pause.after_min.map_or_else(String::new, duration),
            grams = pause.before_grams.map_or_else(String::new, amount)
        ));
        "low"
    };
    said.extend(pause.over_at.map(clock_of).map(|over| {
        say!(
            "swings-pause-over",
            of = of,
            enough = pause.was_enough,
            over = over
        )
    }));
    said.join(" ")
}

/// Where the sensor was going, to choose a sentence by.
fn moving(slope_mg_dl_min: f64) -> &'static str {
    match slope_mg_dl_min {
        slope if slope <= -0.5 => "falling",
        slope if slope >= 0.5 => "rising",
        _ => "level",
    }
}

/// How lows were treated.
pub fn lows_treated_said(lows: &LowsTreatedLine) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(grams) = &lows.grams {
        said.push(say!(
            "swings-lows-grams",
            lows = lows.lows.iter().filter(|low| low.grams.is_some()).count(),
            grams = rounded(grams.p50, 0),
            low = rounded(grams.p25, 0),
            high = rounded(grams.p75, 0)
        ));
    }
    if let Some(back) = &lows.back_after_min {
        said.push(say!(
            "swings-lows-back",
            time = duration(back.p50),
            low = duration(back.p25),
            high = duration(back.p75)
        ));
    }
    if let Some(more) = &lows.more_than_first_aid {
        said.push(say!("swings-lows-more", share = share(more)));
    }
    match (&lows.high_after_more, &lows.high_after_less) {
        (Some(more), Some(less)) => said.push(say!(
            "swings-lows-high-both",
            more = share(more),
            less = share(less)
        )),
        (Some(more), None) => said.push(say!("swings-lows-high-more", more = share(more))),
        (None, Some(less)) => said.push(say!("swings-lows-high-less", less = share(less))),
        (None, None) => {}
    }
    if let Some(reason) = &lows.reason {
        said.push(say!("swings-lows-untold", reason = reason));
    }
    said
}

fn share(share: &ShareLine) -> String {
    say!(
        "swings-share",
        of = share.of,
        all = share.all,
        low = percent(share.lo95),
        high = percent(share.hi95)
    )
}

/// How soon the wearer acts.
pub fn habit_said(habit: &HabitLine) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(after) = &habit.after_rise_min {
        said.push(say!(
            "swings-habit-after",
            time = duration(after.p50),
            low = duration(after.p25),
            high = duration(after.p75),
            alone = habit.left_alone,
            highs = habit.highs
        ));
    }
    if let Some(soon) = &habit.within_an_hour {
        said.push(say!("swings-habit-soon", share = share(soon)));
    }
    match (&habit.low_after_soon, &habit.low_after_others) {
        (Some(soon), Some(others)) => said.push(say!(
            "swings-habit-low-both",
            soon = share(soon),
            others = share(others)
        )),
        (None, Some(others)) => said.push(say!("swings-habit-low-others", others = share(others))),
        (Some(soon), None) => said.push(say!("swings-habit-low-soon", soon = share(soon))),
        (None, None) => {}
    }
    if let Some(scans) = &habit.scans_per_day {
        said.push(say!(
            "swings-habit-scans",
            scans = amount(scans.p50),
            days = habit.scan_days,
            low = amount(scans.p25),
            high = amount(scans.p75)
        ));
    }
    if let Some(reason) = &habit.reason {
        said.push(say!("swings-habit-untold", reason = reason));
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
    grams.map_or_else(|| say!("swings-grams-untold"), amount)
}

/// Time until back above the low range.
pub fn back_after(minutes: Option<f64>) -> String {
    match minutes {
        None => say!("meals-not-seen"),
        Some(minutes) if minutes <= 0.0 => say!("swings-already-back"),
        Some(minutes) => duration(minutes),
    }
}

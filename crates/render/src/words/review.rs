//! The sentences of a review.

use interstice_findings::{
    DayLine, EpisodeKind, EpisodeLine, Nearby, NearbyKind, ReviewFindings, Sufficiency, TraceLine, Window,
};

use interstice_glucose::round_half_up;

use super::number::{extremes, percent_figure};
use super::range::Standing;
use super::{Shown, day, day_and_clock, duration, hours_minutes, percent};

/// '14 days, 3 March 2025 to 16 March 2025'.
pub fn window(window: &Window) -> String {
    let last = interstice_glucose::Moment {
        at: window.to.0.at - 1,
        offset_s: window.to.0.offset_s,
    };
    let days = if window.days == 1 {
        "1 day".to_owned()
    } else {
        format!("{} days", window.days)
    };
    // A window that does not begin at midnight runs to the last reading: then the clock belongs to it.
    if window.from.0.wall().second_of_day() != 0 {
        return format!(
            "{days}, {} to {}",
            day_and_clock(window.from.0),
            day_and_clock(window.to.0)
        );
    }
    let (from, to) = (day(window.from.0), day(last));
    if from == to {
        format!("{days}, {from}")
    } else {
        format!("{days}, {from} to {to}")
    }
}

/// The answer in one sentence.
pub fn answer(findings: &ReviewFindings) -> String {
    let average = &findings.average_day;
    let (Some(within), Some(below), Some(above)) =
        (average.in_range_min, average.below_min, average.above_min)
    else {
        let reason = findings
            .summary
            .in_range_percent
            .reason
            .as_deref()
            .unwrap_or("there are no readings in this window");
        return format!("No account can be given: {reason}.");
    };
    format!(
        "An average day had {} in range, {} below and {} above.",
        hours_minutes(within),
        none_or(below),
        none_or(above)
    )
}

/// 'nothing' rather than '0 min'.
fn none_or(minutes: f64) -> String {
    if minutes > 0.0 {
        duration(minutes)
    } else {
        "no time".to_owned()
    }
}

/// How in range and below range stand to the targets of the wearer's group.
pub fn target_sentence(findings: &ReviewFindings, shown: Shown) -> String {
    let (summary, targets) = (&findings.summary, &findings.targets);
    let over = Standing::over(&summary.in_range_percent, targets.in_range_over_percent);
    let under = Standing::under(&summary.below_percent, targets.below_under_percent);
    if over == Standing::None || under == Standing::None {
        return String::new();
    }
    format!(
        "In range {}, target over {} %: {}. Below range {}, target under {} %: {}. Targets: {}, in range {} to {}.",
        percent_figure(&summary.in_range_percent),
        percent(targets.in_range_over_percent),
        over.words(),
        percent_figure(&summary.below_percent),
        round_half_up(targets.below_under_percent, 0),
        under.words(),
        targets.group.name(),
        shown.glucose(targets.range_low_mg_dl),
        shown.glucose_with_unit(targets.range_high_mg_dl),
    )
}

/// Lowest and highest reading of a day: '62 to 214', 'below 40 to 214'; a dash of a day without readings.
pub fn day_extremes(day: &DayLine, shown: Shown) -> String {
    let Some((lowest, highest)) = day.lowest_mg_dl.zip(day.highest_mg_dl) else {
        return "–".to_owned();
    };
    extremes(
        lowest,
        day.censored_below > 0,
        highest,
        day.censored_above > 0,
        shown,
    )
}

/// Whether the readings suffice, in one or two sentences.
pub fn sufficiency(sufficiency: &Sufficiency, window: &Window) -> String {
    let days = format!("{} of {} days", sufficiency.days_with_data, window.days);
    let cover = match sufficiency.active_percent {
        Some(active) => format!("Readings cover {} % of the time, on {days}", percent(active)),
        None => format!("There are {} readings, on {days}", sufficiency.received),
    };
    match &sufficiency.reason {
        _ if sufficiency.enough => format!("{cover}: enough for these figures."),
        Some(reason) => format!("{cover}. Not enough to call it usual: {reason}."),
        None => format!("{cover}. Not enough to call it usual."),
    }
}

/// 'Low, level 2', 'High, level 1, lasting'.
pub fn episode_kind(episode: &EpisodeLine) -> String {
    let kind = match episode.kind {
        EpisodeKind::Low => "Low",
        EpisodeKind::High => "High",
    };
    format!(
        "{kind}, level {}{}",
        episode.level,
        if episode.extended { ", lasting" } else { "" }
    )
}

/// '1 h 25 min', or 'at least 1 h 25 min' when a gap hides its end.
pub fn episode_length(episode: &EpisodeLine) -> String {
    let length = duration(episode.minutes);
    if episode.end_unknown {
        format!("at least {length}")
    } else {
        length
    }
}

/// Something logged near an episode: '4 units of rapid insulin, 2 h 10 min before'.
pub fn nearby(near: &Nearby, shown: Shown) -> String {
    let amount = near.amount.map(plain_number);
    let what = match (near.what, amount) {
        (NearbyKind::RapidInsulin, Some(units)) => format!("{units} units of rapid insulin"),
        (NearbyKind::RapidInsulin, None) => "rapid insulin".to_owned(),
        (NearbyKind::LongInsulin, Some(units)) => format!("{units} units of long insulin"),
        (NearbyKind::LongInsulin, None) => "long insulin".to_owned(),
        (NearbyKind::OtherInsulin, Some(units)) => format!("{units} units of insulin"),
        (NearbyKind::OtherInsulin, None) => "insulin".to_owned(),
        (NearbyKind::Carbohydrate, Some(grams)) => format!("{grams} g carbohydrate"),
        (NearbyKind::Carbohydrate, None) => "something eaten".to_owned(),
        (NearbyKind::Activity, _) => "activity".to_owned(),
        (NearbyKind::BloodCheck, _) => match near.amount {
            Some(mg_dl) => format!("blood check {}", shown.glucose_with_unit(mg_dl)),
            None => "blood check".to_owned(),
        },
    };
    let side = if near.minutes < 0.0 { "before" } else { "after" };
    let text = near
        .text
        .as_deref()
        .map(|text| format!(" ({text})"))
        .unwrap_or_default();
    format!("{what}{text}, {} {side}", duration(near.minutes.abs()))
}

/// At most two decimals, and none that are zero.
fn plain_number(value: f64) -> String {
    let text = round_half_up(value, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// '6 lows (1 of level 2) and 31 highs (4 of level 2)'.
pub fn episode_count(episodes: &[EpisodeLine]) -> String {
    let count = |kind: EpisodeKind, word: &str| {
        let all = episodes.iter().filter(|e| e.kind == kind).count();
        let serious = episodes.iter().filter(|e| e.kind == kind && e.level > 1).count();
        let noun = if all == 1 {
            word.to_owned()
        } else {
            format!("{word}s")
        };
        match (all, serious) {
            (0, _) => format!("no {noun}"),
            (_, 0) => format!("{all} {noun}"),
            _ => format!("{all} {noun} ({serious} of level 2)"),
        }
    };
    format!(
        "{} and {}",
        count(EpisodeKind::Low, "low"),
        count(EpisodeKind::High, "high")
    )
}

/// The sensor's name, or what stands for it.
pub fn trace_name(trace: &TraceLine) -> &str {
    if trace.sensor.is_empty() {
        "unnamed sensor"
    } else {
        &trace.sensor
    }
}

/// 'every 5 min' or 'scanned by hand'.
pub fn trace_kind(trace: &TraceLine) -> String {
    match (trace.by_hand, trace.interval_min) {
        (true, _) => "scanned by hand".to_owned(),
        (false, Some(minutes)) => format!("every {}", duration(minutes)),
        (false, None) => "interval unknown".to_owned(),
    }
}

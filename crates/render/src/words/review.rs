//! The sentences of a review.

use interstice_findings::{
    DayLine, EpisodeKind, EpisodeLine, FEWEST_DAYS_MIDDLE, Figure, Nearby, NearbyKind, ReviewFindings,
    Sufficiency, TraceLine, UsualMinute, Window,
};

use interstice_glucose::{counted, one_or_many, round_half_up};

use super::number::{amount, extremes, percent_figure, units};
use super::range::Standing;
use super::{Shown, day, day_and_clock, duration, hours_minutes, percent};

/// '14 days, 3 March 2025 to 16 March 2025'.
pub fn window(window: &Window) -> String {
    let last = interstice_glucose::Moment {
        at: window.to.0.at - 1,
        offset_s: window.to.0.offset_s,
    };
    let days = counted(window.days, "day", "days");
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
    if !findings.sufficiency.enough {
        let summary = &findings.summary;
        return format!(
            "Not enough yet for an average day: of the time measured, {} was in range, {} below and {} above.",
            share(&summary.in_range_percent),
            share(&summary.below_percent),
            share(&summary.above_percent)
        );
    }
    format!(
        "An average day had {} in range, {} below and {} above.",
        hours_minutes(within),
        none_or(below),
        none_or(above)
    )
}

/// '61 %', without its margin.
fn share(figure: &Figure) -> String {
    figure
        .value
        .map_or_else(|| "–".to_owned(), |value| format!("{} %", percent(value)))
}

/// Beside every figure of an account with too few readings: 'not enough yet: the window spans 3 days; 14 are asked for'.
pub fn early(findings: &ReviewFindings) -> Option<String> {
    let Sufficiency { enough, reason, .. } = &findings.sufficiency;
    let reason = reason.as_deref().map(|reason| format!(": {reason}"));
    (!enough).then(|| format!("not enough yet{}", reason.unwrap_or_default()))
}

/// Why no usual day can be drawn; `None` where one can.
pub fn no_usual_day(points: &[UsualMinute]) -> Option<String> {
    if points.iter().any(|point| point.p50_mg_dl.is_some()) {
        return None;
    }
    let most = points.iter().map(|point| point.days).max().unwrap_or(0);
    let most = counted(most, "day", "days");
    Some(format!(
        "Not enough yet to draw one: a clock time needs readings of {FEWEST_DAYS_MIDDLE} days, and has those of {most} at \
         most."
    ))
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
    let over = Standing::over(&summary.in_range_percent, targets.in_range_over_percent).of(findings);
    let under = Standing::under(&summary.below_percent, targets.below_under_percent).of(findings);
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

/// A row of the table of days.
#[derive(Clone, Copy, Debug)]
pub enum DayRow<'a> {
    /// A day.
    Day(&'a DayLine),
    /// Days without a reading, the first and the last of them, and how many there are.
    Silent(&'a DayLine, &'a DayLine, usize),
}

/// The rows of a table of days: three or more days on end without a reading are one row.
pub fn day_rows(days: &[DayLine]) -> Vec<DayRow<'_>> {
    let mut rows = Vec::new();
    for run in days.chunk_by(|a, b| (a.received == 0) == (b.received == 0)) {
        match run {
            [first, .., last] if first.received == 0 && run.len() > 2 => {
                rows.push(DayRow::Silent(first, last, run.len()));
            }
            _ => rows.extend(run.iter().map(DayRow::Day)),
        }
    }
    rows
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
    let days = format!(
        "{} of {}",
        sufficiency.days_with_data,
        counted(window.days, "day", "days")
    );
    let cover = match sufficiency.active_percent {
        // Rounded down where it falls short, as in the reason, so that 69.9 does not read as the 70 asked for.
        Some(active) if !sufficiency.enough => {
            format!("Readings cover {} % of the time, on {days}", active.floor())
        }
        Some(active) => format!("Readings cover {} % of the time, on {days}", percent(active)),
        None => format!(
            "There {}, on {days}",
            match sufficiency.received {
                1 => "is 1 reading".to_owned(),
                many => format!("are {many} readings"),
            }
        ),
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

/// Something logged near an episode, and how far away: '4 units of rapid insulin, 2 h 10 min'. Whether that is before
/// or after is said by the column it stands in.
pub fn nearby(near: &Nearby, shown: Shown) -> String {
    let what = match (near.what, near.amount) {
        (NearbyKind::RapidInsulin, Some(dose)) => format!("{} of rapid insulin", units(dose)),
        (NearbyKind::RapidInsulin, None) => "rapid insulin".to_owned(),
        (NearbyKind::LongInsulin, Some(dose)) => format!("{} of long insulin", units(dose)),
        (NearbyKind::LongInsulin, None) => "long insulin".to_owned(),
        (NearbyKind::OtherInsulin, Some(dose)) => format!("{} of insulin", units(dose)),
        (NearbyKind::OtherInsulin, None) => "insulin".to_owned(),
        (NearbyKind::Carbohydrate, Some(grams)) => format!("{} g carbohydrate", amount(grams)),
        (NearbyKind::Carbohydrate, None) => "something eaten".to_owned(),
        (NearbyKind::Activity, _) => "activity".to_owned(),
        (NearbyKind::BloodCheck, _) => match near.amount {
            Some(mg_dl) => format!("blood check {}", shown.glucose_with_unit(mg_dl)),
            None => "blood check".to_owned(),
        },
    };
    let text = near
        .text
        .as_deref()
        .map(|text| format!(" ({text})"))
        .unwrap_or_default();
    format!("{what}{text}, {}", duration(near.minutes.abs()))
}

/// '6 lows (1 of level 2) and 31 highs (4 of level 2)'.
pub fn episode_count(episodes: &[EpisodeLine]) -> String {
    let count = |kind: EpisodeKind, word: &str, words: &str| {
        let all = episodes.iter().filter(|e| e.kind == kind).count();
        let serious = episodes.iter().filter(|e| e.kind == kind && e.level > 1).count();
        let noun = one_or_many(&all, word, words);
        match (all, serious) {
            (0, _) => format!("no {noun}"),
            (_, 0) => format!("{all} {noun}"),
            _ => format!("{all} {noun} ({serious} of level 2)"),
        }
    };
    format!(
        "{} and {}",
        count(EpisodeKind::Low, "low", "lows"),
        count(EpisodeKind::High, "high", "highs")
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

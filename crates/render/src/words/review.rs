//! The sentences of a review.

use interstice_findings::{
    DayLine, EpisodeKind, EpisodeLine, FEWEST_DAYS_MIDDLE, Figure, Nearby, NearbyKind, ReviewFindings,
    Sufficiency, TargetGroup, TraceLine, UsualMinute, Window,
};

use interstice_tongue::say;

use super::number::{amount, extremes, percent_figure, rounded, units};
use super::range::Standing;
use super::{Shown, day, day_and_clock, duration, hours_minutes, percent};

/// '14 days, 3 March 2025 to 16 March 2025'.
pub fn window(window: &Window) -> String {
    let last = interstice_glucose::Moment {
        at: window.to.0.at - 1,
        offset_s: window.to.0.offset_s,
    };
    let days = say!("time-days", days = window.days);
    // A window that does not begin at midnight runs to the last reading: then the clock belongs to it.
    if window.from.0.wall().second_of_day() != 0 {
        return say!(
            "review-window",
            days = days,
            from = day_and_clock(window.from.0),
            to = day_and_clock(window.to.0)
        );
    }
    let (from, to) = (day(window.from.0), day(last));
    if from == to {
        say!("review-window-day", days = days, day = from)
    } else {
        say!("review-window", days = days, from = from, to = to)
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
            .clone()
            .unwrap_or_else(|| say!("review-no-readings"));
        return say!("review-answer-none", reason = reason);
    };
    if !findings.sufficiency.enough {
        let summary = &findings.summary;
        return say!(
            "review-answer-early",
            within = share(&summary.in_range_percent),
            below = share(&summary.below_percent),
            above = share(&summary.above_percent)
        );
    }
    say!(
        "review-answer",
        within = hours_minutes(within),
        below = none_or(below),
        above = none_or(above)
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
    (!enough).then(|| match reason {
        Some(reason) => say!("review-early-because", reason = reason),
        None => say!("review-early"),
    })
}

/// Why no usual day can be drawn; `None` where one can.
pub fn no_usual_day(points: &[UsualMinute]) -> Option<String> {
    if points.iter().any(|point| point.p50_mg_dl.is_some()) {
        return None;
    }
    let most = points.iter().map(|point| point.days).max().unwrap_or(0);
    Some(say!(
        "review-no-usual-day",
        need = FEWEST_DAYS_MIDDLE,
        most = most
    ))
}

/// 'nothing' rather than '0 min'.
fn none_or(minutes: f64) -> String {
    if minutes > 0.0 {
        duration(minutes)
    } else {
        say!("review-no-time")
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
    say!(
        "review-targets",
        within = percent_figure(&summary.in_range_percent),
        over = percent(targets.in_range_over_percent),
        over_stands = over.words(),
        below = percent_figure(&summary.below_percent),
        under = rounded(targets.below_under_percent, 0),
        under_stands = under.words(),
        group = group(targets.group),
        low = shown.glucose(targets.range_low_mg_dl),
        high = shown.glucose_with_unit(targets.range_high_mg_dl),
    )
}

fn group(group: TargetGroup) -> String {
    match group {
        TargetGroup::Adult => say!("review-group-adult"),
        TargetGroup::OlderOrHighRisk => say!("review-group-older"),
        TargetGroup::Pregnancy => say!("review-group-pregnancy"),
        TargetGroup::Own(_) => say!("review-group-own"),
    }
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
    let (with, days) = (sufficiency.days_with_data, window.days);
    let cover = |percent: String| say!("review-cover", percent = percent, with = with, days = days);
    let cover = match sufficiency.active_percent {
        // Rounded down where it falls short, as in the reason, so that 69.9 does not read as the 70 asked for.
        Some(active) if !sufficiency.enough => cover(rounded(active.floor(), 0)),
        Some(active) => cover(percent(active)),
        None => say!(
            "review-cover-readings",
            readings = sufficiency.received,
            with = with,
            days = days
        ),
    };
    match &sufficiency.reason {
        _ if sufficiency.enough => say!("review-enough", cover = cover),
        Some(reason) => say!("review-not-enough-because", cover = cover, reason = reason),
        None => say!("review-not-enough", cover = cover),
    }
}

/// 'Low, level 2', 'High, level 1, lasting'.
pub fn episode_kind(episode: &EpisodeLine) -> String {
    let kind = match episode.kind {
        EpisodeKind::Low => "low",
        EpisodeKind::High => "high",
    };
    say!(
        "review-episode-kind",
        kind = kind,
        level = episode.level,
        lasting = episode.extended
    )
}

/// '1 h 25 min', or 'at least 1 h 25 min' when a gap hides its end.
pub fn episode_length(episode: &EpisodeLine) -> String {
    let length = duration(episode.minutes);
    if episode.end_unknown {
        say!("review-at-least", length = length)
    } else {
        length
    }
}

/// Something logged near an episode, and how far away: '4 units of rapid insulin, 2 h 10 min'. Whether that is before
/// or after is said by the column it stands in.
pub fn nearby(near: &Nearby, shown: Shown) -> String {
    let what = match (near.what, near.amount) {
        (NearbyKind::RapidInsulin, dose) => insulin("rapid", dose),
        (NearbyKind::LongInsulin, dose) => insulin("long", dose),
        (NearbyKind::OtherInsulin, dose) => insulin("other", dose),
        (NearbyKind::Carbohydrate, Some(grams)) => {
            say!("review-near-carbohydrate", grams = amount(grams))
        }
        (NearbyKind::Carbohydrate, None) => say!("review-near-eaten"),
        (NearbyKind::Activity, _) => say!("review-near-activity"),
        (NearbyKind::BloodCheck, Some(mg_dl)) => {
            say!("review-near-check", glucose = shown.glucose_with_unit(mg_dl))
        }
        (NearbyKind::BloodCheck, None) => say!("review-near-check-untold"),
    };
    let away = duration(near.minutes.abs());
    match &near.text {
        Some(text) => say!("review-near-text", what = what, text = text, away = away),
        None => say!("review-near", what = what, away = away),
    }
}

fn insulin(kind: &str, dose: Option<f64>) -> String {
    match dose {
        Some(dose) => say!("review-near-insulin", kind = kind, units = units(dose)),
        None => say!("review-near-insulin-untold", kind = kind),
    }
}

/// '6 lows (1 of level 2) and 31 highs (4 of level 2)'.
pub fn episode_count(episodes: &[EpisodeLine]) -> String {
    let count = |kind: EpisodeKind, name: &str| {
        let all = episodes.iter().filter(|e| e.kind == kind).count();
        let serious = episodes.iter().filter(|e| e.kind == kind && e.level > 1).count();
        match (all, serious) {
            (0, _) => say!("review-episodes-none", kind = name),
            (_, 0) => say!("review-episodes", kind = name, count = all),
            _ => say!(
                "review-episodes-serious",
                kind = name,
                count = all,
                serious = serious
            ),
        }
    };
    say!(
        "review-lows-and-highs",
        lows = count(EpisodeKind::Low, "low"),
        highs = count(EpisodeKind::High, "high")
    )
}

/// The sensor's name, or what stands for it.
pub fn trace_name(trace: &TraceLine) -> String {
    if trace.sensor.is_empty() {
        say!("review-trace-unnamed")
    } else {
        trace.sensor.clone()
    }
}

/// 'every 5 min' or 'scanned by hand'.
pub fn trace_kind(trace: &TraceLine) -> String {
    match (trace.by_hand, trace.interval_min) {
        (true, _) => say!("review-trace-by-hand"),
        (false, Some(minutes)) => say!("review-trace-every", interval = duration(minutes)),
        (false, None) => say!("review-trace-unknown"),
    }
}

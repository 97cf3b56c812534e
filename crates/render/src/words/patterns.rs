//! What comes again, as sentences.

use interstice_findings::patterns::{AfterLine, DawnLine, EventName, PatternLine, PatternsFindings};
use interstice_glucose::{counted, round_half_up};

use super::time::clock;
use super::{Shown, percent};

/// What stands at a clock time, or that nothing does.
pub fn patterns_answer(findings: &PatternsFindings) -> String {
    let asked = findings.patterns_asked;
    if asked == 0 {
        return format!(
            "What comes again at a clock time cannot be told yet: {} of the 10 it takes with the same hours read.",
            counted(findings.patterns_days as u64, "day", "days")
        );
    }
    match findings.patterns.len() {
        0 => format!(
            "Nothing came again at a clock time beyond what chance would bring, of {asked} questions asked over {} days.",
            findings.patterns_days
        ),
        count => format!(
            "{} at a clock time in both halves of these {} days, of {asked} questions asked; chance alone would be behind about one in \
             twenty of such.",
            counted(count as u64, "thing comes again", "things come again"),
            findings.patterns_days
        ),
    }
}

/// One pattern.
pub fn pattern_said(pattern: &PatternLine, shown: Shown) -> String {
    let until = (pattern.from_minute + pattern.minutes) % 1440;
    let kind = match pattern.days_kind.as_str() {
        "all" => String::new(),
        "weekdays" => " from Monday to Friday".to_owned(),
        "weekends" => " at weekends".to_owned(),
        tag => format!(" on days tagged '{tag}'"),
    };
    format!(
        "{} between {} and {}{kind}: on {} of {} days, where {} % would have it in any two hours (earlier half {} %, later half {} %).",
        event(pattern.event, shown),
        clock(pattern.from_minute),
        clock(until),
        pattern.days_with,
        pattern.days,
        percent(pattern.base_percent),
        percent(pattern.earlier_percent),
        percent(pattern.later_percent)
    )
}

fn event(event: EventName, shown: Shown) -> String {
    let step = shown.glucose_with_unit(54.0);
    match event {
        EventName::Low => "Low".to_owned(),
        EventName::High => "High for half of the time or more".to_owned(),
        EventName::Rise => format!("Rising by {step} or more within an hour"),
        EventName::Fall => format!("Falling by {step} or more within an hour"),
    }
}

/// What came after activity, alcohol or illness.
pub fn after_said(after: &AfterLine) -> String {
    let hours = |hours: f64| round_half_up(hours, 0);
    let span = if after.from_hours > 0.0 {
        format!(
            "{} to {} hours after {}",
            hours(after.from_hours),
            hours(after.to_hours),
            after.what
        )
    } else {
        format!("within {} hours after {}", hours(after.to_hours), after.what)
    };
    let what = if after.event == EventName::High {
        "high for half of the time or more"
    } else {
        "low"
    };
    let told = if after.p <= 0.05 {
        "more often than by chance"
    } else {
        "no more than chance may bring"
    };
    format!(
        "{}: {what} {} of {} times, where the same hours of other days would give {}; {told}.",
        super::sentence(&span).trim_end_matches('.'),
        after.with,
        after.times,
        round_half_up(after.expected, 1)
    )
}

/// The rise towards morning.
pub fn dawn_said(dawn: &DawnLine, shown: Shown) -> String {
    let left: Vec<String> = [
        (
            dawn.low_food_or_pressure,
            "with a low, something eaten or a stretch not to be believed",
        ),
        (dawn.dose, "with a dose"),
        (dawn.no_breakfast, "without a breakfast logged"),
        (dawn.unread, "with readings missing"),
    ]
    .into_iter()
    .filter(|(nights, _)| *nights > 0)
    .map(|(nights, why)| format!("{nights} {why}"))
    .collect();
    let left = if left.is_empty() {
        String::new()
    } else {
        format!(" Nights left out: {}.", left.join(", "))
    };
    let (Some(rise), Some(lo), Some(hi), Some(share)) = (
        dawn.rise_mg_dl,
        dawn.rise_mg_dl_p25,
        dawn.rise_mg_dl_p75,
        dawn.marked_percent,
    ) else {
        let reason = dawn.reason.as_deref().unwrap_or("too few nights");
        return format!("The rise towards morning cannot be told yet: {reason}.{left}");
    };
    let margin = dawn
        .marked_percent_lo95
        .zip(dawn.marked_percent_hi95)
        .map_or_else(String::new, |(lo, hi)| {
            format!(" ({} to {} %)", percent(lo), percent(hi))
        });
    format!(
        "From the lowest of the night until before breakfast glucose rose by {} as a rule (half of {} nights between {} and {}); by {} or more \
         in {} % of them{margin}.{left}",
        shown.glucose_with_unit(rise),
        dawn.nights,
        shown.glucose(lo),
        shown.glucose(hi),
        shown.glucose_with_unit(20.0),
        percent(share)
    )
}

//! What comes again, as sentences.

use interstice_findings::patterns::{AfterLine, DawnLine, EventName, PatternLine, PatternsFindings};
use interstice_glucose::round_half_up;
use interstice_tongue::say;

use super::time::clock;
use super::{Shown, percent, rounded};

/// What stands at a clock time, or that nothing does.
pub fn patterns_answer(findings: &PatternsFindings) -> String {
    let asked = findings.patterns_asked;
    if asked == 0 {
        return say!("patterns-untold", days = findings.patterns_days);
    }
    let days = findings.patterns_days;
    match findings.patterns.len() {
        0 => say!("patterns-none", asked = asked, days = days),
        count => say!("patterns-answer", patterns = count, asked = asked, days = days),
    }
}

/// One pattern.
pub fn pattern_said(pattern: &PatternLine, shown: Shown) -> String {
    let until = (pattern.from_minute + pattern.minutes) % 1440;
    let kind = pattern.days_kind.as_str();
    let event = event(pattern.event, shown);
    let (from, to) = (clock(pattern.from_minute), clock(until));
    let what = match kind {
        "all" => say!("patterns-every-day", event = event, from = from, to = to),
        "weekdays" => say!("patterns-weekdays", event = event, from = from, to = to),
        "weekends" => say!("patterns-weekends", event = event, from = from, to = to),
        tag => say!("patterns-tagged", event = event, from = from, to = to, tag = tag),
    };
    say!(
        "patterns-one",
        what = what,
        with = pattern.days_with,
        days = pattern.days,
        base = percent(pattern.base_percent),
        earlier = percent(pattern.earlier_percent),
        later = percent(pattern.later_percent)
    )
}

fn event(event: EventName, shown: Shown) -> String {
    let step = shown.glucose_with_unit(54.0);
    match event {
        EventName::Low => say!("patterns-low"),
        EventName::High => say!("patterns-high"),
        EventName::Rise => say!("patterns-rise", step = step),
        EventName::Fall => say!("patterns-fall", step = step),
    }
}

/// What came after activity, alcohol or illness.
pub fn after_said(after: &AfterLine) -> String {
    let hours = |hours: f64| round_half_up(hours, 0);
    let span = if after.from_hours > 0.0 {
        say!(
            "patterns-hours-after",
            what = after.what,
            from = hours(after.from_hours),
            to = hours(after.to_hours)
        )
    } else {
        say!(
            "patterns-within-hours",
            what = after.what,
            to = hours(after.to_hours)
        )
    };
    let event = if after.event == EventName::High {
        "high"
    } else {
        "low"
    };
    say!(
        "patterns-after",
        beyond_chance = after.p <= 0.05,
        event = event,
        span = span,
        with = after.with,
        times = after.times,
        expected = rounded(after.expected, 1)
    )
}

/// The rise towards morning.
pub fn dawn_said(dawn: &DawnLine, shown: Shown) -> String {
    let mut left = Vec::new();
    if dawn.low_food_or_pressure > 0 {
        left.push(say!("patterns-nights-low", nights = dawn.low_food_or_pressure));
    }
    if dawn.dose > 0 {
        left.push(say!("patterns-nights-dose", nights = dawn.dose));
    }
    if dawn.no_breakfast > 0 {
        left.push(say!("patterns-nights-no-breakfast", nights = dawn.no_breakfast));
    }
    if dawn.unread > 0 {
        left.push(say!("patterns-nights-unread", nights = dawn.unread));
    }
    let told = dawn_told(dawn, shown);
    if left.is_empty() {
        told
    } else {
        format!(
            "{told} {}",
            say!("patterns-nights-left", nights = left.join(", "))
        )
    }
}

fn dawn_told(dawn: &DawnLine, shown: Shown) -> String {
    let (Some(rise), Some(lo), Some(hi), Some(share)) = (
        dawn.rise_mg_dl,
        dawn.rise_mg_dl_p25,
        dawn.rise_mg_dl_p75,
        dawn.marked_percent,
    ) else {
        let reason = dawn.reason.clone();
        let reason = reason.unwrap_or_else(|| say!("patterns-too-few-nights"));
        return say!("patterns-dawn-untold", reason = reason);
    };
    let share = percent(share);
    let share = match dawn.marked_percent_lo95.zip(dawn.marked_percent_hi95) {
        Some((lo, hi)) => say!(
            "patterns-dawn-share",
            share = share,
            low = percent(lo),
            high = percent(hi)
        ),
        None => say!("patterns-dawn-share-alone", share = share),
    };
    say!(
        "patterns-dawn",
        rise = shown.glucose_with_unit(rise),
        nights = dawn.nights,
        low = shown.glucose(lo),
        high = shown.glucose(hi),
        step = shown.glucose_with_unit(20.0),
        share = share
    )
}

//! One day as a strip, for the list of days.

use interstice_findings::DayLine;
use maud::{Markup, html};

use super::axis::at;
use super::hatch::paint;
use crate::words::Range;

const HOUR: f64 = 8.0;
const HEIGHT: f64 = 12.0;
/// Room for a day of 25 hours, or what a voyage makes of one.
const HOURS: f64 = 26.0;

/// Draws a day as long as it was: measured time in range, above, below, and open where nothing was measured.
pub fn day_strip(day: &DayLine) -> Markup {
    let length = HOUR * day.hours.min(HOURS);
    let measured = length * (day.active_percent / 100.0).clamp(0.0, 1.0);
    let parts = [
        (Range::InRange, day.in_range_percent),
        (Range::High, day.high_percent),
        (Range::VeryHigh, day.very_high_percent),
        (Range::Low, day.low_percent),
        (Range::VeryLow, day.very_low_percent),
    ];
    let mut from = 0.0;
    let placed: Vec<(Range, f64, f64)> = parts
        .into_iter()
        .map(|(range, percent)| {
            let width = measured * percent.unwrap_or(0.0) / 100.0;
            from += width;
            (range, from - width, width)
        })
        .filter(|&(_, _, width)| width > 0.0)
        .collect();
    html! {
        svg.strip viewBox={ "0 0 " (at(HOUR * HOURS)) " " (at(HEIGHT)) } aria-hidden="true" {
            @for (range, start, width) in placed {
                path class=(range.class()) fill=[paint(range)]
                    d={ "M" (at(start)) " 1h" (at(width)) "v" (at(HEIGHT - 2.0)) "h-" (at(width)) "z" } {}
            }
            path.frame d={ "M.5 .5h" (at(length - 1.0)) "v" (at(HEIGHT - 1.0)) "h-" (at(length - 1.0)) "z" } {}
        }
    }
}

//! The average day as a ruler of 24 hours.

use std::fmt::Write as _;

use interstice_findings::ReviewFindings;
use interstice_tongue::say;
use maud::{Markup, html};

use super::Shape;
use super::axis::at;
use super::hatch::paint;
use crate::words::{Range, duration, hours_minutes, percent_of_day};

const DAY: f64 = 1440.0;
const TAPE_TOP: f64 = 50.0;
const TAPE: f64 = 44.0;
const SIDE: f64 = 1.0;
/// Most that a letter of a label is wide, on the average.
const LETTER: f64 = 6.2;

/// Draws the minutes of an average day along a ruler: first those in range, measured from zero, with the mark they are
/// held against and their 95 % margin; then those above, then those below.
pub fn ruler(findings: &ReviewFindings, shape: Shape, id: &str) -> Markup {
    let ruler = Ruler { shape };
    let view = format!("0 0 {} 150", at(shape.width()));
    html! {
        svg class={ "picture ruler " (shape.class()) } viewBox=(view) role="img"
            aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { (say!("review-ruler-title")) }
            desc id={ (id) "-d" } { (describe(findings)) }
            (ruler.segments(findings))
            (ruler.margin(findings))
            (ruler.ticks())
            (ruler.target(findings))
            (ruler.labels(findings))
        }
    }
}

fn describe(findings: &ReviewFindings) -> String {
    let day = &findings.average_day;
    let part = |minutes: Option<f64>| minutes.map_or_else(|| say!("review-unknown-time"), hours_minutes);
    say!(
        "review-ruler-described",
        within = part(day.in_range_min),
        above = part(day.above_min),
        very_high = part(day.very_high_min),
        below = part(day.below_min),
        very_low = part(day.very_low_min),
        target = hours_minutes(percent_of_day(findings.targets.in_range_over_percent)),
    )
}

struct Ruler {
    shape: Shape,
}

impl Ruler {
    fn x(&self, minutes: f64) -> f64 {
        SIDE + (self.shape.width() - 2.0 * SIDE) * minutes.clamp(0.0, DAY) / DAY
    }

    fn segments(&self, findings: &ReviewFindings) -> Markup {
        let day = &findings.average_day;
        let parts = [
            (Range::InRange, day.in_range_min),
            (Range::High, day.high_min),
            (Range::VeryHigh, day.very_high_min),
            (Range::Low, day.low_min),
            (Range::VeryLow, day.very_low_min),
        ];
        let mut from = 0.0;
        let placed: Vec<(Range, f64, f64)> = parts
            .into_iter()
            .map(|(range, minutes)| {
                let start = from;
                from += minutes.unwrap_or(0.0);
                (range, start, from)
            })
            .filter(|&(_, start, end)| end > start)
            .collect();
        html! {
            @for (range, start, end) in placed {
                rect class={ "tape " (range.class()) } fill=[paint(range)] x=(at(self.x(start))) y=(at(TAPE_TOP))
                    width=(at(self.x(end) - self.x(start))) height=(at(TAPE)) {}
            }
            rect.frame x=(at(self.x(0.0))) y=(at(TAPE_TOP)) width=(at(self.x(DAY) - self.x(0.0))) height=(at(TAPE)) {}
        }
    }

    /// The margin of the time in range: a pale bracket under the tape.
    fn margin(&self, findings: &ReviewFindings) -> Markup {
        let figure = &findings.summary.in_range_percent;
        let (Some(lo), Some(hi)) = (figure.lo95, figure.hi95) else {
            return html! {};
        };
        let (from, to) = (self.x(percent_of_day(lo)), self.x(percent_of_day(hi)));
        let y = TAPE_TOP + TAPE + 5.0;
        html! {
            rect.doubt x=(at(from)) y=(at(y)) width=(at(to - from)) height="5" {}
            path.mark d={ "M" (at(from)) " " (at(y)) "v5M" (at(to)) " " (at(y)) "v5" } {}
        }
    }

    fn ticks(&self) -> Markup {
        let mut path = String::new();
        for hour in 0..=24_u32 {
            let length = if hour % 6 == 0 {
                12.0
            } else if hour % 3 == 0 {
                9.0
            } else {
                5.0
            };
            let _ = write!(
                path,
                "M{} {}v{}",
                at(self.x(f64::from(hour) * 60.0)),
                at(TAPE_TOP),
                at(length)
            );
        }
        let step = if self.shape == Shape::Phone { 6 } else { 3 };
        html! {
            path.edge d=(path) {}
            @for hour in (0..=24_u32).step_by(step) {
                @let place = match hour { 0 => "", 24 => "end", _ => "mid" };
                text class=(place) x=(at(self.x(f64::from(hour) * 60.0))) y=(at(TAPE_TOP - 6.0)) { (say!("time-hours", hours = hour)) }
            }
        }
    }

    /// The mark the time in range is held against, flagged above the tape.
    fn target(&self, findings: &ReviewFindings) -> Markup {
        let minutes = percent_of_day(findings.targets.in_range_over_percent);
        let x = self.x(minutes);
        let place = if minutes > DAY / 2.0 {
            "strong end"
        } else {
            "strong"
        };
        let label = if minutes > DAY / 2.0 { x - 11.0 } else { x + 11.0 };
        html! {
            path.mark d={ "M" (at(x)) " 13V" (at(TAPE_TOP + TAPE)) } {}
            path.flag d={ "M" (at(x)) " 13l-8 4.5l8 4.5z" } {}
            text class=(place) x=(at(label)) y="22" { (say!("review-ruler-target", time = hours_minutes(minutes))) }
        }
    }

    fn labels(&self, findings: &ReviewFindings) -> Markup {
        let day = &findings.average_day;
        let figure = &findings.summary.in_range_percent;
        let y = at(TAPE_TOP + TAPE + 27.0);
        html! {
            @if let Some(within) = day.in_range_min {
                text.strong.large x=(at(SIDE + 10.0)) y=(at(TAPE_TOP + TAPE - 12.0)) { (say!("review-ruler-within", time = hours_minutes(within))) }
            }
            @if let (Some(lo), Some(hi)) = (figure.lo95, figure.hi95) {
                @let words = say!(
                    "review-ruler-margin",
                    low = hours_minutes(percent_of_day(lo)),
                    high = hours_minutes(percent_of_day(hi))
                );
                @let bracket = self.x(percent_of_day(lo)) - 6.0;
                // Beside its bracket where there is room, else under the tape's beginning.
                @if bracket > LETTER * words.chars().count() as f64 {
                    text.end x=(at(bracket)) y=(at(TAPE_TOP + TAPE + 12.0)) { (words) }
                } @else {
                    text x=(at(SIDE)) y=(y) { (words) }
                }
            }
            @if let (Some(below), Some(above)) = (day.below_min, day.above_min) {
                text.end x=(at(self.x(DAY))) y=(at(TAPE_TOP + TAPE + self.line_below())) {
                    tspan.above { (say!("review-ruler-above", time = duration(above))) } ", " tspan.below { (say!("review-ruler-below", time = duration(below))) }
                }
            }
        }
    }

    /// On a phone the second label has a line of its own.
    fn line_below(&self) -> f64 {
        if self.shape == Shape::Phone { 45.0 } else { 27.0 }
    }
}

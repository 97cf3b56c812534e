//! The average day as a ruler of 24 hours: in range from the left, then above, then below.

use super::Page;
use super::table::paint;
use crate::pdf::canvas::{bold, corners, ink, plain, soft};
use crate::words::{Range, hours_minutes, percent_of_day};

/// Height of the whole picture, points.
pub(super) const HEIGHT: f32 = 58.0;
const TAPE_TOP: f32 = 15.0;
const TAPE: f32 = 21.0;
const DAY: f64 = 1440.0;

/// Draws it from a place on, as wide as the frame.
pub(super) fn draw(page: &mut Page<'_>, y: f32) -> f32 {
    let alt = page.sheet.average_day.clone();
    let figure = page.canvas.figure(&alt);
    let (left, width) = (page.frame.left, page.frame.width());
    let x = |minutes: f64| left + (f64::from(width) * minutes.clamp(0.0, DAY) / DAY) as f32;
    let day = &page.findings.review.average_day;
    let parts = [
        (Range::InRange, day.in_range_min),
        (Range::High, day.high_min),
        (Range::VeryHigh, day.very_high_min),
        (Range::Low, day.low_min),
        (Range::VeryLow, day.very_low_min),
    ];
    let top = y + TAPE_TOP;
    let mut from = 0.0;
    let mut above_at = 0.0;
    for (range, minutes) in parts {
        let minutes = minutes.unwrap_or(0.0);
        if range == Range::High {
            above_at = from;
        }
        if minutes > 0.0 {
            let points = corners((x(from), top), (x(from + minutes) - x(from), TAPE));
            let (ground, hatch) = paint(range);
            page.canvas.shape(points.clone(), ground, figure);
            if let Some((ink, apart, rising)) = hatch {
                page.canvas.hatch(points, ink, (apart, rising), figure);
            }
        }
        from += minutes;
    }
    let frame = corners((left, top), (width, TAPE));
    page.canvas.line(
        &[frame[0], frame[1], frame[2], frame[3], frame[0]],
        0.6,
        ink::RULE_STRONG,
        figure,
    );
    for hour in 0..=24_u32 {
        let length = if hour % 6 == 0 { 5.0 } else { 2.5 };
        let at = x(f64::from(hour) * 60.0);
        page.canvas.line(
            &[(at, top + TAPE - length), (at, top + TAPE)],
            0.4,
            ink::RULE_STRONG,
            figure,
        );
    }
    labels(page, (y, top), above_at, &x, figure);
    doubt(page, top + TAPE, &x, figure);
    y + HEIGHT
}

fn labels(
    page: &mut Page<'_>,
    (y, top): (f32, f32),
    above_at: f64,
    x: &impl Fn(f64) -> f32,
    figure: Option<usize>,
) {
    let day = &page.findings.review.average_day;
    let (Some(within), Some(below), Some(above)) = (day.in_range_min, day.below_min, day.above_min) else {
        return;
    };
    let (very_low, very_high) = (day.very_low_min.unwrap_or(0.0), day.very_high_min.unwrap_or(0.0));
    let targets = page.findings.review.targets;
    let part = |minutes: f64, word: &str, serious: f64, bound: String| {
        let inner = if serious >= 0.5 {
            format!(", {} {bound}", hours_minutes(serious))
        } else {
            String::new()
        };
        format!("{} {word}{inner}", hours_minutes(minutes))
    };
    let in_range = format!("{} in range", hours_minutes(within));
    let wide = page.canvas.width(&in_range, bold(9.5));
    if x(within) - x(0.0) > wide + 14.0 {
        page.canvas
            .words((x(0.0) + 7.0, top + 0.66 * TAPE), &in_range, bold(9.5), figure);
    } else {
        page.canvas.words((x(0.0), y + 9.0), &in_range, bold(8.0), figure);
    }
    let below_text = part(
        below,
        "below",
        very_low,
        format!("under {}", page.shown.glucose(targets.very_low_below_mg_dl)),
    );
    let above_text = part(
        above,
        "above",
        very_high,
        format!("over {}", page.shown.glucose(targets.very_high_above_mg_dl)),
    );
    let right = page.frame.right;
    let below_from = right - page.canvas.width(&below_text, plain(8.0));
    page.canvas
        .words((below_from, y + 9.0), &below_text, plain(8.0), figure);
    let room = below_from - 12.0 - page.canvas.width(&above_text, plain(8.0));
    let at = x(above_at).min(room);
    if at > page.frame.left + page.canvas.width(&in_range, bold(8.0)) || x(within) - x(0.0) > wide + 14.0 {
        page.canvas.words(
            (at.max(page.frame.left), y + 9.0),
            &above_text,
            plain(8.0),
            figure,
        );
    }
}

/// The margin of the time in range as a bracket under the tape, and the mark it is held against.
fn doubt(page: &mut Page<'_>, bottom: f32, x: &impl Fn(f64) -> f32, figure: Option<usize>) {
    let review = &page.findings.review;
    let summary = &review.summary.in_range_percent;
    let mark = percent_of_day(review.targets.in_range_over_percent);
    let (baseline, at) = (bottom + 18.5, x(mark));
    if let (Some(lo), Some(hi)) = (summary.lo95, summary.hi95) {
        let (from, to) = (x(percent_of_day(lo)), x(percent_of_day(hi)));
        let y = bottom + 5.0;
        page.canvas
            .line(&[(from, y - 2.5), (from, y + 2.5)], 0.8, ink::BLACK, figure);
        page.canvas
            .line(&[(to, y - 2.5), (to, y + 2.5)], 0.8, ink::BLACK, figure);
        page.canvas.line(&[(from, y), (to, y)], 0.8, ink::BLACK, figure);
    }
    page.canvas.line(
        &[(at, bottom - TAPE), (at, bottom + 14.0)],
        1.2,
        ink::BLACK,
        figure,
    );
    let target = format!("target in range: more than {}", hours_minutes(mark));
    let right_of_it = at + 4.0;
    if right_of_it + page.canvas.width(&target, soft(7.0)) < page.frame.right {
        page.canvas
            .words((right_of_it, baseline - 4.0), &target, soft(7.0), figure);
    } else {
        page.canvas
            .words_to((at - 4.0, baseline - 4.0), &target, soft(7.0), figure);
    }
}

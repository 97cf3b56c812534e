//! Differences by day of wear.

use interstice_findings::TrustFindings;
use interstice_findings::trust::GroupLine;
use maud::{Markup, html};

use super::super::Shape;
use super::super::axis::at;
use super::error_grid::mark;
use super::plane::{Plane, difference_ticks, reach};
use crate::words::{Shown, signed_with_unit};

const LEFT: f64 = 40.0;
const TOP: f64 = 10.0;
const BOTTOM: f64 = 38.0;
/// Fewest days drawn, so that one sensor's first days do not fill the picture.
const FEWEST_DAYS: f64 = 7.0;

/// Draws sensor less blood by the time since the sensor's start, each day's bias with its margin; the first day is shaded.
pub fn difference_by_day(findings: &TrustFindings, shown: Shown, shape: Shape, id: &str) -> Markup {
    let days = findings
        .points
        .iter()
        .filter_map(|point| point.worn_h)
        .fold(FEWEST_DAYS, |days, hours| days.max((hours / 24.0).floor() + 1.0))
        .min(15.0);
    let reach = reach(&findings.points, &[]);
    let plane = Plane {
        left: LEFT,
        top: TOP,
        width: shape.width() - LEFT - 8.0,
        height: if shape == Shape::Phone { 220.0 } else { 260.0 },
        across: (0.0, days),
        up: (-reach, reach),
    };
    let up = difference_ticks(reach, shown);
    let view = format!("0 0 {} {}", at(shape.width()), at(plane.bottom() + BOTTOM));
    let first = plane.x(1.0) - plane.left;
    html! {
        svg class={ "picture by-day " (shape.class()) } viewBox=(view) role="img" aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { "Sensor less blood by day of wear, in " (shown.unit) }
            desc id={ (id) "-d" } { (describe(&findings.by.day_of_wear, shown)) }
            rect.night x=(at(plane.left)) y=(at(plane.top)) width=(at(first)) height=(at(plane.height)) {}
            (plane.rules(&[], &up))
            path.edge d=(plane.level(0.0)) {}
            @for line in &findings.by.day_of_wear { (bias(plane, line)) }
            @for point in &findings.points {
                @if let Some(hours) = point.worn_h {
                    (mark(point.consensus, plane.x(hours / 24.0), plane.y(point.sensor_mg_dl - point.blood_mg_dl)))
                }
            }
            @for line in &findings.by.day_of_wear { (middle(plane, line)) }
            (plane.frame())
            (plane.numbers_up(&up))
            (day_labels(plane, days, shape))
            text.end x=(at(plane.right())) y=(at(plane.bottom() + 31.0)) { "day since the sensor's start" }
        }
    }
}

/// The day a group stands for, counted from nought.
fn day(line: &GroupLine) -> Option<f64> {
    line.key
        .trim_end_matches('+')
        .parse::<f64>()
        .ok()
        .map(|day| day - 1.0)
}

fn bias(plane: Plane, line: &GroupLine) -> Markup {
    let (Some(day), Some(lo), Some(hi)) = (day(line), line.bias_mg_dl.lo95, line.bias_mg_dl.hi95) else {
        return html! {};
    };
    let (left, right) = (plane.x(day + 0.1), plane.x(day + 0.9));
    let (top, bottom) = (plane.y(hi), plane.y(lo));
    html! {
        rect.doubt x=(at(left)) y=(at(top)) width=(at(right - left)) height=(at((bottom - top).max(1.0))) {}
    }
}

fn middle(plane: Plane, line: &GroupLine) -> Markup {
    let (Some(day), Some(value)) = (day(line), line.bias_mg_dl.value) else {
        return html! {};
    };
    let y = at(plane.y(value));
    html! { path.mark.heavy d={ "M" (at(plane.x(day + 0.1))) " " (y) "H" (at(plane.x(day + 0.9))) } {} }
}

fn day_labels(plane: Plane, days: f64, shape: Shape) -> Markup {
    let step = if shape == Shape::Phone && days > 8.0 { 2 } else { 1 };
    html! {
        @for day in (1..=days as u32).step_by(step) {
            @let name = if day == 15 { "15+".to_owned() } else { day.to_string() };
            text.mid x=(at(plane.x(f64::from(day) - 0.5))) y=(at(plane.bottom() + 14.0)) { (name) }
        }
    }
}

fn describe(lines: &[GroupLine], shown: Shown) -> String {
    let days: Vec<String> = lines
        .iter()
        .filter_map(|line| {
            let value = line.bias_mg_dl.value?;
            Some(format!(
                "day {}: bias {}",
                line.key,
                signed_with_unit(value, shown)
            ))
        })
        .collect();
    if days.is_empty() {
        "No day has enough pairs for a bias yet.".to_owned()
    } else {
        format!(
            "{}. Differences beyond the drawing lie on its edge.",
            days.join("; ")
        )
    }
}

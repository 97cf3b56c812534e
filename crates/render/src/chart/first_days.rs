//! The first days of a file that waits to be brought in.

use interstice_findings::TargetGroup;
use maud::{Markup, html};

use super::Shape;
use super::axis::{DAY_MIN, GlucoseAxis, Pen, at};
use crate::words::{self, Shown};

const LEFT: f64 = 38.0;
const RIGHT: f64 = 10.0;
const TOP: f64 = 20.0;
const ROW: f64 = 96.0;
const APART: f64 = 30.0;
/// A silence beyond this is left open, minutes.
const GAP_MIN: u16 = 20;

/// One day.
#[derive(Clone, Copy, Debug)]
pub struct DayDrawn<'a> {
    /// '2025-03-01'.
    pub date: &'a str,
    /// Readings on it.
    pub readings: usize,
    /// Minute of the day and mg/dL, in time order.
    pub points: &'a [(u16, f64)],
}

impl DayDrawn<'_> {
    /// How far down and up the line goes, mg/dL; `None` without one.
    pub fn reach_mg_dl(&self) -> Option<(f64, f64)> {
        self.points
            .iter()
            .map(|point| point.1)
            .fold(None, |reach, mg_dl| {
                let (low, high) = reach.unwrap_or((mg_dl, mg_dl));
                Some((mg_dl.min(low), mg_dl.max(high)))
            })
    }
}

/// Draws one strip a day, from midnight to midnight. `id` must be unique in the page.
pub fn first_days(
    days: &[DayDrawn<'_>],
    targets: TargetGroup,
    shown: Shown,
    shape: Shape,
    id: &str,
) -> Markup {
    let highest = days.iter().filter_map(|day| Some(day.reach_mg_dl()?.1));
    let highest = GlucoseAxis::top_for(highest.fold(0.0, f64::max) * 1.02);
    let height = TOP + days.len() as f64 * (ROW + APART);
    let view = format!("0 0 {} {}", at(shape.width()), at(height));
    let targets = targets.targets();
    let edges = [targets.range_low_mg_dl, targets.range_high_mg_dl];
    let right = shape.width() - RIGHT;
    html! {
        svg class={ "picture first-days " (shape.class()) } viewBox=(view) role="img" aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { "The first days of the file, glucose in " (shown.unit) }
            desc id={ (id) "-d" } { (described(days, shown)) }
            @for (place, day) in days.iter().enumerate() {
                @let axis = GlucoseAxis { top: TOP + place as f64 * (ROW + APART), height: ROW, highest_mg_dl: highest };
                text x=(at(LEFT)) y=(at(axis.top - 5.0)) { (words::date(day.date)) }
                rect.tape.within x=(at(LEFT)) y=(at(axis.y(edges[1]))) width=(at(right - LEFT)) height=(at(axis.y(edges[0]) - axis.y(edges[1]))) {}
                @for edge in edges { text.end x=(at(LEFT - 5.0)) y=(at(axis.y(edge) + 4.0)) { (shown.glucose(edge)) } }
                @for hour in [0u32, 6, 12, 18, 24] {
                    path.rule d={ "M" (at(x(f64::from(60 * hour), right))) " " (at(axis.top)) "V" (at(axis.bottom())) } {}
                    @if place + 1 == days.len() {
                        text.mid x=(at(x(f64::from(60 * hour), right).min(right - 6.0))) y=(at(axis.bottom() + 14.0)) { (hour % 24) }
                    }
                }
                path.median d=(line(day.points, axis, right)) {}
            }
        }
    }
}

fn x(minute: f64, right: f64) -> f64 {
    LEFT + (right - LEFT) * minute / f64::from(DAY_MIN)
}

fn line(points: &[(u16, f64)], axis: GlucoseAxis, right: f64) -> String {
    let mut pen = Pen::default();
    let mut before = None;
    for &(minute, mg_dl) in points {
        let (x, y) = (x(f64::from(minute), right), axis.y(mg_dl));
        let follows = before.is_some_and(|before: u16| (before..=before + GAP_MIN).contains(&minute));
        if follows {
            pen.to(x, y);
        } else {
            pen.begin(x, y);
        }
        before = Some(minute);
    }
    pen.into_path()
}

fn described(days: &[DayDrawn<'_>], shown: Shown) -> String {
    let said: Vec<String> = days
        .iter()
        .filter_map(|day| {
            let (lowest, highest) = day.reach_mg_dl()?;
            Some(format!(
                "{}: between {} and {}",
                words::date(day.date),
                shown.glucose(lowest),
                shown.glucose_with_unit(highest)
            ))
        })
        .collect();
    format!("{}.", said.join("; "))
}

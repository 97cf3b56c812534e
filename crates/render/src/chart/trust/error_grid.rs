//! An error grid.

use interstice_glucose::counted;
use std::fmt::Write as _;

use interstice_findings::trust::{Grid, Point};
use maud::{Markup, html};

use super::super::axis::at;
use super::plane::{Plane, glucose_ticks};
use crate::words::{Shown, percent};

const SIDE: f64 = 306.0;
const LEFT: f64 = 44.0;
const TOP: f64 = 8.0;
/// Both scales end here, mg/dL, where no value lies beyond it.
const USUAL_END: f64 = 400.0;
/// The grids themselves end here.
const LAST_END: f64 = 550.0;

/// Draws every pair into the zones of a grid: blood across, sensor up. Zone A is pale ground; the further out a pair lies, the
/// heavier its mark: an open ring in A, a disc in B, a triangle, a square and a cross from C on.
///
/// `zone` tells a pair's zone in this grid; `id` must be unique in the page.
pub fn error_grid(
    name: &str,
    grid: &Grid,
    points: &[Point],
    zone: impl Fn(&Point) -> char,
    shown: Shown,
    id: &str,
) -> Markup {
    let highest = points
        .iter()
        .map(|point| point.blood_mg_dl.max(point.sensor_mg_dl))
        .fold(0.0, f64::max);
    let end = if highest > USUAL_END { LAST_END } else { USUAL_END };
    let plane = Plane {
        left: LEFT,
        top: TOP,
        width: SIDE,
        height: SIDE,
        across: (0.0, end),
        up: (0.0, end),
    };
    let ticks = glucose_ticks(end, shown);
    // The word for the scale stands in the upper corner.
    let below_the_corner: Vec<_> = ticks.iter().filter(|tick| tick.0 < end * 0.95).cloned().collect();
    html! {
        svg.picture.error-grid viewBox="0 0 360 356" role="img" aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { (name) }
            desc id={ (id) "-d" } { (describe(grid, points.len())) }
            clipPath id={ (id) "-c" } { rect x=(at(plane.left)) y=(at(plane.top)) width=(at(SIDE)) height=(at(SIDE)) {} }
            g clip-path={ "url(#" (id) "-c)" } {
                polygon.zone-a points=(corners(&grid.zone_a, end)) {}
                path.border d=(borders(grid, end)) {}
                path.equal d={ "M" (at(plane.x(0.0))) " " (at(plane.y(0.0))) "L" (at(plane.x(end))) " " (at(plane.y(end))) } {}
            }
            @for (letter, blood, sensor) in &grid.letters {
                text.letter.mid x=(at(plane.x(*blood))) y=(at(plane.y(*sensor) + 6.0)) { (letter) }
            }
            @for point in points { (mark(zone(point), plane.x(point.blood_mg_dl), plane.y(point.sensor_mg_dl))) }
            (plane.frame())
            (plane.numbers_across(&ticks))
            (plane.numbers_up(&below_the_corner))
            text.end x=(at(plane.right())) y=(at(plane.bottom() + 32.0)) { "blood, " (shown.unit) }
            text x="1" y=(at(TOP + 8.0)) { "sensor" }
        }
    }
}

fn describe(grid: &Grid, pairs: usize) -> String {
    let mut text = format!("{}.", counted(pairs as u64, "pair", "pairs"));
    for zone in &grid.zones {
        if let Some(share) = zone.percent {
            let _ = write!(text, " Zone {}: {} %.", zone.zone, percent(share));
        }
    }
    text
}

/// Unclipped place of a corner, which may lie beyond the drawing.
fn place((blood, sensor): (f64, f64), end: f64) -> (f64, f64) {
    (LEFT + SIDE * blood / end, TOP + SIDE * (1.0 - sensor / end))
}

fn corners(polygon: &[(f64, f64)], end: f64) -> String {
    let mut text = String::new();
    for &corner in polygon {
        let (x, y) = place(corner, end);
        let _ = write!(text, "{},{} ", at(x), at(y));
    }
    text.trim_end().to_owned()
}

fn borders(grid: &Grid, end: f64) -> String {
    let mut path = String::new();
    for line in &grid.lines {
        for (i, &corner) in line.iter().enumerate() {
            let (x, y) = place(corner, end);
            let _ = write!(path, "{}{} {}", if i == 0 { 'M' } else { 'L' }, at(x), at(y));
        }
    }
    path
}

/// The mark of a pair by its zone.
pub(super) fn mark(zone: char, x: f64, y: f64) -> Markup {
    match zone {
        'A' => html! { circle.pair.in-a cx=(at(x)) cy=(at(y)) r="2.4" {} },
        'B' => html! { circle.pair.in-b cx=(at(x)) cy=(at(y)) r="2.6" {} },
        'C' => html! { path.pair.in-c d={ "M" (at(x)) " " (at(y - 5.0)) "l4.6 8h-9.2z" } {} },
        'D' => html! { path.pair.in-d d={ "M" (at(x - 4.0)) " " (at(y - 4.0)) "h8v8h-8z" } {} },
        _ => html! { path.pair.in-e d={ "M" (at(x - 4.5)) " " (at(y - 4.5)) "l9 9m0 -9l-9 9" } {} },
    }
}

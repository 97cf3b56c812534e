//! One swing: the readings, and its links numbered on them.

use std::fmt::Write as _;

use interstice_findings::Targets;
use interstice_findings::swings::SwingLine;
use interstice_tongue::say;
use maud::{Markup, html};

use super::axis::{GlucoseAxis, Pen, at};
use crate::words::{Shown, clock, swing_said};

const WIDTH: f64 = 360.0;
const LEFT: f64 = 34.0;
const RIGHT: f64 = 10.0;
const TOP: f64 = 20.0;
const HEIGHT: f64 = 130.0;
const BOTTOM: f64 = 20.0;
/// Radius of a number's ring.
const RING: f64 = 8.0;
/// A silence beyond this is left open, seconds.
const GAP_S: i64 = 20 * 60;

/// Draws it; the numbers are those of its links, in order. `id` must be unique in the page.
pub fn swing(of: &SwingLine, targets: &Targets, shown: Shown, id: &str) -> Markup {
    let (Some(first), Some(last)) = (of.course.first(), of.course.last()) else {
        return html! {};
    };
    let highest = of
        .course
        .iter()
        .map(|point| point.1)
        .fold(targets.range_high_mg_dl, f64::max);
    let glucose = GlucoseAxis {
        top: TOP,
        height: HEIGHT,
        highest_mg_dl: GlucoseAxis::top_for(highest * 1.05),
    };
    let plot = Plot {
        from: first.0,
        seconds: (last.0 - first.0).max(1),
        glucose,
        offset_s: i64::from(of.start.0.offset_s),
    };
    let view = format!("0 0 {} {}", at(WIDTH), at(glucose.bottom() + BOTTOM));
    html! {
        svg.picture.swing viewBox=(view) role="img" aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { (say!("swings-chart-title", unit = shown.unit.symbol())) }
            desc id={ (id) "-d" } { (swing_said(of, shown)) }
            (plot.ground(targets, shown))
            (plot.hours())
            path.median d=(plot.curve(of)) {}
            @for (place, (x, y)) in plot.rings(of).into_iter().enumerate() {
                circle.ring cx=(at(x)) cy=(at(y)) r=(at(RING)) {}
                text.mid.ring-number x=(at(x)) y=(at(y + 3.8)) { (place + 1) }
            }
        }
    }
}

struct Plot {
    from: i64,
    seconds: i64,
    glucose: GlucoseAxis,
    offset_s: i64,
}

impl Plot {
    fn x(&self, second: i64) -> f64 {
        LEFT + (WIDTH - LEFT - RIGHT) * (second - self.from) as f64 / self.seconds as f64
    }

    fn ground(&self, targets: &Targets, shown: Shown) -> Markup {
        let (high, low) = (targets.range_high_mg_dl, targets.range_low_mg_dl);
        let (top, bottom) = (self.glucose.y(high), self.glucose.y(low));
        html! {
            rect.tape.within x=(at(LEFT)) y=(at(top)) width=(at(WIDTH - LEFT - RIGHT)) height=(at(bottom - top)) {}
            @for mg_dl in [high, low] {
                text.end x=(at(LEFT - 4.0)) y=(at(self.glucose.y(mg_dl) + 4.0)) { (shown.glucose(mg_dl)) }
            }
        }
    }

    /// Lines at whole hours of the wall clock: every one, or every second or fourth where there are many.
    fn hours(&self) -> Markup {
        let step = match self.seconds / 3600 {
            0..=5 => 1,
            6..=11 => 2,
            12..=23 => 4,
            _ => 12,
        } * 3600;
        let first = (self.from + self.offset_s).div_euclid(step) * step + step - self.offset_s;
        let ticks: Vec<i64> = (0..)
            .map(|i| first + i * step)
            .take_while(|tick| *tick <= self.from + self.seconds)
            .collect();
        let path = ticks.iter().fold(String::new(), |mut path, tick| {
            let _ = write!(
                path,
                "M{} {}V{}",
                at(self.x(*tick)),
                at(TOP),
                at(self.glucose.bottom())
            );
            path
        });
        let minute = |tick: i64| u32::try_from((tick + self.offset_s).rem_euclid(86_400) / 60).unwrap_or(0);
        html! {
            path.rule d=(path) {}
            @for tick in ticks {
                text.mid x=(at(self.x(tick).clamp(LEFT, WIDTH - 16.0))) y=(at(self.glucose.bottom() + 14.0)) { (clock(minute(tick))) }
            }
        }
    }

    fn curve(&self, of: &SwingLine) -> String {
        let mut pen = Pen::default();
        let mut before = i64::MIN / 2;
        for &(second, mg_dl) in &of.course {
            let (x, y) = (self.x(second), self.glucose.y(mg_dl));
            if second - before > GAP_S {
                pen.begin(x, y);
            } else {
                pen.to(x, y);
            }
            before = second;
        }
        pen.into_path()
    }

    /// A ring a link, above the curve, or under it where one before is too near.
    fn rings(&self, of: &SwingLine) -> Vec<(f64, f64)> {
        let mut placed: Vec<(f64, f64)> = Vec::new();
        for link in &of.links {
            let x = self.x(link.at.0.at).clamp(LEFT + RING, WIDTH - RIGHT - RING);
            let near = of
                .course
                .iter()
                .min_by_key(|point| (point.0 - link.at.0.at).abs());
            let curve = self.glucose.y(near.map_or(100.0, |point| point.1));
            let free = |y: f64| {
                (RING..=self.glucose.bottom() - RING).contains(&y)
                    && placed
                        .iter()
                        .all(|(px, py)| (px - x).hypot(py - y) >= 2.0 * RING + 1.0)
            };
            let steps = [-14.0, 14.0, -31.0, 31.0, -48.0, 48.0, -65.0, 65.0];
            let y = steps.into_iter().map(|step| curve + step).find(|&y| free(y));
            placed.push((x, y.unwrap_or(curve)));
        }
        placed
    }
}

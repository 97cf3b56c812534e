//! Blood checks by clock time: every check a dot.

use std::fmt::Write as _;

use interstice_findings::CheckFindings;
use interstice_tongue::say;
use maud::{Markup, html};

use super::Shape;
use super::axis::{Pen, at};
use super::usual_day::Plot;
use crate::words::{Shown, checks_answer};

const BOTTOM: f64 = 24.0;
const RADIUS: f64 = 2.6;

/// Draws every check by the clock of its day, six in the morning first, over the edges of the ranges. `id` must be unique in the
/// page.
pub fn checks(findings: &CheckFindings, shown: Shown, shape: Shape, id: &str) -> Markup {
    let plot = Plot::up_to(findings.highest_mg_dl.unwrap_or_default(), shape, 0);
    let height = plot.glucose.bottom() + BOTTOM;
    html! {
        svg class={ "picture checks " (shape.class()) } viewBox={ "0 0 " (at(shape.width())) " " (at(height)) } role="img"
            aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { (say!("checks-chart-title", unit = shown.unit.symbol())) }
            desc id={ (id) "-d" } {
                (say!("checks-chart-dots", dots = findings.checks)) " " (checks_answer(findings))
            }
            (plot.night())
            (plot.hour_lines())
            (plot.thresholds(&findings.targets, shown))
            path.dot d=(dots(findings, &plot)) {}
            (plot.clock_labels())
        }
    }
}

/// Circles as one path: each by two half arcs.
fn dots(findings: &CheckFindings, plot: &Plot) -> String {
    let mut path = String::with_capacity(32 * findings.by_clock.len());
    let (right, left) = (at(2.0 * RADIUS), at(-2.0 * RADIUS));
    let r = at(RADIUS);
    for &(minute, mg_dl) in &findings.by_clock {
        let (x, y) = (plot.clock.x(minute) - RADIUS, plot.glucose.y(mg_dl));
        let mut pen = Pen::default();
        pen.begin(x, y);
        let _ = write!(
            path,
            "{}a{r} {r} 0 1 0 {right} 0a{r} {r} 0 1 0 {left} 0",
            pen.into_path()
        );
    }
    path
}

//! A day beside another, or on the usual day, from midnight to midnight.

use std::fmt::Write as _;

use interstice_findings::UsualMinute;
use interstice_findings::days::{Beside, BesideFindings, ClockPoint};
use maud::{Markup, html};

use super::Shape;
use super::axis::{DAY_MIN, GlucoseAxis, Pen, at};
use crate::words::{Shown, beside_answer, beside_name, clock};

const LEFT: f64 = 38.0;
const RIGHT: f64 = 12.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = 22.0;

/// Draws it. `id` must be unique in the page.
pub fn beside(findings: &BesideFindings, shown: Shown, shape: Shape, id: &str) -> Markup {
    let plot = Plot::of(findings, shape);
    let [day, other] = beside_name(findings);
    let view = format!("0 0 {} {}", at(shape.width()), at(plot.glucose.bottom() + BOTTOM));
    html! {
        svg class={ "picture fan " (shape.class()) } viewBox=(view) role="img" aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { "Glucose on " (day) " beside " (other) ", in " (shown.unit) }
            desc id={ (id) "-d" } { (beside_answer(findings)) " The table of hours says the same." }
            (plot.ground(findings, shown))
            (plot.hours(shape))
            @match &findings.beside {
                Beside::Usual(usual) => {
                    path.fan-wide d=(plot.band(&usual.bins, |bin| bin.p5_mg_dl.zip(bin.p95_mg_dl))) {}
                    path.fan-half d=(plot.band(&usual.bins, |bin| bin.p25_mg_dl.zip(bin.p75_mg_dl))) {}
                    path.fan-middle d=(plot.middle(&usual.bins)) {}
                }
                Beside::Day(day) => { path.fan-middle d=(plot.line(&day.points)) {} }
            }
            path.median d=(plot.line(&findings.day.points)) {}
        }
    }
}

struct Plot {
    width: f64,
    glucose: GlucoseAxis,
}

impl Plot {
    fn of(findings: &BesideFindings, shape: Shape) -> Self {
        let high = |points: &[ClockPoint]| points.iter().map(|point| point.mg_dl).fold(0.0, f64::max);
        let other = match &findings.beside {
            Beside::Day(day) => high(&day.points),
            Beside::Usual(usual) => {
                let upper = usual.bins.iter().filter_map(|bin| bin.p95_mg_dl);
                upper.fold(0.0, f64::max)
            }
        };
        let highest = high(&findings.day.points)
            .max(other)
            .max(findings.targets.edges_mg_dl()[2]);
        Plot {
            width: shape.width(),
            glucose: GlucoseAxis {
                top: TOP,
                height: if shape == Shape::Phone { 200.0 } else { 280.0 },
                highest_mg_dl: GlucoseAxis::top_for(highest * 1.05),
            },
        }
    }

    fn x(&self, minute: f64) -> f64 {
        LEFT + (self.width - LEFT - RIGHT) * minute / f64::from(DAY_MIN)
    }

    fn ground(&self, findings: &BesideFindings, shown: Shown) -> Markup {
        let edges = findings.targets.edges_mg_dl();
        let (top, bottom) = (self.glucose.y(edges[2]), self.glucose.y(edges[1]));
        html! {
            rect.tape.within x=(at(LEFT)) y=(at(top)) width=(at(self.width - LEFT - RIGHT)) height=(at(bottom - top)) {}
            @for mg_dl in edges.into_iter().filter(|mg_dl| *mg_dl < self.glucose.highest_mg_dl * 0.97) {
                text.end x=(at(LEFT - 5.0)) y=(at(self.glucose.y(mg_dl) + 4.0)) { (shown.glucose(mg_dl)) }
            }
            @for (mg_dl, label) in self.glucose.quiet_ticks(edges, shown) {
                text.end x=(at(LEFT - 5.0)) y=(at(self.glucose.y(mg_dl) + 4.0)) { (label) }
            }
        }
    }

    fn hours(&self, shape: Shape) -> Markup {
        let step = if shape == Shape::Phone { 6 } else { 3 };
        let marks: Vec<u32> = (0..=24).step_by(step).map(|hour| hour * 60).collect();
        let rules = marks.iter().fold(String::new(), |mut path, minute| {
            let x = at(self.x(f64::from(*minute)));
            let _ = write!(path, "M{x} {}V{}", at(TOP), at(self.glucose.bottom()));
            path
        });
        html! {
            path.rule d=(rules) {}
            @for minute in marks {
                @let x = self.x(f64::from(minute)).min(self.width - 18.0);
                text.mid x=(at(x)) y=(at(self.glucose.bottom() + 15.0)) { (clock(minute)) }
            }
        }
    }

    fn line(&self, points: &[ClockPoint]) -> String {
        let mut pen = Pen::default();
        for (place, point) in points.iter().enumerate() {
            let (x, y) = (self.x(point.minute), self.glucose.y(point.mg_dl));
            if point.open || place == 0 {
                pen.begin(x, y);
            } else {
                pen.to(x, y);
            }
        }
        pen.into_path()
    }

    /// Where bins follow on each other without one that has too few days.
    fn runs<'a>(
        bins: &'a [UsualMinute],
        edges: impl Fn(&UsualMinute) -> Option<(f64, f64)> + 'a,
    ) -> Vec<Vec<(f64, f64, f64)>> {
        let mut runs: Vec<Vec<(f64, f64, f64)>> = vec![Vec::new()];
        for bin in bins {
            match (edges(bin), runs.last_mut()) {
                (Some((low, high)), Some(run)) => run.push((f64::from(bin.minute) + 2.5, low, high)),
                (None, Some(run)) if !run.is_empty() => runs.push(Vec::new()),
                _ => {}
            }
        }
        runs
    }

    fn band(&self, bins: &[UsualMinute], edges: impl Fn(&UsualMinute) -> Option<(f64, f64)>) -> String {
        let mut pen = Pen::default();
        for run in Self::runs(bins, edges).iter().filter(|run| run.len() > 1) {
            for (place, &(minute, _, high)) in run.iter().enumerate() {
                let (x, y) = (self.x(minute), self.glucose.y(high));
                if place == 0 {
                    pen.begin(x, y);
                } else {
                    pen.to(x, y);
                }
            }
            for &(minute, low, _) in run.iter().rev() {
                pen.to(self.x(minute), self.glucose.y(low));
            }
            pen.close();
        }
        pen.into_path()
    }

    fn middle(&self, bins: &[UsualMinute]) -> String {
        let mut pen = Pen::default();
        let median = |bin: &UsualMinute| bin.p50_mg_dl.map(|median| (median, median));
        for run in Self::runs(bins, median) {
            for (place, &(minute, mg_dl, _)) in run.iter().enumerate() {
                let (x, y) = (self.x(minute), self.glucose.y(mg_dl));
                if place == 0 {
                    pen.begin(x, y);
                } else {
                    pen.to(x, y);
                }
            }
        }
        pen.into_path()
    }
}

//! The upper picture: readings, what blood probably was, and blood checks.

use std::fmt::Write as _;

use interstice_findings::trust::Probable;
use interstice_glucose::Second;
use maud::{Markup, html};

use super::super::axis::at;
use super::thin::Places;
use super::{Frame, LEFT, TOP};

/// A column of the drawing, in its own units.
const COLUMN: f64 = 1.0;

/// Places of the readings drawn, and where they are not joined.
pub(super) fn places(frame: &Frame<'_>) -> (Vec<f64>, Vec<bool>) {
    let at = &frame.findings.life.blood.at[frame.readings.clone()];
    let x = at.iter().map(|&at| frame.x(Second::from(at))).collect();
    let gap = |i: usize| i == 0 || at[i].saturating_sub(at[i - 1]) > frame.findings.around.gap_s;
    (x, (0..at.len()).map(gap).collect())
}

impl Frame<'_> {
    pub(super) fn life(&self) -> Markup {
        let life = &self.findings.life.blood;
        let (x, open) = places(self);
        let places = Places { x: &x, open: &open };
        let of = |value: fn(&Probable) -> f64| -> Vec<f64> {
            life.blood[self.readings.clone()]
                .iter()
                .map(|blood| self.glucose.y(value(blood)))
                .collect()
        };
        let said: Vec<f64> = life.sensor_mg_dl[self.readings.clone()]
            .iter()
            .map(|&mg_dl| self.glucose.y(mg_dl))
            .collect();
        let (p95, p5) = (of(|blood| blood.most().1), of(|blood| blood.most().0));
        let (p75, p25) = (of(|blood| blood.half().1), of(|blood| blood.half().0));
        html! {
            path.wide-band.within d=(places.band(&p95, &p5, COLUMN)) {}
            path.half-band.within d=(places.band(&p75, &p25, COLUMN)) {}
            (self.glucose_scale())
            (self.aside())
            path.said d=(places.line(&said, COLUMN)) {}
            path.told d=(places.line(&of(|blood| blood.mean_mg_dl), COLUMN)) {}
            (self.checks())
        }
    }

    /// Edges of the ranges and quiet values between them.
    fn glucose_scale(&self) -> Markup {
        let edges = self.findings.around.edges_mg_dl;
        let drawn = edges
            .into_iter()
            .filter(|edge| *edge < self.glucose.highest_mg_dl);
        let mut lines = String::new();
        for edge in drawn.clone() {
            let _ = write!(
                lines,
                "M{} {}H{}",
                at(LEFT),
                at(self.glucose.y(edge)),
                at(self.right())
            );
        }
        html! {
            path.rule d=(lines) {}
            @for edge in drawn {
                text.end x=(at(LEFT - 5.0)) y=(at(self.glucose.y(edge) + 4.0)) { (self.shown.glucose(edge)) }
            }
            @for (mg_dl, label) in self.glucose.quiet_ticks(edges, self.shown) {
                text.end x=(at(LEFT - 5.0)) y=(at(self.glucose.y(mg_dl) + 4.0)) { (label) }
            }
            text x="0" y=(at(TOP - 8.0)) { (self.shown.unit) }
            path.edge d={ "M" (at(LEFT)) " " (at(TOP)) "V" (at(self.glucose.bottom())) "H" (at(self.right())) } {}
        }
    }

    /// Stretches that had no say: possible pressure and what the wearer marked.
    fn aside(&self) -> Markup {
        html! {
            @for &(from, to) in self.findings.around.aside.iter().filter(|&&(from, to)| from <= self.span.1 && to >= self.span.0) {
                @let (start, end) = (self.x(from), self.x(to));
                rect.aside x=(at(start)) y=(at(TOP)) width=(at((end - start).max(1.5))) height=(at(self.glucose.height)) {}
            }
        }
    }

    /// Blood checks as rings, with what the meter may be off by.
    fn checks(&self) -> Markup {
        let mut reach = String::new();
        for line in self.checks_drawn() {
            let blood = line.point.blood_mg_dl;
            let (top, bottom) = (
                self.glucose.y(blood + line.meter_mg_dl),
                self.glucose.y((blood - line.meter_mg_dl).max(1.0)),
            );
            let _ = write!(
                reach,
                "M{} {}V{}",
                at(self.x(line.point.at.0.at)),
                at(top),
                at(bottom)
            );
        }
        html! {
            path.reach d=(reach) {}
            @for line in self.checks_drawn() {
                circle.taken cx=(at(self.x(line.point.at.0.at))) cy=(at(self.glucose.y(line.point.blood_mg_dl))) r="3.2" {}
            }
        }
    }
}

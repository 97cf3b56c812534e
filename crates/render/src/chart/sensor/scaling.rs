//! The lower picture: by how much the sensor reads high.

use std::fmt::Write as _;

use interstice_findings::trust::{CheckLine, ReadsHigh};
use maud::{Markup, html};

use super::super::Shape;
use super::super::axis::at;
use super::life::places;
use super::thin::Places;
use super::{Frame, LEFT};

/// Columns of the band are this wide: it moves slowly.
const COLUMN: f64 = 3.0;
/// Fewest and most percent either side of nothing that are drawn.
const REACH: (f64, f64) = (12.0, 60.0);
/// Faster than so much, mg/dL a minute, a check's own ratio says more of the delay than of the scale.
const FAST: f64 = 1.0;

/// Percent to place.
#[derive(Clone, Copy)]
struct Percents {
    top: f64,
    height: f64,
    reach: f64,
}

impl Percents {
    fn y(self, percent: f64) -> f64 {
        let share = (self.reach - percent.clamp(-self.reach, self.reach)) / (2.0 * self.reach);
        self.top + self.height * share
    }

    fn ticks(self) -> Vec<f64> {
        let steps = [5.0, 10.0, 20.0];
        let step = steps
            .into_iter()
            .find(|step| self.reach / step < 3.0)
            .unwrap_or(20.0);
        let all = (-8..=8).map(|i| f64::from(i) * step);
        all.filter(|tick| tick.abs() < self.reach).collect()
    }
}

impl Frame<'_> {
    pub(super) fn scaling(&self) -> Markup {
        let life = &self.findings.life;
        // The scale goes on through a silence.
        let (x, _) = places(self);
        let places = Places {
            x: &x,
            open: &vec![false; x.len()],
        };
        let scale = self.percents();
        let of = |value: fn(&ReadsHigh) -> f64| -> Vec<f64> {
            life.reads_high[self.readings.clone()]
                .iter()
                .map(|high| scale.y(value(high)))
                .collect()
        };
        let most = places.band(&of(|high| high.most.1), &of(|high| high.most.0), COLUMN);
        let half = places.band(&of(|high| high.half.1), &of(|high| high.half.0), COLUMN);
        html! {
            path.wide-band.within d=(most) {}
            path.half-band.within d=(half) {}
            (self.percent_scale(scale))
            path.told d=(places.line(&of(|high| high.percent), COLUMN)) {}
            @for line in self.checks_drawn() { (self.ratio(scale, line)) }
        }
    }

    /// All but the furthest two checks in a hundred fit.
    fn percents(&self) -> Percents {
        let mut sizes: Vec<f64> = self
            .findings
            .checks
            .iter()
            .map(|line| line.difference_percent.abs())
            .collect();
        sizes.sort_by(f64::total_cmp);
        let most = sizes.get(sizes.len() * 98 / 100).copied().unwrap_or(0.0);
        let told = self.findings.life.reads_high.iter();
        let widest = told.map(|high| high.percent.abs()).fold(most, f64::max);
        Percents {
            top: self.scaling_top(),
            height: self.scaling_height(),
            reach: (widest * 1.1).clamp(REACH.0, REACH.1),
        }
    }

    fn percent_scale(&self, scale: Percents) -> Markup {
        let mut rules = String::new();
        for tick in scale.ticks() {
            let _ = write!(rules, "M{} {}H{}", at(LEFT), at(scale.y(tick)), at(self.right()));
        }
        let (top, bottom) = (scale.top, scale.top + scale.height);
        let title = if self.shape == Shape::Phone {
            "reads high (+) or low (−) against blood"
        } else {
            "how this sensor scales: by how much it reads high (+) or low (−) against blood"
        };
        html! {
            path.rule d=(rules) {}
            path.edge d={ "M" (at(LEFT)) " " (at(scale.y(0.0))) "H" (at(self.right())) "M" (at(LEFT)) " " (at(top)) "V" (at(bottom)) } {}
            @for tick in scale.ticks() {
                text.end x=(at(LEFT - 5.0)) y=(at(scale.y(tick) + 4.0)) { (label(tick)) }
            }
            text x=(at(LEFT)) y=(at(top - 7.0)) { (title) }
        }
    }

    /// A check's own ratio: a disc, or a ring where glucose moved fast.
    fn ratio(&self, scale: Percents, line: &CheckLine) -> Markup {
        let fast = line.point.rate_mg_dl_min.is_some_and(|rate| rate.abs() > FAST);
        let class = if fast { "ratio fast" } else { "ratio" };
        html! {
            circle class=(class) cx=(at(self.x(line.point.at.0.at))) cy=(at(scale.y(line.difference_percent))) r="3" {}
        }
    }
}

fn label(percent: f64) -> String {
    let sign = match percent {
        percent if percent > 0.0 => "+",
        percent if percent < 0.0 => "−",
        _ => "",
    };
    format!("{sign}{:.0} %", percent.abs())
}

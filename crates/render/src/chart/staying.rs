//! How long sensors stay on: the share still on by days worn.

use std::fmt::Write as _;

use interstice_findings::wear::Group;
use maud::{Markup, html};

use super::Shape;
use super::axis::at;

const LEFT: f64 = 44.0;
const RIGHT: f64 = 10.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = 40.0;
/// Fewest days drawn.
const FEWEST_DAYS: f64 = 7.0;
/// Most where no labelled wear is known; else three times that.
const MOST_DAYS: f64 = 60.0;

/// Draws the share of sensors still on by days worn, with its margin; `labelled_h` is marked where it is known.
///
/// `id` must be unique in the page.
pub fn staying(group: &Group, labelled_h: Option<f64>, shape: Shape, id: &str) -> Markup {
    // A slip in a date would press everything else into the first day.
    let most = labelled_h.map_or(24.0 * MOST_DAYS, |hours| 3.0 * hours);
    let last = group.curve.last().map_or(0.0, |point| point.hours).min(most);
    let days = (last.max(labelled_h.unwrap_or(0.0)) / 24.0)
        .max(FEWEST_DAYS)
        .ceil();
    let plot = Plot {
        width: shape.width() - LEFT - RIGHT,
        height: if shape == Shape::Phone { 180.0 } else { 220.0 },
        days,
    };
    let view = format!("0 0 {} {}", at(shape.width()), at(TOP + plot.height + BOTTOM));
    html! {
        svg class={ "picture staying " (shape.class()) } viewBox=(view) role="img" aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { "Share of sensors still on, in percent, by days worn" }
            desc id={ (id) "-d" } { (describe(group)) }
            @for percent in [25.0, 50.0, 75.0] {
                path.rule d={ "M" (at(LEFT)) " " (at(plot.y(percent))) "H" (at(LEFT + plot.width)) } {}
            }
            path.doubt d=(plot.band(group)) {}
            path.mark.heavy.step d=(plot.steps(group)) {}
            @if let Some(hours) = labelled_h {
                path.equal d={ "M" (at(plot.x(hours))) " " (at(TOP)) "V" (at(TOP + plot.height)) } {}
            }
            rect.frame x=(at(LEFT)) y=(at(TOP)) width=(at(plot.width)) height=(at(plot.height)) {}
            @for percent in [0.0, 25.0, 50.0, 75.0, 100.0] {
                text.end x=(at(LEFT - 5.0)) y=(at(plot.y(percent) + 4.0)) { (percent) " %" }
            }
            @for day in plot.labelled_days(shape) {
                text.mid x=(at(plot.x(24.0 * day))) y=(at(TOP + plot.height + 14.0)) { (day) }
            }
            text.end x=(at(LEFT + plot.width)) y=(at(TOP + plot.height + 31.0)) { "days worn" }
        }
    }
}

#[derive(Clone, Copy)]
struct Plot {
    width: f64,
    height: f64,
    days: f64,
}

impl Plot {
    fn x(self, hours: f64) -> f64 {
        LEFT + self.width * (hours / 24.0 / self.days).clamp(0.0, 1.0)
    }

    fn y(self, percent: f64) -> f64 {
        TOP + self.height * (1.0 - percent.clamp(0.0, 100.0) / 100.0)
    }

    fn end(self, group: &Group) -> f64 {
        self.x(group.longest_h)
    }

    fn steps(self, group: &Group) -> String {
        let mut path = format!("M{} {}", at(LEFT), at(self.y(100.0)));
        for point in &group.curve {
            let _ = write!(path, "H{}V{}", at(self.x(point.hours)), at(self.y(point.percent)));
        }
        let _ = write!(path, "H{}", at(self.end(group)));
        path
    }

    /// The margin from the first loss on; before it there is none.
    fn band(self, group: &Group) -> String {
        let mut parts = String::new();
        for (index, point) in group.curve.iter().enumerate() {
            let (Some(lo), Some(hi)) = (point.lo95, point.hi95) else {
                continue;
            };
            let next = group.curve.get(index + 1);
            let until = next.map_or_else(|| self.end(group), |next| self.x(next.hours));
            let from = self.x(point.hours);
            let _ = write!(
                parts,
                "M{} {}H{}V{}H{}Z",
                at(from),
                at(self.y(hi)),
                at(until.max(from)),
                at(self.y(lo)),
                at(from)
            );
        }
        parts
    }

    fn labelled_days(self, shape: Shape) -> Vec<f64> {
        let step = if shape == Shape::Phone && self.days > 8.0 {
            2
        } else {
            1
        };
        let step = step * (self.days / 20.0).ceil().max(1.0) as usize;
        (0..=self.days as usize)
            .step_by(step)
            .map(|day| day as f64)
            .collect()
    }
}

/// What the picture says, for those who do not see it.
fn describe(group: &Group) -> String {
    if group.curve.is_empty() {
        return format!("None of {} was lost.", group.sensors);
    }
    let said: Vec<String> = group
        .curve
        .iter()
        .map(|point| format!("{:.0} % after {:.1} days", point.percent, point.hours / 24.0))
        .collect();
    format!("Still on: {}.", said.join(", "))
}

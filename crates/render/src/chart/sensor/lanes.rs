//! What looks wrong and what looks like pressure, as strips under the upper picture.

use interstice_findings::trust::SensorFindings;
use interstice_glucose::Second;
use maud::{Markup, html};

use super::super::axis::at;
use super::{Frame, LEFT, LETTER};

const HEIGHT: f64 = 13.0;

/// Strips with something in them.
pub(super) struct Lanes {
    top: f64,
    all: Vec<Lane>,
}

struct Lane {
    name: &'static str,
    spans: Vec<(Second, Second)>,
}

impl Lanes {
    pub(super) fn new(findings: &SensorFindings, (from, to): (Second, Second), top: f64) -> Self {
        let faults = |silent: bool| {
            let chosen = findings
                .faults
                .iter()
                .filter(move |line| (line.kind == "dropout") == silent);
            chosen
                .map(|line| (line.from.0.at, line.to.0.at))
                .collect::<Vec<_>>()
        };
        let pressure = findings
            .pressure
            .iter()
            .map(|event| (event.start.0.at, event.end.0.at));
        let all = [
            ("possible pressure", pressure.collect()),
            ("marked by you", findings.around.marked.clone()),
            ("looks wrong", faults(false)),
            ("silent", faults(true)),
        ];
        let lane = |(name, mut spans): (&'static str, Vec<(Second, Second)>)| {
            spans.retain(|&(start, end)| start <= to && end >= from);
            (!spans.is_empty()).then_some(Lane { name, spans })
        };
        Lanes {
            top,
            all: all.into_iter().filter_map(lane).collect(),
        }
    }

    pub(super) fn bottom(&self) -> f64 {
        self.top + HEIGHT * self.all.len() as f64
    }

    pub(super) fn draw(&self, frame: &Frame<'_>) -> Markup {
        html! {
            @for (place, lane) in self.all.iter().enumerate() {
                @let y = self.top + HEIGHT * place as f64;
                @for &(from, to) in &lane.spans {
                    @let (start, end) = (frame.x(from), frame.x(to));
                    rect.strip x=(at(start)) y=(at(y + 3.0)) width=(at((end - start).max(2.0))) height=(at(HEIGHT - 6.0)) {}
                }
                (name(frame, lane, y))
            }
        }
    }
}

/// The name stands where the strip leaves room for it: at its left, else at its right.
fn name(frame: &Frame<'_>, lane: &Lane, y: f64) -> Markup {
    let long = LETTER * lane.name.len() as f64;
    let free = |from: f64, to: f64| {
        lane.spans
            .iter()
            .all(|&(start, end)| frame.x(end) + 2.0 < from || frame.x(start) - 2.0 > to)
    };
    let y = at(y + HEIGHT - 3.0);
    html! {
        @if !free(LEFT, LEFT + long) && free(frame.right() - long, frame.right()) {
            text.end.halo x=(at(frame.right())) y=(y) { (lane.name) }
        } @else {
            text.halo x=(at(LEFT)) y=(y) { (lane.name) }
        }
    }
}

//! A view as SVG, for when there is no script, and until it has drawn.

use std::fmt::Write as _;

use interstice_findings::days::{Happening, Lane, SeriesView, Timeline, TimelineEvent, TimelineView};
use interstice_glucose::Second;
use maud::{Markup, html};

use super::say::{lane_name, tick_label};
use super::tile::{kind, links, was};
use super::{FROM_TOP, scale};
use crate::chart::{GlucoseAxis, at};
use crate::words::Shown;

const WIDTH: f64 = 920.0;
const LEFT: f64 = 48.0;
const TOP: f64 = 12.0;
const PLOT: f64 = 280.0;
const LANE: f64 = 16.0;

/// Where things lie.
struct Frame<'a> {
    view: &'a TimelineView,
    axis: GlucoseAxis,
    lanes: Vec<Lane>,
    edges_mg_dl: [f64; 4],
}

/// Draws a view: nights, ticks, the primary series from lowest to highest in each column, spread, blood checks, and what
/// was written down. `id` must be unique in the page; `name` says which stretch it is.
pub fn picture(timeline: &Timeline, view: &TimelineView, shown: Shown, id: &str, name: &str) -> Markup {
    let (_, top) = scale(timeline.extremes_mg_dl());
    let axis = GlucoseAxis {
        top: TOP,
        height: PLOT,
        highest_mg_dl: top,
    };
    let mut lanes: Vec<Lane> = view.events.iter().map(|event| event.lane).collect();
    lanes.dedup();
    lanes.retain(|lane| !matches!(lane, Lane::Artefact | Lane::Check));
    let edges_mg_dl = timeline.targets().edges_mg_dl();
    let frame = Frame {
        view,
        axis,
        lanes,
        edges_mg_dl,
    };
    html! {
        svg.picture.timeline viewBox={ "0 0 " (at(WIDTH)) " " (at(frame.bottom() + 36.0)) } role="img"
            aria-labelledby={ (id) "-t" } {
            title id={ (id) "-t" } { "Glucose, " (name) "; the table below says the same" }
            (frame.nights())
            (frame.scale(shown))
            (frame.ticks())
            (frame.primary())
            (frame.spread())
            (frame.events())
        }
    }
}

impl Frame<'_> {
    fn x(&self, instant: Second) -> f64 {
        let share = (instant - self.view.from) as f64 / (self.view.to - self.view.from).max(1) as f64;
        LEFT + (WIDTH - LEFT) * share.clamp(-0.05, 1.05)
    }

    fn bottom(&self) -> f64 {
        self.axis.bottom() + 8.0 + LANE * self.lanes.len() as f64
    }

    fn lane_top(&self, place: usize) -> f64 {
        self.axis.bottom() + 8.0 + LANE * place as f64
    }

    fn nights(&self) -> Markup {
        html! {
            @for &(from, to) in &self.view.nights {
                @let (start, end) = (self.x(from).max(LEFT), self.x(to).min(WIDTH));
                @if end > start {
                    rect.night x=(at(start)) y="0" width=(at(end - start)) height=(at(self.bottom())) {}
                }
            }
        }
    }

    fn scale(&self, shown: Shown) -> Markup {
        let lines = self
            .edges_mg_dl
            .map(|edge| (self.axis.y(edge), shown.glucose(edge)));
        html! {
            @for (y, label) in lines {
                path.rule d={ "M" (at(LEFT)) " " (at(y)) "H" (at(WIDTH)) } {}
                text.end x=(at(LEFT - 6.0)) y=(at(y + 4.0)) { (label) }
            }
            text x="0" y="10" { (shown.unit) }
            @for (i, &lane) in self.lanes.iter().enumerate() {
                text.end x=(at(LEFT - 6.0)) y=(at(self.lane_top(i) + 12.0)) { (lane_name(lane)) }
            }
        }
    }

    fn ticks(&self) -> Markup {
        let (ticks, y) = (&self.view.ticks, self.bottom());
        let mut marks = String::new();
        for tick in &ticks.minor {
            let _ = write!(marks, "M{} {}v4", at(self.x(tick.at)), at(y));
        }
        html! {
            path.edge d={ "M" (at(LEFT)) " " (at(y)) "H" (at(WIDTH)) (marks) } {}
            @for tick in &ticks.minor {
                @let x = self.x(tick.at);
                @if x > LEFT + 10.0 && x < WIDTH - 20.0 {
                    text.mid x=(at(x)) y=(at(y + 16.0)) { (tick_label(tick, ticks.minor_step, false)) }
                }
            }
            @if let Some(step) = ticks.major_step {
                @for (x, label) in self.names(step) { text.strong x=(at(x)) y=(at(y + 32.0)) { (label) } }
            }
        }
    }

    /// Names under the ticks, left out where they would run into each other.
    fn names(&self, step: interstice_findings::days::TickStep) -> Vec<(f64, String)> {
        let mut names: Vec<(f64, String)> = Vec::new();
        for tick in self.view.ticks.major.iter().rev() {
            let (x, label) = (self.x(tick.at).max(LEFT), tick_label(tick, step, true));
            let room = names.last().map_or(WIDTH, |next| next.0) - x;
            if room > 6.8 * label.chars().count() as f64 {
                names.push((x, label));
            }
        }
        names
    }

    fn spread(&self) -> Markup {
        let Some(spread) = &self.view.spread else {
            return html! {};
        };
        let (mut wide, mut half, mut middle) = (String::new(), String::new(), String::new());
        for row in &spread.rows {
            let (start, end) = (self.x(row.from).max(LEFT), self.x(row.to).min(WIDTH));
            if end <= start {
                continue;
            }
            let (x, width) = (at(start), at((end - start).max(0.8)));
            for (path, low, high) in [
                (&mut wide, row.p5_mg_dl, row.p95_mg_dl),
                (&mut half, row.p25_mg_dl, row.p75_mg_dl),
            ] {
                let (top, bottom) = (self.axis.y(high), self.axis.y(low));
                let _ = write!(path, "M{x} {}h{width}v{}h-{width}z", at(top), at(bottom - top));
            }
            let _ = write!(middle, "M{x} {}h{width}", at(self.axis.y(row.p50_mg_dl)));
        }
        html! {
            path.wide-band.within d=(wide) {}
            path.half-band.within d=(half) {}
            path.mark d=(middle) {}
        }
    }

    /// The primary series as strokes, cut at the edges of the ranges.
    fn primary(&self) -> Markup {
        let Some(series) = self.view.series.first() else {
            return html! {};
        };
        let mut strokes = Strokes::new(&self.axis, self.edges_mg_dl);
        self.route(series, &mut strokes);
        let class = if self.view.spread.is_some() {
            "trace faint "
        } else {
            "trace "
        };
        html! {
            @for (range, path) in FROM_TOP.into_iter().zip(strokes.paths) {
                @if !path.is_empty() { path class={ (class) (range.class()) } d=(path) {} }
            }
        }
    }

    fn route(&self, series: &SeriesView, strokes: &mut Strokes) {
        let mut before: Option<(f64, f64)> = None;
        for point in &series.points {
            let place = (self.x(point.at.into()), self.axis.y(point.mg_dl));
            match before.filter(|_| !point.open) {
                Some(last) => strokes.line(last, place),
                None => strokes.line((place.0 - 0.6, place.1), (place.0 + 0.6, place.1)),
            }
            before = Some(place);
        }
        for column in &series.columns {
            let x = self.x(Second::from(column.at) + Second::from(self.view.step_s) / 2);
            let y = |mg_dl: f64| self.axis.y(mg_dl);
            if let Some(last) = before.filter(|_| !column.open) {
                strokes.line(last, (x, y(column.first_mg_dl)));
            }
            strokes.line(
                (x, y(column.highest_mg_dl) - 0.5),
                (x, y(column.lowest_mg_dl) + 0.5),
            );
            before = Some((x, y(column.last_mg_dl)));
        }
    }

    fn events(&self) -> Markup {
        let lane_y =
            |lane: Lane| self.lane_top(self.lanes.iter().position(|&other| other == lane).unwrap_or(0));
        html! {
            @for event in &self.view.events { (self.event(event, lane_y(event.lane))) }
        }
    }

    fn event(&self, event: &TimelineEvent, top: f64) -> Markup {
        let x = self.x(event.at);
        if x < LEFT && event.until.is_none_or(|until| self.x(until) < LEFT) {
            return html! {};
        }
        // Beyond a month the checks shrink, so that they do not cover the readings.
        let radius = if self.view.spread.is_some() { 1.2 } else { 3.0 };
        let ring =
            |mg_dl: f64| html! { circle.check cx=(at(x)) cy=(at(self.axis.y(mg_dl))) r=(at(radius)) {} };
        match &event.what {
            Happening::Check(check) => ring(check.said.glucose().mg_per_dl()),
            Happening::Checks {
                lowest_mg_dl,
                highest_mg_dl,
            } => html! { (ring(*lowest_mg_dl)) (ring(*highest_mg_dl)) },
            _ if event.lane == Lane::Artefact => {
                let end = event
                    .until
                    .map_or(x, |until| self.x(until))
                    .min(WIDTH)
                    .max(x + 1.0);
                html! { rect.artefact x=(at(x.max(LEFT))) y=(at(TOP)) width=(at(end - x.max(LEFT))) height=(at(PLOT)) {} }
            }
            _ if kind(event) == "bar" => {
                let (start, end) = (
                    x.max(LEFT),
                    event.until.map_or(x, |until| self.x(until)).min(WIDTH),
                );
                html! { rect class={ "worn " (was(event).unwrap_or_default()) } x=(at(start)) y=(at(top + 3.0)) width=(at((end - start).max(1.0))) height=(at(LANE - 6.0)) {} }
            }
            _ if kind(event) == "chain" => {
                let (start, end) = (
                    x.max(LEFT),
                    event.until.map_or(x, |until| self.x(until)).min(WIDTH),
                );
                let middle = top + LANE / 2.0;
                html! {
                    path.chain d={ "M" (at(start)) " " (at(middle)) "H" (at(end)) } {}
                    @for (second, drawn) in links(event) {
                        @let place = self.x(second);
                        @if (start..=end).contains(&place) { circle class={ "link " (drawn) } cx=(at(place)) cy=(at(middle)) r="2.6" {} }
                    }
                }
            }
            _ => html! { path.mark d={ "M" (at(x)) " " (at(top + 4.0)) "v" (at(LANE - 7.0)) } {} },
        }
    }
}

/// Straight strokes, sorted by range.
struct Strokes {
    /// Edges as places, from the top.
    cuts: [f64; 4],
    paths: [String; 5],
}

impl Strokes {
    fn new(axis: &GlucoseAxis, edges_mg_dl: [f64; 4]) -> Self {
        let [very_low, low, high, very_high] = edges_mg_dl.map(|edge| axis.y(edge));
        Strokes {
            cuts: [very_high, high, low, very_low],
            paths: Default::default(),
        }
    }

    /// A line from one place to another, in pieces where it crosses an edge.
    fn line(&mut self, from: (f64, f64), to: (f64, f64)) {
        let mut shares: Vec<f64> = self
            .cuts
            .iter()
            .map(|cut| (cut - from.1) / (to.1 - from.1))
            .filter(|share| *share > 0.0 && *share < 1.0)
            .collect();
        shares.extend([0.0, 1.0]);
        shares.sort_by(f64::total_cmp);
        let along = |share: f64| (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
        for pair in shares.windows(2) {
            let (start, end, middle) = (along(pair[0]), along(pair[1]), along((pair[0] + pair[1]) / 2.0));
            let range = self.cuts.iter().filter(|&&cut| middle.1 > cut).count();
            let _ = write!(
                self.paths[range],
                "M{} {}L{} {}",
                at(start.0),
                at(start.1),
                at(end.0),
                at(end.1)
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_findings::TargetGroup;

    #[test]
    fn a_line_changes_colour_where_it_crosses_an_edge() {
        let axis = GlucoseAxis {
            top: 0.0,
            height: 300.0,
            highest_mg_dl: 400.0,
        };
        let mut strokes = Strokes::new(&axis, TargetGroup::Adult.targets().edges_mg_dl());
        strokes.line((0.0, axis.y(300.0)), (100.0, axis.y(45.0)));
        assert!(strokes.paths.iter().all(|path| path.matches('M').count() == 1));
        assert!(strokes.paths[0].starts_with("M0 "));
        assert!(strokes.paths[4].contains("L100 "));
        strokes.line((0.0, axis.y(120.0)), (100.0, axis.y(120.0)));
        assert_eq!(strokes.paths[2].matches('M').count(), 2);
    }
}

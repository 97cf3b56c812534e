//! One sensor over its life: what it showed, what blood probably was, blood checks, and below it how it scaled.

mod lanes;
mod life;
mod scaling;
mod thin;

use std::fmt::Write as _;
use std::ops::Range;

use interstice_findings::days::Tick;
use interstice_findings::trust::{CheckLine, SensorFindings, WearDay};
use interstice_glucose::{DAY_S, Second};
use maud::{Markup, html};

use super::axis::at;
use super::{GlucoseAxis, Shape};
use crate::words::{Shown, day_picture, sensor_picture, sensor_span, short_date};
use lanes::Lanes;

const LEFT: f64 = 44.0;
const RIGHT: f64 = 8.0;
/// Room above for the moments of the sensor.
const TOP: f64 = 20.0;
/// Between the upper picture and the lower.
const BETWEEN: f64 = 34.0;
/// A letter of a label is about so wide.
const LETTER: f64 = 6.2;

/// Draws a sensor's life, or one day of it on the same scales. `id` must be unique in the page.
pub fn sensor_life(
    findings: &SensorFindings,
    day: Option<&WearDay>,
    shown: Shown,
    shape: Shape,
    id: &str,
) -> Markup {
    let frame = Frame::new(findings, day, shown, shape);
    let view = format!("0 0 {} {}", at(shape.width()), at(frame.bottom() + 20.0));
    html! {
        svg class={ "picture sensor-life " (shape.class()) } viewBox=(view) role="img" aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } {
                "Sensor " (findings.wear.sensor) ", "
                @match day { Some(day) => { "day " (day.day) " of wear" } None => { (sensor_span(findings)) } }
            }
            desc id={ (id) "-d" } {
                @match day { Some(day) => { (day_picture(day)) } None => { (sensor_picture(findings, shown)) } }
            }
            (frame.nights())
            (frame.midnights())
            (frame.life())
            (frame.lanes.draw(&frame))
            @if findings.scale.reason.is_none() { (frame.scaling()) }
            (frame.moments())
            (frame.dates())
        }
    }
}

/// Where things lie.
struct Frame<'a> {
    findings: &'a SensorFindings,
    shown: Shown,
    shape: Shape,
    /// First and last instant drawn.
    span: (Second, Second),
    /// The readings drawn.
    readings: Range<usize>,
    glucose: GlucoseAxis,
    lanes: Lanes,
}

impl<'a> Frame<'a> {
    fn new(findings: &'a SensorFindings, day: Option<&WearDay>, shown: Shown, shape: Shape) -> Self {
        let around = &findings.around;
        let span = day.map_or((around.from, around.to), |day| {
            (day.from.0.at, day.from.0.at + DAY_S)
        });
        let place = |bound: Second| {
            findings
                .life
                .blood
                .at
                .partition_point(|&at| Second::from(at) < bound)
        };
        let readings = place(span.0)..place(span.1 + 1);
        let life = &findings.life.blood;
        let said = life.sensor_mg_dl.iter().copied();
        let told = life.blood.iter().map(|blood| blood.half().1);
        let checks = findings.checks.iter().map(|line| line.point.blood_mg_dl);
        let highest = said.chain(told).chain(checks).fold(0.0, f64::max);
        let glucose = GlucoseAxis {
            top: TOP,
            height: if shape == Shape::Phone { 210.0 } else { 290.0 },
            highest_mg_dl: GlucoseAxis::top_for(highest),
        };
        Frame {
            findings,
            shown,
            shape,
            glucose,
            lanes: Lanes::new(findings, span, glucose.bottom() + 4.0),
            span,
            readings,
        }
    }

    /// Place of an instant; beyond the picture on its edge.
    fn x(&self, instant: Second) -> f64 {
        let (from, to) = self.span;
        let share = (instant - from) as f64 / (to - from).max(1) as f64;
        LEFT + (self.right() - LEFT) * share.clamp(0.0, 1.0)
    }

    fn holds(&self, instant: Second) -> bool {
        (self.span.0..=self.span.1).contains(&instant)
    }

    fn right(&self) -> f64 {
        self.shape.width() - RIGHT
    }

    fn day_width(&self) -> f64 {
        (self.right() - LEFT) * DAY_S as f64 / (self.span.1 - self.span.0).max(1) as f64
    }

    /// The checks drawn.
    fn checks_drawn(&self) -> impl Iterator<Item = &'a CheckLine> {
        let checks = self.findings.checks.iter();
        checks.filter(|line| self.holds(line.point.at.0.at))
    }

    /// Whether hours are named rather than days.
    fn by_hours(&self) -> bool {
        self.span.1 - self.span.0 <= 2 * DAY_S
    }

    /// Where the time axis has a name, and the name.
    fn names(&self) -> Vec<(f64, String)> {
        let around = &self.findings.around;
        let date = |at: Second| {
            around
                .days
                .iter()
                .find(|day| day.at == at)
                .map(|day| short_date(&day.date))
        };
        if self.by_hours() {
            let step = if self.shape == Shape::Phone { 6 } else { 3 };
            let hour = |tick: &Tick| tick.wall.second_of_day() / 3600;
            let ticks = around
                .hours
                .iter()
                .filter(|tick| self.holds(tick.at) && hour(tick) % step == 0);
            return ticks
                .map(|tick| {
                    (
                        self.x(tick.at),
                        date(tick.at).unwrap_or_else(|| format!("{:02}:00", hour(tick))),
                    )
                })
                .collect();
        }
        let days = around.days.iter().step_by(self.named_every());
        days.map(|day| (self.x(day.at), short_date(&day.date))).collect()
    }

    fn scaling_top(&self) -> f64 {
        self.lanes.bottom() + BETWEEN
    }

    fn scaling_height(&self) -> f64 {
        match (self.findings.scale.reason.is_none(), self.shape) {
            (false, _) => 0.0,
            (true, Shape::Phone) => 120.0,
            (true, Shape::Wide) => 150.0,
        }
    }

    /// Where the time axis is.
    fn bottom(&self) -> f64 {
        match self.findings.scale.reason {
            Some(_) => self.lanes.bottom(),
            None => self.scaling_top() + self.scaling_height(),
        }
    }

    fn nights(&self) -> Markup {
        let strips = self
            .findings
            .around
            .nights
            .iter()
            .map(|&(from, to)| (self.x(from), self.x(to)));
        html! {
            @for (start, end) in strips.filter(|(start, end)| end - start > 1.0) {
                rect.night x=(at(start)) y=(at(TOP)) width=(at(end - start)) height=(at(self.bottom() - TOP)) {}
            }
        }
    }

    /// Every so many days one has a name, with room for it.
    fn named_every(&self) -> usize {
        let room = if self.shape == Shape::Phone { 44.0 } else { 48.0 };
        let steps = [1, 2, 3, 7, 14, 28, 91];
        let fits = |step: &usize| self.day_width() * *step as f64 >= room;
        steps.into_iter().find(fits).unwrap_or(365)
    }

    fn midnights(&self) -> Markup {
        let strokes: Vec<String> = self
            .names()
            .iter()
            .map(|(x, _)| format!("M{} {}V{}", at(*x), at(TOP), at(self.bottom())))
            .collect();
        html! { path.rule d=(strokes.concat()) {} }
    }

    fn dates(&self) -> Markup {
        let y = at(self.bottom() + 15.0);
        html! {
            @for (x, name) in self.names() {
                // A name begins at its instant, where it fits.
                @if x + LETTER * name.len() as f64 <= self.shape.width() {
                    text x=(at(x + 2.0)) y=(y) { (name) }
                }
            }
        }
    }

    /// When it was put on, started, a day old, and ended; named where there is room, the start first.
    fn moments(&self) -> Markup {
        let findings = self.findings;
        let started = findings.wear.started.map(|time| time.0.at);
        let all = [
            (started, "started"),
            (findings.ended.map(|time| time.0.at), "ended"),
            (started.map(|at| at + DAY_S), "a day old"),
            (findings.wear.put_on.map(|time| time.0.at), "put on"),
        ];
        let drawn = all.into_iter().filter_map(|(moment, name)| {
            let moment = moment.filter(|&moment| self.holds(moment))?;
            Some((self.x(moment), name))
        });
        let mut taken: Vec<(f64, f64)> = Vec::new();
        let mut named: Vec<(f64, &str)> = Vec::new();
        let mut marks = String::new();
        for (x, name) in drawn {
            let _ = write!(
                marks,
                "M{} {}V{}",
                at(x),
                at(TOP - 5.0),
                at(self.glucose.bottom())
            );
            let long = LETTER * name.len() as f64;
            // Towards the right edge a name stands before its mark.
            let start = if x + long > self.right() { x - long } else { x };
            if taken.iter().all(|&(from, to)| start > to || start + long < from) {
                taken.push((start - 4.0, start + long + 4.0));
                named.push((x, name));
            }
        }
        html! {
            path.moment d=(marks) {}
            @for (x, name) in named {
                @let class = if x + LETTER * name.len() as f64 > self.right() { "end" } else { "start" };
                text class=(class) x=(at(x)) y=(at(TOP - 8.0)) { (name) }
            }
        }
    }
}

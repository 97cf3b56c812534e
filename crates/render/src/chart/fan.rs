//! What followed moments like one: the readings up to it, and the fan after it.

use std::fmt::Write as _;

use interstice_findings::second_look::{FanLine, Looked, SecondLookFindings};
use interstice_findings::trust::BloodNow;
use interstice_tongue::say;
use maud::{Markup, html};

use super::Shape;
use super::axis::{GlucoseAxis, Pen, at};
use crate::words::{Shown, clock, hours_minutes};

const LEFT: f64 = 38.0;
const RIGHT: f64 = 12.0;
const TOP: f64 = 22.0;
const BOTTOM: f64 = 36.0;
/// Minutes before the moment, and after it.
const SPAN_MIN: (f64, f64) = (180.0, 240.0);
/// A silence beyond this is left open, minutes.
const GAP_MIN: f64 = 20.0;

/// What a fan is told of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FanOf {
    /// What the sensor will say.
    Sensor,
    /// Blood, by the estimate.
    Blood,
}

/// Where a fan begins, and the fan.
struct Told<'a> {
    mg_dl: f64,
    fan: &'a [FanLine],
}

impl<'a> Told<'a> {
    fn of(findings: &'a SecondLookFindings, of: FanOf) -> Option<(&'a Looked, Self)> {
        let look = findings.look.as_ref()?;
        let (mg_dl, fan) = match of {
            FanOf::Sensor => (look.mg_dl, &look.fan),
            FanOf::Blood => {
                let blood = findings.blood.as_ref()?;
                (blood.mg_dl, &blood.fan)
            }
        };
        Some((look, Told { mg_dl, fan }))
    }
}

/// Draws it; nothing where it is not told. `blood`: what blood probably is at the moment. `id` must be unique in the page.
pub fn fan(
    (findings, of): (&SecondLookFindings, FanOf),
    blood: Option<&BloodNow>,
    shown: Shown,
    shape: Shape,
    id: &str,
) -> Markup {
    let Some((look, told)) = Told::of(findings, of) else {
        return html! {};
    };
    let plot = Plot::of(findings, &told, shape);
    let view = format!("0 0 {} {}", at(shape.width()), at(plot.glucose.bottom() + BOTTOM));
    let (before, came) = (
        plot.curve(findings, |minutes| minutes <= 0.0),
        plot.curve(findings, |minutes| minutes >= 0.0),
    );
    html! {
        svg class={ "picture fan " (shape.class()) } viewBox=(view) role="img" aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } {
                @if of == FanOf::Blood { (say!("look-chart-title-blood", unit = shown.unit.symbol())) }
                @else { (say!("look-chart-title", unit = shown.unit.symbol())) }
            }
            desc id={ (id) "-d" } { (described(&told, shown)) }
            (plot.ground(findings, shown))
            (plot.hours(look))
            path.fan-wide d=(plot.band(&told, |point| (point.p10_mg_dl, point.p90_mg_dl))) {}
            path.fan-half d=(plot.band(&told, |point| (point.p25_mg_dl, point.p75_mg_dl))) {}
            path.fan-middle d=(plot.middle(&told)) {}
            path.edge d={ "M" (at(plot.x(0.0))) " " (at(TOP)) "V" (at(plot.glucose.bottom())) } {}
            path.median d=(before) {}
            @if of == FanOf::Sensor && findings.course.iter().any(|point| point.minutes > 0.0) { path.came d=(came) {} }
            circle.fan-from cx=(at(plot.x(0.0))) cy=(at(plot.glucose.y(told.mg_dl))) r="4.5" {}
            @if let Some(blood) = blood { (plot.blood(blood)) }
        }
    }
}

fn described(look: &Told<'_>, shown: Shown) -> String {
    let two = look.fan.iter().find(|point| point.minutes == 120);
    two.map_or_else(String::new, |point| {
        say!(
            "look-chart-described",
            glucose = shown.glucose_with_unit(look.mg_dl),
            half_low = shown.glucose(point.p25_mg_dl),
            half_high = shown.glucose(point.p75_mg_dl),
            low = shown.glucose(point.p10_mg_dl),
            high = shown.glucose_with_unit(point.p90_mg_dl)
        )
    })
}

struct Plot {
    width: f64,
    glucose: GlucoseAxis,
}

impl Plot {
    fn of(findings: &SecondLookFindings, look: &Told<'_>, shape: Shape) -> Self {
        let ahead = look.fan.iter().map(|point| point.p90_mg_dl);
        let seen = findings.course.iter().map(|point| point.mg_dl);
        let highest = ahead.chain(seen).fold(findings.range_high_mg_dl, f64::max);
        Plot {
            width: shape.width(),
            glucose: GlucoseAxis {
                top: TOP,
                height: if shape == Shape::Phone { 190.0 } else { 240.0 },
                highest_mg_dl: GlucoseAxis::top_for(highest * 1.05),
            },
        }
    }

    fn x(&self, minutes: f64) -> f64 {
        let part = (minutes + SPAN_MIN.0) / (SPAN_MIN.0 + SPAN_MIN.1);
        LEFT + (self.width - LEFT - RIGHT) * part.clamp(0.0, 1.0)
    }

    fn ground(&self, findings: &SecondLookFindings, shown: Shown) -> Markup {
        let (high, low) = (findings.range_high_mg_dl, findings.range_low_mg_dl);
        let (top, bottom) = (self.glucose.y(high), self.glucose.y(low));
        html! {
            rect.tape.within x=(at(LEFT)) y=(at(top)) width=(at(self.width - LEFT - RIGHT)) height=(at(bottom - top)) {}
            @for mg_dl in [250.0, high, low, 54.0].into_iter().filter(|mg_dl| *mg_dl < self.glucose.highest_mg_dl * 0.97) {
                text.end x=(at(LEFT - 5.0)) y=(at(self.glucose.y(mg_dl) + 4.0)) { (shown.glucose(mg_dl)) }
            }
            @for (mg_dl, label) in self.glucose.quiet_ticks([54.0, low, high, 250.0], shown) {
                text.end x=(at(LEFT - 5.0)) y=(at(self.glucose.y(mg_dl) + 4.0)) { (label) }
            }
        }
    }

    /// Hours from the moment on, with the clock under them.
    fn hours(&self, look: &Looked) -> Markup {
        let hours: Vec<i32> = (-3..=4).collect();
        let rules = hours.iter().fold(String::new(), |mut path, hour| {
            let x = self.x(60.0 * f64::from(*hour));
            let _ = write!(path, "M{} {}V{}", at(x), at(TOP), at(self.glucose.bottom()));
            path
        });
        let moment = look.at.0;
        let minute = |hour: i32| {
            let second = moment.at + i64::from(moment.offset_s) + 3600 * i64::from(hour);
            u32::try_from(second.rem_euclid(86_400) / 60).unwrap_or(0)
        };
        html! {
            path.rule d=(rules) {}
            @for hour in hours {
                @let x = self.x(60.0 * f64::from(hour)).clamp(LEFT + 4.0, self.width - 18.0);
                @if hour == 0 {
                    text.mid.strong x=(at(x)) y=(at(self.glucose.bottom() + 14.0)) { (clock(minute(hour))) }
                } @else {
                    text.mid x=(at(x)) y=(at(self.glucose.bottom() + 14.0)) { (if hour > 0 { "+" } else { "−" }) (hours_minutes(60.0 * f64::from(hour.abs()))) }
                }
            }
            text.mid x=(at(self.x(-90.0))) y=(at(self.glucose.bottom() + 30.0)) { (say!("look-chart-before")) }
            text.mid x=(at(self.x(120.0))) y=(at(self.glucose.bottom() + 30.0)) { (say!("look-chart-after")) }
        }
    }

    /// The fan begins at the moment itself.
    fn points<'a>(&self, look: &Told<'a>) -> impl Iterator<Item = (f64, Option<&'a FanLine>)> {
        let now = std::iter::once((self.x(0.0), None));
        let ahead: Vec<_> = look
            .fan
            .iter()
            .map(|point| (self.x(f64::from(point.minutes)), Some(point)))
            .collect();
        now.chain(ahead)
    }

    fn band(&self, look: &Told<'_>, edges: impl Fn(&FanLine) -> (f64, f64)) -> String {
        let edge = |point: Option<&FanLine>| point.map_or((look.mg_dl, look.mg_dl), &edges);
        let points: Vec<(f64, (f64, f64))> = self.points(look).map(|(x, point)| (x, edge(point))).collect();
        let mut pen = Pen::default();
        for (place, &(x, (_, upper))) in points.iter().enumerate() {
            let y = self.glucose.y(upper);
            if place == 0 {
                pen.begin(x, y);
            } else {
                pen.to(x, y);
            }
        }
        for &(x, (lower, _)) in points.iter().rev() {
            pen.to(x, self.glucose.y(lower));
        }
        pen.close();
        pen.into_path()
    }

    fn middle(&self, look: &Told<'_>) -> String {
        let mut pen = Pen::default();
        for (place, (x, point)) in self.points(look).enumerate() {
            let y = self.glucose.y(point.map_or(look.mg_dl, |point| point.p50_mg_dl));
            if place == 0 {
                pen.begin(x, y);
            } else {
                pen.to(x, y);
            }
        }
        pen.into_path()
    }

    fn curve(&self, findings: &SecondLookFindings, wanted: impl Fn(f64) -> bool) -> String {
        let mut pen = Pen::default();
        let mut before = f64::NEG_INFINITY;
        for point in findings.course.iter().filter(|point| wanted(point.minutes)) {
            let (x, y) = (self.x(point.minutes), self.glucose.y(point.mg_dl));
            if point.minutes - before > GAP_MIN {
                pen.begin(x, y);
            } else {
                pen.to(x, y);
            }
            before = point.minutes;
        }
        pen.into_path()
    }

    /// Blood beside the moment: a bar of nine times in ten with the middle across.
    fn blood(&self, blood: &BloodNow) -> Markup {
        let x = self.x(0.0) - 7.0;
        let y = |mg_dl: f64| at(self.glucose.y(mg_dl));
        html! {
            path.mark d={ "M" (at(x)) " " (y(blood.p5_mg_dl)) "V" (y(blood.p95_mg_dl)) } {}
            path.mark d={ "M" (at(x - 3.5)) " " (y(blood.mg_dl)) "h7" } {}
        }
    }
}

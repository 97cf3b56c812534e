//! The usual day: percentiles by clock time.

use std::fmt::Write as _;

use interstice_findings::{Targets, UsualMinute};
use interstice_tongue::say;
use maud::{Markup, html};

use super::axis::{ClockAxis, DAY_MIN, FIRST_MIN, GlucoseAxis, Pen, at};
use super::hatch::pale_paint;
use super::{NIGHT_MIN, Shape};
use crate::words::{Range, Shown, clock};

/// Room around the plot.
const LEFT: f64 = 34.0;
const RIGHT: f64 = 10.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = 46.0;

/// Draws the usual day from six in the morning to six. Where five of a hundred readings lie outside the target range,
/// the bands leave slate for hatched indigo or ochre; gaps stay open; a strip below shows how many days stand behind
/// each clock time.
///
/// `id` must be unique in the page.
pub fn usual_day(points: &[UsualMinute], targets: &Targets, shown: Shown, shape: Shape, id: &str) -> Markup {
    let day = from_morning(points);
    let plot = Plot::new(&day, shape);
    let height = plot.glucose.bottom() + BOTTOM;
    let view = format!("0 0 {} {}", at(shape.width()), at(height));
    html! {
        svg class={ "picture usual-day " (shape.class()) } viewBox=(view) role="img"
            aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { (say!("review-usual-title", unit = shown.unit.symbol())) }
            desc id={ (id) "-d" } { (describe(&day, shown)) }
            (plot.night())
            (plot.hour_lines())
            (plot.bands(&day, targets, id))
            (plot.thresholds(targets, shown))
            @for line in runs(&day, |p| p.p50_mg_dl) { path.median d=(plot.median(&line)) {} }
            (plot.clock_labels())
            (plot.evidence(&day))
        }
    }
}

/// The points as the hover read-out needs them, in drawing order: 'minute,days,p5,p25,p50,p75,p95;…', glucose as it is
/// shown. Each is told against the one before: of a minute that follows by five and of days that are the same nothing
/// stands, of a percentile what it lies above the last one given in the point; one that cannot be given is '-'.
pub fn usual_day_points(points: &[UsualMinute], shown: Shown) -> String {
    let mut text = String::with_capacity(points.len() * 16);
    let mut before: Option<(u32, u32)> = None;
    for point in from_morning(points) {
        let follows =
            before.is_some_and(|(minute, _)| (minute + READ_OUT_STEP_MIN) % DAY_MIN == point.minute);
        if !follows {
            let _ = write!(text, "{}", point.minute);
        }
        text.push(',');
        if before.is_none_or(|(_, days)| days != point.days) {
            let _ = write!(text, "{}", point.days);
        }
        before = Some((point.minute, point.days));
        let values = [
            point.p5_mg_dl,
            point.p25_mg_dl,
            point.p50_mg_dl,
            point.p75_mg_dl,
            point.p95_mg_dl,
        ];
        let mut below = 0;
        for value in values {
            let _ = match value.map(|mg_dl| in_last_places(mg_dl, shown)) {
                Some(places) => write!(text, ",{}", places - std::mem::replace(&mut below, places)),
                None => write!(text, ",-"),
            };
        }
        text.push(';');
    }
    text
}

/// Minutes from one point of the read-out to the next.
const READ_OUT_STEP_MIN: u32 = 5;

/// A value as it is shown, counted in its last place: 104 mg/dL is 104, 5.8 mmol/L is 58.
fn in_last_places(mg_dl: f64, shown: Shown) -> i64 {
    shown.glucose(mg_dl).replace('.', "").parse().unwrap_or(0)
}

/// The same points, six in the morning first.
fn from_morning(points: &[UsualMinute]) -> Vec<UsualMinute> {
    let mut day = points.to_vec();
    day.sort_by_key(|p| (p.minute + DAY_MIN - FIRST_MIN) % DAY_MIN);
    day
}

/// What the picture says, for those who do not see it.
fn describe(day: &[UsualMinute], shown: Shown) -> String {
    let medians = || day.iter().filter_map(|p| p.p50_mg_dl.map(|v| (p.minute, v)));
    let lowest = medians().min_by(|a, b| a.1.total_cmp(&b.1));
    let highest = medians().max_by(|a, b| a.1.total_cmp(&b.1));
    let (Some(lowest), Some(highest)) = (lowest, highest) else {
        return say!("review-usual-nothing");
    };
    say!(
        "review-usual-described",
        low_at = clock(lowest.0),
        lowest = shown.glucose_with_unit(lowest.1),
        high_at = clock(highest.0),
        highest = shown.glucose_with_unit(highest.1),
    )
}

/// The part of a band that lies in a range.
fn piece(band: &str, class: &str, range: Range, id: &str, fill: Option<String>) -> Markup {
    html! {
        use href={ "#" (id) "-" (band) } class=(class) fill=[fill] clip-path={ "url(#" (id) "-" (range.class()) ")" } {}
    }
}

pub(super) struct Plot {
    shape: Shape,
    pub(super) clock: ClockAxis,
    pub(super) glucose: GlucoseAxis,
    step_min: u32,
}

impl Plot {
    fn new(day: &[UsualMinute], shape: Shape) -> Self {
        let highest = day.iter().filter_map(|p| p.p95_mg_dl).fold(0.0, f64::max);
        Plot::up_to(highest, shape, step_min(day))
    }

    /// A plot that holds `highest_mg_dl`.
    pub(super) fn up_to(highest_mg_dl: f64, shape: Shape, step_min: u32) -> Self {
        let height = if shape == Shape::Phone { 250.0 } else { 330.0 };
        Plot {
            shape,
            clock: ClockAxis {
                left: LEFT,
                width: shape.width() - LEFT - RIGHT,
            },
            glucose: GlucoseAxis {
                top: TOP,
                height,
                highest_mg_dl: GlucoseAxis::top_for(highest_mg_dl),
            },
            step_min,
        }
    }

    pub(super) fn night(&self) -> Markup {
        let (left, right) = (self.clock.x(NIGHT_MIN.0), self.clock.right());
        html! {
            rect.night x=(at(left)) y=(at(TOP)) width=(at(right - left)) height=(at(self.glucose.height)) {}
            text x=(at((left + right) / 2.0)) y=(at(TOP + 13.0)).mid { (say!("review-night")) }
        }
    }

    pub(super) fn hour_lines(&self) -> Markup {
        let path = (0..=8).fold(String::new(), |mut path, step| {
            let x = at(self.clock.along(f64::from(step) * 180.0));
            let _ = write!(path, "M{x} {}V{}", at(TOP), at(self.glucose.bottom()));
            path
        });
        html! { path.rule d=(path) {} }
    }

    pub(super) fn clock_labels(&self) -> Markup {
        let y = at(self.glucose.bottom() + 15.0);
        let step = if self.shape == Shape::Phone { 6 } else { 3 };
        html! {
            @for hour in (0..=24).step_by(step) {
                text.mid x=(at(self.clock.along(f64::from(hour) * 60.0).min(self.shape.width() - 16.0))) y=(y) {
                    (clock((hour * 60 + FIRST_MIN) % DAY_MIN))
                }
            }
        }
    }

    /// Both bands, each once a range, clipped to it: slate within; without, the dark band is a ground and the pale one
    /// hatched.
    fn bands(&self, day: &[UsualMinute], targets: &Targets, id: &str) -> Markup {
        let wide = self.band(day, |p| p.p5_mg_dl, |p| p.p95_mg_dl);
        let half = self.band(day, |p| p.p25_mg_dl, |p| p.p75_mg_dl);
        html! {
            defs {
                path id={ (id) "-wide" } d=(wide) {}
                path id={ (id) "-half" } d=(half) {}
                @for range in Range::ALL { (self.clip(range, targets, id)) }
            }
            (piece("wide", "wide-band within", Range::InRange, id, None))
            @for range in Range::ALL {
                @let class = if range == Range::InRange { "half-band within".to_owned() } else { format!("ground {}", range.class()) };
                (piece("half", &class, range, id, None))
            }
            @for range in Range::ALL {
                @if let Some(fill) = pale_paint(range) { (piece("wide", "", range, id, Some(fill.clone())))
                    (piece("half", "", range, id, Some(fill))) }
            }
        }
    }

    fn clip(&self, range: Range, targets: &Targets, id: &str) -> Markup {
        let (low, high) = match range {
            Range::VeryLow => (0.0, targets.very_low_below_mg_dl),
            Range::Low => (targets.very_low_below_mg_dl, targets.range_low_mg_dl),
            Range::InRange => (targets.range_low_mg_dl, targets.range_high_mg_dl),
            Range::High => (targets.range_high_mg_dl, targets.very_high_above_mg_dl),
            Range::VeryHigh => (targets.very_high_above_mg_dl, 1000.0),
        };
        let (top, bottom) = (self.glucose.y(high), self.glucose.y(low));
        html! {
            clipPath id={ (id) "-" (range.class()) } {
                rect x="0" y=(at(top)) width=(at(self.shape.width())) height=(at(bottom - top)) {}
            }
        }
    }

    /// The outline of a band, one closed piece for each stretch without a gap.
    fn band(
        &self,
        day: &[UsualMinute],
        low: impl Fn(&UsualMinute) -> Option<f64>,
        high: impl Fn(&UsualMinute) -> Option<f64>,
    ) -> String {
        let upper = runs(day, |p| low(p).and(high(p)));
        let lower = runs(day, |p| high(p).and(low(p)));
        let mut pen = Pen::default();
        for (up, down) in upper.iter().zip(&lower) {
            self.line(&mut pen, up);
            for &(minute, value) in down.iter().rev() {
                let right = if Some(&(minute, value)) == down.last() {
                    self.step_min
                } else {
                    0
                };
                pen.to(self.x(minute, right), self.glucose.y(value));
            }
            pen.close();
        }
        pen.into_path()
    }

    /// The medians of a stretch without a gap.
    fn median(&self, run: &[(u32, f64)]) -> String {
        let mut pen = Pen::default();
        self.line(&mut pen, run);
        pen.into_path()
    }

    /// An open line; the last point reaches over its own step, so that neighbouring steps meet.
    fn line(&self, pen: &mut Pen, run: &[(u32, f64)]) {
        for (index, &(minute, value)) in run.iter().enumerate() {
            let (x, y) = (self.x(minute, 0), self.glucose.y(value));
            if index == 0 {
                pen.begin(x, y);
            } else {
                pen.to(x, y);
            }
        }
        if let Some(&(minute, value)) = run.last() {
            pen.to(self.x(minute, self.step_min), self.glucose.y(value));
        }
    }

    fn x(&self, minute: u32, later: u32) -> f64 {
        (self.clock.x(minute) + self.clock.width * f64::from(later) / f64::from(DAY_MIN))
            .min(self.clock.right())
    }

    pub(super) fn thresholds(&self, targets: &Targets, shown: Shown) -> Markup {
        let edges = [targets.range_low_mg_dl, targets.range_high_mg_dl];
        let right = at(self.clock.right());
        html! {
            @for mg_dl in edges {
                path.edge d={ "M" (at(LEFT)) " " (at(self.glucose.y(mg_dl))) "H" (right) } {}
                text.strong.end x=(at(LEFT - 5.0)) y=(at(self.glucose.y(mg_dl) + 4.0)) { (shown.glucose(mg_dl)) }
            }
            @for mg_dl in [targets.very_low_below_mg_dl, targets.very_high_above_mg_dl] {
                path.rule d={ "M" (at(LEFT)) " " (at(self.glucose.y(mg_dl))) "H" (right) } {}
                text.end x=(at(LEFT - 5.0)) y=(at(self.glucose.y(mg_dl) + 4.0)) { (shown.glucose(mg_dl)) }
            }
            @for (mg_dl, label) in self.glucose.quiet_ticks(targets.edges_mg_dl(), shown) {
                text.end x=(at(LEFT - 5.0)) y=(at(self.glucose.y(mg_dl) + 4.0)) { (label) }
            }
        }
    }

    /// How many days stand behind each clock time: a strip as high as they are many.
    fn evidence(&self, day: &[UsualMinute]) -> Markup {
        let most = day.iter().map(|p| p.days).max().unwrap_or(0);
        let least = day.iter().map(|p| p.days).min().unwrap_or(0);
        let base = self.glucose.bottom() + 32.0;
        let mut pen = Pen::default();
        pen.begin(LEFT, base);
        let mut last = base;
        for point in day {
            let y = base - 9.0 * f64::from(point.days) / f64::from(most.max(1));
            // One stroke for as many points as stand equally high.
            if (y - last).abs() > 0.05 {
                pen.to(self.x(point.minute, 0), last);
                pen.to(self.x(point.minute, 0), y);
                last = y;
            }
        }
        pen.to(self.clock.right(), last);
        pen.to(self.clock.right(), base);
        pen.close();
        let words = if least == most {
            say!("review-behind-every", days = most)
        } else {
            say!("review-behind-each", least = least, most = most)
        };
        html! {
            path.days d=(pen.into_path()) {}
            text x=(at(LEFT)) y=(at(base + 12.0)) { (words) }
        }
    }
}

/// Stretches of neighbouring points that have a value: (minute, value). A point without one, or one that is not there,
/// ends a stretch.
fn runs(day: &[UsualMinute], value: impl Fn(&UsualMinute) -> Option<f64>) -> Vec<Vec<(u32, f64)>> {
    let step = step_min(day);
    let mut all: Vec<Vec<(u32, f64)>> = Vec::new();
    for point in day {
        let Some(v) = value(point) else { continue };
        let follows = |run: &Vec<(u32, f64)>| {
            run.last()
                .is_some_and(|last| (last.0 + step) % DAY_MIN == point.minute)
        };
        match all.last_mut() {
            Some(run) if follows(run) => run.push((point.minute, v)),
            _ => all.push(vec![(point.minute, v)]),
        }
    }
    all
}

/// Minutes from one point to the next: the shortest step there is.
fn step_min(day: &[UsualMinute]) -> u32 {
    day.windows(2)
        .map(|pair| (pair[1].minute + DAY_MIN - pair[0].minute) % DAY_MIN)
        .filter(|&s| s > 0)
        .min()
        .unwrap_or(5)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(minute: u32, value: Option<f64>) -> UsualMinute {
        UsualMinute {
            minute,
            days: 14,
            p5_mg_dl: value,
            p25_mg_dl: value,
            p50_mg_dl: value,
            p75_mg_dl: value,
            p95_mg_dl: value,
        }
    }

    #[test]
    fn gaps_stay_open() {
        let held = [
            point(360, Some(90.0)),
            point(365, Some(95.0)),
            point(370, None),
            point(375, Some(99.0)),
        ];
        let missing = [
            point(360, Some(90.0)),
            point(365, Some(95.0)),
            point(375, Some(99.0)),
        ];
        for day in [&held[..], &missing[..]] {
            let lengths: Vec<usize> = runs(day, |p| p.p50_mg_dl).iter().map(Vec::len).collect();
            assert_eq!(lengths, [2, 1]);
        }
    }

    #[test]
    fn midnight_is_not_a_gap() {
        let day = from_morning(&[point(0, Some(90.0)), point(1435, Some(95.0))]);
        assert_eq!(runs(&day, |p| p.p50_mg_dl).len(), 1);
    }

    #[test]
    fn the_read_out_speaks_the_wearers_unit() {
        let points = usual_day_points(
            &[point(365, Some(180.0)), point(370, None)],
            Shown {
                unit: interstice_glucose::Unit::MmolPerL,
            },
        );
        assert_eq!(points, "365,14,100,0,0,0,0;,,-,-,-,-,-;");
    }
}

//! The usual day: percentiles by clock time, from six in the morning, on a scale that goes by ratio.

use std::collections::BTreeMap;

use interstice_findings::UsualMinute;

use super::Page;
use super::table::paint;
use crate::pdf::canvas::{Ink, Place, ink, plain, soft};
use crate::words::{Range, clock, no_usual_day};

const LEFT: f32 = 26.0;
const RIGHT: f32 = 4.0;
const BELOW: f32 = 13.0;
const DAY_MIN: u32 = 1440;
const FIRST_MIN: u32 = 360;
/// The scale goes from here to at least here, mg/dL.
const LOWEST: f64 = 45.0;
const HIGHEST: f64 = 300.0;
/// What is less apart is not seen, mg/dL.
const SEEN_MG_DL: f64 = 2.0;

/// Where things lie.
struct Plot {
    left: f32,
    right: f32,
    top: f32,
    bottom: f32,
    highest: f64,
}

impl Plot {
    /// Of a minute since six in the morning, 0 to 1440.
    fn x(&self, minute: u32) -> f32 {
        self.left + (self.right - self.left) * minute as f32 / DAY_MIN as f32
    }

    fn y(&self, mg_dl: f64) -> f32 {
        let held = mg_dl.clamp(LOWEST, self.highest);
        let share = libm::log(held / LOWEST) / libm::log(self.highest / LOWEST);
        self.bottom - (f64::from(self.bottom - self.top) * share) as f32
    }
}

/// Draws it into a height.
pub(super) fn draw(page: &mut Page<'_>, y: f32, height: f32) {
    let points = from_morning(&page.findings.review.usual_day);
    if let Some(why) = no_usual_day(&points) {
        page.said(&why, soft(8.5), (page.frame.left, y), page.frame.width(), 3);
        return;
    }
    let figure = page.canvas.figure(&page.sheet.usual_day.clone());
    let highest = points
        .iter()
        .filter_map(|point| point.p95_mg_dl.or(point.p75_mg_dl));
    let plot = Plot {
        left: page.frame.left + LEFT,
        right: page.frame.right - RIGHT,
        top: y + 2.0,
        bottom: y + height - BELOW,
        highest: highest.fold(HIGHEST, f64::max) * 1.04,
    };
    ground(page, &plot, figure);
    bands(page, &plot, &points, figure);
    edges(page, &plot, figure);
    let median = |point: &UsualMinute| point.p50_mg_dl;
    for line in runs(&points, median) {
        let line: Vec<(f32, f32)> = line
            .iter()
            .map(|&(minute, value)| (plot.x(minute), plot.y(value)))
            .collect();
        page.canvas.line(&line, 1.5, ink::BLACK, figure);
    }
    without(page, &plot, figure);
    axis(page, &plot, figure);
}

/// The same points by minute since six in the morning; the first again at the end.
fn from_morning(points: &[UsualMinute]) -> Vec<UsualMinute> {
    let mut day: Vec<UsualMinute> = points
        .iter()
        .map(|point| UsualMinute {
            minute: (point.minute + DAY_MIN - FIRST_MIN) % DAY_MIN,
            ..*point
        })
        .collect();
    day.sort_by_key(|point| point.minute);
    if let Some(&first) = day.first().filter(|first| first.minute == 0) {
        day.push(UsualMinute {
            minute: DAY_MIN,
            ..first
        });
    }
    day
}

/// Stretches in which something is known of every point.
fn runs<T>(points: &[UsualMinute], of: impl Fn(&UsualMinute) -> Option<T>) -> Vec<Vec<(u32, T)>> {
    let mut runs: Vec<Vec<(u32, T)>> = vec![Vec::new()];
    for point in points {
        match (of(point), runs.last_mut()) {
            (Some(value), Some(run)) => run.push((point.minute, value)),
            _ => runs.push(Vec::new()),
        }
    }
    runs.retain(|run| run.len() > 1);
    runs
}

fn ground(page: &mut Page<'_>, plot: &Plot, figure: Place) {
    let night = (DAY_MIN - FIRST_MIN, DAY_MIN);
    let (from, to) = (plot.x(night.0), plot.x(night.1));
    page.canvas.rect(
        (from, plot.top),
        (to - from, plot.bottom - plot.top),
        ink::NIGHT,
        figure,
    );
    for hour in (0..=24).step_by(3) {
        let x = plot.x(hour * 60);
        page.canvas
            .line(&[(x, plot.top), (x, plot.bottom)], 0.3, ink::RULE, figure);
    }
}

/// Nine tenths pale, half dark; what lies beyond the target range in its own colour.
fn bands(page: &mut Page<'_>, plot: &Plot, points: &[UsualMinute], figure: Place) {
    let outer = runs(points, |point| point.p5_mg_dl.zip(point.p95_mg_dl));
    let inner = runs(points, |point| point.p25_mg_dl.zip(point.p75_mg_dl));
    let [very_low, low, high, very_high] = page.findings.review.targets.edges_mg_dl();
    let edges = [
        (Range::VeryLow, 0.0, very_low),
        (Range::Low, very_low, low),
        (Range::InRange, low, high),
        (Range::High, high, very_high),
        (Range::VeryHigh, very_high, f64::MAX),
    ];
    for (runs, is_inner) in [(outer, false), (inner, true)] {
        for (range, from, to) in edges {
            for run in &runs {
                for piece in pieces(run, (from, to)) {
                    let shape = outline(plot, &piece);
                    let (ground, hatch) = shade(range, is_inner);
                    page.canvas.shape(shape.clone(), ground, figure);
                    if let Some((ink, apart, rising)) = hatch {
                        page.canvas.hatch(shape, ink, (apart, rising), figure);
                    }
                }
            }
        }
    }
}

fn shade(range: Range, is_inner: bool) -> (Ink, Option<(Ink, f32, bool)>) {
    match (range, is_inner) {
        (Range::InRange, false) => (ink::SLATE_PALE, None),
        (Range::Low | Range::VeryLow, false) => (ink::INDIGO_PALE, Some((ink::INDIGO_LIGHT, 4.0, false))),
        (Range::High | Range::VeryHigh, false) => (ink::OCHRE_PALE, Some((ink::OCHRE_LIGHT, 4.0, true))),
        (Range::Low, true) => (ink::INDIGO_LIGHT, Some((ink::INDIGO, 2.2, false))),
        (Range::High, true) => (ink::OCHRE_LIGHT, Some((ink::OCHRE, 2.2, true))),
        (range, true) => paint(range),
    }
}

type Piece = Vec<(u32, (f64, f64))>;

/// The parts of a band that reach into a range, cut at its edges.
fn pieces(run: &[(u32, (f64, f64))], (from, to): (f64, f64)) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = vec![Vec::new()];
    for &(minute, (low, high)) in run {
        let cut = (low.clamp(from, to), high.clamp(from, to));
        match pieces.last_mut() {
            Some(piece) if cut.1 > cut.0 => piece.push((minute, cut)),
            _ => pieces.push(Vec::new()),
        }
    }
    pieces.retain(|piece| piece.len() > 1);
    pieces
}

fn outline(plot: &Plot, piece: &[(u32, (f64, f64))]) -> Vec<(f32, f32)> {
    let over = piece
        .iter()
        .map(|&(minute, (_, high))| (plot.x(minute), plot.y(high)));
    let under = piece
        .iter()
        .rev()
        .map(|&(minute, (low, _))| (plot.x(minute), plot.y(low)));
    over.chain(under).collect()
}

/// The edges of the ranges and their values.
fn edges(page: &mut Page<'_>, plot: &Plot, figure: Place) {
    let targets = page.findings.review.targets;
    for (edge, is_target) in targets.edges_mg_dl().into_iter().zip([false, true, true, false]) {
        let y = plot.y(edge);
        let (width, ink) = if is_target {
            (0.9, ink::SOFT)
        } else {
            (0.5, ink::RULE_STRONG)
        };
        page.canvas.dashed(
            &[(plot.left, y), (plot.right, y)],
            width,
            ink,
            (!is_target).then_some((2.0, 2.0)),
            figure,
        );
        let style = if is_target { plain(7.5) } else { soft(7.0) };
        page.canvas.words_to(
            (plot.left - 4.0, y + 2.6),
            &page.shown.glucose(edge),
            style,
            figure,
        );
    }
}

/// Where it lies higher somewhere without probable pressure lows, the lower edge of nine tenths again.
fn without(page: &mut Page<'_>, plot: &Plot, figure: Place) {
    let Some(without) = &page.findings.without_pressure else {
        return;
    };
    let with: BTreeMap<u32, f64> = from_morning(&page.findings.review.usual_day)
        .iter()
        .filter_map(|point| Some((point.minute, point.p5_mg_dl?)))
        .collect();
    let points = from_morning(&without.usual_day);
    let higher = |point: &UsualMinute| {
        let pair = point.p5_mg_dl.zip(with.get(&point.minute));
        pair.is_some_and(|(without, with)| without > with + SEEN_MG_DL)
    };
    if !points.iter().any(higher) {
        return;
    }
    for line in runs(&points, |point| point.p5_mg_dl) {
        let line: Vec<(f32, f32)> = line
            .iter()
            .map(|&(minute, value)| (plot.x(minute), plot.y(value)))
            .collect();
        page.canvas
            .dashed(&line, 0.8, ink::INDIGO_DEEP, Some((2.4, 1.8)), figure);
    }
}

fn axis(page: &mut Page<'_>, plot: &Plot, figure: Place) {
    page.canvas.line(
        &[(plot.left, plot.bottom), (plot.right, plot.bottom)],
        0.6,
        ink::RULE_STRONG,
        figure,
    );
    page.canvas.words(
        (page.frame.left, plot.top + 6.0),
        page.shown.unit.symbol(),
        soft(6.5),
        figure,
    );
    for hour in (0..=24_u32).step_by(3) {
        let text = clock((hour * 60 + FIRST_MIN) % DAY_MIN);
        let at = (plot.x(hour * 60), plot.bottom + 9.5);
        match hour {
            0 => page.canvas.words(at, &text, soft(7.0), figure),
            24 => page.canvas.words_to(at, &text, soft(7.0), figure),
            _ => page.canvas.words_on(at, &text, soft(7.0), figure),
        }
    }
    page.canvas.words_on(
        (plot.x(DAY_MIN - 180), plot.top + 7.0),
        "night",
        soft(6.5),
        figure,
    );
}

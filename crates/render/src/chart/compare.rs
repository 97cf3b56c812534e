//! Before and after: the margin of each difference about nothing.

use std::fmt::Write as _;

use interstice_findings::compare::{CompareFindings, ComparedLine, Measured, What};
use interstice_glucose::round_half_up;
use maud::{Markup, html};

use super::Shape;
use super::axis::at;
use crate::words::{Shown, compare_difference, compare_head, in_unit};

const ROW: f64 = 24.0;
/// Above the rows of a scale: its name.
const HEAD: f64 = 26.0;
/// Below them: its numbers.
const FOOT: f64 = 26.0;
const RIGHT: f64 = 14.0;
/// Room of half a number at either end.
const ROOM: f64 = 0.06;

/// Rows that share a scale.
struct Scale<'a> {
    name: String,
    rows: Vec<(String, &'a ComparedLine)>,
    /// What a value is multiplied by to be drawn.
    by: f64,
}

/// Draws the differences of the figures that share a scale. `id` must be unique in the page.
pub fn compare(findings: &CompareFindings, shown: Shown, shape: Shape, id: &str) -> Markup {
    let scales = scales(findings, shown);
    let height: f64 = scales.iter().map(height).sum();
    let mut top = 0.0;
    html! {
        svg class={ "picture compare " (shape.class()) } viewBox={ "0 0 " (at(shape.width())) " " (at(height)) } role="img"
            aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } {
                "Differences of " (compare_head(findings, true)) " less " (compare_head(findings, false))
                " with their 95 % margins about nothing"
            }
            desc id={ (id) "-d" } { (told(&scales, shown)) }
            @for scale in &scales {
                (panel(scale, shape, top))
                ({ top += self::height(scale); "" })
            }
        }
    }
}

/// 'time in range: +4 % (1 to 7); …'.
fn told(scales: &[Scale<'_>], shown: Shown) -> String {
    let rows = scales.iter().flat_map(|scale| &scale.rows);
    let rows = rows.map(|(name, line)| format!("{name}: {}", compare_difference(line, shown)));
    rows.collect::<Vec<_>>().join("; ") + "."
}

fn height(scale: &Scale<'_>) -> f64 {
    HEAD + ROW * scale.rows.len() as f64 + FOOT
}

fn panel(scale: &Scale<'_>, shape: Shape, top: f64) -> Markup {
    let left = if shape == Shape::Phone { 118.0 } else { 210.0 };
    let ends = scale.rows.iter().flat_map(|(_, line)| {
        let ends = [line.difference, line.difference_lo95, line.difference_hi95];
        ends.into_iter().flatten().map(|end| end * scale.by)
    });
    let (least, most) = ends.fold((0.0_f64, 0.0_f64), |(lo, hi), end| (lo.min(end), hi.max(end)));
    let spread = (most - least).max(1e-9);
    let (least, most) = (least - ROOM * spread, most + ROOM * spread);
    let x = |value: f64| left + (shape.width() - left - RIGHT) * (value - least) / (most - least);
    let (first, last) = (top + HEAD, top + HEAD + ROW * scale.rows.len() as f64);
    let ticks = ticks(least, most, if shape == Shape::Phone { 4.0 } else { 8.0 });
    let rules = ticks.iter().fold(String::new(), |mut path, tick| {
        let _ = write!(path, "M{} {}V{}", at(x(tick.0)), at(first), at(last));
        path
    });
    html! {
        text.strong x="0" y=(at(top + 15.0)) { (scale.name) }
        path.rule d=(rules) {}
        path.edge d={ "M" (at(x(0.0))) " " (at(first - 3.0)) "V" (at(last + 3.0)) } {}
        @for (value, label) in &ticks { text.mid x=(at(x(*value))) y=(at(last + 15.0)) { (label) } }
        @for (place, (name, line)) in scale.rows.iter().enumerate() {
            @let y = first + ROW * (place as f64 + 0.5);
            text.end.strong[line.stands()] x=(at(left - 10.0)) y=(at(y + 4.0)) { (name) }
            @if let (Some(lo), Some(hi)) = (line.difference_lo95, line.difference_hi95) {
                path.span d={ "M" (at(x(lo * scale.by))) " " (at(y)) "H" (at(x(hi * scale.by))) } {}
            }
            @if let Some(difference) = line.difference {
                @let cx = at(x(difference * scale.by));
                @if line.leaves_zero() == 0 { circle.ring cx=(cx) cy=(at(y)) r="4" {} }
                @else { circle.flag cx=(cx) cy=(at(y)) r="4.5" {} }
            }
        }
    }
}

/// Round numbers across a scale, with their sign, about so many.
fn ticks(least: f64, most: f64, about: f64) -> Vec<(f64, String)> {
    let rough = (most - least) / about;
    let power = libm::pow(10.0, libm::floor(libm::log10(rough)));
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|round| round * power)
        .find(|step| *step >= rough)
        .unwrap_or(power * 10.0);
    let decimals = usize::from(step < 1.0) + usize::from(step < 0.1);
    let (first, last) = ((least / step).ceil() as i64, (most / step).floor() as i64);
    (first..=last)
        .map(|place| {
            let value = place as f64 * step;
            let text = round_half_up(value.abs(), decimals);
            let sign = match place {
                0 => "",
                place if place < 0 => "−",
                _ => "+",
            };
            (value, format!("{sign}{text}"))
        })
        .collect()
}

fn scales<'a>(findings: &'a CompareFindings, shown: Shown) -> Vec<Scale<'a>> {
    let glucose = |mg_dl: f64| shown.glucose(mg_dl);
    let named = |which: Measured| match which {
        Measured::InRange => "in range".to_owned(),
        Measured::Tight => format!("{} to {}", glucose(70.0), glucose(140.0)),
        Measured::Below => "below range".to_owned(),
        Measured::VeryLow => format!("below {}", glucose(54.0)),
        Measured::Above => "above range".to_owned(),
        Measured::VeryHigh => format!("above {}", glucose(250.0)),
        Measured::NightInRange => "in range at night".to_owned(),
        Measured::NightBelow => "below at night".to_owned(),
        Measured::Mean => "mean".to_owned(),
        Measured::NightMean => "mean at night".to_owned(),
        Measured::Sd => "standard deviation".to_owned(),
        Measured::Lows => "lows".to_owned(),
        Measured::DeepLows => "lows of level 2".to_owned(),
        Measured::Highs => "highs".to_owned(),
        Measured::Cv | Measured::Gmi => String::new(),
    };
    let of = |name: String, by: f64, which: &[Measured]| {
        let rows = which.iter().filter_map(|&which| {
            let line = findings
                .figures
                .iter()
                .find(|line| line.what == What::Figure(which))?;
            line.difference.map(|_| (named(which), line))
        });
        Scale {
            name,
            rows: rows.collect(),
            by,
        }
    };
    let all = [
        of(
            "Share of time, percentage points".to_owned(),
            1.0,
            &[
                Measured::InRange,
                Measured::Tight,
                Measured::Below,
                Measured::VeryLow,
                Measured::Above,
                Measured::VeryHigh,
                Measured::NightInRange,
                Measured::NightBelow,
            ],
        ),
        of(
            format!("Glucose, {}", shown.unit),
            in_unit(shown.unit),
            &[Measured::Mean, Measured::NightMean, Measured::Sd],
        ),
        of(
            "Episodes a week".to_owned(),
            1.0,
            &[Measured::Lows, Measured::DeepLows, Measured::Highs],
        ),
    ];
    all.into_iter().filter(|scale| !scale.rows.is_empty()).collect()
}

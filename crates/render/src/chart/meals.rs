//! The same meal again: each rise a dot, what is to be expected a bar.

use std::fmt::Write as _;

use interstice_findings::meals::RepeatedLine;
use interstice_glucose::Unit;
use interstice_tongue::say;
use maud::{Markup, html};

use super::Shape;
use super::axis::at;
use crate::words::Shown;

const ROW: f64 = 26.0;
const TOP: f64 = 8.0;
const BOTTOM: f64 = 22.0;
const RIGHT: f64 = 12.0;
/// Meals drawn.
const DRAWN: usize = 12;

/// 'bread: 44 to 132, mean 97; …'.
fn told(rows: &[&RepeatedLine], shown: Shown) -> String {
    let rows = rows.iter().map(|meal| {
        let ends = meal.rises_mg_dl.iter().copied();
        let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), rise| {
            (lo.min(rise), hi.max(rise))
        });
        let (low, high) = (shown.glucose(low), shown.glucose(high));
        match meal.mean_rise_mg_dl {
            Some(mean) => say!(
                "meals-chart-meal-mean",
                meal = meal.name.as_str(),
                low = low,
                high = high,
                mean = shown.glucose(mean)
            ),
            None => say!(
                "meals-chart-meal",
                meal = meal.name.as_str(),
                low = low,
                high = high
            ),
        }
    });
    rows.collect::<Vec<_>>().join("; ") + "."
}

/// Draws rises by meal, the most often eaten on top. `id` must be unique in the page.
pub fn meals(repeated: &[RepeatedLine], shown: Shown, shape: Shape, id: &str) -> Markup {
    let rows: Vec<&RepeatedLine> = repeated
        .iter()
        .filter(|meal| !meal.rises_mg_dl.is_empty())
        .take(DRAWN)
        .collect();
    if rows.is_empty() {
        return html! {};
    }
    let left = if shape == Shape::Phone { 112.0 } else { 250.0 };
    let all = rows.iter().flat_map(|meal| &meal.rises_mg_dl).copied();
    let (lowest, highest) = all.fold((0.0_f64, 50.0_f64), |(lo, hi), rise| (lo.min(rise), hi.max(rise)));
    let x = |mg_dl: f64| left + (shape.width() - left - RIGHT) * (mg_dl - lowest) / (highest - lowest);
    let height = TOP + ROW * rows.len() as f64;
    let step = if shown.unit == Unit::MgPerDl {
        50.0
    } else {
        54.0468
    };
    let ticks: Vec<f64> = (-20..40)
        .map(|i| f64::from(i) * step)
        .filter(|tick| (lowest..=highest).contains(tick))
        .collect();
    let rules = ticks.iter().fold(String::new(), |mut path, tick| {
        let _ = write!(path, "M{} {}V{}", at(x(*tick)), at(TOP), at(height));
        path
    });
    html! {
        svg class={ "picture meals " (shape.class()) } viewBox={ "0 0 " (at(shape.width())) " " (at(height + BOTTOM)) } role="img"
            aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { (say!("meals-chart-title", unit = shown.unit.symbol())) }
            desc id={ (id) "-d" } { (told(&rows, shown)) }
            path.rule d=(rules) {}
            path.edge d={ "M" (at(x(0.0))) " " (at(TOP)) "V" (at(height)) } {}
            @for tick in &ticks { text.mid x=(at(x(*tick))) y=(at(height + 14.0)) { (shown.glucose(*tick)) } }
            @for (place, meal) in rows.iter().enumerate() {
                @let y = TOP + ROW * (place as f64 + 0.5);
                text.end x=(at(left - 8.0)) y=(at(y + 4.0)) { (cut(&meal.name, shape)) }
                @if let (Some(lo), Some(hi)) = (meal.expected_rise_mg_dl_lo95, meal.expected_rise_mg_dl_hi95) {
                    @let (from, to) = (x(lo.clamp(lowest, highest)), x(hi.clamp(lowest, highest)));
                    rect.days x=(at(from)) y=(at(y - 6.0)) width=(at((to - from).max(2.0))) height="12" {}
                }
                @for rise in &meal.rises_mg_dl { circle.dot cx=(at(x(*rise))) cy=(at(y)) r="2.6" {} }
            }
        }
    }
}

/// A name as long as there is room for.
fn cut(name: &str, shape: Shape) -> String {
    let room = if shape == Shape::Phone { 16 } else { 42 };
    if name.chars().count() <= room {
        return name.to_owned();
    }
    let kept: String = name.chars().take(room - 1).collect();
    format!("{}…", kept.trim_end())
}

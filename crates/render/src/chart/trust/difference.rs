//! Differences against the mean of the two (Bland and Altman 1986).

use interstice_findings::{Figure, TrustFindings};
use interstice_glucose::counted;
use maud::{Markup, html};

use super::super::Shape;
use super::super::axis::at;
use super::error_grid::mark;
use super::plane::{Plane, difference_ticks, glucose_ticks, reach};
use crate::words::{Shown, signed_with_unit};

const LEFT: f64 = 40.0;
const TOP: f64 = 10.0;
const BOTTOM: f64 = 38.0;

/// Draws sensor less blood against the mean of both, with the bias, the limits of agreement and the margins of all three.
pub fn differences(findings: &TrustFindings, shown: Shown, shape: Shape, id: &str) -> Markup {
    let found = &findings.agreement;
    let lines = [
        &found.limits_lower_mg_dl,
        &found.bias_mg_dl,
        &found.limits_upper_mg_dl,
    ];
    let plane = plane(findings, shape, &lines);
    let (across, up) = (
        glucose_ticks(plane.across.1, shown),
        difference_ticks(plane.up.1, shown),
    );
    let view = format!("0 0 {} {}", at(shape.width()), at(plane.bottom() + BOTTOM));
    html! {
        svg class={ "picture differences " (shape.class()) } viewBox=(view) role="img" aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { "Sensor less blood against the mean of both, in " (shown.unit) }
            desc id={ (id) "-d" } { (describe(findings, shown)) }
            (plane.rules(&[], &up))
            @for figure in lines { (margin(plane, figure)) }
            path.edge d=(plane.level(0.0)) {}
            @for point in &findings.points {
                (mark(point.consensus, plane.x(f64::midpoint(point.blood_mg_dl, point.sensor_mg_dl)), plane.y(point.sensor_mg_dl - point.blood_mg_dl)))
            }
            @for (figure, name) in lines.into_iter().zip(["lower limit", "bias", "upper limit"]) { (line(plane, figure, name, shown)) }
            (plane.frame())
            (plane.numbers_up(&up))
            (plane.numbers_across(&across))
            text.end x=(at(plane.right())) y=(at(plane.bottom() + 31.0)) { "mean of blood and sensor, " (shown.unit) }
        }
    }
}

fn plane(findings: &TrustFindings, shape: Shape, lines: &[&Figure; 3]) -> Plane {
    let also: Vec<f64> = lines
        .iter()
        .filter_map(|figure| figure.value.map(f64::abs))
        .collect();
    let reach = reach(&findings.points, &also);
    let highest = findings
        .points
        .iter()
        .map(|point| f64::midpoint(point.blood_mg_dl, point.sensor_mg_dl))
        .fold(300.0, f64::max);
    Plane {
        left: LEFT,
        top: TOP,
        width: shape.width() - LEFT - 8.0,
        height: if shape == Shape::Phone { 260.0 } else { 320.0 },
        across: (0.0, highest * 1.03),
        up: (-reach, reach),
    }
}

fn margin(plane: Plane, figure: &Figure) -> Markup {
    match (figure.lo95, figure.hi95) {
        (Some(lo), Some(hi)) => plane.band(lo, hi, "doubt"),
        _ => html! {},
    }
}

fn line(plane: Plane, figure: &Figure, name: &str, shown: Shown) -> Markup {
    let Some(value) = figure.value else {
        return html! {};
    };
    let class = if name == "bias" { "mark" } else { "mark dashed" };
    html! {
        path class=(class) d=(plane.level(value)) {}
        text.strong.end.halo x=(at(plane.right() - 5.0)) y=(at(plane.y(value) - 5.0)) { (name) " " (signed_with_unit(value, shown)) }
    }
}

fn describe(findings: &TrustFindings, shown: Shown) -> String {
    let found = &findings.agreement;
    let said = |figure: &Figure| {
        figure
            .value
            .map_or_else(|| "not known".to_owned(), |value| signed_with_unit(value, shown))
    };
    format!(
        "{}. Bias {}, limits of agreement {} and {}. Differences beyond the drawing lie on its edge.",
        counted(findings.counts.pairs, "pair", "pairs"),
        said(&found.bias_mg_dl),
        said(&found.limits_lower_mg_dl),
        said(&found.limits_upper_mg_dl)
    )
}

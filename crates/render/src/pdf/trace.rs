//! The readings of one sensor as a picture on paper.

use interstice_findings::wear::TraceFacts;
use interstice_glucose::Unit;

use super::paper::{BLACK, DARK, Figure, INNER, LIGHT};
use crate::words::{Shown, short_day};

/// Height of the picture, points; room for its words on the left and below.
pub(super) const HEIGHT: f32 = 128.0;
const LEFT: f32 = 30.0;
const BELOW: f32 = 14.0;
const TOP: f32 = 10.0;
/// Values that stand at the side, mg/dL, and the ones drawn with the values of mmol/L.
const SIDE_MG_DL: [f64; 4] = [70.0, 180.0, 250.0, 350.0];
/// The scale goes from here to at least here, mg/dL.
const LOWEST: f64 = 40.0;
const HIGHEST: f64 = 260.0;
/// Half the size of a check's cross, points.
const CROSS: f32 = 2.6;

/// Draws readings as a line, broken where they were silent, and blood checks as crosses.
pub(super) fn draw(figure: &mut Figure<'_>, trace: &TraceFacts, checks: &[(i64, f64)], shown: Shown) {
    let (Some(&first), Some(&last)) = (trace.at.first(), trace.at.last()) else {
        return;
    };
    let values = trace
        .mg_dl
        .iter()
        .copied()
        .chain(checks.iter().map(|check| check.1));
    let highest = values.fold(HIGHEST, f64::max) + 10.0;
    let span = f64::from(last.max(first + 1) - first);
    let width = f64::from(INNER - LEFT);
    let height = f64::from(HEIGHT - TOP - BELOW);
    let x = |at: f64| LEFT + (width * (at - f64::from(first)) / span) as f32;
    let y = |mg_dl: f64| TOP + (height * (highest - mg_dl.max(LOWEST)) / (highest - LOWEST)) as f32;
    let (right, bottom) = (INNER, HEIGHT - BELOW);
    figure.words((0.0, 7.0), &shown.unit.to_string(), 7.0, 0.0);
    for value in SIDE_MG_DL.into_iter().filter(|&value| value < highest) {
        figure.line(
            &[(LEFT, y(value)), (right, y(value))],
            0.4,
            LIGHT,
            shown.unit == Unit::MgPerDl && value > 200.0,
        );
        figure.words((LEFT - 4.0, y(value) + 2.4), &shown.glucose(value), 7.0, 1.0);
    }
    figure.line(&[(LEFT, TOP), (LEFT, bottom), (right, bottom)], 0.6, DARK, false);
    let mut line: Vec<(f32, f32)> = Vec::new();
    let mut before = first;
    for (&at, &mg_dl) in trace.at.iter().zip(&trace.mg_dl) {
        if at - before > trace.gap_s {
            figure.line(&std::mem::take(&mut line), 0.8, BLACK, false);
        }
        line.push((x(f64::from(at)), y(mg_dl)));
        before = at;
    }
    figure.line(&line, 0.8, BLACK, false);
    for &(at, mg_dl) in checks {
        let (x, y) = (x(at as f64), y(mg_dl));
        figure.line(
            &[(x - CROSS, y - CROSS), (x + CROSS, y + CROSS)],
            1.1,
            BLACK,
            false,
        );
        figure.line(
            &[(x - CROSS, y + CROSS), (x + CROSS, y - CROSS)],
            1.1,
            BLACK,
            false,
        );
    }
    figure.words((LEFT, HEIGHT - 3.0), &short_day(trace.first.0), 7.0, 0.0);
    figure.words((right, HEIGHT - 3.0), &short_day(trace.last.0), 7.0, 1.0);
}

//! Scales: from clock and glucose to places in the drawing.

use std::fmt::Write as _;

use interstice_glucose::{MG_PER_DL_IN_ONE_MMOL_PER_L, Unit};

use crate::words::Shown;

/// Minutes of a day.
pub(crate) const DAY_MIN: u32 = 1440;

/// A day is drawn from six in the morning to six the next morning, so that the night is in one piece.
pub(crate) const FIRST_MIN: u32 = 360;

/// Clock time to place: six in the morning on the left, and a whole day wide.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ClockAxis {
    pub(crate) left: f64,
    pub(crate) width: f64,
}

impl ClockAxis {
    /// Place of a minute since midnight.
    pub(crate) fn x(self, minute: u32) -> f64 {
        self.along(f64::from((minute + DAY_MIN - FIRST_MIN) % DAY_MIN))
    }

    /// Place of minutes after six in the morning, 0 to 1440.
    pub(crate) fn along(self, minutes: f64) -> f64 {
        self.left + self.width * minutes / f64::from(DAY_MIN)
    }

    /// Right end.
    pub(crate) fn right(self) -> f64 {
        self.left + self.width
    }
}

/// Glucose to place, by ratio: the step from 70 to 140 is as high as the step from 140 to 280, so that lows get as
/// much room as highs.
#[derive(Clone, Copy, Debug)]
pub(crate) struct GlucoseAxis {
    pub(crate) top: f64,
    pub(crate) height: f64,
    pub(crate) highest_mg_dl: f64,
}

/// The lowest value drawn, mg/dL.
const LOWEST_MG_DL: f64 = 40.0;

impl GlucoseAxis {
    /// Place of a value; values beyond the axis lie on its edge.
    pub(crate) fn y(self, mg_dl: f64) -> f64 {
        let clamped = mg_dl.clamp(LOWEST_MG_DL, self.highest_mg_dl);
        let share = libm::log(clamped / LOWEST_MG_DL) / libm::log(self.highest_mg_dl / LOWEST_MG_DL);
        self.top + self.height * (1.0 - share)
    }

    /// Bottom edge.
    pub(crate) fn bottom(self) -> f64 {
        self.top + self.height
    }

    /// The top of an axis that holds `highest_mg_dl`.
    pub(crate) fn top_for(highest_mg_dl: f64) -> f64 {
        [300.0, 350.0, 400.0, 500.0]
            .into_iter()
            .find(|&top| highest_mg_dl <= top)
            .unwrap_or(600.0)
    }

    /// Quiet ticks between the edges of the ranges: (mg/dL, label). One too near an edge to stand beside it is left out.
    pub(crate) fn quiet_ticks(self, edges_mg_dl: [f64; 4], shown: Shown) -> Vec<(f64, String)> {
        let ticks: &[f64] = match shown.unit {
            Unit::MgPerDl => &[100.0, 140.0, 180.0, 350.0, 450.0],
            Unit::MmolPerL => &[5.0, 7.0, 10.0, 20.0, 25.0],
        };
        let apart = |mg_dl: f64| {
            let near = |edge: f64| (0.91..1.1).contains(&(mg_dl / edge));
            !edges_mg_dl.into_iter().any(near)
        };
        let factor = if shown.unit == Unit::MgPerDl {
            1.0
        } else {
            MG_PER_DL_IN_ONE_MMOL_PER_L
        };
        ticks
            .iter()
            .map(|tick| tick * factor)
            .filter(|&mg_dl| mg_dl < self.highest_mg_dl * 0.97 && apart(mg_dl))
            .map(|mg_dl| (mg_dl, shown.glucose(mg_dl)))
            .collect()
    }
}

/// A coordinate with one decimal at most, so that the same findings give the same bytes.
pub(crate) fn at(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// A path with one decimal, its strokes relative to each other: half as long as in whole coordinates.
#[derive(Debug, Default)]
pub(crate) struct Pen {
    path: String,
    /// Where it is, in tenths.
    x: i64,
    y: i64,
    /// Whether the last thing written was a stroke, so that the next needs no letter.
    drawing: bool,
}

impl Pen {
    /// Lifts the pen and sets it down at a place.
    pub(crate) fn begin(&mut self, x: f64, y: f64) {
        let _ = write!(self.path, "M{} {}", at(x), at(y));
        (self.x, self.y, self.drawing) = (tenths(x), tenths(y), false);
    }

    /// A stroke to a place.
    pub(crate) fn to(&mut self, x: f64, y: f64) {
        let (x, y) = (tenths(x), tenths(y));
        let (right, down) = (short(x - self.x), short(y - self.y));
        if !self.drawing {
            self.path.push('l');
        } else if !right.starts_with('-') {
            self.path.push(' ');
        }
        self.path.push_str(&right);
        // A sign, or a point after a point, parts two numbers by itself.
        if !(down.starts_with('-') || down.starts_with('.') && right.contains('.')) {
            self.path.push(' ');
        }
        self.path.push_str(&down);
        (self.x, self.y, self.drawing) = (x, y, true);
    }

    /// Back to where it began.
    pub(crate) fn close(&mut self) {
        self.path.push('z');
        self.drawing = false;
    }

    /// The path.
    pub(crate) fn into_path(self) -> String {
        self.path
    }
}

fn tenths(place: f64) -> i64 {
    (place * 10.0).round() as i64
}

/// Tenths as a number without what it can be read without: '.5', '-.5', '12'.
fn short(tenths: i64) -> String {
    let (sign, whole, rest) = (
        if tenths < 0 { "-" } else { "" },
        tenths.abs() / 10,
        tenths.abs() % 10,
    );
    match (whole, rest) {
        (0, 0) => "0".to_owned(),
        (whole, 0) => format!("{sign}{whole}"),
        (0, rest) => format!("{sign}.{rest}"),
        (whole, rest) => format!("{sign}{whole}.{rest}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_night_is_in_one_piece() {
        let axis = ClockAxis {
            left: 0.0,
            width: 1440.0,
        };
        let places: Vec<f64> = [360, 720, 1320, 0, 359].map(|minute| axis.x(minute)).to_vec();
        assert_eq!(places, [0.0, 360.0, 960.0, 1080.0, 1439.0]);
    }

    #[test]
    fn equal_ratios_are_equally_high() {
        let axis = GlucoseAxis {
            top: 0.0,
            height: 300.0,
            highest_mg_dl: 320.0,
        };
        let step = |from: f64, to: f64| axis.y(from) - axis.y(to);
        assert!((step(70.0, 140.0) - step(140.0, 280.0)).abs() < 1e-9);
        assert!((axis.y(20.0) - 300.0).abs() < 1e-9);
    }

    #[test]
    fn quiet_ticks_keep_clear_of_the_edges() {
        let axis = GlucoseAxis {
            top: 0.0,
            height: 300.0,
            highest_mg_dl: 400.0,
        };
        let labels = |edges, unit| -> Vec<String> {
            let ticks = axis.quiet_ticks(edges, Shown { unit });
            ticks.into_iter().map(|tick| tick.1).collect()
        };
        assert_eq!(
            labels([54.0, 70.0, 180.0, 250.0], Unit::MgPerDl),
            ["100", "140", "350"]
        );
        assert_eq!(
            labels([54.0, 63.0, 140.0, 250.0], Unit::MgPerDl),
            ["100", "180", "350"]
        );
        assert_eq!(
            labels([54.0, 63.0, 140.0, 250.0], Unit::MmolPerL),
            ["5.0", "7.0", "10.0", "20.0"]
        );
    }

    /// The grammar of path data in SVG 1.1, 8.3.9, lets a sign or a second point part two numbers.
    #[test]
    fn strokes_are_relative_and_do_not_drift() {
        let mut pen = Pen::default();
        pen.begin(34.0, 56.2);
        pen.to(35.04, 54.8);
        pen.to(36.24, 55.3);
        pen.to(36.24, 55.3);
        pen.to(36.0, 60.3);
        pen.close();
        pen.begin(1.0, 2.0);
        pen.to(1.0, 2.5);
        assert_eq!(pen.into_path(), "M34 56.2l1-1.4 1.2.5 0 0-.2 5zM1 2l0 .5");
        let mut pen = Pen::default();
        pen.begin(0.0, 0.0);
        (1..=3000).for_each(|i| pen.to(f64::from(i) / 3.0, 0.0));
        assert_eq!(pen.x, 10_000, "rounding does not add up");
    }

    #[test]
    fn coordinates_are_short() {
        assert_eq!([at(12.0), at(12.04), at(12.26)], ["12", "12", "12.3"]);
    }
}

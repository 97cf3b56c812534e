//! A plane of two straight scales.

use std::fmt::Write as _;

use interstice_findings::trust::Point;
use interstice_glucose::{MG_PER_DL_IN_ONE_MMOL_PER_L, Unit};
use maud::{Markup, html};

use super::super::axis::at;
use crate::words::Shown;

/// From values to places. Values beyond the plane lie on its edge.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plane {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) across: (f64, f64),
    pub(super) up: (f64, f64),
}

impl Plane {
    pub(super) fn x(self, value: f64) -> f64 {
        let (low, high) = self.across;
        self.left + self.width * (value.clamp(low, high) - low) / (high - low)
    }

    pub(super) fn y(self, value: f64) -> f64 {
        let (low, high) = self.up;
        self.top + self.height * (high - value.clamp(low, high)) / (high - low)
    }

    pub(super) fn right(self) -> f64 {
        self.left + self.width
    }

    pub(super) fn bottom(self) -> f64 {
        self.top + self.height
    }

    /// A level line over the whole width.
    pub(super) fn level(self, value: f64) -> String {
        format!("M{} {}H{}", at(self.left), at(self.y(value)), at(self.right()))
    }

    /// A band between two values over the whole width.
    pub(super) fn band(self, low: f64, high: f64, class: &str) -> Markup {
        let (top, bottom) = (self.y(high), self.y(low));
        html! {
            rect class=(class) x=(at(self.left)) y=(at(top)) width=(at(self.width)) height=(at((bottom - top).max(1.0))) {}
        }
    }

    pub(super) fn frame(self) -> Markup {
        html! {
            rect.frame x=(at(self.left)) y=(at(self.top)) width=(at(self.width)) height=(at(self.height)) {}
        }
    }

    /// Numbers along the left edge, each with its label.
    pub(super) fn numbers_up(self, ticks: &[(f64, String)]) -> Markup {
        html! {
            @for (value, label) in ticks {
                text.end x=(at(self.left - 5.0)) y=(at(self.y(*value) + 4.0)) { (label) }
            }
        }
    }

    /// Numbers along the lower edge.
    pub(super) fn numbers_across(self, ticks: &[(f64, String)]) -> Markup {
        html! {
            @for (value, label) in ticks {
                text.mid x=(at(self.x(*value))) y=(at(self.bottom() + 14.0)) { (label) }
            }
        }
    }

    /// Faint lines at ticks of both scales.
    pub(super) fn rules(self, across: &[(f64, String)], up: &[(f64, String)]) -> Markup {
        let mut path = String::new();
        for (value, _) in across {
            let _ = write!(
                path,
                "M{} {}V{}",
                at(self.x(*value)),
                at(self.top),
                at(self.bottom())
            );
        }
        for (value, _) in up {
            path.push_str(&self.level(*value));
        }
        html! { path.rule d=(path) {} }
    }
}

/// Round glucose values up to `highest_mg_dl` in the wearer's unit: (mg/dL, label).
pub(super) fn glucose_ticks(highest_mg_dl: f64, shown: Shown) -> Vec<(f64, String)> {
    let (step, factor) = match shown.unit {
        Unit::MgPerDl => (100.0, 1.0),
        Unit::MmolPerL => (5.0, MG_PER_DL_IN_ONE_MMOL_PER_L),
    };
    (1..=8)
        .map(|i| f64::from(i) * step)
        .take_while(|value| value * factor <= highest_mg_dl)
        .map(|value| (value * factor, format!("{value:.0}")))
        .collect()
}

/// Round differences either side of zero, `reach_mg_dl` at most: (mg/dL, label).
pub(super) fn difference_ticks(reach_mg_dl: f64, shown: Shown) -> Vec<(f64, String)> {
    let factor = match shown.unit {
        Unit::MgPerDl => 1.0,
        Unit::MmolPerL => MG_PER_DL_IN_ONE_MMOL_PER_L,
    };
    let reach = reach_mg_dl / factor;
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0];
    let step = steps.into_iter().find(|step| reach / step < 4.5).unwrap_or(100.0);
    (-5..=5)
        .map(|i| f64::from(i) * step)
        .filter(|value| value.abs() <= reach)
        .map(|value| {
            let sign = if value > 0.0 {
                "+"
            } else if value < 0.0 {
                "−"
            } else {
                ""
            };
            (value * factor, format!("{sign}{:.0}", value.abs()))
        })
        .collect()
}

/// How far differences reach, mg/dL: all but the furthest two in a hundred, and 40 at least; the rest lie on the edge.
pub(super) fn reach(points: &[Point], also: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = points
        .iter()
        .map(|point| (point.sensor_mg_dl - point.blood_mg_dl).abs())
        .collect();
    sizes.sort_by(f64::total_cmp);
    let most = sizes.get(sizes.len() * 98 / 100).copied().unwrap_or(0.0);
    also.iter().copied().fold(most, f64::max).max(36.0) * 1.1
}

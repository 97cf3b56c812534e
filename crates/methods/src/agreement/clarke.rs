//! The error grid of Clarke.

use super::zone::{Line, Zone};

/// The error grid of Clarke and others 1987, Diabetes Care 10:622–628, by the rules as they are usually coded (from
/// memory, not checked against the paper). With x the blood and y the sensor in mg/dL, tested in this order:
///
/// * A: both at most 70, or y within 20 % of x;
/// * E: x at least 180 and y at most 70, or x at most 70 and y at least 180;
/// * C: x from 70 to 290 and y at least x + 110, or x from 130 to 180 and y at most 1.4 x − 182;
/// * D: x at least 240 and y from 70 to 180, or x at most 175/3 and y from 70 to 180, or x from 175/3 to 70 and y at
///   least 1.2 x;
/// * B: the rest.
///
/// The paper says 'below 70' where most code says 'at most 70', as here. At low values the grid jumps from A to D.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClarkeGrid;

/// Below this blood glucose zone D reaches down to 70 mg/dL: 70 / 1.2.
const LOW_CORNER: f64 = 175.0 / 3.0;

/// Borders as drawn, up to 550 mg/dL.
const LINES: [Line; 11] = [
    Line(&[(0.0, 70.0), (LOW_CORNER, 70.0), (550.0 / 1.2, 550.0)]),
    Line(&[(70.0, 0.0), (70.0, 56.0)]),
    Line(&[(70.0, 56.0), (550.0, 440.0)]),
    Line(&[(70.0, 84.0), (70.0, 550.0)]),
    Line(&[(0.0, 180.0), (70.0, 180.0)]),
    Line(&[(70.0, 180.0), (290.0, 400.0)]),
    Line(&[(290.0, 400.0), (290.0, 550.0)]),
    Line(&[(130.0, 0.0), (180.0, 70.0)]),
    Line(&[(180.0, 0.0), (180.0, 70.0), (550.0, 70.0)]),
    Line(&[(240.0, 70.0), (240.0, 180.0)]),
    Line(&[(240.0, 180.0), (550.0, 180.0)]),
];

impl ClarkeGrid {
    /// The zone of a sensor reading beside a blood value, both in mg/dL.
    pub fn zone(self, blood: f64, sensor: f64) -> Zone {
        let (x, y) = (blood, sensor);
        // A whole percent of a whole number is seldom a binary fraction: without slack 0.8 of 100 misses 80.
        let slack = 1e-9 * x;
        let both_low = x <= 70.0 && y <= 70.0;
        if both_low || (y >= 0.8 * x - slack && y <= 1.2 * x + slack) {
            return Zone::A;
        }
        if (x >= 180.0 && y <= 70.0) || (x <= 70.0 && y >= 180.0) {
            return Zone::E;
        }
        let far_above = (70.0..=290.0).contains(&x) && y >= x + 110.0;
        let far_below = (130.0..=180.0).contains(&x) && y <= 1.4 * x - 182.0 + slack;
        if far_above || far_below {
            return Zone::C;
        }
        let middling = (70.0..=180.0).contains(&y);
        let hidden_high = x >= 240.0 && middling;
        let hidden_low = x <= LOW_CORNER && middling;
        if hidden_high || hidden_low || ((LOW_CORNER..=70.0).contains(&x) && y >= 1.2 * x) {
            return Zone::D;
        }
        Zone::B
    }

    /// Its borders, for drawing.
    pub fn lines(self) -> &'static [Line] {
        &LINES
    }
}

//! The consensus error grid for type 1 diabetes.

use super::zone::{Line, Zone};

/// The consensus error grid (Parkes and others 2000, Diabetes Care 23:1143) for type 1 diabetes, the one ISO
/// 15197:2013 uses, by the corners of Pfützner, Klonoff, Pardo and Parkes 2013, J Diabetes Sci Technol 7:1275–1281
/// (corners from memory, not checked against the paper's table).
///
/// A point on a border belongs to the better zone. Beyond its last corner a border goes on as it was. Where a lower
/// border begins upright, no smaller blood value can lie beyond it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ConsensusGrid;

/// Borders with the sensor above the blood, from A/B outward.
const UPPER: [Line; 4] = [
    Line(&[
        (0.0, 50.0),
        (30.0, 50.0),
        (140.0, 170.0),
        (280.0, 380.0),
        (430.0, 550.0),
    ]),
    Line(&[
        (0.0, 60.0),
        (30.0, 60.0),
        (50.0, 80.0),
        (70.0, 110.0),
        (260.0, 550.0),
    ]),
    Line(&[
        (0.0, 100.0),
        (25.0, 100.0),
        (50.0, 125.0),
        (80.0, 215.0),
        (125.0, 550.0),
    ]),
    Line(&[(0.0, 150.0), (35.0, 155.0), (50.0, 550.0)]),
];

/// Borders with the sensor below the blood, from A/B outward; there is none between D and E.
const LOWER: [Line; 3] = [
    Line(&[
        (50.0, 0.0),
        (50.0, 30.0),
        (170.0, 145.0),
        (385.0, 300.0),
        (550.0, 450.0),
    ]),
    Line(&[(120.0, 0.0), (120.0, 30.0), (260.0, 130.0), (550.0, 250.0)]),
    Line(&[(250.0, 0.0), (250.0, 40.0), (550.0, 150.0)]),
];

impl ConsensusGrid {
    /// The zone of a sensor reading beside a blood value, both in mg/dL.
    pub fn zone(self, blood: f64, sensor: f64) -> Zone {
        let above = UPPER.iter().filter(|line| sensor > height(line.0, blood)).count();
        let below = LOWER
            .iter()
            .filter(|line| blood > line.0[0].0 && sensor < height(&line.0[1..], blood))
            .count();
        Zone::ALL[above.max(below)]
    }

    /// Its borders, for drawing: those above the line of equality, then those below.
    pub fn lines(self) -> impl Iterator<Item = Line> {
        UPPER.into_iter().chain(LOWER)
    }

    /// Borders above the line of equality, from A/B outward.
    pub fn upper(self) -> &'static [Line] {
        &UPPER
    }

    /// Borders below the line of equality, from A/B outward.
    pub fn lower(self) -> &'static [Line] {
        &LOWER
    }
}

/// Height of a border at `x`; the last stretch goes on.
fn height(corners: &[(f64, f64)], x: f64) -> f64 {
    let last = corners.len() - 2;
    let stretch = corners[1..]
        .iter()
        .position(|corner| x <= corner.0)
        .unwrap_or(last);
    let ((x0, y0), (x1, y1)) = (corners[stretch], corners[stretch + 1]);
    y0 + (y1 - y0) * (x - x0) / (x1 - x0)
}

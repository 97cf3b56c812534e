//! HbA1c in its two scales, the average glucose estimated from it, and the glucose management indicator.
//!
//! The first two go from a laboratory HbA1c; the indicator goes from a sensor mean and is never an HbA1c. They are
//! different regressions: one is not the inverse of another.

/// NGSP percent from IFCC mmol/mol: `0.09148 IFCC + 2.152` (NGSP statement; Hoelzel et al. 2004, Clin Chem 50:166).
pub fn ngsp_percent(ifcc_mmol_mol: f64) -> f64 {
    0.09148 * ifcc_mmol_mol + 2.152
}

/// IFCC mmol/mol from NGSP percent: the inverse of [`ngsp_percent`].
pub fn ifcc_mmol_mol(ngsp_percent: f64) -> f64 {
    (ngsp_percent - 2.152) / 0.09148
}

/// Estimated average glucose, mg/dL, from HbA1c in NGSP percent: `28.7 HbA1c - 46.7` (Nathan et al. 2008, Diabetes
/// Care 31:1473, erratum 32:207), worked in tenths so that 6 % gives exactly 125.5.
pub fn estimated_average_glucose_mg_dl(ngsp_percent: f64) -> f64 {
    (287.0 * ngsp_percent - 467.0) / 10.0
}

/// Glucose management indicator, percent: `3.31 + 0.02392 mean` with the mean in mg/dL (Bergenstal et al. 2018,
/// Diabetes Care 41:2275). An estimate; wants about 14 days of readings.
pub fn gmi_percent(mean_mg_dl: f64) -> f64 {
    3.31 + 0.02392 * mean_mg_dl
}

/// Glucose management indicator, mmol/mol: `12.71 + 4.70587 mean` with the mean in mmol/L (same source).
pub fn gmi_mmol_mol(mean_mmol_l: f64) -> f64 {
    12.71 + 4.70587 * mean_mmol_l
}

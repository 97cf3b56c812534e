//! Glucose concentration and its two units.

/// mg/dL in one mmol/L: a tenth of the molar mass of glucose, C6H12O6, 6(12.011) + 12(1.008) + 6(15.999) =
/// 180.156 g/mol (IUPAC standard atomic weights).
pub const MG_PER_DL_IN_ONE_MMOL_PER_L: f64 = 18.0156;

/// The unit a glucose value is said or shown in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unit {
    /// Milligrams per decilitre.
    MgPerDl,
    /// Millimoles per litre.
    MmolPerL,
}

impl Unit {
    /// The unit as it is written beside a number.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::MgPerDl => "mg/dL",
            Unit::MmolPerL => "mmol/L",
        }
    }

    /// Decimals a reading is shown with: none in mg/dL, one in mmol/L.
    pub fn shown_decimals(self) -> usize {
        match self {
            Unit::MgPerDl => 0,
            Unit::MmolPerL => 1,
        }
    }
}

impl std::fmt::Display for Unit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.symbol())
    }
}

/// A glucose concentration. Built and read by unit, so that the two cannot be mixed.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Glucose {
    mg_per_dl: f64,
}

impl Glucose {
    /// From mg/dL.
    pub const fn from_mg_per_dl(mg_per_dl: f64) -> Self {
        Glucose { mg_per_dl }
    }

    /// From mmol/L, by [`MG_PER_DL_IN_ONE_MMOL_PER_L`].
    pub const fn from_mmol_per_l(mmol_per_l: f64) -> Self {
        Glucose {
            mg_per_dl: mmol_per_l * MG_PER_DL_IN_ONE_MMOL_PER_L,
        }
    }

    /// From a number in `unit`.
    pub const fn from_unit(value: f64, unit: Unit) -> Self {
        match unit {
            Unit::MgPerDl => Glucose::from_mg_per_dl(value),
            Unit::MmolPerL => Glucose::from_mmol_per_l(value),
        }
    }

    /// In mg/dL.
    pub const fn mg_per_dl(self) -> f64 {
        self.mg_per_dl
    }

    /// In mmol/L.
    pub const fn mmol_per_l(self) -> f64 {
        self.mg_per_dl / MG_PER_DL_IN_ONE_MMOL_PER_L
    }

    /// In `unit`.
    pub const fn in_unit(self, unit: Unit) -> f64 {
        match unit {
            Unit::MgPerDl => self.mg_per_dl(),
            Unit::MmolPerL => self.mmol_per_l(),
        }
    }

    /// As a reading is shown: '104' or '5.8', rounded half up, without its unit.
    pub fn shown(self, unit: Unit) -> String {
        round_half_up(self.in_unit(unit), unit.shown_decimals())
    }
}

/// `value` with `decimals` decimals, halves away from zero (the habit of clinical print). A billionth is added
/// before rounding so that 125.5, which binary arithmetic may hold as 125.4999…, prints as 126.
pub fn round_half_up(value: f64, decimals: usize) -> String {
    let scale = 10_f64.powi(i32::try_from(decimals).unwrap_or(0));
    let nudged = value * scale + value.signum() * 1e-9;
    // Nought has no sign.
    format!("{:.decimals$}", nudged.round() / scale + 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked from the molar mass above; displayed values are those the consensus papers print beside each
    /// other (Battelino et al. 2019, Diabetes Care 42:1593, tables: 54 = 3.0, 70 = 3.9, 180 = 10.0, 250 = 13.9).
    #[test]
    fn paired_thresholds_show_as_printed() {
        for (mg, mmol) in [
            (54.0, "3.0"),
            (63.0, "3.5"),
            (70.0, "3.9"),
            (140.0, "7.8"),
            (180.0, "10.0"),
            (250.0, "13.9"),
        ] {
            assert_eq!(Glucose::from_mg_per_dl(mg).shown(Unit::MmolPerL), mmol);
        }
    }

    #[test]
    fn halves_round_up_even_when_binary_falls_short() {
        assert_eq!(
            Glucose::from_mg_per_dl(28.7 * 6.0 - 46.7).shown(Unit::MgPerDl),
            "126"
        );
    }

    #[test]
    fn units_round_trip() {
        for tenth in 10..400 {
            let mmol = f64::from(tenth) / 10.0;
            assert!((Glucose::from_mmol_per_l(mmol).mmol_per_l() - mmol).abs() < 1e-12);
        }
    }
}

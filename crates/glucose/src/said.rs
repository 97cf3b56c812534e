//! One glucose value, exactly as the device said it.

use crate::{Glucose, Unit};

/// Whether a value stands at the edge of what the device can measure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Censor {
    /// The device gave a number.
    None,
    /// Below its range; the number kept is the edge (40 mg/dL, say).
    Below,
    /// Above its range; the number kept is the edge.
    Above,
}

/// Why a value cannot be kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SaidError {
    /// More than 18 decimals.
    #[error("more than 18 decimals")]
    TooManyDecimals,
}

/// A glucose value as the device said it: a decimal number, its unit, and whether it is censored.
///
/// The number is `mantissa / 10^decimals`, kept without trailing zeros, so that 8 and 8.0 are the same value and
/// nothing is lost to binary fractions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Said {
    unit: Unit,
    censor: Censor,
    decimals: u8,
    mantissa: i64,
}

impl Said {
    /// From a decimal number.
    ///
    /// # Errors
    /// `TooManyDecimals` beyond 18.
    pub fn new(mantissa: i64, decimals: u8, unit: Unit, censor: Censor) -> Result<Self, SaidError> {
        if decimals > 18 {
            return Err(SaidError::TooManyDecimals);
        }
        let (mut mantissa, mut decimals) = (mantissa, decimals);
        while decimals > 0 && mantissa % 10 == 0 {
            mantissa /= 10;
            decimals -= 1;
        }
        Ok(Said {
            unit,
            censor,
            decimals,
            mantissa,
        })
    }

    /// A whole number of mg/dL that is not censored.
    pub const fn whole_mg_per_dl(value: i64) -> Self {
        Said {
            unit: Unit::MgPerDl,
            censor: Censor::None,
            decimals: 0,
            mantissa: value,
        }
    }

    /// The unit it was said in.
    pub const fn unit(self) -> Unit {
        self.unit
    }

    /// Whether it stands at the edge of the device's range.
    pub const fn censor(self) -> Censor {
        self.censor
    }

    /// The digits of the number without the decimal point.
    pub const fn mantissa(self) -> i64 {
        self.mantissa
    }

    /// Digits after the decimal point, 0 to 18.
    pub const fn decimals(self) -> u8 {
        self.decimals
    }

    /// The number in its own unit. Exact where the mantissa has at most 15 digits, else within one unit in the
    /// last place.
    pub fn number(self) -> f64 {
        self.mantissa as f64 / 10_f64.powi(i32::from(self.decimals))
    }

    /// The concentration.
    pub fn glucose(self) -> Glucose {
        Glucose::from_unit(self.number(), self.unit)
    }

    /// Whether two exports could both be telling of one measurement: equal, or equal after rounding to the
    /// coarser of the two (139 mg/dL and 7.7 mmol/L; 163.4 and 163 mg/dL). Censoring must be the same.
    ///
    /// In one unit the finer value must round to the coarser. Across units the values may differ by half a step of
    /// each, plus the 0.2 % by which factors in use (18, 18.0156, 18.0182) differ.
    pub fn agrees_with(self, other: Said) -> bool {
        if self.censor != other.censor {
            return false;
        }
        if self.unit == other.unit && self.decimals == other.decimals {
            return self.mantissa == other.mantissa;
        }
        let (a, b) = (self.glucose().mg_per_dl(), other.glucose().mg_per_dl());
        let slack = if self.unit == other.unit {
            self.half_step_mg_per_dl().max(other.half_step_mg_per_dl())
        } else {
            // A value converted from the other unit was itself rounded once on the way.
            self.half_step_mg_per_dl().max(other.half_step_mg_per_dl()) + 0.002 * a.abs()
        };
        (a - b).abs() <= slack * (1.0 + 1e-9)
    }

    /// Half of the last decimal place shown, in mg/dL: 0.5 for whole mg/dL, 0.9 for tenths of mmol/L.
    pub fn half_step_mg_per_dl(self) -> f64 {
        Glucose::from_unit(0.5 / 10_f64.powi(i32::from(self.shown_decimals())), self.unit).mg_per_dl()
    }

    /// Decimals the device is taken to show: what is written, and at least one in mmol/L, where a trailing zero
    /// is easily lost.
    fn shown_decimals(self) -> u8 {
        match self.unit {
            Unit::MgPerDl => self.decimals,
            Unit::MmolPerL => self.decimals.max(1),
        }
    }
}

impl std::fmt::Display for Said {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let sign = match self.censor {
            Censor::None => "",
            Censor::Below => "below ",
            Censor::Above => "above ",
        };
        write!(f, "{sign}{} {}", self.number(), self.unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(mantissa: i64, decimals: u8, unit: Unit) -> Said {
        Said::new(mantissa, decimals, unit, Censor::None).unwrap()
    }

    #[test]
    fn trailing_zeros_do_not_make_another_value() {
        assert_eq!(said(80, 1, Unit::MmolPerL), said(8, 0, Unit::MmolPerL));
    }

    #[test]
    fn one_measurement_in_two_units_agrees() {
        assert!(said(139, 0, Unit::MgPerDl).agrees_with(said(77, 1, Unit::MmolPerL)));
        assert!(said(1224, 1, Unit::MgPerDl).agrees_with(said(68, 1, Unit::MmolPerL)));
        assert!(!said(139, 0, Unit::MgPerDl).agrees_with(said(79, 1, Unit::MmolPerL)));
        assert!(said(1634, 1, Unit::MgPerDl).agrees_with(said(163, 0, Unit::MgPerDl)));
        assert!(!said(163, 0, Unit::MgPerDl).agrees_with(said(164, 0, Unit::MgPerDl)));
        assert!(!said(77, 1, Unit::MmolPerL).agrees_with(said(78, 1, Unit::MmolPerL)));
    }

    #[test]
    fn long_binary_fractions_survive() {
        let value = said(11_339_999_999_999_999, 14, Unit::MgPerDl);
        assert!((value.number() - 113.399_999_999_999_99).abs() < 1e-12);
    }
}

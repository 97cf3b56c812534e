//! The short decimal of the profiles: a signed exponent of ten in the upper four bits, a signed mantissa in the lower twelve.

use interstice_glucose::{Censor, Said, Unit};

/// A short decimal, or one of the values that stand for none. The special values are from memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sfloat {
    /// mantissa · 10^exponent, with -2048 ≤ mantissa ≤ 2047 and -8 ≤ exponent ≤ 7.
    Number {
        /// Digits with their sign.
        mantissa: i16,
        /// Power of ten.
        exponent: i8,
    },
    /// Not a number (0x07FF).
    NotANumber,
    /// Not at this resolution (0x0800).
    NotAtThisResolution,
    /// Beyond what can be written, above (0x07FE).
    Above,
    /// The same below (0x0802).
    Below,
    /// Reserved (0x0801).
    Reserved,
}

impl Sfloat {
    /// From sixteen bits.
    pub fn from_bits(bits: u16) -> Self {
        match bits {
            0x07ff => Sfloat::NotANumber,
            0x0800 => Sfloat::NotAtThisResolution,
            0x07fe => Sfloat::Above,
            0x0802 => Sfloat::Below,
            0x0801 => Sfloat::Reserved,
            _ => Sfloat::Number {
                // Both parts are shifted up and back, which spreads their signs.
                mantissa: ((bits << 4) as i16) >> 4,
                exponent: ((bits >> 12 << 4) as u8 as i8) >> 4,
            },
        }
    }

    /// As sixteen bits; `None` of a number out of range, or whose bits stand for none.
    pub fn bits(self) -> Option<u16> {
        let bits = match self {
            Sfloat::NotANumber => 0x07ff,
            Sfloat::NotAtThisResolution => 0x0800,
            Sfloat::Above => 0x07fe,
            Sfloat::Below => 0x0802,
            Sfloat::Reserved => 0x0801,
            Sfloat::Number { mantissa, exponent } => {
                let in_range = (-2048..=2047).contains(&mantissa) && (-8..=7).contains(&exponent);
                let bits = (exponent as u16) << 12 | mantissa as u16 & 0x0fff;
                return (in_range && Sfloat::from_bits(bits) == self).then_some(bits);
            }
        };
        Some(bits)
    }

    /// As glucose exactly as it was said, where `shift` is the power of ten from the record's unit to `unit`. `None` of
    /// what is no number; a value beyond what can be written says so without an edge, so it is none either.
    pub fn said(self, unit: Unit, shift: i8) -> Option<Said> {
        let Sfloat::Number { mantissa, exponent } = self else {
            return None;
        };
        let power = i32::from(exponent) + i32::from(shift);
        let mantissa = i64::from(mantissa);
        let (mantissa, decimals) = match u32::try_from(power) {
            Ok(up) => (mantissa.checked_mul(10_i64.checked_pow(up)?)?, 0),
            Err(_) => (mantissa, u8::try_from(-power).ok()?),
        };
        Said::new(mantissa, decimals, unit, Censor::None).ok()
    }

    /// The other way; `None` where it has more digits than fit.
    pub fn of_said(said: Said, shift: i8) -> Option<Self> {
        let mut exponent = -i32::from(said.decimals()) - i32::from(shift);
        let mut mantissa = said.mantissa();
        while exponent < -8 || !(-2048..=2047).contains(&mantissa) {
            if mantissa % 10 != 0 {
                return None;
            }
            if mantissa == 0 {
                exponent = 0;
                break;
            }
            mantissa /= 10;
            exponent += 1;
        }
        while exponent > 7 {
            mantissa = mantissa.checked_mul(10)?;
            exponent -= 1;
        }
        let number = Sfloat::Number {
            mantissa: i16::try_from(mantissa).ok()?,
            exponent: i8::try_from(exponent).ok()?,
        };
        number.bits().map(|_| number)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked out by hand: the lower twelve bits are the mantissa, the upper four the exponent, both in two's complement.
    #[test]
    fn numbers_worked_out_by_hand() {
        for (bits, mantissa, exponent) in [
            (0x0064, 100, 0),
            (0x00b4, 180, 0),
            (0xf3e8, 1000, -1),
            (0xf019, 25, -1),
            (0xfff1, -15, -1),
            (0x0fff, -1, 0),
            (0x7001, 1, 7),
            (0x8001, 1, -8),
            (0xf7ff, 2047, -1),
            (0xf800, -2048, -1),
        ] {
            let number = Sfloat::Number { mantissa, exponent };
            assert_eq!(Sfloat::from_bits(bits), number, "{bits:#06x}");
            assert_eq!(number.bits(), Some(bits));
        }
    }

    #[test]
    fn every_sixteen_bits_come_back() {
        for bits in 0..=u16::MAX {
            assert_eq!(Sfloat::from_bits(bits).bits(), Some(bits));
        }
        for (mantissa, exponent) in [(2048, 0), (-2049, 0), (1, 8), (1, -9), (2047, 0), (-2046, 0)] {
            assert_eq!(
                Sfloat::Number { mantissa, exponent }.bits(),
                None,
                "{mantissa} {exponent}"
            );
        }
    }

    #[test]
    fn glucose_is_said_exactly() {
        let said = |bits| {
            Sfloat::from_bits(bits)
                .said(Unit::MgPerDl, 0)
                .map(|said| said.to_string())
        };
        assert_eq!(said(0xf3e8).as_deref(), Some("100 mg/dL"));
        assert_eq!(said(0xf019).as_deref(), Some("2.5 mg/dL"));
        assert_eq!(said(0x07ff), None);
        for mantissa in -2048..=2047 {
            for exponent in -8..=7 {
                let number = Sfloat::Number { mantissa, exponent };
                let said = number.said(Unit::MgPerDl, 0).unwrap();
                if let Some(again) = Sfloat::of_said(said, 0) {
                    assert_eq!(again.said(Unit::MgPerDl, 0), Some(said));
                } else {
                    // Only bits that stand for no number cannot be written again.
                    assert!(
                        number.bits().is_none() || mantissa.abs() >= 2046,
                        "{mantissa} {exponent}"
                    );
                }
            }
        }
    }
}

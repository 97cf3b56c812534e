//! The measurement record of a meter (characteristic 0x2A18; the whole layout from memory).
//!
//! ```text
//! flags      u8: bit 0 time offset, bit 1 concentration with type and place, bit 2 mol/L rather than kg/L, bit 3 status,
//!            bit 4 context follows in another record
//! sequence   u16
//! base time  u16 year, then month, day, hours, minutes, seconds, u8 each; the meter's own clock
//! offset     i16, minutes from base time to the time shown, where announced
//! value      SFLOAT, kg/L or mol/L, then type (low four bits) and place (high four), where announced
//! status     u16, where announced
//! ```

use interstice_glucose::{Said, Unit, WallTime};

use super::RecordError;
use super::bytes::Octets;
use super::sfloat::Sfloat;

const OFFSET: u8 = 1;
const VALUE: u8 = 1 << 1;
const MOLES: u8 = 1 << 2;
const STATUS: u8 = 1 << 3;
const CONTEXT: u8 = 1 << 4;
const KNOWN: u8 = OFFSET | VALUE | MOLES | STATUS | CONTEXT;
/// Powers of ten from kg/L to mg/dL, and from mol/L to mmol/L.
const MASS_SHIFT: i8 = 5;
const MOLES_SHIFT: i8 = 3;

/// The meter's clock, as it stands in the record; 0 for a part that is not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BaseTime {
    /// Year.
    pub year: u16,
    /// Month, day, hours, minutes, seconds.
    pub parts: [u8; 5],
}

/// Type of fluid and place it was taken from: two numbers of four bits, not read further here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SampleFrom {
    /// Type of fluid, 0 to 15.
    pub fluid: u8,
    /// Place, 0 to 15.
    pub place: u8,
}

/// One measurement of a meter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GlucoseMeasurement {
    /// Counts up.
    pub sequence: u16,
    /// The meter's clock.
    pub base: BaseTime,
    /// Minutes from it to the time shown to the wearer.
    pub offset_min: Option<i16>,
    /// The value, in kg/L or, where `moles`, in mol/L; and what was measured.
    pub value: Option<(Sfloat, SampleFrom)>,
    /// Whether the value is in mol/L.
    pub moles: bool,
    /// What the meter says of itself.
    pub status: Option<u16>,
    /// Whether a record of context follows.
    pub context_follows: bool,
}

impl GlucoseMeasurement {
    /// The value as it was said, in mg/dL or mmol/L; `None` where the record holds no number.
    pub fn said(&self) -> Option<Said> {
        let (unit, shift) = if self.moles {
            (Unit::MmolPerL, MOLES_SHIFT)
        } else {
            (Unit::MgPerDl, MASS_SHIFT)
        };
        let (value, _) = self.value?;
        value.said(unit, shift).filter(|said| said.mantissa() >= 0)
    }

    /// The time on the wall the wearer was shown; `None` where the clock holds no date.
    pub fn wall(&self) -> Option<WallTime> {
        let [month, day, hours, minutes, seconds] = self.base.parts;
        if hours > 23 || minutes > 59 || seconds > 59 {
            return None;
        }
        let second = i64::from(hours) * 3600 + i64::from(minutes) * 60 + i64::from(seconds);
        let year = i16::try_from(self.base.year).ok()?;
        let base = WallTime::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?, second)?;
        Some(WallTime(base.0 + 60 * i64::from(self.offset_min.unwrap_or(0))))
    }

    /// Reads a record.
    ///
    /// # Errors
    /// Any of [`RecordError`].
    pub fn decode(bytes: &[u8]) -> Result<Self, RecordError> {
        let mut octets = Octets::new(bytes);
        let flags = octets.u8()?;
        if flags & !KNOWN != 0 {
            return Err(RecordError::Value("a flag that is kept for later"));
        }
        let has = |flag: u8| flags & flag != 0;
        let sequence = octets.u16()?;
        let year = octets.u16()?;
        let mut parts = [0; 5];
        for part in &mut parts {
            *part = octets.u8()?;
        }
        let offset_min = has(OFFSET).then(|| octets.i16()).transpose()?;
        let value = if has(VALUE) {
            let value = Sfloat::from_bits(octets.u16()?);
            let from = octets.u8()?;
            let from = SampleFrom {
                fluid: from & 0x0f,
                place: from >> 4,
            };
            Some((value, from))
        } else {
            None
        };
        let status = has(STATUS).then(|| octets.u16()).transpose()?;
        if octets.taken() != bytes.len() {
            return Err(RecordError::Size {
                said: bytes.len(),
                announced: octets.taken(),
            });
        }
        Ok(GlucoseMeasurement {
            sequence,
            base: BaseTime { year, parts },
            offset_min,
            value,
            moles: has(MOLES),
            status,
            context_follows: has(CONTEXT),
        })
    }

    /// The record's octets.
    ///
    /// # Errors
    /// `Value` where a number cannot be written.
    pub fn encode(&self) -> Result<Vec<u8>, RecordError> {
        let flag = |there: bool, flag: u8| if there { flag } else { 0 };
        let flags = flag(self.offset_min.is_some(), OFFSET)
            | flag(self.value.is_some(), VALUE)
            | flag(self.moles, MOLES)
            | flag(self.status.is_some(), STATUS)
            | flag(self.context_follows, CONTEXT);
        let mut bytes = vec![flags];
        bytes.extend(self.sequence.to_le_bytes());
        bytes.extend(self.base.year.to_le_bytes());
        bytes.extend(self.base.parts);
        if let Some(offset) = self.offset_min {
            bytes.extend(offset.to_le_bytes());
        }
        if let Some((value, from)) = self.value {
            let bits = value.bits().ok_or(RecordError::Value("this concentration"))?;
            if from.fluid > 15 || from.place > 15 {
                return Err(RecordError::Value("a type or place beyond 15"));
            }
            bytes.extend(bits.to_le_bytes());
            bytes.push(from.place << 4 | from.fluid);
        }
        if let Some(status) = self.status {
            bytes.extend(status.to_le_bytes());
        }
        Ok(bytes)
    }
}

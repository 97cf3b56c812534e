//! What a continuous sensor says of itself and of its session: features (0x2AA8), status (0x2AA9), start of the session
//! (0x2AAA).
//!
//! ```text
//! features  24 bits, of which bit 12 announces checksums (from memory); an octet of type and place; u16 checksum, 0xFFFF
//!           where none are in use
//! status    u16 minutes since the session began, three octets as in a record, checksum where announced
//! start     u16 year, then month, day, hours, minutes, seconds, u8 each; i8 zone in quarters of an hour, -128 where it is
//!           not known; u8 daylight saving: 0, 2, 4 or 8 quarters of an hour, 255 where it is not known; checksum where announced
//!           (layout from memory)
//! ```

use interstice_glucose::{Second, WallTime};

use super::RecordError;
use super::bytes::Octets;
use super::cgm::SensorStatus;
use super::crc::crc;

const CHECKSUMS: u32 = 1 << 12;
const QUARTER_S: i64 = 900;
const ZONE_UNKNOWN: i8 = -128;
/// The zones that there may be: 12 hours behind to 14 ahead.
const ZONES: std::ops::RangeInclusive<i8> = -48..=56;
const DAYLIGHT: [u8; 4] = [0, 2, 4, 8];

/// What a sensor can do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CgmFeatures {
    /// Its 24 bits.
    pub bits: u32,
    /// Type of fluid and place, four bits each.
    pub type_and_place: u8,
}

impl CgmFeatures {
    /// Whether its records end in a checksum.
    pub fn with_checksum(self) -> bool {
        self.bits & CHECKSUMS != 0
    }

    /// Reads the characteristic.
    ///
    /// # Errors
    /// Any of [`RecordError`].
    pub fn decode(bytes: &[u8]) -> Result<Self, RecordError> {
        let mut octets = Octets::new(bytes);
        let bits = u32::from(octets.u16()?) | u32::from(octets.u8()?) << 16;
        let it = CgmFeatures {
            bits,
            type_and_place: octets.u8()?,
        };
        finish(bytes, octets, it.with_checksum(), true)?;
        Ok(it)
    }

    /// The characteristic's octets.
    pub fn encode(self) -> Vec<u8> {
        let mut bytes = self.bits.to_le_bytes()[..3].to_vec();
        bytes.push(self.type_and_place);
        let checksum = if self.with_checksum() {
            crc(&bytes)
        } else {
            u16::MAX
        };
        bytes.extend(checksum.to_le_bytes());
        bytes
    }
}

/// Where a session is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CgmStatus {
    /// Minutes since it began.
    pub offset_min: u16,
    /// What the sensor says of itself; all three are sent.
    pub status: SensorStatus,
}

impl CgmStatus {
    /// Reads the characteristic.
    ///
    /// # Errors
    /// Any of [`RecordError`].
    pub fn decode(bytes: &[u8], with_checksum: bool) -> Result<Self, RecordError> {
        let mut octets = Octets::new(bytes);
        let offset_min = octets.u16()?;
        let status = SensorStatus {
            status: Some(octets.u8()?),
            calibration: Some(octets.u8()?),
            warning: Some(octets.u8()?),
        };
        finish(bytes, octets, with_checksum, with_checksum)?;
        Ok(CgmStatus { offset_min, status })
    }

    /// The characteristic's octets.
    pub fn encode(self, with_checksum: bool) -> Vec<u8> {
        let mut bytes = self.offset_min.to_le_bytes().to_vec();
        let it = self.status;
        bytes.extend([it.status, it.calibration, it.warning].map(Option::unwrap_or_default));
        sealed(bytes, with_checksum)
    }
}

/// When a session began, by the sensor's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SessionStart {
    /// Year; 0 where it is not known.
    pub year: u16,
    /// Month, day, hours, minutes, seconds.
    pub parts: [u8; 5],
    /// Quarters of an hour ahead of universal time, without daylight saving.
    pub zone_quarters: i8,
    /// Quarters of an hour of daylight saving.
    pub daylight_quarters: u8,
}

impl SessionStart {
    /// The instant; `None` where the sensor does not know it whole.
    pub fn instant(self) -> Option<Second> {
        let [month, day, hours, minutes, seconds] = self.parts;
        let is_known = self.zone_quarters != ZONE_UNKNOWN
            && ZONES.contains(&self.zone_quarters)
            && DAYLIGHT.contains(&self.daylight_quarters);
        if !is_known || hours > 23 || minutes > 59 || seconds > 59 {
            return None;
        }
        let second = i64::from(hours) * 3600 + i64::from(minutes) * 60 + i64::from(seconds);
        let year = i16::try_from(self.year).ok().filter(|year| *year > 0)?;
        let wall = WallTime::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?, second)?;
        let ahead = i64::from(self.zone_quarters) + i64::from(self.daylight_quarters);
        Some(wall.0 - QUARTER_S * ahead)
    }

    /// Reads the characteristic.
    ///
    /// # Errors
    /// Any of [`RecordError`].
    pub fn decode(bytes: &[u8], with_checksum: bool) -> Result<Self, RecordError> {
        let mut octets = Octets::new(bytes);
        let year = octets.u16()?;
        let mut parts = [0; 5];
        for part in &mut parts {
            *part = octets.u8()?;
        }
        let zone_quarters = i8::from_le_bytes([octets.u8()?]);
        let daylight_quarters = octets.u8()?;
        finish(bytes, octets, with_checksum, with_checksum)?;
        Ok(SessionStart {
            year,
            parts,
            zone_quarters,
            daylight_quarters,
        })
    }

    /// The characteristic's octets.
    pub fn encode(self, with_checksum: bool) -> Vec<u8> {
        let mut bytes = self.year.to_le_bytes().to_vec();
        bytes.extend(self.parts);
        bytes.extend(self.zone_quarters.to_le_bytes());
        bytes.push(self.daylight_quarters);
        sealed(bytes, with_checksum)
    }
}

fn sealed(mut bytes: Vec<u8>, with_checksum: bool) -> Vec<u8> {
    if with_checksum {
        bytes.extend(crc(&bytes).to_le_bytes());
    }
    bytes
}

/// The end of a characteristic: a checksum that must hold, two octets that are there for none, or nothing.
fn finish(
    bytes: &[u8],
    mut octets: Octets<'_>,
    with_checksum: bool,
    has_place: bool,
) -> Result<(), RecordError> {
    let body = octets.taken();
    if has_place {
        let said = octets.u16()?;
        if with_checksum && said != crc(&bytes[..body]) {
            return Err(RecordError::Checksum);
        }
    }
    if octets.taken() != bytes.len() {
        return Err(RecordError::Size {
            said: bytes.len(),
            announced: octets.taken(),
        });
    }
    Ok(())
}

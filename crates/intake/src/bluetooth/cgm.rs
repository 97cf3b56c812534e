//! The measurement record of a continuous sensor (characteristic 0x2AA7).
//!
//! ```text
//! size       u8, at least 6, counts itself and the checksum
//! flags      u8: bit 0 trend, bit 1 quality, bit 5 warning octet, bit 6 calibration and temperature octet,
//!            bit 7 status octet (bits from memory)
//! glucose    SFLOAT, mg/dL
//! offset     u16, minutes since the session began
//! status, calibration and temperature, warning: an octet each, where announced
//! trend      SFLOAT, mg/dL a minute, where announced (unit from memory)
//! quality    SFLOAT, percent, where announced (unit from memory)
//! checksum   u16, where the sensor's features announce it
//! ```

use interstice_glucose::{Said, Second, Unit};

use super::RecordError;
use super::bytes::Octets;
use super::crc::crc;
use super::sfloat::Sfloat;

const TREND: u8 = 1;
const QUALITY: u8 = 1 << 1;
const WARNING: u8 = 1 << 5;
const CALIBRATION: u8 = 1 << 6;
const STATUS: u8 = 1 << 7;
const KNOWN: u8 = TREND | QUALITY | WARNING | CALIBRATION | STATUS;
const SMALLEST: usize = 6;

/// What a sensor says of itself beside a value: an octet each, `None` where it was not sent. Their bits are not read here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SensorStatus {
    /// Session and device.
    pub status: Option<u8>,
    /// Calibration and temperature.
    pub calibration: Option<u8>,
    /// Values beyond limits.
    pub warning: Option<u8>,
}

/// One measurement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CgmMeasurement {
    /// Glucose, mg/dL.
    pub glucose: Sfloat,
    /// Minutes since the session began.
    pub offset_min: u16,
    /// What the sensor says of itself.
    pub status: SensorStatus,
    /// Trend, mg/dL a minute.
    pub trend: Option<Sfloat>,
    /// Quality, percent.
    pub quality: Option<Sfloat>,
}

impl CgmMeasurement {
    /// Glucose as it was said; `None` where the record holds no number.
    pub fn said(&self) -> Option<Said> {
        self.glucose
            .said(Unit::MgPerDl, 0)
            .filter(|said| said.mantissa() >= 0)
    }

    /// When, for a session that began at `start`.
    pub fn at(&self, start: Second) -> Second {
        start.saturating_add(60 * Second::from(self.offset_min))
    }

    /// Reads the record at the beginning of `bytes`, and answers how many octets it has.
    ///
    /// * `with_checksum`: whether the sensor's features announce one.
    ///
    /// # Errors
    /// Any of [`RecordError`].
    pub fn decode(bytes: &[u8], with_checksum: bool) -> Result<(Self, usize), RecordError> {
        let size = usize::from(*bytes.first().ok_or(RecordError::TooShort {
            needed: SMALLEST,
            there: 0,
        })?);
        let record = bytes
            .get(..size)
            .filter(|_| size >= SMALLEST)
            .ok_or(RecordError::TooShort {
                needed: size.max(SMALLEST),
                there: bytes.len().min(size),
            })?;
        let checksum_at = size - if with_checksum { 2 } else { 0 };
        let mut octets = Octets::new(&record[1..]);
        let flags = octets.u8()?;
        if flags & !KNOWN != 0 {
            return Err(RecordError::Value("a flag that is kept for later"));
        }
        let glucose = Sfloat::from_bits(octets.u16()?);
        let offset_min = octets.u16()?;
        let mut octet = |flag: u8| (flags & flag != 0).then(|| octets.u8()).transpose();
        let status = SensorStatus {
            status: octet(STATUS)?,
            calibration: octet(CALIBRATION)?,
            warning: octet(WARNING)?,
        };
        let mut number = |flag: u8| {
            (flags & flag != 0)
                .then(|| octets.u16().map(Sfloat::from_bits))
                .transpose()
        };
        let (trend, quality) = (number(TREND)?, number(QUALITY)?);
        let announced = octets.taken() + 1;
        if announced != checksum_at {
            return Err(RecordError::Size {
                said: size,
                announced: announced + size - checksum_at,
            });
        }
        if with_checksum && octets.u16()? != crc(&record[..checksum_at]) {
            return Err(RecordError::Checksum);
        }
        let it = CgmMeasurement {
            glucose,
            offset_min,
            status,
            trend,
            quality,
        };
        Ok((it, size))
    }

    /// The record's octets.
    ///
    /// # Errors
    /// `Value` where a number cannot be written.
    pub fn encode(&self, with_checksum: bool) -> Result<Vec<u8>, RecordError> {
        let bits = |number: Sfloat, what| number.bits().ok_or(RecordError::Value(what));
        let mut bytes = vec![0, 0];
        bytes.extend(bits(self.glucose, "this glucose")?.to_le_bytes());
        bytes.extend(self.offset_min.to_le_bytes());
        let status = [
            (self.status.status, STATUS),
            (self.status.calibration, CALIBRATION),
            (self.status.warning, WARNING),
        ];
        for (octet, flag) in status {
            if let Some(octet) = octet {
                bytes[1] |= flag;
                bytes.push(octet);
            }
        }
        for (number, flag) in [(self.trend, TREND), (self.quality, QUALITY)] {
            if let Some(number) = number {
                bytes[1] |= flag;
                bytes.extend(bits(number, "this trend or quality")?.to_le_bytes());
            }
        }
        let size = bytes.len() + if with_checksum { 2 } else { 0 };
        bytes[0] = u8::try_from(size).map_err(|_| RecordError::Value("a record of this size"))?;
        if with_checksum {
            bytes.extend(crc(&bytes).to_le_bytes());
        }
        Ok(bytes)
    }
}

/// All records of one notification, which may hold several.
///
/// # Errors
/// As [`CgmMeasurement::decode`]; then none of them is given.
pub fn cgm_measurements(bytes: &[u8], with_checksum: bool) -> Result<Vec<CgmMeasurement>, RecordError> {
    let mut all = Vec::new();
    let mut rest = bytes;
    while !rest.is_empty() {
        let (record, size) = CgmMeasurement::decode(rest, with_checksum)?;
        all.push(record);
        rest = &rest[size..];
    }
    Ok(all)
}

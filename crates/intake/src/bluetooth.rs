//! Glucose records as the public Bluetooth profiles lay them out: bytes to records and back. Nothing here opens a radio.
//!
//! Sources: Continuous Glucose Monitoring Service 1.0.2 (order and size of the measurement record, its checksum, SFLOAT);
//! the bits of its flags, the units of trend and quality, the special values of SFLOAT (IEEE 11073-20601) and the glucose
//! measurement record of the Glucose Service 1.0 are from memory and marked so where they stand. The vectors of the tests are
//! worked out by hand from those layouts.

mod bytes;
mod cgm;
mod crc;
mod glucose;
mod rows;
mod session;
mod sfloat;
mod stored;

pub use cgm::{CgmMeasurement, SensorStatus, cgm_measurements};
pub use glucose::{BaseTime, GlucoseMeasurement, SampleFrom};
pub use rows::readings_of;
pub use session::{CgmFeatures, CgmStatus, SessionStart};
pub use sfloat::Sfloat;
pub use stored::{StoredAnswer, StoredAsk};

/// Why bytes are no record, and what to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum RecordError {
    /// The bytes end before the record does.
    #[error("a record of {needed} octets where {there} are there; ask for it again")]
    TooShort {
        /// Octets it needs.
        needed: usize,
        /// Octets there are.
        there: usize,
    },
    /// The record's own size is not that of the fields its flags announce.
    #[error("a record says that it has {said} octets, and its flags announce {announced}; ask for it again")]
    Size {
        /// By its size.
        said: usize,
        /// By its flags.
        announced: usize,
    },
    /// The checksum is not that of the octets before it.
    #[error("the checksum differs: the record was damaged on its way; ask for it again")]
    Checksum,
    /// A value no record of this kind can have.
    #[error("{0} cannot stand in such a record")]
    Value(&'static str),
}

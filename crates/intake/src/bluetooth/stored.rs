//! Asking a sensor for the records it stored, through its record access control point (0x2A52). All from memory, but for the
//! filter by time offset, which the sensor service names in place of a sequence number.
//!
//! ```text
//! report     01, operator, filter and its value
//! count      04, operator, filter and its value
//! operator   01 all, 03 greater than or equal
//! filter     01 minutes since the session began, then u16
//! answers    05 00 u16 count; 06 00 what was asked, how it went: 01 done, 06 none of the kind
//! ```

use super::RecordError;
use super::bytes::Octets;

const REPORT: u8 = 1;
const COUNT: u8 = 4;
const COUNTED: u8 = 5;
const ANSWER: u8 = 6;
const ALL: u8 = 1;
const FROM: u8 = 3;
const BY_OFFSET: u8 = 1;
const DONE: u8 = 1;
const NOTHING: u8 = 6;

/// What is asked of what a sensor stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StoredAsk {
    /// Only how many there are, not the records.
    pub only_count: bool,
    /// From this minute of the session on; `None` for all.
    pub from_min: Option<u16>,
}

impl StoredAsk {
    /// The octets to write.
    pub fn encode(self) -> Vec<u8> {
        let what = if self.only_count { COUNT } else { REPORT };
        match self.from_min {
            None => vec![what, ALL],
            Some(from) => {
                let [low, high] = from.to_le_bytes();
                vec![what, FROM, BY_OFFSET, low, high]
            }
        }
    }

    /// What a sensor reads in them.
    ///
    /// # Errors
    /// `TooShort`, `Value`.
    pub fn decode(bytes: &[u8]) -> Result<Self, RecordError> {
        let mut octets = Octets::new(bytes);
        let only_count = match octets.u8()? {
            REPORT => false,
            COUNT => true,
            _ => return Err(RecordError::Value("this request")),
        };
        let from_min = match octets.u8()? {
            ALL => None,
            FROM if octets.u8()? == BY_OFFSET => Some(octets.u16()?),
            _ => return Err(RecordError::Value("this operator or filter")),
        };
        Ok(StoredAsk { only_count, from_min })
    }
}

/// What a sensor answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StoredAnswer {
    /// So many.
    Count(u16),
    /// All were sent.
    Done,
    /// There are none.
    Nothing,
    /// It will not or cannot; its code.
    Refused(u8),
}

impl StoredAnswer {
    /// Reads an answer.
    ///
    /// # Errors
    /// `TooShort`, `Value`.
    pub fn decode(bytes: &[u8]) -> Result<Self, RecordError> {
        let mut octets = Octets::new(bytes);
        let kind = octets.u8()?;
        octets.u8()?;
        match kind {
            COUNTED => Ok(StoredAnswer::Count(octets.u16()?)),
            ANSWER => {
                octets.u8()?;
                Ok(match octets.u8()? {
                    DONE => StoredAnswer::Done,
                    NOTHING => StoredAnswer::Nothing,
                    code => StoredAnswer::Refused(code),
                })
            }
            _ => Err(RecordError::Value("this answer")),
        }
    }

    /// The octets a sensor sends to a request for records.
    pub fn encode(self) -> Vec<u8> {
        match self {
            StoredAnswer::Count(count) => {
                let [low, high] = count.to_le_bytes();
                vec![COUNTED, 0, low, high]
            }
            StoredAnswer::Done => vec![ANSWER, 0, REPORT, DONE],
            StoredAnswer::Nothing => vec![ANSWER, 0, REPORT, NOTHING],
            StoredAnswer::Refused(code) => vec![ANSWER, 0, REPORT, code],
        }
    }
}

//! Octets one after another, low octet first.

use super::RecordError;

pub(super) struct Octets<'a> {
    all: &'a [u8],
    next: usize,
}

impl<'a> Octets<'a> {
    pub(super) fn new(all: &'a [u8]) -> Self {
        Octets { all, next: 0 }
    }

    pub(super) fn taken(&self) -> usize {
        self.next
    }

    pub(super) fn u8(&mut self) -> Result<u8, RecordError> {
        let octet = self.all.get(self.next).copied().ok_or(RecordError::TooShort {
            needed: self.next + 1,
            there: self.all.len(),
        })?;
        self.next += 1;
        Ok(octet)
    }

    pub(super) fn u16(&mut self) -> Result<u16, RecordError> {
        Ok(u16::from_le_bytes([self.u8()?, self.u8()?]))
    }

    pub(super) fn i16(&mut self) -> Result<i16, RecordError> {
        Ok(i16::from_le_bytes([self.u8()?, self.u8()?]))
    }
}

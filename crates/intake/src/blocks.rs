//! A text in blocks of whole records.

use std::io::{self, Read};

use crate::records::last_record_end;

/// Bytes of a block. Small enough to stay in a core's cache between reading and parsing.
pub(crate) const BLOCK: usize = 1 << 20;
/// Longest record; a longer line is no record of readings.
const LONGEST_RECORD: usize = 8 << 20;

/// Why a text could not be cut into blocks.
#[derive(Debug)]
pub(crate) enum BlockError {
    Io(io::Error),
    /// A line beyond [`LONGEST_RECORD`].
    LongLine,
}

impl From<io::Error> for BlockError {
    fn from(error: io::Error) -> Self {
        BlockError::Io(error)
    }
}

/// Reads a text, hands out blocks, takes back what was handed out too early.
pub(crate) struct Blocks {
    reader: Box<dyn Read + Send>,
    /// Read and not yet handed out.
    front: Vec<u8>,
    ended: bool,
    handed: u64,
}

impl Blocks {
    pub(crate) fn new(reader: Box<dyn Read + Send>) -> Self {
        Blocks {
            reader,
            front: Vec::new(),
            ended: false,
            handed: 0,
        }
    }

    /// Up to `size` bytes that come next, without taking them. Fewer only at the end of the text.
    pub(crate) fn peek(&mut self, size: usize) -> Result<&[u8], BlockError> {
        self.fill(size)?;
        Ok(&self.front[..self.front.len().min(size)])
    }

    /// Whether `peek` showed all there is.
    pub(crate) fn ends_within(&mut self, size: usize) -> Result<bool, BlockError> {
        self.fill(size + 1)?;
        Ok(self.front.len() <= size)
    }

    /// Bytes handed out so far.
    pub(crate) fn handed(&self) -> u64 {
        self.handed
    }

    /// The next block; `None` at the end. The last record of the text may lack its line end.
    pub(crate) fn next(&mut self, delimiter: u8) -> Result<Option<Vec<u8>>, BlockError> {
        let mut size = BLOCK;
        loop {
            self.fill(size)?;
            if self.front.is_empty() {
                return Ok(None);
            }
            let window = self.front.len().min(size);
            let is_all = self.ended && window == self.front.len();
            if is_all {
                self.handed += window as u64;
                return Ok(Some(std::mem::take(&mut self.front)));
            }
            if let Some(end) = last_record_end(&self.front[..window], delimiter) {
                let rest = self.front[end..].to_vec();
                let mut block = std::mem::replace(&mut self.front, rest);
                block.truncate(end);
                self.handed += end as u64;
                return Ok(Some(block));
            }
            if size >= LONGEST_RECORD {
                return Err(BlockError::LongLine);
            }
            size *= 2;
        }
    }

    /// Takes bytes back, to be handed out again first.
    pub(crate) fn unread(&mut self, mut bytes: Vec<u8>) {
        self.handed = self.handed.saturating_sub(bytes.len() as u64);
        bytes.append(&mut self.front);
        self.front = bytes;
    }

    fn fill(&mut self, size: usize) -> Result<(), BlockError> {
        while self.front.len() < size && !self.ended {
            let want = size - self.front.len();
            self.front.reserve(want);
            let read = (&mut self.reader)
                .take(want as u64)
                .read_to_end(&mut self.front)?;
            self.ended = read < want;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn blocks(text: Vec<u8>) -> Blocks {
        Blocks::new(Box::new(io::Cursor::new(text)))
    }

    #[test]
    fn every_byte_comes_out_once_in_whole_records() {
        let text: Vec<u8> = (0..300_000)
            .flat_map(|i| format!("{i},\"a\nb\"\n").into_bytes())
            .collect();
        let mut source = blocks(text.clone());
        let mut out = Vec::new();
        while let Some(block) = source.next(b',').unwrap() {
            assert!(block.ends_with(b"\"\n"));
            out.extend(block);
        }
        assert_eq!(out, text);
        assert_eq!(source.handed(), text.len() as u64);
    }

    #[test]
    fn taken_back_comes_first() {
        let mut source = blocks(b"a\nb\n".to_vec());
        let block = source.next(b',').unwrap().unwrap();
        source.unread(block[2..].to_vec());
        assert_eq!(source.next(b',').unwrap().as_deref(), Some(&b"b\n"[..]));
        assert_eq!(source.next(b',').unwrap(), None);
    }

    #[test]
    fn a_line_without_end_is_refused_in_bounded_memory() {
        let mut source = Blocks::new(Box::new(io::repeat(b'x')));
        assert!(matches!(source.next(b','), Err(BlockError::LongLine)));
        assert!(source.front.capacity() <= 4 * LONGEST_RECORD);
    }
}

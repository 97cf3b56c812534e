//! Files as they are written, with their digests.

use serde::Serialize;
use sha2::{Digest, Sha256};

use crate::digest::hex;
use crate::export::DoorError;
use crate::manifest::FileWritten;
use crate::sink::Sink;

/// A sink and what went into it.
pub(crate) struct Files<'a> {
    sink: &'a mut dyn Sink,
    pub(crate) written: Vec<FileWritten>,
}

impl<'a> Files<'a> {
    pub(crate) fn new(sink: &'a mut dyn Sink) -> Self {
        Files {
            sink,
            written: Vec::new(),
        }
    }

    /// One file; `rows` are what it tells of.
    pub(crate) fn put(&mut self, path: &str, rows: usize, bytes: &[u8]) -> Result<FileWritten, DoorError> {
        self.sink.put(path, bytes).map_err(|source| DoorError::Write {
            path: path.to_owned(),
            source,
        })?;
        let file = FileWritten {
            path: path.to_owned(),
            rows: rows as u64,
            bytes: bytes.len() as u64,
            sha256: hex(&Sha256::digest(bytes)),
        };
        self.written.push(file.clone());
        Ok(file)
    }

    /// A JSON document.
    pub(crate) fn json(&mut self, path: &str, rows: usize, it: &impl Serialize) -> Result<(), DoorError> {
        let bytes =
            serde_json::to_vec(it).map_err(|error| DoorError::Table("document", error.to_string()))?;
        self.put(path, rows, &bytes).map(|_| ())
    }
}

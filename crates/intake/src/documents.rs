//! Documents as JSON, of published standards and of our own: what they measured becomes a draft like any table's.
//!
//! Known by their contents: FHIR by `resourceType`, Open mHealth by `schema_id` or the name of what was measured, our own
//! by `glucose` and `at`. One value a file, a list of them, or one after another. What is not a measurement kept here is
//! counted and told, never dropped in silence.

mod fhir;
mod omh;
mod push;
mod taking;

use std::io::Read;
use std::path::Path;

use serde_json::value::RawValue;

use crate::api::{Hints, IntakeError, Outcome, Progress};

pub(crate) use push::BELIEVED_MG_PER_DL;
use taking::Taking;

/// Bytes in which a document says what it is.
const HEAD: usize = 1 << 16;
/// The largest file that is read whole.
const LARGEST: u64 = 1 << 30;

/// A standard, or our own way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Standard {
    Fhir,
    OpenMHealth,
    Push,
}

impl Standard {
    fn name(self) -> &'static str {
        match self {
            Standard::Fhir => "FHIR R4",
            Standard::OpenMHealth => "Open mHealth",
            Standard::Push => "reading",
        }
    }
}

/// Which standard these first bytes are of.
pub(crate) fn standard(head: &[u8]) -> Option<Standard> {
    let head = &head[..head.len().min(HEAD)];
    let text = head
        .strip_prefix(b"\xef\xbb\xbf")
        .unwrap_or(head)
        .trim_ascii_start();
    if !matches!(text.first(), Some(b'{' | b'[')) {
        return None;
    }
    let holds = |word: &[u8]| memchr::memmem::find(text, word).is_some();
    if holds(b"\"resourceType\"") {
        Some(Standard::Fhir)
    } else if holds(b"\"schema_id\"") || holds(b"\"blood_glucose\"") {
        Some(Standard::OpenMHealth)
    } else if holds(b"\"glucose\"") && holds(b"\"at\"") {
        Some(Standard::Push)
    } else {
        None
    }
}

/// Which standard a file on disk is of; `None` also where it cannot be opened, which the common road tells.
pub(crate) fn standard_of(path: &Path) -> Option<Standard> {
    let mut head = Vec::new();
    let file = std::fs::File::open(path).ok()?;
    file.take(HEAD as u64).read_to_end(&mut head).ok()?;
    standard(&head)
}

/// Reads a document on disk whole.
pub(crate) fn read_path(
    name: &str,
    path: &Path,
    standard: Standard,
    hints: &Hints,
    progress: &mut dyn Progress,
) -> Result<Outcome, IntakeError> {
    let open = |source| IntakeError::Open {
        path: path.to_owned(),
        source,
    };
    let file = std::fs::File::open(path).map_err(open)?;
    if file.metadata().map_err(open)?.len() > LARGEST {
        return Err(IntakeError::NotATable {
            what: format!("{name} is larger than a gigabyte"),
            next: "export it in parts, a year at a time".to_owned(),
        });
    }
    let mut bytes = Vec::new();
    file.take(LARGEST).read_to_end(&mut bytes).map_err(open)?;
    read(name, &bytes, standard, hints, progress)
}

/// Reads a document whole.
pub(crate) fn read(
    name: &str,
    bytes: &[u8],
    standard: Standard,
    hints: &Hints,
    progress: &mut dyn Progress,
) -> Result<Outcome, IntakeError> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut taking = Taking::new(hints, progress, bytes.len() as u64);
    let values = serde_json::Deserializer::from_slice(bytes).into_iter::<&RawValue>();
    for value in values {
        let value = value.map_err(|error| IntakeError::NotATable {
            what: format!("{name} is not whole JSON ({error})"),
            next: "it may be damaged or cut short: download or export it again".to_owned(),
        })?;
        for one in one_by_one(value) {
            match standard {
                Standard::Fhir => fhir::take(&mut taking, one)?,
                Standard::OpenMHealth => omh::take(&mut taking, one)?,
                Standard::Push => push::take(&mut taking, one)?,
            }
        }
    }
    taking.finish(name, standard.name())
}

/// The values of a list; what is no list is one value.
fn one_by_one(value: &RawValue) -> Vec<&RawValue> {
    serde_json::from_str(value.get()).unwrap_or_else(|_| vec![value])
}

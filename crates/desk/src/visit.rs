//! What the visit sheet needs of the world: the day it is made, and the digest of what was written.

use interstice_book::Book;
use interstice_glucose::{Moment, Second, Zone};
use sha2::{Digest, Sha256};

use crate::DeskError;

/// The day it is now in the book's zone, else in the machine's, counted from 1970-01-01.
///
/// # Errors
/// `Book` where its settings cannot be read.
pub fn today(book: &Book, now: Second, machine_zone: &Zone) -> Result<i64, DeskError> {
    let zone = book.settings()?.base_zone;
    let zone = zone.as_ref().unwrap_or(machine_zone);
    let moment = Moment {
        at: now,
        offset_s: zone.offset_s(now),
    };
    Ok(moment.wall().day())
}

/// The SHA-256 of a file, as hexadecimal digits.
pub fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

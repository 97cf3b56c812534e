//! Writing a step of a claim down.

use interstice_book::Book;
use interstice_glucose::{ClaimStep, Second};

use crate::DeskError;

/// Writes a step of the claim for a sensor down; answers the number of the change, for undo.
///
/// # Errors
/// `Request` where it is written down already; `Book` where the sensor has no name, or the book cannot be written.
pub fn claim(book: &mut Book, sensor: &str, step: ClaimStep, now: Second) -> Result<i64, DeskError> {
    let steps = book.claims()?.remove(sensor.trim()).unwrap_or_default();
    let change = if steps.contains(&step) {
        None
    } else {
        book.add_claim_step(sensor, step, now)?
    };
    change
        .map(|change| change.0)
        .ok_or_else(|| DeskError::Request("the book has this step already".to_owned()))
}

/// Takes the last step of the claim for a sensor back; answers the number of the change, for undo.
///
/// # Errors
/// `Request` where there is none; `Book` where the book cannot be written.
pub fn take_back_claim(book: &mut Book, sensor: &str, now: Second) -> Result<i64, DeskError> {
    let change = book.drop_claim_step(sensor, now)?;
    change.map(|change| change.0).ok_or_else(|| {
        DeskError::Request("there is no such step; it may have been taken back already".to_owned())
    })
}

//! What goes wrong in the rooms behind, as a page says it.

use interstice_desk::{BookError, DeskError};
use interstice_findings::FindingsError;

use crate::Trouble;

impl From<BookError> for Trouble {
    fn from(error: BookError) -> Self {
        if error.is_refusal() {
            Trouble::Request(error.to_string())
        } else {
            Trouble::Book(error.to_string())
        }
    }
}

impl From<DeskError> for Trouble {
    fn from(error: DeskError) -> Self {
        match error {
            DeskError::Book(error) => error.into(),
            other => Trouble::Request(other.to_string()),
        }
    }
}

impl Trouble {
    /// Why the page of one sensor cannot be shown.
    pub fn of_sensor(error: FindingsError) -> Self {
        match error {
            FindingsError::NoSensor(message) => Trouble::NoSensor(message),
            FindingsError::Empty => Trouble::NoSensor(error.to_string()),
            other => other.into(),
        }
    }
}

impl From<FindingsError> for Trouble {
    fn from(error: FindingsError) -> Self {
        match error {
            FindingsError::Book(error) => error.into(),
            FindingsError::Recording(error) => Trouble::Internal(error.to_string()),
            other => Trouble::Request(other.to_string()),
        }
    }
}

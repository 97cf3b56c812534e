//! Listens to a sensor or transmitter that speaks the open Bluetooth service for continuous glucose (0x181F), through the
//! system's Bluetooth service (BlueZ), which is asked over D-Bus. The system finds and pairs the device; here only what is
//! paired is connected to, read, and asked for what it stored. Nothing is ever set on it: no session begun or ended, no
//! calibration, no alert, no clock.
//!
//! What is heard goes to a [`Desk`], which writes it down; only then does it count as heard.

mod bus;
mod device;
mod keep;
mod listen;
mod session;

use interstice_glucose::{Draft, Second};
use interstice_home::Heard;
use interstice_intake::bluetooth::RecordError;

pub use bus::{At, Paired, paired};
pub use keep::{Pace, Stop, keep};

/// Who writes down what is heard.
pub trait Desk {
    /// Now, by this machine's clock.
    fn now(&self) -> Second;

    /// Writes rows into the book, from so many records; they are on the disk when it answers.
    ///
    /// # Errors
    /// Why it could not; all of it is asked for again.
    fn take(&mut self, rows: Draft, records: u64) -> Result<(), String>;

    /// Keeps what is known of the sensor.
    ///
    /// # Errors
    /// Why it could not.
    fn note(&mut self, heard: &Heard) -> Result<(), String>;
}

/// Why a sensor is not listened to.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RadioError {
    /// The system's Bluetooth service does not answer.
    #[error(
        "the system's Bluetooth service does not answer ({0}); look whether Bluetooth is on and its service (bluez) runs"
    )]
    Bus(String),
    /// The device is none the system knows.
    #[error(
        "no device with the address {0} is known to this machine; pair it in the system's Bluetooth settings"
    )]
    NotKnown(String),
    /// The device is not paired: whoever is near could pretend to be it.
    #[error("{0} is not paired with this machine; pair it in the system's Bluetooth settings")]
    NotPaired(String),
    /// The device does not answer.
    #[error(
        "the sensor was not reached ({0}); it is tried again, and what it stored meanwhile is asked for then"
    )]
    NotReached(String),
    /// The device has no such service.
    #[error(
        "the device does not speak the open service for continuous glucose; nothing can be heard from it"
    )]
    NoService,
    /// What it says of itself came damaged, each time.
    #[error("{what} of the sensor cannot be read: {why}")]
    Unreadable {
        /// What.
        what: &'static str,
        /// Cause.
        why: RecordError,
    },
    /// Records came damaged, each time.
    #[error(
        "{0} of the sensor came damaged or not at all, each time they were asked for; the others are in the book"
    )]
    Damaged(String),
    /// The book could not be written.
    #[error("what was heard could not be written into the book: {0}; it is asked for again")]
    Desk(String),
    /// The connection ended.
    #[error(
        "the connection to the sensor ended; it is tried again, and what it stored meanwhile is asked for then"
    )]
    Lost,
    /// Another session began.
    #[error("the sensor began another session")]
    AnotherSession,
}

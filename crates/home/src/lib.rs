//! Who may come in: the passphrase, the pairing of a device, the devices there are, links that show one page, and the
//! certificate; and what may send readings or is looked into for them. What must last lies in one folder beside the book, readable by its owner alone; codes and
//! failed tries live in memory and go with the program. Nothing here listens, draws or opens the book.

mod certificate;
mod code;
mod feed;
mod folder;
mod household;
mod link;
mod network;
mod secret;

pub use certificate::{Certificate, fingerprint_of};
pub use code::{Codes, GOOD_FOR, Tried};
pub use feed::{Clock, Comes, Heard, Session, Source};
pub use household::{Device, Household, SHORTEST_PASSPHRASE};
pub use link::{LONGEST_LINK_DAYS, Link, Page};
pub use network::{Names, is_of_home};

/// Why something at the door cannot be done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum HomeError {
    /// What lies beside the book cannot be read or written.
    #[error("{path} cannot be used: {source}; look at who may read and write it")]
    Folder {
        /// Which file.
        path: String,
        /// Cause.
        source: std::io::Error,
    },
    /// What lies beside the book is not what was written.
    #[error("{path} is damaged; move it away, pair your devices and set up your feeds again")]
    Damaged {
        /// Which file.
        path: String,
    },
    /// The passphrase is too short, or something else cannot be meant.
    #[error("{0}")]
    Request(String),
    /// The certificate could not be made.
    #[error("the certificate could not be made: {0}")]
    Certificate(String),
    /// The machine gives no chance numbers.
    #[error("this machine gives no random numbers, without which no secret can be made: {0}")]
    Chance(String),
}

pub(crate) type Result<T> = std::result::Result<T, HomeError>;

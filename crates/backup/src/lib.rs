//! The whole book in one encrypted file, and back.
//!
//! A backup is made from a consistent copy of the open book, read back from the disk, decrypted, unpacked into a scratch
//! book and held against the original: its bytes, every part of it, and the findings it gives. Only then does it get its name.
//! Which passphrase locks it, where backups go, how often and how many are kept lies in a folder beside the book
//! ([`Place`]); what is written there is in the wearer's eyes no part of the book.
//!
//! Start at [`Key::make`], [`back_up`] and [`restore`]. Nothing here draws, asks for a passphrase or reads a clock.

mod container;
mod error;
mod files;
mod key;
mod make;
mod place;
mod plan;
mod reminder;
mod retention;
mod standing;
mod take;

pub use container::ENDING;
pub use error::BackupError;
pub use key::{Key, SHORTEST_PASSPHRASE, Work};
#[doc(hidden)]
pub use make::pack_as_it_stands;
pub use make::{Made, back_up};
pub use place::{Held, Place, Taken, make_folder};
pub use plan::{Due, Plan, Schedule, Trouble, Written};
pub use reminder::{AtStake, Reminder};
pub use retention::{Keep, to_remove};
pub use standing::Standing;
pub use take::{Restored, restore, try_restore};

pub(crate) type Result<T> = std::result::Result<T, BackupError>;

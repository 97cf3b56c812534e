//! The acts that write: bring a file in, write an entry down, take a change back. The only place where files meet the
//! book; the command line and the local app both call what is here.
//!
//! The world is handed in ([`Place`]): the moment and the machine's zone. Nothing here reads a clock.

mod away;
mod claim;
mod entry;
mod error;
mod feed;
mod first_days;
mod import;
mod jot;
mod language;
mod lasts;
mod night;
mod number;
mod report;
pub mod stock;
pub mod trial;
mod visit;
mod watch;
mod when;

pub use away::{AwayWords, log_away};
pub use claim::{claim, take_back_claim};
pub use entry::{Entry, log, log_once, log_together, log_with_photo};
pub use error::DeskError;
pub use feed::{Fed, take_in, take_in_read};
pub use first_days::FirstDay;
pub use import::{ImportRequest, Place, explain, explain_bytes, import_bytes, import_path};
pub use jot::{Jot, JotWords, correct, jotted, strike};
pub use language::{LANGUAGE, language};
pub use lasts::insulin_lasts;
pub use night::{clock_of, night_hours};
pub use number::glucose_said;
pub use report::{FileReport, FileStatus, ProblemLine, QuestionLine};
pub use visit::{digest, today};
pub use watch::{FileState, Seen, SeenFile, look_into};
pub use when::instant;

/// Under this key of [`Settings::other`] a book keeps when its wearer said that they had read the cautions.
pub const CAUTIONS_READ: &str = "cautions read";

/// What a caller may need of the rooms behind the desk, so that it need not reach past it.
pub use interstice_book::{
    Book, BookError, Change, ChangeId, ChangeKind, Entry as BookEntry, EntryRef, FedBy, Feed, ImportInfo,
    KeptLot, Mode, NightHours, Photo, PhotoId, Setting, Settings, Stock, UndoReceipt, VersionStamp,
};
pub use interstice_glucose::{LARGEST_PHOTO, PhotoMedia};
pub use interstice_intake::{ColumnView, DateOrder, Progress, Role, Stop, TableView, Understanding};

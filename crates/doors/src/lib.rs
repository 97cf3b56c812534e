//! Ways out: what is in the book, as tables and documents that others read.
//!
//! A figure stands here as `findings` gives it and a value as the device said it; nothing is computed, and no clock is
//! read. [`export()`] writes a folder of tables, each column named with its unit and documented in the manifest beside
//! them; `intake` reads such a folder back. What goes where is a [`Sink`]'s to say.

mod columnar;
mod decimals;
mod delimited;
mod digest;
mod export;
mod fhir;
mod lived;
mod manifest;
mod month;
mod omh;
mod share;
mod sink;
mod table;
mod tables;
mod writing;

pub use export::{DoorError, Exported, FORMAT, FileWritten, TableFormat, VERSION, export, export_file};
pub use fhir::export_fhir;
pub use omh::export_omh;
pub use share::{Part, ShareAsk, share};
pub use sink::{Folder, InMemory, Sink, zip_archive};

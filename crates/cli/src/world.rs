//! The world as the command finds it: the moment, the machine's zone, where the book lies. Read once, handed in.

use std::path::PathBuf;

use interstice_glucose::{Second, Zone};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::exit::Failure;

/// What is outside the program.
#[derive(Clone, Debug)]
pub(crate) struct World {
    /// Now.
    pub(crate) now: Second,
    /// The zone the machine is set to.
    pub(crate) zone: Zone,
}

impl World {
    /// Reads clock and zone of the machine.
    pub(crate) fn look() -> Self {
        let name = TimeZone::system().iana_name().unwrap_or("UTC").to_owned();
        let zone = Zone::named(&name).unwrap_or_else(|_| Zone::utc());
        World { now: now(), zone }
    }
}

/// Seconds since 1970 by the machine's clock.
pub(crate) fn now() -> Second {
    Timestamp::now().as_second()
}

/// Where the book lies when nothing is said.
pub(crate) fn book_path(asked: Option<PathBuf>) -> Result<PathBuf, Failure> {
    if let Some(path) = asked {
        return Ok(path);
    }
    let dirs = directories::ProjectDirs::from("", "", "interstice").ok_or_else(|| {
        Failure::usage("this account has no data folder; say where the book is with --book FILE")
    })?;
    let folder = dirs.data_dir();
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    // Where it is made here, for its owner alone.
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder).map_err(|error| {
        Failure::usage(format!(
            "cannot make the data folder {}: {error}; say where the book is with --book FILE",
            folder.display()
        ))
    })?;
    Ok(folder.join("book.interstice"))
}

/// A time as a person types it, see [`interstice_desk::instant`].
pub(crate) fn instant(text: &str, now: Second, zone: &Zone) -> Result<Second, Failure> {
    Ok(interstice_desk::instant(text, now, zone)?)
}

/// A calendar date, 'YYYY-MM-DD'.
pub(crate) fn date(text: &str) -> Result<Date, Failure> {
    text.parse()
        .map_err(|_| Failure::usage(format!("'{text}' is not a date; write it like 2025-03-01")))
}

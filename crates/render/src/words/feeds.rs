//! How a feed is, in words.

use interstice_findings::feeds::FeedLine;
use interstice_glucose::{Second, counted};

use super::{date_and_clock, duration};

/// 'phone, by its token: last reading 1 March 07:30, 12 min ago'.
pub fn feed(line: &FeedLine) -> String {
    let comes = match (&line.folder, &line.address) {
        (Some(folder), _) => format!("from the folder {folder}"),
        (None, Some(address)) => format!("by radio from {address}"),
        (None, None) => "by its token".to_owned(),
    };
    format!("{}, {comes}: {}", line.name, feed_last(line))
}

/// 'last reading 1 March 07:30, 12 min ago'.
pub fn feed_last(line: &FeedLine) -> String {
    match (&line.last_reading, line.age_min) {
        (Some(last), Some(age)) if age >= 0.0 => {
            format!("last reading {}, {} ago", date_and_clock(last.0), duration(age))
        }
        (Some(last), _) => format!("last reading {}", date_and_clock(last.0)),
        (None, _) => "no reading yet".to_owned(),
    }
}

/// A sensor's clock is ahead so many seconds, or behind where negative.
pub fn clock_differs(ahead_s: Second) -> String {
    let way = if ahead_s < 0 { "behind" } else { "ahead of" };
    format!(
        "the sensor's clock is {} {way} this machine's; its readings are dated by how long ago it says they were",
        duration(ahead_s.unsigned_abs() as f64 / 60.0)
    )
}

/// A sensor that has no clock.
pub const CLOCK_UNKNOWN: &str =
    "the sensor does not know the time; its readings are dated by how long ago it says they were";

/// What became of the files of a folder: '3 files brought in, 1 still arriving'.
pub fn feed_files(line: &FeedLine) -> String {
    let taken = counted(line.files_taken, "file brought in", "files brought in");
    let parts = [
        (line.arriving.len(), "still arriving"),
        (line.waiting.len(), "waiting for you"),
        (line.not_used.len(), "that are no records"),
    ];
    let rest = parts
        .iter()
        .filter(|part| part.0 > 0)
        .map(|(n, what)| format!(", {n} {what}"));
    taken + &rest.collect::<String>()
}

/// What is not as it should be.
pub fn feed_troubles(line: &FeedLine) -> Vec<String> {
    let mut said: Vec<String> = line.trouble.iter().cloned().collect();
    if let Some(late) = line.late_min {
        said.push(format!(
            "late: the next reading has been due for {}; look whether the sender runs and reaches this machine",
            duration(late)
        ));
    }
    if line.rejected > 0 {
        let why = line
            .last_problem
            .as_ref()
            .map_or(String::new(), |why| format!("; the last: {why}"));
        said.push(format!(
            "{} could not be used{why}",
            counted(line.rejected, "row", "rows")
        ));
    }
    if !line.waiting.is_empty() {
        let files: Vec<&str> = line.waiting.iter().map(|file| file.file.as_str()).collect();
        said.push(format!(
            "{} for you: {}",
            counted(files.len() as u64, "file waits", "files wait"),
            listed(&files)
        ));
    }
    said
}

/// The first few of several names.
fn listed(names: &[&str]) -> String {
    const SHOWN: usize = 3;
    let shown = names.iter().take(SHOWN).copied().collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(SHOWN) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

//! How the feeds are: what each brought last, and whether more was to be expected by now.

use interstice_book::Book;
use interstice_glucose::{Moment, Second, Zone};
use interstice_methods::trace::native_interval;
use serde::Serialize;

use crate::now::OLD_S;
use crate::{FindingsError, Time};

/// Latest readings of a feed from which its interval is told.
const LATEST: usize = 64;

/// A feed that is asked about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FeedAsk {
    /// Its number.
    pub number: u32,
    /// What the person called it.
    pub name: String,
    /// What its rows are known by in the book.
    pub key: String,
    /// How it comes.
    pub comes: ComesAsk,
}

/// How a feed comes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ComesAsk {
    /// Readings are sent.
    Sent,
    /// A folder is looked into.
    Folder(FolderAsk),
    /// A sensor or transmitter is listened to.
    Radio(RadioAsk),
}

/// A sensor or transmitter as it was heard.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RadioAsk {
    /// Its address.
    pub address: String,
    /// Why it cannot be listened to.
    pub trouble: Option<String>,
    /// What is to be known of how its readings are dated.
    pub note: Option<String>,
}

/// A folder as it was found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FolderAsk {
    /// Where it is.
    pub path: String,
    /// Why it cannot be looked into.
    pub trouble: Option<String>,
    /// Files that were brought in.
    pub taken: u64,
    /// Files still arriving.
    pub arriving: Vec<FileLine>,
    /// Files that wait for the person.
    pub waiting: Vec<FileLine>,
    /// Files that are nothing that could be brought in.
    pub not_used: Vec<FileLine>,
}

/// A file of such a folder.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FileLine {
    /// Its name.
    pub file: String,
    /// Why it is not in the book; empty where there is nothing to say.
    pub why: String,
}

/// A feed as it is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FeedLine {
    /// Its number.
    pub number: u32,
    /// What the person called it.
    pub name: String,
    /// 'sent', 'folder' or 'radio'.
    pub comes: &'static str,
    /// The folder that is looked into.
    pub folder: Option<String>,
    /// The address of the sensor or transmitter that is listened to.
    pub address: Option<String>,
    /// Its last reading; `null` where it brought none.
    pub last_reading: Option<Time>,
    /// How old that is.
    pub age_min: Option<f64>,
    /// How often it brings one; `null` with too few to tell.
    pub interval_min: Option<f64>,
    /// How long the next has been due; `null` where it is not late, or comes by a folder, which keeps no time.
    pub late_min: Option<f64>,
    /// Rows it brought that could not be used.
    pub rejected: u64,
    /// Why the last of those could not be.
    pub last_problem: Option<String>,
    /// The import that lists them, and takes back what came the same day.
    pub import_id: Option<i64>,
    /// Why the folder cannot be looked into, or the sensor not be listened to.
    pub trouble: Option<String>,
    /// How a sensor's readings are dated, where it is not by its clock.
    pub note: Option<String>,
    /// Files of the folder that were brought in.
    pub files_taken: u64,
    /// Files still arriving.
    pub arriving: Vec<FileLine>,
    /// Files that wait for the person.
    pub waiting: Vec<FileLine>,
    /// Files that are nothing that could be brought in.
    pub not_used: Vec<FileLine>,
}

/// All feeds.
#[derive(Clone, Debug, Serialize)]
pub struct FeedsFindings {
    /// The moment told of.
    pub now: Time,
    /// By number.
    pub feeds: Vec<FeedLine>,
}

/// The feeds of a book as they are at a moment; without a book nothing has come yet.
///
/// # Errors
/// `Book` where the book cannot be read.
pub fn feeds(
    book: Option<&Book>,
    asked: &[FeedAsk],
    now: Second,
    machine_zone: &Zone,
) -> Result<FeedsFindings, FindingsError> {
    let zone = book
        .map(Book::settings)
        .transpose()?
        .and_then(|settings| settings.base_zone);
    let zone = zone.as_ref().unwrap_or(machine_zone);
    let fed = book.map(|book| book.fed(LATEST)).transpose()?.unwrap_or_default();
    let time = |at: Second| {
        Time(Moment {
            at,
            offset_s: zone.offset_s(at),
        })
    };
    let line = |ask: &FeedAsk| {
        // A folder's files have keys of their own below it.
        let below = format!("{}/", ask.key);
        let own: Vec<_> = fed
            .iter()
            .filter(|fed| fed.key == ask.key || fed.key.starts_with(&below))
            .collect();
        let newest = own.iter().max_by_key(|fed| fed.latest.last().copied());
        let latest = newest.map(|fed| fed.latest.as_slice()).unwrap_or_default();
        let last = latest.last().copied();
        let at: Vec<u32> = latest.iter().filter_map(|&at| u32::try_from(at).ok()).collect();
        let interval = native_interval(&at).ok();
        let problem = own
            .iter()
            .filter(|fed| fed.rejected > 0)
            .max_by_key(|fed| fed.change);
        let (folder, radio) = match &ask.comes {
            ComesAsk::Sent => (None, None),
            ComesAsk::Folder(folder) => (Some(folder.clone()), None),
            ComesAsk::Radio(radio) => (None, Some(radio.clone())),
        };
        let comes = match ask.comes {
            ComesAsk::Sent => "sent",
            ComesAsk::Folder(_) => "folder",
            ComesAsk::Radio(_) => "radio",
        };
        let path = folder.as_ref().map(|folder| folder.path.clone());
        let address = radio.as_ref().map(|radio| radio.address.clone());
        let (folder, radio) = (folder.unwrap_or_default(), radio.unwrap_or_default());
        FeedLine {
            number: ask.number,
            name: ask.name.clone(),
            comes,
            folder: path,
            address,
            last_reading: last.map(time),
            age_min: last.map(|last| minutes(now - last)),
            interval_min: interval.map(|interval| minutes(Second::from(interval))),
            late_min: last
                .filter(|_| !matches!(ask.comes, ComesAsk::Folder(_)))
                .and_then(|last| late(now - last, interval)),
            rejected: own.iter().map(|fed| fed.rejected).sum(),
            last_problem: problem.and_then(|fed| Some(fed.last_rejected.as_ref()?.reason.clone())),
            import_id: problem
                .or_else(|| own.iter().max_by_key(|fed| fed.change))
                .map(|fed| fed.change.0),
            trouble: folder.trouble.or(radio.trouble),
            note: radio.note,
            files_taken: folder.taken,
            arriving: folder.arriving,
            waiting: folder.waiting,
            not_used: folder.not_used,
        }
    };
    Ok(FeedsFindings {
        now: time(now),
        feeds: asked.iter().map(line).collect(),
    })
}

/// Late from the age on at which a reading says nothing of now; by how much, from when the next one was due.
fn late(age: Second, interval: Option<u32>) -> Option<f64> {
    let interval = interval.map_or(0, Second::from);
    (age > OLD_S.max(3 * interval)).then(|| minutes(age - interval))
}

fn minutes(seconds: Second) -> f64 {
    seconds as f64 / 60.0
}

//! The folder beside the book in which its plan of backups lies, and one run of it.

use std::fs::{self, File, OpenOptions};
use std::path::{Path, PathBuf};

use interstice_book::{Book, NewFile};
use interstice_glucose::{Second, Zone};
use jiff::Timestamp;

use crate::container::ENDING;
use crate::files::{digest, hex, own, own_folder, write_whole};
use crate::make::{Made, back_up};
use crate::plan::{Plan, Trouble, Written};
use crate::retention::to_remove;
use crate::{BackupError, Result};

const PLAN: &str = "plan.json";
const LOCK: &str = "lock";
/// So many backups of one second get a name.
const OF_ONE_SECOND: u32 = 100;

/// The folder: `book.interstice` has `book.interstice.backup`.
#[derive(Clone, Debug)]
pub struct Place {
    folder: PathBuf,
}

/// The folder, held: another program waits until this is dropped.
#[derive(Debug)]
pub struct Held {
    place: Place,
    _lock: File,
}

/// What one run did.
#[derive(Clone, Debug)]
pub struct Taken {
    /// The backup.
    pub made: Made,
    /// Earlier ones that are no longer kept.
    pub removed: Vec<PathBuf>,
}

impl Place {
    /// Beside a book.
    pub fn beside(book: &Path) -> Self {
        let mut name = book.as_os_str().to_owned();
        name.push(".backup");
        Place { folder: name.into() }
    }

    /// The plan; an empty one where none was ever made.
    ///
    /// # Errors
    /// `File`, and `Request` where it is damaged.
    pub fn plan(&self) -> Result<Plan> {
        let path = self.folder.join(PLAN);
        let text = match fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Plan::default()),
            Err(error) => return Err(BackupError::file(&path, error)),
        };
        serde_json::from_str(&text).map_err(|error| {
            BackupError::Request(format!(
                "{} is damaged ({error}); move it away and set backups up again with `interstice backup-set`; \
                 the backups that were made are not touched",
                path.display()
            ))
        })
    }

    /// Holds the folder, which is made where it is not there.
    ///
    /// # Errors
    /// `File`.
    pub fn hold(&self) -> Result<Held> {
        let trouble = |error| BackupError::file(&self.folder, error);
        own_folder(&self.folder).map_err(trouble)?;
        let mut options = OpenOptions::new();
        let lock = own(options.write(true).create(true).truncate(false))
            .open(self.folder.join(LOCK))
            .map_err(trouble)?;
        lock.lock().map_err(trouble)?;
        Ok(Held {
            place: self.clone(),
            _lock: lock,
        })
    }
}

impl Held {
    /// The plan as it stands while it is held.
    ///
    /// # Errors
    /// As [`Place::plan`].
    pub fn plan(&self) -> Result<Plan> {
        self.place.plan()
    }

    /// Keeps a plan.
    ///
    /// # Errors
    /// `File`.
    pub fn put(&self, plan: &Plan) -> Result<()> {
        let path = self.place.folder.join(PLAN);
        let text = serde_json::to_string_pretty(plan)
            .map_err(|error| BackupError::Request(format!("the plan cannot be written down: {error}")))?;
        write_whole(&path, &text).map_err(|error| BackupError::file(&path, error))
    }

    /// Makes a backup: at `to`, or in the folder of the schedule, where earlier ones are then removed by its rule. What went
    /// wrong is kept in the plan too.
    ///
    /// # Errors
    /// As [`back_up`]; `Request` where no passphrase was chosen, or there is neither a file nor a folder.
    pub fn run(&self, book: &Book, to: Option<&Path>, now: Second, zone: &Zone) -> Result<Taken> {
        let mut plan = self.plan()?;
        clear_begun(&mut plan);
        let outcome = self.one(&mut plan, book, to, now, zone);
        if let Err(error) = &outcome {
            plan.begun.clear();
            plan.trouble = Some(Trouble {
                at: now,
                why: error.to_string(),
            });
            self.put(&plan)?;
        }
        outcome
    }

    fn one(
        &self,
        plan: &mut Plan,
        book: &Book,
        to: Option<&Path>,
        now: Second,
        zone: &Zone,
    ) -> Result<Taken> {
        let key = plan.key.clone().ok_or_else(no_passphrase)?;
        let by_itself = to.is_none();
        let to = match (to, &plan.schedule) {
            (Some(to), _) => to.to_owned(),
            (None, Some(schedule)) => free_name(&schedule.folder, book.path(), now)?,
            (None, None) => return Err(nowhere()),
        };
        plan.begun.push(NewFile::part_of(&to));
        self.put(plan)?;
        let made = back_up(book, &to, &key, &self.place.folder)?;
        let written = Written {
            path: to,
            at: now,
            size_bytes: made.size_bytes,
            sha256: made.sha256.clone(),
            book: book.identity()?,
        };
        plan.begun.clear();
        plan.trouble = None;
        plan.last = Some(written.clone());
        if by_itself {
            plan.written.push(written);
        }
        // First what there is, then what goes: a run that is cut short leaves too many, never too few.
        self.put(plan)?;
        let removed = if by_itself {
            self.remove_old(plan, now, zone)?
        } else {
            Vec::new()
        };
        Ok(Taken { made, removed })
    }

    /// Removes what the schedule no longer keeps: files of this book that it wrote itself and that are still as it wrote them.
    fn remove_old(&self, plan: &mut Plan, now: Second, zone: &Zone) -> Result<Vec<PathBuf>> {
        let (Some(schedule), Some(last)) = (plan.schedule.clone(), plan.last.clone()) else {
            return Ok(Vec::new());
        };
        plan.written.retain(is_as_written);
        let ours = |written: &Written| {
            written.book == last.book && written.path.parent() == Some(schedule.folder.as_path())
        };
        let places: Vec<usize> = (0..plan.written.len())
            .filter(|&place| ours(&plan.written[place]))
            .collect();
        let moments: Vec<Second> = places.iter().map(|&place| plan.written[place].at).collect();
        let out: Vec<usize> = to_remove(&moments, now, schedule.keep, zone)
            .into_iter()
            .map(|place| places[place])
            .collect();
        let mut removed = Vec::new();
        for &place in &out {
            let path = &plan.written[place].path;
            if *path != last.path && fs::remove_file(path).is_ok() {
                removed.push(path.clone());
            }
        }
        plan.written.retain(|written| !removed.contains(&written.path));
        self.put(plan)?;
        Ok(removed)
    }
}

/// Makes the folder that backups go to, for its owner alone, where it is not there.
///
/// # Errors
/// `File`.
pub fn make_folder(path: &Path) -> Result<()> {
    own_folder(path).map_err(|error| BackupError::file(path, error))
}

/// Whether the file at its place is the one that was written.
fn is_as_written(written: &Written) -> bool {
    let is_file = fs::symlink_metadata(&written.path)
        .is_ok_and(|about| about.is_file() && about.len() == written.size_bytes);
    is_file && digest(&written.path).is_ok_and(|(_, sha256)| hex(&sha256) == written.sha256)
}

/// Removes what a run that was killed left unfinished.
fn clear_begun(plan: &mut Plan) {
    for path in plan.begun.drain(..) {
        let is_part = path.extension().is_some_and(|ending| ending == "part");
        if is_part && fs::symlink_metadata(&path).is_ok_and(|about| about.is_file()) {
            let _ = fs::remove_file(&path);
        }
    }
}

/// A name that tells the book and the moment. The folder is not made here: where a disk is not plugged in, its folder must
/// not be filled in its stead.
fn free_name(folder: &Path, book: &Path, now: Second) -> Result<PathBuf> {
    if !folder.is_dir() {
        return Err(BackupError::Request(format!(
            "the folder for backups, {}, is not there; plug its disk in, or choose another with `interstice backup-set --folder`",
            folder.display()
        )));
    }
    let stem = book.file_stem().unwrap_or_default().to_string_lossy();
    let moment = Timestamp::from_second(now).unwrap_or_default();
    let moment = moment.strftime("%Y-%m-%d %H%M%SZ");
    (0..OF_ONE_SECOND)
        .map(|again| match again {
            0 => format!("{stem} {moment}.{ENDING}"),
            _ => format!("{stem} {moment} {again}.{ENDING}"),
        })
        .map(|name| folder.join(name))
        .find(|path| fs::symlink_metadata(path).is_err())
        .ok_or_else(|| BackupError::Request("too many backups of one second; wait a second".to_owned()))
}

fn no_passphrase() -> BackupError {
    BackupError::Request(
        "no passphrase was chosen for backups of this book; choose one with `interstice backup-set --new-passphrase`"
            .to_owned(),
    )
}

fn nowhere() -> BackupError {
    BackupError::Request(
        "say where to: `interstice backup FILE`, or choose a folder with `interstice backup-set --folder DIR`"
            .to_owned(),
    )
}

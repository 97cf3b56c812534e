//! A folder that is looked into: files of a known layout are brought in, others wait for the person. Nothing in the folder
//! is ever written, moved or removed.
//!
//! A file is read when two looks found it alike, so that one still arriving is left alone, and read again when it has
//! changed. What it says goes the way of a feed: what was told before, by it or by another file of its layout, is not
//! written again.

use std::collections::BTreeMap;
use std::fs::Metadata;
use std::path::Path;
use std::time::UNIX_EPOCH;

use interstice_book::{Book, Feed, KeptRecipe};
use interstice_glucose::{Second, counted};
use interstice_intake::{IntakeError, Outcome, ReadFile};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::DeskError;
use crate::import::{ImportRequest, Place, hints};

/// Files of a folder that are looked at.
const MOST_FILES: usize = 2000;
/// A file that cannot be read and was changed so lately may not be whole yet, seconds (ours: a slow download).
const NOT_WHOLE_S: Second = 600;
/// A file changed so lately is left alone, seconds (ours: two looks may come in quick succession).
const QUIET_S: Second = 3;
/// How files end that others write while they arrive.
const ARRIVING: [&str; 3] = ["~", ".tmp", ".part"];

/// What became of a file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FileState {
    /// It is new or has changed; the next look may read it.
    Arriving,
    /// It cannot be read yet, and may not be whole.
    NotWhole {
        /// What is wrong with it.
        why: String,
    },
    /// It is in the book.
    Taken {
        /// Rows it brought that were new, when it was read last.
        new: u64,
    },
    /// Only the person can say how it is to be read, or whether it is theirs.
    Waits {
        /// What is to be settled.
        why: String,
    },
    /// It is nothing that could be brought in.
    NotUsed {
        /// Why.
        why: String,
    },
}

/// A file as it was seen last.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SeenFile {
    size: u64,
    /// Milliseconds since 1970.
    changed: i64,
    /// What became of it.
    pub state: FileState,
}

/// What is known of a folder. Kept beside the book, so that nothing is read twice for nothing.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Seen {
    /// By name.
    pub files: BTreeMap<String, SeenFile>,
    /// Why the folder cannot be looked into.
    pub trouble: Option<String>,
    /// When it was looked into and something was found.
    pub found_at: Option<Second>,
    /// Layouts the book knew when files were told to wait.
    layouts: String,
}

impl Seen {
    /// Files that wait for the person, and why.
    pub fn waiting(&self) -> impl Iterator<Item = (&str, &str)> {
        self.files.iter().filter_map(|(name, file)| match &file.state {
            FileState::Waits { why } => Some((name.as_str(), why.as_str())),
            _ => None,
        })
    }
}

/// Looks into a folder once. Answers how many rows are new in the book.
///
/// # Errors
/// `Book` where the book cannot be used; the files wait for the next look then. A folder that cannot be looked into is
/// told in `seen`.
pub fn look_into(
    folder: &Path,
    from: &Feed,
    seen: &mut Seen,
    place: &Place,
    open: &mut dyn FnMut() -> Result<Book, DeskError>,
) -> Result<u64, DeskError> {
    let there = match files_of(folder) {
        Ok(there) => there,
        Err(error) => {
            seen.trouble = Some(format!("{} cannot be looked into: {error}", folder.display()));
            return Ok(0);
        }
    };
    let too_many = there.len() > MOST_FILES;
    seen.trouble = too_many.then(|| {
        format!(
            "{} holds more than {MOST_FILES} files; only the first are looked at, by name",
            folder.display()
        )
    });
    seen.files.retain(|name, _| there.contains_key(name));
    let mut new = 0;
    let mut looking = Looking {
        from,
        place,
        book: None,
        known: None,
        open,
    };
    ask_again(seen, &mut looking)?;
    for (name, now) in there.into_iter().take(MOST_FILES) {
        if !is_due(seen.files.get(&name), now, place.now) {
            continue;
        }
        let before = seen.files.get(&name).filter(|file| file.stamp() == now);
        let state = match before {
            Some(_) if now.0 > 0 && is_quiet(now, place.now) => looking.read(&folder.join(&name), now)?,
            _ => FileState::Arriving,
        };
        if let FileState::Taken { new: of_file } = &state {
            new += of_file;
            seen.found_at = Some(place.now);
        }
        let (size, changed) = now;
        seen.files.insert(name, SeenFile { size, changed, state });
    }
    if seen.waiting().next().is_some() {
        seen.layouts = looking.known()?;
    }
    Ok(new)
}

/// Size, and milliseconds since 1970 when it was changed.
type Stamp = (u64, i64);

impl SeenFile {
    fn stamp(&self) -> Stamp {
        (self.size, self.changed)
    }
}

/// Whether a file is to be looked at: it is new, has changed, or was not whole and may be now.
fn is_due(before: Option<&SeenFile>, now: Stamp, at: Second) -> bool {
    let Some(before) = before else { return true };
    match before.state {
        FileState::Arriving => true,
        FileState::NotWhole { .. } => before.stamp() != now || at - now.1.div_euclid(1000) > NOT_WHOLE_S,
        _ => before.stamp() != now,
    }
}

/// Whether it has come to rest; one dated ahead, by a clock elsewhere, is held to the two looks alone.
fn is_quiet(now: Stamp, at: Second) -> bool {
    !(0..QUIET_S).contains(&(at - now.1.div_euclid(1000)))
}

/// The files of a folder itself that are neither hidden nor plainly arriving.
fn files_of(folder: &Path) -> std::io::Result<BTreeMap<String, Stamp>> {
    let mut files = BTreeMap::new();
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        let Ok(name) = entry.file_name().into_string() else {
            continue;
        };
        if name.starts_with('.') || ARRIVING.iter().any(|end| name.ends_with(end)) {
            continue;
        }
        // One that was taken away meanwhile is not there.
        let Ok(about) = entry.metadata() else { continue };
        if about.is_file() {
            files.insert(name, stamp(&about));
        }
    }
    Ok(files)
}

fn stamp(about: &Metadata) -> Stamp {
    let changed = about.modified().ok();
    let changed = changed.and_then(|changed| changed.duration_since(UNIX_EPOCH).ok());
    let changed = changed.and_then(|passed| i64::try_from(passed.as_millis()).ok());
    (about.len(), changed.unwrap_or(0))
}

/// What was answered meanwhile for one file may settle the others that wait.
fn ask_again(seen: &mut Seen, looking: &mut Looking<'_>) -> Result<(), DeskError> {
    if seen.waiting().next().is_none() || seen.layouts == looking.known()? {
        return Ok(());
    }
    for file in seen.files.values_mut() {
        if matches!(file.state, FileState::Waits { .. }) {
            file.state = FileState::Arriving;
        }
    }
    Ok(())
}

/// One look, with the book opened when it is needed.
struct Looking<'a> {
    from: &'a Feed,
    place: &'a Place,
    book: Option<Book>,
    /// What stands for all that the book knew of layouts before anything was read.
    known: Option<String>,
    open: &'a mut dyn FnMut() -> Result<Book, DeskError>,
}

impl Looking<'_> {
    fn book(&mut self) -> Result<&mut Book, DeskError> {
        let book = match self.book.take() {
            Some(book) => book,
            None => (self.open)()?,
        };
        if self.known.is_none() {
            self.known = Some(layouts_of(&book)?);
        }
        Ok(self.book.insert(book))
    }

    fn known(&mut self) -> Result<String, DeskError> {
        self.book()?;
        Ok(self.known.clone().unwrap_or_default())
    }

    fn read(&mut self, path: &Path, before: Stamp) -> Result<FileState, DeskError> {
        let place = self.place;
        let hints = hints(Some(self.book()?), &ImportRequest::default(), place)?;
        let read = interstice_intake::read(path, &hints, &mut ());
        // One that changed while it was read is read again when it has come to rest.
        if std::fs::metadata(path).map(|about| stamp(&about)).ok() != Some(before) {
            return Ok(FileState::Arriving);
        }
        match read {
            Ok(Outcome::Read(read)) => self.take(*read),
            Ok(Outcome::Question { questions, .. }) => {
                let ask = questions.into_iter().next().map(|question| question.ask);
                Ok(FileState::Waits {
                    why: ask.unwrap_or_default(),
                })
            }
            Err(IntakeError::Stopped) => Ok(FileState::Arriving),
            Err(error) => {
                let why = error.to_string();
                if place.now - before.1.div_euclid(1000) <= NOT_WHOLE_S {
                    Ok(FileState::NotWhole { why })
                } else {
                    Ok(FileState::NotUsed { why })
                }
            }
        }
    }

    /// Brings a file of a known layout in.
    fn take(&mut self, read: ReadFile) -> Result<FileState, DeskError> {
        if !(read.draft.photos.is_empty() && read.settings.is_empty()) {
            let why = "it is an export of a whole book, with settings or photos; bring it in by hand";
            return Ok(FileState::Waits { why: why.to_owned() });
        }
        if !self.is_known(&read)? {
            let why =
                "no file of this layout was brought in before; is it yours, and is it understood rightly?";
            return Ok(FileState::Waits { why: why.to_owned() });
        }
        let recipes = read.recipes.iter().filter_map(|recipe| {
            Some(KeptRecipe {
                layout: recipe.layout.clone(),
                json: serde_json::to_string(recipe).ok()?,
            })
        });
        let from = Feed {
            key: format!("{}/{}", self.from.key, layout(&read)),
            base_zone: Some(self.place.machine_zone.clone()),
            unit: read.unit,
            recipes: recipes.collect(),
            ..self.from.clone()
        };
        let mut draft = read.draft;
        draft.lived.clear();
        let used = draft.traces.iter().any(|trace| !trace.readings.is_empty())
            || !(draft.blood_checks.is_empty() && draft.doses.is_empty() && draft.meals.is_empty())
            || !(draft.marks.is_empty() && draft.sensor_notes.is_empty() && draft.low_verdicts.is_empty());
        if !used {
            let rows = counted(draft.rejected_count(), "row", "rows");
            return Ok(FileState::NotUsed {
                why: format!("none of its {rows} could be used"),
            });
        }
        let now = self.place.now;
        let receipt = self.book()?.feed(&draft, &from, now)?;
        Ok(FileState::Taken {
            new: receipt.new_rows(),
        })
    }

    /// Whether the book has taken files of the layout of every table in; of a document, one of its standard.
    fn is_known(&mut self, read: &ReadFile) -> Result<bool, DeskError> {
        let book = self.book()?;
        if read.recipes.is_empty() {
            let formats: Vec<&str> = read
                .understanding
                .tables
                .iter()
                .map(|table| table.format.as_str())
                .collect();
            let imports = book.imports()?;
            return Ok(!formats.is_empty()
                && formats.iter().all(|format| {
                    imports
                        .iter()
                        .any(|import| import.understanding_json.contains(format))
                }));
        }
        let known = book.recipes()?;
        let is_known = |layout: &str| known.iter().any(|recipe| recipe.layout == layout);
        Ok(read.recipes.iter().all(|recipe| is_known(&recipe.layout)))
    }
}

/// What stands for all that a book knows of layouts.
fn layouts_of(book: &Book) -> Result<String, DeskError> {
    let mut hasher = Sha256::new();
    for recipe in book.recipes()? {
        hasher.update(recipe.json);
    }
    let imports = book.imports()?;
    let documents = imports
        .iter()
        .any(|import| import.understanding_json.contains(DOCUMENTS));
    hasher.update([u8::from(documents)]);
    Ok(short(&hasher.finalize()))
}

/// How the understanding of a document says what it is.
const DOCUMENTS: &str = "documents, JSON";

/// Stands for the layouts of a file.
fn layout(read: &ReadFile) -> String {
    let mut layouts: Vec<&str> = read.recipes.iter().map(|recipe| recipe.layout.as_str()).collect();
    layouts.extend(
        read.understanding
            .tables
            .iter()
            .filter(|_| read.recipes.is_empty())
            .map(|table| table.format.as_str()),
    );
    layouts.sort_unstable();
    layouts.dedup();
    short(&Sha256::digest(layouts.join("\n")))
}

fn short(digest: &[u8]) -> String {
    digest.iter().take(8).map(|byte| format!("{byte:02x}")).collect()
}

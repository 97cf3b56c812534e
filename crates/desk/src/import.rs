//! Bringing a file in.

use std::fs::File;
use std::io::Read;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use interstice_book::{Book, ImportReceipt, KeptRecipe, Provenance};
use interstice_glucose::{Draft, LivedClock, LivedSpan, Moment, Second, Unit, Zone};
use interstice_intake::{DateOrder, Hints, IntakeError, Outcome, Progress, ReadFile, Role, ZoneSource};
use sha2::{Digest, Sha256};

use crate::first_days::first_days;
use crate::report::{FileReport, FileStatus, ProblemLine, QuestionLine};
use crate::{DeskError, Understanding};

/// Originals up to this many bytes are kept, compressed, in the book; of larger ones the digest alone.
const KEPT_ORIGINAL_BYTES: u64 = 50_000_000;

/// Fast rather than small: an import should not wait for its own archive.
const ORIGINAL_ZSTD_LEVEL: i32 = 1;

/// Rejected rows listed in a report; all of them are in the book.
const LISTED_PROBLEMS: usize = 100;

/// An export's own folders are two deep.
const FOLDERS_DEEP: u32 = 3;

/// What is outside the program: handed in, so that the same acts give the same book.
#[derive(Clone, Debug)]
pub struct Place {
    /// Now.
    pub now: Second,
    /// The zone the machine is set to.
    pub machine_zone: Zone,
}

/// What the person said beside the file.
#[derive(Clone, Debug, Default)]
pub struct ImportRequest {
    /// Zone of wall-clock times.
    pub zone: Option<Zone>,
    /// Unit of glucose.
    pub unit: Option<Unit>,
    /// Date order.
    pub dates: Option<DateOrder>,
    /// Columns and their roles.
    pub roles: Vec<(String, Role)>,
    /// The person, in a file of several.
    pub subject: Option<String>,
}

impl ImportRequest {
    /// From what a person typed or chose: a zone's name, 'mg/dL' or 'mmol/L', 'day-first' and so on, a name, and
    /// columns (heading or number) with the words of their roles.
    ///
    /// # Errors
    /// `Request`, saying which word is not known and how it could be written.
    pub fn from_words<'a>(
        zone: Option<&str>,
        unit: Option<&str>,
        dates: Option<&str>,
        subject: Option<&str>,
        roles: impl IntoIterator<Item = (&'a str, &'a str)>,
    ) -> Result<Self, DeskError> {
        let zone = zone
            .map(Zone::named)
            .transpose()
            .map_err(|error| DeskError::Request(error.to_string()))?;
        let roles = roles
            .into_iter()
            .map(|(column, role)| Ok((column.to_owned(), word(role, "a role")?)));
        Ok(ImportRequest {
            zone,
            unit: unit.map(unit_named).transpose()?,
            dates: dates.map(|dates| word(dates, "an order of dates")).transpose()?,
            roles: roles.collect::<Result<_, DeskError>>()?,
            subject: subject.map(str::to_owned),
        })
    }

    /// The request as it is kept beside the import: the same file asked for in the same way is the same import.
    fn as_json(&self) -> String {
        serde_json::json!({
            "zone": self.zone.as_ref().map(Zone::name),
            "unit": self.unit.map(Unit::symbol),
            "dates": self.dates,
            "roles": self.roles,
            "subject": self.subject,
        })
        .to_string()
    }
}

/// A word as it is written in JSON.
fn word<T: serde::de::DeserializeOwned>(text: &str, what: &str) -> Result<T, DeskError> {
    let unknown = |_| {
        DeskError::Request(format!(
            "'{text}' is not {what}; --explain shows the words in use"
        ))
    };
    serde_json::from_value(serde_json::Value::String(text.trim().to_owned())).map_err(unknown)
}

fn unit_named(text: &str) -> Result<Unit, DeskError> {
    [Unit::MgPerDl, Unit::MmolPerL]
        .into_iter()
        .find(|unit| unit.symbol().eq_ignore_ascii_case(text.trim()))
        .ok_or_else(|| DeskError::Request(format!("'{text}' is not a unit; write mg/dL or mmol/L")))
}

/// Reads a file and writes it into the book in one transaction, or reports why not. Only a book that cannot be
/// written is an error; a file that cannot be read is a report.
///
/// # Errors
/// [`DeskError::Book`].
pub fn import_path(
    book: &mut Book,
    path: &Path,
    request: &ImportRequest,
    place: &Place,
    progress: &mut dyn Progress,
) -> Result<FileReport, DeskError> {
    let file = path.display().to_string();
    let hints = hints(Some(book), request, place)?;
    let (read, source) = std::thread::scope(|scope| {
        let source = scope.spawn(|| match path.is_dir() {
            true => Source::of_folder(path),
            false => Source::of_path(path),
        });
        let read = interstice_intake::read(path, &hints, progress);
        (read, source.join())
    });
    let source = match source {
        Ok(source) => source,
        Err(_) => {
            return Err(DeskError::Request(
                "the file could not be digested; try again".to_owned(),
            ));
        }
    };
    write(book, &file, read, source, request, place)
}

/// The same for a file handed over as bytes.
///
/// # Errors
/// [`DeskError::Book`].
pub fn import_bytes(
    book: &mut Book,
    name: &str,
    bytes: &[u8],
    request: &ImportRequest,
    place: &Place,
    progress: &mut dyn Progress,
) -> Result<FileReport, DeskError> {
    let hints = hints(Some(book), request, place)?;
    let read = interstice_intake::read_bytes(name, bytes, &hints, progress);
    let source = Source::of_reader(bytes, bytes.len() as u64);
    write(book, name, read, source, request, place)
}

/// How a file would be understood, all of it read. Writes nothing.
pub fn explain(book: Option<&Book>, path: &Path, request: &ImportRequest, place: &Place) -> FileReport {
    let file = path.display().to_string();
    match hints(book, request, place) {
        Ok(hints) => explained(&file, interstice_intake::read(path, &hints, &mut ())),
        Err(error) => refused(&file, &error.to_string()),
    }
}

/// How a file handed over as bytes would be understood. Writes nothing.
pub fn explain_bytes(
    book: Option<&Book>,
    name: &str,
    bytes: &[u8],
    request: &ImportRequest,
    place: &Place,
) -> FileReport {
    match hints(book, request, place) {
        Ok(hints) => explained(name, interstice_intake::read_bytes(name, bytes, &hints, &mut ())),
        Err(error) => refused(name, &error.to_string()),
    }
}

/// The zone asked for, else the book's, else the machine's; and the layouts the book remembers.
pub(crate) fn hints(book: Option<&Book>, request: &ImportRequest, place: &Place) -> Result<Hints, DeskError> {
    let book_zone = book
        .map(Book::settings)
        .transpose()?
        .and_then(|settings| settings.base_zone);
    let zone = match (&request.zone, book_zone) {
        (Some(zone), _) => (zone.clone(), ZoneSource::Asked),
        (None, Some(zone)) => (zone, ZoneSource::Book),
        (None, None) => (place.machine_zone.clone(), ZoneSource::Machine),
    };
    let recipes = match book {
        Some(book) => book
            .recipes()?
            .iter()
            .filter_map(|recipe| serde_json::from_str(&recipe.json).ok())
            .collect(),
        None => Vec::new(),
    };
    Ok(Hints {
        zone,
        unit: request.unit,
        dates: request.dates,
        roles: request.roles.clone(),
        subject: request.subject.clone(),
        recipes,
    })
}

fn explained(file: &str, outcome: Result<Outcome, IntakeError>) -> FileReport {
    match outcome {
        Ok(Outcome::Read(read)) if instants(&read.draft).next().is_none() && read.settings.is_empty() => {
            unusable(file, &read)
        }
        Ok(Outcome::Read(read)) => {
            let first_days = first_days(&read.draft, &|at| moment(&read.draft, at));
            FileReport {
                first_days,
                ..of_file(file, FileStatus::Understood, *read)
            }
        }
        Ok(Outcome::Question {
            understanding,
            questions,
        }) => questioned(file, *understanding, &questions),
        Err(error) => refused(file, &error.to_string()),
    }
}

fn questioned(
    file: &str,
    understanding: Understanding,
    questions: &[interstice_intake::Question],
) -> FileReport {
    FileReport {
        questions: questions.iter().map(QuestionLine::from).collect(),
        understanding: Some(understanding),
        ..FileReport::new(file, FileStatus::Question)
    }
}

fn refused(file: &str, why: &str) -> FileReport {
    let problem = ProblemLine {
        row: 0,
        column: String::new(),
        text: String::new(),
        reason: why.to_owned(),
    };
    FileReport {
        problems: vec![problem],
        ..FileReport::new(file, FileStatus::Rejected)
    }
}

fn write(
    book: &mut Book,
    file: &str,
    read: Result<Outcome, IntakeError>,
    source: std::io::Result<Source>,
    request: &ImportRequest,
    place: &Place,
) -> Result<FileReport, DeskError> {
    let read = match read {
        Ok(Outcome::Read(read)) => *read,
        Ok(Outcome::Question {
            understanding,
            questions,
        }) => {
            return Ok(questioned(file, *understanding, &questions));
        }
        Err(error) => return Ok(refused(file, &error.to_string())),
    };
    let source = match source {
        Ok(source) => source,
        Err(error) => {
            return Ok(refused(
                file,
                &format!("cannot read {file} a second time: {error}"),
            ));
        }
    };
    if instants(&read.draft).next().is_none() && read.settings.is_empty() {
        return Ok(unusable(file, &read));
    }
    let mut read = read;
    // An export of this program knows its zones.
    if read.base_zone.is_none() {
        prefer_zone(&mut read.draft, &zone_in_force(book, request, place)?);
    }
    let provenance = provenance(file, &read, source, request, place)?;
    let receipt = book.import(&read.draft, &provenance, &mut |_, _| ControlFlow::Continue(()))?;
    Ok(imported(file, read, &receipt))
}

/// A file of which no row could be used: nothing is written.
fn unusable(file: &str, read: &ReadFile) -> FileReport {
    let rows = read.draft.rejected_count();
    let which = match rows {
        1 => "its only row could not be used".to_owned(),
        _ => format!("none of its {rows} rows could be used"),
    };
    let why = format!(
        "{which}; nothing was written; see the reasons below, correct the file or look at \
         it with --explain"
    );
    let mut report = refused(file, &why);
    let listed = read.draft.rejected.iter().take(LISTED_PROBLEMS).cloned();
    report.problems.extend(listed.map(ProblemLine::from));
    FileReport {
        rows_read: read.rows_read,
        rejected: rows,
        understanding: Some(read.understanding.clone()),
        ..report
    }
}

/// The zone asked for, else the book's, else the machine's.
fn zone_in_force(book: &Book, request: &ImportRequest, place: &Place) -> Result<Zone, DeskError> {
    Ok(match &request.zone {
        Some(zone) => zone.clone(),
        None => book
            .settings()?
            .base_zone
            .unwrap_or_else(|| place.machine_zone.clone()),
    })
}

/// Where the offsets a file gives are those of the zone in force at every row, the zone says the same and more: it
/// knows the clock between the rows too. The stretches of fixed offset are then one stretch of the zone.
fn prefer_zone(draft: &mut Draft, zone: &Zone) {
    let (Some(from), Some(to)) = (
        draft.lived.first().map(|s| s.from),
        draft.lived.last().map(|s| s.to),
    ) else {
        return;
    };
    let told = LivedClock::new(zone, &draft.lived, from, to);
    let known = LivedClock::new(zone, &[], from, to);
    let apart = told.apart_from(&known);
    let reads_differently = |at: Second| {
        let next = apart.partition_point(|&(_, end)| end <= at);
        apart.get(next).is_some_and(|&(start, _)| start <= at)
    };
    if apart.is_empty() || !instants(draft).any(reads_differently) {
        draft.lived = vec![LivedSpan {
            from,
            to,
            zone: zone.clone(),
        }];
    }
}

fn provenance(
    file: &str,
    read: &ReadFile,
    source: Source,
    request: &ImportRequest,
    place: &Place,
) -> Result<Provenance, DeskError> {
    let json =
        |error: serde_json::Error| DeskError::Request(format!("the import could not be described: {error}"));
    let mut recipes = Vec::new();
    for recipe in &read.recipes {
        recipes.push(KeptRecipe {
            layout: recipe.layout.clone(),
            json: serde_json::to_string(recipe).map_err(json)?,
        });
    }
    let base_zone = read.base_zone.as_ref().or(request.zone.as_ref());
    Ok(Provenance {
        file_name: base_name(file),
        digest: source.digest,
        size_bytes: source.size,
        imported_at: place.now,
        understanding_json: serde_json::to_string(&read.understanding).map_err(json)?,
        options_json: request.as_json(),
        recipes,
        base_zone: Some(base_zone.unwrap_or(&place.machine_zone).clone()),
        unit: read.unit,
        original: source.original,
        settings: read.settings.clone(),
    })
}

/// The name without its folder: where a file lay is nobody's business later.
fn base_name(file: &str) -> String {
    Path::new(file)
        .file_name()
        .map_or_else(|| file.to_owned(), |name| name.to_string_lossy().into_owned())
}

fn imported(file: &str, read: ReadFile, receipt: &ImportReceipt) -> FileReport {
    FileReport {
        import_id: receipt.change.map(|change| change.0),
        readings_new: receipt.readings_new,
        scans_new: receipt.scans_new,
        blood_checks_new: receipt.blood_checks_new,
        doses_new: receipt.doses_new,
        meals_new: receipt.meals_new,
        other_new: receipt.other_new,
        already_there: receipt.already_there,
        conflicts: receipt.conflicts,
        rejected: receipt.rejected,
        ..of_file(file, FileStatus::Imported, read)
    }
}

/// What a file says by itself, whatever the book has.
fn of_file(file: &str, status: FileStatus, read: ReadFile) -> FileReport {
    let span = span(&read.draft);
    let zone_at = |at: Second| moment(&read.draft, at);
    let problems = read
        .draft
        .rejected
        .iter()
        .take(LISTED_PROBLEMS)
        .cloned()
        .map(ProblemLine::from);
    FileReport {
        rows_read: read.rows_read,
        rejected: read.draft.rejected_count(),
        unit: read.unit.map(|unit| unit.symbol().to_owned()),
        zone: Some(read.zone.clone()),
        interval_min: read.interval_min,
        from: span.map(|(from, _)| zone_at(from)),
        to: span.map(|(_, to)| zone_at(to)),
        problems: problems.collect(),
        notes: read.understanding.notes.clone(),
        understanding: Some(read.understanding),
        ..FileReport::new(file, status)
    }
}

/// Every instant a file brought something for.
fn instants(draft: &Draft) -> impl Iterator<Item = Second> + '_ {
    let readings = draft
        .traces
        .iter()
        .flat_map(|trace| trace.readings.at().iter().map(|&at| Second::from(at)));
    readings
        .chain(draft.blood_checks.iter().map(|check| check.at))
        .chain(draft.doses.iter().map(|dose| dose.at))
        .chain(draft.meals.iter().map(|meal| meal.at))
        .chain(draft.marks.iter().map(|mark| mark.at))
        .chain(draft.sensor_notes.iter().map(|note| note.at))
        .chain(draft.low_verdicts.iter().map(|verdict| verdict.at))
        .chain(draft.photos.iter().map(|photo| photo.at))
}

/// First and last instant of everything a file brought.
fn span(draft: &Draft) -> Option<(Second, Second)> {
    instants(draft).fold(None, |span, at| match span {
        None => Some((at, at)),
        Some((from, to)) => Some((from.min(at), to.max(at))),
    })
}

/// The instant with the offset the file's rows were lived at.
fn moment(draft: &Draft, at: Second) -> Moment {
    let span = draft
        .lived
        .iter()
        .find(|span| span.from <= at && at < span.to)
        .or(draft.lived.last());
    Moment {
        at,
        offset_s: span.map_or(0, |span| span.zone.offset_s(at)),
    }
}

/// The file itself: its digest, and its bytes compressed where it is of ordinary size.
struct Source {
    digest: [u8; 32],
    size: u64,
    original: Option<Vec<u8>>,
}

impl Source {
    fn of_path(path: &Path) -> std::io::Result<Self> {
        let file = File::open(path)?;
        let size = file.metadata()?.len();
        Source::of_reader(file, size)
    }

    /// All files of a folder, by their paths: what is not kept here is told apart all the same.
    fn of_folder(path: &Path) -> std::io::Result<Self> {
        let mut hasher = Sha256::new();
        let mut size = 0;
        let mut files = Vec::new();
        files_in(path, FOLDERS_DEEP, &mut files)?;
        files.sort();
        for file in files {
            let name = file
                .strip_prefix(path)
                .unwrap_or(&file)
                .to_string_lossy()
                .into_owned();
            let one = Source::digested(File::open(&file)?)?;
            hasher.update(name.as_bytes());
            hasher.update([0]);
            hasher.update(one.0);
            size += one.1;
        }
        Ok(Source {
            digest: hasher.finalize().into(),
            size,
            original: None,
        })
    }

    fn digested(mut reader: impl Read) -> std::io::Result<([u8; 32], u64)> {
        let mut hasher = Sha256::new();
        let mut chunk = vec![0_u8; 1 << 18];
        let mut size = 0;
        loop {
            let n = reader.read(&mut chunk)?;
            if n == 0 {
                return Ok((hasher.finalize().into(), size));
            }
            hasher.update(&chunk[..n]);
            size += n as u64;
        }
    }

    /// Digests and compresses in one pass over the bytes.
    fn of_reader(mut reader: impl Read, size: u64) -> std::io::Result<Self> {
        let mut hasher = Sha256::new();
        let mut packer = match size <= KEPT_ORIGINAL_BYTES {
            true => Some(zstd::Encoder::new(Vec::new(), ORIGINAL_ZSTD_LEVEL)?),
            false => None,
        };
        let mut chunk = vec![0_u8; 1 << 18];
        loop {
            let n = reader.read(&mut chunk)?;
            if n == 0 {
                break;
            }
            hasher.update(&chunk[..n]);
            if let Some(packer) = &mut packer {
                std::io::Write::write_all(packer, &chunk[..n])?;
            }
        }
        Ok(Source {
            digest: hasher.finalize().into(),
            size,
            original: packer.map(zstd::Encoder::finish).transpose()?,
        })
    }
}

/// Files of a folder and of those in it.
fn files_in(folder: &Path, deep: u32, files: &mut Vec<PathBuf>) -> std::io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        let kind = entry.file_type()?;
        if kind.is_file() {
            files.push(entry.path());
        } else if kind.is_dir() && deep > 0 {
            files_in(&entry.path(), deep - 1, files)?;
        }
    }
    Ok(())
}

//! What goes in and what comes out.

use std::path::PathBuf;

use interstice_glucose::{Draft, Unit, Zone};
use serde::{Deserialize, Serialize};

/// Order of day, month and year in written dates.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DateOrder {
    /// 31.12.2025
    DayFirst,
    /// 12/31/2025
    MonthFirst,
    /// 2025-12-31
    YearFirst,
}

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Date and time in one.
    DateTime,
    /// Date alone.
    Date,
    /// Time of day alone.
    TimeOfDay,
    /// Offset from universal time, in a column of its own.
    Offset,
    /// When it ended.
    End,
    /// How long it lasted.
    Duration,
    /// Sensor glucose stored automatically, or glucose whose kind another column says.
    Glucose,
    /// Sensor glucose scanned by hand.
    Scan,
    /// Blood glucose from a meter or laboratory.
    BloodGlucose,
    /// Unit of the glucose column.
    Unit,
    /// What kind of row this is.
    Kind,
    /// A number whose meaning the kind column says.
    Value,
    /// Rapid insulin, units.
    RapidInsulin,
    /// Short-acting human insulin, units.
    ShortInsulin,
    /// Intermediate insulin, units.
    IntermediateInsulin,
    /// Long insulin, units.
    LongInsulin,
    /// A premixed insulin, units.
    MixedInsulin,
    /// Insulin of unsaid kind, units.
    Insulin,
    /// Basal rate, units an hour.
    BasalRate,
    /// Insulin into a vein.
    IntravenousInsulin,
    /// Insulin written as words ('human regular, 6 IU').
    InsulinText,
    /// Which insulin.
    InsulinKind,
    /// Carbohydrate, grams.
    Carbohydrate,
    /// Protein, grams.
    Protein,
    /// Fat, grams.
    Fat,
    /// Fibre, grams.
    Fibre,
    /// Energy, kilocalories.
    Energy,
    /// Food in words.
    FoodText,
    /// Blood ketones, mmol/L.
    Ketones,
    /// Activity.
    Activity,
    /// Sleep.
    Sleep,
    /// Another medicine.
    Medicine,
    /// A symptom felt.
    Symptom,
    /// Sensor's name or serial.
    Sensor,
    /// Site on the body.
    Site,
    /// Below-range, above-range and other marks beside the value.
    Flag,
    /// The person, in a file of several.
    Subject,
    /// The wall clock beside a column of universal time.
    LocalTime,
    /// Something a device reported about itself.
    Device,
    /// A sensor was started.
    SensorStart,
    /// A sensor ended.
    SensorEnd,
    /// Free text worth keeping.
    Note,
    /// Nothing the book has a place for.
    Ignored,
}

impl Role {
    /// All roles, with the word each is asked for by (`--as COLUMN=WORD`).
    pub const ALL: [(Role, &'static str); 43] = [
        (Role::DateTime, "date-time"),
        (Role::Date, "date"),
        (Role::TimeOfDay, "time-of-day"),
        (Role::Offset, "offset"),
        (Role::End, "end"),
        (Role::Duration, "duration"),
        (Role::Glucose, "glucose"),
        (Role::Scan, "scan"),
        (Role::BloodGlucose, "blood-glucose"),
        (Role::Unit, "unit"),
        (Role::Kind, "kind"),
        (Role::Value, "value"),
        (Role::RapidInsulin, "rapid-insulin"),
        (Role::ShortInsulin, "short-insulin"),
        (Role::IntermediateInsulin, "intermediate-insulin"),
        (Role::LongInsulin, "long-insulin"),
        (Role::MixedInsulin, "mixed-insulin"),
        (Role::Insulin, "insulin"),
        (Role::BasalRate, "basal-rate"),
        (Role::IntravenousInsulin, "intravenous-insulin"),
        (Role::InsulinText, "insulin-text"),
        (Role::InsulinKind, "insulin-kind"),
        (Role::Carbohydrate, "carbohydrate"),
        (Role::Protein, "protein"),
        (Role::Fat, "fat"),
        (Role::Fibre, "fibre"),
        (Role::Energy, "energy"),
        (Role::FoodText, "food-text"),
        (Role::Ketones, "ketones"),
        (Role::Activity, "activity"),
        (Role::Sleep, "sleep"),
        (Role::Medicine, "medicine"),
        (Role::Symptom, "symptom"),
        (Role::Sensor, "sensor"),
        (Role::Site, "site"),
        (Role::Flag, "flag"),
        (Role::Subject, "subject"),
        (Role::Note, "note"),
        (Role::Ignored, "ignored"),
        (Role::LocalTime, "local-time"),
        (Role::Device, "device"),
        (Role::SensorStart, "sensor-start"),
        (Role::SensorEnd, "sensor-end"),
    ];

    /// The role a word asks for.
    pub fn named(word: &str) -> Option<Role> {
        Role::ALL
            .iter()
            .find(|(_, name)| name.eq_ignore_ascii_case(word.trim()))
            .map(|&(role, _)| role)
    }

    /// The word it is asked for by.
    pub fn word(self) -> &'static str {
        Role::ALL
            .iter()
            .find(|&&(role, _)| role == self)
            .map_or("ignored", |&(_, word)| word)
    }
}

/// Where the zone of a wall-clock file came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ZoneSource {
    /// The file gives offsets itself.
    File,
    /// The person said so.
    Asked,
    /// The book's zone timeline.
    Book,
    /// The machine's own zone.
    Machine,
}

/// What the person, the book and the machine add to the file's own evidence.
#[derive(Clone, Debug)]
pub struct Hints {
    /// Zone for files that give only wall time, and where it came from.
    pub zone: (Zone, ZoneSource),
    /// Unit, where the person says it.
    pub unit: Option<Unit>,
    /// Date order, where the person says it.
    pub dates: Option<DateOrder>,
    /// Columns whose role the person says: heading (or number from 1) and role. Where a column holds codes,
    /// `COLUMN:CODE` says what the rows with that code are ('3:58' is a blood check, say).
    pub roles: Vec<(String, Role)>,
    /// The person, in a file of several.
    pub subject: Option<String>,
    /// Layouts understood before.
    pub recipes: Vec<Recipe>,
}

/// A layout understood before, so that the next file like it needs no questions.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Recipe {
    /// Digest of the layout: headings and shapes, not values.
    pub layout: String,
    /// Roles by column.
    pub roles: Vec<Role>,
    /// Unit, where the file itself does not say it row by row.
    pub unit: Option<String>,
    /// Date order.
    pub dates: Option<DateOrder>,
    /// The person, where the file holds several.
    pub subject: Option<String>,
    /// Columns (from 1) whose role the person said. These hold for every file of the layout; the other roles only
    /// help out where a file's own evidence leaves a question.
    #[serde(default)]
    pub said: Vec<usize>,
    /// What codes in a column stand for: column number from 1, code, role.
    #[serde(default)]
    pub codes: Vec<(usize, String, Role)>,
}

/// Asked to stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stop;

/// How far a long read has come. Called about ten times a second at most.
pub trait Progress {
    /// Bytes of `total_bytes` done and rows read. Answer `Err(Stop)` to stop and leave everything as it was.
    ///
    /// # Errors
    /// `Stop`.
    fn at(&mut self, bytes: u64, total_bytes: u64, rows: u64) -> Result<(), Stop>;
}

/// No interest in progress.
impl Progress for () {
    fn at(&mut self, _: u64, _: u64, _: u64) -> Result<(), Stop> {
        Ok(())
    }
}

/// One column as it was understood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ColumnView {
    /// Number from 1.
    pub number: usize,
    /// Heading, empty where there is none.
    pub heading: String,
    /// Role taken.
    pub role: Role,
    /// How sure, 0 to 1.
    pub confidence: f64,
    /// Evidence in words.
    pub evidence: Vec<String>,
    /// A few cells.
    pub examples: Vec<String>,
}

/// One table of the file as it was understood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TableView {
    /// Sheet or member name and first line, as a person would find it.
    pub place: String,
    /// Encoding, delimiter, decimal mark, quoting in words; 'spreadsheet' for a workbook.
    pub format: String,
    /// Columns.
    pub columns: Vec<ColumnView>,
    /// Unit and the evidence for it.
    pub unit: Option<(String, String)>,
    /// How times are read, in words: order of date, clock, seconds, epoch.
    pub time_rule: String,
    /// Zone in words, and where it came from.
    pub zone: String,
    /// The first rows as they were parsed, in words.
    pub parsed: Vec<String>,
    /// Native interval inferred, minutes.
    pub interval_min: Option<f64>,
}

/// How a file was understood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Understanding {
    /// Its tables.
    pub tables: Vec<TableView>,
    /// Things decided that the person may want to know: the repeated hour, a unit that changed half-way.
    pub notes: Vec<String>,
}

/// Something only the person can say.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Question {
    /// In plain words.
    pub ask: String,
    /// Ways to answer it: the flag as it would be typed, and what it means.
    pub answers: Vec<(String, String)>,
}

/// A file read whole.
#[derive(Clone, Debug)]
pub struct ReadFile {
    /// All it brought.
    pub draft: Draft,
    /// How it was understood.
    pub understanding: Understanding,
    /// Layouts to remember, one a table.
    pub recipes: Vec<Recipe>,
    /// Data rows seen in all tables, used or rejected.
    pub rows_read: u64,
    /// Unit most readings were said in.
    pub unit: Option<Unit>,
    /// Zone by which wall times were read; 'as in the file' where the file gives offsets.
    pub zone: String,
    /// Native interval of the automatic readings, minutes.
    pub interval_min: Option<f64>,
    /// Settings of the book it was exported from, as that book writes them; of an export of this program alone.
    pub settings: Vec<(String, String)>,
    /// The base zone of that book.
    pub base_zone: Option<Zone>,
}

/// What came of a file.
#[derive(Clone, Debug)]
pub enum Outcome {
    /// Understood and read.
    Read(Box<ReadFile>),
    /// Only the person can settle it.
    Question {
        /// As far as it was understood.
        understanding: Box<Understanding>,
        /// One or more.
        questions: Vec<Question>,
    },
}

/// Why a file cannot be read. Every message says what to do next.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum IntakeError {
    /// The operating system refused.
    #[error("cannot open {path}: {source}; check that it exists and that you may read it")]
    Open {
        /// File.
        path: PathBuf,
        /// Cause.
        source: std::io::Error,
    },
    /// The bytes are not a table: what they are, and what to export instead.
    #[error("{what}; {next}")]
    NotATable {
        /// What it is.
        what: String,
        /// What to do.
        next: String,
    },
    /// Stopped on request.
    #[error("stopped; nothing was written")]
    Stopped,
}

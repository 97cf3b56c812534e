//! What came of a file, field for field as `import --json` prints it.

use interstice_glucose::{Moment, Rejected};
use interstice_intake::{Question, Understanding};
use serde::{Serialize, Serializer};

use crate::FirstDay;

/// What became of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum FileStatus {
    /// Read, and in the book (also when everything was already there).
    Imported,
    /// Understood, and only that was asked for.
    Understood,
    /// Only the person can settle it; nothing was written.
    Question,
    /// Cannot be used; nothing was written.
    Rejected,
}

/// One row that could not be used.
#[derive(Clone, Debug, Serialize)]
pub struct ProblemLine {
    /// Line in the file, from 1; 0 where the file as a whole is meant.
    pub row: u64,
    /// Column.
    pub column: String,
    /// Text found.
    pub text: String,
    /// Why it cannot be used and what would help.
    pub reason: String,
}

impl From<Rejected> for ProblemLine {
    fn from(rejected: Rejected) -> Self {
        ProblemLine {
            row: rejected.row,
            column: rejected.column,
            text: rejected.text,
            reason: rejected.reason,
        }
    }
}

/// A question with its answers.
#[derive(Clone, Debug, Serialize)]
pub struct QuestionLine {
    /// In plain words.
    pub ask: String,
    /// Ways to answer.
    pub answers: Vec<AnswerLine>,
}

/// One way to answer.
#[derive(Clone, Debug, Serialize)]
pub struct AnswerLine {
    /// The flag as it is typed.
    pub flag: String,
    /// What it means.
    pub meaning: String,
}

impl From<&Question> for QuestionLine {
    fn from(question: &Question) -> Self {
        let answers = question
            .answers
            .iter()
            .map(|(flag, meaning)| AnswerLine {
                flag: flag.clone(),
                meaning: meaning.clone(),
            })
            .collect();
        QuestionLine {
            ask: question.ask.clone(),
            answers,
        }
    }
}

/// What came of one file.
#[derive(Clone, Debug, Serialize)]
pub struct FileReport {
    /// The file as it was named.
    pub file: String,
    /// What became of it.
    pub status: FileStatus,
    /// Number of the import in the journal, for `undo`; absent when nothing was written.
    pub import_id: Option<i64>,
    /// Data rows seen, used or not.
    pub rows_read: u64,
    /// Automatic readings new to the book.
    pub readings_new: u64,
    /// Hand scans new to the book.
    pub scans_new: u64,
    /// Blood checks new to the book.
    pub blood_checks_new: u64,
    /// Doses new to the book.
    pub doses_new: u64,
    /// Meals new to the book.
    pub meals_new: u64,
    /// Activities, nights, notes and sensor moments new to the book.
    pub other_new: u64,
    /// Rows the book had already.
    pub already_there: u64,
    /// Readings that differ from what the book has at the same instant; the first value stands.
    pub conflicts: u64,
    /// Rows that could not be used.
    pub rejected: u64,
    /// Unit most readings were said in.
    pub unit: Option<String>,
    /// Zone by which wall times were read.
    pub zone: Option<String>,
    /// Native interval, minutes.
    pub interval_min: Option<f64>,
    /// First instant in the file.
    #[serde(serialize_with = "moment")]
    pub from: Option<Moment>,
    /// Last instant in the file.
    #[serde(serialize_with = "moment")]
    pub to: Option<Moment>,
    /// What only the person can settle.
    pub questions: Vec<QuestionLine>,
    /// Rows that could not be used, the first hundred; or why the file could not be.
    pub problems: Vec<ProblemLine>,
    /// What was decided that the person may want to know.
    pub notes: Vec<String>,
    /// Its first days, while it is not written yet.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub first_days: Vec<FirstDay>,
    /// How the file was understood.
    pub understanding: Option<Understanding>,
}

impl FileReport {
    /// An empty report.
    pub(crate) fn new(file: &str, status: FileStatus) -> Self {
        FileReport {
            file: file.to_owned(),
            status,
            import_id: None,
            rows_read: 0,
            readings_new: 0,
            scans_new: 0,
            blood_checks_new: 0,
            doses_new: 0,
            meals_new: 0,
            other_new: 0,
            already_there: 0,
            conflicts: 0,
            rejected: 0,
            unit: None,
            zone: None,
            interval_min: None,
            from: None,
            to: None,
            questions: Vec::new(),
            problems: Vec::new(),
            notes: Vec::new(),
            first_days: Vec::new(),
            understanding: None,
        }
    }
}

fn moment<S: Serializer>(moment: &Option<Moment>, serializer: S) -> Result<S::Ok, S::Error> {
    match moment {
        Some(moment) => serializer.collect_str(moment),
        None => serializer.serialize_none(),
    }
}

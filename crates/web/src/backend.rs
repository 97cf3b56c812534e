//! What the pages ask of the book, and what they may do to it. One trait, so that routes are tested without a book.

use std::path::Path;
use std::sync::Arc;

use interstice_desk::stock::StockAct;
use interstice_desk::trial::TrialWords;
use interstice_desk::{AwayWords, Fed, Feed, FileReport, JotWords, NightHours, ProblemLine, Seen};
use interstice_findings::compare::{CompareAsk, CompareFindings};
use interstice_findings::days::DaysBook;
use interstice_findings::feeds::{FeedAsk, FeedsFindings};
use interstice_findings::find::{FindAsk, FindFindings};
use interstice_findings::states::KnownState;
use interstice_findings::trust::SensorFindings;
use interstice_findings::wear::SensorRecord;
use interstice_findings::wear::trials::TrialSize;
use interstice_findings::written::{EntryRef, WrittenFindings};
use interstice_findings::{
    CheckFindings, NowFindings, ReviewFindings, SecondLookFindings, TargetGroup, TrustAsk, TrustFindings,
    VisitFindings, WearFindings,
};
use interstice_glucose::{
    ClaimWhat, Compares, Draft, InsulinLasts, LowVerdict, Moment, Second, SensorDetail, SensorKind,
    SensorNoteKind, TrialOutcome, Unit, VisitChoice, VisitNotes, WearChoice,
};
use interstice_tongue::Tongue;

use crate::{Answers, Invent, Trouble, Upload};

/// The stretch of the book a review is about.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum ReviewWindow {
    /// The last lived days up to the newest reading.
    Days(u32),
    /// From the first calendar date to the last, both included, 'YYYY-MM-DD'; the book's end where one is missing.
    Dates {
        /// First date.
        from: Option<String>,
        /// Last date.
        to: Option<String>,
    },
}

/// What a review is asked for.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct ReviewAsk {
    /// The stretch.
    pub window: ReviewWindow,
    /// Without readings that count as pressed or are marked as not to be believed.
    pub exclude_pressure: bool,
}

/// What a visit sheet is asked for.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct VisitWindow {
    /// The stretch.
    pub window: ReviewWindow,
    /// Day of the last visit, 'YYYY-MM-DD', in place of the one the book remembers.
    pub since: Option<String>,
}

/// What the wearer has settled once for the whole book.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// The language they read.
    pub language: Tongue,
    /// The unit they read.
    pub unit: Unit,
    /// Their targets.
    pub targets: TargetGroup,
    /// The zone they live in, by name.
    pub zone: String,
    /// How long their insulins act, by their own word.
    pub insulin: InsulinLasts,
    /// When their night is; the usual hours where nothing is said.
    pub night: Option<NightHours>,
    /// Whether they said that they have read the cautions.
    pub cautions_read: bool,
}

/// A stretch lived by another clock.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AwayLine {
    /// The entry, to strike it out by.
    pub entry: EntryRef,
    /// Its first moment and the first after it, by the clock there.
    pub span: (Moment, Moment),
    /// The zone, by name.
    pub zone: String,
    /// Whether it was told by hand rather than by a file.
    pub by_hand: bool,
}

/// What the book is and holds.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AboutBook {
    /// Where it lies.
    pub path: String,
    /// Its size; `None` where it is not there yet.
    pub bytes: Option<u64>,
    /// Stretches lived by another clock, oldest first.
    pub away: Vec<AwayLine>,
    /// How many layouts of files it knows.
    pub layouts: usize,
    /// How many files were brought in.
    pub imports: usize,
    /// The wearer's own tags, with the days of each.
    pub tags: Vec<(String, usize)>,
    /// Its backups.
    pub backups: Backups,
}

/// What is known of a book's backups.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Backups {
    /// When the last one was made, and where it was put.
    pub last: Option<(Moment, String)>,
    /// Folder and hours between two, where they are made by themselves.
    pub by_itself: Option<(String, u32)>,
    /// When the next is due.
    pub next: Option<Moment>,
    /// When the last try failed, and why.
    pub trouble: Option<(Moment, String)>,
}

/// How much an import brought.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Brought {
    /// Automatic readings.
    pub readings: u64,
    /// Hand scans.
    pub scans: u64,
    /// Blood checks.
    pub blood_checks: u64,
    /// Doses.
    pub doses: u64,
    /// Meals.
    pub meals: u64,
    /// Everything else.
    pub other: u64,
}

/// One import, as the page of imports lists it.
#[derive(Clone, Debug, PartialEq)]
pub struct ImportLine {
    /// Its number, for undoing it.
    pub id: i64,
    /// The file as it was named, or the feed.
    pub file: String,
    /// Whether it is what a feed brought on a day.
    pub is_of_feed: bool,
    /// When it was brought in.
    pub when: Moment,
    /// What it brought when it came.
    pub brought: Brought,
    /// Rows that could not be used.
    pub rejected: u64,
}

/// What became of a form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Jotted {
    /// Written, by this change.
    Written(i64),
    /// Nothing is written: this value is hard to believe in the book's unit.
    WhichUnit(String),
}

/// What is written down of a sensor: one moment, or several at once.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorWords {
    /// When, as a person types it by the clock of the book's zone; now where nothing is said.
    pub when: Option<String>,
    /// What happened then.
    pub moments: Vec<SensorNoteKind>,
    /// Which sensor, by its name in the file.
    pub sensor: Option<String>,
    /// Where on the body.
    pub site: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// What goes with the first of the moments.
    pub detail: SensorDetail,
    /// A photo to keep beside the first of them.
    pub photo: Option<Upload>,
}

/// What the size of a trial is asked by.
#[derive(Clone, Debug, PartialEq)]
pub struct TrialAsk {
    /// What the ways differ in.
    pub compares: Compares,
    /// The ways, as they were written.
    pub arms: Vec<String>,
    /// What is measured.
    pub outcome: TrialOutcome,
    /// The difference worth knowing; the usual one where nothing is said.
    pub difference: Option<f64>,
}

/// A photo as it was kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SensorPhoto {
    /// 'image/jpeg' and so on.
    pub media: &'static str,
    /// All of it.
    pub bytes: Vec<u8>,
}

/// What the pages need. Calls may take long and may block; the app makes them off its own threads.
pub trait Backend: Send + Sync + 'static {
    /// Whether nothing has been brought in yet.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn is_empty(&self) -> Result<bool, Trouble>;

    /// The settings.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn settings(&self) -> Result<Settings, Trouble>;

    /// Changes the settings.
    ///
    /// # Errors
    /// When the book cannot be written, or the zone is unknown.
    fn change_settings(&self, settings: &Settings) -> Result<(), Trouble>;

    /// How an invented recording is made, to be shown beside the book; `None` where there is none.
    fn invent(&self) -> Option<Invent> {
        None
    }

    /// Whether all this is itself invented.
    fn is_invented(&self) -> bool {
        false
    }

    /// Whether there is something to say of backups.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn backup_reminder(&self) -> Result<Option<interstice_backup::Reminder>, Trouble> {
        Ok(None)
    }

    /// What the book is and holds, beside the record.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn about_book(&self) -> Result<AboutBook, Trouble>;

    /// Writes down that another zone was lived in; answers the change, to take it back by.
    ///
    /// # Errors
    /// When the book cannot be written, or the words make no sense.
    fn log_away(&self, words: &AwayWords) -> Result<i64, Trouble>;

    /// The account of a window.
    ///
    /// # Errors
    /// When the book cannot be used, or the window makes no sense.
    fn review(&self, ask: &ReviewAsk) -> Result<Arc<ReviewFindings>, Trouble>;

    /// The blood checks of a window of a book without readings; `None` where it has no checks either.
    ///
    /// # Errors
    /// When the book cannot be used, or the window makes no sense.
    fn checks(&self, _ask: &ReviewAsk) -> Result<Option<CheckFindings>, Trouble> {
        Ok(None)
    }

    /// Before and after.
    ///
    /// # Errors
    /// When the book cannot be used, or the days make no two sets.
    fn compare(&self, ask: &CompareAsk) -> Result<Arc<CompareFindings>, Trouble>;

    /// Kinds of days the book knows.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn states(&self) -> Result<Vec<KnownState>, Trouble>;

    /// Sensors beside blood checks.
    ///
    /// # Errors
    /// When the book cannot be used, or there is no such sensor.
    fn trust(&self, ask: &TrustAsk) -> Result<Arc<TrustFindings>, Trouble>;

    /// One sensor over its life; the question must name it.
    ///
    /// # Errors
    /// When the book cannot be used, or there is no such sensor.
    fn sensor(&self, ask: &TrustAsk) -> Result<Arc<SensorFindings>, Trouble>;

    /// What is on, what comes next, how long sensors stay on; as of now, or of a moment as a person types it.
    ///
    /// # Errors
    /// When the book cannot be used, or the moment is none.
    fn wear(&self, at: Option<&str>) -> Result<Arc<WearFindings>, Trouble>;

    /// What was written down lately, and what is written again and again.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn written(&self) -> Result<WrittenFindings, Trouble>;

    /// Writes down what was filled in, or corrects an entry by it.
    ///
    /// # Errors
    /// When the book cannot be written, or it makes no sense.
    fn jot(&self, words: &JotWords, entry: Option<EntryRef>) -> Result<Jotted, Trouble>;

    /// Writes down what was filled in on a device that was away, under a key made there: sent again, it is written once.
    ///
    /// * `labelled`: the unit its form asked for, where it asked for one.
    ///
    /// # Errors
    /// As [`Backend::jot`], and where the key is none.
    fn jot_once(&self, words: &JotWords, key: &str, labelled: Option<Unit>) -> Result<Jotted, Trouble>;

    /// What tells this book from any other.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn identity(&self) -> Result<String, Trouble>;

    /// Strikes an entry out; answers the change, to take it back by.
    ///
    /// # Errors
    /// When the book cannot be written, or there is no such entry.
    fn strike(&self, entry: EntryRef) -> Result<i64, Trouble>;

    /// Takes back what was written, corrected or struck out by hand.
    ///
    /// # Errors
    /// When the book cannot be written, or that change was not made by hand.
    fn take_back_entry(&self, change: i64) -> Result<(), Trouble>;

    /// This moment.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn now(&self) -> Result<NowFindings, Trouble>;

    /// A moment looked at a second time, as a person types it; the last reading where nothing is said.
    ///
    /// # Errors
    /// When the book cannot be used, or the moment cannot be read as one.
    fn second_look(&self, at: Option<&str>) -> Result<SecondLookFindings, Trouble>;

    /// Days by what happened on them.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn find(&self, ask: &FindAsk) -> Result<FindFindings, Trouble>;

    /// The whole book as a timeline, kept warm.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn days(&self) -> Result<Arc<DaysBook>, Trouble>;

    /// Imports, newest first.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn imports(&self) -> Result<Vec<ImportLine>, Trouble>;

    /// Rows of an import that could not be used.
    ///
    /// # Errors
    /// When the book cannot be used, or there is no such import.
    fn rejected(&self, import: i64) -> Result<Vec<ProblemLine>, Trouble>;

    /// How a file would be understood. Writes nothing.
    ///
    /// # Errors
    /// When the book cannot be used, or an answer makes no sense.
    fn understand(&self, file: &Upload, answers: &Answers) -> Result<FileReport, Trouble>;

    /// Brings a file in.
    ///
    /// # Errors
    /// When the book cannot be written, or an answer makes no sense.
    fn import(&self, file: &Upload, answers: &Answers) -> Result<FileReport, Trouble>;

    /// Writes what a feed sent; when it answers, that is on the disk.
    ///
    /// # Errors
    /// When the book cannot be written or is an invented one, or what was sent cannot be read.
    fn feed(&self, from: &Feed, sent: &[u8]) -> Result<Fed, Trouble>;

    /// Writes rows of a feed that were read already, from so many that were seen; when it answers, they are on the disk.
    ///
    /// # Errors
    /// As [`Backend::feed`].
    fn feed_read(&self, from: &Feed, rows: Draft, rows_read: u64) -> Result<Fed, Trouble>;

    /// Looks into a folder once; answers how many rows are new in the book.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn look_into(&self, folder: &Path, from: &Feed, seen: &mut Seen) -> Result<u64, Trouble>;

    /// How the feeds are.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn feeds(&self, asked: &[FeedAsk]) -> Result<FeedsFindings, Trouble>;

    /// Takes an import back; answers what was taken back, in words.
    ///
    /// # Errors
    /// When the book cannot be written, or there is no such import.
    fn undo(&self, import: i64) -> Result<String, Trouble>;

    /// Keeps the wearer's word on a low; answers the change, to take it back by.
    ///
    /// # Errors
    /// When the book cannot be written, or the word makes no sense.
    fn judge_low(&self, word: &LowVerdict) -> Result<i64, Trouble>;

    /// Takes the wearer's word on a low back.
    ///
    /// # Errors
    /// When the book cannot be written, or no word was written by that change.
    fn take_back_word(&self, change: i64) -> Result<(), Trouble>;

    /// Writes a sensor's moments down as one change; answers its number, to take it back by.
    ///
    /// # Errors
    /// When the book cannot be written, or the words make no sense.
    fn write_sensor(&self, words: &SensorWords) -> Result<i64, Trouble>;

    /// Takes back what was written of a sensor by hand.
    ///
    /// # Errors
    /// When the book cannot be written, or nothing was written of a sensor by that change.
    fn take_back_sensor(&self, change: i64) -> Result<(), Trouble>;

    /// Does something to the drawer; answers the change, to take it back by, where one was made.
    ///
    /// # Errors
    /// When the book cannot be written, or the act makes no sense.
    fn stock(&self, act: &StockAct) -> Result<Option<i64>, Trouble>;

    /// All that is known of a sensor that ended.
    ///
    /// # Errors
    /// When the book cannot be used, or there is no such sensor.
    fn sensor_record(&self, sensor: &str) -> Result<SensorRecord, Trouble>;

    /// A photo beside a sensor.
    ///
    /// # Errors
    /// When the book cannot be used, or there is no such photo.
    fn photo(&self, id: i64) -> Result<SensorPhoto, Trouble>;

    /// Keeps a photo beside a sensor; answers the change, to take it back by.
    ///
    /// # Errors
    /// When the book cannot be written, or it is no picture of a known kind, or too large.
    fn keep_photo(&self, sensor: &str, photo: &Upload) -> Result<i64, Trouble>;

    /// Writes down what became of the claim for a sensor; answers the change.
    ///
    /// # Errors
    /// When the book cannot be written.
    fn claim(&self, sensor: &str, what: ClaimWhat, words: Option<String>) -> Result<i64, Trouble>;

    /// Takes the last step of the claim for a sensor back.
    ///
    /// # Errors
    /// When the book cannot be written, or there is no such step.
    fn take_back_claim(&self, sensor: &str) -> Result<(), Trouble>;

    /// Writes down what the readings tell of a sensor, by the key it is offered under; answers the change.
    ///
    /// # Errors
    /// When the book cannot be written, or nothing is offered under that key any more.
    fn confirm_found(&self, key: &str) -> Result<i64, Trouble>;

    /// Describes a kind of sensor and puts it in use.
    ///
    /// # Errors
    /// When the book cannot be written, or the kind makes no sense.
    fn describe_kind(&self, kind: &SensorKind) -> Result<(), Trouble>;

    /// A moment as a person types it, by the clock of the book's zone.
    ///
    /// # Errors
    /// When it cannot be read as one.
    fn moment_of(&self, typed: &str) -> Result<Second, Trouble>;

    /// Writes down what was chosen of the plan: all of it or nothing.
    ///
    /// # Errors
    /// When the book cannot be written, or a choice makes no sense.
    fn choose(&self, choices: &[WearChoice]) -> Result<(), Trouble>;

    /// How many sensors and blood checks a trial takes; writes nothing.
    ///
    /// # Errors
    /// When the book cannot be used, or its ways cannot be meant.
    fn trial_size(&self, ask: &TrialAsk) -> Result<TrialSize, Trouble>;

    /// Begins a trial. Nothing of it changes afterwards.
    ///
    /// # Errors
    /// When the book cannot be written, or the trial cannot be.
    fn begin_trial(&self, words: &TrialWords) -> Result<(), Trouble>;

    /// The visit sheet.
    ///
    /// # Errors
    /// When the book cannot be used, or the window makes no sense.
    fn visit(&self, ask: &VisitWindow) -> Result<Arc<VisitFindings>, Trouble>;

    /// What is kept for visits.
    ///
    /// # Errors
    /// When the book cannot be used.
    fn visit_notes(&self) -> Result<VisitNotes, Trouble>;

    /// Writes a question down; answers the change, to take it back by.
    ///
    /// # Errors
    /// When the book cannot be written, or the question is empty or too long.
    fn ask_at_visit(&self, question: &str) -> Result<Option<i64>, Trouble>;

    /// Keeps something for visits, changes it or takes it away; answers the change, where one was made.
    ///
    /// # Errors
    /// When the book cannot be written, or it makes no sense.
    fn keep_for_visit(&self, choice: &VisitChoice) -> Result<Option<i64>, Trouble>;

    /// Takes back what was kept for visits.
    ///
    /// # Errors
    /// When the book cannot be written, or nothing was kept for visits by that change.
    fn take_back_visit_note(&self, change: i64) -> Result<(), Trouble>;

    /// Gives a trial up, which stays on record with the reason.
    ///
    /// # Errors
    /// When the book cannot be written, there is no such trial, or no reason is said.
    fn abandon_trial(&self, name: &str, because: &str) -> Result<(), Trouble>;
}

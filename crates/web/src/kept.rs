//! The backend over a real book: questions go to a warm shelf, acts to the desk.

mod about;
mod feeds;
mod troubles;

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use interstice_desk::stock::{self, StockAct};
use interstice_desk::trial::{self, TrialWords};
use interstice_desk::{
    AwayWords, Book, ChangeId, ChangeKind, DeskError, Entry, Fed, Feed, FileReport, ImportInfo,
    ImportRequest, JotWords, Mode, PhotoId, Place, ProblemLine, Seen, claim, correct, explain_bytes,
    import_bytes, instant, jotted, log, log_away, log_once, log_together, log_with_photo, strike,
    take_back_claim, today,
};
use interstice_findings::compare::{CompareAsk, CompareFindings};
use interstice_findings::days::DaysBook;
use interstice_findings::feeds::{FeedAsk, FeedsFindings};
use interstice_findings::find::{FindAsk, FindFindings, find};
use interstice_findings::states::KnownState;
use interstice_findings::trust::SensorFindings;
use interstice_findings::wear::trials::{SizeAsk, TrialSize, size_book, trouble, usual_block};
use interstice_findings::wear::{SensorRecord, Settled, record_asked, sensor_record, wear};
use interstice_findings::written::{EntryRef, WrittenFindings, written};
use interstice_findings::{
    Ask, CheckFindings, DEFAULT_SEED, FindingsError, NowAsk, NowFindings, ReviewFindings, SecondLookAsk,
    SecondLookFindings, Shelf, Span, TrustAsk, TrustFindings, VisitAsk, VisitFindings, WearAsk, WearFindings,
    reader, wear_book,
};
use interstice_glucose::{
    ClaimStep, ClaimWhat, Draft, LivedClock, LowVerdict, Moment, Second, SensorDetail, SensorKind,
    SensorNote, SensorNoteKind, Unit, VisitChoice, VisitNotes, WearChoice, Zone, day_from_words,
};
use jiff::civil::Date;

use crate::{
    AboutBook, Answers, Backend, Brought, ImportLine, Invent, Jotted, ReviewAsk, ReviewWindow, SensorPhoto,
    SensorWords, Settings, TrialAsk, Trouble, Upload, VisitWindow,
};

/// What is outside the program, handed in.
#[derive(Clone, Debug)]
pub struct Outside {
    /// The zone the machine is set to.
    pub machine_zone: Zone,
    /// Reads the clock.
    pub now: fn() -> Second,
    /// Where the clock stands instead: an invented recording is shown as of its end.
    pub stands_at: Option<Second>,
    /// How an invented recording is made, to be shown beside the book.
    pub invent: Option<Invent>,
}

impl Outside {
    /// By the machine's zone and clock.
    pub fn new(machine_zone: Zone, now: fn() -> Second) -> Self {
        Outside {
            machine_zone,
            now,
            stands_at: None,
            invent: None,
        }
    }

    fn now(&self) -> Second {
        self.stands_at.unwrap_or_else(self.now)
    }
}

/// A trial of more sensors is refused; its blocks need not be looked for.
const MOST_SENSORS: u32 = 104;

/// A book at a path; it need not exist until something is brought in.
#[derive(Debug)]
pub struct KeptBook {
    path: PathBuf,
    shelf: Shelf,
    outside: Outside,
    /// One act at a time: a second one would only wait for the first inside the book.
    acting: Mutex<()>,
}

impl KeptBook {
    /// For the book at `path`.
    pub fn new(path: impl Into<PathBuf>, outside: Outside) -> Self {
        let path = path.into();
        KeptBook {
            shelf: Shelf::new(&path),
            path,
            outside,
            acting: Mutex::new(()),
        }
    }

    /// The book kept warm, for pages that look at the record itself.
    pub fn shelf(&self) -> &Shelf {
        &self.shelf
    }

    fn act(&self) -> MutexGuard<'_, ()> {
        self.acting.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn place(&self) -> Place {
        Place {
            now: self.outside.now(),
            machine_zone: self.outside.machine_zone.clone(),
        }
    }

    fn existing(&self) -> Result<Option<Book>, Trouble> {
        if !self.path.exists() {
            return Ok(None);
        }
        Ok(Some(Book::open(&self.path, Mode::ReadOnly)?))
    }

    /// A moment as a person types it, by the clock of the book's zone.
    fn moment(&self, typed: Option<&str>, now: Second) -> Result<Option<Second>, Trouble> {
        let Some(text) = typed.map(str::trim).filter(|text| !text.is_empty()) else {
            return Ok(None);
        };
        let settings = self.existing()?.map(|book| book.settings()).transpose()?;
        let zone = settings.and_then(|settings| settings.base_zone);
        let zone = zone.unwrap_or_else(|| self.outside.machine_zone.clone());
        Ok(Some(instant(text, now, &zone)?))
    }

    /// The entry a form means, in the unit it was labelled with or the book's; or the value that is hard to believe in it.
    fn meant(
        &self,
        book: &Book,
        words: &JotWords,
        labelled: Option<Unit>,
    ) -> Result<Result<Entry, String>, Trouble> {
        let settings = book.settings()?;
        let zone = settings
            .base_zone
            .unwrap_or_else(|| self.outside.machine_zone.clone());
        let unit = labelled.or(settings.unit).unwrap_or(Unit::MgPerDl);
        match jotted(words, self.outside.now(), &zone, Some(unit)) {
            Ok(new) => Ok(Ok(new)),
            Err(DeskError::WhichUnit(said)) => Ok(Err(said)),
            Err(error) => Err(error.into()),
        }
    }

    /// Questions a name that neither readings nor anything written down has.
    fn known_sensor(&self, name: &str) -> Result<(), Trouble> {
        let (record, _) = self.shelf.record()?;
        let read = record.traces.iter().any(|trace| trace.sensor == name);
        let told = record.sensor_notes.iter();
        if read
            || told
                .into_iter()
                .any(|kept| kept.it.sensor.as_deref() == Some(name))
        {
            return Ok(());
        }
        Err(Trouble::Request(format!(
            "no sensor called '{name}' is known, by readings or by what was written down; look at its name, or write down first that \
             it was put on"
        )))
    }

    fn import_info(&self, import: i64) -> Result<(Book, ImportInfo), Trouble> {
        let missing = || Trouble::Request("there is no such import; it may have been taken back".to_owned());
        let book = self.existing()?.ok_or_else(missing)?;
        let found = book
            .imports()?
            .into_iter()
            .find(|info| info.receipt.change == Some(ChangeId(import)));
        Ok((book, found.ok_or_else(missing)?))
    }

    fn span(&self, window: &ReviewWindow) -> Result<Span, Trouble> {
        let (from, to) = match window {
            ReviewWindow::Days(days) => return Ok(Span::LastDays(*days)),
            ReviewWindow::Dates { from, to } => (from, to),
        };
        let (record, _) = self.shelf.record()?;
        let spans = || record.traces.iter().filter_map(|trace| trace.readings.span());
        let checks = || record.blood_checks.iter().map(|kept| kept.it.at);
        let first = spans()
            .map(|span| span.0)
            .min()
            .or_else(|| checks().min())
            .unwrap_or(0);
        let last = spans()
            .map(|span| span.1)
            .max()
            .or_else(|| checks().max())
            .unwrap_or(0);
        let from = from.as_deref().map_or_else(|| day(&record.clock, first), date)?;
        let to = to.as_deref().map_or_else(|| day(&record.clock, last), date)?;
        if to < from {
            return Err(Trouble::Request(format!("{to} lies before {from}; swap them")));
        }
        Ok(Span::Dates { from, to })
    }
}

fn date(text: &str) -> Result<Date, Trouble> {
    text.parse()
        .map_err(|_| Trouble::Request(format!("'{text}' is not a date; write it like 2025-03-01")))
}

fn day(clock: &LivedClock, at: Second) -> Result<Date, Trouble> {
    let civil = clock.wall(at).civil();
    civil
        .map(|civil| civil.date())
        .ok_or_else(|| Trouble::Internal("a reading lies outside the calendar".to_owned()))
}

impl Backend for KeptBook {
    fn is_empty(&self) -> Result<bool, Trouble> {
        match self.shelf.record() {
            Ok((record, _)) => Ok(record.reading_count() == 0),
            Err(FindingsError::Empty) => Ok(true),
            Err(error) => Err(error.into()),
        }
    }

    fn settings(&self) -> Result<Settings, Trouble> {
        about::settings(self.existing()?.as_ref(), &self.outside.machine_zone)
    }

    fn change_settings(&self, settings: &Settings) -> Result<(), Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::CreateIfAbsent)?;
        about::change(&mut book, settings, self.outside.now())
    }

    fn invent(&self) -> Option<Invent> {
        self.outside.invent
    }

    fn is_invented(&self) -> bool {
        self.outside.stands_at.is_some()
    }

    fn backup_reminder(&self) -> Result<Option<interstice_backup::Reminder>, Trouble> {
        if self.is_invented() {
            return Ok(None);
        }
        about::backup_reminder(&self.path, self.existing()?.as_ref(), self.outside.now())
    }

    fn about_book(&self) -> Result<AboutBook, Trouble> {
        let now = self.outside.now();
        about::book(&self.path, self.existing()?.as_ref(), &self.shelf, now)
    }

    fn log_away(&self, words: &AwayWords) -> Result<i64, Trouble> {
        let span = words.meant()?;
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::CreateIfAbsent)?;
        Ok(log_away(&mut book, &span, self.outside.now())?)
    }

    fn review(&self, ask: &ReviewAsk) -> Result<Arc<ReviewFindings>, Trouble> {
        Ok(self.shelf.review(&Ask {
            span: self.span(&ask.window)?,
            exclude_pressure: ask.exclude_pressure,
            ..Ask::default()
        })?)
    }

    fn checks(&self, ask: &ReviewAsk) -> Result<Option<CheckFindings>, Trouble> {
        let ask = Ask {
            span: self.span(&ask.window)?,
            ..Ask::default()
        };
        match self.shelf.checks(&ask) {
            Ok(found) => Ok(Some(found)),
            Err(FindingsError::Empty) => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    fn compare(&self, ask: &CompareAsk) -> Result<Arc<CompareFindings>, Trouble> {
        Ok(self.shelf.compare(ask)?)
    }

    fn states(&self) -> Result<Vec<KnownState>, Trouble> {
        Ok(self.shelf.states()?)
    }

    fn trust(&self, ask: &TrustAsk) -> Result<Arc<TrustFindings>, Trouble> {
        Ok(self.shelf.trust(ask)?)
    }

    fn sensor(&self, ask: &TrustAsk) -> Result<Arc<SensorFindings>, Trouble> {
        self.shelf.sensor(ask).map_err(Trouble::of_sensor)
    }

    fn wear(&self, at: Option<&str>) -> Result<Arc<WearFindings>, Trouble> {
        let now = self.outside.now();
        let ask = WearAsk::at(self.moment(at, now)?.unwrap_or(now));
        let book = self.existing()?;
        if let (true, Some(book)) = (ask.now < now, &book) {
            // As of earlier: with what was known then, which is not on the shelf.
            return Ok(Arc::new(wear_book(book, ask)?));
        }
        let settled = book.map(|book| Settled::of(&book)).transpose()?;
        let record = match self.shelf.record() {
            Ok((record, _)) => record,
            // No book yet: nothing is known, and the page can still be written on.
            Err(FindingsError::Empty) => Arc::new(Book::in_memory()?.load_all()?),
            Err(error) => return Err(error.into()),
        };
        let trust = match self.shelf.trust(&TrustAsk::default()) {
            Ok(trust) => Some(trust),
            Err(FindingsError::Empty) => None,
            Err(error) => return Err(error.into()),
        };
        Ok(Arc::new(wear(
            &record,
            &settled.unwrap_or_default(),
            trust.as_deref(),
            ask,
        )))
    }

    fn written(&self) -> Result<WrittenFindings, Trouble> {
        let now = self.outside.now();
        match self.shelf.record() {
            Ok((record, reader)) => Ok(written(&record, reader, now)),
            // No book yet: the page can still be written on.
            Err(FindingsError::Empty) => {
                let book = Book::in_memory()?;
                Ok(written(&book.load_all()?, reader(&book)?, now))
            }
            Err(error) => Err(error.into()),
        }
    }

    fn jot(&self, words: &JotWords, entry: Option<EntryRef>) -> Result<Jotted, Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::CreateIfAbsent)?;
        let now = self.outside.now();
        let new = match self.meant(&book, words, None)? {
            Ok(new) => new,
            Err(said) => return Ok(Jotted::WhichUnit(said)),
        };
        Ok(Jotted::Written(match entry {
            None => log(&mut book, &new, now)?,
            Some(entry) => correct(&mut book, entry, &new, now)?,
        }))
    }

    fn jot_once(&self, words: &JotWords, key: &str, labelled: Option<Unit>) -> Result<Jotted, Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::CreateIfAbsent)?;
        if let Some(change) = book.logged_as(key)? {
            return Ok(Jotted::Written(change.0));
        }
        match self.meant(&book, words, labelled)? {
            Ok(new) => Ok(Jotted::Written(log_once(
                &mut book,
                &new,
                key,
                self.outside.now(),
            )?)),
            Err(said) => Ok(Jotted::WhichUnit(said)),
        }
    }

    fn identity(&self) -> Result<String, Trouble> {
        Ok(match self.existing()? {
            Some(book) => book.identity()?,
            None => Book::in_memory()?.identity()?,
        })
    }

    fn strike(&self, entry: EntryRef) -> Result<i64, Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::Existing)?;
        Ok(strike(&mut book, entry, self.outside.now())?)
    }

    fn take_back_entry(&self, change: i64) -> Result<(), Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::Existing)?;
        let change = ChangeId(change);
        let by_hand = [ChangeKind::Log, ChangeKind::Edit, ChangeKind::Delete];
        let journal = book.journal()?;
        if !journal
            .iter()
            .any(|made| made.id == change && by_hand.contains(&made.kind))
        {
            let why = "nothing of the kind was written; it may have been taken back already";
            return Err(Trouble::Request(why.to_owned()));
        }
        book.undo(Some(change), self.outside.now())?;
        Ok(())
    }

    fn now(&self) -> Result<NowFindings, Trouble> {
        let now = self.outside.now();
        Ok(self.shelf.now(NowAsk { now })?)
    }

    fn second_look(&self, at: Option<&str>) -> Result<SecondLookFindings, Trouble> {
        let at = self.moment(at, self.outside.now())?;
        Ok(self.shelf.second_look(SecondLookAsk { at })?)
    }

    fn find(&self, ask: &FindAsk) -> Result<FindFindings, Trouble> {
        let (record, reader) = self.shelf.record()?;
        Ok(find(&record, reader, ask)?)
    }

    fn days(&self) -> Result<Arc<DaysBook>, Trouble> {
        Ok(self.shelf.days()?)
    }

    fn imports(&self) -> Result<Vec<ImportLine>, Trouble> {
        let Some(book) = self.existing()? else {
            return Ok(Vec::new());
        };
        let zone = book
            .settings()?
            .base_zone
            .unwrap_or_else(|| self.outside.machine_zone.clone());
        let mut lines: Vec<ImportLine> = book
            .imports()?
            .iter()
            .filter_map(|info| line(info, &zone))
            .collect();
        lines.sort_by_key(|line| std::cmp::Reverse(line.id));
        Ok(lines)
    }

    fn rejected(&self, import: i64) -> Result<Vec<ProblemLine>, Trouble> {
        let (book, _) = self.import_info(import)?;
        let rows = book.rejected(ChangeId(import))?;
        Ok(rows.into_iter().map(ProblemLine::from).collect())
    }

    fn understand(&self, file: &Upload, answers: &Answers) -> Result<FileReport, Trouble> {
        let request = request(answers)?;
        Ok(explain_bytes(
            self.existing()?.as_ref(),
            &file.name,
            &file.bytes,
            &request,
            &self.place(),
        ))
    }

    fn import(&self, file: &Upload, answers: &Answers) -> Result<FileReport, Trouble> {
        let request = request(answers)?;
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::CreateIfAbsent)?;
        Ok(import_bytes(
            &mut book,
            &file.name,
            &file.bytes,
            &request,
            &self.place(),
            &mut (),
        )?)
    }

    fn feed(&self, from: &Feed, sent: &[u8]) -> Result<Fed, Trouble> {
        feeds::feed(self, from, sent)
    }

    fn feed_read(&self, from: &Feed, rows: Draft, rows_read: u64) -> Result<Fed, Trouble> {
        feeds::feed_read(self, from, rows, rows_read)
    }

    fn look_into(&self, folder: &Path, from: &Feed, seen: &mut Seen) -> Result<u64, Trouble> {
        feeds::look_into(self, folder, from, seen)
    }

    fn feeds(&self, asked: &[FeedAsk]) -> Result<FeedsFindings, Trouble> {
        feeds::told(self, asked)
    }

    fn undo(&self, import: i64) -> Result<String, Trouble> {
        let (book, info) = self.import_info(import)?;
        drop(book);
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::Existing)?;
        book.undo(Some(ChangeId(import)), self.outside.now())?;
        Ok(info.file_name)
    }

    fn judge_low(&self, word: &LowVerdict) -> Result<i64, Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::Existing)?;
        Ok(log(&mut book, &Entry::Low(word.clone()), self.outside.now())?)
    }

    fn take_back_word(&self, change: i64) -> Result<(), Trouble> {
        let _one = self.act();
        let (record, _) = self.shelf.record()?;
        let change = ChangeId(change);
        if record.low_verdicts.iter().all(|kept| kept.origin != change) {
            let why = "nothing of the kind stands; it may have been taken back already";
            return Err(Trouble::Request(why.to_owned()));
        }
        let mut book = Book::open(&self.path, Mode::Existing)?;
        book.undo(Some(change), self.outside.now())?;
        Ok(())
    }

    fn write_sensor(&self, words: &SensorWords) -> Result<i64, Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::CreateIfAbsent)?;
        let now = self.outside.now();
        let zone = book.settings()?.base_zone;
        let zone = zone.unwrap_or_else(|| self.outside.machine_zone.clone());
        let at = words
            .when
            .as_deref()
            .map(|text| instant(text, now, &zone))
            .transpose()?;
        let mut detail = Some(words.detail.clone());
        let mut note = words.note.clone();
        let mut site = words.site.clone();
        let entries: Vec<Entry> = words
            .moments
            .iter()
            .map(|&kind| {
                Entry::Sensor(SensorNote {
                    at: at.unwrap_or(now),
                    kind,
                    sensor: words.sensor.clone(),
                    site: site.take(),
                    note: note.take(),
                    detail: detail.take().unwrap_or_default(),
                })
            })
            .collect();
        if let ([SensorNoteKind::Ended], Some(name)) = (words.moments.as_slice(), &words.sensor) {
            self.known_sensor(name)?;
        }
        match &words.photo {
            Some(photo) => {
                let file = (photo.name.as_str(), photo.bytes.as_slice());
                Ok(log_with_photo(&mut book, &entries, file, now)?)
            }
            None => Ok(log_together(&mut book, &entries, now)?),
        }
    }

    fn describe_kind(&self, kind: &SensorKind) -> Result<(), Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::CreateIfAbsent)?;
        book.set_sensor_kind(kind, self.outside.now())?;
        Ok(())
    }

    fn take_back_sensor(&self, change: i64) -> Result<(), Trouble> {
        let _one = self.act();
        let (record, _) = self.shelf.record()?;
        let mut book = Book::open(&self.path, Mode::Existing)?;
        let change = ChangeId(change);
        let imported = book
            .imports()?
            .iter()
            .any(|info| info.receipt.change == Some(change));
        if imported || record.sensor_notes.iter().all(|kept| kept.origin != change) {
            let why = "nothing of the kind stands; it may have been taken back already";
            return Err(Trouble::Request(why.to_owned()));
        }
        book.undo(Some(change), self.outside.now())?;
        Ok(())
    }

    fn stock(&self, act: &StockAct) -> Result<Option<i64>, Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::CreateIfAbsent)?;
        let zone = book.settings()?.base_zone;
        let zone = zone.as_ref().unwrap_or(&self.outside.machine_zone);
        let now = (self.outside.now)();
        let today = day(&LivedClock::fixed(zone.offset_s(now)), now)?;
        Ok(stock::act(&mut book, act, today, now)?.change)
    }

    fn sensor_record(&self, sensor: &str) -> Result<SensorRecord, Trouble> {
        let settled = self.existing()?.map(|book| Settled::of(&book)).transpose()?;
        let settled = settled.unwrap_or_default();
        let (record, _) = self.shelf.record()?;
        let asked =
            record_asked(&record, &settled, sensor, (self.outside.now)()).map_err(Trouble::of_sensor)?;
        let trace = asked.trace.clone().map(|name| TrustAsk {
            sensor: Some(name),
            ..TrustAsk::default()
        });
        let trace = trace.map(|ask| self.shelf.sensor(&ask)).transpose()?;
        Ok(sensor_record(&record, &settled, &asked, trace.as_deref()))
    }

    fn photo(&self, id: i64) -> Result<SensorPhoto, Trouble> {
        let book = self.existing()?.ok_or(Trouble::NotFound)?;
        let (photo, bytes) = book.photo(PhotoId(id))?.ok_or(Trouble::NotFound)?;
        Ok(SensorPhoto {
            media: photo.media.name(),
            bytes,
        })
    }

    fn keep_photo(&self, sensor: &str, photo: &Upload) -> Result<i64, Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::Existing)?;
        let now = (self.outside.now)();
        let noted = Entry::Sensor(SensorNote {
            at: now,
            kind: SensorNoteKind::Noted,
            sensor: Some(sensor.to_owned()),
            site: None,
            note: None,
            detail: SensorDetail::default(),
        });
        let file = (photo.name.as_str(), photo.bytes.as_slice());
        Ok(log_with_photo(&mut book, &[noted], file, now)?)
    }

    fn claim(&self, sensor: &str, what: ClaimWhat, words: Option<String>) -> Result<i64, Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::Existing)?;
        let at = (self.outside.now)();
        Ok(claim(&mut book, sensor, ClaimStep { what, at, words }, at)?)
    }

    fn take_back_claim(&self, sensor: &str) -> Result<(), Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::Existing)?;
        take_back_claim(&mut book, sensor, (self.outside.now)())?;
        Ok(())
    }

    fn moment_of(&self, typed: &str) -> Result<Second, Trouble> {
        let now = self.outside.now();
        Ok(self.moment(Some(typed), now)?.unwrap_or(now))
    }

    fn choose(&self, choices: &[WearChoice]) -> Result<(), Trouble> {
        // All are looked at before the first is written.
        if let Some(trouble) = choices.iter().find_map(WearChoice::trouble) {
            return Err(Trouble::Request(trouble.to_owned()));
        }
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::CreateIfAbsent)?;
        for choice in choices {
            book.set_wear_choice(choice, (self.outside.now)())?;
        }
        Ok(())
    }

    fn trial_size(&self, ask: &TrialAsk) -> Result<TrialSize, Trouble> {
        let arms = trial::arms(ask.compares, &ask.arms)?;
        let ask = SizeAsk {
            arms: arms.len() as u32,
            block: None,
            outcome: ask.outcome,
            difference: ask
                .difference
                .unwrap_or_else(|| trial::usual_difference(ask.outcome)),
            now: self.outside.now(),
            seed: DEFAULT_SEED,
        };
        let book = match self.existing()? {
            Some(book) => book,
            None => Book::in_memory()?,
        };
        Ok(size_book(&book, ask)?)
    }

    fn visit(&self, ask: &VisitWindow) -> Result<Arc<VisitFindings>, Trouble> {
        let since = ask.since.as_deref().map(|since| {
            day_from_words(since).ok_or_else(|| Trouble::Request(format!("'{since}' is not a date")))
        });
        let book = self.existing()?.ok_or(FindingsError::Empty)?;
        let ask = VisitAsk {
            span: self.span(&ask.window)?,
            since: since.transpose()?,
            made: today(&book, self.outside.now(), &self.outside.machine_zone)?,
            seed: DEFAULT_SEED,
        };
        Ok(self.shelf.visit(&ask)?)
    }

    fn visit_notes(&self) -> Result<VisitNotes, Trouble> {
        match self.existing()? {
            Some(book) => Ok(book.visit_notes()?),
            None => Ok(VisitNotes::default()),
        }
    }

    fn ask_at_visit(&self, question: &str) -> Result<Option<i64>, Trouble> {
        let written = self.visit_notes()?.free_instant((self.outside.now)());
        self.keep_for_visit(&VisitChoice::Question(written, Some(question.to_owned())))
    }

    fn keep_for_visit(&self, choice: &VisitChoice) -> Result<Option<i64>, Trouble> {
        if let Some(trouble) = choice.trouble() {
            return Err(Trouble::Request(trouble.to_owned()));
        }
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::CreateIfAbsent)?;
        let change = book.set_visit_note(choice, (self.outside.now)())?;
        Ok(change.map(|change| change.0))
    }

    fn take_back_visit_note(&self, change: i64) -> Result<(), Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::Existing)?;
        Ok(book.undo_visit_note(ChangeId(change), (self.outside.now)())?)
    }

    fn begin_trial(&self, words: &TrialWords) -> Result<(), Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::CreateIfAbsent)?;
        let now = self.outside.now();
        let words = TrialWords {
            block: usual_block(words.sensors.min(MOST_SENSORS), words.arms.len() as u32),
            ..words.clone()
        };
        let trial = words.trial(&book, now)?;
        if let Some(trouble) = trouble(&book, &trial)? {
            return Err(Trouble::Request(format!("this trial cannot begin: {trouble}")));
        }
        book.begin_trial(&trial, now)?;
        Ok(())
    }

    fn abandon_trial(&self, name: &str, because: &str) -> Result<(), Trouble> {
        let _one = self.act();
        let mut book = Book::open(&self.path, Mode::Existing)?;
        book.abandon_trial(name, because, self.outside.now())?;
        Ok(())
    }

    fn confirm_found(&self, key: &str) -> Result<i64, Trouble> {
        let _one = self.act();
        let findings = self.wear(None)?;
        let found = findings.found.iter().find(|found| found.key == key);
        let gone =
            || Trouble::Request("it is not offered any more; it may be written down already".to_owned());
        let entries = found.ok_or_else(gone)?.notes.iter().cloned().map(Entry::Sensor);
        let entries: Vec<Entry> = entries.collect();
        let mut book = Book::open(&self.path, Mode::Existing)?;
        Ok(log_together(&mut book, &entries, (self.outside.now)())?)
    }
}

fn line(info: &ImportInfo, zone: &Zone) -> Option<ImportLine> {
    let receipt = &info.receipt;
    Some(ImportLine {
        id: receipt.change?.0,
        file: info.file_name.clone(),
        is_of_feed: info.is_of_feed(),
        when: Moment {
            at: info.imported_at,
            offset_s: zone.offset_s(info.imported_at),
        },
        brought: Brought {
            readings: receipt.readings_new,
            scans: receipt.scans_new,
            blood_checks: receipt.blood_checks_new,
            doses: receipt.doses_new,
            meals: receipt.meals_new,
            other: receipt.other_new,
        },
        rejected: receipt.rejected,
    })
}

/// What was typed or chosen, as the desk takes it.
fn request(answers: &Answers) -> Result<ImportRequest, Trouble> {
    ImportRequest::from_words(
        answers.zone.as_deref(),
        answers.unit.as_deref(),
        answers.dates.as_deref(),
        answers.subject.as_deref(),
        answers
            .roles
            .iter()
            .map(|(column, role)| (column.as_str(), role.as_str())),
    )
    .map_err(Trouble::from)
}

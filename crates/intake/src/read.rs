//! A file read whole, part by part, table by table.

use std::path::Path;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};

use interstice_glucose::{Draft, TraceKind, Unit};

use crate::api::{
    DateOrder, Hints, IntakeError, Outcome, Progress, Question, ReadFile, Recipe, Understanding,
};
use crate::assemble::{Assembly, TableState};
use crate::blocks::{BLOCK, BlockError, Blocks};
use crate::container::{Part, damaged, parts_of_bytes, parts_of_path};
use crate::dates::OrderEvidence;
use crate::day_heading::{DayHeading, of_record};
use crate::decode::TextCode;
use crate::delimiter::sniff_delimiter;
use crate::explain::{table_view, troubled_view};
use crate::head::{Head, find_table, is_heading_record};
use crate::partial::Partial;
use crate::plan::Plan;
use crate::records::Records;
use crate::roles::Trouble;
use crate::rows::RowReader;
use crate::understand::{Beyond, Try, Understood, has_column, understand as understand_table};
use crate::{documents, own};

/// Bytes of a table that are looked at before its rows are read.
const SAMPLE: usize = 1 << 20;
/// Most columns listed in a message.
const MOST_LISTED: usize = 40;
/// Most tables in one file.
const MOST_TABLES: usize = 400;

/// Reads a file whole.
///
/// # Errors
/// [`IntakeError`], each with the next step. A file that needs an answer is no error: [`Outcome::Question`].
pub fn read(path: &Path, hints: &Hints, progress: &mut dyn Progress) -> Result<Outcome, IntakeError> {
    let name = path
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    if own::is_export(path) {
        return own::read(&name, &own::FolderShelf::new(path), progress);
    }
    if let Some(archive) = std::fs::File::open(path).ok().and_then(own::ArchiveShelf::new) {
        return own::read(&name, &archive, progress);
    }
    if let Some(standard) = documents::standard_of(path) {
        return documents::read_path(&name, path, standard, hints, progress);
    }
    read_parts(&name, &parts_of_path(path)?, hints, progress)
}

/// Reads a file that lies in memory, as an upload does.
///
/// # Errors
/// As [`read`].
pub fn read_bytes(
    name: &str,
    bytes: &[u8],
    hints: &Hints,
    progress: &mut dyn Progress,
) -> Result<Outcome, IntakeError> {
    if let Some(archive) = own::ArchiveShelf::new(std::io::Cursor::new(bytes)) {
        return own::read(name, &archive, progress);
    }
    if let Some(standard) = documents::standard(bytes) {
        return documents::read(name, bytes, standard, hints, progress);
    }
    read_parts(name, &parts_of_bytes(name, bytes)?, hints, progress)
}

/// Reads what was sent: a document of a standard or of our own, never a table.
///
/// # Errors
/// As [`read`].
pub fn read_document(
    name: &str,
    bytes: &[u8],
    hints: &Hints,
    progress: &mut dyn Progress,
) -> Result<Outcome, IntakeError> {
    let standard = documents::standard(bytes).ok_or_else(|| IntakeError::NotATable {
        what: format!("{name} is neither a reading nor a document of FHIR or Open mHealth"),
        next: "send JSON as the page of formats about pushing shows it".to_owned(),
    })?;
    documents::read(name, bytes, standard, hints, progress)
}

fn read_parts(
    name: &str,
    parts: &[Part],
    hints: &Hints,
    progress: &mut dyn Progress,
) -> Result<Outcome, IntakeError> {
    let mut reading = Reading::new(name, hints);
    reading.expected = parts.iter().map(Part::expected_bytes).sum();
    for part in parts {
        match Text::open(part, name)? {
            Some(text) => reading.read_part(part, text, progress)?,
            None => reading.refused.push((part.name.clone(), no_text())),
        }
    }
    reading.finish()
}

fn no_text() -> Trouble {
    Trouble::refuse(
        "this is not text but binary data",
        "export the readings as CSV or as a spreadsheet (.xlsx, .ods)",
    )
}

/// A part's text, ready to be cut into tables.
struct Text {
    blocks: Blocks,
    encoding: String,
    delimiter: Option<u8>,
}

impl Text {
    /// `None` where the part is no text.
    fn open(part: &Part, file: &str) -> Result<Option<Text>, IntakeError> {
        let mut raw = Blocks::new(part.open().map_err(|e| damaged(file, &e))?);
        let Some(code) = TextCode::sniff(raw.peek(1 << 18).map_err(|e| block_error(file, e))?) else {
            return Ok(None);
        };
        let reader = part
            .open()
            .and_then(|r| code.reader(r))
            .map_err(|e| damaged(file, &e))?;
        let mut blocks = Blocks::new(reader);
        let delimiter = if part.is_sheet {
            Some(b',')
        } else {
            sniff_delimiter(blocks.peek(SAMPLE / 4).map_err(|e| block_error(file, e))?)
        };
        Ok(Some(Text {
            blocks,
            encoding: code.name(),
            delimiter,
        }))
    }
}

fn block_error(file: &str, error: BlockError) -> IntakeError {
    match error {
        BlockError::Io(error) => damaged(file, &error),
        BlockError::LongLine => IntakeError::NotATable {
            what: format!(
                "{file} holds a line of more than eight million characters, and a row of readings has a few dozen"
            ),
            next: "check that it is the file you meant, and export it again with a line for each reading"
                .to_owned(),
        },
    }
}

/// A file being read.
struct Reading<'h> {
    name: String,
    hints: &'h Hints,
    assembly: Assembly,
    views: Vec<crate::api::TableView>,
    recipes: Vec<Recipe>,
    questions: Vec<Question>,
    /// Columns of all tables seen, and which of those the person named are among them.
    columns: Vec<String>,
    found: Vec<bool>,
    /// Parts and tables that hold nothing for the book.
    refused: Vec<(String, Trouble)>,
    order: Option<DateOrder>,
    zone: Option<String>,
    expected: u64,
    done: u64,
}

impl<'h> Reading<'h> {
    fn new(name: &str, hints: &'h Hints) -> Self {
        Reading {
            name: name.to_owned(),
            hints,
            assembly: Assembly::default(),
            views: Vec::new(),
            recipes: Vec::new(),
            questions: Vec::new(),
            columns: Vec::new(),
            found: vec![false; hints.roles.len()],
            refused: Vec::new(),
            order: None,
            zone: None,
            expected: 0,
            done: 0,
        }
    }

    /// Finds and understands the table at the head of a sample. `line`: where the sample begins, from 1.
    fn table(
        &mut self,
        part: &Part,
        sample: &[u8],
        delimiter: u8,
        encoding: &str,
        line: u64,
        is_whole: bool,
    ) -> Result<Option<(Head, Box<Understood>)>, IntakeError> {
        let Some(head) = find_table(sample, delimiter) else {
            self.refused.push((place(part, line), no_rows()));
            return Ok(None);
        };
        let rows = &sample[head.rows_at..];
        let here = place(part, line + head.line);
        let mut beyond = Beyond {
            dates: None,
            order: self.order,
            is_whole,
        };
        let mut tried = understand_table(&head, rows, delimiter, self.hints, beyond, part.is_sheet);
        let dates;
        if let Try::NeedsDates(column) = tried {
            dates = self.whole_dates(part, delimiter, column, head.first_day.is_some())?;
            beyond.dates = Some(&dates);
            tried = understand_table(&head, rows, delimiter, self.hints, beyond, part.is_sheet);
        }
        match &tried {
            Try::Understood(table) => self.look_for_asked(&table.sample),
            Try::Trouble(_, sample) => self.look_for_asked(sample),
            Try::NeedsDates(_) => {}
        }
        match tried {
            Try::Understood(table) => {
                self.views
                    .push(table_view(&here, encoding, &table, rows, &self.hints.zone));
                self.order = table.order.as_ref().map(|o| o.0).or(self.order);
                self.assembly.notes.extend(table.notes.iter().cloned());
                Ok(Some((head, table)))
            }
            Try::NeedsDates(_) => Ok(None),
            Try::Trouble(trouble, sample) => {
                self.trouble(&here, encoding, trouble, &sample);
                Ok(None)
            }
        }
    }

    /// Notes which of the columns that the person named a table has.
    fn look_for_asked(&mut self, sample: &crate::column::Sample) {
        for (found, (name, _)) in self.found.iter_mut().zip(&self.hints.roles) {
            *found = *found || has_column(sample, name);
        }
        let names = sample.columns.iter().enumerate().map(|(i, c)| c.name(i));
        for name in names.take(MOST_LISTED) {
            if self.columns.len() < MOST_LISTED && !self.columns.contains(&name) {
                self.columns.push(name);
            }
        }
    }

    /// A column named by the person that no table has is a slip of the pen, not something to pass over.
    fn check_asked(&self) -> Result<(), IntakeError> {
        let missing = self
            .hints
            .roles
            .iter()
            .zip(&self.found)
            .find(|(_, found)| !**found);
        match missing {
            Some(((name, _), _)) if !self.columns.is_empty() => Err(IntakeError::NotATable {
                what: format!("{} has no column '{name}'", self.name),
                next: format!(
                    "name one of its columns, or give its number from 1: {}",
                    self.columns.join(", ")
                ),
            }),
            _ => Ok(()),
        }
    }

    fn trouble(&mut self, place: &str, encoding: &str, trouble: Trouble, sample: &crate::column::Sample) {
        match trouble {
            Trouble::Ask(mut question) => {
                if !place.is_empty() {
                    question.ask = format!("{place}: {}", question.ask);
                }
                self.questions.push(question);
                self.views.push(troubled_view(place, encoding, sample));
            }
            refusal => self.refused.push((place.to_owned(), refusal)),
        }
    }

    /// Evidence about date order from every row of a part; stops when it is settled. `above`: from the days that stand
    /// in rows of their own.
    fn whole_dates(
        &self,
        part: &Part,
        delimiter: u8,
        column: usize,
        above: bool,
    ) -> Result<OrderEvidence, IntakeError> {
        let mut evidence = OrderEvidence::default();
        let Some(mut text) = Text::open(part, &self.name)? else {
            return Ok(evidence);
        };
        let mut fields = Vec::new();
        while let Some(block) = text
            .blocks
            .next(delimiter)
            .map_err(|e| block_error(&self.name, e))?
        {
            let mut records = Records::new(&block, delimiter);
            while records.next(&mut fields).is_some() {
                if above {
                    if let DayHeading::Day(day) = of_record(&block, &fields) {
                        evidence.add(day.as_bytes());
                    }
                } else if let Some(field) = fields.get(column) {
                    evidence.add(field.raw(&block));
                }
            }
            if evidence.is_told() {
                break;
            }
        }
        Ok(evidence)
    }

    /// Reads all tables of a part.
    fn read_part(
        &mut self,
        part: &Part,
        mut text: Text,
        progress: &mut dyn Progress,
    ) -> Result<(), IntakeError> {
        let Some(delimiter) = text.delimiter else {
            self.refused.push((part.name.clone(), one_column()));
            return Ok(());
        };
        let (mut line, before) = (1u64, self.done);
        for _ in 0..MOST_TABLES {
            let name = self.name.clone();
            let broken = |e| block_error(&name, e);
            let is_whole = text.blocks.ends_within(SAMPLE).map_err(broken)?;
            let peeked = text.blocks.peek(SAMPLE).map_err(broken)?.to_vec();
            let sample = whole_records(&peeked, delimiter, is_whole);
            if sample.trim_ascii().is_empty() {
                break;
            }
            let encoding = text.encoding.clone();
            let Some((head, table)) = self.table(part, sample, delimiter, &encoding, line, is_whole)? else {
                if !self.skip_table(&mut text, delimiter, &mut line)? {
                    break;
                }
                continue;
            };
            self.consume(&mut text, head.rows_at, delimiter)?;
            line += head.line;
            let mut state = self.assembly.begin(line);
            let went_on = self.read_table(part, &mut text, &table.plan, &mut state, before, progress)?;
            line = state.lines();
            self.questions.extend(state.changed_dates(table.plan.order));
            let here = place(part, 0);
            self.assembly.end(state, &table.plan, &here);
            self.zone
                .get_or_insert_with(|| crate::understand::zone_words(&table.plan, &self.hints.zone));
            self.recipes.push(table.recipe);
            if !went_on {
                break;
            }
        }
        self.done = before + text.blocks.handed();
        Ok(())
    }

    /// Takes the bytes before a table's rows.
    fn consume(&self, text: &mut Text, bytes: usize, delimiter: u8) -> Result<(), IntakeError> {
        let mut left = bytes;
        while left > 0 {
            let Some(mut block) = text
                .blocks
                .next(delimiter)
                .map_err(|e| block_error(&self.name, e))?
            else {
                break;
            };
            if block.len() > left {
                text.blocks.unread(block.split_off(left));
            }
            left -= block.len().min(left);
        }
        Ok(())
    }

    /// Passes over a table that holds nothing for the book, up to the next headings. `false` at the end.
    fn skip_table(&mut self, text: &mut Text, delimiter: u8, line: &mut u64) -> Result<bool, IntakeError> {
        let mut fields = Vec::new();
        let mut seen_own = false;
        while let Some(mut block) = text
            .blocks
            .next(delimiter)
            .map_err(|e| block_error(&self.name, e))?
        {
            let mut records = Records::new(&block, delimiter);
            let mut here = *line;
            let mut found = None;
            while let Some(range) = records.next(&mut fields) {
                if is_heading_record(&block, &fields) {
                    if seen_own {
                        found = Some(range.start);
                        break;
                    }
                    seen_own = true;
                }
                here += 1 + memchr::memchr_iter(b'\n', &block[range]).count() as u64;
            }
            *line = here;
            if let Some(at) = found {
                text.blocks.unread(block.split_off(at));
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Reads the rows of a table; `true` where another table follows.
    fn read_table(
        &mut self,
        part: &Part,
        text: &mut Text,
        plan: &Plan,
        state: &mut TableState,
        before: u64,
        progress: &mut dyn Progress,
    ) -> Result<bool, IntakeError> {
        let mut feed = Feed {
            text,
            plan,
            file: &self.name,
            total: self.expected.max(part.expected_bytes()),
            before,
        };
        let assembly = &mut self.assembly;
        // A date that is carried down may stand in an earlier block.
        if plan.carry.is_some() {
            return feed.alone(assembly, state, progress);
        }
        if feed
            .text
            .blocks
            .ends_within(BLOCK)
            .map_err(|e| block_error(feed.file, e))?
        {
            return feed.alone(assembly, state, progress);
        }
        let workers = std::thread::available_parallelism()
            .map_or(2, usize::from)
            .clamp(1, 4);
        feed.together(workers, assembly, state, progress)
    }

    fn check_refused(&mut self) -> Result<(), IntakeError> {
        if self.views.is_empty() && self.questions.is_empty() {
            let (what, next) = match self.refused.drain(..).next() {
                Some((place, Trouble::Refuse { what, next })) if !place.is_empty() && place != "line 1" => {
                    (format!("{} ({place}): {what}", self.name), next)
                }
                Some((_, Trouble::Refuse { what, next })) => (format!("{}: {what}", self.name), next),
                _ => (
                    format!("{} holds no table", self.name),
                    "export the readings as CSV or as a spreadsheet".to_owned(),
                ),
            };
            return Err(IntakeError::NotATable { what, next });
        }
        for (place, trouble) in self.refused.drain(..) {
            if let Trouble::Refuse { what, .. } = trouble {
                let place = if place.is_empty() {
                    self.name.clone()
                } else {
                    place
                };
                self.assembly.notes.push(format!("{place} was not read: {what}"));
            }
        }
        Ok(())
    }

    fn finish(mut self) -> Result<Outcome, IntakeError> {
        self.check_asked()?;
        self.check_refused()?;
        if !self.questions.is_empty() {
            let understanding = Box::new(Understanding {
                tables: self.views,
                notes: self.assembly.notes,
            });
            return Ok(Outcome::Question {
                understanding,
                questions: self.questions,
            });
        }
        let (draft, notes, rows_read) = self.assembly.finish(&self.hints.zone.0);
        let interval_min = interval_min(&draft);
        let mut tables = self.views;
        if let [only] = &mut tables[..] {
            only.interval_min = interval_min;
        }
        Ok(Outcome::Read(Box::new(ReadFile {
            unit: main_unit(&draft),
            draft,
            understanding: Understanding { tables, notes },
            recipes: self.recipes,
            rows_read,
            zone: self.zone.unwrap_or_else(|| "as in the file".to_owned()),
            interval_min,
            settings: Vec::new(),
            base_zone: None,
        })))
    }
}

/// Where a table stands, in words.
fn place(part: &Part, line: u64) -> String {
    match (part.name.as_str(), line) {
        ("", 0) => String::new(),
        ("", line) => format!("line {line}"),
        (name, 0) => name.to_owned(),
        (name, line) => format!("{name}, line {line}"),
    }
}

fn one_column() -> Trouble {
    Trouble::refuse(
        "this is text, but not a table with columns",
        "export the readings as CSV, with the time and the value of each in columns of their own",
    )
}

fn no_rows() -> Trouble {
    Trouble::refuse(
        "no rows with a date and time were found",
        "export the entries with the date and time of each; a summary or a list without times cannot be placed in time",
    )
}

/// The sample without a record that it cuts in two.
fn whole_records(sample: &[u8], delimiter: u8, is_whole: bool) -> &[u8] {
    if is_whole {
        return sample;
    }
    let end = crate::records::last_record_end(sample, delimiter).unwrap_or(sample.len());
    &sample[..end]
}

/// Blocks of one table on their way to rows.
struct Feed<'a> {
    text: &'a mut Text,
    plan: &'a Plan,
    file: &'a str,
    total: u64,
    before: u64,
}

impl Feed<'_> {
    fn next(&mut self) -> Result<Option<Vec<u8>>, IntakeError> {
        self.text
            .blocks
            .next(self.plan.delimiter)
            .map_err(|e| block_error(self.file, e))
    }

    /// A small table, in one go.
    fn alone(
        &mut self,
        assembly: &mut Assembly,
        state: &mut TableState,
        progress: &mut dyn Progress,
    ) -> Result<bool, IntakeError> {
        let mut reader = RowReader::new(self.plan);
        while let Some(mut block) = self.next()? {
            let part = reader.read_block(&block);
            let stop = part.break_at;
            let room = usize::try_from(part.rows).unwrap_or(0);
            assembly.append(state, part, room);
            self.tell(assembly, progress)?;
            if let Some(at) = stop {
                self.text.blocks.unread(block.split_off(at));
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// A large table: blocks go round the workers in turn and come back in turn, so that the outcome does not
    /// depend on who was faster.
    fn together(
        &mut self,
        workers: usize,
        assembly: &mut Assembly,
        state: &mut TableState,
        progress: &mut dyn Progress,
    ) -> Result<bool, IntakeError> {
        let plan = self.plan;
        std::thread::scope(|scope| {
            let lanes: Vec<Lane> = (0..workers)
                .map(|_| {
                    let (to, work) = sync_channel::<Vec<u8>>(2);
                    let (done, from) = sync_channel::<(Vec<u8>, Partial)>(2);
                    scope.spawn(move || {
                        let mut reader = RowReader::new(plan);
                        for block in work {
                            let partial = reader.read_block(&block);
                            if done.send((block, partial)).is_err() {
                                return;
                            }
                        }
                    });
                    Lane { to, from }
                })
                .collect();
            self.run(&lanes, assembly, state, progress)
        })
    }

    fn run(
        &mut self,
        lanes: &[Lane],
        assembly: &mut Assembly,
        state: &mut TableState,
        progress: &mut dyn Progress,
    ) -> Result<bool, IntakeError> {
        let (mut sent, mut received) = (0usize, 0usize);
        let mut ended = false;
        loop {
            while !ended && sent - received < 2 * lanes.len() {
                match self.next()? {
                    Some(block) => {
                        if lanes[sent % lanes.len()].to.send(block).is_err() {
                            return Err(lost());
                        }
                        sent += 1;
                    }
                    None => ended = true,
                }
            }
            if received == sent {
                return Ok(false);
            }
            let (mut block, part) = lanes[received % lanes.len()].from.recv().map_err(|_| lost())?;
            received += 1;
            let stop = part.break_at;
            let room = room(part.rows, block.len(), self.total);
            assembly.append(state, part, room);
            self.tell(assembly, progress)?;
            if let Some(at) = stop {
                let mut later = Vec::new();
                for i in received..sent {
                    later.push(lanes[i % lanes.len()].from.recv().map_err(|_| lost())?.0);
                }
                later
                    .into_iter()
                    .rev()
                    .for_each(|block| self.text.blocks.unread(block));
                self.text.blocks.unread(block.split_off(at));
                return Ok(true);
            }
        }
    }

    fn tell(&self, assembly: &Assembly, progress: &mut dyn Progress) -> Result<(), IntakeError> {
        let done = self.before + self.text.blocks.handed();
        progress
            .at(done, self.total.max(done), assembly.rows)
            .map_err(|_| IntakeError::Stopped)
    }
}

/// A worker's two ends.
struct Lane {
    to: SyncSender<Vec<u8>>,
    from: Receiver<(Vec<u8>, Partial)>,
}

/// A worker ended early, which only a defect of the program can bring about.
fn lost() -> IntakeError {
    IntakeError::NotATable {
        what: "the file could not be read to its end because of a defect in this program".to_owned(),
        next: "nothing was written; please report it".to_owned(),
    }
}

/// Rows to expect of a text of `total` bytes, from one block.
fn room(rows: u64, bytes: usize, total: u64) -> usize {
    let expected = total as f64 / bytes.max(1) as f64 * rows as f64 * 1.01;
    // Room is only set aside, not used, until rows come; a guess from compressed data is capped.
    (expected as usize).min(64 << 20)
}

/// The unit most readings and blood checks were said in.
fn main_unit(draft: &Draft) -> Option<Unit> {
    let (mut mg, mut mmol) = (0u64, 0u64);
    let mut count = |unit: Unit, many: u64| match unit {
        Unit::MgPerDl => mg += many,
        Unit::MmolPerL => mmol += many,
    };
    let mut uses = vec![0u64; draft.levels.len()];
    draft
        .traces
        .iter()
        .flat_map(|t| t.readings.level())
        .for_each(|&level| uses[level as usize] += 1);
    draft
        .levels
        .as_slice()
        .iter()
        .zip(uses)
        .for_each(|(level, many)| count(level.said.unit(), many));
    draft.blood_checks.iter().for_each(|b| count(b.said.unit(), 1));
    match mg.cmp(&mmol) {
        std::cmp::Ordering::Equal if mg == 0 => None,
        std::cmp::Ordering::Less => Some(Unit::MmolPerL),
        _ => Some(Unit::MgPerDl),
    }
}

/// The commonest step of the longest automatic trace, to the half minute, over its first hundred thousand readings.
fn interval_min(draft: &Draft) -> Option<f64> {
    let trace = draft
        .traces
        .iter()
        .filter(|t| t.kind == TraceKind::Automatic)
        .max_by_key(|t| t.readings.len())?;
    let mut at: Vec<u32> = trace.readings.at().iter().take(100_000).copied().collect();
    at.sort_unstable();
    at.dedup();
    let mut counts: std::collections::BTreeMap<u32, usize> = std::collections::BTreeMap::new();
    for pair in at.windows(2) {
        *counts.entry((pair[1] - pair[0] + 15) / 30).or_default() += 1;
    }
    let (halves, _) = counts
        .into_iter()
        .max_by_key(|&(halves, many)| (many, std::cmp::Reverse(halves)))?;
    Some(f64::from(halves) / 2.0)
}

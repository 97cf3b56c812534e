//! What a feed brings: readings that come a few at a time, over days and years.
//!
//! All that a feed brings on one UTC day of arrival is one change, and lies in one block for each trace and day of
//! reading: a new reading is put into that block at its place. So a year of a reading a minute is 365 changes and
//! about twice as many blocks, not half a million, and undoing a change takes back what the feed brought that day.
//! A row that the feed told before, on any day, changes nothing, in whatever order and company it comes again.

use std::collections::{BTreeMap, HashSet};

use interstice_glucose::{DAY_S, Draft, Rejected, Said, Second, TraceKind, Unit, Zone};
use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};

use crate::block;
use crate::book::{Book, Keep};
use crate::days::{Days, damaged_block};
use crate::entries::{Face, by_hand, each_event};
use crate::entry::{Stored, content};
use crate::error::{BookError, Result};
use crate::import::Provenance;
use crate::import::{
    ImportReceipt, KeptRecipe, by_trace, insert_entry, is_whole_minute, repeated, trace_id, write_provenance,
};
use crate::journal::{ChangeId, ChangeKind, record_change};
use crate::merge::{Told, Verdict, are_to_minute, judge};
use crate::same::Same;
use crate::seal::seal;

/// Rows of one feed and day that could not be used are kept up to this many; more are only counted.
const MOST_REJECTED: i64 = 1000;

/// A feed, as its rows are known by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Feed {
    /// Tells it from every other feed of the book, for ever.
    pub key: String,
    /// What the person calls it.
    pub name: String,
    /// The book's base zone, where none is set and nothing earlier says one.
    pub base_zone: Option<Zone>,
    /// The same of the unit glucose is shown in.
    pub unit: Option<Unit>,
    /// Layouts to remember.
    pub recipes: Vec<KeptRecipe>,
}

impl Feed {
    /// A feed that says nothing beside its rows.
    pub fn named(key: impl Into<String>, name: impl Into<String>) -> Self {
        Feed {
            key: key.into(),
            name: name.into(),
            base_zone: None,
            unit: None,
            recipes: Vec::new(),
        }
    }

    /// By what its imports are found.
    fn options(&self) -> String {
        serde_json::json!({ "feed": self.key }).to_string()
    }

    /// Stands for what it brings on one day of arrival, as a file's digest does for the file.
    fn digest(&self, day: i64) -> [u8; 32] {
        Sha256::digest(format!("{}\n{day}", self.options())).into()
    }
}

/// What the book has of a feed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FedBy {
    /// The feed's key.
    pub key: String,
    /// The latest instants it gave a reading for, ascending.
    pub latest: Vec<Second>,
    /// Rows it gave that could not be used, of all days.
    pub rejected: u64,
    /// The latest of those.
    pub last_rejected: Option<Rejected>,
    /// Its latest change.
    pub change: ChangeId,
    /// When that was begun.
    pub changed_at: Second,
}

impl Book {
    /// Writes what a feed brought and the book has not from it yet: afterwards all of it is in the book and on the disk,
    /// or none. The same again, in any order and company, writes nothing.
    ///
    /// # Errors
    /// `Refused` where an entry holds a figure that is not a number; `Busy`, `Full`, `Damaged`, `Io`. The book is
    /// unchanged then.
    pub fn feed(
        &mut self,
        draft: &Draft,
        from: &Feed,
        at: Second,
    ) -> std::result::Result<ImportReceipt, BookError> {
        self.writing(|conn| {
            let mut tray = Tray::of(conn, from, at)?;
            tray.traces(draft)?;
            let blood_checks = tray.entries(&draft.blood_checks)?;
            let doses = tray.entries(&draft.doses)?;
            let meals = tray.entries(&draft.meals)?;
            let marks = tray.entries(&draft.marks)?;
            let notes = tray.entries(&draft.sensor_notes)?;
            let verdicts = tray.entries(&draft.low_verdicts)?;
            tray.tally.blood_checks = blood_checks;
            tray.tally.doses = doses;
            tray.tally.meals = meals;
            tray.tally.other = marks + notes + verdicts;
            tray.rejected(&draft.rejected, draft.rejected_more)?;
            tray.recipes(&from.recipes)?;
            tray.close()
        })
    }

    /// What the book has of each feed, by key.
    ///
    /// # Errors
    /// `Damaged`, `Io`.
    pub fn fed(&self, latest: usize) -> std::result::Result<Vec<FedBy>, BookError> {
        self.reading(|conn| {
            let sql = "SELECT i.options ->> 'feed', i.options, max(i.origin), sum(i.rejected) FROM import i
                WHERE json_valid(i.options) AND i.options ->> 'feed' IS NOT NULL GROUP BY i.options ORDER BY 1";
            let mut statement = conn.prepare_cached(sql)?;
            let mut rows = statement.query([])?;
            let mut fed = Vec::new();
            while let Some(row) = rows.next()? {
                let (options, change): (String, i64) = (row.get(1)?, row.get(2)?);
                let changed_at = conn.query_row("SELECT at FROM change WHERE id = ?1", [change], |row| row.get(0))?;
                fed.push(FedBy {
                    key: row.get(0)?,
                    latest: latest_of(conn, &options, latest)?,
                    rejected: row.get(3)?,
                    last_rejected: last_rejected(conn, &options)?,
                    change: ChangeId(change),
                    changed_at,
                });
            }
            Ok(fed)
        })
    }
}

/// The latest instants a feed gave a reading for, from the blocks of its last two days.
fn latest_of(conn: &Connection, options: &str, most: usize) -> Result<Vec<Second>> {
    let sql = "SELECT b.day, b.packed FROM block b JOIN import i ON i.origin = b.origin JOIN trace t ON t.id = b.trace
        WHERE i.options = ?1 AND b.day >= (SELECT max(b.day) - 1 FROM block b JOIN import i ON i.origin = b.origin
        WHERE i.options = ?1)";
    let mut statement = conn.prepare_cached(sql)?;
    let mut rows = statement.query([options])?;
    let mut at: Vec<Second> = Vec::new();
    while let Some(row) = rows.next()? {
        let (day, packed): (u32, Vec<u8>) = (row.get(0)?, row.get(1)?);
        let told = block::unpack(day, &packed).map_err(|error| damaged_block(day, error))?;
        at.extend(told.into_iter().map(|(at, _)| Second::from(at)));
    }
    at.sort_unstable();
    at.dedup();
    Ok(at.split_off(at.len().saturating_sub(most)))
}

fn last_rejected(conn: &Connection, options: &str) -> Result<Option<Rejected>> {
    let sql = "SELECT row, column_name, text, reason FROM rejected_row r JOIN import i ON i.origin = r.origin
        WHERE i.options = ?1 ORDER BY r.id DESC LIMIT 1";
    let found = conn.prepare_cached(sql)?.query_row([options], |row| {
        Ok(Rejected {
            row: row.get(0)?,
            column: row.get(1)?,
            text: row.get(2)?,
            reason: row.get(3)?,
        })
    });
    Ok(found.optional()?)
}

/// How the counts of a feed's day change.
#[derive(Debug, Default)]
struct Tally {
    readings: i64,
    scans: i64,
    blood_checks: i64,
    doses: i64,
    meals: i64,
    other: i64,
    already_there: i64,
    conflicts: i64,
    rejected: i64,
}

/// What a feed brings, on its way into its change of the day.
struct Tray<'a> {
    conn: &'a Connection,
    options: String,
    change: ChangeId,
    is_new: bool,
    is_changed: bool,
    tally: Tally,
    /// Rows this feed had told before.
    told_before: u64,
}

impl<'a> Tray<'a> {
    /// Opens the feed's change of the day, or begins it; one that stays empty is rolled back.
    fn of(conn: &'a Connection, from: &Feed, at: Second) -> Result<Self> {
        let (options, digest) = (from.options(), from.digest(at.div_euclid(DAY_S)));
        let sql = "SELECT origin FROM import WHERE digest = ?1 AND options = ?2";
        let known: Option<i64> = conn
            .prepare_cached(sql)?
            .query_row(params![digest, options], |row| row.get(0))
            .optional()?;
        let change = match known {
            Some(id) => ChangeId(id),
            None => begin(conn, from, digest, at)?,
        };
        Ok(Tray {
            conn,
            options,
            change,
            is_new: known.is_none(),
            is_changed: false,
            tally: Tally::default(),
            told_before: 0,
        })
    }

    fn traces(&mut self, draft: &Draft) -> Result<()> {
        for ((sensor, kind), readings) in by_trace(draft) {
            let days = Days::cut(&readings);
            for (day, rows) in &days.days {
                let (at, level) = days.columns(rows.clone());
                let said = |level: &u32| draft.levels.get(*level).said;
                let given: Vec<(u32, Said)> = at.iter().copied().zip(level.iter().map(said)).collect();
                self.told_before += (rows.len() - given.len()) as u64;
                self.day((sensor, kind), *day, &given)?;
            }
        }
        Ok(())
    }

    /// Puts readings of one day into the block of that day, where the feed has not told them yet.
    fn day(&mut self, (sensor, kind): (&str, TraceKind), day: u32, given: &[(u32, Said)]) -> Result<()> {
        let trace = trace_id(self.conn, sensor, kind)?;
        let blocks = self.blocks(trace, day)?;
        let known: HashSet<&(u32, Said)> = blocks
            .iter()
            .filter(|block| block.of_feed)
            .flat_map(|block| &block.rows)
            .collect();
        let fresh: Vec<(u32, Said)> = given.iter().filter(|row| !known.contains(row)).copied().collect();
        self.told_before += (given.len() - fresh.len()) as u64;
        if fresh.is_empty() {
            return Ok(());
        }
        let old = blocks.iter().find(|block| block.origin == self.change.0);
        let mut rows: Vec<(u32, Said)> = old.map(|block| block.rows.clone()).unwrap_or_default();
        let before = judged(&blocks, self.change.0, &rows);
        rows.extend(fresh);
        // Of one instant, what came first stays first.
        rows.sort_by_key(|row| row.0);
        let after = judged(&blocks, self.change.0, &rows);
        let new = after.new - before.new;
        match kind {
            TraceKind::Automatic => self.tally.readings += new,
            TraceKind::Scan => self.tally.scans += new,
        }
        self.tally.already_there += after.already_there - before.already_there;
        self.tally.conflicts += after.conflicts - before.conflicts;
        self.write(trace, day, &rows)
    }

    fn write(&mut self, trace: i64, day: u32, rows: &[(u32, Said)]) -> Result<()> {
        let packed = block::pack(day, rows).map_err(|error| damaged_block(day, error))?;
        let sql = "INSERT INTO block (trace, day, origin, count, packed) VALUES (?1, ?2, ?3, ?4, ?5)
            ON CONFLICT (trace, day, origin) DO UPDATE SET count = excluded.count, packed = excluded.packed";
        self.conn
            .prepare_cached(sql)?
            .execute(params![trace, day, self.change.0, rows.len(), packed])?;
        self.is_changed = true;
        Ok(())
    }

    /// All blocks of a trace and day, in order of precedence.
    fn blocks(&self, trace: i64, day: u32) -> Result<Vec<There>> {
        let sql = "SELECT b.origin, b.packed, coalesce(i.options = ?3, 0) FROM block b
            LEFT JOIN import i ON i.origin = b.origin WHERE b.trace = ?1 AND b.day = ?2 ORDER BY b.origin";
        let mut statement = self.conn.prepare_cached(sql)?;
        let mut rows = statement.query(params![trace, day, self.options])?;
        let mut blocks = Vec::new();
        while let Some(row) = rows.next()? {
            let packed: Vec<u8> = row.get(1)?;
            blocks.push(There {
                origin: row.get(0)?,
                of_feed: row.get(2)?,
                rows: block::unpack(day, &packed).map_err(|error| damaged_block(day, error))?,
            });
        }
        Ok(blocks)
    }

    /// Writes entries the feed has not told yet; answers by how many more events are the change's alone.
    fn entries<T: Same>(&mut self, entries: &[T]) -> Result<i64> {
        let repeated = repeated(entries);
        let mut fresh: Vec<&T> = Vec::new();
        for (entry, repeated) in entries.iter().zip(repeated) {
            if repeated || self.has_told(entry)? {
                self.told_before += 1;
            } else {
                fresh.push(entry);
            }
        }
        let (Some(first), Some(last)) = (
            fresh.iter().map(|entry| entry.at()).min(),
            fresh.iter().map(|entry| entry.at()).max(),
        ) else {
            return Ok(0);
        };
        let before = self.alone::<T>(first, last)?;
        for entry in &fresh {
            // Told of one by one, so that it does not matter what else came with it.
            insert_entry(self.conn, self.change, None, *entry, is_whole_minute(entry.at()))?;
        }
        self.is_changed = true;
        let new = self.alone::<T>(first, last)? - before;
        self.tally.already_there += fresh.len() as i64 - new;
        Ok(new)
    }

    fn has_told<T: Stored>(&self, entry: &T) -> Result<bool> {
        let sql = format!(
            "SELECT {} FROM {} e WHERE at = ?1 AND correction IS NULL
                AND EXISTS (SELECT 1 FROM import i WHERE i.origin = e.origin AND i.options = ?2)",
            T::COLUMNS,
            T::KIND.table()
        );
        let mut statement = self.conn.prepare_cached(&sql)?;
        let mut rows = statement.query(params![entry.at(), self.options])?;
        let wanted = content(&entry.values());
        while let Some(row) = rows.next()? {
            if content(&T::read(row, 0)?.values()) == wanted {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Events of a stretch that nothing but this change tells of.
    fn alone<T: Same>(&self, first: Second, last: Second) -> Result<i64> {
        let mut alone = 0;
        each_event::<T>(
            self.conn,
            &by_hand(self.conn)?,
            first,
            last.saturating_add(1),
            |event| {
                let is_alone = event.others.is_empty() && matches!(event.face, Face::Told);
                alone += i64::from(is_alone && event.first.origin == self.change.0);
            },
        )?;
        Ok(alone)
    }

    /// Keeps rows that could not be used, each text once a day: what is sent again in vain is one problem.
    fn rejected(&mut self, rejected: &[Rejected], more: u64) -> Result<()> {
        let known =
            "SELECT EXISTS (SELECT 1 FROM rejected_row WHERE origin = ?1 AND column_name = ?2 AND text = ?3)";
        let insert = "INSERT INTO rejected_row (origin, row, column_name, text, reason)
            SELECT ?1, ?2, ?3, ?4, ?5 WHERE (SELECT count(*) FROM rejected_row WHERE origin = ?1) < ?6";
        let mut known = self.conn.prepare_cached(known)?;
        let mut insert = self.conn.prepare_cached(insert)?;
        for row in rejected {
            if known.query_row(params![self.change.0, row.column, row.text], |found| found.get(0))? {
                continue;
            }
            insert.execute(params![
                self.change.0,
                row.row,
                row.column,
                row.text,
                row.reason,
                MOST_REJECTED
            ])?;
            self.tally.rejected += 1;
            self.is_changed = true;
        }
        self.tally.rejected += more as i64;
        self.is_changed |= more > 0;
        Ok(())
    }

    /// Remembers layouts as they are understood now.
    fn recipes(&mut self, recipes: &[KeptRecipe]) -> Result<()> {
        let insert = "INSERT INTO recipe (origin, layout, json) SELECT ?1, ?2, ?3
            WHERE NOT EXISTS (SELECT 1 FROM recipe WHERE layout = ?2 AND json = ?3)";
        let mut insert = self.conn.prepare_cached(insert)?;
        for recipe in recipes {
            self.is_changed |= insert.execute(params![self.change.0, recipe.layout, recipe.json])? > 0;
        }
        Ok(())
    }

    /// Counts and seals what was written; where nothing was, the book stays as it is.
    fn close(self) -> Result<(ImportReceipt, Keep)> {
        let count = |of: i64| of.max(0).unsigned_abs();
        let tally = &self.tally;
        let receipt = ImportReceipt {
            change: (self.is_changed || !self.is_new).then_some(self.change),
            written: self.is_changed,
            readings_new: count(tally.readings),
            scans_new: count(tally.scans),
            blood_checks_new: count(tally.blood_checks),
            doses_new: count(tally.doses),
            meals_new: count(tally.meals),
            other_new: count(tally.other),
            already_there: count(tally.already_there) + self.told_before,
            conflicts: count(tally.conflicts),
            rejected: count(tally.rejected),
        };
        if !self.is_changed {
            return Ok((receipt, Keep::Nothing));
        }
        let sql = "UPDATE import SET readings_new = readings_new + ?2, scans_new = scans_new + ?3,
            blood_checks_new = blood_checks_new + ?4, doses_new = doses_new + ?5, meals_new = meals_new + ?6,
            other_new = other_new + ?7, already_there = already_there + ?8, conflicts = conflicts + ?9,
            rejected = rejected + ?10 WHERE origin = ?1";
        self.conn.prepare_cached(sql)?.execute(params![
            self.change.0,
            tally.readings,
            tally.scans,
            tally.blood_checks,
            tally.doses,
            tally.meals,
            tally.other,
            tally.already_there,
            tally.conflicts,
            tally.rejected,
        ])?;
        seal(self.conn, self.change)?;
        Ok((receipt, Keep::Change))
    }
}

/// Begins a feed's change of a day.
fn begin(conn: &Connection, from: &Feed, digest: [u8; 32], at: Second) -> Result<ChangeId> {
    let change = record_change(
        conn,
        ChangeKind::Import,
        at,
        &format!("fed by {}", from.name),
        "{}",
    )?;
    let provenance = Provenance {
        options_json: from.options(),
        base_zone: from.base_zone.clone(),
        unit: from.unit,
        imported_at: at,
        ..Provenance::named(&from.name, digest)
    };
    write_provenance(conn, change, &provenance, &ImportReceipt::default())?;
    Ok(change)
}

/// A block of a trace and day.
struct There {
    origin: i64,
    /// This feed brought it, on whatever day.
    of_feed: bool,
    rows: Vec<(u32, Said)>,
}

/// What the rows of one change are beside all others of a trace and day.
#[derive(Default)]
struct Judged {
    new: i64,
    already_there: i64,
    conflicts: i64,
}

fn judged(blocks: &[There], change: i64, ours: &[(u32, Said)]) -> Judged {
    let mut sources: BTreeMap<i64, &[(u32, Said)]> = BTreeMap::new();
    sources.extend(blocks.iter().map(|block| (block.origin, block.rows.as_slice())));
    sources.insert(change, ours);
    let mut told = Vec::new();
    for (rank, (origin, rows)) in (0_u32..).zip(sources) {
        let to_minute = are_to_minute(rows.iter().map(|row| row.0));
        told.extend(rows.iter().map(|&(at, said)| Told {
            at,
            said,
            rank,
            to_minute,
            source: origin == change,
        }));
    }
    told.sort_by_key(|row| row.at);
    let mut judged = Judged::default();
    judge(&told, |row, _, verdict| match verdict {
        _ if !row.source => {}
        Verdict::Stands => judged.new += 1,
        Verdict::AlreadyThere => judged.already_there += 1,
        Verdict::Conflict => judged.conflicts += 1,
    });
    judged
}

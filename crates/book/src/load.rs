//! Reading a window of the book as columns.

use interstice_glucose::{
    BloodCheck, Dose, Levels, LivedClock, LivedSpan, LowVerdict, Mark, Meal, Readings, Second, SensorNote,
    TraceKind, Zone,
};
use rusqlite::Connection;

use crate::book::Book;
use crate::columns::{Blocks, Conflict, day_range};
use crate::entries::{Kept, by_hand, entries};
use crate::entry::{EntryKind, EntryRef, Word};
use crate::error::{BookError, BookErrorKind, Result};
use crate::journal::ChangeId;
use crate::photo::{Photo, photos};
use crate::settings;

/// The readings of one sensor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trace {
    /// The sensor's name, '' where the sources name none.
    pub sensor: String,
    /// Automatic or by hand.
    pub kind: TraceKind,
    /// In time order, one reading an instant.
    pub readings: Readings,
}

/// A window of the book.
#[derive(Clone, Debug)]
pub struct Record {
    /// First instant asked for.
    pub from: Second,
    /// First instant no longer asked for.
    pub to: Second,
    /// Distinct values of all traces, in the order they are met.
    pub levels: Levels,
    /// By sensor name, automatic before scans; those without a reading in the window are left out.
    pub traces: Vec<Trace>,
    /// In time order.
    pub blood_checks: Vec<Kept<BloodCheck>>,
    /// In time order.
    pub doses: Vec<Kept<Dose>>,
    /// In time order.
    pub meals: Vec<Kept<Meal>>,
    /// In time order; those that began earlier and reach into the window are among them.
    pub marks: Vec<Kept<Mark>>,
    /// In time order.
    pub sensor_notes: Vec<Kept<SensorNote>>,
    /// Photos beside those, in time order.
    pub photos: Vec<Photo>,
    /// In time order; those that began earlier and reach into the window are among them.
    pub low_verdicts: Vec<Kept<LowVerdict>>,
    /// All stretches lived away from the base zone, in time order, whatever the window.
    pub lived: Vec<Kept<LivedSpan>>,
    /// The zone lived in otherwise.
    pub base_zone: Zone,
    /// The wall clock of all of it, exact from 1970 to 2106.
    pub clock: LivedClock,
    /// Readings in the window that differ from what stands at their instant; see [`Book::conflicts`].
    pub conflicts: u64,
}

impl Record {
    /// Readings of all traces.
    pub fn reading_count(&self) -> usize {
        self.traces.iter().map(|trace| trace.readings.len()).sum()
    }

    /// Puts other zones in place of those lived in; the clock is theirs from then on. The stretches must not overlap.
    pub fn set_clock(&mut self, base: Zone, stretches: Vec<LivedSpan>) {
        let kept = |it| Kept {
            entry: EntryRef {
                kind: EntryKind::LivedSpan,
                id: 0,
            },
            origin: ChangeId(0),
            by_hand: false,
            it,
            also: Vec::new(),
        };
        self.lived = stretches.into_iter().map(kept).collect();
        self.clock = lived_clock(&base, &self.lived);
        self.base_zone = base;
    }

    /// The stretches lived away from the base zone as they hold: in time order, none over another, touching ones of
    /// one zone as one. With the base zone between them they give [`Record::clock`].
    pub fn lived_apart(&self) -> Vec<LivedSpan> {
        let order = in_order(&self.lived);
        let mut edges: Vec<Second> = order.iter().flat_map(|span| [span.from, span.to]).collect();
        edges.sort_unstable();
        edges.dedup();
        let mut apart: Vec<LivedSpan> = Vec::new();
        for edge in edges.windows(2) {
            let holds = |span: &&&LivedSpan| span.from <= edge[0] && edge[1] <= span.to;
            let Some(span) = order.iter().rev().find(holds) else {
                continue;
            };
            match apart.last_mut() {
                Some(last) if last.to == edge[0] && last.zone == span.zone => last.to = edge[1],
                _ => apart.push(LivedSpan {
                    from: edge[0],
                    to: edge[1],
                    zone: span.zone.clone(),
                }),
            }
        }
        apart
    }
}

impl Book {
    /// All there is with `from <= at < to`, as one consistent state of the book.
    ///
    /// # Errors
    /// `Damaged`, `Busy`, `Io`.
    pub fn load(&self, from: Second, to: Second) -> std::result::Result<Record, BookError> {
        self.reading(|conn| load(conn, from, to))
    }

    /// All there is.
    ///
    /// # Errors
    /// As [`Book::load`].
    pub fn load_all(&self) -> std::result::Result<Record, BookError> {
        self.load(Second::MIN, Second::MAX)
    }

    /// First and last instant of any reading; `None` where there is none.
    ///
    /// # Errors
    /// As [`Book::load`].
    pub fn span(&self) -> std::result::Result<Option<(Second, Second)>, BookError> {
        self.reading(|conn| {
            let sql = "SELECT min(day), max(day) FROM block WHERE trace = ?1";
            let (mut first, mut last) = (None::<Second>, None::<Second>);
            for (trace, ..) in traces(conn)? {
                let days = conn
                    .prepare_cached(sql)?
                    .query_row([trace], |row| Ok((row.get(0)?, row.get(1)?)))?;
                let (Some(start), Some(end)) = days else { continue };
                for day in [start, end] {
                    let blocks = Blocks::read(conn, trace, day, day)?;
                    let Some((from, to)) = blocks.extent()? else {
                        continue;
                    };
                    first = Some(first.map_or(from, |first| first.min(from)));
                    last = Some(last.map_or(to, |last| last.max(to)));
                }
            }
            Ok(first.zip(last))
        })
    }

    /// Readings with `from <= at < to` that differ from what stands at their instant, by trace and in time order.
    ///
    /// # Errors
    /// As [`Book::load`].
    pub fn conflicts(&self, from: Second, to: Second) -> std::result::Result<Vec<Conflict>, BookError> {
        self.reading(|conn| {
            let mut conflicts = Vec::new();
            for (trace, sensor, kind) in traces(conn)? {
                let Some((first, last)) = day_range(from, to) else {
                    continue;
                };
                let blocks = Blocks::read(conn, trace, first, last)?;
                let all = blocks.conflicts(&sensor, kind)?;
                conflicts.extend(
                    all.into_iter()
                        .filter(|conflict| (from..to).contains(&conflict.at)),
                );
            }
            Ok(conflicts)
        })
    }
}

fn load(conn: &Connection, from: Second, to: Second) -> Result<Record> {
    let mut levels = Levels::new();
    let (mut loaded, mut conflicts) = (Vec::new(), 0);
    if let Some((first, last)) = day_range(from, to) {
        for (trace, sensor, kind) in traces(conn)? {
            let blocks = Blocks::read(conn, trace, first, last)?;
            let (readings, more) = blocks.columns(from, to, &mut levels)?;
            conflicts += more;
            if !readings.is_empty() {
                loaded.push(Trace {
                    sensor,
                    kind,
                    readings,
                });
            }
        }
    }
    let by_hand = by_hand(conn)?;
    let lived = entries::<LivedSpan>(conn, &by_hand, Second::MIN, Second::MAX)?;
    let base_zone = base_zone(conn, &lived)?;
    Ok(Record {
        from,
        to,
        levels,
        traces: loaded,
        blood_checks: entries(conn, &by_hand, from, to)?,
        doses: entries(conn, &by_hand, from, to)?,
        meals: entries(conn, &by_hand, from, to)?,
        marks: entries(conn, &by_hand, from, to)?,
        sensor_notes: entries(conn, &by_hand, from, to)?,
        photos: photos(conn, from, to)?,
        low_verdicts: entries(conn, &by_hand, from, to)?,
        clock: lived_clock(&base_zone, &lived),
        lived,
        base_zone,
        conflicts,
    })
}

/// Traces by sensor name, automatic before scans.
fn traces(conn: &Connection) -> Result<Vec<(i64, String, TraceKind)>> {
    let mut statement = conn.prepare_cached("SELECT id, sensor, kind FROM trace ORDER BY sensor, kind")?;
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?, TraceKind::read(row, 2)?)))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// The base zone set, else that of the first import, else the zone the earliest was lived in, else universal time.
fn base_zone(conn: &Connection, lived: &[Kept<LivedSpan>]) -> Result<Zone> {
    if let Some(name) = settings::base_zone(conn)? {
        return Zone::named(&name).map_err(|error| BookErrorKind::damaged(error.to_string()));
    }
    let earliest = lived
        .iter()
        .filter(|span| !span.by_hand)
        .min_by_key(|span| span.origin);
    Ok(earliest.map_or_else(Zone::utc, |span| span.it.zone.clone()))
}

/// Where stretches overlap, the person's own word is taken before any file's, the latest word first; of files the
/// first, as with readings. What comes later in this order holds.
fn in_order(lived: &[Kept<LivedSpan>]) -> Vec<&LivedSpan> {
    let mut order: Vec<&Kept<LivedSpan>> = lived.iter().collect();
    order.sort_by_key(|span| {
        (
            span.by_hand,
            if span.by_hand {
                span.origin.0
            } else {
                -span.origin.0
            },
        )
    });
    order.into_iter().map(|span| &span.it).collect()
}

fn lived_clock(base: &Zone, lived: &[Kept<LivedSpan>]) -> LivedClock {
    let spans: Vec<LivedSpan> = in_order(lived).into_iter().cloned().collect();
    LivedClock::new(base, &spans, 0, Second::from(u32::MAX))
}

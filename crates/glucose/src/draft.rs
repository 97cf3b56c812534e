//! All that one source brought, understood but not yet in the book.

use crate::{
    BloodCheck, Dose, Levels, LowVerdict, Mark, Meal, PhotoDraft, Readings, Second, SensorNote, Zone,
};

/// How a trace's readings came to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum TraceKind {
    /// Stored by the sensor by itself, at its native interval.
    Automatic,
    /// Asked for by hand. Scans oversample moments of worry: shown and paired, never averaged in.
    Scan,
}

/// Readings of one sensor from one source, in the order of the source.
#[derive(Clone, Debug)]
pub struct TraceDraft {
    /// The sensor's name in the source, empty where it has none.
    pub sensor: String,
    /// Automatic or by hand.
    pub kind: TraceKind,
    /// Instants and levels; levels index [`Draft::levels`].
    pub readings: Readings,
}

/// A stretch of time and the zone it was lived in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LivedSpan {
    /// First instant.
    pub from: Second,
    /// First instant no longer in it.
    pub to: Second,
    /// The zone.
    pub zone: Zone,
}

/// A row that could not be used. Kept, counted and shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rejected {
    /// Line in the file (or row of the sheet), from 1.
    pub row: u64,
    /// Column heading or number.
    pub column: String,
    /// The text found there.
    pub text: String,
    /// Why it cannot be used, and what would help.
    pub reason: String,
}

/// All that one source brought. `intake` and `log` make it, the book keeps it.
#[derive(Clone, Debug, Default)]
pub struct Draft {
    /// Distinct glucose values of all traces below.
    pub levels: Levels,
    /// Readings by sensor and kind.
    pub traces: Vec<TraceDraft>,
    /// Blood checks.
    pub blood_checks: Vec<BloodCheck>,
    /// Doses.
    pub doses: Vec<Dose>,
    /// Meals.
    pub meals: Vec<Meal>,
    /// Everything else.
    pub marks: Vec<Mark>,
    /// Moments in sensors' lives.
    pub sensor_notes: Vec<SensorNote>,
    /// The wearer's word on lows.
    pub low_verdicts: Vec<LowVerdict>,
    /// Photos.
    pub photos: Vec<PhotoDraft>,
    /// The zones the rows were lived in, in time order, not overlapping.
    pub lived: Vec<LivedSpan>,
    /// Rows that could not be used: the first of them, in the order of the source.
    pub rejected: Vec<Rejected>,
    /// Further rows that could not be used, counted but not kept.
    pub rejected_more: u64,
}

impl Draft {
    /// All rows that could not be used, kept or only counted.
    pub fn rejected_count(&self) -> u64 {
        self.rejected.len() as u64 + self.rejected_more
    }

    /// Readings of all traces of a kind.
    pub fn count(&self, kind: TraceKind) -> usize {
        self.traces
            .iter()
            .filter(|t| t.kind == kind)
            .map(|t| t.readings.len())
            .sum()
    }
}

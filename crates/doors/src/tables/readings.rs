//! Readings, a file a month.

use std::collections::BTreeMap;

use interstice_findings::Taken;
use interstice_glucose::{MarkKind, Named, Said, Second};
use jiff::civil::Date;

use crate::lived::Lived;
use crate::month;
use crate::table::Table;

use super::said;

/// Readings of one month of universal time: places in the record's traces.
pub(crate) struct Month {
    /// '2026-03'.
    pub(crate) name: String,
    /// Trace and reading.
    places: Vec<(usize, usize)>,
}

/// One reading.
struct Row<'a> {
    at: Second,
    kind: &'static str,
    sensor: &'a str,
    said: Said,
    stands_for_s: u32,
    marked: bool,
}

/// The months that have readings in the window, each trace's readings in time order after the other's.
pub(crate) fn months(taken: &Taken) -> Vec<Month> {
    let mut months: BTreeMap<Date, Vec<(usize, usize)>> = BTreeMap::new();
    for (trace, it) in taken.record.traces.iter().enumerate() {
        let at = it.readings.at();
        let mut next = it.readings.range(taken.from, taken.to);
        while !next.is_empty() {
            let first = month::of(Second::from(at[next.start]));
            let end = month::end(first);
            let after = at[next.clone()].partition_point(|&at| Second::from(at) < end) + next.start;
            let places = (next.start..after).map(|reading| (trace, reading));
            months.entry(first).or_default().extend(places);
            next.start = after;
        }
    }
    months
        .into_iter()
        .map(|(first, places)| Month {
            name: first.strftime("%Y-%m").to_string(),
            places,
        })
        .collect()
}

/// The readings of a month.
pub(crate) fn readings(taken: &Taken, lived: &Lived<'_>, of: &Month) -> Table {
    let record = &taken.record;
    let marked: Vec<(Second, Second)> = record
        .marks
        .iter()
        .filter(|kept| kept.it.kind == MarkKind::Artefact)
        .filter_map(|kept| Some((kept.it.at, kept.it.until?)))
        .collect();
    let row = |&(trace, reading): &(usize, usize)| {
        let it = &record.traces[trace];
        let at = Second::from(it.readings.at()[reading]);
        Row {
            at,
            kind: it.kind.word(),
            sensor: &it.sensor,
            said: record.levels.get(it.readings.level()[reading]).said,
            stands_for_s: taken.stands_for_s[trace][reading],
            marked: marked.iter().any(|&(from, to)| (from..to).contains(&at)),
        }
    };
    let rows: Vec<Row<'_>> = of.places.iter().map(row).collect();
    let about = "what sensors said, one row a reading; by trace, then in time order; a folder for each month of \
                 universal time";
    let making = Table::of("readings", about, &rows);
    let making = lived.times(making, |row| row.at);
    let making = making
        .text(
            "kind",
            "'automatic' where the sensor stored it by itself, 'scan' where it was asked for by hand",
            |row| Some(row.kind),
        )
        .text(
            "sensor",
            "the sensor's name as its source has it; empty where it has none",
            |row| Some(row.sensor),
        );
    said(making, |row| row.said)
        .whole(
            "stands_for_s",
            "seconds this reading stands for in the account (its weight in the mean and in times in ranges); 0 where \
             it stands for none: a scan, or a time at which another sensor gives the figures",
            |row| Some(i64::from(row.stands_for_s)),
        )
        .yes_no(
            "marked_artefact",
            "whether it lies in a stretch marked as not to be believed",
            |row| Some(row.marked),
        )
        .made()
}

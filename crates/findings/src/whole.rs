//! The one series of a record's automatic readings.

use interstice_book::Record;
use interstice_glucose::{Second, TraceKind};
use interstice_methods::{Series, primary};

/// Places of the automatic traces in the record, and the series put together from them in that order.
pub(crate) fn whole(record: &Record) -> (Vec<usize>, Series<'_>) {
    let automatic: Vec<usize> = (0..record.traces.len())
        .filter(|&place| record.traces[place].kind == TraceKind::Automatic)
        .collect();
    let columns: Vec<_> = automatic
        .iter()
        .map(|&place| &record.traces[place].readings)
        .collect();
    let series = primary(&columns);
    (automatic, series)
}

/// Instant of the last automatic reading.
pub(crate) fn last_automatic(record: &Record) -> Option<Second> {
    let automatic = record
        .traces
        .iter()
        .filter(|trace| trace.kind == TraceKind::Automatic);
    automatic
        .filter_map(|trace| trace.readings.span())
        .map(|(_, last)| last)
        .max()
}

//! What an account leaves out where pressure is excluded.

use interstice_book::Record;
use interstice_glucose::{DAY_S, MarkKind, Second};
use interstice_methods::Series;

use crate::Time;
use crate::account::Reader;
use crate::review::{LeftOut, LeftOutLow};
use crate::trust::{PressureOut, Stretch, pressure_out, pressure_touching};

/// What is set aside where pressure is excluded.
pub(crate) struct Aside {
    /// Stretches of the series, within the window; what is marked among them.
    pub(crate) spans: Vec<(Second, Second)>,
    /// Those of lows that have readings in the series.
    lows: Vec<Stretch>,
    marked: u64,
    kept_real: u64,
}

impl Aside {
    /// * `record`, `book`: the window's, and that of the whole book, in which pressure is looked for.
    /// * `automatic`: the traces the series was put together from, as places in the record.
    pub(crate) fn of(
        (record, book): (&Record, &Record),
        reader: Reader,
        series: &Series<'_>,
        automatic: &[usize],
        (from, to): (Second, Second),
    ) -> Self {
        let found = pressure_out(book, reader.night, (from, to));
        Aside::found(record, found, series, automatic, (from, to))
    }

    /// The same where pressure is looked for in no nights but the window's and the two before: of a sensor worn for years the
    /// others take long, and a filter has forgotten them.
    pub(crate) fn near(
        record: &Record,
        reader: Reader,
        series: &Series<'_>,
        automatic: &[usize],
        (from, to): (Second, Second),
    ) -> Self {
        let nights = [(from.saturating_sub(2 * DAY_S), to)];
        let found = pressure_touching(record, reader.night, &nights, (from, to));
        Aside::found(record, found, series, automatic, (from, to))
    }

    fn found(
        record: &Record,
        found: PressureOut,
        series: &Series<'_>,
        automatic: &[usize],
        (from, to): (Second, Second),
    ) -> Self {
        let marked = artefacts(record, from, to);
        let mut aside = Aside {
            marked: marked.len() as u64,
            kept_real: found.kept_real,
            lows: Vec::new(),
            spans: marked,
        };
        for low in found.stretches {
            // Where another sensor gives the figures, this one's lows are in none.
            let trace = automatic
                .iter()
                .position(|&place| record.traces[place].sensor == low.sensor);
            let parts = trace.map_or(Vec::new(), |trace| series.parts_of(trace, (low.from, low.to)));
            if !parts.is_empty() {
                aside.lows.push(low);
                aside.spans.extend(parts);
            }
        }
        for span in &mut aside.spans {
            *span = (span.0.max(from), span.1.min(to));
        }
        aside.spans.retain(|span| span.0 < span.1);
        aside
    }

    /// * `shown`: the series without it.
    pub(crate) fn told(&self, record: &Record, whole: &Series<'_>, shown: &Series<'_>) -> LeftOut {
        let time = |at: Second| Time(record.clock.moment(at));
        let said = self.lows.iter().filter(|low| low.said).count() as u64;
        LeftOut {
            possible: self.lows.len() as u64 - said,
            said,
            marked: self.marked,
            kept_real: self.kept_real,
            readings: (whole.len() - shown.len()) as u64,
            minutes: (whole.stood_for_s() - shown.stood_for_s()) as f64 / 60.0,
            lows: self
                .lows
                .iter()
                .map(|low| LeftOutLow {
                    sensor: low.sensor.clone(),
                    start: time(low.from),
                    end: time(low.to - 1),
                    said: low.said,
                })
                .collect(),
            summary_with: None,
        }
    }
}

/// Stretches marked as artefacts that touch the window.
pub(crate) fn artefacts(record: &Record, from: Second, to: Second) -> Vec<(Second, Second)> {
    let marks = record
        .marks
        .iter()
        .map(|kept| &kept.it)
        .filter(|mark| mark.kind == MarkKind::Artefact);
    marks
        .filter_map(|mark| Some((mark.at, mark.until?)))
        .filter(|&(start, end)| start < to && end > from)
        .collect()
}

//! Readings that count as pressed, for figures without them.

use interstice_book::{NightHours, Record};
use interstice_glucose::{LowWas, Second};

use super::estimate::Columns;
use super::pairs;
use super::pressed::{Beside, Judged, Pressed, Said};
use super::wears::{SensorWear, wears};

/// A stretch of one trace.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Stretch {
    /// The sensor's name in the file.
    pub(crate) sensor: String,
    /// First instant.
    pub(crate) from: Second,
    /// First instant no longer in it.
    pub(crate) to: Second,
    /// Whether the wearer said that it was pressure; else it is only possible.
    pub(crate) said: bool,
}

/// What counts as pressed in a window, and what was said to be real.
#[derive(Clone, Debug, Default)]
pub(crate) struct PressureOut {
    /// In time order.
    pub(crate) stretches: Vec<Stretch>,
    /// Flagged lows the wearer said were real: they stay in.
    pub(crate) kept_real: u64,
}

/// Looks for pressure on the sensors worn in a window. The record is the whole book: the noise of a sensor is told from
/// all of its readings, and what the wearer's words teach from all of those, so that a low counts here as it does on Trust.
pub(crate) fn pressure_out(
    record: &Record,
    night: Option<NightHours>,
    (from, to): (Second, Second),
) -> PressureOut {
    looked_for(record, night, None, (from, to))
}

/// The same, only in the nights that touch one of `spans`, which come in time order: for those who ask about certain lows.
pub(crate) fn pressure_touching(
    record: &Record,
    night: Option<NightHours>,
    spans: &[(Second, Second)],
    (from, to): (Second, Second),
) -> PressureOut {
    looked_for(record, night, Some(spans), (from, to))
}

fn looked_for(
    record: &Record,
    night: Option<NightHours>,
    only: Option<&[(Second, Second)]>,
    (from, to): (Second, Second),
) -> PressureOut {
    let mut worn = wears(record);
    worn.retain(|wear: &SensorWear| wear.span.0 < to && wear.span.1 >= from);
    let columns: Vec<Columns<'_>> = worn.iter().map(|wear| Columns::said(record, wear)).collect();
    let checks = pairs::checks(record);
    let beside = Beside {
        only,
        ..Beside::all(&checks, night)
    };
    let pressed = Pressed::look(record, &worn, &columns, beside);
    let mut out = PressureOut::default();
    for ((looked, wear), columns) in pressed.wears.iter().zip(&worn).zip(&columns) {
        let ranges = looked.left_out(record, columns.at);
        let stretches = ranges.into_iter().map(|(range, said)| Stretch {
            sensor: record.traces[wear.trace].sensor.clone(),
            from: columns.at[range.start].into(),
            to: Second::from(columns.at[range.end - 1]) + 1,
            said,
        });
        out.stretches
            .extend(stretches.filter(|stretch| stretch.from < to && stretch.to > from));
        let is_real = |dip: &&Judged| {
            let (start, end) = (Second::from(dip.low.from), Second::from(dip.low.to));
            matches!(dip.said, Some(Said::Word(_, LowWas::Real))) && start < to && end > from
        };
        out.kept_real += looked.dips.iter().filter(is_real).count() as u64;
    }
    out.stretches
        .sort_by(|a, b| (a.from, &a.sensor).cmp(&(b.from, &b.sensor)));
    out
}

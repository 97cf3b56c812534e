//! From a record to pairs of blood check and reading.

use interstice_book::Record;
use interstice_glucose::{MarkKind, Second, TraceKind};
use interstice_methods::agreement::{self, Check, Pair, Paired, Worn, pair_up};

use super::ask::Pairing;
use super::wears::{SensorWear, wears};

/// The record's blood checks as pairing needs them, in time order; places are those in `Record::blood_checks`.
pub(super) fn checks(record: &Record) -> Vec<Check> {
    let kept = record.blood_checks.iter().map(|kept| &kept.it);
    kept.map(|check| Check {
        at: check.at,
        mg_dl: check.said.glucose().mg_per_dl(),
        censor: check.said.censor(),
    })
    .collect()
}

/// Stretches marked as artefacts.
pub(super) fn artefacts(record: &Record) -> Vec<(Second, Second)> {
    let marks = record
        .marks
        .iter()
        .map(|kept| &kept.it)
        .filter(|mark| mark.kind == MarkKind::Artefact);
    marks.filter_map(|mark| Some((mark.at, mark.until?))).collect()
}

/// Every check beside every wear; [`Pair::sensor`] is the place in `wears`.
pub(super) fn paired(record: &Record, wears: &[SensorWear], checks: &[Check], rule: Pairing) -> Paired {
    let artefacts = artefacts(record);
    let mut all = Paired::default();
    for (sensor, wear) in wears.iter().enumerate() {
        let readings = &record.traces[wear.trace].readings;
        let worn = Worn {
            sensor,
            at: &readings.at()[wear.readings.clone()],
            level: &readings.level()[wear.readings.clone()],
            levels: &record.levels,
            interval_s: wear.interval_s,
            started: wear.started,
        };
        all.append(pair_up(checks, &worn, &artefacts, &record.clock, rule.rule()));
    }
    all.pairs.sort_by_key(|pair| (pair.at, pair.check, pair.sensor));
    all
}

/// The sensors that read, and every check beside them by the usual rule.
pub(crate) fn paired_checks(record: &Record) -> (Vec<SensorWear>, Vec<Pair>) {
    let wears = wears(record);
    let pairs = paired(record, &wears, &checks(record), Pairing::default()).pairs;
    (wears, pairs)
}

/// Every check beside every trace of scans by hand; [`Pair::sensor`] is the place of the trace.
pub(super) fn scanned(record: &Record, checks: &[Check], only: Option<&str>) -> Vec<Pair> {
    let artefacts = artefacts(record);
    let mut all = Paired::default();
    for (sensor, trace) in record.traces.iter().enumerate() {
        let asked = only.is_none_or(|name| name == trace.sensor);
        if trace.kind != TraceKind::Scan || !asked {
            continue;
        }
        let worn = Worn {
            sensor,
            at: trace.readings.at(),
            level: trace.readings.level(),
            levels: &record.levels,
            interval_s: 0,
            started: None,
        };
        let rule = agreement::Pairing::NearestAfter;
        all.append(pair_up(checks, &worn, &artefacts, &record.clock, rule));
    }
    all.pairs
}

/// Checks while none of the wears was read: in no span from five minutes before its first reading to its last.
pub(super) fn without_sensor(wears: &[SensorWear], checks: &[Check]) -> u64 {
    let worn = |at: Second| {
        let mut spans = wears.iter().map(|wear| wear.span);
        spans.any(|(first, last)| (first - agreement::AFTER_S..=last).contains(&at))
    };
    checks.iter().filter(|check| !worn(check.at)).count() as u64
}

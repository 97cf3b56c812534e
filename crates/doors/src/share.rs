//! A part of the record to hand on: a chosen window, chosen kinds, no words unless asked, and on request without what names
//! things and with other dates.

use std::collections::{BTreeMap, BTreeSet};

use interstice_book::{Kept, Record};
use interstice_findings::{Reader, Taken, taken_again};
use interstice_glucose::{
    BodySite, DAY_S, LivedClock, LivedSpan, MarkKind, Second, SensorDetail, TraceKind, Zone,
};

use crate::export::{DoorError, Exported, TableFormat, export_tables};
use crate::lived::Lived;
use crate::sink::Sink;
use crate::table::Table;
use crate::tables;

/// What can be handed on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// Automatic readings.
    Readings,
    /// Readings asked for by hand.
    Scans,
    /// Blood checks.
    Checks,
    /// Doses.
    Doses,
    /// Meals.
    Meals,
    /// Activity, sleep, symptoms and all other entries; notes and tags only with words.
    Entries,
    /// Moments of sensors, and the sensors worn.
    Sensors,
    /// The wearer's word on lows.
    Lows,
    /// The account: figures, days, episodes, usual day.
    Account,
}

impl Part {
    /// All of them with the words they are asked for by.
    pub const ALL: [(Part, &'static str); 9] = [
        (Part::Readings, "readings"),
        (Part::Scans, "scans"),
        (Part::Checks, "checks"),
        (Part::Doses, "doses"),
        (Part::Meals, "meals"),
        (Part::Entries, "entries"),
        (Part::Sensors, "sensors"),
        (Part::Lows, "lows"),
        (Part::Account, "account"),
    ];

    /// From its word.
    pub fn named(word: &str) -> Option<Self> {
        let found = Part::ALL.iter().find(|(_, name)| *name == word.trim());
        found.map(|&(part, _)| part)
    }
}

/// What is handed on, and how.
#[derive(Clone, Debug, Default)]
pub struct ShareAsk {
    /// Which kinds.
    pub parts: BTreeSet<Part>,
    /// Words too: notes, what a meal was, preparations and covers, spots.
    pub notes: bool,
    /// All dates so many weeks earlier; weekdays and clock times stay.
    pub weeks_earlier: u32,
    /// Sensors numbered anew, no lots and serial numbers, zones as offsets.
    pub without_names: bool,
}

/// Writes the chosen part of what was taken.
///
/// # Errors
/// `Write`, `Table`; `Asked` where the dates would lie before 1970.
pub fn share(
    taken: &Taken,
    reader: Reader,
    ask: &ShareAsk,
    seed: u64,
    sink: &mut dyn Sink,
) -> Result<Exported, DoorError> {
    let shift = -7 * DAY_S * Second::from(ask.weeks_earlier);
    let mut record = taken.record.clone();
    chosen(&mut record, ask);
    if !ask.notes {
        without_words(&mut record);
    }
    if ask.without_names {
        without_names(&mut record);
    }
    if ask.without_names || shift != 0 {
        let window = (taken.from, taken.to);
        shifted(&mut record, &taken.record.clock, window, shift)?;
    }
    let moved = |at: Second| match at {
        Second::MIN | Second::MAX => at,
        at => at + shift,
    };
    let mut again = taken_again(record, (moved(taken.from), moved(taken.to)), reader, seed);
    if !ask.parts.contains(&Part::Readings) {
        let scans = again
            .record
            .traces
            .iter()
            .map(|trace| trace.kind == TraceKind::Scan);
        let mut keep = scans.collect::<Vec<_>>().into_iter();
        again.stands_for_s.retain(|_| keep.next().unwrap_or(false));
        again.record.traces.retain(|trace| trace.kind == TraceKind::Scan);
    }
    let mut notes = vec![what_it_is(ask)];
    let lived = Lived::of(&again.record);
    let mut list: Vec<Table> = logged(&again, &lived, ask);
    match &again.review {
        _ if !ask.parts.contains(&Part::Account) => {}
        Ok(review) => list.extend([
            tables::figures(review),
            tables::days(&review.days),
            tables::episodes(&review.episodes),
            tables::usual_day(&review.usual_day),
        ]),
        Err(reason) => notes.push(format!("There are no figures: {reason}.")),
    }
    export_tables(&again, reader.unit, TableFormat::Csv, list, notes, sink)
}

/// Said in the files: what was left out, never by how much the dates were moved.
fn what_it_is(ask: &ShareAsk) -> String {
    let mut said = vec!["A part of a record, as its owner chose it."];
    if !ask.notes {
        said.push("Words were left out.");
    }
    if ask.without_names {
        said.push("Names, lots and serial numbers were left out; sensors are numbered in the order they were worn; zones are offsets.");
    }
    if ask.weeks_earlier != 0 {
        said.push("All dates were moved by the same number of whole weeks.");
    }
    said.join(" ")
}

/// Leaves what was chosen.
fn chosen(record: &mut Record, ask: &ShareAsk) {
    let has = |part: Part| ask.parts.contains(&part);
    record.traces.retain(|trace| match trace.kind {
        // The account needs them, and they are left out once it is told.
        TraceKind::Automatic => has(Part::Readings) || has(Part::Account),
        TraceKind::Scan => has(Part::Scans),
    });
    let keep = |part: Part| if has(part) { usize::MAX } else { 0 };
    record.blood_checks.truncate(keep(Part::Checks));
    record.doses.truncate(keep(Part::Doses));
    record.meals.truncate(keep(Part::Meals));
    record.marks.truncate(keep(Part::Entries));
    record.sensor_notes.truncate(keep(Part::Sensors));
    record.low_verdicts.truncate(keep(Part::Lows));
    record.photos.clear();
    // Tellings of other sources would bring words along that nobody looked at.
    record.blood_checks.iter_mut().for_each(|kept| kept.also.clear());
}

fn without_words(record: &mut Record) {
    record
        .blood_checks
        .iter_mut()
        .for_each(|kept| kept.it.note = None);
    record.doses.iter_mut().for_each(|kept| kept.it.note = None);
    record.meals.iter_mut().for_each(|kept| kept.it.text = None);
    record
        .low_verdicts
        .iter_mut()
        .for_each(|kept| kept.it.note = None);
    record.marks.retain(|kept| {
        let is_words = matches!(
            kept.it.kind,
            MarkKind::Note | MarkKind::Tag | MarkKind::Device | MarkKind::Medicine
        );
        !is_words
    });
    record.marks.iter_mut().for_each(|kept| kept.it.text = None);
    for kept in &mut record.sensor_notes {
        let it = &mut kept.it;
        it.note = None;
        let site = it.site.as_deref().and_then(BodySite::from_words);
        it.site = site.map(|site| BodySite { spot: None, ..site }.to_string());
        it.detail = SensorDetail {
            preparation: Vec::new(),
            cover: Vec::new(),
            ..std::mem::take(&mut it.detail)
        };
    }
}

/// Sensors become S1, S2 and so on in the order they are first met.
fn without_names(record: &mut Record) {
    let mut first: BTreeMap<String, Second> = BTreeMap::new();
    let mut meet = |name: &str, at: Second| {
        if !name.is_empty() {
            let known = first.entry(name.to_owned()).or_insert(at);
            *known = (*known).min(at);
        }
    };
    for trace in &record.traces {
        if let Some((at, _)) = trace.readings.span() {
            meet(&trace.sensor, at);
        }
    }
    for kept in &record.sensor_notes {
        meet(kept.it.sensor.as_deref().unwrap_or_default(), kept.it.at);
    }
    for kept in &record.low_verdicts {
        meet(kept.it.sensor.as_deref().unwrap_or_default(), kept.it.at);
    }
    let mut order: Vec<(Second, String)> = first.into_iter().map(|(name, at)| (at, name)).collect();
    order.sort();
    let numbers: BTreeMap<String, String> = order
        .into_iter()
        .enumerate()
        .map(|(place, (_, name))| (name, format!("S{}", place + 1)))
        .collect();
    let anew = |name: &String| numbers.get(name).cloned().unwrap_or_default();
    for trace in &mut record.traces {
        trace.sensor = anew(&trace.sensor);
    }
    for kept in &mut record.sensor_notes {
        kept.it.sensor = kept.it.sensor.as_ref().map(anew);
        kept.it.detail.lot = None;
        kept.it.detail.serial = None;
    }
    for kept in &mut record.low_verdicts {
        kept.it.sensor = kept.it.sensor.as_ref().map(anew);
    }
}

/// Moves every instant, with the wall clock it was lived at: the zones become offsets, for another year's rules are not
/// these.
fn shifted(
    record: &mut Record,
    clock: &LivedClock,
    (from, to): (Second, Second),
    shift: Second,
) -> Result<(), DoorError> {
    let before = || DoorError::Asked("the dates would lie before 1970; move them by fewer weeks".to_owned());
    for trace in &mut record.traces {
        for place in 0..trace.readings.len() {
            let at = Second::from(trace.readings.at()[place]) + shift;
            trace
                .readings
                .set_at(place, u32::try_from(at).map_err(|_| before())?);
        }
    }
    fn each<T>(all: &mut [Kept<T>], change: impl Fn(&mut T)) {
        all.iter_mut().for_each(|kept| change(&mut kept.it));
    }
    each(&mut record.blood_checks, |it| it.at += shift);
    each(&mut record.doses, |it| it.at += shift);
    each(&mut record.meals, |it| it.at += shift);
    each(&mut record.sensor_notes, |it| it.at += shift);
    each(&mut record.marks, |it| {
        it.at += shift;
        it.until = it.until.map(|until| until + shift);
    });
    each(&mut record.low_verdicts, |it| {
        it.at += shift;
        it.until += shift;
    });
    let slack = 3 * DAY_S;
    let (from, to) = (
        from.saturating_sub(slack).max(0),
        to.saturating_add(slack).min(Second::from(u32::MAX)),
    );
    let pieces = clock.pieces();
    let mut spans = Vec::new();
    for (place, &(start, offset_s)) in pieces.iter().enumerate() {
        let end = pieces.get(place + 1).map_or(Second::MAX, |next| next.0);
        let (start, end) = (start.max(from), end.min(to));
        if let Some(zone) = Zone::fixed(offset_s).filter(|_| start < end) {
            spans.push(LivedSpan {
                from: start + shift,
                to: end + shift,
                zone,
            });
        }
    }
    record.set_clock(Zone::utc(), spans);
    Ok(())
}

/// The tables of what was chosen.
fn logged(taken: &Taken, lived: &Lived<'_>, ask: &ShareAsk) -> Vec<Table> {
    let has = |part: Part| ask.parts.contains(&part);
    let all = crate::export::logged(taken, lived);
    all.into_iter()
        .filter(|table| match table.name {
            "blood_checks" => has(Part::Checks),
            "doses" => has(Part::Doses),
            "meals" => has(Part::Meals),
            "entries" => has(Part::Entries),
            "low_verdicts" => has(Part::Lows),
            "sensor_moments" | "sensors" => has(Part::Sensors),
            _ => true,
        })
        .collect()
}

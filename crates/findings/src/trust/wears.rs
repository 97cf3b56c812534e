//! Which sensor the readings of a trace are from, and what is known of it.

use std::ops::Range;

use interstice_book::{Record, Trace};
use interstice_glucose::{DAY_S, Second, SensorNote, SensorNoteKind, TraceKind};
use interstice_methods::trace::native_interval;
use serde::Serialize;

/// A trace longer than this is not one sensor's: no sensor for the skin runs longer than sixteen days (ours, generous).
const LONGEST_WEAR_S: Second = 16 * DAY_S;
/// A silence at least this long may be a warm-up; those of common sensors last half an hour to two hours (common
/// practice, no source).
const WARM_UP_S: u32 = 30 * 60;
/// A start guessed from a silence is not looked for sooner after the one before.
const SHORTEST_GUESS_S: Second = 6 * DAY_S;
/// A start told without a sensor's name is of the trace whose readings follow within this.
const FOLLOWS_S: Second = 12 * 3600;
/// Native interval taken where a sensor has too few readings to show one: the commonest.
const ASSUMED_INTERVAL_S: u32 = 300;

/// How the start of a sensor is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Started {
    /// It was written down.
    Noted,
    /// It is taken to be the first reading under the sensor's name.
    FirstReading,
    /// It is guessed from a silence that looks like a warm-up.
    Silence,
    /// It is not known.
    Unknown,
}

/// One sensor's wear as far as the book knows it. All that looks at sensors starts from these.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorWear {
    /// Its name: the trace's, with the date of its first reading where a trace holds several.
    pub name: String,
    /// Which trace of the record.
    pub trace: usize,
    /// Its readings in that trace.
    pub readings: Range<usize>,
    /// Native interval, seconds.
    pub interval_s: u32,
    /// First and last reading.
    pub span: (Second, Second),
    /// When it was put on.
    pub put_on: Option<Second>,
    /// When it was started.
    pub started: Option<Second>,
    /// How that is known.
    pub started_by: Started,
    /// Place on the body, without the side.
    pub site: Option<String>,
    /// 'left' or 'right'.
    pub side: Option<String>,
    /// Lot.
    pub lot: Option<String>,
    /// How the skin was prepared.
    pub preparation: Option<String>,
}

impl SensorWear {
    /// Hours worn before the start.
    pub fn bedding_in_h(&self) -> Option<f64> {
        let before = self.started? - self.put_on?;
        (before >= 0).then_some(before as f64 / 3600.0)
    }
}

/// The wears behind the automatic traces of a record, by first reading.
///
/// A start that was written down begins a wear. Without one, a trace of up to sixteen days under a name of its own is one
/// wear from its first reading. A longer trace, or one without a name, is cut at silences of half an hour or more that come at
/// least six days after the cut before; such starts are guesses and say so.
pub fn wears(record: &Record) -> Vec<SensorWear> {
    let mut wears = Vec::new();
    for (index, trace) in record.traces.iter().enumerate() {
        if trace.kind == TraceKind::Automatic && !trace.readings.is_empty() {
            wears.extend(of_trace(record, index, trace));
        }
    }
    wears.sort_by(|a, b| (a.span.0, &a.name).cmp(&(b.span.0, &b.name)));
    wears
}

/// A cut of a trace: index of the first reading, the start, how it is known.
type Cut = (usize, Option<Second>, Started);

fn of_trace(record: &Record, index: usize, trace: &Trace) -> Vec<SensorWear> {
    let at = trace.readings.at();
    let told = told_starts(record, trace);
    let cuts = if told.is_empty() {
        guessed_cuts(trace)
    } else {
        told_cuts(at, &told)
    };
    let several = cuts.len() > 1;
    let ends = cuts.iter().skip(1).map(|cut| cut.0).chain([at.len()]);
    cuts.iter()
        .zip(ends)
        .map(|(&cut, end)| wear(record, index, trace, cut, end, several))
        .collect()
}

/// Starts written down for a trace, in time order.
fn told_starts(record: &Record, trace: &Trace) -> Vec<Second> {
    let starts = record
        .sensor_notes
        .iter()
        .map(|kept| &kept.it)
        .filter(|note| note.kind == SensorNoteKind::Started);
    let mut told: Vec<Second> = starts
        .filter(|note| belongs(record, trace, note))
        .map(|note| note.at)
        .collect();
    told.sort_unstable();
    told.dedup();
    told
}

/// Whether a note is about a trace: by its sensor's name, else where this trace alone has readings soon after it.
fn belongs(record: &Record, trace: &Trace, note: &SensorNote) -> bool {
    if let Some(name) = note.sensor.as_deref().filter(|name| !name.is_empty()) {
        return name == trace.sensor;
    }
    let follows = |trace: &Trace| !trace.readings.range(note.at, note.at + FOLLOWS_S).is_empty();
    let automatic = record
        .traces
        .iter()
        .filter(|other| other.kind == TraceKind::Automatic);
    follows(trace) && automatic.filter(|other| follows(other)).count() == 1
}

fn told_cuts(at: &[u32], told: &[Second]) -> Vec<Cut> {
    let mut cuts: Vec<Cut> = Vec::new();
    for &start in told {
        let first = at.partition_point(|&at| Second::from(at) < start);
        if first == at.len() {
            continue;
        }
        // Of two starts without a reading between them the later one holds.
        cuts.retain(|cut| cut.0 != first);
        cuts.push((first, Some(start), Started::Noted));
    }
    if cuts.first().is_none_or(|cut| cut.0 > 0) {
        cuts.insert(0, (0, None, Started::Unknown));
    }
    cuts
}

fn guessed_cuts(trace: &Trace) -> Vec<Cut> {
    let at = trace.readings.at();
    let first = Second::from(at[0]);
    let last = Second::from(at[at.len() - 1]);
    let mut cuts = vec![(0, Some(first), Started::FirstReading)];
    if !trace.sensor.is_empty() && last - first <= LONGEST_WEAR_S {
        return cuts;
    }
    let mut since = first;
    for (i, pair) in at.windows(2).enumerate() {
        let start = Second::from(pair[1]);
        if pair[1] - pair[0] >= WARM_UP_S && start - since >= SHORTEST_GUESS_S {
            cuts.push((i + 1, Some(start), Started::Silence));
            since = start;
        }
    }
    cuts
}

fn wear(record: &Record, index: usize, trace: &Trace, cut: Cut, end: usize, several: bool) -> SensorWear {
    let (first, started, started_by) = cut;
    let at = &trace.readings.at()[first..end];
    let span = (Second::from(at[0]), Second::from(at[at.len() - 1]));
    let noted = Noted::of(record, trace, started.unwrap_or(span.0), span);
    let too_long = span.1 - started.unwrap_or(span.0) > LONGEST_WEAR_S;
    // A stretch longer than any sensor runs holds a change of sensor nobody wrote down: only its start may be right.
    let started_by = if too_long && started_by != Started::Noted {
        Started::Unknown
    } else {
        started_by
    };
    SensorWear {
        name: name(record, trace, span.0, several),
        trace: index,
        readings: first..end,
        interval_s: native_interval(at).unwrap_or(ASSUMED_INTERVAL_S),
        span,
        put_on: noted.put_on,
        started: started.filter(|_| started_by != Started::Unknown),
        started_by,
        site: noted.site,
        side: noted.side,
        lot: noted.lot,
        preparation: None,
    }
}

fn name(record: &Record, trace: &Trace, first: Second, several: bool) -> String {
    let date = record
        .clock
        .wall(first)
        .civil()
        .map_or_else(|| first.to_string(), |civil| civil.date().to_string());
    match (trace.sensor.as_str(), several) {
        ("", _) => format!("sensor from {date}"),
        (name, true) => format!("{name}, from {date}"),
        (name, false) => name.to_owned(),
    }
}

/// What notes say about one wear.
#[derive(Default)]
struct Noted {
    put_on: Option<Second>,
    site: Option<String>,
    side: Option<String>,
    lot: Option<String>,
}

impl Noted {
    /// From the notes between the end of the wear before and this one's last reading.
    fn of(record: &Record, trace: &Trace, started: Second, span: (Second, Second)) -> Self {
        let mut noted = Noted::default();
        let notes = record.sensor_notes.iter().map(|kept| &kept.it);
        let mut putting_on: Vec<&SensorNote> = notes
            .filter(|note| note.kind != SensorNoteKind::Ended && note.at <= span.1)
            .filter(|note| note.at >= started - LONGEST_WEAR_S && about(record, trace, note))
            .collect();
        // The latest word counts, but nothing said of the sensor before.
        putting_on.sort_by_key(|note| note.at);
        for note in putting_on {
            match note.kind {
                SensorNoteKind::PutOn if note.at <= started => {
                    noted = Noted {
                        put_on: Some(note.at),
                        ..Noted::default()
                    };
                }
                SensorNoteKind::Started if note.at < started => noted = Noted::default(),
                _ => {}
            }
            noted.read(note);
        }
        noted
    }

    fn read(&mut self, note: &SensorNote) {
        if let Some(written) = note.site.as_deref().filter(|site| !site.trim().is_empty()) {
            let (side, site) = side_and_site(written);
            self.side = side.or(self.side.take());
            self.site = site.or(self.site.take());
        }
        if let Some(lot) = note.note.as_deref().and_then(lot) {
            self.lot = Some(lot);
        }
    }
}

/// As [`belongs`], a sensor put on included: its readings may follow days later under its own name.
fn about(record: &Record, trace: &Trace, note: &SensorNote) -> bool {
    match note.sensor.as_deref().filter(|name| !name.is_empty()) {
        Some(name) => name == trace.sensor,
        None => belongs(record, trace, note),
    }
}

/// Words for left and right in the languages files are read in.
const SIDES: [(&str, &[&str]); 2] = [
    (
        "left",
        &[
            "left",
            "links",
            "linker",
            "linke",
            "gauche",
            "izquierdo",
            "izquierda",
            "sinistro",
            "sinistra",
            "esquerdo",
            "esquerda",
            "venstre",
            "vänster",
            "vasen",
        ],
    ),
    (
        "right",
        &[
            "right", "rechts", "rechter", "rechte", "droit", "droite", "derecho", "derecha", "destro",
            "destra", "direito", "direita", "højre", "høyre", "höger", "oikea",
        ],
    ),
];

/// 'left upper arm' is ('left', 'upper arm').
fn side_and_site(written: &str) -> (Option<String>, Option<String>) {
    let mut side = None;
    let mut rest = Vec::new();
    for word in written
        .split([' ', ',', ';', '/'])
        .filter(|word| !word.is_empty())
    {
        let small = word.to_lowercase();
        match SIDES.iter().find(|(_, words)| words.contains(&small.as_str())) {
            Some((name, _)) => side = Some((*name).to_owned()),
            None => rest.push(small),
        }
    }
    (side, (!rest.is_empty()).then(|| rest.join(" ")))
}

/// 'lot KR-204' is 'KR-204'.
fn lot(note: &str) -> Option<String> {
    let mut words = note.split_whitespace();
    words.find(|word| word.trim_end_matches(':').eq_ignore_ascii_case("lot"))?;
    let lot = words.next()?.trim_matches([',', ';', '.']);
    (!lot.is_empty()).then(|| lot.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn side_is_told_from_site() {
        let of = |text: &str| {
            let (side, site) = side_and_site(text);
            (side.unwrap_or_default(), site.unwrap_or_default())
        };
        assert_eq!(of("left upper arm"), ("left".to_owned(), "upper arm".to_owned()));
        assert_eq!(of("Thigh, right"), ("right".to_owned(), "thigh".to_owned()));
        assert_eq!(of("Bauch links"), ("left".to_owned(), "bauch".to_owned()));
        assert_eq!(of("chest"), (String::new(), "chest".to_owned()));
    }

    #[test]
    fn a_lot_is_read_from_the_words() {
        assert_eq!(lot("lot KR-204").as_deref(), Some("KR-204"));
        assert_eq!(lot("new one, Lot: A7, cold").as_deref(), Some("A7"));
        assert_eq!(lot("a lot").as_deref(), None);
        assert_eq!(lot("pilot 5").as_deref(), None);
    }
}

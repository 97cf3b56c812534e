//! Sensors and ends that the readings tell of and nobody wrote down, offered to be confirmed. Until they are, every figure takes
//! them as the readings tell them, and says so.

use interstice_book::Record;
use interstice_glucose::{
    LivedClock, Second, SensorDetail, SensorKind, SensorNote, SensorNoteKind, TraceKind,
};
use interstice_methods::quantile;
use serde::Serialize;

use super::Worn;
use crate::Time;
use crate::worn::{KnownFrom, other_beat};

/// A warm-up is told from a lost signal by its length: within so much of what the kind's instructions say. Ours.
const ROUGHLY_S: Second = 12 * 60;
/// A step over a silence speaks for another sensor where it is larger than this share of steps as long in the same trace. Ours.
const LARGER_THAN: f64 = 0.99;
/// Fewest such steps to tell by. Ours.
const FEWEST_STEPS: usize = 500;
/// A sensor is not changed sooner after its first reading; a silence before is its own. Ours.
const NOT_BEFORE_S: Second = 86_400;

/// Something found, and what would be written down if it is confirmed.
#[derive(Clone, Debug, Serialize)]
pub struct Found {
    /// To confirm it by: what it is and when.
    pub key: String,
    /// 'sensor' (nobody told of it), 'end' (its readings stopped and nobody said so), 'change' (another sensor under the
    /// same name).
    pub what: &'static str,
    /// The sensor's name, where the readings carry one.
    pub sensor_id: Option<String>,
    /// How it shows.
    pub why: String,
    /// What is taken for granted until it is confirmed.
    pub meanwhile: &'static str,
    /// What would be written down.
    pub would_write: Vec<Would>,
    /// The same as it goes into the book.
    #[serde(skip)]
    pub notes: Vec<SensorNote>,
}

/// A moment that would be written down.
#[derive(Clone, Debug, Serialize)]
pub struct Would {
    /// 'started' or 'ended'.
    pub what: &'static str,
    /// When.
    pub at: Time,
}

/// What the readings tell of, oldest first.
pub(super) fn found(record: &Record, worn: &[Worn], kind: Option<&SensorKind>) -> Vec<Found> {
    let ask = Ask {
        clock: &record.clock,
        kind,
    };
    let mut all: Vec<(Second, Found)> = Vec::new();
    for worn in worn {
        let Some((first, last)) = worn.it.readings else {
            continue;
        };
        if worn.it.known_from != KnownFrom::Told {
            all.push((first, ask.sensor(worn, first, last)));
        } else if worn.it.ended.is_none() && !worn.is_on {
            all.push((last, ask.end(worn, last)));
        }
        if let Some(name) = worn.it.sensor.as_ref().filter(|_| !told_whole(worn, kind)) {
            let changes = changes(record, name, (first, last), kind);
            all.extend(
                changes
                    .into_iter()
                    .map(|change| (change.after, ask.change(name, &change))),
            );
        }
    }
    all.sort_by(|a, b| (a.0, &a.1.key).cmp(&(b.0, &b.1.key)));
    all.into_iter().map(|(_, found)| found).collect()
}

/// Whether its start and its end were told and lie no farther apart than one sensor may be worn: a silence between is its own,
/// whatever the readings do over it.
fn told_whole(worn: &Worn, kind: Option<&SensorKind>) -> bool {
    let (Some(kind), Some(ended)) = (kind, worn.it.ended) else {
        return false;
    };
    let may = 60 * Second::from(kind.wear_min + kind.extra_min);
    worn.it
        .started
        .is_some_and(|started| (0..=may + ROUGHLY_S).contains(&(ended - started)))
}

/// Another sensor seems to read on under one name.
struct Change {
    before: Second,
    after: Second,
    /// What speaks for it beside the silence.
    sign: String,
}

struct Ask<'a> {
    clock: &'a LivedClock,
    kind: Option<&'a SensorKind>,
}

impl Ask<'_> {
    fn sensor(&self, worn: &Worn, first: Second, last: Second) -> Found {
        let name = worn.it.sensor.clone();
        let mut notes = vec![self.started(name.clone(), first)];
        if !worn.is_on {
            notes.push(note(SensorNoteKind::Ended, name.clone(), last));
        }
        let by_name = worn.it.known_from == KnownFrom::Readings;
        let why = if by_name {
            "readings carry a name of which nobody told"
        } else {
            "after a silence, readings without a name come at other seconds than before"
        };
        self.found(
            format!("sensor-{first}"),
            "sensor",
            name,
            why.to_owned(),
            "it counts as a sensor from its first to its last reading; where it was, and how it ended, is not known",
            notes,
        )
    }

    fn end(&self, worn: &Worn, last: Second) -> Found {
        let name = worn.it.sensor.clone();
        self.found(
            format!("end-{last}"),
            "end",
            name.clone(),
            "its readings stopped, and its end was not written down".to_owned(),
            "it counts as worn until its last reading and cut short there: whether it was lost is not known",
            vec![note(SensorNoteKind::Ended, name, last)],
        )
    }

    fn change(&self, name: &str, change: &Change) -> Found {
        let minutes = (change.after - change.before) / 60;
        self.found(
            format!("change-{}", change.after),
            "change",
            Some(name.to_owned()),
            format!(
                "silent for {minutes} minutes under one name, then {}",
                change.sign
            ),
            "it counts as one sensor",
            vec![
                note(SensorNoteKind::Ended, Some(name.to_owned()), change.before),
                self.started(Some(name.to_owned()), change.after),
            ],
        )
    }

    /// It was started a warm-up before its first reading, where the kind in use says how long that is.
    fn started(&self, name: Option<String>, first: Second) -> SensorNote {
        let warm_up = self.kind.map_or(0, |kind| 60 * Second::from(kind.warm_up_min));
        note(SensorNoteKind::Started, name, first - warm_up)
    }

    fn found(
        &self,
        key: String,
        what: &'static str,
        sensor_id: Option<String>,
        why: String,
        meanwhile: &'static str,
        notes: Vec<SensorNote>,
    ) -> Found {
        let would = |note: &SensorNote| Would {
            what: match note.kind {
                SensorNoteKind::Started => "started",
                _ => "ended",
            },
            at: Time(self.clock.moment(note.at)),
        };
        Found {
            key,
            what,
            sensor_id,
            why,
            meanwhile,
            would_write: notes.iter().map(would).collect(),
            notes,
        }
    }
}

fn note(kind: SensorNoteKind, sensor: Option<String>, at: Second) -> SensorNote {
    SensorNote {
        at,
        kind,
        sensor,
        site: None,
        note: None,
        detail: SensorDetail::default(),
    }
}

/// Silences as long as a warm-up within one sensor's readings, after which they come at other seconds or from another level.
fn changes(
    record: &Record,
    name: &str,
    (first, last): (Second, Second),
    kind: Option<&SensorKind>,
) -> Vec<Change> {
    let Some(trace) = (record.traces.iter()).find(|it| it.sensor == name && it.kind == TraceKind::Automatic)
    else {
        return Vec::new();
    };
    let levels = record.levels.as_slice();
    let (at, mg_dl): (Vec<Second>, Vec<f64>) = (trace.readings.at().iter().zip(trace.readings.level()))
        .map(|(&at, &level)| (Second::from(at), levels[level as usize].mg_per_dl))
        .filter(|(at, _)| (first..=last).contains(at))
        .unzip();
    let Some(kind) = kind.filter(|kind| kind.warm_up_min > 0) else {
        // Without a warm-up to look for, every lost signal would be offered.
        return Vec::new();
    };
    let warm_up = 60 * Second::from(kind.warm_up_min);
    let silent = |i: usize| at[i] - at[i - 1];
    (1..at.len())
        .filter(|&i| (silent(i) - warm_up).abs() <= ROUGHLY_S && at[i - 1] - first >= NOT_BEFORE_S)
        .filter_map(|i| {
            let sign = sign(&at, &mg_dl, i)?;
            Some(Change {
                before: at[i - 1],
                after: at[i],
                sign,
            })
        })
        .collect()
}

/// What speaks for another sensor after the silence that ends at place `i`.
fn sign(at: &[Second], mg_dl: &[f64], i: usize) -> Option<String> {
    if other_beat(at, i) {
        return Some("read at other seconds than before".to_owned());
    }
    let step = (mg_dl[i] - mg_dl[i - 1]).abs();
    let mut steps = steps_over(at, mg_dl, at[i] - at[i - 1]);
    if steps.len() < FEWEST_STEPS {
        return None;
    }
    steps.sort_by(f64::total_cmp);
    let usual = quantile(&steps, LARGER_THAN)?;
    (step > usual).then(|| {
        format!(
            "far from where it was: farther than {:.0} % of its steps over as long a time",
            100.0 * LARGER_THAN
        )
    })
}

/// How far readings are from those so much later, over the whole trace, silences left out.
fn steps_over(at: &[Second], mg_dl: &[f64], apart: Second) -> Vec<f64> {
    let mut later = 0;
    let mut steps = Vec::new();
    for place in 0..at.len() {
        while later < at.len() && at[later] - at[place] < apart {
            later += 1;
        }
        // Where the reading so much later is missing, its neighbour may lie a silence away.
        if later < at.len() && later > place + 1 && at[later] - at[place] < apart + ROUGHLY_S {
            steps.push((mg_dl[later] - mg_dl[place]).abs());
        }
    }
    steps
}

//! What was written down, in lanes under the timeline, grouped where it would lie on itself.

use interstice_book::{Kept, Record};
use interstice_glucose::{
    BloodCheck, BloodSource, Delivery, Dose, InsulinKind, Mark, MarkKind, Meal, Second, SensorNote, TraceKind,
};
use interstice_methods::timeline::clusters;

use crate::swings::SwingSpan;
use crate::trust::LowSpan;

/// A lane of the timeline.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lane {
    /// Stretches not to be believed: drawn over the readings.
    Artefact,
    /// Blood checks: drawn at their value among the readings.
    Check,
    /// Sensors worn, and their changes.
    Sensor,
    /// Possible pressure lows, and what the wearer said of lows.
    Low,
    /// Swings.
    Swing,
    /// Meals and drinks.
    Food,
    /// Doses of insulin.
    Insulin,
    /// Activity and sleep.
    Body,
    /// Everything else.
    Note,
}

impl Lane {
    /// All, in the order they are drawn.
    pub const ALL: [Lane; 9] = [
        Lane::Artefact,
        Lane::Check,
        Lane::Sensor,
        Lane::Low,
        Lane::Swing,
        Lane::Food,
        Lane::Insulin,
        Lane::Body,
        Lane::Note,
    ];

    fn of_mark(kind: MarkKind) -> Lane {
        match kind {
            MarkKind::Artefact => Lane::Artefact,
            MarkKind::Activity | MarkKind::Sleep => Lane::Body,
            MarkKind::Drink => Lane::Food,
            MarkKind::Ketones
            | MarkKind::Symptom
            | MarkKind::Illness
            | MarkKind::Medicine
            | MarkKind::Temperature
            | MarkKind::Device
            | MarkKind::Note
            | MarkKind::Tag => Lane::Note,
        }
    }
}

/// What happened.
#[derive(Clone, Debug, PartialEq)]
pub enum Happening {
    /// A sensor giving readings.
    Worn {
        /// Its name, empty where the files give none.
        sensor: String,
        /// Whether it was read by hand.
        by_hand: bool,
        /// Of two at once, the second.
        second: bool,
    },
    /// A moment in a sensor's life.
    Sensor(SensorNote),
    /// A blood check.
    Check(BloodCheck),
    /// A dose as logged.
    Dose(Dose),
    /// A meal.
    Meal(Meal),
    /// A possible pressure low, or one the wearer judged.
    Low(LowSpan),
    /// A swing.
    Swing(SwingSpan),
    /// Anything else.
    Mark(Mark),
    /// Several blood checks close together.
    Checks {
        /// Lowest, mg/dL.
        lowest_mg_dl: f64,
        /// Highest, mg/dL.
        highest_mg_dl: f64,
    },
    /// Several of the lane close together.
    Several,
}

/// Something on the axis.
#[derive(Clone, Debug, PartialEq)]
pub struct TimelineEvent {
    /// Its lane.
    pub lane: Lane,
    /// When, or when the first of several.
    pub at: Second,
    /// When it ended, or the last of several.
    pub until: Option<Second>,
    /// How many, 1 or more.
    pub count: u32,
    /// Its size among its kind in the book, 0 to 1; `None` where it has none.
    pub share: Option<f64>,
    /// What.
    pub what: Happening,
}

/// One thing written down, by its place in the record.
#[derive(Clone, Copy, Debug)]
enum Source {
    Worn { trace: usize, second: bool },
    Sensor(usize),
    Check(usize),
    Dose(usize),
    Meal(usize),
    Mark(usize),
}

#[derive(Clone, Copy, Debug)]
struct Item {
    at: Second,
    until: Option<Second>,
    share: Option<f64>,
    source: Source,
}

/// The items of a lane, in time order.
#[derive(Clone, Debug, Default)]
pub(super) struct LaneItems(Vec<Item>);

impl LaneItems {
    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// From the first to the last.
    pub(super) fn span(&self) -> Option<(Second, Second)> {
        let last = self.0.iter().map(|item| item.until.unwrap_or(item.at)).max()?;
        Some((self.0.first()?.at, last))
    }
}

/// Everything written down, by lane.
pub(super) fn lanes(record: &Record) -> Vec<(Lane, LaneItems)> {
    let mut lanes: Vec<(Lane, LaneItems)> = Lane::ALL.map(|lane| (lane, LaneItems::default())).to_vec();
    let mut put = |lane: Lane, item: Item| {
        if let Some((_, items)) = lanes.iter_mut().find(|(other, _)| *other == lane) {
            items.0.push(item);
        }
    };
    for item in worn(record) {
        put(Lane::Sensor, item);
    }
    let at = |at: Second, source: Source| Item {
        at,
        until: None,
        share: None,
        source,
    };
    for (i, note) in record.sensor_notes.iter().enumerate() {
        put(Lane::Sensor, at(note.it.at, Source::Sensor(i)));
    }
    for (i, check) in record.blood_checks.iter().enumerate() {
        put(Lane::Check, at(check.it.at, Source::Check(i)));
    }
    for (i, (dose, share)) in record.doses.iter().zip(dose_shares(&record.doses)).enumerate() {
        put(
            Lane::Insulin,
            Item {
                share,
                until: dose_end(&dose.it),
                ..at(dose.it.at, Source::Dose(i))
            },
        );
    }
    for (i, (meal, share)) in record.meals.iter().zip(meal_shares(&record.meals)).enumerate() {
        put(
            Lane::Food,
            Item {
                share,
                ..at(meal.it.at, Source::Meal(i))
            },
        );
    }
    for (i, mark) in record.marks.iter().enumerate() {
        put(
            Lane::of_mark(mark.it.kind),
            Item {
                until: mark.it.until,
                ..at(mark.it.at, Source::Mark(i))
            },
        );
    }
    for (_, items) in &mut lanes {
        items.0.sort_by_key(|item| item.at);
    }
    lanes
}

/// Stretches in which a sensor gave readings; one that begins before another has ended is the second of two.
fn worn(record: &Record) -> Vec<Item> {
    let mut spans: Vec<(Second, Second, usize)> = record
        .traces
        .iter()
        .enumerate()
        .filter(|(_, trace)| trace.kind == TraceKind::Automatic || !has_automatic(record, &trace.sensor))
        .filter_map(|(i, trace)| trace.readings.span().map(|(from, to)| (from, to, i)))
        .collect();
    spans.sort_unstable();
    let mut busy_until = Second::MIN;
    spans
        .into_iter()
        .map(|(from, to, trace)| {
            let second = from < busy_until;
            if !second {
                busy_until = to;
            }
            Item {
                at: from,
                until: Some(to),
                share: None,
                source: Source::Worn { trace, second },
            }
        })
        .collect()
}

fn has_automatic(record: &Record, sensor: &str) -> bool {
    record
        .traces
        .iter()
        .any(|trace| trace.kind == TraceKind::Automatic && trace.sensor == sensor)
}

/// A dose spread over time lasts that long.
fn dose_end(dose: &Dose) -> Option<Second> {
    match dose.delivery {
        Delivery::Spread { minutes } => Some(dose.at + Second::from(minutes) * 60),
        Delivery::AtOnce | Delivery::BasalRate | Delivery::Intravenous => None,
    }
}

/// Square roots of units against the book's largest of the same make: areas that can be compared.
fn dose_shares(doses: &[Kept<Dose>]) -> Vec<Option<f64>> {
    let make = |dose: &Dose| {
        let slow = matches!(dose.insulin, InsulinKind::Long | InsulinKind::Intermediate);
        usize::from(slow) + 2 * usize::from(dose.delivery == Delivery::BasalRate)
    };
    let mut most = [0.0_f64; 4];
    for Kept { it: dose, .. } in doses {
        most[make(dose)] = most[make(dose)].max(dose.units);
    }
    doses
        .iter()
        .map(|dose| share(dose.it.units, most[make(&dose.it)]))
        .collect()
}

fn meal_shares(meals: &[Kept<Meal>]) -> Vec<Option<f64>> {
    let most = meals
        .iter()
        .filter_map(|meal| meal.it.carbohydrate_g)
        .fold(0.0, f64::max);
    meals
        .iter()
        .map(|meal| share(meal.it.carbohydrate_g?, most))
        .collect()
}

fn share(size: f64, most: f64) -> Option<f64> {
    (most > 0.0 && size >= 0.0).then(|| (size / most).sqrt())
}

/// What lies in `[from, to)`, grouped where several fall into one stretch of `bin_s` seconds. What lasts longer than
/// that, and stretches not to be believed, stand alone.
pub(super) fn within(
    record: &Record,
    lanes: &[(Lane, LaneItems)],
    from: Second,
    to: Second,
    bin_s: u32,
) -> Vec<TimelineEvent> {
    let mut events = Vec::new();
    for (lane, items) in lanes {
        let (lane, before) = (*lane, events.len());
        let end = items.0.partition_point(|item| item.at < to);
        let seen = items.0[..end]
            .iter()
            .filter(|item| item.until.unwrap_or(item.at) >= from);
        let alone = |item: &Item| {
            let lasts = item.until.map_or(0, |until| until - item.at);
            lane == Lane::Artefact || lasts > Second::from(bin_s)
        };
        let (long, short): (Vec<Item>, Vec<Item>) = seen.partition(|item| alone(item));
        events.extend(long.iter().map(|item| single(record, lane, item)));
        let at: Vec<Second> = short.iter().map(|item| item.at).collect();
        events.extend(
            clusters(&at, bin_s)
                .into_iter()
                .map(|group| grouped(record, lane, &short[group])),
        );
        events[before..].sort_by_key(|event| event.at);
    }
    events
}

/// Lows as events, grouped like the others; a group of one is told by itself.
pub(super) fn lows(lows: &[LowSpan], bin_s: u32) -> Vec<TimelineEvent> {
    grouped_where_short(lows.iter().map(low_event), bin_s)
}

/// Swings as events, grouped alike.
pub(super) fn swings(swings: &[SwingSpan], bin_s: u32) -> Vec<TimelineEvent> {
    grouped_where_short(swings.iter().map(swing_event), bin_s)
}

fn grouped_where_short(events: impl Iterator<Item = TimelineEvent>, bin_s: u32) -> Vec<TimelineEvent> {
    let lasts = |event: &TimelineEvent| event.until.map_or(0, |until| until - event.at);
    let (mut all, short): (Vec<_>, Vec<_>) = events.partition(|event| lasts(event) > Second::from(bin_s));
    let at: Vec<Second> = short.iter().map(|event| event.at).collect();
    all.extend(clusters(&at, bin_s).into_iter().map(|group| match &short[group] {
        [only] => only.clone(),
        several => TimelineEvent {
            until: several.last().map(|event| event.at),
            count: u32::try_from(several.len()).unwrap_or(u32::MAX),
            what: Happening::Several,
            ..several[0].clone()
        },
    }));
    all.sort_by_key(|event| event.at);
    all
}

/// One swing.
pub(super) fn swing_event(swing: &SwingSpan) -> TimelineEvent {
    TimelineEvent {
        lane: Lane::Swing,
        at: swing.from,
        until: Some(swing.to),
        count: 1,
        share: None,
        what: Happening::Swing(swing.clone()),
    }
}

/// One low.
pub(super) fn low_event(low: &LowSpan) -> TimelineEvent {
    TimelineEvent {
        lane: Lane::Low,
        at: low.from,
        until: Some(low.to),
        count: 1,
        share: None,
        what: Happening::Low(*low),
    }
}

/// Everything of a stretch by itself, in time order, as far as it began there or was still going on; sensors worn are
/// left out. At most `most`, and how many there are.
pub(super) fn listed(
    record: &Record,
    lanes: &[(Lane, LaneItems)],
    from: Second,
    to: Second,
    most: usize,
) -> (Vec<TimelineEvent>, usize) {
    let mut found: Vec<(Lane, Item)> = Vec::new();
    for (lane, items) in lanes {
        let end = items.0.partition_point(|item| item.at < to);
        let seen = items.0[..end]
            .iter()
            .filter(|item| item.until.unwrap_or(item.at) >= from);
        let told = seen.filter(|item| !matches!(item.source, Source::Worn { .. }));
        found.extend(told.map(|&item| (*lane, item)));
    }
    found.sort_by_key(|(lane, item)| (item.at, *lane));
    let count = found.len();
    found.truncate(most);
    (
        found
            .iter()
            .map(|(lane, item)| single(record, *lane, item))
            .collect(),
        count,
    )
}

/// How many of each lane begin in a stretch; sensors worn are not counted.
pub(super) fn counts(lanes: &[(Lane, LaneItems)], from: Second, to: Second) -> Vec<(Lane, usize)> {
    let count = |items: &LaneItems| {
        let start = items.0.partition_point(|item| item.at < from);
        let end = items.0.partition_point(|item| item.at < to).max(start);
        items.0[start..end]
            .iter()
            .filter(|item| !matches!(item.source, Source::Worn { .. }))
            .count()
    };
    lanes
        .iter()
        .map(|(lane, items)| (*lane, count(items)))
        .filter(|&(_, count)| count > 0)
        .collect()
}

fn single(record: &Record, lane: Lane, item: &Item) -> TimelineEvent {
    let what = match item.source {
        Source::Worn { trace, second } => Happening::Worn {
            sensor: record.traces[trace].sensor.clone(),
            by_hand: record.traces[trace].kind == TraceKind::Scan,
            second,
        },
        Source::Sensor(i) => Happening::Sensor(record.sensor_notes[i].it.clone()),
        Source::Check(i) => Happening::Check(record.blood_checks[i].it.clone()),
        Source::Dose(i) => Happening::Dose(record.doses[i].it.clone()),
        Source::Meal(i) => Happening::Meal(record.meals[i].it.clone()),
        Source::Mark(i) => Happening::Mark(record.marks[i].it.clone()),
    };
    TimelineEvent {
        lane,
        at: item.at,
        until: item.until,
        count: 1,
        share: item.share,
        what,
    }
}

/// A group, or its only member.
fn grouped(record: &Record, lane: Lane, group: &[Item]) -> TimelineEvent {
    let (first, last) = (&group[0], &group[group.len() - 1]);
    if group.len() == 1 {
        return single(record, lane, first);
    }
    let checks: Vec<&BloodCheck> = group
        .iter()
        .filter_map(|item| match item.source {
            Source::Check(i) => record.blood_checks.get(i).map(|check| &check.it),
            _ => None,
        })
        .collect();
    let values = || checks.iter().map(|check| check.said.glucose().mg_per_dl());
    let what = if checks.is_empty() {
        Happening::Several
    } else {
        Happening::Checks {
            lowest_mg_dl: values().fold(f64::INFINITY, f64::min),
            highest_mg_dl: values().fold(f64::NEG_INFINITY, f64::max),
        }
    };
    let count = u32::try_from(group.len()).unwrap_or(u32::MAX);
    TimelineEvent {
        lane,
        at: first.at,
        until: Some(last.at),
        count,
        share: None,
        what,
    }
}

impl TimelineEvent {
    /// Whether it is a value of a laboratory.
    pub fn is_laboratory(&self) -> bool {
        matches!(&self.what, Happening::Check(check) if check.source == BloodSource::Laboratory)
    }
}

//! What was logged day by day, and which sensor was read: what else may differ between two sets of days.

use std::collections::{BTreeMap, BTreeSet};

use interstice_book::Record;
use interstice_glucose::{DAY_S, Delivery, InsulinKind, MarkKind, Second};
use interstice_methods::compare::LoggedADay;
use interstice_methods::swings::{CarbsFor, Diary, DoseFor, Roles};
use interstice_methods::{Episode, EpisodeKind, LivedDay, Recording, Series};

use super::LATEST_DAYS;
use crate::account::Reader;
use crate::swings::{carbs, doses, with_checked_lows};
use crate::trust::{SensorWear, pressure_touching, wears};

/// Worn for so long before its start, a sensor was bedded in: half a day, as on the Trust page.
const BEDDED_FROM_H: f64 = 12.0;
/// A place or a lot that was read for less of the time on both sides is not worth a line (ours).
const SHARE_WORTH_TELLING: f64 = 0.05;
/// A basal rate that nothing follows is taken to go on for so long, as for insulin still acting.
const BASAL_AT_MOST_S: Second = DAY_S;

/// What is told beside the figures.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Logged {
    /// Rapid and short-acting insulin, units a day, over days with a dose logged.
    RapidInsulin,
    /// Intermediate and long-acting insulin, units a day.
    LongInsulin,
    /// Premixed insulin and such of unsaid kind, units a day.
    OtherInsulin,
    /// A pump's basal rates, units a day.
    BasalInsulin,
    /// Doses of rapid and short-acting insulin a day.
    Doses,
    /// Of these, corrections.
    Corrections,
    /// Carbohydrate, grams a day, over days with a meal logged.
    Carbohydrate,
    /// Meals a day.
    Meals,
    /// Times a week something was eaten against a low, over days with a meal logged.
    LowsTreated,
    /// Activity, minutes a day, over days with anything in the diary.
    Activity,
    /// Sleep, hours a day, over days with sleep logged.
    Sleep,
    /// Readings a day.
    Readings,
    /// Blood checks a day.
    BloodChecks,
    /// Possible pressure lows a week.
    PressureLows,
    /// A place on the body, percent of the time read of which the place is known.
    Place(String),
    /// A lot of sensors, the same.
    Lot(String),
    /// Sensors bedded in, percent of the time read of which it is known.
    BeddedIn,
    /// Sensors in their first 24 hours, the same.
    FirstDay,
}

/// What was logged, ready to be compared.
pub(super) struct Found {
    pub(super) lines: Vec<Line>,
    /// Sensors read, of either side.
    pub(super) sensors: [usize; 2],
    /// Why possible pressure lows were not looked for.
    pub(super) no_pressure: bool,
}

pub(super) struct Line {
    pub(super) what: Logged,
    pub(super) days: LoggedADay,
}

/// What it is looked for in.
pub(super) struct Asked<'a> {
    pub(super) record: &'a Record,
    pub(super) reader: Reader,
    pub(super) recording: &'a Recording<'a>,
    pub(super) episodes: &'a [Episode],
    /// Every automatic reading, and the places of its traces in the record.
    pub(super) series: (&'a Series<'a>, &'a [usize]),
    pub(super) window: (Second, Second),
    /// Places of either side's days.
    pub(super) sides: &'a [Vec<usize>; 2],
}

/// Amounts by kind, one a day, and for which days each kind counts.
struct Table<'a> {
    days: &'a [LivedDay],
    amounts: BTreeMap<Logged, Vec<f64>>,
    counts: BTreeMap<Logged, Vec<f64>>,
}

impl Table<'_> {
    fn day(&self, at: Second) -> Option<usize> {
        let place = self.days.partition_point(|day| day.to <= at);
        self.days.get(place).filter(|day| day.from <= at).map(|_| place)
    }

    fn add_at(&mut self, what: Logged, at: Second, amount: f64) {
        if let Some(day) = self.day(at) {
            self.add(what, day, amount);
        }
    }

    fn add(&mut self, what: Logged, day: usize, amount: f64) {
        let days = self.days.len();
        self.amounts.entry(what).or_insert_with(|| vec![0.0; days])[day] += amount;
    }

    /// Adds so much a second to each day a span lies on.
    fn add_span(&mut self, what: &Logged, (from, to): (Second, Second), a_second: f64) {
        let mut place = self.days.partition_point(|day| day.to <= from);
        while let Some(day) = self.days.get(place).filter(|day| day.from < to) {
            let seconds = day.to.min(to) - day.from.max(from);
            self.add(what.clone(), place, a_second * seconds as f64);
            place += 1;
        }
    }

    /// A kind counts on these days.
    fn over(&mut self, whats: &[Logged], is_counted: &[bool]) {
        let counts: Vec<f64> = is_counted.iter().map(|&is| f64::from(u8::from(is))).collect();
        for what in whats {
            self.counts.insert(what.clone(), counts.clone());
        }
    }

    fn any(&self, whats: &[Logged]) -> Vec<bool> {
        let of = |day: usize| {
            let amounts = whats.iter().filter_map(|what| self.amounts.get(what));
            amounts.clone().any(|amounts| amounts[day] > 0.0)
        };
        (0..self.days.len()).map(of).collect()
    }
}

const INSULIN: [Logged; 5] = [
    Logged::RapidInsulin,
    Logged::LongInsulin,
    Logged::OtherInsulin,
    Logged::BasalInsulin,
    Logged::Doses,
];

/// All of it, in the order it is told in.
pub(super) fn all(asked: &Asked<'_>) -> Found {
    let mut table = Table {
        days: asked.recording.days(),
        amounts: BTreeMap::new(),
        counts: BTreeMap::new(),
    };
    let no_pressure = add_diary(&mut table, asked);
    let sensors = add_sensors(&mut table, asked);
    table.counts.retain(|what, _| table.amounts.contains_key(what));
    let worth = |what: &Logged, amounts: &[f64], counts: &[f64]| {
        let of = |side: &Vec<usize>| {
            let sum = |all: &[f64]| side.iter().map(|&day| all[day]).sum::<f64>();
            sum(amounts) / sum(counts).max(1.0)
        };
        !matches!(what, Logged::Place(_) | Logged::Lot(_))
            || asked.sides.iter().any(|side| of(side) >= SHARE_WORTH_TELLING)
    };
    let lines = table.amounts.into_iter().filter_map(|(what, amounts)| {
        let counts = table.counts.remove(&what)?;
        worth(&what, &amounts, &counts).then(|| Line {
            days: LoggedADay {
                scale: scale(&what),
                is_sampled: !is_of_sensors(&what),
                days: amounts.into_iter().zip(counts).collect(),
            },
            what,
        })
    });
    Found {
        lines: lines.collect(),
        sensors,
        no_pressure,
    }
}

/// Whether it is about which sensor was worn.
fn is_of_sensors(what: &Logged) -> bool {
    matches!(
        what,
        Logged::Place(_) | Logged::Lot(_) | Logged::BeddedIn | Logged::FirstDay
    )
}

fn scale(what: &Logged) -> f64 {
    match what {
        Logged::LowsTreated | Logged::PressureLows => 7.0,
        what if is_of_sensors(what) => 100.0,
        _ => 1.0,
    }
}

/// Whether possible pressure lows were left alone.
fn add_diary(table: &mut Table<'_>, asked: &Asked<'_>) -> bool {
    let record = asked.record;
    add_insulin(table, record);
    add_marks(table, record);
    for meal in record.meals.iter().map(|kept| &kept.it) {
        table.add_at(Logged::Carbohydrate, meal.at, meal.carbohydrate_g.unwrap_or(0.0));
    }
    for check in record.blood_checks.iter().map(|kept| &kept.it) {
        table.add_at(Logged::BloodChecks, check.at, 1.0);
    }
    let days = asked.recording.days();
    for (place, day) in days.iter().enumerate() {
        let read = asked.recording.course(day.from, day.to).count();
        table.add(Logged::Readings, place, read as f64);
    }
    let no_pressure = add_by_swings(table, asked);
    let dosed = table.any(&INSULIN);
    let fed = table.any(&[Logged::Meals, Logged::LowsTreated]);
    let slept = table.any(&[Logged::Sleep]);
    let moved = table.any(&[Logged::Activity]);
    let kept: Vec<bool> = (0..days.len())
        .map(|day| dosed[day] || fed[day] || slept[day] || moved[day])
        .collect();
    table.over(&INSULIN, &dosed);
    table.over(&[Logged::Corrections], &dosed);
    table.over(&[Logged::Carbohydrate, Logged::Meals, Logged::LowsTreated], &fed);
    table.over(&[Logged::Sleep], &slept);
    table.over(&[Logged::Activity], &kept);
    table.over(
        &[Logged::Readings, Logged::BloodChecks, Logged::PressureLows],
        &vec![true; days.len()],
    );
    no_pressure
}

fn add_insulin(table: &mut Table<'_>, record: &Record) {
    let mut basal: Vec<(Second, f64)> = Vec::new();
    for dose in record.doses.iter().map(|kept| &kept.it) {
        let what = match dose.insulin {
            InsulinKind::Rapid | InsulinKind::Short => Logged::RapidInsulin,
            InsulinKind::Intermediate | InsulinKind::Long => Logged::LongInsulin,
            InsulinKind::Mixed | InsulinKind::Unsaid => Logged::OtherInsulin,
        };
        if dose.delivery == Delivery::BasalRate {
            basal.push((dose.at, dose.units));
        } else {
            if what == Logged::RapidInsulin && dose.units > 0.0 {
                table.add_at(Logged::Doses, dose.at, 1.0);
            }
            table.add_at(what, dose.at, dose.units);
        }
    }
    for (place, &(at, an_hour)) in basal.iter().enumerate() {
        let next = basal.get(place + 1).map_or(Second::MAX, |next| next.0);
        let span = (at, next.min(at + BASAL_AT_MOST_S));
        table.add_span(&Logged::BasalInsulin, span, an_hour / 3600.0);
    }
}

fn add_marks(table: &mut Table<'_>, record: &Record) {
    for mark in record.marks.iter().map(|kept| &kept.it) {
        let Some(until) = mark.until.filter(|until| until - mark.at <= DAY_S) else {
            continue;
        };
        match mark.kind {
            MarkKind::Activity => table.add_span(&Logged::Activity, (mark.at, until), 1.0 / 60.0),
            MarkKind::Sleep => table.add_span(&Logged::Sleep, (mark.at, until), 1.0 / 3600.0),
            _ => {}
        }
    }
}

/// What takes the rules of swings: what doses and bites were for; and possible pressure lows. Answers whether these were left alone.
fn add_by_swings(table: &mut Table<'_>, asked: &Asked<'_>) -> bool {
    let (from, to) = asked.window;
    let taken = doses(asked.record, from - DAY_S, to);
    let eaten = carbs(asked.record, from - DAY_S, to);
    let checked = with_checked_lows(asked.record, asked.episodes, asked.reader, asked.window);
    let diary = Diary {
        recording: asked.recording,
        episodes: &checked,
        doses: &taken,
        carbs: &eaten,
        pressed: &[],
        own: asked.reader.insulin.into(),
    };
    let roles = Roles::of(&diary);
    for (dose, role) in taken.iter().zip(&roles.doses) {
        if *role == DoseFor::Correction {
            table.add_at(Logged::Corrections, dose.at, 1.0);
        }
    }
    for (bite, role) in eaten.iter().zip(&roles.carbs) {
        let what = match role {
            CarbsFor::Low => Logged::LowsTreated,
            CarbsFor::Meal => Logged::Meals,
        };
        table.add_at(what, bite.at, 1.0);
    }
    let in_sides: BTreeSet<usize> = asked.sides.iter().flatten().copied().collect();
    if in_sides.len() as i64 > LATEST_DAYS {
        return true;
    }
    let low = |episode: &&Episode| episode.kind == EpisodeKind::Low;
    let lows: Vec<(Second, Second)> = asked
        .episodes
        .iter()
        .filter(low)
        .filter(|low| table.day(low.start).is_some_and(|day| in_sides.contains(&day)))
        .map(|low| (low.start, low.end.max(low.start + 1)))
        .collect();
    let pressed = pressure_touching(asked.record, asked.reader.night, &lows, asked.window);
    table
        .amounts
        .insert(Logged::PressureLows, vec![0.0; table.days.len()]);
    for stretch in &pressed.stretches {
        let touches = |low: &(Second, Second)| low.0 < stretch.to && low.1 > stretch.from;
        if lows.iter().any(touches) {
            table.add_at(Logged::PressureLows, stretch.from, 1.0);
        }
    }
    false
}

/// Which sensors were read, second by second; answers how many stand behind either side.
fn add_sensors(table: &mut Table<'_>, asked: &Asked<'_>) -> [usize; 2] {
    let (series, automatic) = asked.series;
    let worn = wears(asked.record);
    let mut of_trace: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (place, wear) in worn.iter().enumerate() {
        of_trace.entry(wear.trace).or_default().push(place);
    }
    let (mut seen, mut known) = (
        [BTreeSet::new(), BTreeSet::new()],
        [0_usize; 4].map(|_| vec![0.0; table.days.len()]),
    );
    let (from, to) = asked.window;
    for (i, segment) in series.segments().iter().enumerate() {
        let end = series
            .segments()
            .get(i + 1)
            .map_or(series.len(), |next| next.start);
        let at = &series.at()[segment.start..end];
        let first = at.partition_point(|&at| Second::from(at) < from);
        let last = at.partition_point(|&at| Second::from(at) < to);
        let Some(of) = of_trace.get(&automatic[segment.trace]) else {
            continue;
        };
        for &at in &at[first..last.max(first)] {
            let at = Second::from(at);
            let is_its = |place: &&usize| (worn[**place].span.0..=worn[**place].span.1).contains(&at);
            let (Some(&place), Some(day)) = (of.iter().find(is_its), table.day(at)) else {
                continue;
            };
            for (side, seen) in asked.sides.iter().zip(&mut seen) {
                if side.binary_search(&day).is_ok() {
                    seen.insert(place);
                }
            }
            let seconds = f64::from(segment.interval_s);
            for (place, what) in of_sensor(&worn[place], at).into_iter().enumerate() {
                let Some(what) = what else { continue };
                known[place][day] += seconds;
                let (what, amount) = match what {
                    Is(what) => (what, seconds),
                    IsNot(what) => (what, 0.0),
                };
                table.add(what, day, amount);
            }
        }
    }
    let names: Vec<Logged> = table.amounts.keys().cloned().collect();
    for what in names {
        let place = match what {
            Logged::Place(_) => 0,
            Logged::Lot(_) => 1,
            Logged::BeddedIn => 2,
            Logged::FirstDay => 3,
            _ => continue,
        };
        table.counts.insert(what, known[place].clone());
    }
    seen.map(|seen| seen.len())
}

/// Whether a second is one of a kind, where that is known.
enum Told {
    Is(Logged),
    IsNot(Logged),
}
use Told::{Is, IsNot};

/// Place, lot, bedding in, first day; `None` where it is not known.
fn of_sensor(wear: &SensorWear, at: Second) -> [Option<Told>; 4] {
    let told = |is: bool, what: Logged| if is { Is(what) } else { IsNot(what) };
    [
        wear.site.clone().map(|site| Is(Logged::Place(site))),
        wear.worn.detail.lot.clone().map(|lot| Is(Logged::Lot(lot))),
        wear.worn
            .bedding_in_h()
            .map(|hours| told(hours >= BEDDED_FROM_H, Logged::BeddedIn)),
        wear.started
            .map(|started| told(at < started + DAY_S, Logged::FirstDay)),
    ]
}

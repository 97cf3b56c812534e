//! The findings as they are shown and written.

use interstice_book::Record;
use interstice_glucose::{Second, Unit, counted};
use interstice_methods::compare::{Compared, Comparison, Measured};
use interstice_methods::{LivedDay, Refusal, Targets};
use serde::{Serialize, Serializer};

use super::logged::{Found, Logged};
use super::sides::Sides;
use super::{CompareAsk, block_days};
use crate::account::Reader;
use crate::figure::Time;
use crate::states::{KnownBy, KnownState};

/// Everything the page, the text and `compare --json` show.
#[derive(Clone, Debug, Serialize)]
pub struct CompareFindings {
    /// Unit the wearer reads; the numbers below are in mg/dL all the same.
    #[serde(serialize_with = "symbol")]
    pub unit: Unit,
    /// How the kind of day is known; absent of two windows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub known_by: Option<KnownBy>,
    /// Whether readings that count as pressed or are marked as artefacts were left out.
    pub without_artefacts: bool,
    /// The former days, or those without.
    pub before: SideLine,
    /// The latter days, or those of the kind.
    pub after: SideLine,
    /// The figures; empty where there is too little of either.
    pub figures: Vec<ComparedLine>,
    /// What else was different, or was not.
    pub also: Vec<ComparedLine>,
    /// Differences asked about at once.
    pub asked: usize,
    /// Of these, such as stand with all the others allowed for.
    pub stand: usize,
    /// Why nothing is told; absent where something is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Kinds of days the book knows.
    pub known: Vec<KnownState>,
    /// Edges of the ranges.
    #[serde(skip)]
    pub targets: Targets,
    /// Seed of the intervals.
    pub seed: u64,
    /// Mean length of the blocks of days resampled, of the former and the latter.
    pub block_days: [f64; 2],
    /// What a reader must know.
    pub notes: Vec<String>,
}

fn symbol<S: Serializer>(unit: &Unit, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(unit.symbol())
}

/// One set of days.
#[derive(Clone, Debug, Serialize)]
pub struct SideLine {
    /// Its kind of day; `None` of a window, and of days without the other's kind.
    pub name: Option<String>,
    /// First instant of its first day.
    pub from: Time,
    /// First instant after its last.
    pub to: Time,
    /// Days.
    pub days: usize,
    /// Days with readings.
    pub days_with_data: u32,
    /// Readings.
    pub received: u64,
    /// Time read, percent.
    pub active_percent: Option<f64>,
    /// Whether there is enough by the consensus.
    pub enough: bool,
    /// What is missing; `None` where there is enough.
    pub reason: Option<String>,
    /// Sensors that were read.
    pub sensors: usize,
}

/// What a line is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// A figure of the readings.
    Figure(Measured),
    /// Something logged.
    Logged(Logged),
}

impl What {
    /// Its name in `--json`, with its unit.
    pub fn name(&self) -> &'static str {
        match self {
            What::Figure(which) => figure_name(*which),
            What::Logged(what) => logged_name(what),
        }
    }

    /// The place on the body or the lot, where it is about one.
    pub fn of(&self) -> Option<&str> {
        match self {
            What::Logged(Logged::Place(name) | Logged::Lot(name)) => Some(name),
            _ => None,
        }
    }
}

fn figure_name(which: Measured) -> &'static str {
    match which {
        Measured::InRange => "in_range_percent",
        Measured::Tight => "tight_range_percent",
        Measured::Below => "below_percent",
        Measured::VeryLow => "very_low_percent",
        Measured::Above => "above_percent",
        Measured::VeryHigh => "very_high_percent",
        Measured::Mean => "mean_mg_dl",
        Measured::Sd => "sd_mg_dl",
        Measured::Cv => "cv_percent",
        Measured::Gmi => "gmi_percent",
        Measured::Lows => "lows_per_week",
        Measured::DeepLows => "level_2_lows_per_week",
        Measured::Highs => "highs_per_week",
        Measured::NightMean => "night_mean_mg_dl",
        Measured::NightInRange => "night_in_range_percent",
        Measured::NightBelow => "night_below_percent",
    }
}

fn logged_name(what: &Logged) -> &'static str {
    match what {
        Logged::RapidInsulin => "rapid_insulin_units_per_day",
        Logged::LongInsulin => "long_insulin_units_per_day",
        Logged::OtherInsulin => "other_insulin_units_per_day",
        Logged::BasalInsulin => "pump_basal_units_per_day",
        Logged::Doses => "rapid_doses_per_day",
        Logged::Corrections => "corrections_per_day",
        Logged::Carbohydrate => "carbohydrate_g_per_day",
        Logged::Meals => "meals_per_day",
        Logged::LowsTreated => "eaten_against_lows_per_week",
        Logged::Activity => "activity_min_per_day",
        Logged::Sleep => "sleep_hours_per_day",
        Logged::Readings => "readings_per_day",
        Logged::BloodChecks => "blood_checks_per_day",
        Logged::PressureLows => "possible_pressure_lows_per_week",
        Logged::Place(_) => "place_percent_of_time",
        Logged::Lot(_) => "lot_percent_of_time",
        Logged::BeddedIn => "bedded_in_percent_of_time",
        Logged::FirstDay => "first_day_percent_of_time",
    }
}

/// One figure of both.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ComparedLine {
    /// Which.
    #[serde(serialize_with = "named")]
    pub what: What,
    /// The place on the body or the lot it is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of: Option<String>,
    /// Of the former days.
    pub before: Option<f64>,
    /// Of the latter.
    pub after: Option<f64>,
    /// The latter less the former.
    pub difference: Option<f64>,
    /// 95 %, lower end.
    pub difference_lo95: Option<f64>,
    /// 95 %, upper end.
    pub difference_hi95: Option<f64>,
    /// How often chance would bring as much, everything compared allowed for.
    pub p_all_allowed_for: Option<f64>,
    /// Days behind the former.
    pub days_before: u32,
    /// Days behind the latter.
    pub days_after: u32,
    /// Why there is no difference, or no interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub difference_reason: Option<String>,
}

fn named<S: Serializer>(what: &What, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(what.name())
}

impl ComparedLine {
    fn of(what: What, found: &Compared) -> Self {
        let interval = found.interval.ok();
        let reason = match (&found.difference, &found.interval) {
            (Err(why), _) => Some(why.to_string()),
            (_, Err(Refusal::NotSampled)) | (_, Ok(_)) => None,
            (_, Err(why)) => Some(format!("no interval: {why}")),
        };
        ComparedLine {
            of: what.of().map(str::to_owned),
            what,
            before: found.before,
            after: found.after,
            difference: found.difference.ok(),
            difference_lo95: interval.map(|interval| interval.lo),
            difference_hi95: interval.map(|interval| interval.hi),
            p_all_allowed_for: found.p,
            days_before: found.days[0],
            days_after: found.days[1],
            difference_reason: reason,
        }
    }

    /// Whether its own interval leaves zero out: 1 above it, -1 below, 0 where it holds zero or is none.
    pub fn leaves_zero(&self) -> i8 {
        match (self.difference_lo95, self.difference_hi95) {
            (Some(lo), _) if lo > 0.0 => 1,
            (_, Some(hi)) if hi < 0.0 => -1,
            _ => 0,
        }
    }

    /// Whether it differs enough to be named in front: by its own interval, or, of what was worn, by a fifth of the time (ours).
    pub fn is_named(&self) -> bool {
        let of_sensors = self.difference_lo95.is_none() && self.difference_reason.is_none();
        self.leaves_zero() != 0
            || (of_sensors && self.difference.is_some_and(|points| points.abs() >= NAMED_POINTS))
    }

    /// Whether it stands with everything compared allowed for.
    pub fn stands(&self) -> bool {
        self.p_all_allowed_for.is_some_and(|p| p <= STANDS)
    }
}

/// See [`ComparedLine::is_named`].
const NAMED_POINTS: f64 = 20.0;
/// Share of chance findings allowed among the differences that stand.
const STANDS: f64 = interstice_methods::patterns::FALSE_SHARE;

pub(super) struct Of<'a> {
    pub(super) record: &'a Record,
    pub(super) reader: Reader,
    pub(super) ask: &'a CompareAsk,
    pub(super) sides: &'a Sides,
    pub(super) places: &'a [Vec<usize>; 2],
    pub(super) days: &'a [LivedDay],
    pub(super) found: &'a Comparison,
    pub(super) logged: &'a Found,
    /// Stretches marked as not to be believed that count all the same.
    pub(super) marked: usize,
    pub(super) known: Vec<KnownState>,
}

pub(super) fn told(of: &Of<'_>) -> CompareFindings {
    let [before, after] = [0, 1].map(|side| side_line(of, side));
    let figures = Measured::ALL.iter().zip(&of.found.figures);
    let figures: Vec<ComparedLine> = figures
        .map(|(&which, found)| ComparedLine::of(What::Figure(which), found))
        .collect();
    let also = of.logged.lines.iter().zip(&of.found.logged);
    let also: Vec<ComparedLine> = also
        .map(|(line, found)| ComparedLine::of(What::Logged(line.what.clone()), found))
        .collect();
    let both = || figures.iter().chain(&also);
    CompareFindings {
        unit: of.reader.unit,
        known_by: of.sides.known_by,
        without_artefacts: of.ask.exclude_pressure,
        asked: both().filter(|line| line.p_all_allowed_for.is_some()).count(),
        stand: both().filter(|line| line.stands()).count(),
        reason: figures
            .is_empty()
            .then(|| too_little(&before, &after, of.sides.known_by.is_some())),
        known: of.known.clone(),
        targets: of.reader.group.targets(),
        seed: of.ask.seed,
        block_days: [&before, &after].map(|side| block_days(side.days_with_data.max(1))),
        notes: notes(of),
        before,
        after,
        figures,
        also,
    }
}

fn side_line(of: &Of<'_>, side: usize) -> SideLine {
    let places = &of.places[side];
    let time = |at: Second| Time(of.record.clock.moment(at));
    let ends = places.first().zip(places.last());
    let ends = ends.map_or((0, 0), |(&first, &last)| (of.days[first].from, of.days[last].to));
    let enough = &of.found.sufficiency[side];
    SideLine {
        name: of.sides.names[side].clone(),
        from: time(ends.0),
        to: time(ends.1),
        days: places.len(),
        days_with_data: enough.days_with_data,
        received: enough.received,
        active_percent: enough.active_percent,
        enough: enough.verdict.is_ok(),
        reason: enough.verdict.err().map(|why| why.to_string()),
        sensors: of.logged.sensors[side],
    }
}

/// Which side has too little, and what is missing.
fn too_little(before: &SideLine, after: &SideLine, is_kind: bool) -> String {
    let said = |side: &SideLine, else_called: &str| {
        let name = side
            .name
            .as_ref()
            .map_or_else(|| else_called.to_owned(), |name| format!("days with '{name}'"));
        side.reason.as_ref().map(|reason| format!("{name}: {reason}"))
    };
    let other = if is_kind {
        "the other days"
    } else {
        "the former days"
    };
    let sides = [said(before, other), said(after, "the latter days")];
    let sides: Vec<String> = sides.into_iter().flatten().collect();
    sides.join("; ")
}

fn notes(of: &Of<'_>) -> Vec<String> {
    let mut notes = Vec::new();
    if of.sides.in_both > 0 {
        notes.push(format!(
            "{} of both kinds; they stand on neither side.",
            counted(of.sides.in_both as u64, "day is", "days are")
        ));
    }
    if of.marked > 0 {
        notes.push(format!(
            "{} marked as not to be believed and counted all the same; the switch leaves them out.",
            counted(of.marked as u64, "stretch is", "stretches are")
        ));
    }
    if of.logged.no_pressure {
        notes.push(format!(
            "Possible pressure lows are only looked for in up to {} days.",
            super::LATEST_DAYS
        ));
    }
    if of.record.conflicts > 0 {
        notes.push(format!(
            "{} came in twice with different values; the first value stands.",
            counted(of.record.conflicts, "reading", "readings")
        ));
    }
    notes
}

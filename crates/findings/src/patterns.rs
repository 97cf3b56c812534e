//! What comes again: by the clock, after activity and the like, towards morning.

use interstice_book::Record;
use interstice_glucose::{DAY_S, MarkKind, Second};
use interstice_methods::patterns::{
    self as method, AfterAsked, Dawn, FEWEST_NIGHTS, Grid, Pattern, PatternEvent, adjusted,
};
use interstice_methods::{Recording, is_weekend};
use serde::Serialize;

use crate::states::tags;

/// Patterns of a window.
#[derive(Clone, Debug, Default, Serialize)]
pub struct PatternsFindings {
    /// Those that stand, surest first.
    pub patterns: Vec<PatternLine>,
    /// Questions asked for them.
    pub patterns_asked: u32,
    /// Days looked at.
    pub patterns_days: usize,
    /// After activity, alcohol, illness: each with enough to ask.
    pub after: Vec<AfterLine>,
    /// The rise towards morning.
    pub dawn: DawnLine,
}

/// Something that comes again at a clock time.
#[derive(Clone, Debug, Serialize)]
pub struct PatternLine {
    /// What.
    pub event: EventName,
    /// On which days: `all`, `weekdays`, `weekends`, or the wearer's own tag.
    pub days_kind: String,
    /// Minute of the clock the window begins.
    pub from_minute: u32,
    /// Its length, minutes.
    pub minutes: u32,
    /// Days with it there …
    pub days_with: u32,
    /// … of so many on which the window was read.
    pub days: u32,
    /// Percent of days it would be in a window anywhere in them.
    pub base_percent: f64,
    /// Percent in the earlier half of the days.
    pub earlier_percent: f64,
    /// Percent in the later.
    pub later_percent: f64,
    /// How often chance would bring as much, everything asked allowed for.
    pub p: f64,
}

/// What comes again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum EventName {
    /// A reading below the target range.
    Low,
    /// At least half of the window above it.
    High,
    /// A rise of 54 mg/dL within an hour.
    Rise,
    /// A fall of 54 mg/dL within an hour.
    Fall,
}

impl From<PatternEvent> for EventName {
    fn from(event: PatternEvent) -> Self {
        match event {
            PatternEvent::Low => EventName::Low,
            PatternEvent::High => EventName::High,
            PatternEvent::Rise => EventName::Rise,
            PatternEvent::Fall => EventName::Fall,
        }
    }
}

/// Something after something.
#[derive(Clone, Debug, Serialize)]
pub struct AfterLine {
    /// After what: `activity`, `alcohol`, `illness`.
    pub what: &'static str,
    /// What was looked for.
    pub event: EventName,
    /// Hours after its end, from …
    pub from_hours: f64,
    /// … to.
    pub to_hours: f64,
    /// Times it came …
    pub with: u32,
    /// … of so many.
    pub times: u32,
    /// Times expected by the same hours of other days.
    pub expected: f64,
    /// How often chance would bring as much, these questions allowed for.
    pub p: f64,
}

/// The rise towards morning.
#[derive(Clone, Debug, Default, Serialize)]
pub struct DawnLine {
    /// Nights behind it.
    pub nights: u32,
    /// Nights left out, by reason.
    pub no_breakfast: u32,
    /// A low, something eaten, or a stretch not to be believed.
    pub low_food_or_pressure: u32,
    /// A dose in the night.
    pub dose: u32,
    /// Readings missing.
    pub unread: u32,
    /// Median, mg/dL.
    pub rise_mg_dl: Option<f64>,
    /// Lower quartile.
    pub rise_mg_dl_p25: Option<f64>,
    /// Upper quartile.
    pub rise_mg_dl_p75: Option<f64>,
    /// Percent of nights with 20 mg/dL or more.
    pub marked_percent: Option<f64>,
    /// 95 %, exact.
    pub marked_percent_lo95: Option<f64>,
    /// 95 %.
    pub marked_percent_hi95: Option<f64>,
    /// Why there is no figure.
    pub reason: Option<String>,
}

/// What may come again after something, and how its marks are known.
struct Ask {
    what: &'static str,
    event: PatternEvent,
    /// Quarters of an hour.
    from: usize,
    to: usize,
}

/// 0–2 and 4–16 h after activity (docs/methods/patterns.md); the others are ours.
const ASKS: [Ask; 4] = [
    Ask {
        what: "activity",
        event: PatternEvent::Low,
        from: 0,
        to: 8,
    },
    Ask {
        what: "activity",
        event: PatternEvent::Low,
        from: 16,
        to: 64,
    },
    Ask {
        what: "alcohol",
        event: PatternEvent::Low,
        from: 0,
        to: 48,
    },
    Ask {
        what: "illness",
        event: PatternEvent::High,
        from: 0,
        to: 96,
    },
];

/// Beginnings of words for drinks with alcohol, in the languages the importer reads.
const ALCOHOL: [&str; 16] = [
    "alcohol", "alkohol", "alcool", "álcool", "wine", "wein", "vin", "vino", "vinho", "wijn", "beer", "bier",
    "bière", "cerveza", "cerveja", "birra",
];

/// Patterns of a window.
pub(crate) fn patterns(
    record: &Record,
    recording: &Recording<'_>,
    doses: &[(Second, f64)],
    aside: &[(Second, Second)],
    (from, to): (Second, Second),
) -> PatternsFindings {
    let grid = Grid::of(recording, aside);
    let tags = tags(record);
    let weekday = |day: i64| !is_weekend(day);
    let tagged: Vec<Box<dyn Fn(i64) -> bool + '_>> = tags
        .values()
        .map(|days| Box::new(move |day: i64| days.contains(&day)) as Box<dyn Fn(i64) -> bool>)
        .collect();
    let mut kinds: Vec<(u32, &dyn Fn(i64) -> bool)> = vec![(0, &weekday), (1, &is_weekend)];
    kinds.extend((2..).zip(tagged.iter().map(|is_kind| &**is_kind)));
    let names: Vec<String> = ["weekdays", "weekends"]
        .into_iter()
        .map(str::to_owned)
        .chain(tags.keys().cloned())
        .collect();
    let found = method::patterns(&grid, &kinds);
    let line = |pattern: &Pattern| pattern_line(pattern, &names);
    let eaten: Vec<Second> = record
        .meals
        .iter()
        .map(|kept| kept.it.at)
        .filter(|at| (from..to).contains(at))
        .collect();
    let taken: Vec<Second> = doses.iter().map(|dose| dose.0).collect();
    PatternsFindings {
        patterns: found.found.iter().map(line).collect(),
        patterns_asked: found.asked,
        patterns_days: grid.days(),
        after: afters(record, &grid, (from, to)),
        dawn: dawn_line(&method::dawn(recording, &eaten, &taken, aside)),
    }
}

fn pattern_line(pattern: &Pattern, names: &[String]) -> PatternLine {
    let kind = pattern.kind.and_then(|kind| names.get(kind as usize).cloned());
    PatternLine {
        event: pattern.event.into(),
        days_kind: kind.unwrap_or_else(|| "all".to_owned()),
        from_minute: pattern.from_min,
        minutes: pattern.minutes,
        days_with: pattern.days_with,
        days: pattern.days,
        base_percent: 100.0 * pattern.base_share,
        earlier_percent: 100.0 * pattern.halves[0],
        later_percent: 100.0 * pattern.halves[1],
        p: pattern.adjusted_p,
    }
}

fn afters(record: &Record, grid: &Grid, (from, to): (Second, Second)) -> Vec<AfterLine> {
    let mut lines: Vec<AfterLine> = Vec::new();
    for ask in ASKS {
        let instants: Vec<(i64, u32)> = ends_of(ask.what, record)
            .into_iter()
            .filter(|at| (from..to).contains(at))
            .map(|at| {
                let wall = record.clock.wall(at);
                (wall.day(), u32::try_from(wall.second_of_day() / 60).unwrap_or(0))
            })
            .collect();
        let asked = AfterAsked {
            event: ask.event,
            from: ask.from,
            to: ask.to,
        };
        lines.extend(method::after(grid, &instants, asked).map(|found| AfterLine {
            what: ask.what,
            event: ask.event.into(),
            from_hours: ask.from as f64 / 4.0,
            to_hours: ask.to as f64 / 4.0,
            with: found.with,
            times: found.times,
            expected: found.expected,
            p: found.p,
        }));
    }
    let p: Vec<f64> = lines.iter().map(|line| line.p).collect();
    for (line, p) in lines.iter_mut().zip(adjusted(&p)) {
        line.p = p;
    }
    lines
}

/// Whether words name a drink with alcohol.
pub(crate) fn is_alcohol(text: Option<&str>) -> bool {
    text.is_some_and(|text| {
        let lower = text.to_lowercase();
        lower.split(|c: char| !c.is_alphabetic()).any(|word| {
            ALCOHOL
                .iter()
                .any(|start| word == *start || word.strip_suffix('s') == Some(start))
        })
    })
}

/// Instants at which something ended.
fn ends_of(what: &str, record: &Record) -> Vec<Second> {
    let marks = record.marks.iter().map(|kept| &kept.it);
    let alcohol = |text: &Option<String>| is_alcohol(text.as_deref());
    match what {
        "activity" => marks
            .filter(|mark| mark.kind == MarkKind::Activity)
            .map(|mark| mark.until.unwrap_or(mark.at))
            .collect(),
        "illness" => marks
            .filter(|mark| mark.kind == MarkKind::Illness)
            .map(|mark| mark.at)
            .collect(),
        _ => {
            let drunk = marks.filter(|mark| mark.kind == MarkKind::Drink && alcohol(&mark.text));
            let eaten = record.meals.iter().map(|kept| &kept.it);
            let eaten = eaten.filter(|meal| alcohol(&meal.text)).map(|meal| meal.at);
            let mut all: Vec<Second> = drunk.map(|mark| mark.at).chain(eaten).collect();
            all.sort_unstable();
            // One evening is one time.
            all.dedup_by(|later, first| *later - *first < DAY_S / 2);
            all
        }
    }
}

fn dawn_line(dawn: &Dawn) -> DawnLine {
    let rise = |place: usize| dawn.rise_mg_dl.map(|rise| rise[place]);
    DawnLine {
        nights: dawn.nights,
        no_breakfast: dawn.excluded.no_breakfast,
        low_food_or_pressure: dawn.excluded.low_food_or_pressure,
        dose: dawn.excluded.dose,
        unread: dawn.excluded.unread,
        rise_mg_dl: rise(1),
        rise_mg_dl_p25: rise(0),
        rise_mg_dl_p75: rise(2),
        marked_percent: dawn.share.map(|share| 100.0 * share),
        marked_percent_lo95: dawn.share_interval.map(|interval| 100.0 * interval.lo),
        marked_percent_hi95: dawn.share_interval.map(|interval| 100.0 * interval.hi),
        reason: dawn
            .rise_mg_dl
            .is_none()
            .then(|| format!("{} of the {FEWEST_NIGHTS} nights it takes", dawn.nights)),
    }
}

//! What makes a sensor good or bad for this person, by what the book knows of it.

use std::collections::BTreeSet;

use interstice_book::{NightHours, Record};
use interstice_methods::agreement::{BEDDING_IN, Bin, Pair, day_of_wear};
use interstice_methods::effects::{
    self, Compared, Differences, Estimate, More, Quality, Question, Standing, Values,
};
use serde::Serialize;

use super::logged;
use super::wears::SensorWear;

/// Days of wear apart: the first, the first week, later.
const DAYS: [&str; 3] = ["first day", "days 2 to 7", "day 8 on"];
const DIRECTIONS: [&str; 3] = ["falling", "steady", "rising"];
const BEDDING: [&str; 3] = ["under 2 h", "2 to 12 h", "12 h or more"];
const SLEPT: [&str; 2] = ["on the other side", "on its side"];
const PRESSED: [&str; 2] = ["apart from it", "within 1 h"];
/// Of five directions, which of the three.
const DIRECTION_OF: [u16; 5] = [0, 0, 1, 2, 2];
/// Confidence of the levels' intervals.
const CONFIDENCE: f64 = 0.95;

/// What makes a sensor good or bad, and what would settle it.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Effects {
    /// Every comparison that was asked.
    pub asked: Vec<EffectLine>,
    /// Sites and lots by their size of error, drawn towards each other as far as the checks ask for it.
    pub levels: Vec<LevelLine>,
}

/// One comparison.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EffectLine {
    /// 'day of wear', 'direction', 'site', 'side', 'lot', 'preparation', 'bedding in', 'water drunk', 'temperature',
    /// 'pressure', 'slept on'.
    pub about: &'static str,
    /// 'signed': does it read high or low; 'size': how far off it is.
    pub of: &'static str,
    /// The level, where there was one to compare.
    pub level: Option<String>,
    /// What it is held against.
    pub beside: Option<String>,
    /// Of what is a number: how much more of it is compared, as 'each litre more, 24 h before'.
    pub step: Option<&'static str>,
    /// Effect, percentage points of the blood value.
    pub points: Option<f64>,
    /// 95 % interval.
    pub points_lo95: Option<f64>,
    /// 95 % interval.
    pub points_hi95: Option<f64>,
    /// How often chance alone would give as much.
    pub p: Option<f64>,
    /// The same, counting everything asked.
    pub q: Option<f64>,
    /// Sensors with the level.
    pub sensors: Option<u64>,
    /// Sensors of what it is held against.
    pub sensors_beside: Option<u64>,
    /// Whether it may be taken as there.
    pub holds: bool,
    /// 'there', 'too_small' to matter, 'among_many' (by itself it would count), 'one_sensor' (one alone makes it), 'open', or
    /// 'untold' where there is no estimate.
    pub standing: &'static str,
    /// About how many more sensors would settle it; 0 if none are needed, `None` where too many or where it cannot be told.
    pub more_sensors: Option<u32>,
    /// Other things asked that mostly went with it.
    pub entangled_with: Vec<&'static str>,
    /// The answer, or why there is none, in words.
    pub says: String,
}

/// One site or lot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LevelLine {
    /// 'site' or 'lot'.
    pub about: &'static str,
    /// Its name.
    pub level: String,
    /// Sensors.
    pub sensors: u64,
    /// Pairs.
    pub pairs: u64,
    /// Plain mean absolute relative difference, percent.
    pub mard_percent: f64,
    /// The same, drawn towards the others: what a new sensor there may be expected to show.
    pub expected_percent: f64,
    /// 95 % credible interval.
    pub expected_percent_lo95: f64,
    /// 95 % credible interval.
    pub expected_percent_hi95: f64,
}

/// What was logged about each pair.
struct Column {
    about: &'static str,
    logged: Logged,
    held_equal: bool,
}

enum Logged {
    /// Levels with their names.
    Levels {
        names: Vec<String>,
        level: Vec<Option<u16>>,
    },
    /// A number, and how much more of it is compared.
    Number {
        value: Vec<Option<f64>>,
        step: f64,
        words: &'static str,
    },
}

impl Column {
    fn question(&self) -> Question<'_> {
        Question {
            values: match &self.logged {
                Logged::Levels { level, .. } => Values::Levels(level),
                Logged::Number { value, step, .. } => Values::Number { value, step: *step },
            },
            held_equal: self.held_equal,
        }
    }

    fn name(&self, level: usize) -> Option<String> {
        match &self.logged {
            Logged::Levels { names, .. } => names.get(level).cloned(),
            Logged::Number { .. } => None,
        }
    }

    fn step(&self) -> Option<&'static str> {
        match self.logged {
            Logged::Levels { .. } => None,
            Logged::Number { words, .. } => Some(words),
        }
    }
}

/// All questions the book can answer.
pub(super) fn effects(
    record: &Record,
    wears: &[SensorWear],
    pairs: &[Pair],
    night: Option<NightHours>,
) -> Effects {
    let mut columns = columns(wears, pairs);
    columns.extend(around(record, wears, pairs, night));
    let sensor: Vec<u32> = pairs
        .iter()
        .map(|pair| u32::try_from(pair.sensor).unwrap_or(u32::MAX))
        .collect();
    let day: Vec<u32> = pairs
        .iter()
        .map(|pair| pair.worn_s.map_or(0, day_of_wear))
        .collect();
    let percent: Vec<f64> = pairs.iter().map(Pair::relative_percent).collect();
    let differences = Differences {
        sensor: &sensor,
        day: &day,
        relative_percent: &percent,
    };
    let questions: Vec<Question<'_>> = columns.iter().map(Column::question).collect();
    let answers = effects::ask(&differences, &questions);
    Effects {
        asked: answers.iter().map(|answer| line(&columns, answer)).collect(),
        levels: levels(&columns, &differences, &questions),
    }
}

fn columns(wears: &[SensorWear], pairs: &[Pair]) -> Vec<Column> {
    let wear = |pair: &Pair| wears.get(pair.sensor);
    let fixed = |about, names: &[&str], held_equal, of: &dyn Fn(&Pair) -> Option<u16>| Column {
        about,
        logged: Logged::Levels {
            names: names.iter().map(|&name| name.to_owned()).collect(),
            level: pairs.iter().map(of).collect(),
        },
        held_equal,
    };
    let named = |about, of: &dyn Fn(&Pair) -> Option<String>| {
        let names: BTreeSet<String> = pairs.iter().filter_map(of).collect();
        let names: Vec<String> = names.into_iter().collect();
        let place = |pair: &Pair| u16::try_from(names.binary_search(&of(pair)?).ok()?).ok();
        Column {
            about,
            logged: Logged::Levels {
                level: pairs.iter().map(place).collect(),
                names,
            },
            held_equal: false,
        }
    };
    let small = |place: usize| u16::try_from(place).ok();
    vec![
        fixed("day of wear", &DAYS, true, &|pair| {
            Some(match day_of_wear(pair.worn_s?) {
                1 => 0,
                2..=7 => 1,
                _ => 2,
            })
        }),
        fixed("direction", &DIRECTIONS, true, &|pair| {
            DIRECTION_OF.get(Bin::direction(pair.rate_mg_dl_min?)?).copied()
        }),
        named("site", &|pair| wear(pair)?.site.clone()),
        named("side", &|pair| wear(pair)?.side()),
        named("lot", &|pair| wear(pair)?.worn.detail.lot.clone()),
        named("preparation", &|pair| wear(pair)?.preparation()),
        fixed("bedding in", &BEDDING, false, &|pair| {
            small(Bin::place(&BEDDING_IN, wear(pair)?.worn.bedding_in_h()?)?)
        }),
    ]
}

/// What was logged around each pair rather than about its sensor.
fn around(record: &Record, wears: &[SensorWear], pairs: &[Pair], night: Option<NightHours>) -> [Column; 4] {
    let number = |about, value, step, words| Column {
        about,
        logged: Logged::Number { value, step, words },
        held_equal: false,
    };
    let yes_or_no = |about, names: [&str; 2], level: Vec<Option<u16>>| Column {
        about,
        logged: Logged::Levels {
            names: names.map(str::to_owned).to_vec(),
            level,
        },
        held_equal: false,
    };
    let pressure = logged::pressure(record, wears, pairs, night);
    let (pressed, own) = (pressure.pressed.into_iter(), pressure.own_side.into_iter());
    [
        number(
            "water drunk",
            logged::litres(record, pairs),
            1.0,
            "each litre more, 24 h before",
        ),
        number(
            "temperature",
            logged::celsius(record, pairs),
            10.0,
            "each 10 °C more",
        ),
        yes_or_no("pressure", PRESSED, pressed.map(|is| Some(is.into())).collect()),
        yes_or_no("slept on", SLEPT, own.map(|is| is.map(u16::from)).collect()),
    ]
}

fn line(columns: &[Column], answer: &effects::Answer) -> EffectLine {
    let column = &columns[answer.question];
    let (level, beside) = match answer.compared {
        Some(Compared::Level { level, reference }) => (column.name(level), column.name(reference)),
        Some(Compared::Step) | None => (None, None),
    };
    let estimate = answer.outcome.as_ref().ok();
    let of = |value: fn(&Estimate) -> f64| estimate.map(value);
    EffectLine {
        about: column.about,
        of: match answer.quality {
            Quality::Signed => "signed",
            Quality::Absolute => "size",
        },
        step: column.step(),
        points: of(|e| e.points),
        points_lo95: of(|e| e.interval.lo),
        points_hi95: of(|e| e.interval.hi),
        p: of(|e| e.p),
        q: of(|e| e.q),
        sensors: estimate.map(|e| e.sensors.0),
        sensors_beside: estimate.map(|e| e.sensors.1),
        holds: estimate.is_some_and(|e| e.holds),
        standing: estimate.map_or("untold", |e| standing(e.standing())),
        more_sensors: estimate.and_then(|e| match e.more {
            More::Nothing => Some(0),
            More::Sensors(count) => Some(count),
            More::TooMany => None,
        }),
        entangled_with: estimate.map_or_else(Vec::new, |e| {
            e.entangled.iter().map(|&other| columns[other].about).collect()
        }),
        says: says(columns, answer),
        level,
        beside,
    }
}

pub(super) fn standing(standing: Standing) -> &'static str {
    match standing {
        Standing::There => "there",
        Standing::TooSmall => "too_small",
        Standing::AmongMany => "among_many",
        Standing::OneSensor => "one_sensor",
        Standing::Open => "open",
    }
}

fn says(columns: &[Column], answer: &effects::Answer) -> String {
    match &answer.outcome {
        Ok(estimate) => {
            let mut words = estimate.sentence(answer.quality);
            if let Some(&other) = estimate.entangled.first() {
                words = format!("{words}; mostly the same sensors as one {}", columns[other].about);
            }
            words
        }
        Err(effects::Untold::Together { with }) => format!(
            "it always came together with the same {}: sensors with one and not the other would tell them apart",
            columns[*with].about
        ),
        Err(effects::Untold::NotLogged { have: 0, need }) => {
            format!("nothing of it was logged beside a check; {need} checks with it are needed")
        }
        Err(why) => why.to_string(),
    }
}

fn levels(columns: &[Column], differences: &Differences<'_>, questions: &[Question<'_>]) -> Vec<LevelLine> {
    let mut lines = Vec::new();
    for (question, column) in columns.iter().enumerate() {
        if !matches!(column.about, "site" | "lot") {
            continue;
        }
        let Ok(found) = effects::levels(differences, questions, question, Quality::Absolute, CONFIDENCE)
        else {
            continue; // The comparison above gives the reason.
        };
        lines.extend(found.iter().filter_map(|level| {
            let shrunken = level.shrunken;
            Some(LevelLine {
                about: column.about,
                level: column.name(shrunken.group as usize)?,
                sensors: shrunken.inner_groups,
                pairs: shrunken.rows,
                mard_percent: shrunken.raw_mean,
                expected_percent: shrunken.level,
                expected_percent_lo95: shrunken.interval.lo,
                expected_percent_hi95: shrunken.interval.hi,
            })
        }));
    }
    lines
}

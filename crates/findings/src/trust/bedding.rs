//! Does bedding in help: the first day of sensors that were worn before their start beside that of those that were not.

use interstice_book::Record;
use interstice_glucose::{Second, counted};
use interstice_methods::Interval;
use interstice_methods::agreement::{
    ALLOWANCES, BEDDING_IN, Bin, ClusterBootstrap, GroupFigures, Pair, day_of_wear,
};
use interstice_methods::effects::{
    self, Compared, Differences, Estimate, More, Quality, Question, Untold, Values,
};
use serde::Serialize;

use super::ask::TrustAsk;
use super::wears::SensorWear;
use super::{GroupLine, answer, breakdown, effects as asked, pairs};

/// Places in [`BEDDING_IN`] of what is compared: none to speak of, and half a day or more.
const WITHOUT: u16 = 0;
const WITH: u16 = 2;

/// The first day with and without bedding in.
#[derive(Clone, Debug, Serialize)]
pub struct BeddingHelps {
    /// First-day checks of sensors worn half a day or more before their start.
    pub with: GroupLine,
    /// First-day checks of sensors worn less than 2 h before it.
    pub without: GroupLine,
    /// Sensors with first-day checks in between, which belong to neither.
    pub sensors_between: u64,
    /// Sensors with first-day checks of which it is not known.
    pub sensors_unknown: u64,
    /// How much further from blood the first day is with it, percentage points; nearer where negative.
    pub points: Option<f64>,
    /// 95 % interval.
    pub points_lo95: Option<f64>,
    /// 95 % interval.
    pub points_hi95: Option<f64>,
    /// How often chance alone would give as much.
    pub p: Option<f64>,
    /// As [`super::EffectLine::standing`].
    pub standing: &'static str,
    /// About how many more sensors would settle it; 0 if none are needed, `None` where too many or where it cannot be told.
    pub more_sensors: Option<u32>,
    /// The answer, or why there is none, in words.
    pub says: String,
}

/// Over the first days until a moment. One road with the effects of the Trust page: the same mixed model, of first days alone.
pub(crate) fn bedding_helps(record: &Record, now: Second) -> BeddingHelps {
    let (wears, all) = pairs::paired_checks(record);
    let first_day =
        |pair: &&Pair| pair.at <= now && pair.worn_s.is_some_and(|worn_s| day_of_wear(worn_s) == 1);
    let pairs: Vec<Pair> = all.iter().filter(first_day).copied().collect();
    let levels: Vec<Option<u16>> = pairs.iter().map(|pair| level(&wears[pair.sensor])).collect();
    let line = |key: &str, level: u16| {
        let own: Vec<Pair> = of(&pairs, &levels, Some(level)).copied().collect();
        let allowance = answer::allowance(&TrustAsk::default(), ALLOWANCES[0]);
        let bootstrap = ClusterBootstrap::seeded(TrustAsk::default().seed);
        breakdown::line(key, &GroupFigures::of(&own, allowance, bootstrap), allowance)
    };
    let sensors_of = |level| sensors(of(&pairs, &levels, level));
    let mut told = BeddingHelps {
        with: line("12_h_or_more", WITH),
        without: line("under_2_h", WITHOUT),
        sensors_between: sensors_of(Some(1)),
        sensors_unknown: sensors_of(None),
        points: None,
        points_lo95: None,
        points_hi95: None,
        p: None,
        standing: "untold",
        more_sensors: None,
        says: String::new(),
    };
    match compared(&pairs, &levels) {
        Ok(estimate) => told.take(&estimate),
        Err(why) => {
            told.says = format!(
                "whether bedding in helps cannot be told yet: {} half a day or more before the start and {} without have first-day checks ({why})",
                counted(told.with.sensors, "sensor worn", "sensors worn"),
                told.without.sensors
            );
        }
    }
    told
}

impl BeddingHelps {
    fn take(&mut self, estimate: &Estimate) {
        self.points = Some(estimate.points);
        self.points_lo95 = Some(estimate.interval.lo);
        self.points_hi95 = Some(estimate.interval.hi);
        self.p = Some(estimate.p);
        self.standing = asked::standing(estimate.standing());
        self.more_sensors = match estimate.more {
            More::Nothing => Some(0),
            More::Sensors(count) => Some(count),
            More::TooMany => None,
        };
        self.says = format!(
            "the first day with half a day or more of bedding in, beside none: {}",
            estimate.sentence(Quality::Absolute)
        );
    }
}

fn level(wear: &SensorWear) -> Option<u16> {
    let place = Bin::place(&BEDDING_IN, wear.worn.bedding_in_h()?)?;
    u16::try_from(place).ok()
}

fn of<'a>(
    pairs: &'a [Pair],
    levels: &'a [Option<u16>],
    level: Option<u16>,
) -> impl Iterator<Item = &'a Pair> {
    pairs
        .iter()
        .zip(levels)
        .filter(move |(_, own)| **own == level)
        .map(|(pair, _)| pair)
}

fn sensors<'a>(pairs: impl Iterator<Item = &'a Pair>) -> u64 {
    let mut sensors: Vec<usize> = pairs.map(|pair| pair.sensor).collect();
    sensors.sort_unstable();
    sensors.dedup();
    sensors.len() as u64
}

/// With less without.
fn compared(pairs: &[Pair], levels: &[Option<u16>]) -> Result<Estimate, Untold> {
    let asked: Vec<Option<u16>> = levels
        .iter()
        .map(|level| match *level {
            Some(WITHOUT) => Some(0),
            Some(WITH) => Some(1),
            _ => None,
        })
        .collect();
    let sensor: Vec<u32> = pairs
        .iter()
        .map(|pair| u32::try_from(pair.sensor).unwrap_or(u32::MAX))
        .collect();
    let percent: Vec<f64> = pairs.iter().map(Pair::relative_percent).collect();
    let differences = Differences {
        sensor: &sensor,
        day: &vec![1; pairs.len()],
        relative_percent: &percent,
    };
    let question = Question {
        values: Values::Levels(&asked),
        held_equal: false,
    };
    let answer = effects::ask(&differences, &[question])
        .into_iter()
        .find(|answer| answer.quality == Quality::Absolute)
        .ok_or(Untold::OneLevel)?;
    let estimate = answer.outcome?;
    let turned = matches!(answer.compared, Some(Compared::Level { reference: 1, .. }));
    Ok(if turned { turn(estimate) } else { estimate })
}

/// The same told the other way round.
fn turn(estimate: Estimate) -> Estimate {
    Estimate {
        points: -estimate.points,
        interval: Interval {
            lo: -estimate.interval.hi,
            hi: -estimate.interval.lo,
        },
        sensors: (estimate.sensors.1, estimate.sensors.0),
        checks: (estimate.checks.1, estimate.checks.0),
        ..estimate
    }
}

//! How many sensors and blood checks a trial takes, from what the person's own sensors differ by, and what keeps one from
//! beginning.

use interstice_book::{Book, Record};
use interstice_glucose::{Arm, Second, SensorKind, Trial, TrialOutcome, counted};
use interstice_methods::mixed::{Bounds, Nested};
use interstice_methods::trial::{self, Look, MOST_P, MOST_P_AFTER_LOOK, MOST_P_AT_LOOK, Promise};
use serde::Serialize;

use super::measure::{self, Measures};
use super::{Beside, trials};
use crate::FindingsError;
use crate::wear::{Settled, Worn, worn};

/// Fewest sensors with two checks or more, or with known hours, from which it can be said how sensors differ. Ours: below, the
/// spread itself is off by half and more.
const FEWEST_SENSORS: usize = 4;
/// How often a wished difference should be found.
const POWER: f64 = 0.8;
/// Simulated trials a cell of the table: known to about two points.
const RUNS: u32 = 500;
/// Blocks of the table's lines.
const BLOCKS: [u32; 6] = [1, 2, 3, 4, 6, 8];
/// Steps of a trial so long that its block is the usual one.
const MANY: u32 = 8;
/// Blood checks of its columns.
const CHECKS: [u32; 4] = [2, 4, 6, 10];

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SizeAsk {
    /// Ways compared.
    pub arms: u32,
    /// Sensors of a block; as many as suit the size where none is asked for.
    pub block: Option<u32>,
    /// What is measured.
    pub outcome: TrialOutcome,
    /// The difference that should be found: percentage points, or hours.
    pub difference: f64,
    /// As of when.
    pub now: Second,
    /// Seed of the simulated trials.
    pub seed: u64,
}

/// How often simulated trials find the difference.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrialSize {
    /// What is measured.
    pub outcome: &'static str,
    /// The difference that should be found: percentage points, or hours.
    pub difference: f64,
    /// How the person's own sensors differ from each other (standard deviation), in the same unit.
    pub between_sensors: Option<f64>,
    /// How checks of one sensor differ beyond that; `None` where none are needed.
    pub between_checks: Option<f64>,
    /// Sensors that is known from.
    pub from_sensors: u64,
    /// Blood checks that is known from.
    pub from_checks: u64,
    /// Why it cannot be told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Sensors and checks beside the chance.
    pub table: Vec<SizeRow>,
    /// With so many checks, the fewest sensors for 80 %.
    pub enough: Vec<Enough>,
    /// Seed of the simulated trials.
    pub seed: u64,
    /// In words.
    pub says: String,
}

/// One cell of the table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SizeRow {
    /// Sensors in all.
    pub sensors: u32,
    /// Blood checks of each; `None` where none are needed.
    pub checks: Option<u32>,
    /// Share of trials, percent, that find the difference.
    pub power_percent: f64,
}

/// With so many checks so many sensors are enough.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Enough {
    /// Blood checks of each sensor; `None` where none are needed.
    pub checks: Option<u32>,
    /// Sensors in all; `None` where 104 are too few.
    pub sensors: Option<u32>,
    /// Share of trials, percent, that find the difference.
    pub power_percent: Option<f64>,
}

/// How the person's own sensors differ in what is measured.
#[derive(Clone, Copy, Debug)]
struct Spread {
    /// Mean of the outcomes.
    mean: f64,
    between_sensors: f64,
    between_checks: f64,
    sensors: u64,
    checks: u64,
}

impl Spread {
    /// An error that is larger is taken to be larger in proportion, so that it scatters more: sizes of errors do. Hours are taken to
    /// scatter alike.
    fn scatter(&self, outcome: TrialOutcome, difference: f64) -> f64 {
        if outcome.needs_checks() && self.mean > 0.0 {
            1.0 + difference / self.mean
        } else {
            1.0
        }
    }
}

/// How many sensors and checks a trial takes.
///
/// # Errors
/// `Book` where the book cannot be read; `Window` where the block does not fit the ways, or the difference is none.
pub fn size_book(book: &Book, ask: SizeAsk) -> Result<TrialSize, FindingsError> {
    size(&book.load_all()?, &Settled::of(book)?, ask)
}

fn size(record: &Record, settled: &Settled, ask: SizeAsk) -> Result<TrialSize, FindingsError> {
    if !(ask.difference.is_finite() && ask.difference > 0.0) {
        let why = "say a difference above 0 that would be worth knowing";
        return Err(FindingsError::Window(why.to_owned()));
    }
    let mut told = TrialSize {
        outcome: ask.outcome.name(),
        difference: ask.difference,
        between_sensors: None,
        between_checks: None,
        from_sensors: 0,
        from_checks: 0,
        reason: None,
        table: Vec::new(),
        enough: Vec::new(),
        seed: ask.seed,
        says: String::new(),
    };
    match spread(record, settled, ask.outcome, ask.now) {
        Err(reason) => told.reason = Some(reason),
        Ok(spread) => fill(&mut told, spread, ask)?,
    }
    told.says = super::says::size(&told);
    Ok(told)
}

fn fill(told: &mut TrialSize, spread: Spread, ask: SizeAsk) -> Result<(), FindingsError> {
    let by_checks = ask.outcome.needs_checks();
    told.between_sensors = Some(spread.between_sensors);
    told.between_checks = by_checks.then_some(spread.between_checks);
    told.from_sensors = spread.sensors;
    told.from_checks = spread.checks;
    let columns: Vec<Option<u32>> = if by_checks {
        CHECKS.map(Some).to_vec()
    } else {
        vec![None]
    };
    let wrong = |error: trial::OrderError| FindingsError::Window(error.to_string());
    let step = ask.block.unwrap_or(2 * ask.arms);
    for &checks in &columns {
        let of_size = |sensors| promise(spread, checks, ask, sensors);
        for sensors in BLOCKS.map(|blocks| blocks * step) {
            let power = trial::power(&of_size(sensors), sensors, RUNS, ask.seed).map_err(wrong)?;
            told.table.push(SizeRow {
                sensors,
                checks,
                power_percent: 100.0 * power,
            });
        }
        // Two steps make one block where none is asked for, which tells more than two blocks do.
        let short = told
            .table
            .iter()
            .find(|row| row.checks == checks && row.sensors == 2 * step);
        let short = short
            .filter(|row| row.power_percent >= 100.0 * POWER)
            .map(|row| trial::Sensors {
                sensors: row.sensors,
                power: row.power_percent / 100.0,
            });
        let enough = match short {
            Some(short) => Some(short),
            None => trial::size(&of_size(MANY * step), ask.seed).map_err(wrong)?,
        };
        told.enough.push(Enough {
            checks,
            sensors: enough.map(|found| found.sensors),
            power_percent: enough.map(|found| 100.0 * found.power),
        });
    }
    Ok(())
}

fn promise(spread: Spread, checks: Option<u32>, ask: SizeAsk, sensors: u32) -> Promise {
    Promise {
        arms: ask.arms,
        block: ask
            .block
            .unwrap_or_else(|| trial::usual_block(sensors, ask.arms, MOST_P)),
        between_sensors: spread.between_sensors,
        between_checks: spread.between_checks,
        checks: checks.unwrap_or(1),
        difference: ask.difference,
        scatter: spread.scatter(ask.outcome, ask.difference),
        power: POWER,
        most_p: MOST_P,
        look: None,
    }
}

/// How often a trial as it is settled would find a difference, percent; why that cannot be told.
///
/// # Errors
/// `Book` where the book cannot be read.
pub fn promised(book: &Book, trial: &Trial, difference: f64) -> Result<Result<f64, String>, FindingsError> {
    let (record, settled) = (book.load_all()?, Settled::of(book)?);
    Ok(
        spread(&record, &settled, trial.outcome, trial.begun).map(|spread| {
            let promise = Promise {
                arms: trial.arms.len() as u32,
                block: trial.block,
                between_sensors: spread.between_sensors,
                between_checks: spread.between_checks,
                checks: trial.checks.max(1),
                difference,
                scatter: spread.scatter(trial.outcome, difference),
                power: POWER,
                most_p: if trial.look_after.is_some() {
                    MOST_P_AFTER_LOOK
                } else {
                    MOST_P
                },
                look: trial.look_after.map(|after| Look {
                    after,
                    most_p: MOST_P_AT_LOOK,
                }),
            };
            // The block of a trial that can begin fits its ways.
            100.0 * trial::power(&promise, trial.sensors, RUNS, trial.seed).unwrap_or(0.0)
        }),
    )
}

/// The block of a trial where none is asked for.
pub fn usual_block(sensors: u32, arms: u32) -> u32 {
    trial::usual_block(sensors, arms, MOST_P)
}

fn spread(record: &Record, settled: &Settled, outcome: TrialOutcome, now: Second) -> Result<Spread, String> {
    let worn = worn(record, settled, now);
    if outcome == TrialOutcome::HoursOn {
        let kind = in_use(settled).ok_or(
            "nothing is known of how long your sensors last; describe them with `interstice sensor-kind`",
        )?;
        return spread_of_hours(&worn, kind);
    }
    let measures = Measures::of(record, now);
    let of_each: Vec<Vec<f64>> = worn
        .iter()
        .map(|one| measures.differences(&one.it, outcome))
        .collect();
    spread_of_checks(&of_each)
}

/// By restricted maximum likelihood, a sensor being a group. Ways worn so far count as spread between sensors, so that it is
/// rather too wide.
fn spread_of_checks(of_each: &[Vec<f64>]) -> Result<Spread, String> {
    let twice = of_each.iter().filter(|own| own.len() >= 2).count();
    if twice < FEWEST_SENSORS {
        return Err(format!(
            "how your sensors differ cannot be told yet: {} two blood checks or more within what is measured, and {FEWEST_SENSORS} are needed",
            counted(twice as u64, "sensor has", "sensors have")
        ));
    }
    let (mut y, mut sensor) = (Vec::new(), Vec::new());
    for (place, own) in (0u32..).zip(of_each) {
        y.extend(own);
        sensor.extend(own.iter().map(|_| place));
    }
    let constant = vec![1.0; y.len()];
    let model = Nested::new(&[&constant], &y, &sensor, None).map_err(|why| why.to_string())?;
    let fit = model.fit(Bounds::NotNegative).map_err(|why| why.to_string())?;
    Ok(Spread {
        mean: y.iter().sum::<f64>() / y.len() as f64,
        between_sensors: fit.outer_variance().max(0.0).sqrt(),
        between_checks: fit.row_variance().sqrt(),
        sensors: model.groups() as u64,
        checks: y.len() as u64,
    })
}

fn spread_of_hours(worn: &[Worn], kind: &SensorKind) -> Result<Spread, String> {
    let off = worn.iter().filter(|one| !one.is_on);
    let hours: Vec<f64> = off
        .filter_map(|one| measure::hours_on(kind.wear_min, one).ok())
        .collect();
    if hours.len() < FEWEST_SENSORS {
        return Err(format!(
            "how long your sensors stay on is known of {}, and {FEWEST_SENSORS} are needed",
            counted(hours.len() as u64, "sensor", "sensors")
        ));
    }
    let mean = hours.iter().sum::<f64>() / hours.len() as f64;
    let squares: f64 = hours.iter().map(|one| (one - mean) * (one - mean)).sum();
    let sd = (squares / (hours.len() as f64 - 1.0)).sqrt();
    if sd <= 0.0 {
        return Err("none of your sensors was lost yet, so that there is nothing to gain".to_owned());
    }
    Ok(Spread {
        mean,
        between_sensors: sd,
        between_checks: 0.0,
        sensors: hours.len() as u64,
        checks: 0,
    })
}

/// What keeps a trial from beginning beside the trial itself, and what to do; `None` where it can.
///
/// # Errors
/// `Book` where the book cannot be read.
pub fn trouble(book: &Book, trial: &Trial) -> Result<Option<String>, FindingsError> {
    if let Some(trouble) = trial.trouble() {
        return Ok(Some(trouble));
    }
    let arms = trial.arms.len() as u32;
    let most_p = if trial.look_after.is_some() {
        MOST_P_AFTER_LOOK
    } else {
        MOST_P
    };
    let too_few = |sensors: u32, most_p: f64| trial::least_p(sensors, arms, trial.block) > most_p;
    if too_few(trial.sensors, most_p) {
        return Ok(Some(format!(
            "with {} sensors not even the clearest difference could be told from chance; take more, or larger blocks",
            trial.sensors
        )));
    }
    if let Some(after) = trial.look_after.filter(|&after| too_few(after, MOST_P_AT_LOOK)) {
        return Ok(Some(format!(
            "a look after {after} sensors could never end the trial; look later, or not at all"
        )));
    }
    let settled = Settled::of(book)?;
    if let Some(trouble) = beyond_kind(trial, in_use(&settled)) {
        return Ok(Some(trouble));
    }
    let record = book.load_all()?;
    let beside = Beside {
        record: &record,
        worn: &worn(&record, &settled, trial.begun),
        now: trial.begun,
    };
    let (lines, _) = trials(&settled.trials, beside, in_use(&settled));
    let running = lines.into_iter().find(super::TrialLine::is_running);
    Ok(running.map(|other| {
        format!(
            "'{}' is still running; two at once would mix, so let it end or abandon it first",
            other.name
        )
    }))
}

fn in_use(settled: &Settled) -> Option<&SensorKind> {
    settled.kinds.in_use.map(|place| &settled.kinds.all[place])
}

/// Bedding in for longer than the kind is worn before its start.
fn beyond_kind(trial: &Trial, kind: Option<&SensorKind>) -> Option<String> {
    let asked = trial.arms.iter().filter_map(|arm| match arm {
        Arm::BeddingIn { hours } => Some(*hours),
        _ => None,
    });
    let longest = asked.max()?;
    let Some(kind) = kind else {
        return Some(
            "nothing is known of your sensors; describe them with `interstice sensor-kind`".to_owned(),
        );
    };
    (60 * longest > kind.longest_bedding_min).then(|| {
        format!(
            "'{}' is worn for no more than {} h before its start; `interstice sensor-kind` with --longest-bedding-hours says otherwise, where its instructions and you agree",
            kind.name,
            kind.longest_bedding_min / 60
        )
    })
}

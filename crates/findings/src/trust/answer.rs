//! From a record to [`TrustFindings`].

use interstice_book::{Book, Record};
use interstice_glucose::{BloodSource, Censor, Second, counted, one_or_many};
use interstice_methods::agreement::{
    ALLOWANCES, Allowance, Bin, Check, ClarkeGrid, ClusterBootstrap, ConsensusGrid, Criterion, GroupFigures,
    METER_LIMIT, METER_SPLIT_MG_DL, Measures, Pair, Paired, icgm, measures, meter_mard_percent,
};

use super::ask::TrustAsk;
use super::breakdown::{self, DIRECTION_KEYS, Groups, figure, interval_by, share};
use super::estimate::Known;
use super::wears::{SensorWear, Started, named, wears};
use super::{
    Agreement, Counts, CriterionAsk, CriterionLine, Meter, Point, SensorRange, TrustFindings, WearLine,
    effects, faults, grid, lag, next, pairs, teach,
};
use crate::account::{Reader, reader};
use crate::{FindingsError, Time};

/// An other rule that gives so many times the pairs is worth a word.
const MANY_MORE: f64 = 1.2;

/// Sensors beside blood over the whole book.
///
/// # Errors
/// As [`trust`], and `Book` where the book cannot be read.
pub fn trust_book(book: &Book, ask: &TrustAsk) -> Result<TrustFindings, FindingsError> {
    book.span()?.ok_or(FindingsError::Empty)?;
    trust(&book.load_all()?, reader(book)?, ask)
}

/// Sensors beside blood in a record already loaded.
///
/// # Errors
/// `Empty` without automatic readings; `NoSensor` where the sensor asked for is not in it; `Window` where the split makes no sense.
pub fn trust(record: &Record, reader: Reader, ask: &TrustAsk) -> Result<TrustFindings, FindingsError> {
    trust_with(record, reader, ask, None)
}

/// The same, with what is known of all sensors where that was found out before.
pub(crate) fn trust_with(
    record: &Record,
    reader: Reader,
    ask: &TrustAsk,
    known: Option<&Known>,
) -> Result<TrustFindings, FindingsError> {
    let all = wears(record);
    if all.is_empty() {
        return Err(FindingsError::Empty);
    }
    let places = places(record, &all, ask)?;
    let chosen: Vec<SensorWear> = places.iter().map(|&place| all[place].clone()).collect();
    let checks = pairs::checks(record);
    let paired = pairs::paired(record, &chosen, &checks, ask.pairing);
    let other = pairs::paired(record, &chosen, &checks, ask.pairing.other());
    let allowance = allowance(ask, ALLOWANCES[0]);
    let bootstrap = ClusterBootstrap::seeded(ask.seed);
    let by = breakdown::by(Groups {
        record,
        wears: &chosen,
        pairs: &paired.pairs,
        allowance,
        bootstrap,
    });
    let counts = counts(&chosen, &checks, &paired, &other, allowance);
    let scans = pairs::scanned(record, &checks, ask.sensor.as_deref());
    let agreement = agreement(&paired.pairs, ask, bootstrap);
    let time = |at: Second| Time(record.clock.moment(at));
    let scan_line = || {
        breakdown::line(
            "scans",
            &GroupFigures::of(&scans, allowance, bootstrap),
            allowance,
        )
    };
    let anew;
    // Of one sensor too it is learned from all: they are one person's.
    let known = match known {
        Some(known) => known,
        None => {
            anew = Known::of_all(record, reader.night)?;
            &anew
        }
    };
    Ok(TrustFindings {
        pressure: known.pressed.only(&places).findings(record, &chosen, reader),
        lag: lag::of(&known.learned),
        unit: reader.unit,
        sensor: ask.sensor.clone(),
        pairing: ask.pairing,
        split_mg_dl: ask.split_mg_dl,
        seed: ask.seed,
        meter: meter(&paired.pairs, agreement.mard_percent.value),
        icgm: icgm(&paired.pairs).iter().map(criterion).collect(),
        grid: grid::grids(&paired.pairs),
        effects: effects::effects(record, &chosen, &paired.pairs, reader.night),
        faults: faults::lines(record, &chosen, &paired.pairs, &time),
        next: next::next(&by, &counts),
        check_would: teach::check_would(record, &all, &places, &checks, known),
        notes: notes(record, &chosen, &counts, ask),
        wears: chosen
            .iter()
            .enumerate()
            .map(|(place, wear)| wear_line(place, wear, &paired.pairs, &time))
            .collect(),
        points: paired
            .pairs
            .iter()
            .map(|pair| point(record, &chosen, pair, &time))
            .collect(),
        scans: (!scans.is_empty()).then(scan_line),
        counts,
        agreement,
        by,
    })
}

/// The places of all wears, or of those of the sensor asked for, by the name of the trace or of the wear.
fn places(record: &Record, wears: &[SensorWear], ask: &TrustAsk) -> Result<Vec<usize>, FindingsError> {
    if !(ask.split_mg_dl.is_finite() && ask.split_mg_dl >= 0.0) {
        return Err(FindingsError::Window(
            "the split must be a blood value in mg/dL, such as 70, 80 or 100".to_owned(),
        ));
    }
    named(record, wears, ask.sensor.as_deref())
}

pub(super) fn allowance(ask: &TrustAsk, limit: f64) -> Allowance {
    Allowance {
        limit,
        split_mg_dl: ask.split_mg_dl,
    }
}

pub(super) fn counts(
    wears: &[SensorWear],
    checks: &[Check],
    paired: &Paired,
    other: &Paired,
    allowance: Allowance,
) -> Counts {
    let mut sensors: Vec<usize> = paired.pairs.iter().map(|pair| pair.sensor).collect();
    sensors.sort_unstable();
    sensors.dedup();
    let apart = paired.censored.iter().filter(|pair| {
        let (blood, sensor) = pair.nearest_mg_dl();
        !allowance.holds(blood, sensor)
    });
    Counts {
        checks: checks.len() as u64,
        pairs: paired.pairs.len() as u64,
        sensors: sensors.len() as u64,
        without_sensor: pairs::without_sensor(wears, checks),
        unpaired: paired.unpaired,
        artefact: paired.artefact,
        censored: paired.censored.len() as u64,
        censored_apart: apart.count() as u64,
        pairs_by_other_rule: other.pairs.len() as u64,
    }
}

pub(super) fn agreement(pairs: &[Pair], ask: &TrustAsk, bootstrap: ClusterBootstrap) -> Agreement {
    let found = measures(pairs);
    let intervals = bootstrap.intervals(pairs).ok();
    let of = |value: fn(&Measures) -> f64| found.as_ref().map(value).map_err(|why| *why);
    let limits = found.as_ref().ok().map(|found| found.limits);
    Agreement {
        mard_percent: figure(of(|m| m.mard_percent), intervals.map(|i| i.mard_percent)),
        median_ard_percent: figure(
            of(|m| m.median_ard_percent),
            intervals.map(|i| i.median_ard_percent),
        ),
        mad_mg_dl: figure(of(|m| m.mad_mg_dl), intervals.map(|i| i.mad_mg_dl)),
        bias_mg_dl: figure(of(|m| m.bias_mg_dl), intervals.map(|i| i.bias_mg_dl)),
        relative_bias_percent: figure(
            of(|m| m.relative_bias_percent),
            intervals.map(|i| i.relative_bias_percent),
        ),
        sd_mg_dl: figure(of(|m| m.sd_mg_dl), None),
        limits_lower_mg_dl: figure(of(|m| m.limits.lower_mg_dl), limits.map(|l| l.lower_interval)),
        limits_upper_mg_dl: figure(of(|m| m.limits.upper_mg_dl), limits.map(|l| l.upper_interval)),
        within: ALLOWANCES
            .iter()
            .map(|&limit| share(allowance(ask, limit), allowance(ask, limit).rate(pairs)))
            .collect(),
        interval_by: intervals.map(|intervals| interval_by(intervals.by)),
    }
}

fn meter(pairs: &[Pair], mard: Option<f64>) -> Meter {
    let alone = meter_mard_percent(pairs.iter().map(|pair| pair.blood_mg_dl));
    Meter {
        standard: "ISO 15197:2013",
        limit: METER_LIMIT,
        split_mg_dl: METER_SPLIT_MG_DL,
        mard_percent: alone,
        below_meter: mard.zip(alone).is_some_and(|(mard, alone)| mard < alone),
    }
}

fn criterion(answer: &interstice_methods::agreement::CriterionAnswer) -> CriterionLine {
    let bounded = matches!(answer.criterion, Criterion::Rate { .. });
    CriterionLine {
        item: answer.item,
        sensor_range: match (answer.from_mg_dl > 0.0, answer.to_mg_dl.is_finite()) {
            (false, true) => SensorRange::Below70,
            (true, true) => SensorRange::From70To180,
            (true, false) => SensorRange::Above180,
            (false, false) => SensorRange::All,
        },
        asks: match answer.criterion {
            Criterion::Rate {
                within,
                percent,
                over_percent,
            } => CriterionAsk::Rate {
                within,
                percent,
                over_percent,
            },
            Criterion::NoneAbove(mg_dl) => CriterionAsk::NoneAbove { mg_dl },
            Criterion::NoneBelow(mg_dl) => CriterionAsk::NoneBelow { mg_dl },
            Criterion::Trend { rising } => CriterionAsk::Trend { rising },
        },
        within: answer.rate.map(|rate| rate.within),
        of: answer.rate.map(|rate| rate.of),
        lower95_percent: answer
            .rate
            .filter(|rate| bounded && rate.of > 0)
            .map(interstice_methods::agreement::Rate::lower_percent),
        fewest_pairs: answer.fewest_pairs,
        met: answer.met,
    }
}

pub(super) fn wear_line(
    place: usize,
    wear: &SensorWear,
    pairs: &[Pair],
    time: &impl Fn(Second) -> Time,
) -> WearLine {
    WearLine {
        sensor: wear.name.clone(),
        put_on: wear.worn.put_on.map(time),
        started: wear.started.map(time),
        started_by: wear.started_by,
        from: time(wear.span.0),
        to: time(wear.span.1),
        site: wear.site.clone(),
        side: wear.side(),
        lot: wear.worn.detail.lot.clone(),
        preparation: wear.preparation(),
        bedding_in_h: wear.worn.bedding_in_h(),
        pairs: pairs.iter().filter(|pair| pair.sensor == place).count() as u64,
    }
}

pub(super) fn point(
    record: &Record,
    wears: &[SensorWear],
    pair: &Pair,
    time: &impl Fn(Second) -> Time,
) -> Point {
    let direction = pair.rate_mg_dl_min.and_then(Bin::direction);
    Point {
        at: time(pair.at),
        sensor: wears[pair.sensor].name.clone(),
        wear: pair.sensor,
        blood_mg_dl: pair.blood_mg_dl,
        sensor_mg_dl: pair.sensor_mg_dl,
        reading_later_s: pair.later_s,
        rate_mg_dl_min: pair.rate_mg_dl_min,
        direction: direction.map(|place| DIRECTION_KEYS[place]),
        worn_h: pair.worn_s.map(|worn_s| worn_s as f64 / 3600.0),
        clarke: ClarkeGrid.zone(pair.blood_mg_dl, pair.sensor_mg_dl).letter(),
        consensus: ConsensusGrid.zone(pair.blood_mg_dl, pair.sensor_mg_dl).letter(),
        laboratory: record.blood_checks[pair.check].it.source == BloodSource::Laboratory,
    }
}

/// What a reader must know to read the figures rightly.
fn notes(record: &Record, wears: &[SensorWear], counts: &Counts, ask: &TrustAsk) -> Vec<String> {
    let mut notes = Vec::new();
    if counts.censored > 0 {
        notes.push(format!(
            "{} beyond what the sensor or the meter can measure. How far apart is not known, so no figure has them; {} by more than \
             15 mg/dL or 15 % in any case.",
            counted(counts.censored, "pair is", "pairs are"),
            counted(counts.censored_apart, "differs", "differ")
        ));
    }
    if counts.artefact > 0 {
        notes.push(format!(
            "{} fell into readings marked as artefacts and {} left out.",
            counted(counts.artefact, "check", "checks"),
            one_or_many(&counts.artefact, "is", "are")
        ));
    }
    if counts.unpaired > 0 {
        notes.push(format!(
            "{} found no reading near enough.",
            counted(counts.unpaired, "check", "checks")
        ));
    }
    if counts.pairs_by_other_rule as f64 > MANY_MORE * counts.pairs as f64 {
        notes.push(format!(
            "The other way of pairing, '{}', would give {} in place of {}.",
            ask.pairing.other().key(),
            counted(counts.pairs_by_other_rule, "pair", "pairs"),
            counts.pairs
        ));
    }
    notes.extend(start_note(
        wears,
        Started::FirstReading,
        [
            "is taken to have been started at its first reading",
            "are taken to have been started at their first reading",
        ],
    ));
    notes.extend(start_note(
        wears,
        Started::Pause,
        [
            "has a start guessed from a pause that looks like a change of sensor",
            "have a start guessed from a pause that looks like a change of sensor",
        ],
    ));
    notes.extend(start_note(
        wears,
        Started::Unknown,
        [
            "has no known start, so its pairs have no day of wear",
            "have no known start, so their pairs have no day of wear",
        ],
    ));
    if record
        .blood_checks
        .iter()
        .any(|kept| kept.it.said.censor() == Censor::None && kept.it.said.mantissa() <= 0)
    {
        notes.push("Blood checks of 0 or less cannot be compared and are passed over.".to_owned());
    }
    notes
}

fn start_note(wears: &[SensorWear], by: Started, [one, several]: [&str; 2]) -> Option<String> {
    let count = wears.iter().filter(|wear| wear.started_by == by).count();
    (count > 0).then(|| {
        format!(
            "{count} of {} {}. `interstice log sensor started` writes a start down.",
            counted(wears.len() as u64, "sensor", "sensors"),
            one_or_many(&count, one, several)
        )
    })
}

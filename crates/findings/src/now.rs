//! This moment: what the sensor says, what blood probably is, what is still acting, what followed moments like it.

use interstice_book::{Book, Record};
use interstice_glucose::{Censor, DAY_S, Delivery, Dose, InsulinKind, Second, Unit};
use interstice_methods::agreement::{Bin, slope_mg_dl_min};
use interstice_methods::insulin::on_board;
use interstice_tongue::{Message, message};
use serde::Serialize;

use crate::account::{Reader, reader};
use crate::second_look::{CAUTION, SecondLookFindings, second_look_of_sensor};
use crate::swings::LastsLine;
use crate::trust::{BloodNow, DIRECTION_KEYS, blood_now};
use crate::whole::whole;
use crate::{FindingsError, Time};

/// What blood probably is now is learned from so many days: some ten sensors, and no more work for a longer book. Ours.
const LEARNED_DAYS: i64 = 120;
/// A reading older than this, or than three native intervals where that is longer, says nothing of now, seconds. Ours.
pub(crate) const OLD_S: Second = 900;
/// A dose still listed so long after it was taken: rapid insulin is all but spent, seconds. Ours.
const LISTED_S: Second = 8 * 3600;

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct NowAsk {
    /// The moment.
    pub now: Second,
}

/// The last reading.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LastReading {
    /// When.
    pub at: Time,
    /// The sensor, by its name.
    pub sensor_id: String,
    /// What it said; the limit where glucose is beyond what it can measure.
    pub mg_dl: f64,
    /// 'below' or 'above' that limit.
    pub beyond: Option<&'static str>,
    /// How old it is.
    pub age_min: f64,
    /// Whether it is too old to say anything of now.
    pub is_old: bool,
    /// Its change, over the quarter of an hour up to it.
    pub mg_dl_per_min: Option<f64>,
    /// 'falling_fast', 'falling', 'steady', 'rising', 'rising_fast'; `null` where a gap or a limit hides it.
    pub direction: Option<&'static str>,
    /// Hours since the sensor was started, where that is known.
    pub sensor_age_h: Option<f64>,
}

/// A dose that may still act.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ActingDose {
    /// When it was taken.
    pub at: Time,
    /// How long ago.
    pub age_min: f64,
    /// Units.
    pub units: f64,
    /// 'rapid', 'short-acting', 'premixed', or 'insulin' where it was not said.
    pub insulin: &'static str,
}

/// Insulin still acting, from what was logged. Two published models and late logging give a span.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Acting {
    /// Left of doses, at least, units.
    pub doses_units_lo: f64,
    /// At most.
    pub doses_units_hi: f64,
    /// Left of what a pump's basal rate gave, at least, units.
    pub basal_units_lo: f64,
    /// At most.
    pub basal_units_hi: f64,
    /// Not delivered yet of doses being spread, units.
    pub to_come_units: f64,
    /// Doses of the last day that no published curve is used for.
    pub left_out_doses: u32,
    /// Doses of the last eight hours, latest first; long-acting ones and basal rates are not among them.
    pub doses: Vec<ActingDose>,
    /// Whether any insulin is written down at all.
    pub is_written: bool,
    /// How long insulins act by the wearer's own word, by which the span goes.
    pub insulin_lasts_hours: LastsLine,
}

/// This moment.
#[derive(Clone, Debug, Serialize)]
pub struct NowFindings {
    /// The moment told of.
    pub now: Time,
    /// Unit the wearer reads.
    #[serde(serialize_with = "crate::second_look::symbol")]
    pub unit: Unit,
    /// Bottom of the target range.
    pub range_low_mg_dl: f64,
    /// Its top.
    pub range_high_mg_dl: f64,
    /// The last reading; `null` where none came before the moment.
    pub reading: Option<LastReading>,
    /// What blood probably is; `null` where the reading is old, or lies in a stretch that is not to be believed.
    pub blood: Option<BloodNow>,
    /// Why it is not told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub blood_reason: Option<Message>,
    /// Insulin still acting.
    pub acting: Acting,
    /// What followed moments like it; `null` where the reading is old.
    pub look: Option<SecondLookFindings>,
    /// What stands beside it.
    pub caution: &'static str,
}

/// This moment in a book.
///
/// # Errors
/// `Empty` without automatic readings; `Book` where the book cannot be read.
pub fn now_book(book: &Book, ask: NowAsk) -> Result<NowFindings, FindingsError> {
    book.span()?.ok_or(FindingsError::Empty)?;
    let until = ask.now.saturating_add(1);
    let (lately, reader) = (lately(book, until)?, reader(book)?);
    let look = |asked| second_look_of_sensor(&book.load(Second::MIN, until)?, reader, asked);
    now_with(
        &lately,
        reader,
        ask,
        |at| blood_now(&lately, reader.night, at),
        look,
    )
}

/// The same of a record already loaded, which should reach up to the moment and no further.
///
/// # Errors
/// `Empty` without automatic readings.
pub fn now(record: &Record, reader: Reader, ask: NowAsk) -> Result<NowFindings, FindingsError> {
    let look = |asked| second_look_of_sensor(record, reader, asked);
    now_with(
        record,
        reader,
        ask,
        |at| blood_now(record, reader.night, at),
        look,
    )
}

/// As much of a book as this moment is told from, but for the second look.
///
/// # Errors
/// `Book` where the book cannot be read.
pub(crate) fn lately(book: &Book, until: Second) -> Result<Record, FindingsError> {
    let (_, last) = book.span()?.ok_or(FindingsError::Empty)?;
    let from = last.min(until) - LEARNED_DAYS * DAY_S;
    Ok(book.load(from, until)?)
}

/// The same from what was loaded.
///
/// * `lately`: see [`lately`]; nothing later than the moment.
/// * `blood`, `look`: what blood probably is at the last reading, and the second look at it; only asked where that is not old.
///
/// # Errors
/// `Empty` without automatic readings.
pub(crate) fn now_with(
    lately: &Record,
    reader: Reader,
    ask: NowAsk,
    blood: impl FnOnce(Second) -> Result<BloodNow, Message>,
    look: impl FnOnce(Second) -> Result<SecondLookFindings, FindingsError>,
) -> Result<NowFindings, FindingsError> {
    let targets = reader.group.targets();
    let reading = last_reading(lately, ask.now);
    let fresh = reading.as_ref().filter(|reading| !reading.is_old);
    let (blood, blood_reason) = match fresh {
        None => (None, Some(message!("now-blood-no-reading"))),
        Some(reading) => match blood(reading.at.0.at) {
            Ok(blood) => (Some(blood), None),
            Err(reason) => (None, Some(reason)),
        },
    };
    let look = fresh.map(|reading| look(reading.at.0.at)).transpose()?;
    Ok(NowFindings {
        now: Time(lately.clock.moment(ask.now)),
        unit: reader.unit,
        range_low_mg_dl: targets.range_low_mg_dl,
        range_high_mg_dl: targets.range_high_mg_dl,
        reading,
        blood,
        blood_reason,
        acting: acting(lately, reader, ask.now),
        look,
        caution: CAUTION,
    })
}

fn last_reading(record: &Record, now: Second) -> Option<LastReading> {
    let (automatic, whole) = whole(record);
    let segment = whole.segments().last()?;
    let (_, at) = whole.span()?;
    let trace = &record.traces[automatic[segment.trace]];
    let readings = &trace.readings;
    let level = readings.level()[readings.range(at, at + 1)].last()?;
    let level = record.levels.get(*level);
    let interval = segment.interval_s;
    let rate = slope_mg_dl_min(readings.at(), readings.level(), &record.levels, interval, at);
    let wears = crate::trust::wears(record);
    let wear = wears
        .iter()
        .rev()
        .find(|wear| wear.trace == automatic[segment.trace] && wear.span.1 == at);
    Some(LastReading {
        at: Time(record.clock.moment(at)),
        sensor_id: wear.map_or_else(|| trace.sensor.clone(), |wear| wear.name.clone()),
        mg_dl: level.mg_per_dl,
        beyond: match level.said.censor() {
            Censor::None => None,
            Censor::Below => Some("below"),
            Censor::Above => Some("above"),
        },
        age_min: (now - at) as f64 / 60.0,
        is_old: now - at > OLD_S.max(3 * Second::from(interval)),
        mg_dl_per_min: rate,
        direction: rate.and_then(Bin::direction).map(|place| DIRECTION_KEYS[place]),
        sensor_age_h: wear
            .and_then(|wear| wear.started)
            .map(|started| (at - started) as f64 / 3600.0),
    })
}

fn acting(record: &Record, reader: Reader, now: Second) -> Acting {
    let doses: Vec<Dose> = record.doses.iter().map(|kept| kept.it.clone()).collect();
    let all = on_board(&doses, now, reader.insulin.into());
    let soon = |dose: &&Dose| {
        !matches!(dose.insulin, InsulinKind::Intermediate | InsulinKind::Long)
            && dose.delivery != Delivery::BasalRate
    };
    let listed = doses
        .iter()
        .rev()
        .filter(soon)
        .filter(|dose| (now - LISTED_S..=now).contains(&dose.at));
    Acting {
        doses_units_lo: all.doses.lo,
        doses_units_hi: all.doses.hi,
        basal_units_lo: all.basal.lo,
        basal_units_hi: all.basal.hi,
        to_come_units: all.to_come,
        left_out_doses: all.left_out,
        doses: listed
            .map(|dose| ActingDose {
                at: Time(record.clock.moment(dose.at)),
                age_min: (now - dose.at) as f64 / 60.0,
                units: dose.units,
                insulin: dose.insulin.name(),
            })
            .collect(),
        is_written: !doses.is_empty(),
        insulin_lasts_hours: LastsLine::of(reader.insulin),
    }
}

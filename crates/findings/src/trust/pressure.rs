//! Possible pressure lows, night by night, and what the wearer said of them.

use interstice_book::{Book, ChangeId, Record};
use interstice_glucose::{LowWas, Second, Unit};
use interstice_methods::pressure::{CALLED, Evidence as Sign};
use serde::{Serialize, Serializer};

use super::estimate::Columns;
use super::pairs;
use super::pressed::{Beside, Judged, Pressed, Said};
use super::pressure_rates::{self, PressureRates};
use super::wears::{SensorWear, named, wears};
use crate::account::{Reader, reader};
use crate::{FindingsError, Time};

/// Every possible pressure low of a book.
#[derive(Clone, Debug, Serialize)]
pub struct PressureFindings {
    /// Nights in which a sensor was read.
    pub nights: u64,
    /// Those of them with sleep logged.
    pub nights_logged: u64,
    /// What each of them is.
    pub called: &'static str,
    /// What the wearer's words teach of the next one.
    pub own: OwnPrior,
    /// How often, by where the sensor was and by side.
    pub rates: PressureRates,
    /// In time order.
    pub events: Vec<PressureEvent>,
    /// The wearer's words on stretches in which nothing was found, in time order.
    pub said: Vec<SaidLow>,
}

/// What the wearer's words teach.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct OwnPrior {
    /// Words it rests on that say 'pressure'.
    pub pressure: u64,
    /// Words it rests on that say 'real'.
    pub real: u64,
    /// What they move the natural log-odds of each by; 0 without words.
    pub log_odds: f64,
    /// The same as a factor of the odds.
    pub odds_times: f64,
    /// How well the former is known, one standard deviation.
    pub log_odds_sd: f64,
}

/// What the wearer says of a low.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LowVerdict {
    /// Pressure, or real.
    pub was: LowWas,
    /// The change to undo to take it back; nothing where it is read from a mark that readings are not to be believed.
    pub change: Option<ChangeId>,
}

impl LowVerdict {
    /// 'pressure' or 'real'.
    pub fn word(self) -> &'static str {
        match self.was {
            LowWas::Pressure => "pressure",
            LowWas::Real => "real",
        }
    }
}

/// One possible pressure low.
#[derive(Clone, Debug, Serialize)]
pub struct PressureEvent {
    /// The sensor.
    pub sensor_id: String,
    /// Pressure sets in.
    pub start: Time,
    /// The sensor has recovered.
    pub end: Time,
    /// How long it lasted.
    pub minutes: f64,
    /// Probability that it was pressure; 1 or 0 where the wearer said which it was.
    pub probability: f64,
    /// Probability by its own signs, whatever the wearer said of it or others.
    pub probability_by_signs: f64,
    /// Part taken off, percent.
    pub attenuation_percent: f64,
    /// The largest difference it made, mg/dL.
    pub depth_mg_dl: f64,
    /// Lowest reading, mg/dL.
    pub nadir_mg_dl: f64,
    /// What speaks for and against, a sentence each.
    pub evidence: Evidence,
    /// What the wearer said of it: 'pressure', also where it is marked as not to be believed, or 'real'.
    #[serde(serialize_with = "word")]
    pub verdict: Option<LowVerdict>,
    /// Whether `review --exclude-pressure` leaves its readings out.
    pub left_out: bool,
    /// From when to when, to say which one is meant.
    #[serde(skip)]
    pub span: (Second, Second),
    /// The sensor's name in the file, where it has one.
    #[serde(skip)]
    pub trace: Option<String>,
}

/// What speaks for and against one. As JSON the sentences in the book's unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    signs: Vec<Sign>,
    unit: Unit,
}

impl Evidence {
    /// A sentence each, in a unit.
    pub fn words(&self, unit: Unit) -> Vec<String> {
        self.signs.iter().map(|sign| sign.words(unit)).collect()
    }
}

impl Serialize for Evidence {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.words(self.unit).serialize(serializer)
    }
}

/// A word of the wearer on a stretch in which nothing was found.
#[derive(Clone, Debug, Serialize)]
pub struct SaidLow {
    /// The sensor, where it was said.
    pub sensor_id: Option<String>,
    /// When it began.
    pub start: Time,
    /// When it had ended.
    pub end: Time,
    /// What it was.
    #[serde(serialize_with = "word_of")]
    pub verdict: LowVerdict,
}

fn word<S: Serializer>(verdict: &Option<LowVerdict>, serializer: S) -> Result<S::Ok, S::Error> {
    verdict.map(LowVerdict::word).serialize(serializer)
}

fn word_of<S: Serializer>(verdict: &LowVerdict, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(verdict.word())
}

/// The possible pressure lows of the whole book, or of one sensor by its name.
///
/// # Errors
/// `Empty` without automatic readings; `NoSensor` where the sensor asked for is not in it; `Book` where the book cannot be read.
pub fn pressure_book(book: &Book, sensor: Option<&str>) -> Result<PressureFindings, FindingsError> {
    book.span()?.ok_or(FindingsError::Empty)?;
    let (record, reader) = (book.load_all()?, reader(book)?);
    let all = wears(&record);
    if all.is_empty() {
        return Err(FindingsError::Empty);
    }
    let chosen: Vec<SensorWear> = named(&record, &all, sensor)?
        .into_iter()
        .map(|place| all[place].clone())
        .collect();
    let columns: Vec<Columns<'_>> = chosen.iter().map(|wear| Columns::said(&record, wear)).collect();
    let checks = pairs::checks(&record);
    let beside = Beside::all(&checks, reader.night);
    let pressed = Pressed::look(&record, &chosen, &columns, beside);
    Ok(pressed.findings(&record, &chosen, reader))
}

impl Pressed {
    /// As they are told; `wears` are those looked at.
    pub(super) fn findings(&self, record: &Record, wears: &[SensorWear], reader: Reader) -> PressureFindings {
        let mut events: Vec<PressureEvent> = self
            .wears
            .iter()
            .zip(wears)
            .flat_map(|(looked, wear)| looked.dips.iter().map(move |dip| (dip, wear)))
            .map(|(dip, wear)| event(record, dip, wear, reader))
            .collect();
        events.sort_by_key(|event| event.span.0);
        let (nights, nights_logged) = self.nights_read();
        PressureFindings {
            nights,
            nights_logged,
            called: CALLED,
            own: OwnPrior {
                pressure: self.own.pressure,
                real: self.own.real,
                log_odds: self.own.log_odds,
                odds_times: self.own.odds(),
                log_odds_sd: self.own.sd,
            },
            rates: pressure_rates::rates(self, wears),
            events,
            said: self.said_apart(record),
        }
    }

    /// Words that are on no dip, once each.
    fn said_apart(&self, record: &Record) -> Vec<SaidLow> {
        let apart = self.wears.iter().flat_map(|looked| &looked.apart);
        let mut places: Vec<usize> = apart.copied().collect();
        places.sort_unstable();
        places.dedup();
        let time = |at: Second| Time(record.clock.moment(at));
        places
            .into_iter()
            .map(|place| {
                let kept = &record.low_verdicts[place];
                SaidLow {
                    sensor_id: kept.it.sensor.clone(),
                    start: time(kept.it.at),
                    end: time(kept.it.until),
                    verdict: LowVerdict {
                        was: kept.it.was,
                        change: Some(kept.origin),
                    },
                }
            })
            .collect()
    }
}

fn event(record: &Record, dip: &Judged, wear: &SensorWear, reader: Reader) -> PressureEvent {
    let low = &dip.low;
    let span = (Second::from(low.from), Second::from(low.to));
    PressureEvent {
        sensor_id: wear.name.clone(),
        start: Time(record.clock.moment(span.0)),
        end: Time(record.clock.moment(span.1)),
        minutes: (span.1 - span.0) as f64 / 60.0,
        probability: dip.probability(),
        probability_by_signs: dip.by_signs,
        attenuation_percent: low.attenuation_percent,
        depth_mg_dl: low.depth_mg_dl,
        nadir_mg_dl: low.nadir_mg_dl,
        evidence: Evidence {
            signs: low.evidence.clone(),
            unit: reader.unit,
        },
        verdict: dip.said.map(|said| match said {
            Said::Word(place, was) => LowVerdict {
                was,
                change: Some(record.low_verdicts[place].origin),
            },
            Said::Marked => LowVerdict {
                was: LowWas::Pressure,
                change: None,
            },
        }),
        left_out: dip.counts(),
        span,
        trace: Some(record.traces[wear.trace].sensor.clone()).filter(|name| !name.is_empty()),
    }
}

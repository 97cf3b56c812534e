//! From a record to [`SensorFindings`].

use interstice_book::{Book, Record};
use interstice_glucose::{DAY_S, LowWas, Second};
use interstice_methods::agreement::{
    ALLOWANCES, Allowance, Check, ClusterBootstrap, METER_LIMIT, METER_SPLIT_MG_DL, Pair,
};
use interstice_methods::estimate::Scale;
use interstice_methods::lived_days;
use interstice_methods::quantile;
use interstice_methods::trace::{expected_readings, gap_limit_s};

use super::answer::{agreement, allowance, counts, point, wear_line};
use super::ask::TrustAsk;
use super::breakdown::share;
use super::estimate::Known;
use super::sensor::{
    Around, CheckLine, DayTick, OtherSensors, SensorFindings, SensorLife, SensorScale, WearDay,
};
use super::wears::{SensorWear, named, wears};
use super::{PressureFindings, SensorBlood, faults, lag, pairs};
use crate::account::{Reader, reader};
use crate::days::{TickStep, USUAL_NIGHT, nights, within};
use crate::{FindingsError, Time};

/// What was told of a sensor's moments is drawn when it lies at most so far from its readings.
const AROUND_S: Second = 3 * DAY_S;
/// Ticks of a single day's picture, seconds apart.
const HOURS_S: u32 = 3 * 3600;
/// Width nights are looked for at; narrower than a stroke they are left out.
const WIDTH: u32 = 920;

/// One sensor of a book.
///
/// # Errors
/// As [`sensor`], and `Book` where the book cannot be read.
pub fn sensor_book(book: &Book, ask: &TrustAsk) -> Result<SensorFindings, FindingsError> {
    book.span()?.ok_or(FindingsError::Empty)?;
    sensor(&book.load_all()?, reader(book)?, ask)
}

/// One sensor in a record already loaded. The others help to learn what it is like.
///
/// # Errors
/// `Empty` without automatic readings; `NoSensor` where none is asked for, the one asked for is not in it, or its name
/// belongs to several.
pub fn sensor(record: &Record, reader: Reader, ask: &TrustAsk) -> Result<SensorFindings, FindingsError> {
    sensor_with(record, reader, ask, &Known::of_all(record, reader.night)?)
}

/// The same, with what is known of all sensors.
pub(crate) fn sensor_with(
    record: &Record,
    reader: Reader,
    ask: &TrustAsk,
    known: &Known,
) -> Result<SensorFindings, FindingsError> {
    let all = wears(record);
    let place = asked(record, &all, ask.sensor.as_deref().unwrap_or_default())?;
    let one = One {
        record,
        reader,
        ask,
        all: &all,
        place,
        checks: pairs::checks(record),
    };
    Ok(one.findings(known))
}

/// The place of the one wear that is asked for: by its own name, else by that of its trace.
fn asked(record: &Record, wears: &[SensorWear], name: &str) -> Result<usize, FindingsError> {
    if let Some(place) = wears.iter().position(|wear| wear.name == name) {
        return Ok(place);
    }
    match named(record, wears, Some(name))?[..] {
        [place] => Ok(place),
        ref several => {
            let names: Vec<&str> = several.iter().map(|&place| wears[place].name.as_str()).collect();
            Err(FindingsError::NoSensor(format!(
                "'{name}' names {} sensors; ask for one of them: {}",
                names.len(),
                names.join("; ")
            )))
        }
    }
}

/// One wear among all, and what is asked of it.
struct One<'a> {
    record: &'a Record,
    reader: Reader,
    ask: &'a TrustAsk,
    all: &'a [SensorWear],
    place: usize,
    checks: Vec<Check>,
}

impl One<'_> {
    fn wear(&self) -> &SensorWear {
        &self.all[self.place]
    }

    fn time(&self, at: Second) -> Time {
        Time(self.record.clock.moment(at))
    }

    fn within_15(&self) -> Allowance {
        allowance(self.ask, ALLOWANCES[0])
    }

    fn findings(&self, known: &Known) -> SensorFindings {
        let (record, ask, wear) = (self.record, self.ask, self.wear());
        let own = std::slice::from_ref(wear);
        let time = |at: Second| self.time(at);
        let paired = pairs::paired(record, own, &self.checks, ask.pairing);
        let other_rule = pairs::paired(record, own, &self.checks, ask.pairing.other());
        let (blood, scale, checks_used) = known.blood(record, self.all, &self.checks, self.place);
        let (scale, life) = told(blood, &scale, checks_used);
        let (from, to) = wear.span;
        let interval = Second::from(wear.interval_s);
        let pressed = self.pressed(known);
        let expected = expected_readings(from, to + interval, wear.interval_s);
        let readings = life.blood.at.len();
        SensorFindings {
            unit: self.reader.unit,
            pairing: ask.pairing,
            split_mg_dl: ask.split_mg_dl,
            seed: ask.seed,
            wear: wear_line(0, wear, &paired.pairs, &time),
            ended: wear.worn.ended.map(time),
            ending: wear.worn.ending().map(interstice_glucose::Ending::name),
            written: wear.worn.notes.clone(),
            readings: readings as u64,
            interval_s: wear.interval_s,
            active_percent: (100.0 * readings as f64 / expected.max(1.0)).min(100.0),
            previous: self.neighbour(self.place.checked_sub(1)),
            next: self.neighbour(self.place.checked_add(1)),
            counts: counts(own, &self.checks, &paired, &other_rule, self.within_15()),
            agreement: agreement(&paired.pairs, ask, ClusterBootstrap::seeded(ask.seed)),
            first_day: self.first_day(&paired.pairs),
            others: self.others(),
            lag: lag::of(&known.learned),
            checks: paired
                .pairs
                .iter()
                .map(|pair| check_line(pair, point(record, own, pair, &time)))
                .collect(),
            days: self.days(&paired.pairs, &life),
            faults: faults::lines(record, own, &paired.pairs, &time),
            around: self.around(&pressed),
            pressure: pressed.events,
            scale,
            life,
        }
    }

    fn neighbour(&self, place: Option<usize>) -> Option<String> {
        Some(self.all.get(place?)?.name.clone())
    }

    fn first_day(&self, pairs: &[Pair]) -> super::Share {
        let first = |pair: &&Pair| pair.worn_s.is_some_and(|worn_s| worn_s < DAY_S);
        let allowance = self.within_15();
        share(allowance, allowance.rate(pairs.iter().filter(first)))
    }

    fn others(&self) -> Option<OtherSensors> {
        let mut others = self.all.to_vec();
        others.remove(self.place);
        if others.is_empty() {
            return None;
        }
        let paired = pairs::paired(self.record, &others, &self.checks, self.ask.pairing);
        let mut sensors: Vec<usize> = paired.pairs.iter().map(|pair| pair.sensor).collect();
        sensors.sort_unstable();
        sensors.dedup();
        Some(OtherSensors {
            pairs: paired.pairs.len() as u64,
            sensors: sensors.len() as u64,
            agreement: agreement(&paired.pairs, self.ask, ClusterBootstrap::seeded(self.ask.seed)),
        })
    }

    /// What is told of pressure on this sensor.
    fn pressed(&self, known: &Known) -> PressureFindings {
        let mut pressed = known.pressed.findings(self.record, self.all, self.reader);
        let own = &self.wear().name;
        pressed.events.retain(|event| event.sensor_id == *own);
        pressed
            .said
            .retain(|said| said.sensor_id.as_ref().is_none_or(|name| name == own));
        pressed
    }

    /// Day by day of wear, up to the last reading.
    fn days(&self, pairs: &[Pair], life: &SensorLife) -> Vec<WearDay> {
        let wear = self.wear();
        let start = wear.started.unwrap_or(wear.span.0).min(wear.span.0);
        let (at, last) = (&life.blood.at, (wear.span.1 - start) / DAY_S);
        (0..=last)
            .map(|day| {
                let (from, to) = (start + day * DAY_S, start + (day + 1) * DAY_S);
                let place = |bound: Second| at.partition_point(|&at| Second::from(at) < bound);
                let (first, after) = (place(from), place(to));
                let of_day: Vec<&Pair> = pairs
                    .iter()
                    .filter(|pair| (from..to).contains(&pair.at.max(start)))
                    .collect();
                WearDay {
                    day: u32::try_from(day + 1).unwrap_or(u32::MAX),
                    from: self.time(from),
                    readings: (after - first) as u64,
                    checks: of_day.len() as u64,
                    within_15: self.within_15().rate(of_day.iter().copied()).within,
                    difference_percent: extremes(of_day.iter().map(|pair| pair.relative_percent())),
                    reads_high: (after > first)
                        .then(|| life.reads_high.get(usize::midpoint(first, after)).copied())
                        .flatten(),
                }
            })
            .collect()
    }

    fn around(&self, pressed: &PressureFindings) -> Around {
        let (wear, clock) = (self.wear(), &self.record.clock);
        let (first, last) = wear.span;
        let told = [wear.worn.put_on, wear.worn.started, wear.worn.ended];
        let near = || {
            let told = told.into_iter().flatten();
            told.filter(|&at| at >= first - AROUND_S && at <= last + AROUND_S)
        };
        let from = near().fold(first, Second::min);
        let to = near().fold(last, Second::max).max(from + 1);
        let night = self.reader.night.unwrap_or(USUAL_NIGHT);
        let said = pressed
            .said
            .iter()
            .filter(|said| said.verdict.was == LowWas::Pressure);
        let marked: Vec<(Second, Second)> = pairs::artefacts(self.record)
            .into_iter()
            .chain(said.map(|said| (said.start.0.at, said.end.0.at)))
            .filter(|&(start, end)| start < last && end > first)
            .map(|(start, end)| (start.max(first), end.min(last)))
            .collect();
        let left_out = pressed
            .events
            .iter()
            .filter(|event| event.left_out)
            .map(|event| event.span);
        Around {
            from,
            to,
            nights: nights(clock, night, (from, to), WIDTH),
            days: lived_days(clock, from, to)
                .iter()
                .filter(|day| clock.wall(day.from).second_of_day() == 0)
                .filter_map(|day| {
                    let date = clock.wall(day.from).civil()?.date().to_string();
                    Some(DayTick { at: day.from, date })
                })
                .collect(),
            hours: within(clock, TickStep::Seconds(HOURS_S), from, to),
            aside: left_out.chain(marked.iter().copied()).collect(),
            marked,
            gap_s: gap_limit_s(wear.interval_s),
            edges_mg_dl: self.reader.group.targets().edges_mg_dl(),
        }
    }
}

/// The scale at the sensor's middle reading, where it has a blood check.
fn told(blood: SensorBlood, scale: &[Scale], checks: usize) -> (SensorScale, SensorLife) {
    let mut sorted = blood.sensor_mg_dl.clone();
    sorted.sort_by(f64::total_cmp);
    let at_mg_dl = quantile(&sorted, 0.5).unwrap_or_default();
    let reason = (checks == 0).then(|| {
        "no blood check fell while this sensor was read, so how it scales is not known; one check would begin to tell"
            .to_owned()
    });
    let reads_high = match reason {
        Some(_) => Vec::new(),
        None => scale.iter().map(|scale| scale.reads_high(at_mg_dl)).collect(),
    };
    let told = SensorScale {
        at_mg_dl,
        checks: checks as u64,
        reason,
    };
    (told, SensorLife { blood, reads_high })
}

fn check_line(pair: &Pair, point: super::Point) -> CheckLine {
    let meter = Allowance {
        limit: METER_LIMIT,
        split_mg_dl: METER_SPLIT_MG_DL,
    };
    CheckLine {
        difference_mg_dl: pair.difference_mg_dl(),
        difference_percent: pair.relative_percent(),
        meter_mg_dl: meter.reach_mg_dl(pair.blood_mg_dl),
        point,
    }
}

fn extremes(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |found: Option<(f64, f64)>, value| {
        let (low, high) = found.unwrap_or((value, value));
        Some((low.min(value), high.max(value)))
    })
}

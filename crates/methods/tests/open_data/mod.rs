//! The open recordings and the simulated people, read as the pressure search needs them; for its test and its report.

#![allow(dead_code, reason = "the test and the report use different parts")]
#![expect(
    clippy::disallowed_methods,
    reason = "a test and a report find and read their own recordings"
)]

use std::path::{Path, PathBuf};

use interstice_glucose::Censor;
use interstice_methods::agreement::Check;
use interstice_methods::pressure::{Known, Night, PressureLow, PressureParams, PressureTrace, pressure_lows};

/// A silence this long between readings of a file without sensors is taken for a change of sensor, seconds.
const CHANGE_S: u32 = 3 * 3600;
/// Fewest readings of such a stretch.
const FEWEST: usize = 24;
const DAY_S: u32 = 86_400;
/// mg/dL in a mmol/L, as everywhere.
const MMOL: f64 = interstice_glucose::MG_PER_DL_IN_ONE_MMOL_PER_L;

/// Where the recordings are: `INTERSTICE_DATA`, or `../shared/data` beside the workspace.
pub(crate) fn data() -> Option<PathBuf> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let named = std::env::var_os("INTERSTICE_DATA").map(PathBuf::from);
    named
        .into_iter()
        .chain(["../../../shared/data", "../../../../shared/data"].map(|up| here.join(up)))
        .find(|dir| dir.join("real/MANIFEST.csv").is_file())
}

/// A planted event.
pub(crate) struct Planted {
    pub(crate) from: u32,
    pub(crate) to: u32,
    pub(crate) nadir_mg_dl: f64,
    /// True blood glucose at the lowest reading, less that reading, mg/dL.
    pub(crate) below_blood_mg_dl: f64,
}

#[derive(Default)]
pub(crate) struct Sensor {
    pub(crate) name: String,
    pub(crate) at: Vec<u32>,
    pub(crate) mg_dl: Vec<f64>,
    pub(crate) censor: Vec<Censor>,
    pub(crate) planted: Vec<Planted>,
}

#[derive(Default)]
pub(crate) struct Person {
    pub(crate) name: String,
    /// What the clock was ahead of UTC at the first reading, seconds.
    pub(crate) offset_s: i64,
    pub(crate) sensors: Vec<Sensor>,
    pub(crate) nights: Vec<Night>,
    pub(crate) checks: Vec<Check>,
    pub(crate) insulin: Vec<u32>,
    pub(crate) food: Vec<u32>,
    /// Times in bed with true blood below 70 mg/dL, at least 10 minutes; simulated people only.
    pub(crate) true_lows: Vec<(u32, u32)>,
}

impl Person {
    pub(crate) fn found(&self, sensor: &Sensor, params: &PressureParams) -> Vec<PressureLow> {
        let trace = PressureTrace {
            sensor: 0,
            at: &sensor.at,
            mg_dl: &sensor.mg_dl,
            censor: &sensor.censor,
        };
        let known = Known {
            nights: &self.nights,
            checks: &self.checks,
            insulin: &self.insulin,
            food: &self.food,
        };
        pressure_lows(&trace, &known, params).unwrap_or_default()
    }

    /// Nights of which a sensor saw at least an hour.
    pub(crate) fn nights_seen(&self) -> usize {
        let seen = |night: &&Night| {
            self.sensors.iter().any(|sensor| {
                let (Some(&first), Some(&last)) = (sensor.at.first(), sensor.at.last()) else {
                    return false;
                };
                first < night.to - 3600 && last > night.from + 3600
            })
        };
        self.nights.iter().filter(seen).count()
    }

    /// In bed from one hour to another by the clock the recording began on, as if no sleep were logged.
    pub(crate) fn by_the_clock(&mut self, from_hour: u32, to_hour: u32) {
        self.nights = usual_nights(&self.sensors, from_hour, to_hour, self.offset_s);
    }
}

/// Every night of the recording from one hour in the evening to one in the morning.
fn usual_nights(sensors: &[Sensor], from_hour: u32, to_hour: u32, offset_s: i64) -> Vec<Night> {
    let first = sensors
        .iter()
        .filter_map(|sensor| sensor.at.first())
        .min()
        .copied()
        .unwrap_or(0);
    let last = sensors
        .iter()
        .filter_map(|sensor| sensor.at.last())
        .max()
        .copied()
        .unwrap_or(0);
    ((first / DAY_S).saturating_sub(1)..=last / DAY_S + 1)
        .map(|day| {
            let evening = i64::from(day * DAY_S + from_hour * 3600) - offset_s;
            let morning = i64::from((day + 1) * DAY_S + to_hour * 3600) - offset_s;
            let whole = |second: i64| u32::try_from(second).unwrap_or(0);
            Night {
                from: whole(evening),
                to: whole(morning),
                logged: false,
            }
        })
        .collect()
}

struct Table {
    columns: Vec<String>,
    rows: Vec<csv::StringRecord>,
}

impl Table {
    fn read(path: &Path) -> Self {
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .flexible(true)
            .from_path(path)
            .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        let columns = reader
            .headers()
            .expect("a header")
            .iter()
            .map(|name| name.replace('\u{feff}', ""));
        Table {
            columns: columns.collect(),
            rows: reader.records().filter_map(Result::ok).collect(),
        }
    }

    fn column<'t>(&'t self, name: &str) -> impl Iterator<Item = &'t str> {
        let index = self.columns.iter().position(|column| column == name);
        let index = index.unwrap_or_else(|| panic!("no column {name} in {:?}", self.columns));
        self.rows.iter().map(move |row| row.get(index).unwrap_or(""))
    }
}

/// `2025-03-17T12:04:00+01:00`, `2014-02-03 03:42:00` or `08/10/2023 00:03` (day first); without an offset as if UTC.
fn instant(text: &str) -> Option<u32> {
    let part = |range: std::ops::Range<usize>| text.get(range)?.parse::<i64>().ok();
    let (year, month, day) = if text.get(2..3)? == "/" {
        (part(6..10)?, part(3..5)?, part(0..2)?)
    } else {
        (part(0..4)?, part(5..7)?, part(8..10)?)
    };
    let (shifted, moved) = if month <= 2 {
        (year - 1, month + 9)
    } else {
        (year, month - 3)
    };
    let (era, of_era) = (shifted.div_euclid(400), shifted.rem_euclid(400));
    let of_year = (153 * moved + 2) / 5 + day - 1;
    let days = era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468;
    let seconds = part(17..19).unwrap_or(0);
    let mut at = days * 86_400 + part(11..13)? * 3600 + part(14..16)? * 60 + seconds;
    let zone = text.get(19..).unwrap_or("");
    if zone.len() == 6 {
        let away = zone[1..3].parse::<i64>().ok()? * 3600 + zone[4..6].parse::<i64>().ok()? * 60;
        at += if zone.starts_with('-') { away } else { -away };
    }
    u32::try_from(at).ok()
}

fn push(sensor: &mut Sensor, at: u32, mg_dl: f64, censor: Censor) {
    sensor.at.push(at);
    sensor.mg_dl.push(mg_dl);
    sensor.censor.push(censor);
}

/// The six simulated people, from their input files; the truth beside it is for judging only.
pub(crate) fn simulated(data: &Path) -> Vec<Person> {
    (1..=6)
        .map(|i| simulated_person(&data.join("sim"), &format!("D0{i}")))
        .collect()
}

fn simulated_person(dir: &Path, name: &str) -> Person {
    let mut person = Person {
        name: name.to_owned(),
        ..Person::default()
    };
    let readings = Table::read(&dir.join(format!("input/{name}_cgm.csv")));
    let columns = readings.column("time_local").zip(readings.column("sensor_id"));
    let values = readings.column("glucose_mgdl").zip(readings.column("flag"));
    for ((at, sensor), (value, flag)) in columns.zip(values) {
        let (mg_dl, censor) = match flag {
            "below_range" => (40.0, Censor::Below),
            "above_range" => (400.0, Censor::Above),
            _ => (value.parse().unwrap_or(f64::NAN), Censor::None),
        };
        let place = person
            .sensors
            .iter()
            .position(|known| known.name == sensor)
            .unwrap_or_else(|| {
                person.sensors.push(Sensor {
                    name: sensor.to_owned(),
                    ..Sensor::default()
                });
                person.sensors.len() - 1
            });
        if mg_dl.is_finite() {
            push(
                &mut person.sensors[place],
                instant(at).expect("an instant"),
                mg_dl,
                censor,
            );
        }
    }
    let first = readings.column("time_local").next().unwrap_or("");
    let as_shown = first.get(..19).and_then(instant).unwrap_or(0);
    person.offset_s = i64::from(as_shown) - i64::from(instant(first).unwrap_or(0));
    log(
        &mut person,
        &Table::read(&dir.join(format!("input/{name}_events.csv"))),
    );
    plant(&mut person, &Table::read(&dir.join("truth/compressions.csv")));
    person.true_lows = true_lows(&person, &Table::read(&dir.join(format!("truth/{name}_cgm.csv"))));
    person
}

fn log(person: &mut Person, events: &Table) {
    let mut asleep = None;
    for ((at, event), value) in events
        .column("time_local")
        .zip(events.column("event"))
        .zip(events.column("value"))
    {
        let at = instant(at).expect("an instant");
        match event {
            "bolus" => person.insulin.push(at),
            "meal" => person.food.push(at),
            "fingerstick" => person.checks.push(Check {
                at: at.into(),
                mg_dl: value.parse().expect("a value"),
                censor: Censor::None,
            }),
            "sleep_start" => asleep = Some(at),
            "sleep_end" => {
                if let Some(from) = asleep.take() {
                    person.nights.push(Night {
                        from,
                        to: at,
                        logged: true,
                    });
                }
            }
            _ => {}
        }
    }
    // A recording that ends asleep.
    person.nights.extend(asleep.map(|from| Night {
        from,
        to: from + 9 * 3600,
        logged: true,
    }));
}

fn plant(person: &mut Person, truth: &Table) {
    let number = |text: &str| text.parse::<f64>().expect("a number");
    let who = truth.column("subject_id").zip(truth.column("sensor_id"));
    let when = truth.column("start_utc").zip(truth.column("end_utc"));
    let how = truth
        .column("min_sensor_mgdl")
        .zip(truth.column("true_bg_at_min_mgdl"));
    for (((subject, sensor), (from, to)), (nadir, blood)) in who.zip(when).zip(how) {
        let place = person.sensors.iter_mut().find(|known| known.name == sensor);
        if let (true, Some(place)) = (subject == person.name, place) {
            place.planted.push(Planted {
                from: instant(from).expect("an instant"),
                to: instant(to).expect("an instant"),
                nadir_mg_dl: number(nadir),
                below_blood_mg_dl: number(blood) - number(nadir),
            });
        }
    }
}

fn true_lows(person: &Person, truth: &Table) -> Vec<(u32, u32)> {
    let mut blood: Vec<(u32, f64)> = truth
        .column("time_utc")
        .zip(truth.column("true_bg_mgdl"))
        .filter_map(|(at, value)| Some((instant(at)?, value.parse().ok()?)))
        .collect();
    blood.sort_by_key(|&(at, _)| at);
    blood.dedup_by_key(|&mut (at, _)| at);
    let low = |&(at, mg_dl): &(u32, f64)| {
        mg_dl < 70.0
            && person
                .nights
                .iter()
                .any(|night| (night.from..=night.to).contains(&at))
    };
    blood
        .chunk_by(|a, b| low(a) == low(b))
        .filter(|run| low(&run[0]))
        .map(|run| (run[0].0, run[run.len() - 1].0))
        .filter(|(from, to)| to - from >= 600)
        .collect()
}

/// The sets of real people that report by themselves.
pub(crate) const REAL: [&str; 8] = [
    "hall2018_no_diabetes",
    "manchester",
    "bristol",
    "arizona",
    "texas_wearables",
    "adolescents",
    "shanghai",
    "hupa_ucm",
];

/// The people of one set: glucose only, in bed from 23 to 7 by the file's clock.
pub(crate) fn real(data: &Path, set: &str) -> Vec<Person> {
    let (ending, time, value, in_mmol) = match set {
        "manchester" => ("_glucose.csv", "bg_ts", "value", true),
        "adolescents" => ("_readings.csv", "time_local", "glucose_mmol_l", true),
        "shanghai" => (".csv", "time_local", "sensor_mgdl", false),
        _ => (".csv", "time_local", "glucose_mgdl", false),
    };
    let mut paths: Vec<PathBuf> = std::fs::read_dir(data.join("real").join(set))
        .expect("the set")
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.to_string_lossy().ends_with(ending))
        .collect();
    paths.sort();
    paths
        .iter()
        .filter_map(|path| real_person(path, time, value, in_mmol))
        .collect()
}

fn real_person(path: &Path, time: &str, value: &str, in_mmol: bool) -> Option<Person> {
    let table = Table::read(path);
    let stored = |index: usize| {
        let kind = table.columns.iter().position(|column| column == "record_kind");
        kind.is_none_or(|kind| table.rows[index].get(kind) == Some("stored_15min"))
    };
    let mut rows: Vec<(u32, f64)> = table
        .column(time)
        .zip(table.column(value))
        .enumerate()
        .filter(|&(index, _)| stored(index))
        .filter_map(|(_, (at, value))| {
            let local = at.get(..19).unwrap_or(at);
            let said = match value {
                "Low" => 39.0,
                "High" => 401.0,
                number => number.trim_start_matches(['<', '>']).parse().ok()?,
            };
            Some((instant(local)?, if in_mmol { said * MMOL } else { said }))
        })
        .collect();
    rows.sort_by_key(|&(at, _)| at);
    rows.dedup_by(|b, a| b.0 - a.0 < 54);
    let sensors = rows
        .chunk_by(|a, b| b.0 - a.0 <= CHANGE_S)
        .filter(|part| part.len() >= FEWEST)
        .map(|part| {
            let mut sensor = Sensor::default();
            for &(at, mg_dl) in part {
                let censor = if mg_dl <= 40.0 {
                    Censor::Below
                } else if mg_dl >= 400.0 {
                    Censor::Above
                } else {
                    Censor::None
                };
                push(&mut sensor, at, mg_dl, censor);
            }
            sensor
        })
        .collect::<Vec<_>>();
    let nights = usual_nights(&sensors, 23, 7, 0);
    let name = path.file_stem()?.to_string_lossy().into_owned();
    (!sensors.is_empty()).then(|| Person {
        name,
        sensors,
        nights,
        ..Person::default()
    })
}

/// Presses on every fifth night of a person: a third to a half taken off for 20 to 60 minutes, first-order in 3 to 6
/// minutes in and out. Returns what was planted, by sensor.
pub(crate) fn press(person: &mut Person) -> Vec<(usize, u32, u32)> {
    let mut planted = Vec::new();
    for (number, night) in person.nights.iter().enumerate().skip(1).step_by(5) {
        let draw =
            |salt: u32| f64::from(((number as u32 + salt) * 7).wrapping_mul(2_654_435_761) >> 16) / 65_536.0;
        let (held, part) = (1200.0 + 2400.0 * draw(1), 0.33 + 0.17 * draw(2));
        let (fall, rise) = (180.0 + 180.0 * draw(3), 180.0 + 180.0 * draw(4));
        let on = f64::from(night.from) + 3600.0 + (f64::from(night.to - night.from) - 12_600.0) * draw(5);
        let until = on + held + 2.0 * rise;
        for (index, sensor) in person.sensors.iter_mut().enumerate() {
            let within = sensor
                .at
                .iter()
                .filter(|&&at| f64::from(at) > on && f64::from(at) < on + held)
                .count();
            let (first, last) = (sensor.at[0], sensor.at[sensor.at.len() - 1]);
            if within < 2 || f64::from(first) > on - 43_200.0 || f64::from(last) < until + 7200.0 {
                continue;
            }
            for (&at, value) in sensor.at.iter().zip(&mut sensor.mg_dl) {
                let since = f64::from(at) - on;
                if since > 0.0 {
                    let climbed = 1.0 - libm::exp(-since.min(held) / fall);
                    *value *= 1.0 - part * climbed * libm::exp(-(since - held).max(0.0) / rise);
                }
            }
            planted.push((index, on as u32, until as u32));
        }
    }
    planted
}

/// How the findings compare with what was planted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Score {
    pub(crate) planted: usize,
    pub(crate) found: usize,
    /// Planted ones more than 24 mg/dL below blood or with a reading below 70.
    pub(crate) grave: usize,
    pub(crate) grave_found: usize,
    pub(crate) nights: usize,
    pub(crate) false_alarms: usize,
    pub(crate) true_lows: usize,
    pub(crate) miscalled: usize,
    /// What was missed or made up, in words.
    pub(crate) notes: Vec<String>,
}

/// Whether two stretches share at least half of the first.
pub(crate) fn half_of(of: (u32, u32), by: (u32, u32)) -> bool {
    let shared = of.1.min(by.1).saturating_sub(of.0.max(by.0));
    2 * shared > of.1 - of.0
}

pub(crate) fn score(people: &[Person], params: &PressureParams) -> Score {
    let mut score = Score::default();
    for person in people {
        score.nights += person.nights_seen();
        score.true_lows += person.true_lows.len();
        for sensor in &person.sensors {
            let found = person.found(sensor, params);
            add(&mut score, person, sensor, &found);
        }
    }
    score
}

fn add(score: &mut Score, person: &Person, sensor: &Sensor, found: &[PressureLow]) {
    let who = format!("{} {}", person.name, sensor.name);
    for planted in &sensor.planted {
        let hit = found
            .iter()
            .any(|low| half_of((planted.from, planted.to), (low.from, low.to)));
        let grave = planted.below_blood_mg_dl > 24.0 || planted.nadir_mg_dl < 70.0;
        score.planted += 1;
        score.found += usize::from(hit);
        score.grave += usize::from(grave);
        score.grave_found += usize::from(hit && grave);
        if !hit {
            let (nadir, below) = (planted.nadir_mg_dl, planted.below_blood_mg_dl);
            score.notes.push(format!(
                "missed: {who}, nadir {nadir}, {below:.0} mg/dL below blood"
            ));
        }
    }
    for low in found {
        let span = (low.from, low.to);
        let planted = sensor.planted.iter().any(|it| half_of((it.from, it.to), span));
        if !planted {
            score.false_alarms += 1;
            let (p, nadir) = (low.probability, low.nadir_mg_dl);
            score
                .notes
                .push(format!("made up: {who}, probability {p:.2}, nadir {nadir}"));
            let calls = |&&it: &&(u32, u32)| half_of(it, span) || half_of(span, it);
            score.miscalled += person.true_lows.iter().filter(calls).count();
        }
    }
}

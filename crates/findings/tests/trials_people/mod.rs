//! A person made up of sensors, each so far off, with blood checks on its first day.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]
#![allow(dead_code, reason = "each file of tests uses its part of it")]

use interstice_book::Book;
use interstice_glucose::{
    BloodCheck, BloodSource, Censor, Draft, Ending, Readings, Region, Said, Second, SensorDetail, SensorKind,
    SensorNote, SensorNoteKind, TraceDraft, TraceKind, Unit, WearFrom,
};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

pub(crate) const DAY: Second = 86_400;
/// 2025-03-03T09:00:00Z.
pub(crate) const START: Second = 1_740_992_400;

pub(crate) fn fortnight() -> SensorKind {
    SensorKind {
        name: "mine".to_owned(),
        wear_min: 14 * 1440,
        extra_min: 0,
        warm_up_min: 60,
        longest_bedding_min: 48 * 60,
        wear_from: WearFrom::Started,
        side_by_side: true,
        sites: vec![Region::UpperArm],
    }
}

/// One sensor: it reads a steady 150 mg/dL or so, and its checks lie off that.
#[derive(Clone, Debug)]
pub(crate) struct Sensor {
    pub(crate) site: String,
    pub(crate) preparation: Vec<String>,
    pub(crate) bedding_h: i64,
    /// Days from its start to its end.
    pub(crate) days: i64,
    pub(crate) ending: Option<Ending>,
    /// Blood checks on its first day.
    pub(crate) checks: usize,
    /// By how much each check is off, percent of blood, above and below in turn.
    pub(crate) off_percent: f64,
    /// In place of that, the signed difference of each check.
    pub(crate) off_each: Vec<f64>,
    /// Whether it reads every quarter of an hour, all in wave, off by `off_percent` throughout.
    pub(crate) reads: bool,
}

impl Sensor {
    pub(crate) fn good() -> Self {
        Sensor {
            site: "left upper arm".to_owned(),
            preparation: Vec::new(),
            bedding_h: 0,
            days: 14,
            ending: Some(Ending::Planned),
            checks: 6,
            off_percent: 8.0,
            off_each: Vec::new(),
            reads: false,
        }
    }

    fn off(&self, check: usize) -> f64 {
        if self.reads {
            return self.off_percent;
        }
        let turn = if check.is_multiple_of(2) { 1.0 } else { -1.0 };
        self.off_each
            .get(check)
            .copied()
            .unwrap_or(turn * self.off_percent)
    }
}

/// Sensors worn one after another.
#[derive(Clone, Debug)]
pub(crate) struct Person {
    pub(crate) sensors: Vec<Sensor>,
}

/// Between two sensors.
const BETWEEN_S: Second = 3 * 3600;

impl Person {
    pub(crate) fn new(sensors: Vec<Sensor>) -> Self {
        Person { sensors }
    }

    /// Sensors with a shift of their own and checks about it, both normal, percent.
    pub(crate) fn drawn(sensors: usize, checks: usize, spread: (f64, f64), seed: u64) -> Self {
        let mut dice = Dice::new(seed);
        let sensor = |dice: &mut Dice| {
            let shift = spread.0 * dice.normal();
            Sensor {
                checks,
                off_each: (0..checks).map(|_| shift + spread.1 * dice.normal()).collect(),
                ..Sensor::good()
            }
        };
        Person::new((0..sensors).map(|_| sensor(&mut dice)).collect())
    }

    /// When a sensor was put on.
    pub(crate) fn put_on(&self, place: usize) -> Second {
        let before = self.sensors[..place].iter();
        START
            + before
                .map(|one| one.bedding_h * 3600 + one.days * DAY + BETWEEN_S)
                .sum::<Second>()
    }

    /// A week after the last ended: nothing is on any more.
    pub(crate) fn end(&self) -> Second {
        self.put_on(self.sensors.len()) + 7 * DAY
    }

    /// All of it, as one file would bring it.
    pub(crate) fn draft(&self) -> Draft {
        let mut draft = Draft::default();
        for (place, sensor) in self.sensors.iter().enumerate() {
            self.add(place, sensor, &mut draft);
        }
        draft
    }

    pub(crate) fn book(&self) -> Book {
        let mut book = Book::in_memory().unwrap();
        book.log(&self.draft(), "made up", START).unwrap();
        book
    }

    fn add(&self, place: usize, sensor: &Sensor, draft: &mut Draft) {
        let name = format!("T{place:03}");
        let put_on = self.put_on(place);
        let started = put_on + sensor.bedding_h * 3600;
        let ended = started + sensor.days * DAY;
        let note = |at, kind, ending| SensorNote {
            at,
            kind,
            sensor: Some(name.clone()),
            site: (kind == SensorNoteKind::PutOn).then(|| sensor.site.clone()),
            note: None,
            detail: SensorDetail {
                preparation: sensor.preparation.clone(),
                ending,
                ..SensorDetail::default()
            },
        };
        draft.sensor_notes.extend([
            note(put_on, SensorNoteKind::PutOn, None),
            note(started, SensorNoteKind::Started, None),
            note(ended, SensorNoteKind::Ended, sensor.ending),
        ]);
        let mut readings = Readings::with_capacity(sensor.checks + 1);
        let tenths =
            |mg_dl: f64| Said::new((mg_dl * 10.0).round() as i64, 1, Unit::MgPerDl, Censor::None).unwrap();
        let wave = |at: Second| {
            if sensor.reads {
                150.0 + 30.0 * libm::sin((at - started) as f64 / 5400.0)
            } else {
                150.0
            }
        };
        let shown = |at: Second, off: f64| tenths(wave(at) * (1.0 + off / 100.0));
        for check in 0..sensor.checks {
            // Every two hours from the third on.
            let at = started + 3 * 3600 + 7200 * check as Second;
            let level = draft.levels.intern(shown(at, sensor.off(check)));
            readings.push(u32::try_from(at).unwrap(), level);
            draft.blood_checks.push(BloodCheck {
                at,
                said: tenths(wave(at)),
                source: BloodSource::Meter,
                note: None,
            });
        }
        let quarters = if sensor.reads {
            (ended - started - 4500) / 900
        } else {
            0
        };
        for quarter in 0..quarters {
            let at = started + 3600 + 900 * quarter;
            let level = draft.levels.intern(shown(at, sensor.off_percent));
            readings.push(u32::try_from(at).unwrap(), level);
        }
        readings.sort();
        // The last one tells that it read until its end.
        let said = Said::new(150, 0, Unit::MgPerDl, Censor::None).unwrap();
        readings.push(u32::try_from(ended - 600).unwrap(), draft.levels.intern(said));
        draft.traces.push(TraceDraft {
            sensor: name,
            kind: TraceKind::Automatic,
            readings,
        });
    }
}

/// Seeded chance.
pub(crate) struct Dice(ChaCha8Rng);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Dice(ChaCha8Rng::seed_from_u64(seed))
    }

    /// A standard normal (Box and Muller 1958).
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * libm::log(1.0 - self.0.random::<f64>())).sqrt();
        radius * libm::cos(2.0 * std::f64::consts::PI * self.0.random::<f64>())
    }
}

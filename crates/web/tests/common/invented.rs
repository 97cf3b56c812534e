//! An invented record: sensors of fourteen days, meals, doses, checks and nights of nobody.

use interstice_book::{ChangeId, EntryKind, EntryRef, Kept, Record, Trace};
use interstice_findings::{Reader, TargetGroup};
use interstice_glucose::{
    BloodCheck, BloodSource, Censor, DAY_S, Delivery, Dose, InsulinKind, InsulinLasts, Levels, LivedClock,
    Mark, MarkKind, Meal, Readings, Said, Second, SensorDetail, SensorNote, SensorNoteKind, TraceKind, Unit,
    WallTime, Zone,
};

/// Small seeded chance: xorshift64 of Marsaglia (2003), J. Stat. Soft. 8:14.
struct Chance(u64);

impl Chance {
    /// From 0 to below 1.
    fn share(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }
}

/// How an adult reads it, in mg/dL.
pub(crate) fn reader() -> Reader {
    Reader {
        unit: Unit::MgPerDl,
        group: TargetGroup::Adult,
        night: None,
        insulin: InsulinLasts::default(),
    }
}

/// Its last reading.
pub(crate) fn last(record: &Record) -> Second {
    let spans = record.traces.iter().filter_map(|trace| trace.readings.span());
    spans.map(|(_, last)| last).max().unwrap()
}

/// So many days up to 20 November 2025, a reading every `step_s` seconds, lived in Lisbon.
pub(crate) fn record(days: i64, step_s: u32) -> Record {
    let to = WallTime::new(2025, 11, 20, 0).unwrap().0;
    let from = to - days * DAY_S;
    let base_zone = Zone::named("Europe/Lisbon").unwrap();
    let mut life = Life {
        chance: Chance(0x5eed),
        clock: LivedClock::new(&base_zone, &[], 0, 4_000_000_000),
        levels: Levels::new(),
        meals: Vec::new(),
        doses: Vec::new(),
        marks: Vec::new(),
        checks: Vec::new(),
    };
    life.days(from, to);
    let (traces, notes) = life.sensors(from, to, step_s);
    life.marks.sort_by_key(|mark| mark.at);
    Record {
        from,
        to,
        levels: life.levels,
        traces,
        blood_checks: kept(EntryKind::BloodCheck, life.checks),
        doses: kept(EntryKind::Dose, life.doses),
        meals: kept(EntryKind::Meal, life.meals),
        marks: kept(EntryKind::Mark, life.marks),
        sensor_notes: kept(EntryKind::SensorNote, notes),
        photos: Vec::new(),
        low_verdicts: Vec::new(),
        lived: Vec::new(),
        base_zone,
        clock: life.clock,
        conflicts: 0,
    }
}

fn kept<T>(kind: EntryKind, entries: Vec<T>) -> Vec<Kept<T>> {
    let kept = |(id, it)| Kept {
        entry: EntryRef { kind, id },
        origin: ChangeId(1),
        by_hand: false,
        it,
        also: Vec::new(),
    };
    (1..).zip(entries).map(kept).collect()
}

struct Life {
    chance: Chance,
    clock: LivedClock,
    levels: Levels,
    meals: Vec<Meal>,
    doses: Vec<Dose>,
    marks: Vec<Mark>,
    checks: Vec<BloodCheck>,
}

impl Life {
    /// What was eaten, injected, slept and done.
    fn days(&mut self, from: Second, to: Second) {
        let dishes = [
            "porridge",
            "soup and bread",
            "rice and beans",
            "an apple",
            "pasta",
            "stew",
        ];
        for (number, day) in (from..to).step_by(86_400).enumerate() {
            let midnight = self.clock.first_at_or_after(WallTime(day));
            for (hour, grams) in [(7.2, 42.0), (12.6, 60.0), (19.3, 70.0)] {
                let at = midnight + (self.chance.between(hour - 0.6, hour + 0.9) * 3600.0) as Second;
                let grams = (grams * self.chance.between(0.5, 1.5)).round();
                let units = (grams / self.chance.between(6.0, 17.0) * 2.0).round() / 2.0;
                let dish = dishes[(self.chance.share() * 6.0) as usize];
                self.meals.push(meal(at, grams, dish));
                self.doses.push(dose(at - 600, units, InsulinKind::Rapid));
            }
            self.doses
                .push(dose(midnight + 22 * 3600 + 900, 18.0, InsulinKind::Long));
            let bed = (self.chance.between(22.6, 24.4) * 3600.0) as Second;
            let rise = (self.chance.between(29.8, 31.4) * 3600.0) as Second;
            self.mark(MarkKind::Sleep, midnight + bed, Some(midnight + rise), "");
            if self.chance.share() < 0.3 {
                let start = midnight + (self.chance.between(16.0, 18.5) * 3600.0) as Second;
                self.mark(MarkKind::Activity, start, Some(start + 2700), "run");
            }
            if self.chance.share() < 0.12 {
                self.mark(
                    MarkKind::Note,
                    midnight + 15 * 3600,
                    None,
                    "felt shaky before the meeting",
                );
            }
            if number % 9 == 4 {
                let start = midnight + 3 * 3600;
                self.mark(MarkKind::Artefact, start, Some(start + 2400), "pressure");
            }
        }
    }

    fn mark(&mut self, kind: MarkKind, at: Second, until: Option<Second>, text: &str) {
        let text = (!text.is_empty()).then(|| text.to_owned());
        self.marks.push(Mark {
            at,
            until,
            kind,
            value: None,
            text,
        });
    }

    /// Fourteen-day sensors, each put on half a day before the last one ends, and blood checks beside them.
    fn sensors(&mut self, from: Second, to: Second, step_s: u32) -> (Vec<Trace>, Vec<SensorNote>) {
        let (mut traces, mut notes) = (Vec::new(), Vec::new());
        let mut body = Body {
            glucose: 130.0,
            sugar: 0.0,
            insulin: 0.0,
            meal: 0,
            dose: 0,
        };
        let levels: Vec<u32> = (0..=400).map(|value| self.level(value)).collect();
        for (number, start) in (1..).zip((from..to).step_by(14 * 86_400)) {
            let sensor = format!("sensor {number}");
            let mut readings = Readings::default();
            let mut quiet_until = 0;
            for at in (start..(start + 14 * DAY_S).min(to)).step_by(step_s as usize) {
                let glucose = body.after(self, at, f64::from(step_s) / 60.0);
                if self.chance.share() < f64::from(step_s) / 300_000.0 {
                    quiet_until = at + (self.chance.between(0.5, 9.0) * 3600.0) as Second;
                }
                if at < quiet_until {
                    continue;
                }
                readings.push(
                    u32::try_from(at).unwrap(),
                    levels[glucose.clamp(40.0, 400.0) as usize],
                );
                if self.chance.share() < f64::from(step_s) / 36_000.0 {
                    let value = (glucose * self.chance.between(0.9, 1.1)) as i64;
                    self.checks.push(check(at + 30, value));
                }
            }
            notes.push(started(
                start,
                &sensor,
                ["upper arm, left", "thigh, right"][number % 2],
            ));
            traces.push(Trace {
                sensor,
                kind: TraceKind::Automatic,
                readings,
            });
        }
        (traces, notes)
    }

    fn level(&mut self, value: i64) -> u32 {
        let censor = match value {
            ..=40 => Censor::Below,
            400.. => Censor::Above,
            _ => Censor::None,
        };
        self.levels
            .intern(Said::new(value, 0, Unit::MgPerDl, censor).unwrap())
    }
}

/// A body that eats and injects: glucose is pushed up and down by what is still to act, and drawn back to its middle.
struct Body {
    glucose: f64,
    sugar: f64,
    insulin: f64,
    meal: usize,
    dose: usize,
}

impl Body {
    fn after(&mut self, life: &mut Life, at: Second, minutes: f64) -> f64 {
        while let Some(meal) = life.meals.get(self.meal).filter(|meal| meal.at <= at) {
            self.sugar += meal.carbohydrate_g.unwrap_or(0.0);
            self.meal += 1;
        }
        while let Some(dose) = life.doses.get(self.dose).filter(|dose| dose.at <= at) {
            self.insulin += if dose.insulin == InsulinKind::Rapid {
                dose.units
            } else {
                0.0
            };
            self.dose += 1;
        }
        let rise = self.sugar * 0.075 - self.insulin * 0.5 + (130.0 - self.glucose) * 0.004;
        self.glucose += (rise + life.chance.between(-0.9, 0.9)) * minutes.min(10.0);
        self.glucose = self.glucose.clamp(33.0, 420.0);
        self.sugar *= 1.0 - (minutes / 60.0).min(0.9);
        self.insulin *= 1.0 - (minutes / 80.0).min(0.9);
        self.glucose
    }
}

fn meal(at: Second, grams: f64, text: &str) -> Meal {
    Meal {
        at,
        carbohydrate_g: Some(grams),
        protein_g: None,
        fat_g: None,
        fibre_g: None,
        energy_kcal: None,
        text: Some(text.to_owned()),
    }
}

fn dose(at: Second, units: f64, insulin: InsulinKind) -> Dose {
    Dose {
        at,
        units,
        insulin,
        delivery: Delivery::AtOnce,
        note: None,
    }
}

fn check(at: Second, value: i64) -> BloodCheck {
    BloodCheck {
        at,
        said: Said::whole_mg_per_dl(value),
        source: BloodSource::Meter,
        note: None,
    }
}

fn started(at: Second, sensor: &str, site: &str) -> SensorNote {
    SensorNote {
        at,
        kind: SensorNoteKind::Started,
        sensor: Some(sensor.to_owned()),
        site: Some(site.to_owned()),
        note: None,
        detail: SensorDetail::default(),
    }
}

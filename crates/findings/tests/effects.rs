//! What makes a sensor good or bad, from books with planted truth and from books without any.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Provenance};
use interstice_findings::trust::EffectLine;
use interstice_findings::{TrustAsk, TrustFindings, trust_book};
use interstice_glucose::{
    BloodCheck, BloodSource, DAY_S, Draft, Mark, MarkKind, Readings, Said, Second, SensorDetail, SensorNote,
    SensorNoteKind, TraceDraft, TraceKind,
};

/// 2025-03-03T08:00:00Z.
const START: Second = 1_740_988_800;
/// Ten days of wear, and one without.
const STEP_S: Second = 11 * DAY_S;

/// Small seeded chance: xorshift64 of Marsaglia (2003), J. Stat. Soft. 8:14.
struct Chance(u64);

impl Chance {
    fn even(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    /// By the sum of twelve even ones less six.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

/// What is planted, percentage points of blood.
#[derive(Clone, Copy, Default)]
struct Planted {
    lot: f64,
    site: f64,
    litre: f64,
    ten_degrees: f64,
    pressed: f64,
    /// Days of each wear on which drinks were written down.
    drink_days: i64,
}

/// Glucose between 120 and 200 mg/dL; nobody's.
fn glucose(at: Second) -> f64 {
    let hours = (at - START) as f64 / 3600.0;
    160.0 + 25.0 * libm::sin(hours / 1.7) + 15.0 * libm::sin(hours / 5.3)
}

/// Sensors of ten days with three checks a day, two sites in turn, two lots in pairs.
fn book(seed: u64, sensors: i64, planted: Planted) -> Draft {
    let mut chance = Chance(seed * 7919 + 17);
    let mut draft = Draft::default();
    for number in 0..sensors {
        let start = START + number * STEP_S;
        let (site, lot) = (number % 2, number / 2 % 2);
        let name = format!("S{number}");
        let detail = SensorDetail {
            lot: Some(["A1", "B2"][lot as usize].to_owned()),
            ..SensorDetail::default()
        };
        draft.sensor_notes.push(SensorNote {
            at: start - 3600,
            kind: SensorNoteKind::Started,
            sensor: Some(name.clone()),
            site: Some(["left upper arm", "left thigh"][site as usize].to_owned()),
            note: None,
            detail,
        });
        let mut shift = 4.0 * chance.normal();
        shift += planted.lot * lot as f64 + planted.site * site as f64;
        let days = (0..10).map(|_| Day {
            litres: 1.0 + 0.25 * (chance.even() * 9.0).floor(),
            celsius: (15.0 + 20.0 * chance.even()).round(),
        });
        let days: Vec<Day> = days.collect();
        wear(&mut draft, &name, start, planted);
        for (day, of) in days.iter().enumerate() {
            let midnight = start + day as Second * DAY_S;
            around(&mut draft, midnight, *of, (day as i64) < planted.drink_days);
            let off = shift + planted.litre * of.litres + planted.ten_degrees * of.celsius / 10.0;
            checks(&mut draft, midnight, off, &mut chance);
        }
    }
    draft
}

#[derive(Clone, Copy)]
struct Day {
    litres: f64,
    celsius: f64,
}

/// Readings every five minutes; in a pressed book 30 points low for 40 minutes of each night, at 03:00 (19 hours after 08:00).
fn wear(draft: &mut Draft, name: &str, start: Second, planted: Planted) {
    let mut readings = Readings::default();
    for i in 0..10 * 288_i64 {
        let at = start + i * 300;
        let minute = i * 5 % 1440;
        let share = if (1140..1180).contains(&minute) {
            planted.pressed
        } else {
            0.0
        };
        let value = (glucose(at) * (1.0 + share / 100.0)).round() as i64;
        let level = draft.levels.intern(Said::whole_mg_per_dl(value));
        readings.push(u32::try_from(at).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: name.to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
}

fn mark(draft: &mut Draft, at: Second, until: Option<Second>, kind: MarkKind, value: Option<f64>) {
    draft.marks.push(Mark {
        at,
        until,
        kind,
        value,
        text: None,
    });
}

/// The day's drinks in four parts from its first hour on, its temperature at its middle, and its night.
fn around(draft: &mut Draft, midnight: Second, day: Day, drinks: bool) {
    for part in 0..4 {
        if drinks {
            let ml = 250.0 * day.litres;
            mark(draft, midnight + part * 600, None, MarkKind::Drink, Some(ml));
            mark(
                draft,
                midnight + 11 * 3600,
                None,
                MarkKind::Temperature,
                Some(day.celsius),
            );
        }
    }
    let bed = midnight + 15 * 3600;
    mark(draft, bed, Some(bed + 8 * 3600), MarkKind::Sleep, None);
}

/// At 12 and 14 hours, and in the night at 19 hours and 20 minutes, each so far below the reading that the reading is off by `off`
/// percent of it and 8 more by chance.
fn checks(draft: &mut Draft, midnight: Second, off: f64, chance: &mut Chance) {
    for minutes in [12 * 60, 14 * 60, 19 * 60 + 20] {
        let at = midnight + minutes * 60;
        let blood = glucose(at) / (1.0 + (off + 8.0 * chance.normal()) / 100.0);
        draft.blood_checks.push(BloodCheck {
            at,
            said: Said::whole_mg_per_dl(blood.round() as i64),
            source: BloodSource::Meter,
            note: None,
        });
    }
}

fn answer(draft: &Draft) -> TrustFindings {
    let mut book = Book::in_memory().unwrap();
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(draft, &Provenance::named("made up", [0; 32]), go_on)
        .unwrap();
    trust_book(&book, &TrustAsk::default()).unwrap()
}

fn line<'a>(found: &'a TrustFindings, about: &str, of: &str) -> &'a EffectLine {
    let asked = |line: &&EffectLine| line.about == about && line.of == of;
    found
        .effects
        .asked
        .iter()
        .find(asked)
        .unwrap_or_else(|| panic!("no {about} in {:?}", found.effects.asked))
}

#[track_caller]
fn holds(line: &EffectLine, truth: f64) {
    let (lo, hi) = (line.points_lo95.unwrap(), line.points_hi95.unwrap());
    assert!(lo < truth && truth < hi, "{truth}: {line:?}");
    assert!(line.holds && line.standing == "there", "{line:?}");
    assert!(line.says.ends_with("this is there"), "{}", line.says);
    assert_eq!(line.more_sensors, Some(0));
}

#[test]
fn a_biased_lot_is_told_and_the_site_is_not_blamed() {
    let planted = Planted {
        lot: 16.0,
        ..Planted::default()
    };
    let found = answer(&book(1, 12, planted));
    let lot = line(&found, "lot", "signed");
    assert_eq!(
        (lot.level.as_deref(), lot.beside.as_deref()),
        (Some("B2"), Some("A1"))
    );
    assert_eq!((lot.sensors, lot.sensors_beside), (Some(6), Some(6)));
    holds(lot, 16.0);
    let site = line(&found, "site", "signed");
    assert!(!site.holds && site.q.unwrap() > 0.05, "{site:?}");
    let levels: Vec<&str> = found
        .effects
        .levels
        .iter()
        .map(|level| level.level.as_str())
        .collect();
    assert_eq!(levels, ["thigh", "upper arm", "A1", "B2"]);
}

#[test]
fn a_worse_site_is_told_by_how_far_off_it_is() {
    let planted = Planted {
        site: -20.0,
        ..Planted::default()
    };
    let found = answer(&book(2, 12, planted));
    // Of two with as many sensors the first by name is what the other is held against.
    let signed = line(&found, "site", "signed");
    assert_eq!(
        (signed.level.as_deref(), signed.beside.as_deref()),
        (Some("upper arm"), Some("thigh"))
    );
    holds(signed, 20.0);
    let size = line(&found, "site", "size");
    assert!(size.holds && size.points.unwrap() < -5.0, "{size:?}");
    assert!(size.says.contains("points closer to blood"), "{}", size.says);
}

/// Nothing planted: nothing is told as there in eight books, and each open answer says what would settle it.
#[test]
fn where_nothing_is_nothing_is_told() {
    for seed in 10..18 {
        let found = answer(&book(seed, 6, Planted::default()));
        for line in &found.effects.asked {
            assert!(!line.holds, "{seed}: {line:?}");
            match line.standing {
                "untold" => assert!(line.points.is_none() && !line.says.is_empty()),
                "too_small" => assert_eq!(line.more_sensors, Some(0)),
                _ => {
                    assert!(line.says.contains("would"), "{}", line.says);
                    assert_ne!(line.more_sensors, Some(0), "{line:?}");
                }
            }
        }
    }
}

/// Water and temperature as they were written down: a slope for each litre and for each ten degrees.
#[test]
fn water_and_temperature_have_slopes() {
    let planted = Planted {
        litre: -8.0,
        ten_degrees: 9.0,
        drink_days: 10,
        ..Planted::default()
    };
    let found = answer(&book(3, 8, planted));
    let water = line(&found, "water drunk", "signed");
    assert_eq!(water.step, Some("each litre more, 24 h before"));
    holds(water, -8.0);
    let warm = line(&found, "temperature", "signed");
    assert_eq!(warm.step, Some("each 10 °C more"));
    holds(warm, 9.0);
    let none = answer(&book(
        4,
        8,
        Planted {
            drink_days: 10,
            ..Planted::default()
        },
    ));
    for about in ["water drunk", "temperature"] {
        let line = line(&none, about, "signed");
        assert!(!line.holds && line.points.is_some(), "{line:?}");
    }
}

/// Drinks on two days of each wear: the first has none before it, so logging may only have begun; the second alone is known.
#[test]
fn too_few_days_of_logging_say_how_many_are_needed() {
    let few = Planted {
        drink_days: 2,
        ..Planted::default()
    };
    let found = answer(&book(5, 8, few));
    let water = line(&found, "water drunk", "signed");
    assert_eq!(water.standing, "untold");
    assert_eq!(water.says, "it was logged on 8 days of wear; 10 are needed");
    let none = answer(&book(6, 4, Planted::default()));
    assert_eq!(
        line(&none, "water drunk", "size").says,
        "nothing of it was logged beside a check; 8 checks with it are needed"
    );
}

/// Lows of 40 minutes in every night, 45 % off: checks in them stand far above the readings. They are found by the readings
/// alone, so that the checks cannot explain themselves.
#[test]
fn pressure_is_compared_without_the_checks_that_would_call_it() {
    let planted = Planted {
        pressed: -45.0,
        ..Planted::default()
    };
    let found = answer(&book(7, 6, planted));
    let pressed = line(&found, "pressure", "signed");
    assert!(pressed.holds && pressed.points.unwrap() < -30.0, "{pressed:?}");
    assert_eq!(
        (pressed.level.as_deref(), pressed.beside.as_deref()),
        (Some("within 1 h"), Some("apart from it"))
    );
    let calm = answer(&book(8, 6, Planted::default()));
    assert_eq!(line(&calm, "pressure", "signed").standing, "untold");
}

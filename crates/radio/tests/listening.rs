//! Listening to a sensor that is played: what it stored, sends, and gets wrong. No radio was near.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod mock;

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;
use std::time::{Duration, Instant};

use interstice_glucose::{Draft, Second};
use interstice_home::{Clock, Heard};
use interstice_intake::bluetooth::{SensorStatus, SessionStart, Sfloat, StoredAsk};
use interstice_radio::{At, Desk, Pace, keep, paired};
use mock::{ADDRESS, BEGAN, Bluez, Daemon, Sensor, forge, record};
use tokio::sync::watch;

/// Everything at a pace that a test can wait for.
const PACE: Pace = Pace {
    first: Duration::from_millis(20),
    longest: Duration::from_millis(100),
    silence: Duration::from_millis(300),
    answers_within: Duration::from_secs(2),
};
const PATIENCE: Duration = Duration::from_secs(20);

/// What the desk was handed.
#[derive(Default)]
struct Written {
    /// Readings by instant.
    readings: BTreeMap<Second, String>,
    sensors: Vec<String>,
    refused: Vec<String>,
    heard: Heard,
    troubles: Vec<String>,
    records: u64,
    takes: u32,
    now: Second,
    /// So many times the book cannot be written.
    fails: u32,
}

#[derive(Clone, Default)]
struct Kept(Rc<RefCell<Written>>);

impl Desk for Kept {
    fn now(&self) -> Second {
        self.0.borrow().now
    }

    fn take(&mut self, rows: Draft, records: u64) -> Result<(), String> {
        let mut written = self.0.borrow_mut();
        if written.fails > 0 {
            written.fails -= 1;
            return Err("the disk is full".to_owned());
        }
        written.takes += 1;
        written.records += records;
        for trace in &rows.traces {
            if !written.sensors.contains(&trace.sensor) {
                written.sensors.push(trace.sensor.clone());
            }
            for (&at, &level) in trace.readings.at().iter().zip(trace.readings.level()) {
                let said = rows.levels.get(level).said.to_string();
                let before = written.readings.insert(Second::from(at), said.clone());
                assert!(
                    before.is_none_or(|before| before == said),
                    "{at} was said otherwise before"
                );
            }
        }
        written
            .refused
            .extend(rows.rejected.iter().map(|row| row.reason.clone()));
        Ok(())
    }

    fn note(&mut self, heard: &Heard) -> Result<(), String> {
        let mut written = self.0.borrow_mut();
        written.heard = heard.clone();
        if let Some(trouble) = &heard.trouble
            && written.troubles.last() != Some(trouble)
        {
            written.troubles.push(trouble.clone());
        }
        Ok(())
    }
}

impl Kept {
    fn at(now: Second) -> Self {
        let kept = Kept::default();
        kept.0.borrow_mut().now = now;
        kept
    }

    /// Waits until it holds.
    async fn until(&self, what: &str, holds: impl Fn(&Written) -> bool) {
        let begun = Instant::now();
        while !holds(&self.0.borrow()) {
            let told = self.told();
            assert!(begun.elapsed() < PATIENCE, "{what} never came: {told}");
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    }

    fn told(&self) -> String {
        let written = self.0.borrow();
        format!("{:?} {:?}", written.readings, written.troubles)
    }

    fn minutes(&self) -> Vec<i64> {
        let written = self.0.borrow();
        written.readings.keys().map(|at| (at - BEGAN) / 60).collect()
    }
}

/// Plays a sensor that is listened to, from what was known of it, while the scenario runs.
async fn playing<F>(sensor: Sensor, kept: &Kept, scenario: impl FnOnce(Bluez, String) -> F)
where
    F: Future<Output = ()>,
{
    let Some(daemon) = Daemon::start() else { return };
    let bluez = Bluez::start(&daemon.address, sensor).await;
    let at = At::Address(daemon.address.clone());
    let (stop, stopped) = watch::channel(false);
    let heard = kept.0.borrow().heard.clone();
    let mut desk = kept.clone();
    let listening = keep(&at, ADDRESS, PACE, heard, &mut desk, stopped);
    let scenario = async {
        scenario(bluez, daemon.address.clone()).await;
        stop.send(true).unwrap();
    };
    tokio::join!(listening, scenario);
}

const NOW: Second = BEGAN + 3600 + 20;

fn from(from_min: Option<u16>) -> [StoredAsk; 2] {
    [true, false].map(|only_count| StoredAsk { only_count, from_min })
}

#[tokio::test]
async fn what_was_stored_comes_and_then_each_reading_as_it_is_measured() {
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    playing(Sensor::with_stored(0..=60), &kept, async |bluez, _| {
        desk.until("what was stored", |it| it.readings.len() == 13).await;
        bluez.measure(record(65, 151)).await;
        desk.until("what was measured", |it| it.readings.len() == 14)
            .await;
        let sensor = bluez.sensor();
        assert_eq!(sensor.asked(), from(None));
    })
    .await;
    let written = kept.0.borrow();
    if written.takes == 0 {
        return;
    }
    assert_eq!(written.readings[&(BEGAN + 300)], "105 mg/dL");
    assert_eq!(written.readings[&(BEGAN + 65 * 60)], "151 mg/dL");
    assert_eq!(written.sensors, ["left arm 2026-03-01T06:30Z"]);
    let session = written.heard.session.as_ref().unwrap();
    assert_eq!((session.clock, session.last_min), (Clock::Agrees, Some(65)));
    assert_eq!(written.heard.trouble, None);
    assert_eq!(written.takes, 2, "what was stored is written in one piece");
}

#[tokio::test]
async fn after_a_lost_connection_only_what_is_missing_is_asked_for() {
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    playing(Sensor::with_stored(0..=60), &kept, async |bluez, _| {
        desk.until("what was stored", |it| it.readings.len() == 13).await;
        {
            let mut sensor = bluez.sensor();
            sensor.out_of_reach = 3;
            sensor.store(65..=90);
        }
        desk.0.borrow_mut().now = NOW + 1800;
        bluez.leave().await;
        desk.until("what was stored meanwhile", |it| it.readings.len() == 19)
            .await;
        let sensor = bluez.sensor();
        assert_eq!(sensor.connects, 5, "three tries failed");
        assert_eq!(sensor.asked(), [from(None), from(Some(61))].concat());
        let written = desk.0.borrow();
        assert!(
            written.troubles[0].contains("was not reached"),
            "{:?}",
            written.troubles
        );
        assert_eq!(written.heard.trouble, None, "it is over");
        assert_eq!(written.records, 19, "nothing came twice");
    })
    .await;
}

#[tokio::test]
async fn a_connection_that_ends_midway_loses_nothing() {
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    let sensor = Sensor {
        ends_after: Some(5),
        ..Sensor::with_stored(0..=60)
    };
    playing(sensor, &kept, async |bluez, _| {
        desk.until("everything", |it| it.readings.len() == 13).await;
        assert_eq!(bluez.sensor().asked(), [from(None), from(None)].concat());
    })
    .await;
}

#[tokio::test]
async fn a_program_that_was_ended_goes_on_where_it_was() {
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    let sensor = Sensor::with_stored(0..=60);
    playing(sensor.clone(), &kept, async |_, _| {
        desk.until("what was stored", |it| {
            it.heard
                .session
                .as_ref()
                .is_some_and(|it| it.last_min == Some(60))
        })
        .await;
    })
    .await;
    let mut later = sensor;
    later.store(65..=75);
    kept.0.borrow_mut().now = NOW + 900;
    playing(later, &kept, async |bluez, _| {
        desk.until("the rest", |it| it.readings.len() == 16).await;
        assert_eq!(bluez.sensor().asked(), from(Some(61)));
    })
    .await;
}

#[tokio::test]
async fn a_damaged_record_is_asked_for_again() {
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    playing(Sensor::with_stored(0..=60), &kept, async |bluez, _| {
        desk.until("what was stored", |it| it.readings.len() == 13).await;
        bluez.sensor().damaged = 1;
        bluez.measure(record(65, 151)).await;
        desk.until("it, asked for", |it| it.readings.len() == 14).await;
        assert_eq!(bluez.sensor().asked(), [from(None), from(Some(61))].concat());
    })
    .await;
}

#[tokio::test]
async fn stored_records_that_come_damaged_or_not_at_all_are_asked_for_again() {
    for counts in [true, false] {
        let kept = Kept::at(NOW);
        let desk = kept.clone();
        let sensor = Sensor {
            damaged: 2,
            swallowed: u32::from(counts),
            counts,
            ..Sensor::with_stored(0..=60)
        };
        playing(sensor, &kept, async |_, _| {
            desk.until("everything", |it| {
                it.readings.len() == 13
                    && it
                        .heard
                        .session
                        .as_ref()
                        .is_some_and(|it| it.last_min == Some(60))
            })
            .await;
            assert_eq!(desk.0.borrow().troubles, [""; 0]);
        })
        .await;
    }
}

#[tokio::test]
async fn what_never_comes_whole_is_told_and_the_rest_is_kept() {
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    let mut sensor = Sensor {
        counts: true,
        ..Sensor::with_stored(0..=60)
    };
    // One record in each of three reports: the first notice each time.
    sensor.stored.insert(0, record(0, 100));
    sensor.in_one = 13;
    sensor.damaged = 3;
    playing(sensor, &kept, async |bluez, _| {
        desk.until("the trouble", |it| it.heard.trouble.is_some()).await;
        let told = desk.0.borrow().heard.trouble.clone().unwrap();
        assert!(
            told.starts_with("13 records of the sensor came damaged"),
            "{told}"
        );
        bluez.measure(record(65, 151)).await;
        desk.until("what comes after", |it| it.readings.len() == 1).await;
    })
    .await;
}

#[tokio::test]
async fn several_in_one_piece_and_each_twice_are_the_same_readings() {
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    let sensor = Sensor {
        in_one: 3,
        times: 2,
        ..Sensor::with_stored(0..=60)
    };
    playing(sensor, &kept, async |bluez, _| {
        desk.until("what was stored", |it| it.readings.len() == 13).await;
        bluez.measure(record(65, 151)).await;
        bluez.measure(record(60, 160)).await;
        bluez.measure(record(70, 152)).await;
        desk.until("the last", |it| it.readings.len() == 15).await;
    })
    .await;
    if !kept.0.borrow().readings.is_empty() {
        assert_eq!(kept.minutes(), (0..=70).step_by(5).collect::<Vec<_>>());
    }
}

#[tokio::test]
async fn a_sensor_without_checksums_and_without_a_store_is_heard_too() {
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    let sensor = Sensor {
        with_checksum: false,
        has_stored: false,
        ..Sensor::with_stored(0..=60)
    };
    playing(sensor, &kept, async |bluez, _| {
        desk.until("its session", |it| it.heard.session.is_some()).await;
        bluez.measure(record(65, 151)).await;
        desk.until("what was measured", |it| it.readings.len() == 1).await;
        assert!(bluez.sensor().written.is_empty());
    })
    .await;
}

#[tokio::test]
async fn readings_of_a_clock_that_is_off_are_dated_by_how_long_ago_they_were() {
    let three_hours_ahead = SessionStart {
        parts: [3, 1, 10, 30, 0],
        ..Sensor::default().start
    };
    let none = SessionStart {
        year: 0,
        parts: [0; 5],
        zone_quarters: -128,
        daylight_quarters: 255,
    };
    for (start, clock) in [
        (three_hours_ahead, Clock::Differs(3 * 3600 - 20)),
        (none, Clock::Unknown),
    ] {
        let kept = Kept::at(NOW);
        let desk = kept.clone();
        let sensor = Sensor {
            start,
            ..Sensor::with_stored(0..=60)
        };
        playing(sensor, &kept, async |_, _| {
            desk.until("what was stored", |it| it.readings.len() == 13).await;
        })
        .await;
        let written = kept.0.borrow();
        let Some(session) = &written.heard.session else {
            return;
        };
        assert_eq!((session.start, session.clock), (BEGAN + 20, clock));
        assert_eq!(written.readings.keys().next(), Some(&(BEGAN + 20)));
    }
}

#[tokio::test]
async fn another_session_is_another_sensor() {
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    playing(Sensor::with_stored(0..=60), &kept, async |bluez, _| {
        desk.until("what was stored", |it| it.readings.len() == 13).await;
        {
            let mut sensor = bluez.sensor();
            sensor.stored.clear();
            sensor.start.parts = [3, 1, 8, 40, 0];
        }
        desk.0.borrow_mut().now = BEGAN + 70 * 60 + 5 * 60;
        bluez.measure(record(5, 120)).await;
        desk.until("the first of the new one", |it| it.sensors.len() == 2)
            .await;
    })
    .await;
    let written = kept.0.borrow();
    if !written.sensors.is_empty() {
        assert_eq!(written.sensors[1], "left arm 2026-03-01T07:40Z");
        assert_eq!(written.readings[&(BEGAN + 75 * 60)], "120 mg/dL");
    }
}

#[tokio::test]
async fn what_cannot_be_written_is_asked_for_again() {
    let kept = Kept::at(NOW);
    kept.0.borrow_mut().fails = 2;
    let desk = kept.clone();
    playing(Sensor::with_stored(0..=60), &kept, async |bluez, _| {
        desk.until("everything", |it| it.readings.len() == 13).await;
        let written = desk.0.borrow();
        assert!(
            written.troubles[0].contains("the disk is full"),
            "{:?}",
            written.troubles
        );
        assert_eq!(bluez.sensor().asked().len(), 6);
    })
    .await;
}

#[tokio::test]
async fn what_is_no_glucose_is_kept_with_its_reason() {
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    let mut sensor = Sensor::with_stored(0..=60);
    let broken = |status| SensorStatus {
        status: Some(status),
        ..SensorStatus::default()
    };
    let warned = |warning| SensorStatus {
        warning: Some(warning),
        ..SensorStatus::default()
    };
    let mut with = |minute: u16, glucose, status| {
        let mut it = record(minute, 40);
        it.glucose = glucose;
        it.status = status;
        sensor.stored.insert(minute, it);
    };
    let forty = record(0, 40).glucose;
    with(5, Sfloat::NotANumber, SensorStatus::default());
    with(10, forty, broken(1 << 3));
    with(15, record(0, 3).glucose, SensorStatus::default());
    with(20, forty, warned(1 << 6));
    with(25, record(0, 400).glucose, warned(1 << 7));
    // The battery is low, and a limit of the wearer's own was crossed: neither says anything of the value.
    with(30, forty, broken(1 << 1));
    with(35, forty, warned(1));
    playing(sensor, &kept, async |_, _| {
        desk.until("the others", |it| it.readings.len() == 10).await;
    })
    .await;
    let written = kept.0.borrow();
    if written.takes == 0 {
        return;
    }
    let at = |minute: i64| written.readings[&(BEGAN + 60 * minute)].as_str();
    assert_eq!(
        (at(20), at(25), at(30), at(35)),
        ("below 40 mg/dL", "above 400 mg/dL", "40 mg/dL", "40 mg/dL")
    );
    assert_eq!(written.refused.len(), 3, "{:?}", written.refused);
}

#[tokio::test]
async fn others_on_the_bus_cannot_pretend_to_be_the_sensor() {
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    playing(Sensor::with_stored(0..=60), &kept, async |bluez, address| {
        desk.until("what was stored", |it| it.readings.len() == 13).await;
        let forger = zbus::connection::Builder::address(address.as_str())
            .build()
            .await
            .unwrap();
        forge(&forger, record(65, 400).encode(true).unwrap()).await;
        bluez.measure(record(70, 152)).await;
        desk.until("the sensor's own", |it| it.readings.len() >= 14).await;
        assert_eq!(desk.minutes().last(), Some(&70));
        assert_eq!(desk.0.borrow().readings.len(), 14);
    })
    .await;
}

#[tokio::test]
async fn what_cannot_be_listened_to_says_why() {
    let not = |change: fn(&mut Sensor)| {
        let mut sensor = Sensor::with_stored(0..=60);
        change(&mut sensor);
        sensor
    };
    for (sensor, why) in [
        (
            not(|it| it.is_known = false),
            "pair it in the system's Bluetooth settings",
        ),
        (not(|it| it.is_paired = false), "is not paired"),
        (
            not(|it| it.has_service = false),
            "does not speak the open service",
        ),
        (
            not(|it| it.damaged_reads = 1000),
            "what it can do of the sensor cannot be read",
        ),
        (not(|it| it.out_of_reach = 1000), "was not reached"),
    ] {
        let kept = Kept::at(NOW);
        let desk = kept.clone();
        playing(sensor, &kept, async |_, _| {
            desk.until(why, |it| it.heard.trouble.is_some()).await;
            let told = desk.0.borrow().heard.trouble.clone().unwrap();
            assert!(told.contains(why), "{told}");
            assert_eq!(desk.0.borrow().takes, 0);
        })
        .await;
    }
    // A characteristic that comes damaged once or twice is read again.
    let kept = Kept::at(NOW);
    let desk = kept.clone();
    playing(not(|it| it.damaged_reads = 2), &kept, async |_, _| {
        desk.until("what was stored", |it| it.readings.len() == 13).await;
        assert_eq!(desk.0.borrow().troubles, [""; 0]);
    })
    .await;
}

#[tokio::test]
async fn paired_sensors_are_listed_and_a_bus_without_the_service_says_so() {
    let Some(daemon) = Daemon::start() else { return };
    let at = At::Address(daemon.address.clone());
    let told = paired(&at).await.unwrap_err().to_string();
    assert!(told.contains("look whether Bluetooth is on"), "{told}");
    let bluez = Bluez::start(&daemon.address, Sensor::default()).await;
    let found = paired(&at).await.unwrap();
    let found: Vec<_> = found
        .iter()
        .map(|it| (it.address.as_str(), it.name.as_str()))
        .collect();
    assert_eq!(found, [(ADDRESS, "left arm")]);
    bluez.sensor().is_paired = false;
    assert_eq!(paired(&at).await.unwrap(), []);
}

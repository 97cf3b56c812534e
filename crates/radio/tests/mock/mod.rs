//! The system's Bluetooth service, played on a bus of its own: one sensor with the open service for continuous glucose.
//! What it stores, sends and gets wrong is set by the test.
#![allow(dead_code, reason = "each test file uses its part")]
#![expect(clippy::print_stdout, reason = "a test says why it is skipped")]

use std::collections::{BTreeMap, HashMap};
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex, MutexGuard};

use interstice_intake::bluetooth::{
    CgmFeatures, CgmMeasurement, CgmStatus, SensorStatus, SessionStart, Sfloat, StoredAnswer, StoredAsk,
};
use tempfile::TempDir;
use zbus::{Connection, fdo, interface};
use zbus::{ObjectPath, OwnedObjectPath, OwnedVariant, Variant};

pub(crate) const ADDRESS: &str = "00:11:22:33:44:55";
const DEVICE: &str = "/org/bluez/hci0/dev_00_11_22_33_44_55";
const PROPERTIES: &str = "org.freedesktop.DBus.Properties";
const CHARACTERISTIC: &str = "org.bluez.GattCharacteristic1";
/// The session began 2026-03-01 at 06:30 universal time, 07:30 by the sensor's clock.
pub(crate) const BEGAN: i64 = 1_772_346_600;

fn uuid(short: &str) -> String {
    format!("0000{short}-0000-1000-8000-00805f9b34fb")
}

fn service() -> String {
    format!("{DEVICE}/service0010")
}

fn part(short: &str) -> String {
    format!("{DEVICE}/service0010/char_{short}")
}

/// A bus of one's own; it ends with this.
pub(crate) struct Daemon {
    child: Child,
    pub(crate) address: String,
    _folder: TempDir,
}

impl Drop for Daemon {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Daemon {
    /// `None` where there is no dbus-daemon, which is said.
    pub(crate) fn start() -> Option<Self> {
        if Command::new("dbus-daemon").arg("--version").output().is_err() {
            assert!(
                std::env::var_os("INTERSTICE_CI").is_none(),
                "dbus-daemon is not there"
            );
            println!("skipped: no dbus-daemon here");
            return None;
        }
        let folder = tempfile::tempdir().unwrap();
        let config = folder.path().join("bus.conf");
        std::fs::write(&config, config_text(folder.path())).unwrap();
        let mut child = Command::new("dbus-daemon")
            .arg(format!("--config-file={}", config.display()))
            .args(["--nofork", "--print-address"])
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut address = String::new();
        let out = child.stdout.take().unwrap();
        BufReader::new(out).read_line(&mut address).unwrap();
        Some(Daemon {
            child,
            address: address.trim().to_owned(),
            _folder: folder,
        })
    }
}

fn config_text(folder: &Path) -> String {
    format!(
        r#"<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN" "busconfig.dtd">
<busconfig><type>session</type><listen>unix:dir={}</listen><auth>EXTERNAL</auth>
<policy context="default"><allow send_destination="*" eavesdrop="true"/><allow receive_sender="*"/><allow own="*"/></policy>
</busconfig>"#,
        folder.display()
    )
}

/// A sensor, and what it gets wrong.
#[derive(Clone)]
pub(crate) struct Sensor {
    pub(crate) with_checksum: bool,
    pub(crate) start: SessionStart,
    /// The minute the session is in.
    pub(crate) minute: u16,
    pub(crate) stored: BTreeMap<u16, CgmMeasurement>,
    pub(crate) is_known: bool,
    pub(crate) is_paired: bool,
    pub(crate) is_connected: bool,
    pub(crate) has_service: bool,
    pub(crate) has_stored: bool,
    /// Tries to connect that fail before one succeeds.
    pub(crate) out_of_reach: u32,
    /// Records in one notice, and how often each notice is sent.
    pub(crate) in_one: usize,
    pub(crate) times: usize,
    /// Notices that are damaged, or do not arrive, before the others come right.
    pub(crate) damaged: u32,
    pub(crate) swallowed: u32,
    /// Readings of a characteristic that are damaged.
    pub(crate) damaged_reads: u32,
    /// The connection ends after so many notices of what was stored.
    pub(crate) ends_after: Option<u32>,
    /// Counting is refused.
    pub(crate) counts: bool,
    /// What was written to it: part and octets.
    pub(crate) written: Vec<(String, Vec<u8>)>,
    pub(crate) connects: u32,
}

impl Default for Sensor {
    fn default() -> Self {
        Sensor {
            with_checksum: true,
            start: SessionStart {
                year: 2026,
                parts: [3, 1, 7, 30, 0],
                zone_quarters: 4,
                daylight_quarters: 0,
            },
            minute: 60,
            stored: BTreeMap::new(),
            is_known: true,
            is_paired: true,
            is_connected: false,
            has_service: true,
            has_stored: true,
            out_of_reach: 0,
            in_one: 1,
            times: 1,
            damaged: 0,
            swallowed: 0,
            damaged_reads: 0,
            ends_after: None,
            counts: true,
            written: Vec::new(),
            connects: 0,
        }
    }
}

/// A record: mg/dL at a minute of the session.
pub(crate) fn record(minute: u16, mg_per_dl: i16) -> CgmMeasurement {
    CgmMeasurement {
        glucose: Sfloat::Number {
            mantissa: mg_per_dl,
            exponent: 0,
        },
        offset_min: minute,
        status: SensorStatus::default(),
        trend: None,
        quality: None,
    }
}

impl Sensor {
    /// One that stored a record each five minutes: 100 mg/dL and a minute's worth more each.
    pub(crate) fn with_stored(minutes: std::ops::RangeInclusive<u16>) -> Self {
        let mut sensor = Sensor::default();
        sensor.store(minutes);
        sensor
    }

    pub(crate) fn store(&mut self, minutes: std::ops::RangeInclusive<u16>) {
        self.minute = *minutes.end();
        for minute in minutes.step_by(5) {
            let value = 100 + i16::try_from(minute).unwrap();
            self.stored.insert(minute, record(minute, value));
        }
    }

    /// Whatever it was asked of what it stored.
    pub(crate) fn asked(&self) -> Vec<StoredAsk> {
        let ask = |(part, octets): &(String, Vec<u8>)| {
            assert_eq!(
                part, "2a52",
                "nothing but a request for what is stored is ever written"
            );
            StoredAsk::decode(octets).unwrap()
        };
        self.written.iter().map(ask).collect()
    }

    fn read(&mut self, part: &str) -> Vec<u8> {
        let with_checksum = self.with_checksum;
        let mut octets = match part {
            "2aa8" => CgmFeatures {
                bits: u32::from(with_checksum) << 12,
                type_and_place: 0x59,
            }
            .encode(),
            "2aa9" => CgmStatus {
                offset_min: self.minute,
                status: SensorStatus::default(),
            }
            .encode(with_checksum),
            "2aaa" => self.start.encode(with_checksum),
            other => panic!("{other} is not read"),
        };
        if self.damaged_reads > 0 {
            self.damaged_reads -= 1;
            octets[0] ^= 1;
        }
        octets
    }
}

/// The service with its sensor.
#[derive(Clone)]
pub(crate) struct Bluez {
    conn: Connection,
    sensor: Arc<Mutex<Sensor>>,
}

impl Bluez {
    pub(crate) async fn start(address: &str, sensor: Sensor) -> Self {
        let is_known = sensor.is_known;
        let has_service = sensor.has_service;
        let sensor = Arc::new(Mutex::new(sensor));
        let mut builder = zbus::connection::Builder::address(address).serve_at("/", fdo::ObjectManager);
        if is_known {
            let device = DeviceObject(Arc::clone(&sensor));
            builder = builder.serve_at(DEVICE, device);
        }
        if is_known && has_service {
            builder = builder.serve_at(service(), ServiceObject);
            let mut parts = vec!["2aa7", "2aa8", "2aa9", "2aaa"];
            if sensor.lock().unwrap().has_stored {
                parts.push("2a52");
            }
            for short in parts {
                let object = PartObject {
                    short,
                    sensor: Arc::clone(&sensor),
                };
                builder = builder.serve_at(part(short), object);
            }
        }
        let conn = builder.name("org.bluez").build().await.unwrap();
        Bluez { conn, sensor }
    }

    pub(crate) fn sensor(&self) -> MutexGuard<'_, Sensor> {
        self.sensor.lock().unwrap()
    }

    /// The sensor measures, stores and tells it.
    pub(crate) async fn measure(&self, record: CgmMeasurement) {
        {
            let mut sensor = self.sensor();
            sensor.minute = record.offset_min;
            sensor.stored.insert(record.offset_min, record);
        }
        notify(&self.conn, &self.sensor, &[record]).await;
    }

    /// The sensor goes out of reach.
    pub(crate) async fn leave(&self) {
        leave(&self.conn, &self.sensor).await;
    }
}

async fn leave(conn: &Connection, sensor: &Arc<Mutex<Sensor>>) {
    sensor.lock().unwrap().is_connected = false;
    let changed = HashMap::from([("Connected", Variant::from(false))]);
    changes(conn, DEVICE, "org.bluez.Device1", changed).await;
}

/// Says to everyone that properties of an object changed; from the service's connection or a forger's.
pub(crate) async fn changes(
    conn: &Connection,
    path: &str,
    interface: &str,
    changed: HashMap<&str, Variant<'_>>,
) {
    let none: Vec<&str> = Vec::new();
    conn.emit_signal(
        None::<&str>,
        path,
        PROPERTIES,
        "PropertiesChanged",
        &(interface, changed, none),
    )
    .await
    .unwrap();
}

/// The measurement's octets as anyone could send them.
pub(crate) async fn forge(conn: &Connection, octets: Vec<u8>) {
    let changed = HashMap::from([("Value", Variant::from(octets))]);
    changes(conn, &part("2aa7"), CHARACTERISTIC, changed).await;
}

async fn notify(conn: &Connection, sensor: &Arc<Mutex<Sensor>>, records: &[CgmMeasurement]) {
    let (octets, times) = {
        let mut sensor = sensor.lock().unwrap();
        let mut octets: Vec<u8> = records
            .iter()
            .flat_map(|record| record.encode(sensor.with_checksum).unwrap())
            .collect();
        if sensor.swallowed > 0 {
            sensor.swallowed -= 1;
            return;
        }
        if sensor.damaged > 0 {
            sensor.damaged -= 1;
            let last = octets.len() - 1;
            octets[last] ^= 0x10;
        }
        (octets, sensor.times)
    };
    for _ in 0..times {
        forge(conn, octets.clone()).await;
    }
}

async fn answer(conn: &Connection, answer: StoredAnswer) {
    let changed = HashMap::from([("Value", Variant::from(answer.encode()))]);
    changes(conn, &part("2a52"), CHARACTERISTIC, changed).await;
}

/// Sends what is asked for, and then that it is all.
async fn report(conn: Connection, sensor: Arc<Mutex<Sensor>>, ask: StoredAsk) {
    let (records, in_one, ends_after, counts) = {
        let mut sensor = sensor.lock().unwrap();
        let from = ask.from_min.unwrap_or(0);
        let records: Vec<_> = sensor.stored.range(from..).map(|(_, record)| *record).collect();
        let ends_after = if ask.only_count {
            None
        } else {
            sensor.ends_after.take()
        };
        (records, sensor.in_one, ends_after, sensor.counts)
    };
    if ask.only_count {
        let count = u16::try_from(records.len()).unwrap();
        // 2: this request is not one it knows.
        let said = if counts {
            StoredAnswer::Count(count)
        } else {
            StoredAnswer::Refused(2)
        };
        return answer(&conn, said).await;
    }
    if records.is_empty() {
        return answer(&conn, StoredAnswer::Nothing).await;
    }
    for (sent, piece) in records.chunks(in_one).enumerate() {
        if ends_after.is_some_and(|ends| sent as u32 == ends) {
            return leave(&conn, &sensor).await;
        }
        notify(&conn, &sensor, piece).await;
    }
    answer(&conn, StoredAnswer::Done).await;
}

struct DeviceObject(Arc<Mutex<Sensor>>);

#[interface(name = "org.bluez.Device1")]
impl DeviceObject {
    async fn connect(&self) -> fdo::Result<()> {
        let mut sensor = self.0.lock().unwrap();
        sensor.connects += 1;
        if sensor.out_of_reach > 0 {
            sensor.out_of_reach -= 1;
            return Err(fdo::Error::Failed("le-connection-abort-by-local".to_owned()));
        }
        sensor.is_connected = true;
        Ok(())
    }

    #[zbus(property)]
    fn address(&self) -> String {
        ADDRESS.to_owned()
    }

    #[zbus(property)]
    fn alias(&self) -> String {
        "left arm".to_owned()
    }

    #[zbus(property)]
    fn paired(&self) -> bool {
        self.0.lock().unwrap().is_paired
    }

    #[zbus(property)]
    fn connected(&self) -> bool {
        self.0.lock().unwrap().is_connected
    }

    #[zbus(property)]
    fn services_resolved(&self) -> bool {
        self.0.lock().unwrap().is_connected
    }

    #[zbus(property, name = "UUIDs")]
    fn uuids(&self) -> Vec<String> {
        vec![uuid("180a"), uuid("181f")]
    }
}

struct ServiceObject;

#[interface(name = "org.bluez.GattService1")]
impl ServiceObject {
    #[zbus(property, name = "UUID")]
    fn uuid(&self) -> String {
        uuid("181f")
    }

    #[zbus(property)]
    fn device(&self) -> OwnedObjectPath {
        ObjectPath::try_from(DEVICE).unwrap().into()
    }
}

struct PartObject {
    short: &'static str,
    sensor: Arc<Mutex<Sensor>>,
}

#[interface(name = "org.bluez.GattCharacteristic1")]
impl PartObject {
    async fn read_value(&self, _options: HashMap<String, OwnedVariant>) -> fdo::Result<Vec<u8>> {
        Ok(self.sensor.lock().unwrap().read(self.short))
    }

    async fn write_value(
        &self,
        #[zbus(connection)] conn: &Connection,
        value: Vec<u8>,
        _options: HashMap<String, OwnedVariant>,
    ) -> fdo::Result<()> {
        let sensor = Arc::clone(&self.sensor);
        sensor
            .lock()
            .unwrap()
            .written
            .push((self.short.to_owned(), value.clone()));
        let ask = StoredAsk::decode(&value).map_err(|error| fdo::Error::Failed(error.to_string()))?;
        tokio::spawn(report(conn.clone(), sensor, ask));
        Ok(())
    }

    async fn start_notify(&self) -> fdo::Result<()> {
        Ok(())
    }

    #[zbus(property, name = "UUID")]
    fn uuid(&self) -> String {
        uuid(self.short)
    }

    #[zbus(property)]
    fn service(&self) -> OwnedObjectPath {
        ObjectPath::try_from(service()).unwrap().into()
    }
}

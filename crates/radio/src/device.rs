//! One paired sensor: connected to, and its characteristics by what they are.

use std::collections::HashMap;
use std::time::Duration;

use interstice_intake::bluetooth::{RecordError, StoredAsk};
use zbus::Variant;

use crate::RadioError;
use crate::bus::{At, Bus, CHARACTERISTIC, Changes, DEVICE, GLUCOSE, Objects, SERVICE, is, path, text};

const MEASUREMENT: &str = "00002aa7-0000-1000-8000-00805f9b34fb";
const FEATURES: &str = "00002aa8-0000-1000-8000-00805f9b34fb";
const STATUS: &str = "00002aa9-0000-1000-8000-00805f9b34fb";
const START: &str = "00002aaa-0000-1000-8000-00805f9b34fb";
const STORED: &str = "00002a52-0000-1000-8000-00805f9b34fb";
/// After it is connected to, a device is asked what it has; that takes seconds.
const RESOLVED_WITHIN: Duration = Duration::from_secs(30);
const BETWEEN_LOOKS: Duration = Duration::from_millis(200);
/// A characteristic that came damaged is read so often.
const TRIES: u32 = 3;

/// A characteristic of the service.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Part {
    Measurement,
    Features,
    Status,
    Start,
    Stored,
}

impl Part {
    const ALL: [(Part, &'static str); 5] = [
        (Part::Measurement, MEASUREMENT),
        (Part::Features, FEATURES),
        (Part::Status, STATUS),
        (Part::Start, START),
        (Part::Stored, STORED),
    ];

    fn words(self) -> &'static str {
        match self {
            Part::Measurement => "the measurement",
            Part::Features => "what it can do",
            Part::Status => "the status",
            Part::Start => "the start of the session",
            Part::Stored => "what it stored",
        }
    }
}

/// A connected sensor.
pub(crate) struct Device {
    bus: Bus,
    path: String,
    parts: Vec<(Part, String)>,
    /// What it is called.
    pub(crate) name: String,
}

impl Device {
    /// Connects to the device of this address, and hears of what changes from then on.
    pub(crate) async fn connect(at: &At, address: &str) -> Result<(Self, Changes), RadioError> {
        let bus = Bus::open(at).await?;
        let objects = bus.objects().await?;
        let (at, said) = objects
            .iter()
            .filter_map(|(at, interfaces)| Some((at, interfaces.get(DEVICE)?)))
            .find(|(_, said)| text(said, "Address").is_some_and(|there| there.eq_ignore_ascii_case(address)))
            .ok_or_else(|| RadioError::NotKnown(address.to_owned()))?;
        if !is(said, "Paired") {
            return Err(RadioError::NotPaired(address.to_owned()));
        }
        let (at, name) = (at.clone(), text(said, "Alias").unwrap_or_default());
        let changes = bus.changes(&at).await?;
        if !is(said, "Connected") {
            let reached = bus.call(&at, DEVICE, "Connect", &()).await;
            reached.map_err(|error| RadioError::NotReached(error.to_string()))?;
        }
        let mut waited = Duration::ZERO;
        while !bus.holds(&at, DEVICE, "ServicesResolved").await {
            if waited >= RESOLVED_WITHIN {
                let why = "it does not say what it can do";
                return Err(RadioError::NotReached(why.to_owned()));
            }
            tokio::time::sleep(BETWEEN_LOOKS).await;
            waited += BETWEEN_LOOKS;
        }
        let parts = parts_of(&bus.objects().await?, &at)?;
        let device = Device {
            bus,
            path: at,
            parts,
            name,
        };
        Ok((device, changes))
    }

    pub(crate) fn has(&self, part: Part) -> bool {
        self.parts.iter().any(|(there, _)| *there == part)
    }

    /// Which characteristic an object is.
    pub(crate) fn part_at(&self, path: &str) -> Option<Part> {
        self.parts
            .iter()
            .find(|(_, there)| there == path)
            .map(|(part, _)| *part)
    }

    pub(crate) async fn is_connected(&self) -> bool {
        self.bus.holds(&self.path, DEVICE, "Connected").await
    }

    /// Reads a characteristic; again where it came damaged.
    pub(crate) async fn read<T>(
        &self,
        part: Part,
        decode: impl Fn(&[u8]) -> Result<T, RecordError>,
    ) -> Result<(T, Vec<u8>), RadioError> {
        let mut tries = 0;
        loop {
            let nothing: HashMap<&str, Variant<'_>> = HashMap::new();
            let answer = self.ask(part, "ReadValue", &nothing).await?;
            let octets: Vec<u8> = answer.body().deserialize().map_err(crate::bus::trouble)?;
            tries += 1;
            match decode(&octets) {
                Ok(it) => return Ok((it, octets)),
                Err(_) if tries < TRIES => {}
                Err(why) => {
                    return Err(RadioError::Unreadable {
                        what: part.words(),
                        why,
                    });
                }
            }
        }
    }

    /// Has a characteristic tell what is new.
    pub(crate) async fn tell(&self, part: Part) -> Result<(), RadioError> {
        self.ask(part, "StartNotify", &()).await.map(|_| ())
    }

    /// Asks for what was stored; the answer comes as a change.
    pub(crate) async fn ask_stored(&self, ask: StoredAsk) -> Result<(), RadioError> {
        let nothing: HashMap<&str, Variant<'_>> = HashMap::new();
        self.ask(Part::Stored, "WriteValue", &(ask.encode(), nothing))
            .await
            .map(|_| ())
    }

    async fn ask<B>(&self, part: Part, method: &str, body: &B) -> Result<zbus::Message, RadioError>
    where
        B: serde::Serialize + zbus::Type,
    {
        let (_, path) = self
            .parts
            .iter()
            .find(|(there, _)| *there == part)
            .ok_or(RadioError::NoService)?;
        let answer = self.bus.call(path, CHARACTERISTIC, method, body).await;
        match answer {
            Ok(answer) => Ok(answer),
            Err(_) if !self.is_connected().await => Err(RadioError::Lost),
            Err(error) => Err(RadioError::NotReached(format!("{}: {error}", part.words()))),
        }
    }
}

/// The service's characteristics, among everything the device has.
fn parts_of(objects: &Objects, device: &str) -> Result<Vec<(Part, String)>, RadioError> {
    let (service, _) = objects
        .iter()
        .filter_map(|(at, interfaces)| Some((at, interfaces.get(SERVICE)?)))
        .find(|(_, said)| {
            path(said, "Device").as_deref() == Some(device)
                && text(said, "UUID").is_some_and(|uuid| uuid.eq_ignore_ascii_case(GLUCOSE))
        })
        .ok_or(RadioError::NoService)?;
    let parts: Vec<(Part, String)> = objects
        .iter()
        .filter_map(|(at, interfaces)| Some((at, interfaces.get(CHARACTERISTIC)?)))
        .filter(|(_, said)| path(said, "Service").as_deref() == Some(service.as_str()))
        .filter_map(|(at, said)| {
            let uuid = text(said, "UUID")?;
            let known = Part::ALL.iter().find(|(_, it)| uuid.eq_ignore_ascii_case(it))?;
            Some((known.0, at.clone()))
        })
        .collect();
    let has = |part| parts.iter().any(|(there, _)| *there == part);
    // Each of these the service must have.
    if [Part::Measurement, Part::Features, Part::Status, Part::Start]
        .into_iter()
        .all(has)
    {
        Ok(parts)
    } else {
        Err(RadioError::NoService)
    }
}

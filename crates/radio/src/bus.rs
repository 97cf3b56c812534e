//! The system's Bluetooth service, asked over D-Bus.

use std::collections::{BTreeMap, HashMap};
use std::num::NonZeroUsize;
use std::time::Duration;

use futures_util::StreamExt as _;
use serde::Serialize;
use zbus::message::Type as MessageType;
use zbus::{Connection, MatchRule, Message, MessageStream};
use zbus::{OwnedObjectPath, OwnedVariant, Type};

use crate::RadioError;

const BLUEZ: &str = "org.bluez";
const OBJECTS: &str = "org.freedesktop.DBus.ObjectManager";
const PROPERTIES: &str = "org.freedesktop.DBus.Properties";
pub(crate) const DEVICE: &str = "org.bluez.Device1";
pub(crate) const SERVICE: &str = "org.bluez.GattService1";
pub(crate) const CHARACTERISTIC: &str = "org.bluez.GattCharacteristic1";
/// The service for continuous glucose, as BlueZ writes it.
pub(crate) const GLUCOSE: &str = "0000181f-0000-1000-8000-00805f9b34fb";
/// A sensor may be slow to be found; BlueZ gives up by itself before that.
const ANSWERS_WITHIN: Duration = Duration::from_secs(60);
/// Notices that may wait: a sensor's two weeks at a minute are 20,000 records, several in each.
const NOTICES: NonZeroUsize = NonZeroUsize::new(1024).expect("it is not zero");

/// Where the bus is.
#[derive(Clone, Debug, Default)]
pub enum At {
    /// The system's.
    #[default]
    System,
    /// This address.
    Address(String),
}

/// A device that is paired and speaks the service.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Paired {
    /// Its address.
    pub address: String,
    /// What it is called.
    pub name: String,
    /// Whether it is connected now.
    pub is_connected: bool,
}

/// The paired devices that say they speak the service.
///
/// # Errors
/// `Bus`.
pub async fn paired(at: &At) -> Result<Vec<Paired>, RadioError> {
    let bus = Bus::open(at).await?;
    let objects = bus.objects().await?;
    let mut found: Vec<Paired> = objects
        .values()
        .filter_map(|interfaces| interfaces.get(DEVICE))
        .filter(|device| {
            let services = texts(device, "UUIDs");
            is(device, "Paired") && services.iter().any(|uuid| uuid.eq_ignore_ascii_case(GLUCOSE))
        })
        .filter_map(|device| {
            Some(Paired {
                address: text(device, "Address")?,
                name: text(device, "Alias").unwrap_or_default(),
                is_connected: is(device, "Connected"),
            })
        })
        .collect();
    found.sort_by(|a, b| a.address.cmp(&b.address));
    Ok(found)
}

/// Properties of one interface of an object, by name.
pub(crate) type Said = BTreeMap<String, OwnedVariant>;
/// All objects of the service: by path, then by interface.
pub(crate) type Objects = BTreeMap<String, BTreeMap<String, Said>>;

pub(crate) fn is(said: &Said, name: &str) -> bool {
    said.get(name)
        .is_some_and(|value| bool::try_from(value).unwrap_or(false))
}

pub(crate) fn text(said: &Said, name: &str) -> Option<String> {
    said.get(name)?
        .try_clone()
        .ok()
        .and_then(|value| String::try_from(value).ok())
}

fn texts(said: &Said, name: &str) -> Vec<String> {
    let value = said.get(name).and_then(|value| value.try_clone().ok());
    value
        .and_then(|value| Vec::try_from(value).ok())
        .unwrap_or_default()
}

/// The path of the object that another belongs to.
pub(crate) fn path(said: &Said, name: &str) -> Option<String> {
    let value = said.get(name)?.try_clone().ok()?;
    let path = OwnedObjectPath::try_from(value).ok()?;
    Some(path.as_str().to_owned())
}

/// The service. It is known by the name its bus gave it, which nobody else on the bus can have.
pub(crate) struct Bus {
    conn: Connection,
    service: String,
}

impl Bus {
    pub(crate) async fn open(at: &At) -> Result<Self, RadioError> {
        let builder = match at {
            At::System => zbus::connection::Builder::system(),
            At::Address(address) => zbus::connection::Builder::address(address.as_str()),
        };
        let conn = builder
            .method_timeout(ANSWERS_WITHIN)
            .build()
            .await
            .map_err(trouble)?;
        let own = "org.freedesktop.DBus";
        let asked = conn
            .call_method(
                Some(own),
                "/org/freedesktop/DBus",
                Some(own),
                "GetNameOwner",
                &BLUEZ,
            )
            .await
            .map_err(trouble)?;
        let service = asked.body().deserialize().map_err(trouble)?;
        Ok(Bus { conn, service })
    }

    /// Asks for something; what fails says why in the service's words.
    pub(crate) async fn call<B>(
        &self,
        path: &str,
        interface: &str,
        method: &str,
        body: &B,
    ) -> Result<Message, zbus::Error>
    where
        B: Serialize + Type,
    {
        self.conn
            .call_method(Some(self.service.as_str()), path, Some(interface), method, body)
            .await
    }

    pub(crate) async fn objects(&self) -> Result<Objects, RadioError> {
        let answer = self
            .call("/", OBJECTS, "GetManagedObjects", &())
            .await
            .map_err(trouble)?;
        let body = answer.body();
        let objects: HashMap<OwnedObjectPath, BTreeMap<String, Said>> =
            body.deserialize().map_err(trouble)?;
        // By path, so that the same objects are found whatever order they came in.
        Ok(objects
            .into_iter()
            .map(|(path, interfaces)| (path.as_str().to_owned(), interfaces))
            .collect())
    }

    /// Whether a property of an object holds; not where it cannot be asked.
    pub(crate) async fn holds(&self, path: &str, interface: &str, name: &str) -> bool {
        let Ok(answer) = self.call(path, PROPERTIES, "Get", &(interface, name)).await else {
            return false;
        };
        let value: Result<OwnedVariant, _> = answer.body().deserialize();
        value.is_ok_and(|value| bool::try_from(&value).unwrap_or(false))
    }

    /// What changes below a path, in the order in which it changed.
    pub(crate) async fn changes(&self, path: &str) -> Result<Changes, RadioError> {
        let rule = MatchRule::builder()
            .msg_type(MessageType::Signal)
            .sender(self.service.as_str())
            .interface(PROPERTIES)
            .member("PropertiesChanged")
            .path_namespace(path)
            .build()
            .map_err(trouble)?;
        let stream = MessageStream::for_match_rule(rule, &self.conn, Some(NOTICES))
            .await
            .map_err(trouble)?;
        Ok(Changes {
            stream,
            service: self.service.clone(),
        })
    }
}

/// A change of an object.
pub(crate) struct Change {
    pub(crate) path: String,
    pub(crate) interface: String,
    /// What is new.
    pub(crate) said: HashMap<String, OwnedVariant>,
}

impl Change {
    /// The octets that a characteristic sent.
    pub(crate) fn octets(&self) -> Option<Vec<u8>> {
        if self.interface != CHARACTERISTIC {
            return None;
        }
        let value = self.said.get("Value")?.try_clone().ok()?;
        Vec::try_from(value).ok()
    }

    /// Whether the connection to the device ended.
    pub(crate) fn is_end(&self) -> bool {
        let connected = self.said.get("Connected");
        self.interface == DEVICE && connected.is_some_and(|value| bool::try_from(value) == Ok(false))
    }
}

/// Changes as they come.
pub(crate) struct Changes {
    stream: MessageStream,
    service: String,
}

impl Changes {
    /// The next one; `None` where the bus is gone.
    pub(crate) async fn next(&mut self) -> Option<Change> {
        loop {
            let message = self.stream.next().await?.ok()?;
            let header = message.header();
            // Others on the bus may send such a message to us alone; only the service's own counts.
            if header
                .sender()
                .is_none_or(|sender| sender.as_str() != self.service)
            {
                continue;
            }
            let Some(path) = header.path().map(|path| path.as_str().to_owned()) else {
                continue;
            };
            let body = message.body();
            let read: Result<(String, HashMap<String, OwnedVariant>, Vec<String>), _> = body.deserialize();
            if let Ok((interface, said, _)) = read {
                return Some(Change {
                    path,
                    interface,
                    said,
                });
            }
        }
    }
}

pub(crate) fn trouble(error: zbus::Error) -> RadioError {
    RadioError::Bus(error.to_string())
}

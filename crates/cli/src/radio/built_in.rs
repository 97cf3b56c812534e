//! A thread for each sensor that is listened to; what it hears goes the way of what is sent.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::Arc;
use std::time::Duration;

use interstice_desk::Feed;
use interstice_glucose::{Draft, Second};
use interstice_home::{Heard, Household, Source};
use interstice_radio::{At, Desk, Pace, Paired, keep};
use interstice_web::{Backend as _, KeptBook};
use serde::Serialize;
use tokio::sync::watch;

use crate::exit::Failure;
use crate::passphrase::failed;
use crate::world::{World, now};

/// How soon a sensor that was added is listened to, and one that was ended is not, as with folders.
const BETWEEN_LOOKS: Duration = Duration::from_secs(3);

/// A sensor that could be listened to.
#[derive(Serialize)]
pub(crate) struct Sensor {
    address: String,
    name: String,
    connected: bool,
}

/// The sensors that are paired and speak the service.
pub(crate) fn paired() -> Result<Vec<Sensor>, Failure> {
    let sensor = |it: Paired| Sensor {
        address: it.address,
        name: it.name,
        connected: it.is_connected,
    };
    Ok(found()?.into_iter().map(sensor).collect())
}

fn found() -> Result<Vec<Paired>, Failure> {
    let runtime = runtime().map_err(Failure::internal)?;
    let found = runtime.block_on(interstice_radio::paired(&At::System));
    found.map_err(|error| Failure::usage(error.to_string()))
}

pub(crate) fn listed(paired: &[Sensor]) -> String {
    if paired.is_empty() {
        return "No paired device speaks the open service for continuous glucose; pair yours in the system's Bluetooth settings.\n"
            .to_owned();
    }
    let mut text = String::from("Paired, and can be listened to with --radio ADDRESS:\n");
    for sensor in paired {
        let _ = writeln!(text, "  {}  {}", sensor.address, sensor.name);
    }
    text
}

/// Adds a sensor to the feeds, by its address.
pub(crate) fn listen(
    household: &Household,
    address: &str,
    name: Option<&str>,
    world: &World,
) -> Result<(), Failure> {
    let there = found()?
        .into_iter()
        .find(|it| it.address.eq_ignore_ascii_case(address));
    let there = there.ok_or_else(|| {
        Failure::usage(format!(
            "no paired device with the address {address} speaks the open service; list those there are with `interstice feeds --radio`"
        ))
    })?;
    household
        .listen(name.unwrap_or(&there.name), &there.address, world.now)
        .map_err(failed)?;
    Ok(())
}

/// Listens to the sensors of a household, those added later too, for as long as the program runs.
pub(crate) fn keep_listening(
    household: Household,
    kept: Arc<KeptBook>,
    tell: impl Fn() + Clone + Send + 'static,
) {
    std::thread::spawn(move || {
        let mut listening: BTreeMap<u32, watch::Sender<bool>> = BTreeMap::new();
        loop {
            // What cannot be read now is looked at again; the pages say what is wrong with it.
            if let Ok(sources) = household.sources() {
                // Who is no longer there hears of it by the end of its sender.
                listening.retain(|id, _| sources.iter().any(|source| source.id == *id));
                for source in sources {
                    let Some(address) = source.address().map(str::to_owned) else {
                        continue;
                    };
                    listening.entry(source.id).or_insert_with(|| {
                        let desk = AtDesk {
                            household: household.clone(),
                            source,
                            kept: Arc::clone(&kept),
                            tell: tell.clone(),
                        };
                        begin(address, desk)
                    });
                }
            }
            std::thread::sleep(BETWEEN_LOOKS);
        }
    });
}

fn begin(address: String, mut desk: AtDesk<impl Fn() + Send + 'static>) -> watch::Sender<bool> {
    let (stop, stopped) = watch::channel(false);
    std::thread::spawn(move || {
        // Without a runtime nothing could be served either.
        let Ok(runtime) = runtime() else { return };
        let heard = desk.household.heard(desk.source.id).unwrap_or_default();
        runtime.block_on(keep(
            &At::System,
            &address,
            Pace::default(),
            heard,
            &mut desk,
            stopped,
        ));
    });
    stop
}

fn runtime() -> std::io::Result<tokio::runtime::Runtime> {
    tokio::runtime::Builder::new_current_thread().enable_all().build()
}

struct AtDesk<T> {
    household: Household,
    source: Source,
    kept: Arc<KeptBook>,
    tell: T,
}

impl<T: Fn()> Desk for AtDesk<T> {
    fn now(&self) -> Second {
        now()
    }

    fn take(&mut self, rows: Draft, records: u64) -> Result<(), String> {
        let from = Feed::named(self.source.key(), &self.source.name);
        let fed = self.kept.feed_read(&from, rows, records);
        if fed.map_err(|error| error.to_string())?.has_news() {
            (self.tell)();
        }
        Ok(())
    }

    fn note(&mut self, heard: &Heard) -> Result<(), String> {
        let kept = self.household.hear(self.source.id, heard);
        kept.map_err(|error| error.to_string())
    }
}

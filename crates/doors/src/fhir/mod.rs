//! FHIR R4: transaction bundles by the HL7 guide for continuous glucose monitoring, a file for each month of universal
//! time and one for the summary of the window.
//!
//! Every resource has an identifier made from what it tells, and each request says 'unless it exists', so that sending a
//! bundle twice changes nothing.

mod codes;
mod observe;
mod resource;
mod summary;

use std::collections::BTreeMap;

use interstice_book::Book;
use interstice_findings::{Taken, sensors_worn};
use interstice_glucose::{LivedClock, Moment, Second};
use jiff::civil::Date;

use crate::digest::{short, uuid};
use crate::export::{DoorError, Exported};
use crate::month;
use crate::sink::Sink;
use crate::writing::Files;

use resource::{Bundle, Device, DeviceName, Entry, Identifier, Meta, Patient, Reference, Request, Resource};

/// Writes what was taken as bundles.
///
/// * `now`: when the bundles are put together; it stands in each.
/// * `sheet`: the sheet of the window as PDF, where it is to go along.
///
/// # Errors
/// `Book`, `Write`, `Table`.
pub fn export_fhir(
    book: &Book,
    taken: &Taken,
    now: Second,
    sheet: Option<&[u8]>,
    sink: &mut dyn Sink,
) -> Result<Exported, DoorError> {
    let maker = Maker::new(book, taken)?;
    let mut months: BTreeMap<Date, Vec<Entry>> = BTreeMap::new();
    for (at, resource, key) in observe::all(taken, &maker) {
        months
            .entry(month::of(at))
            .or_default()
            .push(maker.entry(&key, resource));
    }
    let mut files = Files::new(sink);
    let stamp = Moment { at: now, offset_s: 0 }.to_string();
    for (first, entries) in months {
        let path = format!("bundle-{}.json", first.strftime("%Y-%m"));
        files.json(&path, entries.len(), &maker.bundle(&stamp, entries))?;
    }
    let mut notes = observe::left_out(taken);
    if let Some(pdf) = sheet {
        let entry = summary::sheet(taken, &maker, pdf);
        files.json("sheet.json", 1, &maker.bundle(&stamp, vec![entry]))?;
    }
    match summary::of(taken, &maker) {
        Ok(entries) => {
            files.json("summary.json", entries.len(), &maker.bundle(&stamp, entries))?;
        }
        Err(reason) => notes.push(format!("There is no summary: {reason}.")),
    }
    Ok(Exported {
        files: files.written,
        notes,
    })
}

/// What all resources share: the wearer, the sensors, and names made from what is told.
struct Maker<'a> {
    book: String,
    patient: Entry,
    devices: BTreeMap<String, Entry>,
    clock: &'a LivedClock,
}

impl<'a> Maker<'a> {
    fn new(book: &Book, taken: &'a Taken) -> Result<Self, DoorError> {
        let identity = book.identity()?;
        let wearer = Patient {
            identifier: vec![Identifier {
                system: codes::OF_BOOK,
                value: identity.clone(),
            }],
        };
        let mut maker = Maker {
            patient: posted(urn(&[&identity, "patient"]), Resource::Patient(wearer)),
            book: identity,
            devices: BTreeMap::new(),
            clock: &taken.record.clock,
        };
        let worn = sensors_worn(&taken.record, taken.from, taken.to);
        for trace in &taken.record.traces {
            let detail = worn
                .iter()
                .find(|worn| worn.sensor.as_deref().unwrap_or_default() == trace.sensor)
                .map(|worn| worn.detail.clone())
                .unwrap_or_default();
            let name = match trace.sensor.as_str() {
                "" => "a sensor without a name",
                name => name,
            };
            let device = Device {
                meta: Meta {
                    profile: vec![codes::DEVICE_PROFILE],
                },
                identifier: vec![Identifier {
                    system: codes::OF_SENSOR,
                    value: format!("{}/{}", maker.book, trace.sensor),
                }],
                lot_number: detail.lot,
                serial_number: detail.serial,
                device_name: vec![DeviceName {
                    name: name.to_owned(),
                    r#type: "user-friendly-name",
                }],
                patient: maker.subject(),
            };
            let id = urn(&[&maker.book, "device", &trace.sensor]);
            maker.devices.insert(
                trace.sensor.clone(),
                posted(id, Resource::Device(Box::new(device))),
            );
        }
        Ok(maker)
    }

    fn subject(&self) -> Reference {
        Reference {
            reference: self.patient.full_url.clone(),
        }
    }

    fn device(&self, sensor: &str) -> Option<Reference> {
        self.devices.get(sensor).map(|device| Reference {
            reference: device.full_url.clone(),
        })
    }

    fn time(&self, at: Second) -> String {
        self.clock.moment(at).to_string()
    }

    /// An identifier from what is told.
    fn identifier(&self, key: &str) -> Vec<Identifier> {
        vec![Identifier {
            system: codes::OF_ENTRY,
            value: short(&[&self.book, key]),
        }]
    }

    fn entry(&self, key: &str, resource: Resource) -> Entry {
        posted(urn(&[&self.book, key]), resource)
    }

    /// The wearer and the sensors stand first, for the rest points at them.
    fn bundle(&self, stamp: &str, entries: Vec<Entry>) -> Bundle {
        let first = std::iter::once(&self.patient).chain(self.devices.values());
        Bundle {
            resource_type: "Bundle",
            r#type: "transaction",
            timestamp: stamp.to_owned(),
            entry: first.cloned().chain(entries).collect(),
        }
    }
}

fn posted(full_url: String, resource: Resource) -> Entry {
    let if_none_exist = resource
        .identifier()
        .first()
        .map(|of| format!("identifier={}|{}", of.system, escaped(&of.value)));
    Entry {
        full_url,
        request: Request {
            method: "POST",
            url: resource.kind(),
            if_none_exist,
        },
        resource,
    }
}

/// A value of a search, percent-encoded (RFC 3986) but for what is plain.
fn escaped(value: &str) -> String {
    let mut text = String::new();
    for byte in value.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            text.push(char::from(byte));
        } else {
            text.push_str(&format!("%{byte:02X}"));
        }
    }
    text
}

fn urn(parts: &[&str]) -> String {
    format!("urn:uuid:{}", uuid(parts))
}

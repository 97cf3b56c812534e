//! `devices` and `links`: who may come in, and what shows one page.

use std::fmt::Write as _;
use std::path::Path;

use interstice_glucose::{Moment, Second};
use interstice_home::{Device, Household, Link, Page};
use serde_json::{Value, json};

use crate::args::{DevicesArgs, LinksArgs};
use crate::exit::{Answer, Exit};
use crate::output::Output;
use crate::passphrase::{failed, renew};
use crate::world::World;

/// Lists the devices, after putting out those that were named.
pub(crate) fn devices(args: &DevicesArgs, book: &Path, world: &World, out: &mut Output) -> Answer {
    let household = Household::beside(book);
    if args.new_passphrase {
        renew(&household, args.passphrase_file.as_deref(), out)?;
        out.message("the passphrase was changed; paired devices stay paired");
    }
    for &id in &args.revoke {
        let device = household.revoke(id).map_err(failed)?;
        out.message(&format!("put out: {}", device.name));
    }
    let devices = household.devices(world.now).map_err(failed)?;
    if out.json() {
        let all: Vec<Value> = devices.iter().map(|device| device_json(device, world)).collect();
        out.document(&json!({ "devices": all }))?;
        return Ok(Exit::Done);
    }
    if devices.is_empty() {
        out.text("No device is paired.\n");
    }
    for device in &devices {
        out.text(&format!(
            "{:>4}  {}, paired {}, seen {}, comes in until {}\n",
            device.id,
            device.name,
            at(device.paired, world),
            at(device.seen, world),
            at(device.until(), world)
        ));
    }
    Ok(Exit::Done)
}

/// Lists the links, after making or ending some.
pub(crate) fn links(args: &LinksArgs, book: &Path, world: &World, out: &mut Output) -> Answer {
    let household = Household::beside(book);
    for &id in &args.revoke {
        household.revoke_link(id).map_err(failed)?;
        out.message(&format!("ended: link {id}"));
    }
    let page = args.make.as_deref().and_then(Page::named);
    let made = page.map(|page| household.link(page, args.days, world.now));
    let made = made.transpose().map_err(failed)?;
    let links = household.links(world.now).map_err(failed)?;
    if out.json() {
        let all: Vec<Value> = links.iter().map(|link| link_json(link, world)).collect();
        let path = made.map(|(_, secret)| format!("/link/{secret}"));
        out.document(&json!({ "links": all, "made": path }))?;
        return Ok(Exit::Done);
    }
    let mut text = String::new();
    if let Some((_, secret)) = made {
        let _ = writeln!(
            text,
            "The new link, shown this once: the address of the app, then\n  /link/{secret}\nWhoever has it sees that page and nothing else.\n"
        );
    }
    if links.is_empty() {
        text.push_str("There is no link.\n");
    }
    for link in &links {
        let _ = writeln!(
            text,
            "{:>4}  {}, made {}, good until {}",
            link.id,
            link.page.name(),
            at(link.made, world),
            at(link.until, world)
        );
    }
    out.text(&text);
    Ok(Exit::Done)
}

fn device_json(device: &Device, world: &World) -> Value {
    json!({
        "id": device.id,
        "name": device.name,
        "paired": at(device.paired, world),
        "seen": at(device.seen, world),
        "until": at(device.until(), world),
    })
}

fn link_json(link: &Link, world: &World) -> Value {
    json!({
        "id": link.id,
        "page": link.page.name(),
        "made": at(link.made, world),
        "until": at(link.until, world),
    })
}

fn at(at: Second, world: &World) -> String {
    let offset_s = world.zone.offset_s(at);
    Moment { at, offset_s }.to_string()
}

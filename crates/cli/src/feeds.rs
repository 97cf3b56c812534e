//! `feeds`: what brings readings by itself, and how it is.

use std::fmt::Write as _;
use std::path::Path;

use interstice_desk::Mode;
use interstice_findings::feeds::{FeedLine, feeds as findings};
use interstice_home::Household;
use interstice_render::words;
use interstice_web::feeds_of;
use serde_json::json;

use crate::args::FeedsArgs;
use crate::exit::{Answer, Exit, Failure};
use crate::opened::open;
use crate::output::Output;
use crate::passphrase::failed;
use crate::radio;
use crate::world::World;

/// Lists the feeds, after making or ending some.
pub(crate) fn feeds(args: &FeedsArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let household = Household::beside(path);
    for &id in &args.revoke {
        let source = household.revoke_source(id).map_err(failed)?;
        out.message(&format!(
            "ended: {}; what it brought stays in the book",
            source.name
        ));
    }
    if let Some(folder) = &args.watch {
        watch(&household, folder, args.name.as_deref(), world)?;
    }
    let paired = match args.radio.as_deref() {
        None => None,
        Some("") => Some(radio::paired()?),
        Some(address) => {
            radio::listen(&household, address, args.name.as_deref(), world)?;
            None
        }
    };
    let made = args
        .make_token
        .as_deref()
        .map(|name| household.let_send(name, world.now));
    let made = made.transpose().map_err(failed)?;
    let asked = feeds_of(&household).map_err(Failure::internal)?;
    let book = match path.exists() {
        true => Some(open(path, Mode::ReadOnly, out)?),
        false => None,
    };
    let found = findings(book.as_ref(), &asked, world.now, &world.zone)?;
    if out.json() {
        let made = made.map(|(source, token)| json!({ "number": source.id, "token": token }));
        out.document(&json!({ "now": found.now, "feeds": found.feeds, "made": made, "paired": paired }))?;
        return Ok(Exit::Done);
    }
    let mut text = String::new();
    if let Some((source, token)) = made {
        let _ = writeln!(
            text,
            "The token of {}, shown this once:\n  {token}\nWhoever has it may send readings to /push of the app, and can read nothing.\n",
            source.name
        );
    }
    if let Some(paired) = paired {
        text.push_str(&radio::listed(&paired));
    } else if found.feeds.is_empty() {
        text.push_str("There is no feed; make a token with --make-token NAME, or have a folder looked into with --watch FOLDER.\n");
    }
    for line in &found.feeds {
        text.push_str(&told(line));
    }
    out.text(&text);
    Ok(Exit::Done)
}

/// Has a folder looked into, by its full path: the app may be started from elsewhere.
fn watch(household: &Household, folder: &Path, name: Option<&str>, world: &World) -> Result<(), Failure> {
    let full = folder.canonicalize();
    let full =
        full.map_err(|error| Failure::usage(format!("{} cannot be looked into: {error}", folder.display())))?;
    if !full.is_dir() {
        return Err(Failure::usage(format!(
            "{} is no folder; name the folder the file lies in",
            folder.display()
        )));
    }
    let text = full.to_str();
    let text = text.ok_or_else(|| Failure::usage("the path of this folder is no text; rename it"))?;
    let own = full
        .file_name()
        .and_then(|name| name.to_str())
        .unwrap_or("folder");
    household
        .watch(name.unwrap_or(own), text, world.now)
        .map_err(failed)?;
    Ok(())
}

fn told(line: &FeedLine) -> String {
    let mut text = format!("{:>4}  {}\n", line.number, words::feed(line));
    for said in line.note.iter().cloned().chain(words::feed_troubles(line)) {
        let _ = writeln!(text, "      {said}");
    }
    text
}

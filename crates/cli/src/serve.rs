//! `serve`: the local app, and the home network where that is asked for.

use std::io::BufRead;
use std::path::Path;
use std::sync::Arc;

use interstice_home::{GOOD_FOR, Household, Names};
use interstice_web::{Backend as _, Door, KeptBook, Outside, Served};
use serde_json::{Value, json};

use crate::args::ServeArgs;
use crate::backup::by_itself;
use crate::demo::invent;
use crate::exit::{Answer, Exit, Failure};
use crate::opened::look_at;
use crate::output::Output;
use crate::passphrase;
use crate::radio;
use crate::world::{World, now};

/// Serves until Ctrl-C.
pub(crate) fn serve(book: &Path, args: &ServeArgs, world: &World, out: &mut Output) -> Answer {
    let outside = Outside {
        invent: Some(invent),
        ..Outside::new(world.zone.clone(), now)
    };
    by_itself(book.to_owned(), world.zone.clone());
    if !args.home {
        return serve_as_of(book, args.port, args.open, outside, out);
    }
    let household = Household::beside(book);
    let names = Names::here(args.address).map_err(passphrase::failed)?;
    passphrase::ensure(&household, args.passphrase_file.as_deref(), out)?;
    let home = AtHome {
        names,
        port: args.home_port,
        household,
    };
    run(book, args.port, args.open, outside, Some(home), out)
}

/// This machine alone, with a clock that may stand.
pub(crate) fn serve_as_of(book: &Path, port: u16, open: bool, outside: Outside, out: &mut Output) -> Answer {
    run(book, port, open, outside, None, out)
}

/// What the home network needs.
struct AtHome {
    names: Names,
    port: u16,
    household: Household,
}

fn run(
    book: &Path,
    port: u16,
    open: bool,
    outside: Outside,
    home: Option<AtHome>,
    out: &mut Output,
) -> Answer {
    look_at(book, out);
    let backend = Arc::new(KeptBook::new(book, outside));
    let (warm, kept) = (Arc::clone(&backend), Arc::clone(&backend));
    let runtime = tokio::runtime::Runtime::new().map_err(Failure::internal)?;
    runtime.block_on(async {
        let served = Served::over(backend, port).await.map_err(Failure::internal)?;
        let address = format!("http://{}", served.address());
        out.message(&format!("listening on {address}"));
        let (served, told) = match home {
            Some(home) => at_home(served, home, out).await?,
            None => {
                let door = Door::shut(Household::beside(book), now);
                (served.with_door(door), Value::Null)
            }
        };
        if out.json() {
            out.document(&json!({ "address": address, "home": told }))?;
        } else {
            let who = if told.is_null() {
                "on this machine only"
            } else {
                "on this machine"
            };
            out.text(&format!("Your pages are at {address}, {who}. Ctrl-C ends.\n"));
        }
        radio::keep_listening(Household::beside(book), Arc::clone(&kept), served.teller());
        // The first page is worked out before it is asked for. What goes wrong here is told by the page itself.
        std::thread::spawn(move || {
            let _ = (warm.now(), warm.wear(None));
        });
        if open {
            open_browser(&address, out);
        }
        let stop = async {
            // Without a handler for Ctrl-C the process simply ends on it, which loses nothing.
            let _ = tokio::signal::ctrl_c().await;
        };
        served.until(stop).await.map_err(Failure::internal)?;
        Ok(Exit::Done)
    })
}

/// Opens the door, says where, and shows a code; another for each line on the terminal.
async fn at_home(served: Served, home: AtHome, out: &mut Output) -> Result<(Served, Value), Failure> {
    let AtHome {
        names,
        port,
        household,
    } = home;
    let certificate = household
        .certificate(&names.all(), now())
        .map_err(passphrase::failed)?;
    let (fingerprint, is_new) = (certificate.fingerprint(), certificate.is_new);
    let root = certificate.root().to_vec();
    let root_fingerprint = interstice_home::fingerprint_of(&root);
    let say = |text: &str| Output::new(false).message(text);
    let door = Door::at_home(household, now, root, Box::new(say));
    let served = served
        .at_home(Arc::clone(&door), &names, port, certificate)
        .await
        .map_err(Failure::internal)?;
    let addresses: Vec<String> = served
        .home_addresses()
        .iter()
        .map(|address| format!("https://{address}"))
        .collect();
    let code = door.show_code().map_err(Failure::internal)?;
    out.message(&format!("at home on {}", addresses.join(", ")));
    if let Some(host) = &names.host {
        out.message(&format!(
            "also https://{host}.local:{port}, where names are found"
        ));
    }
    let new = if is_new {
        " (new: devices that trusted an earlier one must take it in again)"
    } else {
        ""
    };
    out.message(&format!("certificate, SHA-256{new}: {fingerprint}"));
    out.message(&format!("the one it is vouched for by: {root_fingerprint}"));
    say_code(&code, out);
    std::thread::spawn(move || more_codes(&door));
    Ok((
        served,
        json!({ "addresses": addresses, "fingerprint": fingerprint, "root_fingerprint": root_fingerprint, "code": code }),
    ))
}

fn say_code(code: &str, out: &mut Output) {
    let (first, last) = code.split_at(code.len() / 2);
    let minutes = GOOD_FOR.as_secs() / 60;
    out.message(&format!(
        "code for one new device: {first} {last}, good once and for {minutes} minutes; Enter shows another"
    ));
}

/// A new code for each line; ends where nobody can type.
fn more_codes(door: &Door) {
    let mut out = Output::new(false);
    for _ in std::io::stdin().lock().lines().map_while(Result::ok) {
        if let Ok(code) = door.show_code() {
            say_code(&code, &mut out);
        }
    }
}

/// Asks the desktop to show the page. A machine without a desktop shows the address only.
fn open_browser(address: &str, out: &mut Output) {
    if opener::open_browser(address).is_err() {
        out.message("no browser could be opened here; open the address by hand");
    }
}

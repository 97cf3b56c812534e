//! `serve`: the local app.

use std::path::Path;

use interstice_web::{Options, Served};

use crate::exit::{Answer, Exit, Failure};
use crate::output::Output;
use crate::world::World;

/// Serves until Ctrl-C.
pub(crate) fn serve(book: &Path, port: u16, open: bool, world: &World, out: &mut Output) -> Answer {
    let runtime = tokio::runtime::Runtime::new().map_err(Failure::internal)?;
    runtime.block_on(async {
        let options = Options { port, machine_zone: world.zone.clone() };
        let served = Served::bind(book, options).await.map_err(Failure::internal)?;
        let address = format!("http://{}", served.address());
        out.message(&format!("listening on {address}"));
        if out.json() {
            out.document(&serde_json::json!({ "address": address }))?;
        } else {
            out.text(&format!("Your pages are at {address} — on this machine only. Ctrl-C ends.\n"));
        }
        if open {
            open_browser(&address, out);
        }
        served.until(async { tokio::signal::ctrl_c().await.unwrap_or_default() }).await.map_err(Failure::internal)?;
        Ok(Exit::Done)
    })
}

/// Asks the desktop to show the page. A machine without a desktop shows the address only.
fn open_browser(address: &str, out: &mut Output) {
    if opener::open_browser(address).is_err() {
        out.message("no browser could be opened here; open the address by hand");
    }
}

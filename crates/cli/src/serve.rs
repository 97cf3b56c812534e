//! `serve`: the local app.

use std::path::Path;
use std::sync::Arc;

use interstice_web::{Backend as _, KeptBook, Outside, Served};

use crate::exit::{Answer, Exit, Failure};
use crate::opened::look_at;
use crate::output::Output;
use crate::world::{World, now};

/// Serves until Ctrl-C.
pub(crate) fn serve(book: &Path, port: u16, open: bool, world: &World, out: &mut Output) -> Answer {
    serve_as_of(book, port, open, Outside::new(world.zone.clone(), now), out)
}

/// The same with a clock that may stand.
pub(crate) fn serve_as_of(book: &Path, port: u16, open: bool, outside: Outside, out: &mut Output) -> Answer {
    look_at(book, out);
    let backend = Arc::new(KeptBook::new(book, outside));
    let warm = Arc::clone(&backend);
    let runtime = tokio::runtime::Runtime::new().map_err(Failure::internal)?;
    runtime.block_on(async {
        let served = Served::over(backend, port).await.map_err(Failure::internal)?;
        let address = format!("http://{}", served.address());
        out.message(&format!("listening on {address}"));
        if out.json() {
            out.document(&serde_json::json!({ "address": address }))?;
        } else {
            out.text(&format!(
                "Your pages are at {address}, on this machine only. Ctrl-C ends.\n"
            ));
        }
        // The first page is worked out before it is asked for. What goes wrong here is told by the page itself.
        let warm = Arc::clone(&warm);
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

/// Asks the desktop to show the page. A machine without a desktop shows the address only.
fn open_browser(address: &str, out: &mut Output) {
    if opener::open_browser(address).is_err() {
        out.message("no browser could be opened here; open the address by hand");
    }
}

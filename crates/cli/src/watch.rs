//! `watch`: looks into the folders, and listens to sensors, without the app.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use interstice_glucose::counted;
use interstice_home::Household;
use interstice_web::{KeptBook, Outside, look_into_folders};
use serde_json::json;

use crate::args::WatchArgs;
use crate::exit::{Answer, Exit, Failure};
use crate::output::Output;
use crate::passphrase::failed;
use crate::radio;
use crate::world::{World, now};

/// Between two looks, as in the app.
const BETWEEN_LOOKS: Duration = Duration::from_secs(3);
/// How soon Ctrl-C is noticed.
const MOMENT: Duration = Duration::from_millis(100);

/// Looks into the folders and listens until Ctrl-C; or looks twice.
pub(crate) fn watch(args: &WatchArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let household = Household::beside(path);
    if household
        .sources()
        .map_err(failed)?
        .iter()
        .all(|source| source.folder().is_none() && source.address().is_none())
    {
        return Err(Failure::usage(
            "no folder is looked into and no sensor listened to; add one with `interstice feeds --watch FOLDER` or `--radio ADDRESS`",
        ));
    }
    let kept = Arc::new(KeptBook::new(path, Outside::new(world.zone.clone(), now)));
    if !args.once {
        radio::keep_listening(household.clone(), Arc::clone(&kept), || ());
    }
    let stopped = Arc::new(AtomicBool::new(false));
    let heard = Arc::clone(&stopped);
    ctrlc::set_handler(move || heard.store(true, Ordering::Relaxed)).map_err(Failure::internal)?;
    let (mut new, mut looks) = (0, 0);
    while looks < if args.once { 2 } else { u64::MAX } {
        if looks > 0 {
            pause(&stopped);
        }
        if stopped.load(Ordering::Relaxed) {
            break;
        }
        looks += 1;
        let found = look_into_folders(&household, &*kept).map_err(Failure::internal)?;
        if found > 0 {
            out.message(&format!("{} new", counted(found, "row", "rows")));
        }
        new += found;
    }
    if out.json() {
        out.document(&json!({ "rows_new": new }))?;
    } else if new == 0 {
        out.text("Nothing new.\n");
    }
    Ok(Exit::Done)
}

fn pause(stopped: &AtomicBool) {
    let mut left = BETWEEN_LOOKS;
    while !left.is_zero() && !stopped.load(Ordering::Relaxed) {
        std::thread::sleep(MOMENT);
        left = left.saturating_sub(MOMENT);
    }
}

//! `demo`: the invented scenario, from its three ugly files to the open page, through the same road as any export.

use std::path::{Path, PathBuf};

use interstice_demo::Scenario;
use interstice_desk::{Book, FileStatus, ImportRequest, Mode, Place, import_path};
use interstice_findings::{Ask, Span};
use interstice_glucose::Zone;

use crate::args::DemoArgs;
use crate::exit::{Answer, Exit, Failure};
use crate::output::Output;
use crate::world::World;

/// Days of the account the demo prints.
const ACCOUNT_DAYS: u32 = 90;

/// Builds, imports, prints, serves.
pub(crate) fn demo(args: &DemoArgs, book: Option<PathBuf>, world: &World, out: &mut Output) -> Answer {
    let folder = std::env::temp_dir().join("interstice-demo");
    let book = book.unwrap_or_else(|| folder.join("invented.interstice"));
    let scenario = Scenario::build(args.seed.unwrap_or(interstice_demo::DEFAULT_SEED));
    scenario.write(&folder).map_err(Failure::internal)?;
    bring_in(&scenario, &folder, &book, world, out)?;
    account(&book, out)?;
    crate::serve::serve(&book, args.port, !args.no_open, world, out)
}

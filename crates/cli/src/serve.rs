//! `serve`: the local app.

use std::path::Path;

use crate::exit::{Answer, Exit};
use crate::output::Output;
use crate::world::World;

/// Serves until Ctrl-C.
pub(crate) fn serve(_book: &Path, _port: u16, _open: bool, _world: &World, _out: &mut Output) -> Answer {
    Ok(Exit::Done)
}

//! `undo`, `journal`, `imports`, `check`, `set`: keeping the book.

use std::fmt::Write as _;
use std::path::Path;

use interstice_desk::{Book, Mode};
use serde_json::json;

use crate::exit::{Answer, Exit, Failure};
use crate::output::Output;
use crate::world::World;

//! A program that listens to nothing, and says so.

use std::sync::Arc;

use interstice_home::Household;
use interstice_web::KeptBook;

use crate::exit::Failure;
use crate::world::World;

fn left_out() -> Failure {
    Failure::usage(
        "this program was built without the radio; build it with its feature `bluetooth`, which is on unless it was turned off",
    )
}

pub(crate) fn paired() -> Result<Vec<String>, Failure> {
    Err(left_out())
}

pub(crate) fn listed(_paired: &[String]) -> String {
    String::new()
}

pub(crate) fn listen(
    _household: &Household,
    _address: &str,
    _name: Option<&str>,
    _world: &World,
) -> Result<(), Failure> {
    Err(left_out())
}

pub(crate) fn keep_listening(_household: Household, _kept: Arc<KeptBook>, _tell: impl Fn()) {}

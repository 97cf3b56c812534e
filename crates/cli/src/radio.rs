//! Sensors that are listened to, where that was built in (feature `bluetooth`).

#[cfg(feature = "bluetooth")]
mod built_in;
#[cfg(not(feature = "bluetooth"))]
mod left_out;

#[cfg(feature = "bluetooth")]
pub(crate) use built_in::{keep_listening, listed, listen, paired};
#[cfg(not(feature = "bluetooth"))]
pub(crate) use left_out::{keep_listening, listed, listen, paired};

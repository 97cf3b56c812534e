//! A number with its margin, and a time with its offset.

use interstice_glucose::Moment;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

/// A figure: a value with a 95 % interval where one can be given, or the reason why it cannot be given.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figure {
    /// The value; `None` when it cannot be given.
    pub value: Option<f64>,
    /// Lower end of the 95 % interval.
    pub lo95: Option<f64>,
    /// Upper end of the 95 % interval.
    pub hi95: Option<f64>,
    /// Why there is no value, or no interval.
    pub reason: Option<String>,
}

impl Figure {
    /// A value without an interval.
    pub fn plain(value: f64) -> Self {
        Figure {
            value: Some(value),
            ..Figure::default()
        }
    }

    /// No value, and why.
    pub fn missing(reason: impl Into<String>) -> Self {
        Figure {
            reason: Some(reason.into()),
            ..Figure::default()
        }
    }
}

/// A figure as the entries `name`, `name_lo95`, `name_hi95`, `name_reason`.
pub(crate) fn figure_entry<M: SerializeMap>(
    map: &mut M,
    name: &str,
    figure: &Figure,
) -> Result<(), M::Error> {
    map.serialize_entry(name, &figure.value)?;
    if let (Some(lo), Some(hi)) = (figure.lo95, figure.hi95) {
        map.serialize_entry(&format!("{name}_lo95"), &lo)?;
        map.serialize_entry(&format!("{name}_hi95"), &hi)?;
    }
    if let Some(reason) = &figure.reason {
        map.serialize_entry(&format!("{name}_reason"), reason)?;
    }
    Ok(())
}

/// A moment, serialised as RFC 3339 with its offset.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Time(pub Moment);

impl Serialize for Time {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.0)
    }
}

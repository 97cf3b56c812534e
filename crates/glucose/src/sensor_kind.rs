//! A kind of sensor, as its wearer describes it. There is no catalogue: what counts is what its own instructions say.

use crate::Region;

/// From when a sensor's time of wear runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WearFrom {
    /// From being put on.
    PutOn,
    /// From being started.
    Started,
}

/// A kind of sensor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SensorKind {
    /// A name of the wearer's own.
    pub name: String,
    /// How long it may be worn by its labelling, minutes.
    pub wear_min: u32,
    /// How much longer it goes on reading after that, minutes; 0 where it does not.
    pub extra_min: u32,
    /// From its start to its first reading, minutes.
    pub warm_up_min: u32,
    /// The longest its wearer would have it on before starting it, minutes.
    pub longest_bedding_min: u32,
    /// From when its time runs.
    pub wear_from: WearFrom,
    /// Whether a new one can warm up while the old one still reads.
    pub side_by_side: bool,
    /// Parts of the body its labelling names; empty where that was not said.
    pub sites: Vec<Region>,
}

impl SensorKind {
    /// The longest time of wear that can be described: a year, in minutes.
    pub const LONGEST_MIN: u32 = 366 * 1440;

    /// What is wrong with it, and what to do; `None` where it can be planned with.
    pub fn trouble(&self) -> Option<&'static str> {
        if self.name.trim().is_empty() {
            return Some("the kind of sensor has no name; give it one of your own");
        }
        let times = [
            self.wear_min,
            self.extra_min,
            self.warm_up_min,
            self.longest_bedding_min,
        ];
        if times.iter().any(|&time| time > Self::LONGEST_MIN) {
            return Some("a time is longer than a year; look at its unit");
        }
        if self.wear_min <= self.warm_up_min {
            return Some("it is worn for no longer than it takes to warm up; look at the units of both");
        }
        None
    }
}

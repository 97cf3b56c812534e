//! When to put on and start the coming sensors, so that no hour goes uncovered.
//!
//! Time is cut into slots from now on. Each sensor is put on at one slot and started at another; what it costs to do
//! either at a slot is handed in, so that clocks, days away and habits stay with the caller. Of all plans over the
//! horizon the one found has the fewest uncovered minutes, and of those the least cost: exactly, by dynamic programming.
//! Never is a sensor worn beyond its limit or put on after it expired.

mod cost;
mod drawn;
mod follow;
mod place;
mod search;
mod table;
mod window;

pub use drawn::{DRAWN_BY, drawn_rate, drawn_share, hours_lost};
pub use place::{Placed, Spot, place};

/// What starts the clock of a sensor's wear.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WearClock {
    /// Being put on: bedding in costs wear.
    PutOn,
    /// Being started.
    Start,
}

/// One kind of sensor, in minutes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kind {
    /// Labelled time of wear.
    pub wear_min: u32,
    /// How much longer it may go on reading; 0 where it may not.
    pub extra_min: u32,
    /// From its start to its first reading.
    pub warm_up_min: u32,
    /// The longest it may be worn before it is started.
    pub longest_bedding_min: u32,
    /// What starts the clock of its wear.
    pub clock: WearClock,
}

/// A sensor in the drawer, or one that is coming.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stocked {
    /// Its place in the list of kinds.
    pub kind: usize,
    /// From when it is there, minutes from now; 0 or less for now.
    pub from_min: i64,
    /// Last moment to put it on, minutes from now.
    pub until_min: i64,
}

/// The sensor on now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Worn {
    /// Its labelled end, minutes from now; in the past where only the extra time is left.
    pub labelled_end_min: i64,
    /// What may follow.
    pub extra_min: u32,
}

/// One put on already and not started.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BeddingIn {
    /// Its place in the list of kinds.
    pub kind: usize,
    /// Minutes from now, 0 or less.
    pub put_on_min: i64,
    /// How long it is to bed in, minutes, where that differs from the others.
    pub wished_min: Option<u32>,
}

/// What is weighed against what; any unit, hours being hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weights {
    /// An hour of labelled wear not used.
    pub unused_hour: f64,
    /// An hour worn beyond the labelled wear.
    pub extra_hour: f64,
    /// An hour bedded in more or less than wished.
    pub bedding_hour: f64,
    /// A sensor left in the drawer though a later one is taken, or bedded in and never started.
    pub passed_over: f64,
    /// A sensor that is not in the drawer yet.
    pub bought: f64,
}

impl Default for Weights {
    /// A day of wear lost weighs like four hours of bedding in too short, and like one put-on at an awkward hour of
    /// weight 12.
    fn default() -> Self {
        Weights {
            unused_hour: 0.5,
            extra_hour: 0.25,
            bedding_hour: 3.0,
            passed_over: 50.0,
            bought: 1.0,
        }
    }
}

/// What a plan is asked for.
#[derive(Clone, Debug)]
pub struct Ask<'a> {
    /// Minutes of a slot, above 0.
    pub slot_min: u32,
    /// Cost of putting a sensor on at each slot of the horizon, which has as many slots; infinite where it is impossible.
    pub put_on_cost: &'a [f64],
    /// The same for starting one.
    pub start_cost: &'a [f64],
    /// Kinds of sensors.
    pub kinds: &'a [Kind],
    /// The sensor that reads now.
    pub worn: Option<Worn>,
    /// One that beds in now.
    pub bedding_in: Option<BeddingIn>,
    /// The drawer, in any order; the first to expire are taken first.
    pub drawer: &'a [Stocked],
    /// Kind and earliest time of those to be bought, where any can be; there are always more.
    pub bought: Option<Stocked>,
    /// How long to bed in.
    pub bedding_min: u32,
    /// How long the coming sensors are to bed in where that differs, in the order they are put on; the one that beds in
    /// already is not counted. Longer lists take longer.
    pub bedding_by_turn: &'a [Option<u32>],
    /// Whether a new sensor can warm up while the old one still reads.
    pub side_by_side: bool,
    /// Slots at which a sensor must be put on, in order.
    pub pinned: &'a [usize],
    /// What is weighed against what.
    pub weights: Weights,
}

/// Which sensor is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Taken {
    /// The one that beds in already.
    BeddingIn,
    /// One of the drawer, by its place there.
    Drawer(usize),
    /// One that has to be bought.
    Bought,
}

/// One sensor of a plan, in minutes from now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Planned {
    /// Which it is.
    pub taken: Taken,
    /// Its place in the list of kinds.
    pub kind: usize,
    /// Put on.
    pub put_on_min: i64,
    /// Started.
    pub start_min: i64,
    /// First reading.
    pub reads_from_min: i64,
    /// Labelled end.
    pub labelled_end_min: i64,
    /// Last minute it may be worn.
    pub limit_min: i64,
    /// Minutes before its first reading in which none reads.
    pub uncovered_min: i64,
    /// Whether the wearer pinned when it is put on.
    pub pinned: bool,
}

/// The best plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Sensors in the order they are started.
    pub sensors: Vec<Planned>,
    /// Minutes of the horizon in which none reads.
    pub uncovered_min: i64,
    /// Cost beside that.
    pub cost: f64,
}

impl Plan {
    /// Whether there is one: pins may be such that no sensor can keep them. One that is not holds no sensor.
    pub fn is_possible(&self) -> bool {
        self.uncovered_min != i64::MAX
    }
}

/// Why there is no plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoPlan {
    /// No slot, or slots of no length.
    #[error("the horizon is empty")]
    NoHorizon,
    /// A kind that is not in the list.
    #[error("a sensor is of no known kind")]
    UnknownKind,
    /// Wear shorter than a slot, or than its own warm-up.
    #[error("a kind of sensor is worn for less time than it takes to warm up")]
    ShortWear,
    /// Costs that do not cover the horizon alike.
    #[error("the two lists of costs differ in length")]
    Costs,
    /// A pin beyond the horizon, or two at one slot.
    #[error("the pinned times are not in order within the horizon")]
    Pins,
    /// Nothing to put on, now or later.
    #[error("there is no sensor to plan with")]
    NoSensor,
}

/// Finds the best plan.
///
/// Slots are the only times at which a sensor is put on or started; warm-ups are rounded up to whole slots, limits down, so
/// that what is promised holds to the minute. The plan ends with the first sensor that lasts beyond the horizon.
///
/// # Errors
/// Where the question makes no sense; never because covering is impossible: then the plan says how much is uncovered.
pub fn plan(ask: &Ask<'_>) -> Result<Plan, NoPlan> {
    search::best(ask)
}

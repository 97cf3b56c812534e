//! Kinds in slots, what two sensors have between them, and the question looked over.

use super::cost::{Cost, parts};
use super::window::{Window, least_up_to};
use super::{Ask, Kind, NoPlan, WearClock};

/// A kind in slots.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slots {
    pub(super) wear: i64,
    pub(super) extra: i64,
    pub(super) warm_up: i64,
    pub(super) longest_bedding: i64,
    pub(super) clock: WearClock,
}

impl Slots {
    pub(super) fn of(kind: &Kind, slot_min: u32) -> Result<Self, NoPlan> {
        let wear = i64::from(kind.wear_min / slot_min);
        let whole = i64::from(kind.wear_min.saturating_add(kind.extra_min) / slot_min);
        let warm_up = i64::from(kind.warm_up_min.div_ceil(slot_min));
        if wear <= warm_up {
            return Err(NoPlan::ShortWear);
        }
        // A sensor whose clock runs from being put on must still read once it is started.
        let most = match kind.clock {
            WearClock::PutOn => wear - warm_up - 1,
            WearClock::Start => i64::MAX,
        };
        Ok(Slots {
            wear,
            extra: whole - wear,
            warm_up,
            longest_bedding: i64::from(kind.longest_bedding_min / slot_min).min(most),
            clock: kind.clock,
        })
    }

    /// Labelled end of one put on and started at these slots.
    pub(super) fn labelled_end(&self, put_on: i64, start: i64) -> i64 {
        match self.clock {
            WearClock::PutOn => put_on + self.wear,
            WearClock::Start => start + self.wear,
        }
    }
}

/// What lies between the end of one sensor and a next one, in slots.
#[derive(Clone, Copy, Debug)]
pub(super) struct Between {
    /// Warm-up of the next.
    pub(super) warm_up: i64,
    /// Extra time of the one before.
    pub(super) extra: i64,
    /// Whether the next warms up while the one before still reads.
    pub(super) side_by_side: bool,
    /// Cost of a slot of labelled wear not used.
    pub(super) unused: i64,
    /// Cost of a slot worn beyond it.
    pub(super) over: i64,
}

impl Between {
    /// The slot until which the one before would be worn for a start.
    fn old_until(&self, start: i64) -> i64 {
        if self.side_by_side {
            start + self.warm_up
        } else {
            start
        }
    }

    /// Uncovered slots and cost between a labelled end and a start.
    pub(super) fn of(&self, end: i64, start: i64) -> Cost {
        let (limit, until) = (end + self.extra, self.old_until(start));
        Cost {
            uncovered: (start + self.warm_up - limit.min(until)).max(0),
            soft: self.unused * (end - until).max(0) + self.over * (until.min(limit) - end).max(0),
            sensors: 0,
        }
    }

    /// For every labelled end from 0 to below `ends` the least cost of a next start and all that follows, `at` being the
    /// least cost from each start on.
    ///
    /// A start is early, within the extra time, or late, as the one before is worn until that start, within its extra
    /// time, or to its limit. In each part what lies between is a straight line in the start, so that the least is that of
    /// all starts up to, in, and from a window that slides with the end.
    pub(super) fn least(&self, at: &[Cost], ends: i64) -> Vec<Cost> {
        let slots = at.len() as i64;
        let cost = |start: i64| at[start as usize];
        let early = least_up_to((0..slots).map(|start| cost(start).more(-self.unused * start)));
        let mut late = least_up_to((0..slots).rev().map(|start| cost(start).and(uncovered(start))));
        late.reverse();
        let mut within = Window::new();
        let (shift, apart) = (self.old_until(0), self.warm_up - self.old_until(0));
        let place = |start: i64| usize::try_from(start).ok();
        (0..ends)
            .map(|end| {
                let (last_early, last_within) = (end - shift, end + self.extra - shift);
                let early = place(last_early.min(slots - 1)).map_or(Cost::NEVER, |start| early[start]);
                let early = early.and(uncovered(apart)).more(self.unused * last_early);
                let within = within.least((last_early + 1).max(0), last_within.min(slots - 1), |start| {
                    cost(start).more(self.over * start)
                });
                let within = within.and(uncovered(apart)).more(-self.over * last_early);
                let late = place((last_within + 1).max(0)).and_then(|start| late.get(start).copied());
                let late = late
                    .unwrap_or(Cost::NEVER)
                    .and(uncovered(self.warm_up - end - self.extra))
                    .more(self.over * self.extra);
                early.min(within).min(late)
            })
            .collect()
    }
}

fn uncovered(slots: i64) -> Cost {
    Cost {
        uncovered: slots,
        ..Cost::NONE
    }
}

/// The question in whole parts.
pub(super) struct Whole {
    pub(super) put_on: Vec<Option<i64>>,
    pub(super) start: Vec<Option<i64>>,
    pub(super) kinds: Vec<Slots>,
    /// Cost of a slot of each.
    pub(super) unused: i64,
    pub(super) over: i64,
    pub(super) bedding: i64,
    pub(super) passed_over: i64,
    pub(super) bought: i64,
}

impl Whole {
    /// The question looked over.
    pub(super) fn of(ask: &Ask<'_>) -> Result<Self, NoPlan> {
        let slots = ask.put_on_cost.len();
        if slots == 0 || ask.slot_min == 0 {
            return Err(NoPlan::NoHorizon);
        }
        if ask.start_cost.len() != slots {
            return Err(NoPlan::Costs);
        }
        let in_order = ask.pinned.windows(2).all(|two| two[0] < two[1]);
        if !in_order || ask.pinned.last().is_some_and(|&last| last >= slots) {
            return Err(NoPlan::Pins);
        }
        let used = ask.drawer.iter().chain(&ask.bought).map(|one| one.kind);
        let mut used = used.chain(ask.bedding_in.map(|one| one.kind)).peekable();
        if used.peek().is_none() {
            return Err(NoPlan::NoSensor);
        }
        if used.any(|kind| kind >= ask.kinds.len()) {
            return Err(NoPlan::UnknownKind);
        }
        let kinds = ask.kinds.iter().map(|kind| Slots::of(kind, ask.slot_min));
        let weight = |weight: f64| parts(weight.min(f64::MAX)).unwrap_or(0);
        let of_slot = |hour: f64| weight(hour * f64::from(ask.slot_min) / 60.0);
        Ok(Whole {
            put_on: ask.put_on_cost.iter().map(|&cost| parts(cost)).collect(),
            start: ask.start_cost.iter().map(|&cost| parts(cost)).collect(),
            kinds: kinds.collect::<Result<_, _>>()?,
            unused: of_slot(ask.weights.unused_hour),
            over: of_slot(ask.weights.extra_hour),
            bedding: of_slot(ask.weights.bedding_hour),
            passed_over: weight(ask.weights.passed_over),
            bought: weight(ask.weights.bought),
        })
    }
}

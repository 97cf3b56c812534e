//! Costs, and the slots of each kind.

use super::{Ask, Kind, NoPlan, WearClock};

/// Uncovered slots first, cost second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Cost {
    pub(super) uncovered: u64,
    pub(super) soft: f64,
}

impl Cost {
    pub(super) const NONE: Cost = Cost {
        uncovered: 0,
        soft: 0.0,
    };
    pub(super) const NEVER: Cost = Cost {
        uncovered: u64::MAX,
        soft: f64::INFINITY,
    };

    pub(super) fn is_never(self) -> bool {
        self.uncovered == u64::MAX || self.soft == f64::INFINITY
    }

    pub(super) fn and(self, uncovered: u64, soft: f64) -> Cost {
        if self.is_never() || soft == f64::INFINITY {
            return Cost::NEVER;
        }
        Cost {
            uncovered: self.uncovered + uncovered,
            soft: self.soft + soft,
        }
    }

    pub(super) fn less(self, other: Cost) -> bool {
        match self.uncovered.cmp(&other.uncovered) {
            std::cmp::Ordering::Less => true,
            std::cmp::Ordering::Greater => false,
            std::cmp::Ordering::Equal => self.soft < other.soft,
        }
    }
}

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
        let whole = i64::from((kind.wear_min + kind.extra_min) / slot_min);
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
    pub(super) unused: f64,
    /// Cost of a slot worn beyond it.
    pub(super) over: f64,
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
        let uncovered = (start + self.warm_up - limit.min(until)).max(0);
        let soft =
            self.unused * (end - until).max(0) as f64 + self.over * (until.min(limit) - end).max(0) as f64;
        Cost {
            uncovered: uncovered as u64,
            soft,
        }
    }
}

/// The best start so far at each step of a walk.
fn running(
    walk: impl Iterator<Item = (usize, Option<Cost>)>,
    better: impl Fn(Cost, Cost) -> bool,
) -> Vec<Option<usize>> {
    let mut best: Option<(Cost, usize)> = None;
    walk.map(|(start, cost)| {
        if let Some(cost) = cost
            && best.is_none_or(|(best, _)| better(cost, best))
        {
            best = Some((cost, start));
        }
        best.map(|(_, start)| start)
    })
    .collect()
}

/// The least cost from each start on, and the best start up to and from each.
#[derive(Clone, Debug)]
pub(super) struct Starts<T> {
    at: Vec<Option<(Cost, T)>>,
    /// Of all starts up to each, the best where wear is lost for every slot of earliness.
    early: Vec<Option<usize>>,
    /// Of all starts from each on, the best where every slot of lateness is uncovered.
    late: Vec<Option<usize>>,
}

impl<T: Copy> Starts<T> {
    pub(super) fn new(at: Vec<Option<(Cost, T)>>, between: Between) -> Self {
        let early_key = |start: usize| {
            at[start].map(|(cost, _)| Cost {
                uncovered: cost.uncovered,
                soft: cost.soft - between.unused * start as f64,
            })
        };
        let late_key = |start: usize| {
            at[start].map(|(cost, _)| Cost {
                uncovered: cost.uncovered + start as u64,
                soft: cost.soft,
            })
        };
        let slots = 0..at.len();
        let early = running(
            slots.clone().map(|start| (start, early_key(start))),
            |new, best| new.less(best),
        );
        let mut late = running(slots.rev().map(|start| (start, late_key(start))), |new, best| {
            !best.less(new)
        });
        late.reverse();
        Starts { at, early, late }
    }

    pub(super) fn at(&self, start: i64) -> Option<(Cost, T)> {
        self.at.get(usize::try_from(start).ok()?).copied().flatten()
    }

    /// The least cost after a labelled end, and how it begins.
    pub(super) fn best(&self, end: i64, between: &Between) -> Option<(Cost, T)> {
        let slots = self.at.len() as i64;
        // A start is early, or within the extra time, or late, as the one before is worn until the end, the limit, or not.
        let shift = between.old_until(0);
        let (last_early, last_within) = (end - shift, end + between.extra - shift);
        let place = |start: i64| usize::try_from(start).ok();
        let early = place(last_early.min(slots - 1)).and_then(|start| self.early[start]);
        let late = place((last_within + 1).max(0)).and_then(|start| self.late.get(start).copied().flatten());
        let within = (last_early + 1).max(0)..=last_within.min(slots - 1);
        let candidates = early.into_iter().chain(within.filter_map(place)).chain(late);
        let mut best: Option<(Cost, T)> = None;
        for start in candidates {
            let Some((cost, what)) = self.at[start] else {
                continue;
            };
            let way = between.of(end, start as i64);
            let cost = cost.and(way.uncovered, way.soft);
            if best.is_none_or(|(best, _)| cost.less(best)) {
                best = Some((cost, what));
            }
        }
        best
    }
}

pub(super) fn checked(ask: &Ask<'_>) -> Result<Vec<Slots>, NoPlan> {
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
    ask.kinds
        .iter()
        .map(|kind| Slots::of(kind, ask.slot_min))
        .collect()
}

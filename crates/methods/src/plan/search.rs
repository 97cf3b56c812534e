//! The search: from the last sensor back to the first.
//!
//! A state is what is left: which items of the drawer (`item` and later), whose turn it is, which pins (`pin` and later), and
//! the labelled end of the sensor that reads, with its extra time. Of each state but the end two tables are kept: the
//! least cost from each start of the next sensor on ([`Stage::begin`]), and the least cost once a labelled end lies at each
//! slot ([`Stage::after`]). Each takes a few passes over the slots (see [`Between::least`] and [`Search::own`]).
//!
//! Sensors that are bought are all alike, so that what is left of them is no part of the state: their tables are those of one
//! more sensor, until one more changes nothing.

use super::cost::Cost;
use super::table::{Between, Slots, Whole};
use super::window::Window;
use super::{Ask, BeddingIn, NoPlan, Plan, Stocked, Taken, WearClock};

/// One sensor that may be taken, in the order they are.
#[derive(Clone, Copy, Debug)]
pub(super) struct Item {
    pub(super) taken: Taken,
    pub(super) kind: usize,
    pub(super) from: i64,
    until: i64,
    cost: i64,
}

/// How one sensor begins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Begun {
    pub(super) item: usize,
    /// Pins before this one are kept once it is put on.
    pub(super) pin: usize,
    pub(super) put_on: i64,
    pub(super) start: i64,
}

/// What is left of items, turns and pins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Left {
    pub(super) item: usize,
    pub(super) turn: usize,
    pub(super) pin: usize,
}

/// The least costs of one state.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Stage {
    /// By kind of the next sensor, from each start on.
    pub(super) begin: Vec<Vec<Cost>>,
    /// By kind of the sensor that reads, once its labelled end lies at a slot.
    pub(super) after: Vec<Vec<Cost>>,
}

pub(super) struct Search<'a> {
    pub(super) ask: &'a Ask<'a>,
    pub(super) whole: Whole,
    /// What is on or in the drawer; one that is bought comes last, where any can be, and may be taken again and again.
    pub(super) items: Vec<Item>,
    /// Whether the last item never runs out.
    endless: bool,
    slots: i64,
    /// By item, turn and pin; what is past the last item too.
    pub(super) stages: Vec<Vec<Vec<Stage>>>,
}

pub(super) fn best(ask: &Ask<'_>) -> Result<Plan, NoPlan> {
    let whole = Whole::of(ask)?;
    let slots = i64::try_from(ask.put_on_cost.len()).map_err(|_| NoPlan::NoHorizon)?;
    let items = items(ask, &whole);
    let mut search = Search {
        ask,
        whole,
        endless: ask.bought.is_some(),
        stages: vec![Vec::new(); items.len() + 1],
        items,
        slots,
    };
    search.fill();
    Ok(search.follow())
}

/// What may be taken: the one that beds in, the drawer by expiry, then one that is bought.
fn items(ask: &Ask<'_>, whole: &Whole) -> Vec<Item> {
    let slot = i64::from(ask.slot_min);
    let item = |taken, one: &Stocked, cost| Item {
        taken,
        kind: one.kind,
        from: -(-one.from_min.max(0)).div_euclid(slot),
        until: one.until_min.div_euclid(slot),
        cost,
    };
    let mut items: Vec<Item> = Vec::new();
    items.extend(ask.bedding_in.and_then(|bedding| waiting(ask, whole, bedding)));
    let mut drawer: Vec<(usize, &Stocked)> = ask.drawer.iter().enumerate().collect();
    drawer.retain(|(_, one)| one.until_min >= 0);
    drawer.sort_by_key(|(_, one)| (one.until_min, one.from_min));
    let drawer = drawer.into_iter();
    items.extend(drawer.map(|(place, one)| item(Taken::Drawer(place), one, 0)));
    items.extend(
        ask.bought
            .iter()
            .map(|one| item(Taken::Bought, one, whole.bought)),
    );
    items
}

/// What beds in; none where it was on for all of its wear before it was started and is of no use any more.
fn waiting(ask: &Ask<'_>, whole: &Whole, bedding: BeddingIn) -> Option<Item> {
    let kind = &whole.kinds[bedding.kind];
    let from = bedding.put_on_min.min(0).div_euclid(i64::from(ask.slot_min));
    // One that is on for longer than it should be already is started as soon as it can be.
    let first = whole.start.iter().position(Option::is_some)? as i64;
    let item = Item {
        taken: Taken::BeddingIn,
        kind: bedding.kind,
        from,
        until: (from + kind.longest_bedding).max(first),
        cost: 0,
    };
    lasts(&item, kind, first).then_some(item)
}

/// Whether one that beds in may be started so late, and has any wear left once it has warmed up.
pub(super) fn lasts(item: &Item, kind: &Slots, start: i64) -> bool {
    start <= item.until && kind.labelled_end(item.from, start) > start + kind.warm_up
}

impl Search<'_> {
    fn turns(&self) -> usize {
        self.ask.bedding_by_turn.len()
    }

    fn fill(&mut self) {
        for item in (0..=self.items.len()).rev() {
            let is_endless = self.endless && item + 1 == self.items.len();
            // No more turns can have passed than items were taken; after the last turn all are alike.
            let turns = if is_endless {
                self.turns()
            } else {
                self.turns().min(item)
            };
            let mut by_turn: Vec<Vec<Stage>> = Vec::new();
            for turn in (0..=turns).rev() {
                let later = by_turn.last().map(Vec::as_slice);
                by_turn.push(self.by_pin(item, turn, later.filter(|_| is_endless)));
            }
            by_turn.reverse();
            self.stages[item] = by_turn;
        }
    }

    /// The stages of an item and a turn; `later` are those of its next turn where it never runs out.
    fn by_pin(&self, item: usize, turn: usize, later: Option<&[Stage]>) -> Vec<Stage> {
        let pins = self.ask.pinned.len();
        let mut stages: Vec<Stage> = Vec::new();
        for pin in (0..=pins).rev() {
            let left = Left { item, turn, pin };
            let above = |stages: &'_ [Stage]| stages.get(pin + 1).cloned();
            let stage = match (self.items.get(item), later) {
                (None, _) => self.nothing_left(pin),
                (Some(_), Some(later)) => self.stage(left, &later[pin], above(later).as_ref(), None),
                (Some(_), None) if self.endless && item + 1 == self.items.len() => {
                    self.without_end(left, stages.last())
                }
                (Some(one), None) => {
                    let next = &self.stages[item + 1][self.turn_after(one, turn)];
                    // What beds in may be taken off unused, as one may be left in the drawer.
                    let passed = Some(&self.stages[item + 1][turn][pin]);
                    self.stage(left, &next[pin], next.get(pin + 1), passed)
                }
            };
            stages.push(stage);
        }
        stages.reverse();
        stages
    }

    /// Cost of leaving one in the drawer, or of taking off what beds in: all of its wear is lost too.
    pub(super) fn passing(&self, one: &Item) -> i64 {
        let lost = match one.taken {
            Taken::BeddingIn => self.whole.unused * self.whole.kinds[one.kind].wear,
            Taken::Drawer(_) | Taken::Bought => 0,
        };
        self.whole.passed_over + lost
    }

    pub(super) fn turn_after(&self, one: &Item, turn: usize) -> usize {
        (turn + usize::from(one.taken != Taken::BeddingIn)).min(self.turns())
    }

    /// The stage of sensors that never run out: that of one, of two, and so on until one more changes nothing.
    fn without_end(&self, left: Left, next_pin: Option<&Stage>) -> Stage {
        let mut stage = self.nothing_left(left.pin);
        loop {
            let more = self.stage(left, &stage, next_pin, None);
            if more.begin == stage.begin {
                return more;
            }
            stage = more;
        }
    }

    fn nothing_left(&self, pin: usize) -> Stage {
        let kinds = &self.whole.kinds;
        Stage {
            begin: vec![vec![Cost::NEVER; self.slots as usize]; kinds.len()],
            after: kinds
                .iter()
                .map(|kind| {
                    (0..self.slots + kind.wear)
                        .map(|end| self.ending(pin, end, kind.extra))
                        .collect()
                })
                .collect(),
        }
    }

    /// The stage of what is left, `next` and `next_pin` being those once its item was taken, without and with a pin kept by
    /// it, and `passed` that of leaving it in the drawer.
    fn stage(&self, left: Left, next: &Stage, next_pin: Option<&Stage>, passed: Option<&Stage>) -> Stage {
        let item = &self.items[left.item];
        let kinds = self.whole.kinds.len();
        let mut begin: Vec<Vec<Cost>> = (0..kinds)
            .map(|kind| match passed {
                None => vec![Cost::NEVER; self.slots as usize],
                Some(stage) => stage.begin[kind]
                    .iter()
                    .map(|cost| cost.more(self.passing(item)))
                    .collect(),
            })
            .collect();
        let after = &next.after[item.kind];
        let own = if item.taken == Taken::BeddingIn {
            self.own_bedding_in(item, after)
        } else {
            self.own(
                left,
                after,
                next_pin.map(|stage| stage.after[item.kind].as_slice()),
            )
        };
        for (least, own) in begin[item.kind].iter_mut().zip(own) {
            *least = own.min(*least);
        }
        let after = (0..kinds)
            .map(|kind| self.after(left.pin, kind, &begin))
            .collect();
        Stage { begin, after }
    }

    /// The least cost for every labelled end that one of a kind can have.
    fn after(&self, pin: usize, kind: usize, begin: &[Vec<Cost>]) -> Vec<Cost> {
        let old = &self.whole.kinds[kind];
        let ends = self.slots + old.wear;
        let mut after: Vec<Cost> = (0..ends).map(|end| self.ending(pin, end, old.extra)).collect();
        for (next, at) in begin.iter().enumerate() {
            for (least, cost) in after
                .iter_mut()
                .zip(self.between(next, old.extra).least(at, ends))
            {
                *least = cost.min(*least);
            }
        }
        after
    }

    /// For each start the least cost of starting an item of the drawer then.
    ///
    /// The cost of bedding in is a straight line in the put-on on either side of the wish, so that the least is that of two
    /// windows that slide with the start: those that bed in for longer, and those for less.
    fn own(&self, left: Left, after: &[Cost], after_pin: Option<&[Cost]>) -> Vec<Cost> {
        let item = &self.items[left.item];
        let kind = &self.whole.kinds[item.kind];
        let (bedding, wished) = (self.whole.bedding, self.wished(item, left.turn));
        let pin = self.pin(left.pin);
        // Nothing else is put on at or after a pin that is still to be kept.
        let (first, last) = (item.from.max(0), item.until.min(self.slots - 1).min(pin - 1));
        let put = |put_on: i64| match (self.whole.put_on[put_on as usize], kind.clock) {
            (None, _) => Cost::NEVER,
            (Some(cost), WearClock::Start) => Cost::soft(cost),
            (Some(cost), WearClock::PutOn) => after[(put_on + kind.wear) as usize].more(cost),
        };
        let (mut longer, mut shorter) = (Window::new(), Window::new());
        (0..self.slots)
            .map(|start| {
                let line = start - wished;
                let longer = longer.least(first.max(start - kind.longest_bedding), last.min(line), |at| {
                    put(at).more(-bedding * at)
                });
                let shorter =
                    shorter.least(first.max(line), last.min(start), |at| put(at).more(bedding * at));
                let mut least = longer.more(bedding * line).min(shorter.more(-bedding * line));
                if kind.clock == WearClock::Start {
                    least = least.and(after[(start + kind.wear) as usize]);
                }
                let least = least.and(self.taking(item, start));
                let pinned = Begun {
                    item: left.item,
                    pin: left.pin + 1,
                    put_on: pin,
                    start,
                };
                let kept = after_pin.filter(|_| self.may_begin(item, kind, &pinned));
                kept.map_or(least, |after| {
                    least.min(self.through(left.turn, &pinned, |end| after[end as usize]))
                })
            })
            .collect()
    }

    /// The same of the one that beds in.
    fn own_bedding_in(&self, item: &Item, after: &[Cost]) -> Vec<Cost> {
        let kind = &self.whole.kinds[item.kind];
        (0..self.slots)
            .map(|start| {
                if !lasts(item, kind, start) {
                    return Cost::NEVER;
                }
                self.starting_waiting(item, start)
                    .and(after[kind.labelled_end(item.from, start) as usize])
            })
            .collect()
    }

    /// Cost of starting what beds in: as soon as the wish is fulfilled it costs nothing.
    fn starting_waiting(&self, item: &Item, start: i64) -> Cost {
        let own = self.ask.bedding_in.and_then(|bedding| bedding.wished_min);
        let wished = item.from + i64::from(own.unwrap_or(self.ask.bedding_min) / self.ask.slot_min);
        let off = (start - wished.max(0)).abs();
        self.taking(item, start).more(self.whole.bedding * off)
    }

    /// Cost of one sensor more, started then.
    fn taking(&self, item: &Item, start: i64) -> Cost {
        let cost = self.whole.start[start as usize].map_or(Cost::NEVER, |cost| Cost::soft(cost + item.cost));
        cost.and(Cost {
            sensors: 1,
            ..Cost::NONE
        })
    }

    /// The slot of a pin; past the horizon where none is left.
    pub(super) fn pin(&self, pin: usize) -> i64 {
        self.ask.pinned.get(pin).map_or(self.slots, |&slot| slot as i64)
    }

    /// How long an item is to bed in at its turn, slots.
    fn wished(&self, item: &Item, turn: usize) -> i64 {
        let by_turn = self.ask.bedding_by_turn.get(turn).copied().flatten();
        let wished = by_turn.unwrap_or(self.ask.bedding_min) / self.ask.slot_min;
        i64::from(wished).min(self.whole.kinds[item.kind].longest_bedding)
    }

    /// Whether an item can be put on and started so, pins aside.
    pub(super) fn may_begin(&self, item: &Item, kind: &Slots, begun: &Begun) -> bool {
        (item.from.max(0)..=item.until.min(self.slots - 1)).contains(&begun.put_on)
            && (0..=kind.longest_bedding).contains(&(begun.start - begun.put_on))
    }

    /// Cost of one way to begin and all that follows.
    pub(super) fn through(&self, turn: usize, begun: &Begun, after: impl Fn(i64) -> Cost) -> Cost {
        let item = &self.items[begun.item];
        let kind = &self.whole.kinds[item.kind];
        let own = if item.taken == Taken::BeddingIn {
            self.starting_waiting(item, begun.start)
        } else {
            let off = (begun.start - begun.put_on - self.wished(item, turn)).abs();
            let put_on = self.whole.put_on[begun.put_on as usize].map_or(Cost::NEVER, Cost::soft);
            self.taking(item, begun.start)
                .and(put_on)
                .more(self.whole.bedding * off)
        };
        own.and(after(kind.labelled_end(begun.put_on, begun.start)))
    }

    pub(super) fn between(&self, next: usize, extra: i64) -> Between {
        Between {
            warm_up: self.whole.kinds[next].warm_up,
            extra,
            side_by_side: self.ask.side_by_side,
            unused: self.whole.unused,
            over: self.whole.over,
        }
    }

    /// Cost from a labelled end on where the plan ends there.
    pub(super) fn ending(&self, pin: usize, end: i64, extra: i64) -> Cost {
        if pin < self.ask.pinned.len() {
            return Cost::NEVER;
        }
        let limit = end + extra;
        Cost {
            uncovered: (self.slots - limit).max(0),
            soft: self.whole.over * (self.slots.min(limit) - end).max(0),
            sensors: 0,
        }
    }
}

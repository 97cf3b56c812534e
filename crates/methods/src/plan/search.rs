//! The search: from the last sensor back to the first.
//!
//! A state is what is left: which items of the drawer (`item` and later), which pins (`pin` and later), and the labelled end of
//! the sensor that reads, with its extra time. The next sensor begins at a start; what the two have between them costs
//! uncovered slots where it reads too late, unused wear where it reads early, extra wear between. All three are straight
//! lines in the start, so the best start on either side of an end is a running minimum, kept once for each state
//! ([`Starts`]). Every sensor uses up one item, so each state needs only those of later items.

use super::table::{Between, Cost, Slots, Starts, checked};
use super::{Ask, NoPlan, Plan, Planned, Stocked, Taken};

/// One sensor that may be taken, in the order they are.
#[derive(Clone, Copy, Debug)]
struct Item {
    taken: Taken,
    kind: usize,
    from: i64,
    until: i64,
    cost: f64,
}

/// How one sensor begins.
#[derive(Clone, Copy, Debug)]
struct Begun {
    item: usize,
    /// Pins before this one are kept once it is put on.
    pin: usize,
    put_on: i64,
    start: i64,
}

struct Search<'a> {
    ask: &'a Ask<'a>,
    kinds: Vec<Slots>,
    items: Vec<Item>,
    slots: i64,
    /// By item and pin, by kind of the next sensor.
    starts: Vec<Vec<Vec<Starts<Begun>>>>,
    /// By item and pin, by kind of the sensor that reads: the least cost once its labelled end lies at a slot.
    ended: Vec<Vec<Vec<Vec<Cost>>>>,
}

pub(super) fn best(ask: &Ask<'_>) -> Result<Plan, NoPlan> {
    let kinds = checked(ask)?;
    let slots = i64::try_from(ask.put_on_cost.len()).map_err(|_| NoPlan::NoHorizon)?;
    let items = items(ask, &kinds, slots);
    let mut search = Search {
        ask,
        kinds,
        slots,
        starts: vec![Vec::new(); items.len() + 1],
        ended: vec![Vec::new(); items.len() + 1],
        items,
    };
    search.fill();
    Ok(search.follow())
}

/// What may be taken: the one that beds in, the drawer by expiry, then as many bought ones as the horizon could need.
fn items(ask: &Ask<'_>, kinds: &[Slots], slots: i64) -> Vec<Item> {
    let slot = i64::from(ask.slot_min);
    let item = |taken, one: &Stocked, cost| Item {
        taken,
        kind: one.kind,
        from: -(-one.from_min.max(0)).div_euclid(slot),
        until: one.until_min.div_euclid(slot),
        cost,
    };
    let mut items: Vec<Item> = Vec::new();
    if let Some(bedding) = ask.bedding_in {
        let at = bedding.put_on_min.min(0).div_euclid(slot);
        items.push(Item {
            taken: Taken::BeddingIn,
            kind: bedding.kind,
            from: at,
            until: at,
            cost: 0.0,
        });
    }
    let mut drawer: Vec<(usize, &Stocked)> = ask.drawer.iter().enumerate().collect();
    drawer.retain(|(_, one)| one.until_min >= 0);
    drawer.sort_by_key(|(_, one)| (one.until_min, one.from_min));
    items.extend(
        drawer
            .into_iter()
            .map(|(place, one)| item(Taken::Drawer(place), one, 0.0)),
    );
    if let Some(bought) = &ask.bought {
        let kind = &kinds[bought.kind];
        let shortest = (kind.wear - kind.warm_up - kind.longest_bedding.min(kind.wear)).max(1);
        let most = (2 * slots / shortest + 2).min(slots).min(MOST_BOUGHT) + ask.pinned.len() as i64;
        items.extend((0..most).map(|_| item(Taken::Bought, bought, ask.weights.bought)));
    }
    items
}

/// No plan holds more bought sensors than this, beside the pinned ones.
const MOST_BOUGHT: i64 = 60;

impl Search<'_> {
    fn hours(&self, slots: i64) -> f64 {
        slots as f64 * f64::from(self.ask.slot_min) / 60.0
    }

    fn fill(&mut self) {
        let pins = self.ask.pinned.len();
        for item in (0..=self.items.len()).rev() {
            self.starts[item] = (0..=pins)
                .map(|pin| {
                    (0..self.kinds.len())
                        .map(|kind| self.begin(item, pin, kind))
                        .collect()
                })
                .collect();
            self.ended[item] = (0..=pins)
                .map(|pin| {
                    self.kinds
                        .iter()
                        .map(|kind| self.after(item, pin, kind))
                        .collect()
                })
                .collect();
        }
    }

    /// The least cost for every labelled end that one of a kind can have.
    fn after(&self, item: usize, pin: usize, kind: &Slots) -> Vec<Cost> {
        (0..self.slots + kind.wear)
            .map(|end| self.least(item, pin, end, kind.extra).0)
            .collect()
    }

    /// The same, looked up.
    fn ended(&self, item: usize, pin: usize, kind: usize, end: i64) -> Cost {
        let known = usize::try_from(end)
            .ok()
            .and_then(|end| self.ended[item][pin][kind].get(end));
        known
            .copied()
            .unwrap_or_else(|| self.least(item, pin, end, self.kinds[kind].extra).0)
    }

    /// For each start the least cost of taking this item, or a later one in its place, if it is of the kind.
    fn begin(&self, item: usize, pin: usize, kind: usize) -> Starts<Begun> {
        let mut best: Vec<Option<(Cost, Begun)>> = vec![None; self.slots as usize];
        if let Some(one) = self.items.get(item) {
            let passed_over = match one.taken {
                Taken::Drawer(_) => self.ask.weights.passed_over,
                Taken::Bought => 0.0,
                // What is on the body already is started.
                Taken::BeddingIn => f64::INFINITY,
            };
            for start in 0..self.slots {
                let mut least = self.starts[item + 1][pin][kind]
                    .at(start)
                    .map(|(cost, begun)| (cost.and(0, passed_over), begun));
                if one.kind == kind {
                    for begun in self.ways(item, pin, start) {
                        let cost = self.through(&begun);
                        if least.is_none_or(|(least, _)| cost.less(least)) {
                            least = Some((cost, begun));
                        }
                    }
                }
                best[start as usize] = least.filter(|(cost, _)| !cost.is_never());
            }
        }
        Starts::new(best, self.between(kind, 0))
    }

    /// The ways to begin this item at a start.
    fn ways(&self, item: usize, pin: usize, start: i64) -> impl Iterator<Item = Begun> + use<> {
        let one = self.items[item];
        let next = self.ask.pinned.get(pin).map(|&slot| slot as i64);
        let is_on = one.taken == Taken::BeddingIn;
        put_ons(&one, &self.kinds[one.kind], start).filter_map(move |put_on| {
            // Nothing else is put on at or after a pin that is still to be kept.
            let pin = match next {
                Some(slot) if !is_on && put_on == slot => pin + 1,
                Some(slot) if !is_on && put_on > slot => return None,
                _ => pin,
            };
            Some(Begun {
                item,
                pin,
                put_on,
                start,
            })
        })
    }

    /// Cost of one way to begin and all that follows.
    fn through(&self, begun: &Begun) -> Cost {
        let item = &self.items[begun.item];
        let kind = &self.kinds[item.kind];
        let (put_on, bedding) = match usize::try_from(begun.put_on) {
            Ok(slot) if item.taken != Taken::BeddingIn => {
                let wished = i64::from(self.ask.bedding_min / self.ask.slot_min).min(kind.longest_bedding);
                let off = (begun.start - begun.put_on - wished).abs();
                (
                    self.ask.put_on_cost[slot],
                    self.ask.weights.bedding_hour * self.hours(off),
                )
            }
            // What is on already is started as soon as the wish is fulfilled.
            _ => {
                let wished = begun.put_on + i64::from(self.ask.bedding_min / self.ask.slot_min);
                let off = (begun.start - wished.max(0)).abs();
                (0.0, self.ask.weights.bedding_hour * self.hours(off))
            }
        };
        let soft = put_on + self.ask.start_cost[begun.start as usize] + bedding + item.cost;
        let end = kind.labelled_end(begun.put_on, begun.start);
        self.ended(begun.item + 1, begun.pin, item.kind, end).and(0, soft)
    }

    fn between(&self, next: usize, extra: i64) -> Between {
        Between {
            warm_up: self.kinds[next].warm_up,
            extra,
            side_by_side: self.ask.side_by_side,
            unused: self.ask.weights.unused_hour * self.hours(1),
            over: self.ask.weights.extra_hour * self.hours(1),
        }
    }

    /// Least cost from a labelled end on, with so much extra, and how the next sensor begins; none where the plan ends.
    fn least(&self, item: usize, pin: usize, end: i64, extra: i64) -> (Cost, Option<Begun>) {
        let limit = end + extra;
        let mut best = if pin < self.ask.pinned.len() {
            (Cost::NEVER, None)
        } else {
            let over = (self.slots.min(limit) - end).max(0);
            let left = (self.slots - limit).max(0) as u64;
            let soft = self.ask.weights.extra_hour * self.hours(over);
            (Cost::NONE.and(left, soft), None)
        };
        for kind in 0..self.kinds.len() {
            let between = self.between(kind, extra);
            if let Some((cost, begun)) = self.starts[item][pin][kind].best(end, &between)
                && cost.less(best.0)
            {
                best = (cost, Some(begun));
            }
        }
        best
    }

    /// The plan, from now on.
    fn follow(&self) -> Plan {
        let slot = i64::from(self.ask.slot_min);
        let (mut end, mut extra) = self.ask.worn.map_or((0, 0), |worn| {
            let end = worn.labelled_end_min.div_euclid(slot);
            let limit = (worn.labelled_end_min + i64::from(worn.extra_min)).div_euclid(slot);
            // One beyond its limit covers nothing from now on.
            if limit > 0 { (end, limit - end) } else { (0, 0) }
        });
        let (cost, mut next) = self.least(0, 0, end, extra);
        let (mut pin, mut sensors) = (0, Vec::new());
        while let Some(begun) = next {
            let one = &self.items[begun.item];
            let kind = &self.kinds[one.kind];
            let uncovered = self.between(one.kind, extra).of(end, begun.start).uncovered;
            (end, extra) = (kind.labelled_end(begun.put_on, begun.start), kind.extra);
            sensors.push(Planned {
                taken: one.taken,
                kind: one.kind,
                put_on_min: match (one.taken, self.ask.bedding_in) {
                    (Taken::BeddingIn, Some(bedding)) => bedding.put_on_min,
                    _ => begun.put_on * slot,
                },
                start_min: begun.start * slot,
                reads_from_min: begun.start * slot + i64::from(self.ask.kinds[one.kind].warm_up_min),
                labelled_end_min: end * slot,
                limit_min: (end + extra) * slot,
                uncovered_min: uncovered as i64 * slot,
                pinned: begun.pin > pin,
            });
            pin = begun.pin;
            next = self.least(begun.item + 1, pin, end, extra).1;
        }
        Plan {
            uncovered_min: i64::try_from(cost.uncovered)
                .unwrap_or(i64::MAX)
                .saturating_mul(slot),
            sensors,
            cost: cost.soft,
        }
    }
}

/// Slots at which an item may be put on to be started at a slot.
fn put_ons(item: &Item, kind: &Slots, start: i64) -> std::ops::Range<i64> {
    if item.taken != Taken::BeddingIn {
        return (start - kind.longest_bedding).max(item.from).max(0)..start.min(item.until) + 1;
    }
    // What is on already may have bedded in for longer than it should; it is started while it has any wear left.
    let lasts = kind.labelled_end(item.from, start) > start + kind.warm_up;
    item.from..item.from + i64::from(lasts)
}

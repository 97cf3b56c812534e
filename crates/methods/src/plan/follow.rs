//! The plan itself, read off the tables from now on.

use super::cost::Cost;
use super::search::{Begun, Left, Search};
use super::{Plan, Planned, Taken};

impl Search<'_> {
    /// The plan, from now on.
    pub(super) fn follow(&self) -> Plan {
        let slot = i64::from(self.ask.slot_min);
        let (mut end, mut extra) = self.ask.worn.map_or((0, 0), |worn| {
            let end = worn.labelled_end_min.div_euclid(slot);
            let limit = (worn.labelled_end_min + i64::from(worn.extra_min)).div_euclid(slot);
            // One beyond its limit covers nothing from now on.
            if limit > 0 { (end, limit - end) } else { (0, 0) }
        });
        let mut left = Left {
            item: 0,
            turn: 0,
            pin: 0,
        };
        let mut sensors = Vec::new();
        let (cost, mut next) = self.least(left, end, extra);
        while let Some(begun) = next {
            let one = &self.items[begun.item];
            let kind = &self.whole.kinds[one.kind];
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
                uncovered_min: uncovered * slot,
                pinned: begun.pin > left.pin,
            });
            left = self.left_after(left, &begun);
            next = self.least(left, end, extra).1;
        }
        Plan {
            uncovered_min: cost.uncovered.saturating_mul(slot),
            sensors,
            cost: if cost.is_never() {
                f64::INFINITY
            } else {
                cost.weighed()
            },
        }
    }

    fn left_after(&self, left: Left, begun: &Begun) -> Left {
        let one = &self.items[begun.item];
        Left {
            item: begun.item + usize::from(one.taken != Taken::Bought),
            turn: self.turn_after(one, left.turn),
            pin: begun.pin,
        }
    }

    /// Least cost from a labelled end on, with so much extra, and how the next sensor begins; none where the plan ends.
    fn least(&self, left: Left, end: i64, extra: i64) -> (Cost, Option<Begun>) {
        let mut best = (self.ending(left.pin, end, extra), None);
        let stage = &self.stages[left.item][left.turn][left.pin];
        for (kind, begin) in stage.begin.iter().enumerate() {
            let between = self.between(kind, extra);
            for (start, cost) in (0..).zip(begin) {
                let cost = cost.and(between.of(end, start));
                if cost < best.0 {
                    best = (cost, Some((kind, start)));
                }
            }
        }
        let (cost, how) = best;
        (cost, how.and_then(|(kind, start)| self.begun(left, kind, start)))
    }

    /// The best way to start a sensor of a kind at a slot.
    fn begun(&self, left: Left, kind: usize, start: i64) -> Option<Begun> {
        let mut best: Option<(Cost, Begun)> = None;
        let mut passed = 0;
        for (item, one) in self.items.iter().enumerate().skip(left.item) {
            let ways = (one.kind == kind).then(|| self.ways(left, item, start));
            for begun in ways.into_iter().flatten() {
                let then = self.left_after(left, &begun);
                let stage = &self.stages[then.item][then.turn][then.pin];
                let cost = self.through(left.turn, &begun, |end| stage.after[kind][end as usize]);
                let cost = cost.more(passed);
                if !cost.is_never() && best.is_none_or(|(least, _)| cost < least) {
                    best = Some((cost, begun));
                }
            }
            passed += self.passing(one);
        }
        best.map(|(_, begun)| begun)
    }

    /// All ways to begin an item at a start.
    fn ways(&self, left: Left, item: usize, start: i64) -> Vec<Begun> {
        let one = &self.items[item];
        let kind = &self.whole.kinds[one.kind];
        let begun = |put_on: i64, pin: usize| Begun {
            item,
            pin,
            put_on,
            start,
        };
        if one.taken == Taken::BeddingIn {
            let lasts = super::search::lasts(one, kind, start);
            return lasts.then(|| begun(one.from, left.pin)).into_iter().collect();
        }
        let pin = self.pin(left.pin);
        ((start - kind.longest_bedding).max(0)..=start.min(pin))
            .map(|put_on| begun(put_on, left.pin + usize::from(put_on == pin)))
            .filter(|begun| self.may_begin(one, kind, begun))
            .collect()
    }
}

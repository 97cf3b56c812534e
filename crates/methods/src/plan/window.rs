//! Least costs in windows that slide.

use std::collections::VecDeque;

use super::cost::Cost;

/// For each place the least of the costs up to it.
pub(super) fn least_up_to(costs: impl Iterator<Item = Cost>) -> Vec<Cost> {
    let mut least = Cost::NEVER;
    costs
        .map(|cost| {
            least = least.min(cost);
            least
        })
        .collect()
}

/// The least cost in a window whose two ends only move forward.
pub(super) struct Window {
    /// Places and costs that may yet be the least: later and dearer ones, ascending.
    open: VecDeque<(i64, Cost)>,
    next: i64,
}

impl Window {
    pub(super) fn new() -> Self {
        Window {
            open: VecDeque::new(),
            next: i64::MIN,
        }
    }

    /// The least of `cost` from `from` to `to`, both included. Neither may be less than when last asked.
    pub(super) fn least(&mut self, from: i64, to: i64, cost: impl Fn(i64) -> Cost) -> Cost {
        for place in self.next.max(from)..=to {
            let new = cost(place);
            while self.open.back().is_some_and(|&(_, old)| old >= new) {
                self.open.pop_back();
            }
            self.open.push_back((place, new));
        }
        self.next = self.next.max(to.saturating_add(1));
        while self.open.front().is_some_and(|&(place, _)| place < from) {
            self.open.pop_front();
        }
        self.open.front().map_or(Cost::NEVER, |&(_, cost)| cost)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_of_each_window() {
        let costs: Vec<i64> = (0..200).map(|i| (i * 7919) % 97).collect();
        for length in [1, 2, 5, 60] {
            let mut window = Window::new();
            for at in 0..200_i64 {
                let from = (at - length + 1).max(0);
                let least = window.least(from, at, |place| Cost::soft(costs[place as usize]));
                let plain = costs[from as usize..=at as usize].iter().min().unwrap();
                assert_eq!(least, Cost::soft(*plain), "{length} {at}");
            }
        }
        assert_eq!(Window::new().least(3, 2, |_| Cost::NONE), Cost::NEVER);
    }
}

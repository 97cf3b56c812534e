//! One event from several tellings: which rows of a minute are the same event.
//!
//! A source tells of each event once, so two rows of one source are two events unless they are equal. Rows of
//! different sources are one event where they agree ([`Same`]) and their instants can be the same: equal, or one
//! stamped to the minute and the other anywhere within it. The answer depends on what is told and by whom, never on
//! the order of the sources.

use std::cmp::Ordering;
use std::collections::{BTreeSet, HashMap};

use interstice_glucose::Second;

use crate::entry::content;
use crate::same::{MINUTE_S, Same};

/// So many rows are compared one with another; more are looked up by their content.
const FEW: usize = 16;

/// Everything a person writes is one source: two entries by hand are the same only where they are equal.
const BY_HAND: i64 = 0;

/// One row: an event as one source tells it.
#[derive(Clone, Debug)]
pub(crate) struct Telling<T> {
    pub(crate) id: i64,
    pub(crate) origin: i64,
    pub(crate) by_hand: bool,
    /// The source's stamps of this kind are all whole minutes.
    pub(crate) to_minute: bool,
    pub(crate) it: T,
}

impl<T: Same> Telling<T> {
    pub(crate) fn source(&self) -> i64 {
        if self.by_hand { BY_HAND } else { self.origin }
    }
}

/// Whether two stamps can be of one instant.
pub(crate) fn at_once(a: (Second, bool), b: (Second, bool)) -> bool {
    a.0 == b.0 || (minute(a.0) == minute(b.0) && (a.1 || b.1))
}

pub(crate) fn minute(at: Second) -> Second {
    at.div_euclid(MINUTE_S)
}

/// Equal rows, whoever tells them.
struct Node {
    rows: Vec<usize>,
    /// Ascending.
    sources: Vec<i64>,
    /// Whether none of the sources knows the second.
    to_minute: bool,
}

/// Groups the rows of one minute into events: row numbers, those of one event in the order given. The finest telling
/// of each event is named first.
pub(crate) fn group<T: Same>(rows: &[Telling<T>]) -> Vec<(usize, Vec<usize>)> {
    let nodes = nodes(rows);
    let mut sets: Vec<&[i64]> = nodes.iter().map(|node| node.sources.as_slice()).collect();
    sets.sort_unstable();
    sets.dedup();
    let strangers = sets
        .iter()
        .enumerate()
        .any(|(i, a)| sets[i + 1..].iter().any(|b| are_disjoint(a, b)));
    if strangers {
        join(rows, nodes)
    } else {
        nodes.into_iter().map(|node| (node.rows[0], node.rows)).collect()
    }
}

fn nodes<T: Same>(rows: &[Telling<T>]) -> Vec<Node> {
    let mut nodes: Vec<Node> = Vec::new();
    let mut by_content: HashMap<String, usize> = HashMap::new();
    for (i, row) in rows.iter().enumerate() {
        let known = if rows.len() <= FEW {
            nodes.iter().position(|node| rows[node.rows[0]].it == row.it)
        } else {
            let next = nodes.len();
            Some(*by_content.entry(content(&row.it.values())).or_insert(next)).filter(|&known| known < next)
        };
        match known.map(|known| &mut nodes[known]) {
            Some(node) => {
                node.rows.push(i);
                node.to_minute &= row.to_minute;
                if let Err(place) = node.sources.binary_search(&row.source()) {
                    node.sources.insert(place, row.source());
                }
            }
            None => nodes.push(Node {
                rows: vec![i],
                sources: vec![row.source()],
                to_minute: row.to_minute,
            }),
        }
    }
    nodes
}

fn are_disjoint(a: &[i64], b: &[i64]) -> bool {
    let (mut a, mut b) = (a, b);
    while let (Some(x), Some(y)) = (a.first(), b.first()) {
        match x.cmp(y) {
            Ordering::Less => a = &a[1..],
            Ordering::Greater => b = &b[1..],
            Ordering::Equal => return false,
        }
    }
    true
}

/// Each node, the finest first, joins the event whose finest telling it agrees with best among those that none of its
/// sources has told of yet, or begins one.
fn join<T: Same>(rows: &[Telling<T>], nodes: Vec<Node>) -> Vec<(usize, Vec<usize>)> {
    let mut order: Vec<(bool, i64, Second, String, Node)> = nodes
        .into_iter()
        .map(|node| {
            let it = &rows[node.rows[0]].it;
            let fineness = in_order(it.coarseness());
            (node.to_minute, fineness, it.at(), content(&it.values()), node)
        })
        .collect();
    order.sort_by(|a, b| (a.0, a.1, a.2, &a.3).cmp(&(b.0, b.1, b.2, &b.3)));
    let mut events = Events {
        rows,
        all: Vec::new(),
        sets: Vec::new(),
        shelves: HashMap::new(),
    };
    for (.., node) in order {
        match events.find(&node) {
            Some(event) => events.add(event, node),
            None => events.begin(node),
        }
    }
    let mut all: Vec<(usize, Vec<usize>)> = events
        .all
        .into_iter()
        .map(|event| (event.seed, event.rows))
        .collect();
    for (_, rows) in &mut all {
        rows.sort_unstable();
    }
    all
}

struct Event {
    /// The row of its finest telling.
    seed: usize,
    to_minute: bool,
    rows: Vec<usize>,
    set: usize,
}

/// Events that may be joined, by who has told of them, by their words, and by the instant where it must be equal.
type Shelf = (usize, String, Option<Second>);

struct Events<'a, T> {
    rows: &'a [Telling<T>],
    all: Vec<Event>,
    /// Sets of sources met.
    sets: Vec<Vec<i64>>,
    /// Events by figure.
    shelves: HashMap<Shelf, BTreeSet<(i64, usize)>>,
}

impl<T: Same> Events<'_, T> {
    fn find(&self, node: &Node) -> Option<usize> {
        let it = &self.rows[node.rows[0]].it;
        let words = it.words()?;
        // What knows the second is compared before what does not, so an event to join knows it too.
        let at = (!node.to_minute).then(|| it.at());
        let figure = it.figure();
        let (low, high) = (
            in_order(figure.value - figure.reach),
            in_order(figure.value + figure.reach),
        );
        let here = in_order(figure.value);
        let agrees = |event: usize| self.rows[self.all[event].seed].it.alike(it);
        let mut best: Option<(f64, usize)> = None;
        for (set, sources) in self.sets.iter().enumerate() {
            if !are_disjoint(sources, &node.sources) {
                continue;
            }
            let Some(shelf) = self.shelves.get(&(set, words.clone(), at)) else {
                continue;
            };
            let above = shelf
                .range((here, 0)..=(high, usize::MAX))
                .find(|&&(_, event)| agrees(event));
            let below = shelf
                .range((low, 0)..(here, 0))
                .rev()
                .find(|&&(_, event)| agrees(event));
            for &(_, event) in above.into_iter().chain(below) {
                let off = (self.rows[self.all[event].seed].it.figure().value - figure.value).abs();
                if best.is_none_or(|best| (off, event) < best) {
                    best = Some((off, event));
                }
            }
        }
        best.map(|(_, event)| event)
    }

    fn begin(&mut self, node: Node) {
        let set = self.set(node.sources);
        self.all.push(Event {
            seed: node.rows[0],
            to_minute: node.to_minute,
            rows: node.rows,
            set,
        });
        self.shelve(self.all.len() - 1, true);
    }

    fn add(&mut self, event: usize, node: Node) {
        self.shelve(event, false);
        let mut sources = self.sets[self.all[event].set].clone();
        sources.extend(node.sources);
        sources.sort_unstable();
        let set = self.set(sources);
        self.all[event].set = set;
        self.all[event].rows.extend(node.rows);
        self.shelve(event, true);
    }

    fn set(&mut self, sources: Vec<i64>) -> usize {
        let known = self.sets.iter().position(|set| *set == sources);
        known.unwrap_or_else(|| {
            self.sets.push(sources);
            self.sets.len() - 1
        })
    }

    /// Puts an event where it can be found, or takes it away.
    fn shelve(&mut self, event: usize, there: bool) {
        let Event {
            seed, set, to_minute, ..
        } = self.all[event];
        let it = &self.rows[seed].it;
        let Some(words) = it.words() else { return };
        let place = (in_order(it.figure().value), event);
        for at in [None, (!to_minute).then(|| it.at())] {
            let shelf = self.shelves.entry((set, words.clone(), at)).or_default();
            if there {
                shelf.insert(place);
            } else {
                shelf.remove(&place);
            }
        }
    }
}

/// A number that sorts as `value` does.
fn in_order(value: f64) -> i64 {
    let bits = (value + 0.0).to_bits() as i64;
    bits ^ ((bits >> 63) & i64::MAX)
}

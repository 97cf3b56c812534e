//! Where to put the coming sensors.

/// A spot on the body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// What speaks against it, 0 for nothing, less where something speaks for it; infinite where it must not be used.
    pub cost: f64,
    /// When a sensor was last taken off it, minutes from now; `None` where none was.
    pub free_since_min: Option<i64>,
}

/// Where one sensor goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// The spot, by its place in the list; none where no spot is allowed.
    pub spot: Option<usize>,
    /// Minutes it has rested by then; `None` where it was never used.
    pub rested_min: Option<i64>,
}

/// How many spots back are remembered: a spot must rest for at most so many sensors.
const REMEMBERED: u32 = 3;

/// Chooses a spot for each coming sensor: the least sum of their costs and of what is missing of their rest, found exactly
/// over all sequences.
///
/// * `worn`: when each is put on and, at the latest, taken off, minutes from now, in order.
/// * `allowed`: for each sensor the spots it may go to, where that is limited (a pin, a trial); none means all.
/// * `rest_min`: how long a spot should rest. Only the last three sensors' spots are kept in mind beside those used before.
/// * `missing_hour`: cost of each hour of rest that is missing. Two sensors on one spot at once never happen.
pub fn place(
    worn: &[(i64, i64)],
    spots: &[Spot],
    allowed: &[Option<Vec<usize>>],
    rest_min: i64,
    missing_hour: f64,
) -> Vec<Placed> {
    let mut all = Sequences {
        nodes: Vec::new(),
        worn,
        spots,
    };
    let mut ends: Vec<Option<usize>> = vec![None];
    for (sensor, &(put_on, _)) in worn.iter().enumerate() {
        let limited = allowed.get(sensor).and_then(Option::as_ref);
        let mut best = Best::new(spots.len());
        for before in ends {
            for (index, spot) in spots.iter().enumerate() {
                if !spot.cost.is_finite() || limited.is_some_and(|limited| !limited.contains(&index)) {
                    continue;
                }
                let rested = all.free_since(before, sensor, index).map(|free| put_on - free);
                if rested.is_some_and(|rested| rested < 0) {
                    continue;
                }
                let missing = rested.map_or(0, |rested| (rest_min - rested).max(0));
                let cost = spot.cost + missing_hour * missing as f64 / 60.0;
                best.offer(&all, all.node(before, Some((index, rested)), cost, 0));
            }
            // Nowhere is the last resort, all the more where the wearer said where.
            best.offer(
                &all,
                all.node(before, None, 0.0, 1 + u32::from(limited.is_some())),
            );
        }
        ends = best.into_ends(&mut all);
    }
    let nodes = &all.nodes;
    let last = ends
        .into_iter()
        .flatten()
        .reduce(|a, b| if nodes[b].better(&nodes[a]) { b } else { a });
    let mut placed: Vec<Placed> = all.back(last).map(|node| node.placed()).collect();
    placed.reverse();
    placed
}

/// A sensor's spot at the end of a sequence.
#[derive(Clone, Copy, Debug)]
struct Node {
    /// The one before it in the sequence.
    before: Option<usize>,
    spot: Option<(usize, Option<i64>)>,
    cost: f64,
    /// Sensors that found no spot; one whose spot was limited counts twice.
    without: u32,
}

impl Node {
    fn better(&self, other: &Self) -> bool {
        (self.without, self.cost) < (other.without, other.cost)
    }

    fn placed(&self) -> Placed {
        Placed {
            spot: self.spot.map(|(spot, _)| spot),
            rested_min: self.spot.and_then(|(_, rested)| rested),
        }
    }
}

struct Sequences<'a> {
    nodes: Vec<Node>,
    worn: &'a [(i64, i64)],
    spots: &'a [Spot],
}

impl Sequences<'_> {
    fn node(
        &self,
        before: Option<usize>,
        spot: Option<(usize, Option<i64>)>,
        cost: f64,
        without: u32,
    ) -> Node {
        let so_far = before.map(|before| &self.nodes[before]);
        Node {
            before,
            spot,
            cost: so_far.map_or(0.0, |node| node.cost) + cost,
            without: so_far.map_or(0, |node| node.without) + without,
        }
    }

    /// The sequence from its end back.
    fn back(&self, end: Option<usize>) -> impl Iterator<Item = &Node> {
        std::iter::successors(end.map(|end| &self.nodes[end]), |node| {
            node.before.map(|before| &self.nodes[before])
        })
    }

    /// When a spot is free again after a sequence of so many sensors.
    fn free_since(&self, end: Option<usize>, sensors: usize, spot: usize) -> Option<i64> {
        let mut used = self.back(end).zip(self.worn[..sensors].iter().rev());
        let last = used.find(|(node, _)| node.spot.is_some_and(|(there, _)| there == spot));
        last.map(|(_, &(_, taken_off))| taken_off)
            .or(self.spots[spot].free_since_min)
    }

    /// What the future depends on, as one number.
    fn memory(&self, node: &Node) -> usize {
        let choices = self.spots.len() + 1;
        let earlier = self.back(node.before).take(REMEMBERED as usize - 1);
        let spots = std::iter::once(node).chain(earlier);
        spots.fold(0, |memory, node| {
            memory * choices + node.spot.map_or(0, |(spot, _)| spot + 1)
        })
    }
}

/// Of sequences with the same memory the best.
struct Best(Vec<Option<Node>>);

impl Best {
    fn new(spots: usize) -> Self {
        Best(vec![None; (spots + 1).pow(REMEMBERED)])
    }

    fn offer(&mut self, all: &Sequences<'_>, node: Node) {
        let known = &mut self.0[all.memory(&node)];
        if known.is_none_or(|known| node.better(&known)) {
            *known = Some(node);
        }
    }

    fn into_ends(self, all: &mut Sequences<'_>) -> Vec<Option<usize>> {
        let ends = self.0.into_iter().flatten().map(|node| {
            all.nodes.push(node);
            Some(all.nodes.len() - 1)
        });
        ends.collect()
    }
}

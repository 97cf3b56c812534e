//! Rows whose instant only their neighbours can tell: the hour that autumn repeats, rows without an offset.

use interstice_glucose::Second;

use crate::partial::{Known, Open, Unsettled};

/// How one row was settled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Choice {
    pub(crate) at: Second,
    /// By the order or spacing of rows; otherwise the first pass was taken.
    pub(crate) is_certain: bool,
}

/// Settles a run of rows that follow each other without a settled row between. Returns one choice a row.
///
/// `repeats`: for each row, whether it says the same as the row before it, as rows exported twice do.
pub(crate) fn settle(run: &[Unsettled], repeats: &[bool]) -> Vec<Choice> {
    let previous = run.iter().find_map(|u| u.previous);
    let next = run.iter().rev().find_map(|u| u.next);
    let descending = matches!((previous, next), (Some(p), Some(n)) if p.at > n.at);
    let pairs: Vec<(Second, Second)> = run
        .iter()
        .map(|u| instants(u, previous, next, descending))
        .collect();
    let (before, after) = if descending {
        (next, previous)
    } else {
        (previous, next)
    };
    let order: Vec<usize> = if descending {
        (0..run.len()).rev().collect()
    } else {
        (0..run.len()).collect()
    };
    let mut choices = vec![
        Choice {
            at: 0,
            is_certain: true
        };
        run.len()
    ];
    let walls: Vec<i64> = order.iter().map(|&i| run[i].wall).collect();
    let differ = |pair: &[usize]| {
        pair.iter()
            .max()
            .is_some_and(|&later| repeats.get(later) != Some(&true))
    };
    let passes = if is_doubled(&walls) && order.chunks_exact(2).any(differ) {
        Passes::Alternating
    } else {
        passes(
            &walls,
            order.first().map(|&i| pairs[i]),
            order.last().map(|&i| pairs[i]),
            before,
            after,
        )
    };
    for (n, &i) in order.iter().enumerate() {
        let (first, second) = pairs[i];
        choices[i] = match passes {
            _ if first == second => Choice {
                at: first,
                is_certain: true,
            },
            Passes::StepBack(at) => Choice {
                at: if n < at { first } else { second },
                is_certain: true,
            },
            Passes::Alternating => Choice {
                at: if n % 2 == 0 { first } else { second },
                is_certain: true,
            },
            Passes::AllFirst => Choice {
                at: first,
                is_certain: true,
            },
            Passes::AllSecond => Choice {
                at: second,
                is_certain: true,
            },
            Passes::Unclear => Choice {
                at: first,
                is_certain: false,
            },
        };
    }
    choices
}

/// The two instants a row may have been at, earlier first.
fn instants(
    row: &Unsettled,
    previous: Option<Known>,
    next: Option<Known>,
    descending: bool,
) -> (Second, Second) {
    match row.open {
        Open::Twice { first, second } => (first, second),
        Open::NoOffset => {
            let earlier = if descending {
                next.or(previous)
            } else {
                previous.or(next)
            };
            let later = if descending {
                previous.or(next)
            } else {
                next.or(previous)
            };
            let at = |known: Option<Known>| row.wall - i64::from(known.map_or(0, |k| k.offset_s));
            let (a, b) = (at(earlier), at(later));
            (a.min(b), a.max(b))
        }
    }
}

/// Which pass through the repeated hour the rows of a run belong to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Passes {
    /// The wall clock steps back once: rows from this one on are of the second pass.
    StepBack(usize),
    /// Sorted by the wall clock afterwards: each time stands there twice, first pass before second.
    Alternating,
    AllFirst,
    AllSecond,
    Unclear,
}

/// Whether every time stands there exactly twice, one after the other, and there are several.
fn is_doubled(walls: &[i64]) -> bool {
    walls.len() >= 4
        && walls.len().is_multiple_of(2)
        && walls.chunks_exact(2).all(|pair| pair[0] == pair[1])
        && walls
            .chunks_exact(2)
            .zip(walls.chunks_exact(2).skip(1))
            .all(|(pair, next)| pair[0] < next[0])
}

fn passes(
    walls: &[i64],
    start: Option<(Second, Second)>,
    end: Option<(Second, Second)>,
    before: Option<Known>,
    after: Option<Known>,
) -> Passes {
    let backs: Vec<usize> = (1..walls.len()).filter(|&i| walls[i] < walls[i - 1]).collect();
    match backs[..] {
        [at] => return Passes::StepBack(at),
        [] => {}
        _ => return Passes::Unclear,
    }
    let (Some((first, _)), Some((_, second))) = (start, end) else {
        return Passes::Unclear;
    };
    // A settled row inside the hour rules one pass out.
    if before.is_some_and(|known| known.at > first) {
        return Passes::AllSecond;
    }
    if after.is_some_and(|known| known.at < second) {
        return Passes::AllFirst;
    }
    match (before, after) {
        // The rows join what comes before, but for the first pass alone; or what comes after.
        (Some(before), Some(after)) => {
            let (lead, tail) = (first - before.at, after.at - second);
            match (lead <= USUAL_STEP_S, tail <= USUAL_STEP_S) {
                (true, false) => Passes::AllFirst,
                (false, true) => Passes::AllSecond,
                _ => Passes::Unclear,
            }
        }
        _ => Passes::Unclear,
    }
}

/// Longest usual step between two readings of a sensor, with room for a late one.
const USUAL_STEP_S: i64 = 20 * 60;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::partial::Counts;

    const NOON: i64 = 1_700_000_000;

    /// A row at `minutes` past the start of an hour that is repeated; the first pass starts at NOON.
    fn twice(minutes: i64, previous: Option<i64>, next: Option<i64>) -> Unsettled {
        let known = |at: i64| Known {
            at: NOON + at * 60,
            offset_s: 0,
        };
        Unsettled {
            wall: NOON + minutes * 60,
            line: 0,
            open: Open::Twice {
                first: NOON + minutes * 60,
                second: NOON + 3600 + minutes * 60,
            },
            settled_before: 0,
            previous: previous.map(known),
            next: next.map(known),
            from: Counts::default(),
            to: Counts::default(),
        }
    }

    fn minutes(run: &[Unsettled]) -> Vec<(i64, bool)> {
        settle(run, &[])
            .iter()
            .map(|c| ((c.at - NOON) / 60, c.is_certain))
            .collect()
    }

    #[test]
    fn the_clock_steps_back_once() {
        let run: Vec<_> = [5, 35, 5, 35].map(|m| twice(m, Some(-25), Some(125))).into();
        assert_eq!(minutes(&run), [(5, true), (35, true), (65, true), (95, true)]);
        let back: Vec<_> = [35, 5, 35, 5].map(|m| twice(m, Some(125), Some(-25))).into();
        assert_eq!(minutes(&back), [(95, true), (65, true), (35, true), (5, true)]);
    }

    #[test]
    fn a_file_sorted_by_the_wall_clock_interleaves_the_passes() {
        let run: Vec<_> = [11, 11, 26, 26].map(|m| twice(m, Some(-4), Some(131))).into();
        assert_eq!(minutes(&run), [(11, true), (71, true), (26, true), (86, true)]);
        let exported_twice = settle(&run, &[false, true, false, true]);
        assert!(
            exported_twice.iter().all(|c| c.at < NOON + 3600),
            "{exported_twice:?}"
        );
    }

    #[test]
    fn one_pass_alone_joins_its_neighbour() {
        let run: Vec<_> = [5, 20].map(|m| twice(m, Some(-10), Some(200))).into();
        assert_eq!(minutes(&run), [(5, true), (20, true)]);
        let run: Vec<_> = [40, 55].map(|m| twice(m, Some(-100), Some(125))).into();
        assert_eq!(minutes(&run), [(100, true), (115, true)]);
        let run: Vec<_> = [5, 55].map(|m| twice(m, Some(-5), Some(125))).into();
        assert_eq!(minutes(&run), [(5, false), (55, false)]);
    }

    #[test]
    fn rows_without_offset_take_their_neighbours() {
        let known = |at: i64, offset_s: i32| Some(Known { at, offset_s });
        let row = Unsettled {
            open: Open::NoOffset,
            previous: known(NOON, 3600),
            next: known(NOON + 600, 3600),
            ..twice(0, None, None)
        };
        let row = Unsettled {
            wall: NOON + 3900,
            ..row
        };
        assert_eq!(
            settle(std::slice::from_ref(&row), &[]),
            [Choice {
                at: NOON + 300,
                is_certain: true
            }]
        );
    }
}

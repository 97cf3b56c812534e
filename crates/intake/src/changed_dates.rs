//! Dates whose order changes on the way down a file.
//!
//! Where both orders allow a date, no date says so. But rows follow each other in time: where a constant order makes time
//! jump back by months, and the other order from some row on does not, that is worth a question.

use interstice_glucose::{DAY_S, WallTime};

use crate::api::{DateOrder, Question};
use crate::understand::order_words;

/// A jump against the way of the rows, days, that no log makes by itself: a month.
const MONTH: i64 = 28;
/// What changing the order must save of the way travelled, days, for each change.
const SAVING: i64 = 60;
/// Jumps against the way of the rows that the changed reading may still have, days: entries of a day or two out of order.
const SLIP: i64 = 2;
/// Steps kept of one block; more are not looked at.
pub(crate) const MOST_STEPS: usize = 50_000;

/// A row whose date differs from the row above it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct DayStep {
    pub(crate) line: u64,
    /// The day as it is read.
    pub(crate) day: i64,
    /// The day in the other order, where that allows it.
    pub(crate) other: Option<i64>,
}

/// The order with day and month changed about.
pub(crate) fn other_order(order: DateOrder) -> Option<DateOrder> {
    match order {
        DateOrder::DayFirst => Some(DateOrder::MonthFirst),
        DateOrder::MonthFirst => Some(DateOrder::DayFirst),
        DateOrder::YearFirst => None,
    }
}

/// The best way to read the steps where the order may change: which of them in the other order.
fn best_reading(steps: &[DayStep]) -> Vec<bool> {
    const NEVER: i64 = i64::MAX / 4;
    let day = |i: usize, other: bool| if other { steps[i].other } else { Some(steps[i].day) };
    // Least way travelled up to each step, read one way and the other, and how the step before was read.
    let mut least = [0, if steps[0].other.is_some() { 0 } else { NEVER }];
    let mut came: Vec<[bool; 2]> = vec![[false, true]];
    for i in 1..steps.len() {
        let mut next = [NEVER; 2];
        let mut from = [false; 2];
        for other in [false, true] {
            let Some(here) = day(i, other) else { continue };
            for before in [false, true] {
                let Some(there) = day(i - 1, before) else { continue };
                let change = if before == other { 0 } else { SAVING };
                let way = least[usize::from(before)].saturating_add((here - there).abs() + change);
                if way < next[usize::from(other)] {
                    (next[usize::from(other)], from[usize::from(other)]) = (way, before);
                }
            }
        }
        least = next;
        came.push(from);
    }
    let mut reading = vec![least[1] < least[0]];
    for from in came.iter().skip(1).rev() {
        let last = reading.last().is_some_and(|&other| other);
        reading.push(from[usize::from(last)]);
    }
    reading.reverse();
    reading
}

/// The longest jump against the way that most steps go.
fn jump_against(days: &[i64]) -> i64 {
    let steps = || days.windows(2).map(|two| two[1] - two[0]);
    let forward = steps().filter(|&step| step > 0).count() * 2 >= days.len() - 1;
    steps()
        .map(|step| if forward { -step } else { step })
        .max()
        .unwrap_or(0)
}

/// What to ask about dates that change their order, `None` where they do not seem to.
pub(crate) fn question(steps: &[DayStep], order: DateOrder) -> Option<Question> {
    let other = other_order(order)?;
    if steps.len() < 3 {
        return None;
    }
    let reading = best_reading(steps);
    let at = (1..steps.len()).find(|&i| reading[i] != reading[i - 1])?;
    let as_read: Vec<i64> = steps.iter().map(|step| step.day).collect();
    let changed: Vec<i64> = steps
        .iter()
        .zip(&reading)
        .map(|(step, &is_other)| step.other.filter(|_| is_other).unwrap_or(step.day))
        .collect();
    if jump_against(&as_read) < MONTH || jump_against(&changed) > SLIP {
        return None;
    }
    let (line, before) = (steps[at].line, &steps[at - 1]);
    let (first, then) = if reading[at] {
        (order, other)
    } else {
        (other, order)
    };
    Some(Question {
        ask: format!(
            "up to line {} dates follow each other {}, from line {line} on {}: read in one order only, they go from {} to {} \
             there. If the way of writing dates changed, make a file of each part and bring each in with --dates and its \
             order",
            line - 1,
            order_words(first),
            order_words(then),
            iso(before.day),
            iso(steps[at].day),
        ),
        answers: vec![(
            format!("--dates {}", flag(order)),
            format!(
                "every date is written {}, and the entries do jump in time",
                order_words(order)
            ),
        )],
    })
}

fn iso(day: i64) -> String {
    let civil = WallTime(day * DAY_S).civil();
    civil.map(|civil| civil.date().to_string()).unwrap_or_default()
}

fn flag(order: DateOrder) -> &'static str {
    match order {
        DateOrder::DayFirst => "day-first",
        DateOrder::MonthFirst => "month-first",
        DateOrder::YearFirst => "year-first",
    }
}

//! The day of a row: in a cell, carried down from the row above, or above the rows of the day; and rows without one.

use super::RowReader;
use crate::cell::any_stamp;
use crate::changed_dates::{DayStep, MOST_STEPS, other_order};
use crate::dates::day_in;
use crate::day_heading::{DayHeading, of_record};
use crate::half::is_half;
use crate::plan::{Carry, TimeSource};
use crate::stamp::{date_parts, parse_stamp};

impl RowReader<'_> {
    /// The day of a row by its cell of the date column, or by the row above where dates are carried down.
    pub(super) fn day(&mut self, cell: &[u8], second: Option<i64>) -> Option<i64> {
        let carried = match (self.plan.carry, self.above, second) {
            (Some(carry), Some((day, last)), Some(here)) if cell.is_empty() && carry.allows(last, here) => {
                Some(day)
            }
            _ => None,
        };
        let day = match carried.or_else(|| self.days.day(cell, self.plan.order)) {
            Some(day) => day,
            // A date column may hold a time as well, which the other column says better.
            None => parse_stamp(cell, self.plan.order)?.day?,
        };
        if self.plan.carry.is_some() {
            self.above = second.map(|second| (day, second));
        }
        Some(day)
    }

    /// Notes a day that differs from the one before, and what it would be in the other order.
    pub(super) fn watch(&mut self, day: Option<i64>, date: &[u8]) {
        if self.plan.is_order_watched && day != self.watched {
            self.watch_anew(day, date);
        }
    }

    fn watch_anew(&mut self, day: Option<i64>, date: &[u8]) {
        let (Some(new), Some(order)) = (day, other_order(self.plan.order)) else {
            return;
        };
        self.watched = day;
        let Some(parts) = date_parts(date).filter(|_| self.partial.days.len() < MOST_STEPS) else {
            return;
        };
        self.partial.days.push(DayStep {
            line: self.line,
            day: new,
            other: if parts.plain { None } else { day_in(&parts, order) },
        });
    }

    /// The day above the rows, before the first of them.
    pub(super) fn first_day(&mut self) {
        let day = self.plan.first_day.as_deref();
        let day = day.and_then(|day| parse_stamp(day.as_bytes(), self.plan.order)?.day);
        self.above = day.map(|day| (day, 0));
    }

    /// Takes a record that holds only a day. One that looks so and cannot be read leaves the rows below without a day:
    /// they are not put under the day before.
    pub(super) fn is_day_heading(&mut self, block: &[u8], line: u64) -> bool {
        let TimeSource::DateAndClock(_, clock) = self.plan.time else {
            return false;
        };
        if self.plan.carry != Some(Carry::Under) {
            return false;
        }
        let day = match of_record(block, &self.fields) {
            DayHeading::None => return false,
            DayHeading::Day(date) => {
                let day = parse_stamp(date.as_bytes(), self.plan.order).and_then(|stamp| stamp.day);
                self.watch(day, date.as_bytes());
                day
            }
            DayHeading::Unreadable => None,
        };
        self.above = day.map(|day| (day, 0));
        if day.is_none() {
            self.partial.rows += 1;
            let cells: Vec<String> = (0..self.fields.len())
                .map(|column| self.text(block, column))
                .collect();
            let text = cells.join(" ");
            let why = "this looks like the day of the rows below and cannot be read as a date; they are left without one";
            self.reject(line, clock, text.trim(), why);
        }
        true
    }

    /// Why a row's time cannot be read.
    pub(super) fn time_trouble(&self, block: &[u8]) -> String {
        if self.plan.half.is_some_and(|half| !is_half(self.raw(block, half))) {
            return "nothing says whether this time is before or after noon".to_owned();
        }
        if let Some(why) = self.trouble_below_days() {
            return why;
        }
        let cells = match self.plan.time {
            TimeSource::DateAndClock(date, clock) => vec![date, clock],
            TimeSource::Moment(c) | TimeSource::Epoch(c) | TimeSource::Serial(c) => vec![c],
        };
        if cells.iter().all(|&c| self.raw(block, c).is_empty()) {
            return "there is no time in this row".to_owned();
        }
        if let [date, _] = cells[..]
            && self.raw(block, date).is_empty()
        {
            return if self.plan.carry.is_some() {
                "there is no date in this row, and its time does not follow the row above".to_owned()
            } else {
                "there is no date in this row".to_owned()
            };
        }
        if let [only] = cells[..]
            && any_stamp(self.raw(block, only))
                .is_some_and(|stamp| stamp.day.is_some() && stamp.second.is_none())
        {
            return "there is a date in this row but no time of day".to_owned();
        }
        if cells.iter().all(|&c| any_stamp(self.raw(block, c)).is_some()) {
            return "there is no such date when read as the rest of the file is".to_owned();
        }
        "this cannot be read as a date and time".to_owned()
    }

    /// Refuses a row for its time.
    pub(super) fn reject_time(&mut self, block: &[u8], line: u64, reason: String) {
        let (column, text) = match self.plan.time {
            TimeSource::DateAndClock(_, clock) if self.plan.carry == Some(Carry::Under) => {
                (clock, self.text(block, clock))
            }
            TimeSource::DateAndClock(date, clock) => (
                date,
                format!("{} {}", self.text(block, date), self.text(block, clock))
                    .trim()
                    .to_owned(),
            ),
            TimeSource::Moment(c) | TimeSource::Epoch(c) | TimeSource::Serial(c) => (c, self.text(block, c)),
        };
        self.reject(line, column, &text, reason);
    }

    /// Why a row below days has no time.
    pub(super) fn trouble_below_days(&self) -> Option<String> {
        (self.plan.carry == Some(Carry::Under)).then(|| match self.above {
            None => "no day that can be read stands above this row".to_owned(),
            Some(_) => "this cannot be read as a time of day".to_owned(),
        })
    }
}

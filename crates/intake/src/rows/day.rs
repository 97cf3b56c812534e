//! The day of a row: in a cell, carried down from the row above, or above the rows of the day.

use super::RowReader;
use crate::day_heading::{DayHeading, of_record};
use crate::plan::{Carry, TimeSource};
use crate::stamp::parse_stamp;

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
            DayHeading::Day(day) => parse_stamp(day.as_bytes(), self.plan.order).and_then(|stamp| stamp.day),
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

    /// Why a row below days has no time.
    pub(super) fn trouble_below_days(&self) -> Option<String> {
        (self.plan.carry == Some(Carry::Under)).then(|| match self.above {
            None => "no day that can be read stands above this row".to_owned(),
            Some(_) => "this cannot be read as a time of day".to_owned(),
        })
    }
}

//! A column on its way to a role, and the sample of rows it is judged by.

use crate::api::{DateOrder, Role};
use crate::cell::any_stamp;
use crate::concept::{Concept, Concepts, concepts_of};
use crate::half::{is_half, with_half};
use crate::number::{DecimalMark, Number, parse_number};
use crate::plan::Carry;
use crate::profile::Profile;
use crate::stamp::{dotted_clock, parse_stamp};
use crate::when::is_serial;

/// A column, what is known of it, and the role it was given.
#[derive(Clone, Debug)]
pub(crate) struct Column {
    pub(crate) heading: String,
    pub(crate) concepts: Concepts,
    pub(crate) profile: Profile,
    pub(crate) role: Option<Role>,
    pub(crate) confidence: f64,
    pub(crate) evidence: Vec<String>,
}

impl std::fmt::Debug for Concepts {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} concepts", self.count())
    }
}

impl Column {
    pub(crate) fn has(&self, concept: Concept) -> bool {
        self.concepts.has(concept)
    }

    pub(crate) fn any(&self, concepts: &[Concept]) -> bool {
        self.concepts.any(concepts)
    }

    /// Its heading, or its number where it has none.
    pub(crate) fn name(&self, index: usize) -> String {
        match self.heading.as_str() {
            "" => format!("column {}", index + 1),
            heading => heading.to_owned(),
        }
    }

    /// Gives it a role, once.
    pub(crate) fn take(&mut self, role: Role, confidence: f64, why: impl Into<String>) {
        if self.role.is_none() {
            self.role = Some(role);
            self.confidence = confidence;
            self.evidence.push(why.into());
        }
    }

    pub(crate) fn is_open(&self) -> bool {
        self.role.is_none()
    }
}

/// The columns of a table and the rows they were sampled from.
#[derive(Clone, Debug)]
pub(crate) struct Sample {
    pub(crate) columns: Vec<Column>,
    pub(crate) rows: Vec<Vec<String>>,
    /// Seconds on the wall clock of each row, once the time column is known.
    pub(crate) walls: Vec<Option<i64>>,
    /// Dates stand only in the first rows of days, or above them.
    pub(crate) carry: Option<Carry>,
    /// A column that says whether a time is before or after noon.
    pub(crate) half: Option<usize>,
    /// The column made of the days that stand in rows of their own.
    pub(crate) under: Option<usize>,
}

impl Sample {
    pub(crate) fn new(headings: &[String], rows: Vec<Vec<String>>) -> Self {
        let width = rows.iter().map(Vec::len).max().unwrap_or(0).max(headings.len());
        let columns = (0..width)
            .map(|number| column(headings.get(number), number, &rows))
            .collect();
        Sample {
            columns,
            rows,
            walls: Vec::new(),
            carry: None,
            half: None,
            under: None,
        }
    }

    /// The first column of a role.
    pub(crate) fn of(&self, role: Role) -> Option<usize> {
        self.columns.iter().position(|c| c.role == Some(role))
    }

    /// A cell as a number, whichever decimal mark it has.
    pub(crate) fn number(&self, row: usize, column: usize) -> Option<f64> {
        let cell = self.cell(row, column);
        parse_number(cell.as_bytes(), DecimalMark::Point).map(Number::value)
    }

    pub(crate) fn cell(&self, row: usize, column: usize) -> &str {
        self.rows[row].get(column).map_or("", |c| c.trim())
    }

    /// Reads each row's time; dates whose order is open are read by `order`, or as they can be.
    pub(crate) fn read_walls(&mut self, order: Option<DateOrder>) {
        let stamp = |text: &str| match order {
            Some(order) => parse_stamp(text.as_bytes(), order),
            None => any_stamp(text.as_bytes()),
        };
        let (moment, date, clock) = (
            self.of(Role::DateTime),
            self.of(Role::Date),
            self.of(Role::TimeOfDay),
        );
        let serial = moment.is_some_and(|i| is_serial(&self.columns[i]));
        self.half = (0..self.columns.len()).find(|&i| self.is_halves(i));
        if let (None, Some(date), Some(clock)) = (moment, date, clock) {
            self.carry = if self.under == Some(date) {
                Some(Carry::Under)
            } else {
                self.carried_dates(date, clock)
            };
        }
        let half = self.half;
        let in_half = |row: usize, second: i64| match half {
            Some(column) => with_half(second, self.cell(row, column).as_bytes()),
            None => Some(second),
        };
        let (mut above, carry) = (None, self.carry);
        self.walls = (0..self.rows.len())
            .map(|row| {
                if let Some(column) = moment {
                    let text = self.cell(row, column);
                    if serial {
                        return self.number(row, column).map(serial_seconds);
                    }
                    let wall = |s: crate::stamp::Stamp| {
                        let second = in_half(row, s.second?)?;
                        Some(s.day? * 86_400 + second - i64::from(s.offset_s.unwrap_or(0)))
                    };
                    return stamp(text).and_then(wall).or_else(|| epoch_seconds(text));
                }
                let second = in_half(row, second_in(self.cell(row, clock?))?)?;
                let day = match (self.cell(row, date?), carry, above) {
                    ("", Some(carry), Some((day, last))) if carry.allows(last, second) => day,
                    (cell, _, _) => stamp(cell)?.day?,
                };
                above = Some((day, second));
                Some(day * 86_400 + second)
            })
            .collect();
    }

    /// Whether a column says only 'AM' and 'PM'.
    fn is_halves(&self, column: usize) -> bool {
        let p = &self.columns[column].profile;
        p.filled > 0
            && p.fill() > 0.9
            && p.distinct() <= 4
            && p.words.keys().all(|word| is_half(word.as_bytes()))
    }

    /// Whether a date stands only where it changes, as in a book kept by hand or in cells that were merged, and which
    /// way the rows of a day go.
    fn carried_dates(&self, date: usize, clock: usize) -> Option<Carry> {
        let (mut carried, mut forward, mut backward) = (0, 0, 0);
        let (mut last_date, mut above) = ("", None);
        for row in 0..self.rows.len() {
            let Some(second) = second_in(self.cell(row, clock)) else {
                continue;
            };
            let second = match self.half {
                Some(half) => with_half(second, self.cell(row, half).as_bytes()).unwrap_or(second),
                None => second,
            };
            match self.cell(row, date) {
                "" if last_date.is_empty() => return None,
                "" => {
                    carried += 1;
                    forward += usize::from(above < Some(second));
                    backward += usize::from(above > Some(second));
                }
                date if date == last_date => return None,
                date => last_date = date,
            }
            above = Some(second);
        }
        let way = if forward >= backward {
            Carry::Forward
        } else {
            Carry::Backward
        };
        (carried >= FEW_CARRIED).then_some(way)
    }

    /// Walls of the rows in which a column says something, in time order.
    fn walls_of(&self, column: usize) -> Vec<i64> {
        let mut walls: Vec<i64> = (0..self.rows.len())
            .filter(|&row| !crate::cell::is_missing(self.cell(row, column).as_bytes()))
            .filter_map(|row| self.walls.get(row).copied().flatten())
            .collect();
        walls.sort_unstable();
        walls
    }

    /// How the entries of a column lie in time.
    pub(crate) fn spacing(&self, column: usize) -> Spacing {
        let mut walls = self.walls_of(column);
        let days = {
            let mut days: Vec<i64> = walls.iter().map(|w| w.div_euclid(86_400)).collect();
            days.dedup();
            days.len()
        };
        let entries = walls.len();
        walls.dedup();
        let mut steps: Vec<i64> = walls.windows(2).map(|w| w[1] - w[0]).collect();
        steps.sort_unstable();
        let close = steps.iter().filter(|&&s| s <= 16 * 60).count();
        Spacing {
            median_s: steps.get(steps.len() / 2).copied(),
            close_share: close as f64 / steps.len().max(1) as f64,
            per_day: entries as f64 / days.max(1) as f64,
            entries,
        }
    }
}

/// Rows without a date, below which they are slips rather than a habit.
const FEW_CARRIED: usize = 3;

/// The second of the day in a cell of times of day.
fn second_in(cell: &str) -> Option<i64> {
    any_stamp(cell.as_bytes())
        .and_then(|s| s.second)
        .or_else(|| dotted_clock(cell.as_bytes()))
}

/// Seconds of a number that can only be an epoch.
pub(crate) fn epoch_seconds(text: &str) -> Option<i64> {
    if !crate::head::is_epoch(text) {
        return None;
    }
    let whole = text.split('.').next()?;
    let number: i64 = whole.parse().ok()?;
    Some(if whole.len() >= 12 { number / 1000 } else { number })
}

/// Seconds of a spreadsheet's date number: days since 1899-12-30.
pub(crate) fn serial_seconds(days: f64) -> i64 {
    ((days - 25_569.0) * 86_400.0).round() as i64
}

/// How entries lie in time.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spacing {
    /// Median step, seconds.
    pub(crate) median_s: Option<i64>,
    /// Share of steps of at most 16 minutes.
    pub(crate) close_share: f64,
    /// Entries a day, on days that have any.
    pub(crate) per_day: f64,
    /// Entries in the sample.
    pub(crate) entries: usize,
}

fn column(heading: Option<&String>, number: usize, rows: &[Vec<String>]) -> Column {
    let heading = heading.cloned().unwrap_or_default();
    let mut profile = Profile::default();
    for (row, cells) in rows.iter().enumerate() {
        profile.add(row, cells.get(number).map_or("", String::as_str));
    }
    Column {
        concepts: concepts_of(&heading),
        heading,
        profile,
        role: None,
        confidence: 0.0,
        evidence: Vec::new(),
    }
}

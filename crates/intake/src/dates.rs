//! The order of day, month and year, settled by evidence.

use crate::api::DateOrder;
use crate::calendar::days_from_civil;
use crate::stamp::{DateParts, date_parts};
use interstice_glucose::counted;

const ORDERS: [DateOrder; 3] = [DateOrder::DayFirst, DateOrder::MonthFirst, DateOrder::YearFirst];

/// What the dates of a column say about their order.
#[derive(Clone, Debug, Default)]
pub(crate) struct OrderEvidence {
    /// Dates looked at that leave the order open.
    open: u64,
    /// Dates whose order is plain: year first with four digits, or the month in words.
    plain: u64,
    dotted: u64,
    tallies: [Tally; 3],
    /// A date that only one order allows.
    telling: [Option<String>; 3],
}

/// One order's record.
#[derive(Clone, Debug, Default)]
struct Tally {
    valid: u64,
    last_day: Option<i64>,
    /// Sum of the distances in days from each date to the next.
    travelled: i64,
}

/// What came of the evidence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Verdict {
    /// No date leaves the order open.
    Plain,
    /// Settled, and why.
    Settled(DateOrder, String),
    /// Two orders remain.
    Open,
}

impl OrderEvidence {
    /// Takes in one cell; cells without a date tell nothing.
    pub(crate) fn add(&mut self, cell: &[u8]) {
        let Some(parts) = date_parts(cell) else { return };
        if parts.plain {
            self.plain += 1;
            return;
        }
        self.open += 1;
        self.dotted += u64::from(parts.mark == b'.');
        let days = ORDERS.map(|order| day_in(&parts, order));
        for (tally, day) in self.tallies.iter_mut().zip(days) {
            let Some(day) = day else { continue };
            tally.valid += 1;
            tally.travelled += tally.last_day.map_or(0, |last| (day - last).abs());
            tally.last_day = Some(day);
        }
        let possible: Vec<usize> = (0..3).filter(|&i| days[i].is_some()).collect();
        if let [only] = possible[..] {
            self.telling[only].get_or_insert_with(|| String::from_utf8_lossy(cell.trim_ascii()).into_owned());
        }
    }

    /// Weighs what was taken in. The language of the headings says nothing: programs write dates in an order of their
    /// own, and a month taken for a day would go unnoticed.
    pub(crate) fn verdict(&self) -> Verdict {
        if self.open == 0 {
            return Verdict::Plain;
        }
        let best = self.tallies.iter().map(|t| t.valid).max().unwrap_or(0);
        if best == 0 {
            return Verdict::Open;
        }
        let slack = self.open / 50;
        let left: Vec<usize> = (0..3)
            .filter(|&i| self.tallies[i].valid + slack >= best && self.tallies[i].valid > 0)
            .collect();
        if let [only] = left[..] {
            let why = match &self.telling[only] {
                Some(date) => format!("{date} can be read no other way"),
                None => "the other orders give impossible dates".to_owned(),
            };
            return Verdict::Settled(ORDERS[only], why);
        }
        let by_distance = self.by_distance(&left);
        self.by_one_date(&left, by_distance.as_ref())
            .or(by_distance)
            .or_else(|| self.by_points(&left))
            .unwrap_or(Verdict::Open)
    }

    /// A few dates that only one order allows, where none speaks for another and the order of rows does not either.
    fn by_one_date(&self, left: &[usize], by_distance: Option<&Verdict>) -> Option<Verdict> {
        let told: Vec<usize> = (0..3).filter(|&i| self.telling[i].is_some()).collect();
        let [only] = told[..] else { return None };
        let contradicted = matches!(by_distance, Some(Verdict::Settled(order, _)) if *order != ORDERS[only]);
        let date = self.telling[only]
            .as_ref()
            .filter(|_| left.contains(&only) && !contradicted)?;
        Some(Verdict::Settled(
            ORDERS[only],
            format!("{date} can be read no other way"),
        ))
    }

    /// Rows follow each other in time: under the right order the dates travel least.
    fn by_distance(&self, left: &[usize]) -> Option<Verdict> {
        let mut travelled: Vec<(i64, usize)> = left.iter().map(|&i| (self.tallies[i].travelled, i)).collect();
        travelled.sort_unstable();
        let (least, order) = *travelled.first()?;
        let (next, _) = *travelled.get(1)?;
        (next >= 3 * least.max(1) && next - least >= 20).then(|| {
            let why = format!(
                "so read the dates move {} from row to row in all, otherwise {next}",
                counted(least, "day", "days")
            );
            Verdict::Settled(ORDERS[order], why)
        })
    }

    fn by_points(&self, left: &[usize]) -> Option<Verdict> {
        (left.contains(&0) && self.dotted * 2 > self.open).then(|| {
            Verdict::Settled(
                DateOrder::DayFirst,
                "dates with points are written day first".to_owned(),
            )
        })
    }

    /// Share of the open dates that an order makes impossible.
    pub(crate) fn impossible_share(&self, order: DateOrder) -> f64 {
        let valid = ORDERS
            .iter()
            .zip(&self.tallies)
            .find(|(o, _)| **o == order)
            .map_or(0, |(_, t)| t.valid);
        if self.open == 0 {
            0.0
        } else {
            1.0 - valid as f64 / self.open as f64
        }
    }

    /// Whether one date was seen that settles the order by itself.
    pub(crate) fn is_told(&self) -> bool {
        self.open > 0 && self.telling.iter().any(Option::is_some)
    }
}

/// The day of a written date in an order, where that allows it.
pub(crate) fn day_in(parts: &DateParts, order: DateOrder) -> Option<i64> {
    let [a, b, c] = parts.numbers;
    let full = |year: u32, width: u8| {
        if width == 4 {
            year
        } else if year >= 70 {
            1900 + year
        } else {
            2000 + year
        }
    };
    match order {
        DateOrder::DayFirst => days_from_civil(full(c, parts.widths[2]), b, a),
        DateOrder::MonthFirst => days_from_civil(full(c, parts.widths[2]), a, b),
        DateOrder::YearFirst if parts.widths[2] <= 2 && parts.widths[0] == 2 => {
            days_from_civil(full(a, 2), b, c)
        }
        DateOrder::YearFirst => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn verdict(cells: &[&str]) -> Verdict {
        let mut evidence = OrderEvidence::default();
        cells.iter().for_each(|cell| evidence.add(cell.as_bytes()));
        evidence.verdict()
    }

    fn order(cells: &[&str]) -> Option<DateOrder> {
        match verdict(cells) {
            Verdict::Settled(order, _) => Some(order),
            _ => None,
        }
    }

    #[test]
    fn a_number_over_twelve_tells() {
        assert_eq!(
            order(&["01/02/2024 10:00", "13/02/2024 10:00"]),
            Some(DateOrder::DayFirst)
        );
        assert_eq!(
            order(&["01/02/2024 10:00", "02/13/2024 10:00"]),
            Some(DateOrder::MonthFirst)
        );
        assert_eq!(
            order(&["24/02/01", "24/02/29", "24/03/01"]),
            Some(DateOrder::YearFirst)
        );
    }

    #[test]
    fn one_telling_row_among_hundreds_tells_unless_the_rows_contradict_it() {
        let mut dates = vec!["12-01-2020"; 600];
        dates.push("13-01-2020");
        assert_eq!(order(&dates), Some(DateOrder::DayFirst));
        let mut dates: Vec<String> = (0..600)
            .map(|i| format!("{:02}/{:02}/2024", 1 + i / 60, 1 + i / 5 % 12))
            .collect();
        dates.push("25/11/2024".to_owned());
        let dates: Vec<&str> = dates.iter().map(String::as_str).collect();
        assert_eq!(order(&dates), Some(DateOrder::MonthFirst));
    }

    #[test]
    fn rows_follow_each_other() {
        let days: Vec<String> = (1..=9).map(|d| format!("0{d}/03/2024 08:00")).collect();
        let days: Vec<&str> = days.iter().map(String::as_str).collect();
        assert_eq!(order(&days), Some(DateOrder::DayFirst));
        let days: Vec<String> = (1..=9).map(|d| format!("03/0{d}/2024 08:00")).collect();
        let days: Vec<&str> = days.iter().map(String::as_str).collect();
        assert_eq!(order(&days), Some(DateOrder::MonthFirst));
    }

    #[test]
    fn one_day_alone_stays_open_unless_written_with_points() {
        assert_eq!(verdict(&["03/04/2024 08:00", "03/04/2024 08:05"]), Verdict::Open);
        assert_eq!(
            order(&["03.04.2024 08:00", "03.04.2024 08:05"]),
            Some(DateOrder::DayFirst)
        );
        assert_eq!(verdict(&["2024-04-03", "2024-04-04"]), Verdict::Plain);
    }
}

//! What the cells of one column look like, over a sample of rows.

use std::collections::BTreeMap;

use crate::cell::{GlucoseCell, SaidUnit, any_stamp, bound_word, is_missing, unit_in};
use crate::concept::{Concepts, concepts_of};
use crate::fold::fold;
use crate::head::is_epoch;
use crate::number::{DecimalMark, leading_number, parse_number};
use crate::stamp::dotted_clock;

/// Different texts of a column that are counted one by one.
const MOST_WORDS: usize = 400;

/// A column in numbers.
#[derive(Clone, Debug, Default)]
pub(crate) struct Profile {
    /// Rows looked at.
    pub(crate) rows: usize,
    /// Cells that say something.
    pub(crate) filled: usize,
    /// Numbers, with the row each stood in.
    pub(crate) numbers: Vec<(usize, f64)>,
    /// Numbers with decimals other than zero.
    pub(crate) fractions: usize,
    /// Cells with a date and a time of day, a date alone, a time of day alone.
    pub(crate) moments: usize,
    pub(crate) dates: usize,
    pub(crate) clocks: usize,
    /// Numbers that can be times of day with points ('7.05').
    pub(crate) dotted_clocks: usize,
    /// Moments with an offset from universal time.
    pub(crate) offsets: usize,
    /// Moments marked as universal time.
    pub(crate) universal: usize,
    /// Numbers that can only be seconds or milliseconds since 1970.
    pub(crate) epochs: usize,
    /// 'Low', 'HI' and their like.
    pub(crate) bounds: usize,
    /// Amounts with a unit of insulin after them ('6 IU').
    pub(crate) insulin_amounts: usize,
    /// Numbers with a unit of anything behind them ('45 g').
    pub(crate) amounts: usize,
    /// Offsets from universal time as text ('+02:00').
    pub(crate) offset_texts: usize,
    /// Cells of text that are a unit of glucose.
    pub(crate) units: usize,
    /// Different cells, folded, with how often each stood there.
    pub(crate) words: BTreeMap<String, usize>,
    /// More different cells than were counted.
    pub(crate) many_words: bool,
    /// The first few different cells.
    pub(crate) examples: Vec<String>,
    /// Numbers with a comma before three digits at the end, which may part thousands or be a decimal mark.
    pub(crate) grouped_commas: usize,
    /// Other numbers with a comma and no point; numbers with a point.
    pub(crate) commas: usize,
    pub(crate) points: usize,
}

impl Profile {
    /// Takes in one cell.
    pub(crate) fn add(&mut self, row: usize, cell: &str) {
        self.rows += 1;
        let cell = cell.trim();
        if is_missing(cell.as_bytes()) {
            return;
        }
        self.filled += 1;
        if self.examples.len() < 4 && !self.examples.iter().any(|e| e == cell) {
            self.examples.push(cell.chars().take(40).collect());
        }
        self.add_word(cell);
        if let Some(number) = parse_number(cell.as_bytes(), DecimalMark::Point) {
            self.numbers.push((row, number.value()));
            self.fractions += usize::from(number.value().fract().abs() > 1e-9);
            self.epochs += usize::from(is_epoch(cell));
            self.dotted_clocks += usize::from(dotted_clock(cell.as_bytes()).is_some());
            self.add_marks(cell);
        }
        match any_stamp(cell.as_bytes()) {
            Some(stamp) => {
                match (stamp.day, stamp.second) {
                    (Some(_), Some(_)) => self.moments += 1,
                    (Some(_), None) => self.dates += 1,
                    _ => self.clocks += 1,
                }
                self.offsets += usize::from(stamp.offset_s.is_some());
                self.universal += usize::from(stamp.universal);
            }
            None => self.add_text(cell),
        }
    }

    /// Counts a word, until there are too many different ones for the count to mean anything.
    fn add_word(&mut self, cell: &str) {
        if self.many_words {
            return;
        }
        let word = fold(&cell.chars().take(60).collect::<String>());
        if let Some(count) = self.words.get_mut(&word) {
            *count += 1;
        } else if self.words.len() < MOST_WORDS {
            self.words.insert(word, 1);
        } else {
            self.many_words = true;
        }
    }

    fn add_marks(&mut self, cell: &str) {
        let is_comma = cell.contains(',') && !cell.contains('.');
        let is_grouped = cell.split(',').skip(1).all(|group| group.len() == 3);
        self.grouped_commas += usize::from(is_comma && is_grouped);
        self.commas += usize::from(is_comma && !is_grouped);
        self.points += usize::from(cell.contains('.') && !cell.contains(','));
    }

    /// Looks closer at a cell that is neither number nor time.
    fn add_text(&mut self, cell: &str) {
        if cell.len() > 200 {
            return;
        }
        if matches!(bound_word(cell), GlucoseCell::Below | GlucoseCell::Above) || cell.starts_with(['<', '>'])
        {
            self.bounds += 1;
        }
        self.amounts += usize::from(is_amount(cell));
        if insulin_amount(cell) {
            self.insulin_amounts += 1;
        }
        let is_starred = cell.len() <= 8 && cell.ends_with('*') && leading_number(cell).is_some();
        if is_starred || cell.len() <= 12 && unit_in(cell).is_some() {
            self.units += usize::from(leading_number(cell).is_none());
            if let Some((number, _)) = leading_number(cell) {
                self.numbers.push((self.rows - 1, number.value()));
                self.fractions += usize::from(number.value().fract().abs() > 1e-9);
            }
        }
        if cell.len() <= 6 && cell.starts_with(['+', '-']) && cell.contains(':') {
            self.offset_texts += 1;
        }
    }

    /// Share of filled cells.
    pub(crate) fn share(&self, count: usize) -> f64 {
        count as f64 / self.filled.max(1) as f64
    }

    /// Share of rows in which the cell is filled.
    pub(crate) fn fill(&self) -> f64 {
        self.filled as f64 / self.rows.max(1) as f64
    }

    /// Mostly numbers, or texts that stand for numbers beyond a range.
    pub(crate) fn is_numeric(&self) -> bool {
        self.filled > 0 && !self.numbers.is_empty() && self.share(self.numbers.len() + self.bounds) >= 0.6
    }

    /// Mostly words.
    pub(crate) fn is_text(&self) -> bool {
        self.filled > 0 && self.share(self.numbers.len() + self.moments + self.dates + self.clocks) < 0.4
    }

    /// Words as people write them: most different cells are of several words.
    pub(crate) fn is_prose(&self) -> bool {
        let is_sentence =
            |word: &&String| word.split_whitespace().count() >= 2 && word.contains(char::is_alphabetic);
        self.is_text() && self.words.keys().filter(is_sentence).count() * 2 >= self.words.len()
    }

    /// A quantile of the numbers, 0 to 1.
    pub(crate) fn quantile(&self, q: f64) -> Option<f64> {
        let mut values: Vec<f64> = self.numbers.iter().map(|&(_, v)| v).collect();
        values.sort_by(f64::total_cmp);
        let last = values.len().checked_sub(1)?;
        values.get((q * last as f64).round() as usize).copied()
    }

    /// Different cells, where they were few enough to count.
    pub(crate) fn distinct(&self) -> usize {
        if self.many_words {
            usize::MAX
        } else {
            self.words.len()
        }
    }

    /// All that the different cells speak of, cell by cell.
    pub(crate) fn word_concepts(&self) -> Vec<(String, usize, Concepts)> {
        self.words
            .iter()
            .map(|(word, &count)| (word.clone(), count, concepts_of(word)))
            .collect()
    }

    /// The unit most unit-cells name, where it is one.
    pub(crate) fn said_unit(&self) -> Option<SaidUnit> {
        self.words.keys().find_map(|word| unit_in(word))
    }
}

/// Whether a text is a number and a short unit.
fn is_amount(cell: &str) -> bool {
    let unit = leading_number(cell).map(|(_, rest)| rest.trim());
    unit.is_some_and(|unit| {
        (1..=8).contains(&unit.len()) && unit.chars().all(|c| c.is_alphabetic() || c == '/')
    })
}

/// Whether a text holds an amount of insulin.
pub(crate) fn insulin_amount(text: &str) -> bool {
    crate::insulin::amounts(text).next().is_some()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_told_apart() {
        let mut profile = Profile::default();
        for (row, cell) in [
            "5,5",
            "Low",
            "",
            "2025-01-01 10:00",
            "6 IU",
            "7.8 mmol/L",
            "10:30",
        ]
        .iter()
        .enumerate()
        {
            profile.add(row, cell);
        }
        assert_eq!((profile.rows, profile.filled), (7, 6));
        assert_eq!(
            (
                profile.moments,
                profile.clocks,
                profile.bounds,
                profile.insulin_amounts
            ),
            (1, 1, 1, 1)
        );
        assert_eq!(profile.numbers.len(), 2);
        assert_eq!((profile.commas, profile.points), (1, 0));
    }
}

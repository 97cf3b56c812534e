//! Columns and paragraphs in plain characters.

use crate::words;

/// Columns of a terminal that everybody has.
pub(crate) const WIDTH: usize = 80;

impl words::Table {
    /// As lines of a terminal.
    pub(crate) fn lines(self) -> Vec<String> {
        let align = |number| if number { Align::Right } else { Align::Left };
        let heads: Vec<(&str, Align)> = self
            .heads
            .iter()
            .map(|head| (head.name.as_str(), align(head.number)))
            .collect();
        let mut table = Table::new(&heads);
        for row in self.rows {
            table.row(row);
        }
        table.lines()
    }
}

/// Which edge of its column a cell keeps to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// A table of cells, as wide as its widest cells.
#[derive(Clone, Debug)]
pub struct Table {
    align: Vec<Align>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table with one heading and one alignment a column.
    pub fn new(columns: &[(&str, Align)]) -> Self {
        let heading = columns.iter().map(|(name, _)| (*name).to_owned()).collect();
        Table {
            align: columns.iter().map(|&(_, align)| align).collect(),
            rows: vec![heading],
        }
    }

    /// Adds a row; missing cells are empty.
    pub fn row<I: IntoIterator<Item = S>, S: Into<String>>(&mut self, cells: I) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }

    /// The lines, two spaces between columns and none at the end.
    pub fn lines(&self) -> Vec<String> {
        let widths: Vec<usize> = (0..self.align.len())
            .map(|column| {
                self.rows
                    .iter()
                    .filter_map(|row| row.get(column))
                    .map(|c| length(c))
                    .max()
                    .unwrap_or(0)
            })
            .collect();
        self.rows.iter().map(|row| self.line(row, &widths)).collect()
    }

    fn line(&self, row: &[String], widths: &[usize]) -> String {
        let mut line = String::new();
        for (column, (&width, align)) in widths.iter().zip(&self.align).enumerate() {
            let cell = row.get(column).map_or("", String::as_str);
            let pad = " ".repeat(width - length(cell).min(width));
            let gap = if column == 0 { "" } else { "  " };
            let padded = if *align == Align::Left {
                format!("{cell}{pad}")
            } else {
                format!("{pad}{cell}")
            };
            line.push_str(gap);
            line.push_str(&padded);
        }
        line.trim_end().to_owned()
    }
}

fn length(text: &str) -> usize {
    text.chars().count()
}

/// A paragraph broken between words, each line at most 80 columns with `indent` spaces before it.
pub fn wrap(text: &str, indent: usize) -> Vec<String> {
    let mut lines = vec![" ".repeat(indent)];
    for word in text.split_whitespace() {
        let current = lines.last().map_or(0, |line| length(line));
        let joint = usize::from(current > indent);
        if joint == 1 && current + joint + length(word) > WIDTH {
            lines.push(" ".repeat(indent));
        }
        if let Some(line) = lines.last_mut() {
            if length(line) > indent {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_keep_to_their_edges() {
        let mut table = Table::new(&[("name", Align::Left), ("n", Align::Right)]);
        table.row(["ä", "10"]);
        table.row(["longer", "5"]);
        assert_eq!(table.lines(), ["name     n", "ä       10", "longer   5"]);
    }

    #[test]
    fn paragraphs_stay_within_eighty_columns() {
        let lines = wrap(&"word ".repeat(60), 2);
        assert!(
            lines
                .iter()
                .all(|line| line.chars().count() <= WIDTH && line.starts_with("  word"))
        );
        assert_eq!(
            lines
                .iter()
                .map(|line| line.split_whitespace().count())
                .sum::<usize>(),
            60
        );
    }
}

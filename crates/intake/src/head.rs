//! Where a table begins: what stands before it, its headings, its first row.

use crate::cell::{CellShape, any_stamp, shape};
use crate::concept::{Concept, concepts_of};
use crate::day_heading::{DayHeading, day_heading};
use crate::number::{DecimalMark, parse_number};
use crate::records::{Field, Records};

/// Records looked at for the beginning of a table.
const MOST_RECORDS: usize = 600;

/// Columns looked at. A line of a million delimiters is no table, and must not take the memory of one.
pub(crate) const MOST_COLUMNS: usize = 1024;

/// The beginning of a table within a sample.
#[derive(Clone, Debug)]
pub(crate) struct Head {
    /// Headings, empty texts where there are none.
    pub(crate) headings: Vec<String>,
    /// The heading line as it stands, to know it again.
    pub(crate) heading_line: Vec<u8>,
    /// Byte at which the rows begin.
    pub(crate) rows_at: usize,
    /// Line of the first row, from 0, counted from the sample's start.
    pub(crate) line: u64,
    /// Texts before the headings.
    pub(crate) preamble: Vec<String>,
    /// The day that stands above the first row, where days stand in rows of their own and the rows say none.
    pub(crate) first_day: Option<String>,
}

/// One record of the sample.
struct Line<'a> {
    start: usize,
    line: u64,
    raw: &'a [u8],
    cells: Vec<String>,
    shapes: Vec<CellShape>,
}

impl Line<'_> {
    fn filled(&self) -> usize {
        self.shapes.iter().filter(|&&s| s != CellShape::Empty).count()
    }

    fn is_blank(&self) -> bool {
        self.filled() == 0
    }

    /// What a cell says of when, if anything.
    fn time(&self, column: usize) -> Option<TimeSort> {
        let cell = self.cells.get(column)?;
        if is_epoch(cell) {
            return Some(TimeSort::Epoch);
        }
        if self.shapes.get(column) != Some(&CellShape::Time) {
            return None;
        }
        let stamp = any_stamp(cell.trim().as_bytes())?;
        Some(match (stamp.day, stamp.second) {
            (Some(_), Some(_)) => TimeSort::Moment,
            (Some(_), None) => TimeSort::Date,
            _ => TimeSort::Clock,
        })
    }

    /// A number that can be a spreadsheet's days since 1899 with a time of day.
    fn is_serial(&self, column: usize) -> bool {
        let number = self
            .cells
            .get(column)
            .and_then(|c| parse_number(c.as_bytes(), DecimalMark::Point));
        number.is_some_and(|n| (30_000.0..60_000.0).contains(&n.value()))
    }

    /// The day, where the line holds only one.
    fn day(&self) -> Option<String> {
        match day_heading(self.cells.iter().map(String::as_str)) {
            DayHeading::Day(day) => Some(day),
            _ => None,
        }
    }

    /// Whether it says the time of day and no day.
    fn is_clock_only(&self) -> bool {
        let times: Vec<TimeSort> = (0..self.cells.len())
            .filter_map(|column| self.time(column))
            .collect();
        !times.is_empty() && times.iter().all(|&time| time == TimeSort::Clock)
    }

    fn is_comment(&self) -> bool {
        self.raw.starts_with(b"#")
    }

    fn is_words_only(&self) -> bool {
        self.shapes
            .iter()
            .all(|s| matches!(s, CellShape::Text | CellShape::Empty))
    }
}

/// Finds the first row that has a time where its followers have one, and the headings above it.
pub(crate) fn find_table(sample: &[u8], delimiter: u8) -> Option<Head> {
    let lines = read_lines(sample, delimiter);
    let first = (0..lines.len()).find(|&i| is_first_row(&lines, i))?;
    let above = headings_above(&lines, first);
    let columns = lines[first].cells.len();
    let mut headings = above
        .iter()
        .fold(vec![String::new(); columns], |mut headings, &i| {
            for (column, cell) in lines[i].cells.iter().enumerate() {
                let cell = cell.trim_start_matches('#').trim();
                match headings.get_mut(column) {
                    Some(heading) if heading.is_empty() => cell.clone_into(heading),
                    Some(heading) if !cell.is_empty() => *heading = format!("{heading} {cell}"),
                    Some(_) => {}
                    None => headings.push(cell.to_owned()),
                }
            }
            headings
        });
    headings.truncate(MOST_COLUMNS);
    let top = above.first().copied().unwrap_or(first);
    let preamble = lines[..top]
        .iter()
        .filter(|l| !l.is_blank())
        .map(|l| l.cells.join(" ").trim().to_owned())
        .collect();
    let heading_line = above.last().map(|&i| lines[i].raw.to_vec()).unwrap_or_default();
    Some(Head {
        headings,
        heading_line,
        rows_at: lines[first].start,
        line: lines[first].line,
        preamble,
        first_day: first_day(&lines, first, &above),
    })
}

/// The day above the first row: right above it, or above its headings where more days follow.
fn first_day(lines: &[Line<'_>], first: usize, headings: &[usize]) -> Option<String> {
    if !lines[first].is_clock_only() {
        return None;
    }
    let mut above = (0..first).rev().filter(|&i| !lines[i].is_blank());
    let nearest = above.next()?;
    if let Some(day) = lines[nearest].day() {
        return Some(day);
    }
    let over = above.find(|i| !headings.contains(i))?;
    let more = lines[first..].iter().any(|line| line.day().is_some());
    lines[over].day().filter(|_| headings.contains(&nearest) && more)
}

fn read_lines(sample: &[u8], delimiter: u8) -> Vec<Line<'_>> {
    let (mut records, mut fields, mut lines, mut line) =
        (Records::new(sample, delimiter), Vec::new(), Vec::new(), 0);
    while let Some(range) = records.next(&mut fields) {
        let raw = &sample[range.clone()];
        let looked_at = fields.iter().take(MOST_COLUMNS);
        let cells: Vec<String> = looked_at.map(|f| f.text(sample).into_owned()).collect();
        let shapes = cells.iter().map(|c| shape(c.as_bytes())).collect();
        lines.push(Line {
            start: range.start,
            line,
            raw,
            cells,
            shapes,
        });
        line += 1 + memchr::memchr_iter(b'\n', raw).count() as u64;
        if lines.len() == MOST_RECORDS {
            break;
        }
    }
    lines
}

/// Whether rows begin here: a time in a column that also holds one in most of the next rows, something beside it,
/// and no headings just below.
fn is_first_row(lines: &[Line<'_>], at: usize) -> bool {
    let line = &lines[at];
    if line.is_comment() || line.filled() < 2 || line.day().is_some() && rows_below_are_clocks(lines, at) {
        return false;
    }
    let above = lines[..at].iter().rev().find(|l| !l.is_blank());
    let mut next: Vec<&Line<'_>> = lines[at + 1..]
        .iter()
        .filter(|l| !l.is_blank() && !l.is_comment())
        .take(5)
        .collect();
    if let Some(end) = next.iter().position(|l| is_heading(&l.cells)) {
        // Headings just below: this is a line of a preamble, unless it stands right under headings of its own.
        if !above.is_some_and(|l| is_heading(&l.cells)) {
            return false;
        }
        next.truncate(end);
    }
    // A spreadsheet shows midnight as a date alone: right under headings that may be the first row.
    let headings = headings_above(lines, at);
    if headings.is_empty() && disagrees(line, &next) {
        return false;
    }
    let named_time = |column: usize| {
        let names = headings.iter().filter_map(|&i| lines[i].cells.get(column));
        names
            .into_iter()
            .any(|c| concepts_of(c).any(&[Concept::Time, Concept::Date, Concept::Clock]))
    };
    let serials = |column: usize| next.iter().filter(|l| l.is_serial(column)).count();
    (0..line.cells.len()).any(|column| {
        let followers = next.iter().filter(|l| l.time(column).is_some()).count();
        let alone = next.is_empty() && above.is_some_and(Line::is_words_only);
        let is_time =
            line.time(column).is_some() && (alone || (!next.is_empty() && followers * 2 >= next.len()));
        // Dates that lost their format are numbers of days, and only the heading tells.
        is_time || (line.is_serial(column) && serials(column) * 2 >= next.len() && named_time(column))
    })
}

/// Whether the next row says only the time of day: then the line above it is its day, not a row.
fn rows_below_are_clocks(lines: &[Line<'_>], at: usize) -> bool {
    let next = lines[at + 1..]
        .iter()
        .find(|l| !l.is_blank() && !is_heading(&l.cells));
    next.is_some_and(Line::is_clock_only)
}

/// Whether a line says when in another way than most of the next ones do: 'from 2025-01-01 to 2025-01-14' above rows
/// of moments is no row.
fn disagrees(line: &Line<'_>, next: &[&Line<'_>]) -> bool {
    (0..line.cells.len()).any(|column| {
        let Some(own) = line.time(column) else {
            return false;
        };
        let others: Vec<TimeSort> = next.iter().filter_map(|l| l.time(column)).collect();
        let alike = others.iter().filter(|&&other| other == own).count();
        !others.is_empty() && alike * 2 < others.len()
    })
}

/// What a cell that says when holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum TimeSort {
    Date,
    Clock,
    Moment,
    Epoch,
}

/// A number that can only be seconds or milliseconds since 1970.
pub(crate) fn is_epoch(cell: &str) -> bool {
    let whole = cell.split('.').next().unwrap_or("");
    matches!(whole.len(), 9 | 10 | 12 | 13)
        && whole.bytes().all(|b| b.is_ascii_digit())
        && !whole.starts_with('0')
}

/// The lines just above the rows that name the columns: one, or two where the lower holds units.
fn headings_above(lines: &[Line<'_>], first: usize) -> Vec<usize> {
    let columns = lines[first].cells.len();
    let is_below_days = lines[first].is_clock_only();
    let mut above = lines[..first]
        .iter()
        .enumerate()
        .rev()
        .filter(|(_, l)| !(l.is_blank() || is_below_days && l.day().is_some()));
    let Some((lower, line)) = above.next() else {
        return Vec::new();
    };
    let fits = |l: &Line<'_>| {
        l.is_words_only() && l.filled() >= 2 && l.filled() * 2 >= columns && l.cells.len() <= columns + 2
    };
    let units_only = line.is_words_only()
        && line
            .cells
            .iter()
            .filter(|c| !c.is_empty())
            .all(|c| c.len() <= 10 && is_unit(c));
    match above.next() {
        Some((upper, upper_line)) if units_only && fits(upper_line) => vec![upper, lower],
        _ if fits(line) => vec![lower],
        _ => Vec::new(),
    }
}

fn is_unit(cell: &str) -> bool {
    concepts_of(cell).any(&[
        Concept::MgPerDl,
        Concept::MmolPerL,
        Concept::GramPerL,
        Concept::Gram,
        Concept::InsulinUnit,
        Concept::PerHour,
        Concept::Minute,
        Concept::Kcal,
    ]) || cell.chars().all(|c| !c.is_alphanumeric())
}

/// Whether cells are headings by their words: no numbers or times, one that speaks of time and another that
/// speaks of something else known.
pub(crate) fn is_heading(cells: &[String]) -> bool {
    let filled: Vec<&String> = cells.iter().filter(|c| !c.trim().is_empty()).collect();
    if filled.len() < 2
        || filled
            .iter()
            .any(|c| c.len() > 80 || shape(c.as_bytes()) != CellShape::Text)
    {
        return false;
    }
    let times = filled
        .iter()
        .filter(|c| concepts_of(c).any(&[Concept::Time, Concept::Date, Concept::Clock, Concept::Start]))
        .count();
    let known = filled.iter().filter(|c| !concepts_of(c).is_empty()).count();
    times >= 1 && known >= 2 && known * 2 >= filled.len()
}

/// The same, for a record of a block.
pub(crate) fn is_heading_record(block: &[u8], fields: &[Field]) -> bool {
    if fields.len() < 2 {
        return false;
    }
    let looked_at = fields.iter().take(MOST_COLUMNS);
    let cells: Vec<String> = looked_at.map(|f| f.text(block).into_owned()).collect();
    is_heading(&cells)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn title_lines_padded_with_delimiters_are_no_headings() {
        let head = find_table(b"SIMULATED - not from any person;;\nDatum;Zeit;Glukose [mmol/L]\n20.10.2025;12:35;7,7\n20.10.2025;12:40;7,8\n", b';').unwrap();
        assert_eq!(head.headings, ["Datum", "Zeit", "Glukose [mmol/L]"]);
        assert_eq!(head.line, 2);
        assert_eq!(head.preamble, ["SIMULATED - not from any person"]);
    }

    #[test]
    fn units_on_a_line_of_their_own_and_dates_in_the_preamble() {
        let text = b"From,2025-01-01\nTo,2025-01-14\n\nTime,Glucose,Carbs\n,mmol/L,g\n2025-01-01 10:00,5.5,\n2025-01-01 10:05,5.6,20\n";
        let head = find_table(text, b',').unwrap();
        assert_eq!(head.headings, ["Time", "Glucose mmol/L", "Carbs g"]);
        assert_eq!(head.preamble.len(), 2);
    }

    #[test]
    fn a_span_of_dates_above_the_headings_is_no_row() {
        let text =
            b"2020-05-18;2020-05-24\n\nWhen it was;How much\n2020-05-18 16:52;144\n2020-05-18 16:57;138\n";
        let head = find_table(text, b';').unwrap();
        assert_eq!(
            (head.line, head.headings),
            (3, vec!["When it was".to_owned(), "How much".to_owned()])
        );
    }

    #[test]
    fn no_headings_and_commented_headings() {
        assert_eq!(
            find_table(b"2025-01-01 10:00,5.5\n2025-01-01 10:05,5.6\n", b',')
                .unwrap()
                .headings,
            ["", ""]
        );
        let head = find_table(
            b"# made up\n#time,glucose\n2025-01-01 10:00,5.5\n2025-01-01 10:05,5.6\n",
            b',',
        )
        .unwrap();
        assert_eq!(head.headings, ["time", "glucose"]);
        assert!(find_table(b"a,b\nc,d\n", b',').is_none());
    }
}

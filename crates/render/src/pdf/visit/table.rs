//! Tables: numbers right, words left, heads in two lines where they are long; rows that do not fit are counted.

use krilla::tagging::{TableHeaderScope, Tag};

use super::Page;
use crate::pdf::canvas::{Ink, Place, bold, ink, plain, soft};
use crate::words::{Head, Range, Table};

/// Letters of cells and heads, points.
const SIZE: f32 = 7.8;
const HEAD: f32 = 6.8;
const GAP: f32 = 7.0;
const LINE: f32 = 1.3;
/// A cell of words has at most so many lines.
const MOST_LINES: usize = 2;

/// How a table is drawn.
#[derive(Clone, Copy)]
pub(super) struct Look {
    /// So many rows at most.
    pub(super) rows: usize,
    /// Points between rows.
    pub(super) air: f32,
}

/// The swatch beside the name of a range, as the ruler and the usual day have it.
pub(super) fn swatch(
    page: &mut Page<'_>,
    range: Range,
    (x, y): (f32, f32),
    (width, height): (f32, f32),
    place: Place,
) {
    let (ground, hatch) = paint(range);
    let points = crate::pdf::canvas::corners((x, y), (width, height));
    page.canvas.shape(points.clone(), ground, place);
    if let Some((ink, apart, rising)) = hatch {
        page.canvas.hatch(points, ink, (apart, rising), place);
    }
}

/// Ground and hatching of a range: denser as it gets more serious, falling below and rising above, so that it can be told in grey.
pub(super) fn paint(range: Range) -> (Ink, Option<(Ink, f32, bool)>) {
    match range {
        Range::InRange => (ink::SLATE, None),
        Range::Low => (ink::INDIGO_PALE, Some((ink::INDIGO, 2.6, false))),
        Range::VeryLow => (ink::INDIGO, Some((ink::INDIGO_DEEP, 1.5, false))),
        Range::High => (ink::OCHRE_PALE, Some((ink::OCHRE, 2.6, true))),
        Range::VeryHigh => (ink::OCHRE, Some((ink::OCHRE_DEEP, 1.5, true))),
    }
}

/// Draws a table from a place on, no wider than so much; answers where it ends.
pub(super) fn draw(page: &mut Page<'_>, table: &Table, (x, y): (f32, f32), width: f32, look: Look) -> f32 {
    let widths = widths(page, table, width);
    let tag = page.canvas.block(None, Tag::Table);
    let mut y = heads(page, table, &widths, (x, y), tag);
    page.canvas
        .line(&[(x, y), (x + width, y)], 0.5, ink::RULE_STRONG, None);
    y += 1.5;
    for cells in table.rows.iter().take(look.rows) {
        y = row(page, table, cells, &widths, (x, y), tag) + look.air;
    }
    let more = table.rows.len().saturating_sub(look.rows);
    if more > 0 {
        y = page.said(&format!("and {more} more"), soft(HEAD), (x, y), width, 1);
    }
    y
}

/// Numbers take what they need; words share the rest.
fn widths(page: &Page<'_>, table: &Table, width: f32) -> Vec<f32> {
    let need = |column: usize| {
        let cells = table.rows.iter().filter_map(|row| row.get(column));
        let widest = cells
            .map(|cell| page.canvas.width(cell, plain(SIZE)))
            .fold(0.0, f32::max);
        let head = head_lines(&table.heads[column]);
        let head = head
            .iter()
            .map(|line| page.canvas.width(line, soft(HEAD)))
            .fold(0.0, f32::max);
        widest.max(head) + GAP + lead(table, column)
    };
    let mut widths: Vec<f32> = (0..table.heads.len()).map(need).collect();
    let words: Vec<usize> = (0..widths.len())
        .filter(|&column| !table.heads[column].number)
        .collect();
    let numbers: f32 = (0..widths.len())
        .filter(|column| !words.contains(column))
        .map(|column| widths[column])
        .sum();
    let wanted: f32 = words.iter().map(|&column| widths[column]).sum();
    let rest = width - numbers;
    if rest < 0.2 * width {
        // More numbers than there is room for: all give way alike.
        let all = numbers + wanted;
        widths.iter_mut().for_each(|column| *column *= width / all);
    } else if wanted > rest {
        words.iter().for_each(|&column| widths[column] *= rest / wanted);
    } else if let Some(&first) = words.first() {
        // What is left over goes to the first column, so that numbers end at the right.
        widths[first] += rest - wanted;
    }
    widths
}

/// Words that follow numbers keep away from them.
fn lead(table: &Table, column: usize) -> f32 {
    let follows = column > 0 && table.heads[column - 1].number && !table.heads[column].number;
    if follows { GAP } else { 0.0 }
}

/// The head of numbers in two lines where it is long.
fn head_lines(head: &Head) -> Vec<String> {
    let (is_number, head) = (head.number, head.name.as_str());
    if !is_number || head.chars().count() <= 9 {
        return vec![head.to_owned()];
    }
    // Where its halves are most alike.
    let breaks = head.match_indices(' ').map(|(at, _)| at);
    match breaks.min_by_key(|&at| head.len().abs_diff(2 * at + 1)) {
        Some(at) => vec![head[..at].to_owned(), head[at + 1..].to_owned()],
        None => vec![head.to_owned()],
    }
}

fn heads(page: &mut Page<'_>, table: &Table, widths: &[f32], (x, y): (f32, f32), tag: Place) -> f32 {
    let heads: Vec<Vec<String>> = table.heads.iter().map(head_lines).collect();
    let most = heads.iter().map(Vec::len).max().unwrap_or(1);
    let bottom = y + HEAD * LINE * most as f32;
    let row = page.canvas.block(tag, Tag::TR);
    let mut left = x;
    for (column, ((head, lines), width)) in table.heads.iter().zip(&heads).zip(widths).enumerate() {
        let cell = page.canvas.cell(row, Some(TableHeaderScope::Column));
        let mut baseline = bottom - HEAD * LINE * (lines.len() as f32 - 1.0) - 2.2;
        for line in lines {
            if head.number {
                page.canvas.words_to(
                    (left + width - edge(widths, left, width, x), baseline),
                    line,
                    soft(HEAD),
                    cell,
                );
            } else {
                let at = (left + lead(table, column), baseline);
                page.canvas.words(at, line, soft(HEAD), cell);
            }
            baseline += HEAD * LINE;
        }
        left += width;
    }
    bottom
}

/// The last column ends at the table's edge.
fn edge(widths: &[f32], left: f32, width: &f32, x: f32) -> f32 {
    let all: f32 = widths.iter().sum();
    if left + width >= x + all - 0.5 {
        0.0
    } else {
        0.5 * GAP
    }
}

fn row(
    page: &mut Page<'_>,
    table: &Table,
    cells: &[String],
    widths: &[f32],
    (x, y): (f32, f32),
    tag: Place,
) -> f32 {
    let row = page.canvas.block(tag, Tag::TR);
    let mut left = x;
    let mut bottom = y + SIZE * LINE;
    for (column, ((cell, head), width)) in cells.iter().zip(&table.heads).zip(widths).enumerate() {
        let heads = (column == 0).then_some(TableHeaderScope::Row);
        let place = page.canvas.cell(row, heads);
        if head.number {
            let at = (left + width - edge(widths, left, width, x), y + SIZE);
            page.canvas.words_to(at, cell, plain(SIZE), place);
        } else {
            let indent = cell.len() - cell.trim_start().len();
            let shift = 3.0 * indent as f32 + lead(table, column);
            let style = if cell.starts_with("In range,") {
                bold(SIZE)
            } else {
                plain(SIZE)
            };
            let inner = width - GAP - shift;
            let lines = page
                .canvas
                .wrapped_at_most(cell.trim_start(), style, inner, MOST_LINES);
            let end = page.lines_apart(&lines, style, (left + shift, y), LINE, place);
            bottom = bottom.max(end);
        }
        left += width;
    }
    bottom
}

impl Page<'_> {
    fn lines_apart(
        &mut self,
        lines: &[String],
        style: crate::pdf::canvas::Style,
        (x, y): (f32, f32),
        leading: f32,
        place: Place,
    ) -> f32 {
        let mut y = y;
        for line in lines {
            self.canvas.words((x, y + style.size), line, style, place);
            y += style.size * leading;
        }
        y
    }
}

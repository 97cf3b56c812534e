//! The second page: the parts in two columns, room to write, and what every figure means.

use super::Page;
use super::table::{self, Look};
use crate::pdf::canvas::{bold, ink, plain, soft};
use crate::sheet::Section;

const GUTTER: f32 = 20.0;
const NOTE: f32 = 6.3;
const SAID: f32 = 8.0;
/// Lines to write on at most.
const MOST_LINES: f32 = 10.0;
/// Sections of the left column; the others stand on the right.
const ON_THE_LEFT: [&str; 3] = ["swings", "trust", "sensors"];
/// How much of each part is told: rows of a table, lines of a paragraph; the first that fits is taken.
const STEPS: [(usize, usize); 8] = [(8, 4), (7, 4), (6, 4), (5, 3), (4, 3), (3, 3), (2, 2), (1, 2)];

pub(super) fn draw(page: &mut Page<'_>) {
    let notes_top = page.frame.bottom - notes_height(page);
    let top = page.frame.top;
    let width = 0.5 * (page.frame.width() - GUTTER);
    let columns = [page.frame.left, page.frame.left + width + GUTTER];
    let sections = page.sheet.sections.clone();
    let (left, right): (Vec<Section>, Vec<Section>) = sections
        .into_iter()
        .partition(|section| ON_THE_LEFT.contains(&section.id));
    let mut fits = STEPS[STEPS.len() - 1];
    for step in STEPS {
        let ends = [&left, &right].map(|sections| {
            page.canvas.measured(true);
            let end = column(page, sections, (columns[0], top), width, step);
            page.canvas.measured(false);
            end
        });
        if ends.into_iter().fold(0.0, f32::max) <= notes_top - 4.0 {
            fits = step;
            break;
        }
    }
    let end_left = column(page, &left, (columns[0], top), width, fits);
    let end_right = column(page, &right, (columns[1], top), width, fits);
    agreed(page, end_left.max(end_right) + 4.0, notes_top - 8.0);
    notes(page, notes_top);
}

fn column(
    page: &mut Page<'_>,
    sections: &[Section],
    (x, y): (f32, f32),
    width: f32,
    (rows, lines): (usize, usize),
) -> f32 {
    let mut y = y;
    for section in sections {
        page.canvas.line(&[(x, y), (x + width, y)], 0.8, ink::BLACK, None);
        y = page.heading(section.title, &section.notes, (x, y + 4.0), 9.5) + 1.0;
        for said in &section.said {
            y = page.said(said, plain(SAID), (x, y), width, lines) + 1.5;
        }
        if let Some(table) = &section.table {
            y = table::draw(page, table, (x, y + 1.0), width, Look { rows, air: 0.6 }) + 1.5;
        }
        for said in &section.after {
            y = page.said(said, soft(7.4), (x, y), width, lines) + 1.0;
        }
        y += 9.0;
    }
    y
}

/// Room to write on, where there is any.
fn agreed(page: &mut Page<'_>, y: f32, bottom: f32) {
    if bottom - y < 52.0 {
        return;
    }
    let (left, right) = (page.frame.left, page.frame.right);
    page.canvas.line(&[(left, y), (right, y)], 0.8, ink::BLACK, None);
    let mut at = page.heading("Agreed at this visit", &[], (left, y + 4.0), 9.5);
    let bottom = bottom.min(at + MOST_LINES * 17.0 + 1.0);
    while at + 17.0 < bottom {
        at += 17.0;
        page.canvas
            .line(&[(left, at), (right, at)], 0.4, ink::RULE_STRONG, None);
    }
}

fn notes_height(page: &mut Page<'_>) -> f32 {
    page.canvas.measured(true);
    let end = note_columns(page, 0.0);
    page.canvas.measured(false);
    end
}

fn notes(page: &mut Page<'_>, y: f32) {
    page.canvas.line(
        &[(page.frame.left, y), (page.frame.right, y)],
        0.4,
        ink::RULE_STRONG,
        None,
    );
    note_columns(page, y);
}

/// The notes in two columns of about the same height.
fn note_columns(page: &mut Page<'_>, y: f32) -> f32 {
    let width = 0.5 * (page.frame.width() - GUTTER);
    let all = page.sheet.notes.clone();
    let lines: Vec<usize> = all
        .iter()
        .map(|(_, text)| page.canvas.wrapped(text, soft(NOTE), width - 11.0).len())
        .collect();
    let half = lines.iter().sum::<usize>().div_ceil(2);
    let mut list = page.canvas.list(true);
    let (mut x, mut at, mut used, mut end) = (page.frame.left, y + 4.0, 0, y);
    for ((number, text), &needs) in all.iter().zip(&lines) {
        if used >= half && x <= page.frame.left {
            (x, at) = (page.frame.left + width + GUTTER, y + 4.0);
            list = page.canvas.list(true);
        }
        let (label, body) = page.canvas.item(list);
        page.canvas
            .words((x, at + NOTE), &number.to_string(), bold(NOTE), label);
        let wrapped = page.canvas.wrapped(text, soft(NOTE), width - 11.0);
        at = page.lines(&wrapped, soft(NOTE), (x + 11.0, at), body) + 0.8;
        used += needs;
        end = end.max(at);
    }
    if page.canvas.has_missing() {
        let said = "A question mark stands for each character these letters do not have.";
        end = page.said(said, soft(NOTE), (page.frame.left, end), page.frame.width(), 1);
    }

    end
}

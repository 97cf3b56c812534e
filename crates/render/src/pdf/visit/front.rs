//! The first page: who and when, what stands out, what to ask, the average day, the measures, the usual day.

use super::table::{self, Look, swatch};
use super::{LEADING, Page, ruler, usual};
use crate::pdf::canvas::{bold, ink, plain, soft};
use crate::sheet::Note;
use crate::words::Range;

/// The share of the width that what stands out takes; the rest is for questions.
const LEAD: f32 = 0.635;
const GUTTER: f32 = 18.0;

pub(super) fn draw(page: &mut Page<'_>) {
    let y = head(page);
    let y = lead(page, y + 9.0) + 11.0;
    let y = page.heading(
        "An average day as 24 hours",
        &[Note::Time],
        (page.frame.left, y),
        10.0,
    );
    let y = ruler::draw(page, y + 2.0) + 4.0;
    let y = measures(page, y) + 8.0;
    let caution = page.frame.bottom - 2.0 * 7.2 * LEADING;
    let notes = [Note::Pressure, Note::UsualDay];
    let y = page.heading("The usual day", &notes, (page.frame.left, y), 10.0);
    let y = legend(page, y);
    usual::draw(page, y + 2.0, (caution - 8.0 - y).max(60.0));
    let mut y = caution;
    for said in page.sheet.cautions.clone() {
        y = page.said(&said, plain(7.2), (page.frame.left, y), page.frame.width(), 1);
    }
}

/// Who, when, and whether it is enough.
fn head(page: &mut Page<'_>) -> f32 {
    let (left, right, top) = (page.frame.left, page.frame.right, page.frame.top);
    let title = page.canvas.heading(1, "Visit sheet", top);
    page.canvas
        .words((left, top + 18.0), "Visit sheet", bold(21.0), title);
    let name_from = left + 0.5 * page.frame.width();
    let place = page.canvas.paragraph();
    match page.sheet.name.clone() {
        Some(name) => {
            let room = right - name_from;
            let fits = |size: &f32| page.canvas.wrapped(&name, bold(*size), room).len() <= 2;
            let size = [12.0, 10.0, 8.5].into_iter().find(fits).unwrap_or(8.5);
            let lines = page.canvas.wrapped_at_most(&name, bold(size), room, 2);
            let mut y = top + if lines.len() > 1 { 6.0 } else { 18.0 };
            for line in &lines {
                page.canvas.words_to((right, y), line, bold(size), place);
                y += 1.17 * size;
            }
        }
        None => {
            page.canvas
                .words((name_from, top + 18.0), "Name", soft(8.0), place);
            page.canvas.line(
                &[(name_from + 26.0, top + 19.0), (right, top + 19.0)],
                0.6,
                ink::RULE_STRONG,
                None,
            );
        }
    }
    let place = page.canvas.paragraph();
    let window = page.sheet.window.clone();
    page.canvas.words((left, top + 35.0), &window, bold(9.5), place);
    let made = format!("made {}", page.sheet.made);
    page.canvas.words_to((right, top + 35.0), &made, soft(8.5), place);
    let said = page.sheet.sufficiency.clone();
    let y = page.said(&said, soft(8.5), (left, top + 39.0), page.frame.width(), 2);
    page.canvas
        .line(&[(left, y + 3.0), (right, y + 3.0)], 1.2, ink::BLACK, None);
    y + 3.0
}

/// What stands out on the left, what to ask on the right.
fn lead(page: &mut Page<'_>, y: f32) -> f32 {
    let (left, width) = (page.frame.left, page.frame.width());
    let wide = LEAD * width;
    let mut end = page.heading("What stands out", &[Note::First, Note::Targets], (left, y), 10.0) + 2.0;
    let list = page.canvas.list(true);
    for (number, said) in page.sheet.matters.clone().iter().enumerate() {
        let (label, body) = page.canvas.item(list);
        page.canvas
            .words((left, end + 12.5), &(number + 1).to_string(), bold(15.0), label);
        let (x, inner) = (left + 17.0, wide - 17.0);
        page.canvas.words((x, end + 9.0), said.title, bold(9.2), body);
        end += 9.2 * LEADING + 0.5;
        for (text, style, most) in [(&said.sentence, plain(9.2), 4), (&said.evidence, soft(7.8), 4)] {
            let lines = page.canvas.wrapped_at_most(text, style, inner, most);
            end = page.lines(&lines, style, (x, end), body);
        }
        end += 5.0;
    }
    let from = left + wide + GUTTER;
    let end = end.max(y + 96.0);
    questions(page, (from, y), (page.frame.right - from, end - y));
    end
}

/// Questions with boxes to tick, as many as fit; else lines to write on.
fn questions(page: &mut Page<'_>, (x, y): (f32, f32), (width, height): (f32, f32)) {
    const INSIDE: f32 = 9.0;
    const SIZE: f32 = 8.4;
    page.canvas.rect((x, y), (width, height), ink::NIGHT, None);
    let mut at = page.heading("To ask", &[], (x + INSIDE, y + 6.0), 10.0) + 3.0;
    let (from, inner, bottom) = (x + INSIDE + 12.0, width - 2.0 * INSIDE - 12.0, y + height - 7.0);
    let asked = page.sheet.questions.clone();
    let mut told = 0;
    if !asked.is_empty() {
        let list = page.canvas.list(false);
        for question in &asked {
            let lines = page.canvas.wrapped_at_most(question, plain(SIZE), inner, 4);
            let left_over = asked.len() - told - 1;
            let room = if left_over > 0 { SIZE * LEADING } else { 0.0 };
            let needs = SIZE * LEADING * lines.len() as f32;
            if at + needs + room > bottom && told > 0 {
                break;
            }
            let (label, body) = page.canvas.item(list);
            let corners = [
                (x + INSIDE, at + 2.0),
                (x + INSIDE + 6.5, at + 2.0),
                (x + INSIDE + 6.5, at + 8.5),
                (x + INSIDE, at + 8.5),
                (x + INSIDE, at + 2.0),
            ];
            page.canvas.line(&corners, 0.6, ink::SOFT, label);
            at = page.lines(&lines, plain(SIZE), (from, at), body) + 3.0;
            told += 1;
        }
    }
    let more = asked.len() - told;
    if more > 0 {
        let said = format!("and {more} more, in the book");
        at = page.said(&said, soft(7.5), (from, at), inner, 1);
    }
    while at + 15.0 < bottom {
        at += 15.0;
        page.canvas.line(
            &[(x + INSIDE, at), (x + width - INSIDE, at)],
            0.4,
            ink::RULE_STRONG,
            None,
        );
    }
}

fn measures(page: &mut Page<'_>, y: f32) -> f32 {
    let notes = [Note::Time, Note::Targets, Note::Gmi, Note::Pressure, Note::Change];
    let y = page.heading("Consensus measures", &notes, (page.frame.left, y), 10.0);
    let look = Look { rows: 12, air: 0.9 };
    let (x, width) = (page.frame.left + 13.0, page.frame.width() - 13.0);
    let measures = page.sheet.measures.clone();
    let end = table::draw(page, &measures, (x, y), width, look);
    // The swatches are what the ruler and the usual day are drawn in.
    let step = 7.8 * 1.3 + look.air;
    let first = end - step * measures.rows.len() as f32;
    let ranges = [
        Range::InRange,
        Range::Low,
        Range::VeryLow,
        Range::High,
        Range::VeryHigh,
    ];
    for (row, range) in (0_u8..).zip(ranges) {
        let y = first + step * f32::from(row) + 1.6;
        swatch(page, range, (page.frame.left, y), (8.5, 6.5), None);
    }
    let mut y = end;
    for said in page.sheet.measures_said.clone() {
        y = page.said(
            &said,
            soft(7.2),
            (page.frame.left, y + 1.0),
            page.frame.width(),
            2,
        );
    }
    y
}

fn legend(page: &mut Page<'_>, y: f32) -> f32 {
    let mut said =
        "Line: median. Dark: half of the readings. Pale: nine tenths. Hatched: outside the target range."
            .to_owned();
    if page.findings.without_pressure.is_some() {
        said.push_str(" Dashed: the lower edge without probable pressure lows.");
    }
    page.said(&said, soft(7.2), (page.frame.left, y), page.frame.width(), 2)
}

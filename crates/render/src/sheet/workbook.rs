//! The visit's tables as a spreadsheet: those of the sheet as they read there, and the figures behind them as numbers.

use interstice_findings::{
    DayLine, EpisodeKind, EpisodeLine, Figure, ReviewFindings, UsualMinute, VisitFindings,
};
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, FormatAlign, Workbook, Worksheet, XlsxError};

use super::{Section, Sheet, sheet};
use crate::words::{Shown, Table};

/// Widest a column is made by its contents, pixels.
const WIDEST: u32 = 420;
/// Width of a column of sentences, letters.
const SENTENCES: f64 = 96.0;

/// The bytes of the file, the same for the same findings. Sheets: 'Visit' in sentences, the tables of the visit sheet, and
/// 'Figures', 'Days', 'Episodes', 'Usual day' with numbers in mg/dL and percent, as `review --json` has them.
///
/// # Errors
/// Where a text is longer than a cell may hold (32,767 letters).
pub fn workbook(findings: &VisitFindings, shown: Shown) -> Result<Vec<u8>, XlsxError> {
    let sheet = sheet(findings, shown);
    let review = &findings.review;
    let mut book = Workbook::new();
    book.set_properties(&properties(&sheet, &findings.made)?);
    lead(book.add_worksheet(), &sheet)?;
    said_table(book.add_worksheet(), "Measures", &sheet.measures)?;
    for (section, table) in sheet
        .sections
        .iter()
        .filter_map(|part| Some((part, part.table.as_ref()?)))
    {
        said_table(book.add_worksheet(), sheet_name(section), table)?;
    }
    figures(book.add_worksheet(), review)?;
    rows(book.add_worksheet(), "Days", &DAYS, &review.days)?;
    rows(book.add_worksheet(), "Episodes", &EPISODES, &review.episodes)?;
    rows(book.add_worksheet(), "Usual day", &USUAL, &review.usual_day)?;
    definitions(book.add_worksheet(), &sheet)?;
    book.save_to_buffer()
}

/// The day it was made stands for the clock, so that the same findings are the same bytes.
fn properties(sheet: &Sheet, made: &str) -> Result<DocProperties, XlsxError> {
    let created = ExcelDateTime::parse_from_str(made)?;
    Ok(DocProperties::new()
        .set_title(format!("Visit sheet, {}", sheet.window))
        .set_creation_datetime(&created))
}

/// What a program shows on the tab: short, and without signs it forbids.
fn sheet_name(section: &Section) -> &'static str {
    match section.id {
        "swings" => "Swings",
        "day" => "Day and night",
        "insulin" => "Insulin",
        "meals" => "Meals",
        "trust" => "Trust",
        "sensors" => "Sensors",
        "hba1c" => "HbA1c and GMI",
        other => other,
    }
}

fn heading() -> Format {
    Format::new()
        .set_bold()
        .set_text_wrap()
        .set_align(FormatAlign::Top)
}

fn sentence() -> Format {
    Format::new().set_text_wrap().set_align(FormatAlign::Top)
}

/// The sheet in sentences, from its title to its cautions.
fn lead(page: &mut Worksheet, sheet: &Sheet) -> Result<(), XlsxError> {
    page.set_name("Visit")?.set_column_width(0, 24)?;
    page.set_column_width(1, SENTENCES)?;
    let mut lines: Vec<(&str, String)> = vec![
        ("Visit sheet", sheet.name.clone().unwrap_or_default()),
        ("Days", sheet.window.clone()),
        ("Made", sheet.made.clone()),
        ("Readings", sheet.sufficiency.clone()),
    ];
    for said in &sheet.matters {
        let text = format!("{} {} {}", said.title, said.sentence, said.evidence);
        lines.push(("What stands out", text.trim_end().to_owned()));
    }
    lines.extend(
        sheet
            .questions
            .iter()
            .map(|question| ("To ask", question.clone())),
    );
    lines.push(("Average day", sheet.average_day.clone()));
    lines.extend(sheet.measures_said.iter().map(|said| ("Measures", said.clone())));
    lines.push(("Usual day", sheet.usual_day.clone()));
    for part in &sheet.sections {
        lines.extend(
            part.said
                .iter()
                .chain(&part.after)
                .map(|said| (part.title, said.clone())),
        );
    }
    lines.extend(sheet.cautions.iter().map(|caution| ("Caution", caution.clone())));
    for (row, (name, text)) in (0..).zip(&lines) {
        page.write_string_with_format(row, 0, *name, &heading())?;
        page.write_string_with_format(row, 1, text, &sentence())?;
    }
    printed(page);
    Ok(())
}

/// A table as it reads on the sheet; a cell that is nothing but a number is written as one.
fn said_table(page: &mut Worksheet, name: &str, table: &Table) -> Result<(), XlsxError> {
    page.set_name(name)?;
    for (column, head) in (0..).zip(&table.heads) {
        page.write_string_with_format(0, column, &head.name, &heading())?;
    }
    for (row, cells) in (1..).zip(&table.rows) {
        for (column, (cell, head)) in (0..).zip(cells.iter().zip(&table.heads)) {
            match number(cell).filter(|_| head.number) {
                Some(number) => page.write_number(row, column, number)?,
                None => page.write_string(row, column, cell)?,
            };
        }
    }
    finished(page)
}

/// '12', '3.4', '+3.1' and '−0.4' as numbers.
fn number(cell: &str) -> Option<f64> {
    let plain = cell.replace('−', "-");
    let digits = plain.strip_prefix(['+', '-']).unwrap_or(&plain);
    let only = digits.starts_with(|c: char| c.is_ascii_digit())
        && digits.chars().all(|c| c.is_ascii_digit() || c == '.');
    only.then(|| plain.parse().ok()).flatten()
}

fn figures(page: &mut Worksheet, review: &ReviewFindings) -> Result<(), XlsxError> {
    let named = review
        .summary
        .named()
        .map(|(name, figure)| (name, figure.clone()));
    rows(page, "Figures", &FIGURES, &named)
}

/// What may stand in a cell.
enum Cell<'a> {
    Text(&'a str),
    Said(String),
    Number(Option<f64>),
}

type Column<T> = (&'static str, for<'a> fn(&'a T) -> Cell<'a>);

const FIGURES: [Column<(&str, Figure)>; 5] = [
    ("figure", |row| Cell::Text(row.0)),
    ("value", |row| Cell::Number(row.1.value)),
    ("lo95", |row| Cell::Number(row.1.lo95)),
    ("hi95", |row| Cell::Number(row.1.hi95)),
    ("reason", |row| {
        Cell::Text(row.1.reason.as_deref().unwrap_or_default())
    }),
];

const DAYS: [Column<DayLine>; 11] = [
    ("date", |day| Cell::Text(&day.date)),
    ("hours", |day| Cell::Number(Some(day.hours))),
    ("active_percent", |day| Cell::Number(Some(day.active_percent))),
    ("mean_mg_dl", |day| Cell::Number(day.mean_mg_dl)),
    ("lowest_mg_dl", |day| Cell::Number(day.lowest_mg_dl)),
    ("highest_mg_dl", |day| Cell::Number(day.highest_mg_dl)),
    ("very_low_percent", |day| Cell::Number(day.very_low_percent)),
    ("low_percent", |day| Cell::Number(day.low_percent)),
    ("in_range_percent", |day| Cell::Number(day.in_range_percent)),
    ("high_percent", |day| Cell::Number(day.high_percent)),
    ("very_high_percent", |day| Cell::Number(day.very_high_percent)),
];

const EPISODES: [Column<EpisodeLine>; 7] = [
    ("kind", |line| {
        Cell::Text(match line.kind {
            EpisodeKind::Low => "low",
            EpisodeKind::High => "high",
        })
    }),
    ("level", |line| Cell::Number(Some(line.level.into()))),
    ("start", |line| Cell::Said(line.start.0.to_string())),
    ("end", |line| Cell::Said(line.end.0.to_string())),
    ("minutes", |line| Cell::Number(Some(line.minutes))),
    ("extreme_mg_dl", |line| Cell::Number(Some(line.extreme_mg_dl))),
    ("area_mg_dl_min", |line| Cell::Number(Some(line.area_mg_dl_min))),
];

const USUAL: [Column<UsualMinute>; 7] = [
    ("minute", |bin| Cell::Number(Some(bin.minute.into()))),
    ("days", |bin| Cell::Number(Some(bin.days.into()))),
    ("p5_mg_dl", |bin| Cell::Number(bin.p5_mg_dl)),
    ("p25_mg_dl", |bin| Cell::Number(bin.p25_mg_dl)),
    ("p50_mg_dl", |bin| Cell::Number(bin.p50_mg_dl)),
    ("p75_mg_dl", |bin| Cell::Number(bin.p75_mg_dl)),
    ("p95_mg_dl", |bin| Cell::Number(bin.p95_mg_dl)),
];

fn rows<T>(page: &mut Worksheet, name: &str, columns: &[Column<T>], things: &[T]) -> Result<(), XlsxError> {
    page.set_name(name)?;
    for (column, (head, cell)) in (0..).zip(columns) {
        page.write_string_with_format(0, column, *head, &heading())?;
        for (row, thing) in (1..).zip(things) {
            match cell(thing) {
                Cell::Number(None) => {}
                Cell::Text(text) => said(page, row, column, text)?,
                Cell::Said(text) => said(page, row, column, &text)?,
                Cell::Number(Some(number)) => {
                    page.write_number(row, column, number)?;
                }
            }
        }
    }
    finished(page)
}

fn said(page: &mut Worksheet, row: u32, column: u16, text: &str) -> Result<(), XlsxError> {
    if !text.is_empty() {
        page.write_string(row, column, text)?;
    }
    Ok(())
}

/// What every figure of the sheet means.
fn definitions(page: &mut Worksheet, sheet: &Sheet) -> Result<(), XlsxError> {
    page.set_name("Definitions")?.set_column_width(1, SENTENCES)?;
    for (row, (number, text)) in (0..).zip(&sheet.notes) {
        page.write_number(row, 0, *number)?;
        page.write_string_with_format(row, 1, text, &sentence())?;
    }
    printed(page);
    Ok(())
}

fn finished(page: &mut Worksheet) -> Result<(), XlsxError> {
    page.set_freeze_panes(1, 0)?
        .set_autofit_max_width(WIDEST)
        .autofit();
    printed(page);
    Ok(())
}

/// On paper as wide as the page.
fn printed(page: &mut Worksheet) {
    page.set_landscape().set_print_fit_to_pages(1, 0);
}

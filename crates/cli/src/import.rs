//! `import` and `imports`.

use std::fmt::Write as _;
use std::path::Path;

use interstice_desk::{
    FileReport, FileStatus, ImportRequest, Mode, Place, Understanding, explain, import_path,
};
use interstice_glucose::{Unit, one_or_many};
use serde_json::json;

use crate::args::{Dates, ImportArgs};
use crate::exit::{Answer, Exit, Failure};
use crate::opened::open;
use crate::output::Output;
use crate::progress::Bar;
use crate::world::World;

/// Problems printed for one file; the rest are in the book.
const PROBLEMS_SHOWN: usize = 8;

/// Brings files in, or shows how they are understood.
pub(crate) fn import(args: &ImportArgs, book: &Path, world: &World, out: &mut Output) -> Answer {
    let request = request(args)?;
    let place = Place {
        now: world.now,
        machine_zone: world.zone.clone(),
    };
    let reports = if args.explain {
        explain_all(args, book, &request, &place, out)?
    } else {
        import_all(args, book, &request, &place, out)?
    };
    if out.json() {
        out.document(&json!({ "files": reports }))?;
    } else {
        for report in &reports {
            out.text(&in_words(report, args.explain));
        }
    }
    Ok(exit_of(&reports))
}

fn explain_all(
    args: &ImportArgs,
    book: &Path,
    request: &ImportRequest,
    place: &Place,
    out: &mut Output,
) -> Result<Vec<FileReport>, Failure> {
    let book = if book.exists() {
        Some(open(book, Mode::ReadOnly, out)?)
    } else {
        None
    };
    Ok(args
        .files
        .iter()
        .map(|file| explain(book.as_ref(), file, request, place))
        .collect())
}

fn import_all(
    args: &ImportArgs,
    path: &Path,
    request: &ImportRequest,
    place: &Place,
    out: &mut Output,
) -> Result<Vec<FileReport>, Failure> {
    let existed = path.exists();
    let mut book = open(path, Mode::CreateIfAbsent, out)?;
    let mut reports = Vec::new();
    for file in &args.files {
        let mut bar = Bar::new(file);
        reports.push(import_path(&mut book, file, request, place, &mut bar)?);
        bar.finish();
        if bar.stopped() {
            break;
        }
    }
    let nothing_written = reports.iter().all(|report| report.status != FileStatus::Imported);
    drop(book);
    if !existed && nothing_written {
        remove_empty_book(path);
    }
    Ok(reports)
}

/// A book created for an import that brought nothing is taken away again, so that a failed first import leaves
/// nothing behind.
fn remove_empty_book(path: &Path) {
    for suffix in ["", "-wal", "-shm"] {
        let mut name = path.as_os_str().to_owned();
        name.push(suffix);
        // Absence is what is wanted; any other failure leaves an empty book, which does no harm.
        let _ = std::fs::remove_file(name);
    }
}

fn request(args: &ImportArgs) -> Result<ImportRequest, Failure> {
    let roles = args
        .roles
        .iter()
        .map(|text| role(text))
        .collect::<Result<Vec<_>, _>>()?;
    let dates = args.dates.map(|dates| match dates {
        Dates::DayFirst => "day-first",
        Dates::MonthFirst => "month-first",
        Dates::YearFirst => "year-first",
    });
    let (zone, unit, subject) = (
        args.zone.as_deref(),
        args.unit.as_deref(),
        args.subject.as_deref(),
    );
    Ok(ImportRequest::from_words(zone, unit, dates, subject, roles)?)
}

/// 'COLUMN=ROLE', split at the last '='.
fn role(text: &str) -> Result<(&str, &str), Failure> {
    let (column, role) = text
        .rsplit_once('=')
        .ok_or_else(|| Failure::usage(format!("'{text}' is not COLUMN=ROLE; write it like 3=glucose")))?;
    Ok((column.trim(), role.trim()))
}

/// A unit already checked by the argument parser.
pub(crate) fn unit(text: &str) -> Unit {
    if text.to_ascii_lowercase().starts_with("mmol") {
        Unit::MmolPerL
    } else {
        Unit::MgPerDl
    }
}

fn exit_of(reports: &[FileReport]) -> Exit {
    if reports.iter().any(|report| report.status == FileStatus::Rejected) {
        Exit::Input
    } else if reports
        .iter()
        .any(|report| report.status == FileStatus::Question || report.conflicts > 0)
    {
        Exit::NeedsYou
    } else {
        Exit::Done
    }
}

/// A report as a person reads it.
pub(crate) fn in_words(report: &FileReport, explain: bool) -> String {
    let mut text = String::new();
    let _ = writeln!(text, "{}", report.file);
    match report.status {
        FileStatus::Imported => imported(&mut text, report),
        FileStatus::Understood => {
            text.push_str("  understood; nothing written\n");
            holds(&mut text, report);
        }
        FileStatus::Question => text.push_str("  a question first; nothing written\n"),
        FileStatus::Rejected => text.push_str("  not imported; nothing written\n"),
    }
    if let Some(understanding) = report.understanding.as_ref().filter(|_| explain) {
        understood(&mut text, understanding);
    }
    for question in &report.questions {
        let _ = writeln!(text, "  ? {}", question.ask);
        for answer in &question.answers {
            let _ = writeln!(text, "      {:<28} {}", answer.flag, answer.meaning);
        }
    }
    for problem in report.problems.iter().take(PROBLEMS_SHOWN) {
        let _ = writeln!(text, "  ! {}", problem_in_words(problem));
    }
    let shown = report.problems.iter().take(PROBLEMS_SHOWN);
    let listed = shown.filter(|problem| problem.row > 0).count() as u64;
    let hidden = report.rejected.saturating_sub(listed);
    if hidden > 0 {
        let where_to = match report.status {
            FileStatus::Imported => "; the page of imports lists them",
            _ => "",
        };
        let _ = writeln!(text, "  ! and {hidden} more{where_to}");
    }
    // An understanding that was shown has told them already.
    let told = explain && report.understanding.is_some();
    for note in report.notes.iter().filter(|_| !told) {
        let _ = writeln!(text, "  · {note}");
    }
    text
}

/// When a file's entries were, their unit and zone, and how many of its rows can be used.
fn holds(text: &mut String, report: &FileReport) {
    span_and_unit(text, report);
    let rejected = match report.rejected {
        0 => "none rejected".to_owned(),
        some => format!("{} rejected", thousands(some)),
    };
    let rows = many(report.rows_read, "row", "rows");
    let _ = writeln!(text, "  {rows}, {rejected}");
}

fn problem_in_words(problem: &interstice_desk::ProblemLine) -> String {
    if problem.row == 0 {
        return problem.reason.clone();
    }
    format!(
        "row {}, {}: '{}': {}",
        problem.row, problem.column, problem.text, problem.reason
    )
}

fn span_and_unit(text: &mut String, report: &FileReport) {
    if let (Some(from), Some(to)) = (report.from, report.to) {
        let _ = writeln!(text, "  from {from} to {to}");
    }
    let interval = report
        .interval_min
        .map(|minutes| format!(", every {minutes:.0} min"))
        .unwrap_or_default();
    if let Some(unit) = &report.unit {
        let _ = writeln!(
            text,
            "  glucose in {unit}{interval}; zone {}",
            report.zone.as_deref().unwrap_or("as in the file")
        );
    }
}

fn imported(text: &mut String, report: &FileReport) {
    span_and_unit(text, report);
    let counts = [
        (report.readings_new, "reading", "readings"),
        (report.scans_new, "scan", "scans"),
        (report.blood_checks_new, "blood check", "blood checks"),
        (report.doses_new, "dose", "doses"),
        (report.meals_new, "meal", "meals"),
        (report.other_new, "other entry", "other entries"),
    ];
    let new: Vec<String> = counts
        .iter()
        .filter(|(n, ..)| *n > 0)
        .map(|&(n, one, several)| many(n, one, several))
        .collect();
    let _ = writeln!(
        text,
        "  new            {}",
        if new.is_empty() {
            "nothing".to_owned()
        } else {
            new.join(", ")
        }
    );
    let _ = writeln!(text, "  already there  {}", thousands(report.already_there));
    let _ = writeln!(text, "  conflicting    {}", thousands(report.conflicts));
    let _ = writeln!(text, "  rejected       {}", thousands(report.rejected));
    if let Some(id) = report.import_id {
        let _ = writeln!(text, "  to take it back: interstice undo {id}");
    }
}

fn understood(text: &mut String, understanding: &Understanding) {
    for table in &understanding.tables {
        let _ = writeln!(text, "\n  {} ({})", table.place, table.format);
        let _ = writeln!(text, "    time: {}", table.time_rule);
        let _ = writeln!(text, "    zone: {}", table.zone);
        if let Some((unit, evidence)) = &table.unit {
            let _ = writeln!(text, "    unit: {unit} ({evidence})");
        }
        for column in &table.columns {
            let role = serde_json::to_value(column.role)
                .ok()
                .and_then(|v| v.as_str().map(str::to_owned));
            let _ = writeln!(
                text,
                "    {:>3} {:<24} {:<20} {:>4.0} %  {}",
                column.number,
                short(&column.heading, 24),
                role.unwrap_or_default(),
                column.confidence * 100.0,
                short(&column.examples.join(" | "), 60)
            );
            for line in &column.evidence {
                let _ = writeln!(text, "          {line}");
            }
        }
        if !table.parsed.is_empty() {
            text.push_str("    first rows as read:\n");
        }
        for row in &table.parsed {
            let _ = writeln!(text, "      {row}");
        }
    }
    for note in &understanding.notes {
        let _ = writeln!(text, "  · {note}");
    }
}

/// At most `width` characters, with an ellipsis where cut.
fn short(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    text.chars().take(width.saturating_sub(1)).chain(['…']).collect()
}

/// '1 row', '1 234 rows'.
pub(crate) fn many(n: u64, one: &str, several: &str) -> String {
    format!("{} {}", thousands(n), one_or_many(&n, one, several))
}

/// '1 234 567', with narrow no-break spaces so that it reads the same in every language.
pub(crate) fn thousands(n: u64) -> String {
    let digits = n.to_string();
    let mut grouped = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            grouped.push('\u{202f}');
        }
        grouped.push(digit);
    }
    grouped
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_are_grouped() {
        assert_eq!(thousands(0), "0");
        assert_eq!(thousands(999), "999");
        assert_eq!(thousands(1_234_567), "1\u{202f}234\u{202f}567");
    }

    #[test]
    fn one_is_not_several() {
        let said = [0, 1, 2, 1000].map(|n| many(n, "kept file", "kept files"));
        assert_eq!(
            said,
            [
                "0 kept files",
                "1 kept file",
                "2 kept files",
                "1\u{202f}000 kept files"
            ]
        );
    }

    #[test]
    fn a_role_is_read_from_the_right_of_the_last_equals_sign() {
        assert_eq!(role("a=b=glucose").unwrap(), ("a=b", "glucose"));
        assert!(role("glucose").is_err());
    }
}

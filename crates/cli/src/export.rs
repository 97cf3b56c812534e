//! `export`: everything in the book as tables and documents that others read.

use std::path::Path;

use interstice_desk::{Book, Mode, today};
use interstice_doors::{DoorError, Exported, Folder, TableFormat};
use interstice_findings::visit::VISIT_DAYS;
use interstice_findings::{DEFAULT_SEED, Span, VisitAsk, VisitFindings, visit_book};
use interstice_render::pdf::{self, PaperSize};
use interstice_render::sheet::workbook;
use interstice_render::words::Shown;
use serde_json::json;

use crate::args::{ExportArgs, ExportAs};
use crate::exit::{Answer, Exit, Failure};
use crate::import::{many, thousands};
use crate::opened::open;
use crate::output::Output;
use crate::review::asked_span;
use crate::world::World;

/// Writes the folder, and says what is in it.
pub(crate) fn export(args: &ExportArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let span = span(args)?;
    let taken = interstice_findings::taken(&book, span, DEFAULT_SEED)?;
    let sheet = sheet(args, &book, span, world)?;
    let visit_tables = visit_tables(args, &book, span, world)?;
    let mut folder = Folder::create(&args.dir)
        .map_err(|error| Failure::usage(format!("cannot write into {}: {error}", args.dir.display())))?;
    let exported = match args.r#as {
        ExportAs::Csv => interstice_doors::export(&book, &taken, TableFormat::Csv, &mut folder),
        ExportAs::Parquet => interstice_doors::export(&book, &taken, TableFormat::Parquet, &mut folder),
        ExportAs::Fhir => {
            interstice_doors::export_fhir(&book, &taken, world.now, sheet.as_deref(), &mut folder)
        }
        ExportAs::Omh => interstice_doors::export_omh(&book, &taken, &mut folder),
        ExportAs::Xlsx => interstice_doors::export_file("visit.xlsx", &visit_tables, &mut folder),
    }?;
    tell(&args.dir, &exported, out)?;
    Ok(Exit::Done)
}

/// The sheet of the window as PDF, where it was asked for.
fn sheet(
    args: &ExportArgs,
    book: &Book,
    span: Option<Span>,
    world: &World,
) -> Result<Option<Vec<u8>>, Failure> {
    if !args.sheet {
        return Ok(None);
    }
    let Some(span) = span.filter(|_| args.r#as == ExportAs::Fhir) else {
        return Err(Failure::usage(
            "--sheet goes with --as fhir and with days; say --days, or --from and --to",
        ));
    };
    let (findings, shown) = visit(book, span, world)?;
    let pdf = pdf::visit(&findings, shown, PaperSize::default()).map_err(Failure::internal)?;
    Ok(Some(pdf))
}

/// The visit's tables of the window, of the days of a visit where none is said; nothing unless they were asked for.
fn visit_tables(
    args: &ExportArgs,
    book: &Book,
    span: Option<Span>,
    world: &World,
) -> Result<Vec<u8>, Failure> {
    if args.r#as != ExportAs::Xlsx {
        return Ok(Vec::new());
    }
    let (findings, shown) = visit(book, span.unwrap_or(Span::LastDays(VISIT_DAYS)), world)?;
    workbook(&findings, shown).map_err(Failure::internal)
}

fn visit(book: &Book, span: Span, world: &World) -> Result<(VisitFindings, Shown), Failure> {
    let ask = VisitAsk {
        span,
        ..VisitAsk::made(today(book, world.now, &world.zone)?)
    };
    let findings = visit_book(book, &ask)?;
    let shown = Shown {
        unit: findings.review.unit,
    };
    Ok((findings, shown))
}

fn span(args: &ExportArgs) -> Result<Option<Span>, Failure> {
    if args.days.is_none() && args.from.is_none() && args.to.is_none() {
        return Ok(None);
    }
    asked_span(args.days, args.from.as_deref(), args.to.as_deref()).map(Some)
}

/// The files with their digests.
pub(crate) fn tell(dir: &Path, exported: &Exported, out: &mut Output) -> Result<(), Failure> {
    if out.json() {
        return out.document(&json!({
            "folder": dir.display().to_string(),
            "files": exported.files,
            "notes": exported.notes,
        }));
    }
    let mut text = String::new();
    for file in &exported.files {
        let rows = match file.rows {
            0 => String::new(),
            rows => format!("  {}", many(rows, "row", "rows")),
        };
        text.push_str(&format!(
            "{}  {:>12} B  {}{rows}\n",
            file.sha256,
            thousands(file.bytes),
            file.path
        ));
    }
    for note in &exported.notes {
        text.push_str(&format!("· {note}\n"));
    }
    text.push_str(&format!(
        "{} in {}\n",
        many(exported.files.len() as u64, "file", "files"),
        dir.display()
    ));
    out.text(&text);
    Ok(())
}

impl From<DoorError> for Failure {
    fn from(error: DoorError) -> Self {
        let exit = match &error {
            DoorError::Book(_) => Exit::Book,
            DoorError::Write { .. } | DoorError::Asked(_) => Exit::Usage,
            _ => Exit::Internal,
        };
        Failure {
            exit,
            error: error.into(),
        }
    }
}

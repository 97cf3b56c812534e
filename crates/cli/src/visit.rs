//! `visit` and `visit-set`: the sheet for the care team, and what is kept for it.

use std::path::Path;

use interstice_desk::{Mode, digest, today};
use interstice_findings::visit::VISIT_DAYS;
use interstice_findings::{Span, VisitAsk, VisitFindings, visit_book};
use interstice_glucose::{Hba1c, Second, VisitChoice, VisitNotes, day_from_words, day_words};
use interstice_render::pdf::{self, PaperSize};
use interstice_render::sheet::{self, html};
use interstice_render::text;
use interstice_render::words::Shown;
use serde_json::{Value, json};

use crate::args::{VisitArgs, VisitSetArgs};
use crate::exit::{Answer, Exit, Failure};
use crate::import::unit as unit_of;
use crate::opened::open;
use crate::output::Output;
use crate::photo::write_new;
use crate::world::{World, date};

/// Prints the sheet, or writes it into files.
pub(crate) fn visit(args: &VisitArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let made = match &args.made {
        Some(made) => day(made)?,
        None => today(&book, world.now, &world.zone)?,
    };
    let ask = VisitAsk {
        span: span(args)?,
        since: args.since.as_deref().map(day).transpose()?,
        made,
        seed: args.seed,
    };
    let findings = visit_book(&book, &ask)?;
    let shown = Shown {
        unit: args.unit.as_deref().map(unit_of).unwrap_or(findings.review.unit),
    };
    let paper = PaperSize::named(&args.paper).unwrap_or_default();
    // All are made before the first is written.
    let made: Vec<(&Path, Vec<u8>)> = args
        .out
        .iter()
        .map(|file| Ok((file.as_path(), bytes(&findings, shown, paper, file)?)))
        .collect::<Result<_, Failure>>()?;
    let mut files = Vec::new();
    for (file, bytes) in made {
        write_new(file, &bytes)?;
        files.push((file.display().to_string(), bytes.len(), digest(&bytes)));
    }
    tell(&findings, shown, &files, out)?;
    Ok(if findings.review.summary.mean_mg_dl.value.is_none() {
        Exit::NeedsYou
    } else {
        Exit::Done
    })
}

fn tell(
    findings: &VisitFindings,
    shown: Shown,
    files: &[(String, usize, String)],
    out: &mut Output,
) -> Result<(), Failure> {
    if out.json() {
        let files: Vec<Value> = files
            .iter()
            .map(|(file, bytes, sha256)| json!({ "file": file, "bytes": bytes, "sha256": sha256 }))
            .collect();
        return out.document(&json!({ "files": files, "visit": findings }));
    }
    if files.is_empty() {
        out.text(&text::visit(&sheet::sheet(findings, shown)));
        return Ok(());
    }
    for (file, bytes, sha256) in files {
        out.text(&format!("{file}: {bytes} bytes, sha256 {sha256}\n"));
    }
    out.message(
        "look through it before you hand it on: it shows your glucose, what was logged and your questions",
    );
    Ok(())
}

fn bytes(findings: &VisitFindings, shown: Shown, paper: PaperSize, file: &Path) -> Result<Vec<u8>, Failure> {
    let ending = file
        .extension()
        .map(|ending| ending.to_string_lossy().to_ascii_lowercase());
    match ending.as_deref() {
        Some("pdf") => pdf::visit(findings, shown, paper).map_err(Failure::internal),
        Some("html" | "htm") => Ok(html::page(findings, shown).into_bytes()),
        Some("xlsx") => sheet::workbook(findings, shown).map_err(Failure::internal),
        _ => Err(Failure::usage(format!(
            "{} ends neither in .pdf nor in .html nor in .xlsx; choose one of them",
            file.display()
        ))),
    }
}

fn span(args: &VisitArgs) -> Result<Span, Failure> {
    match (&args.from, &args.to) {
        (Some(from), Some(to)) => {
            let (from, to) = (date(from)?, date(to)?);
            if to < from {
                return Err(Failure::usage(format!(
                    "--to {to} lies before --from {from}; swap them"
                )));
            }
            Ok(Span::Dates { from, to })
        }
        (None, None) => Ok(Span::LastDays(args.days.unwrap_or(VISIT_DAYS))),
        _ => Err(Failure::usage("--from and --to go together; say both")),
    }
}

/// A day as it is kept.
fn day(text: &str) -> Result<i64, Failure> {
    date(text)?;
    day_from_words(text).ok_or_else(|| Failure::usage(format!("'{text}' lies before 1970")))
}

/// Writes down what is kept for visits, takes it away, and lists it.
pub(crate) fn visit_set(args: &VisitSetArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let kept = if path.exists() {
        let book = open(path, Mode::ReadOnly, out)?;
        book.visit_notes().map_err(Failure::book)?
    } else {
        VisitNotes::default()
    };
    let choices = choices(args, &kept, world.now)?;
    if let Some(trouble) = choices.iter().find_map(VisitChoice::trouble) {
        return Err(Failure::usage(trouble));
    }
    let mut changes = Vec::new();
    let kept = if choices.is_empty() {
        kept
    } else {
        let mut book = open(path, Mode::CreateIfAbsent, out)?;
        for choice in &choices {
            let change = book.set_visit_note(choice, world.now);
            changes.extend(change.map_err(Failure::refusal_or_book)?.map(|change| change.0));
        }
        book.visit_notes().map_err(Failure::book)?
    };
    list(&kept, &changes, out)
}

fn choices(args: &VisitSetArgs, kept: &VisitNotes, now: Second) -> Result<Vec<VisitChoice>, Failure> {
    let mut choices = Vec::new();
    choices.extend(args.name.clone().map(|name| VisitChoice::Name(Some(name))));
    choices.extend(args.no_name.then_some(VisitChoice::Name(None)));
    for text in &args.visit {
        choices.push(VisitChoice::Visit(day(text)?, true));
    }
    for text in &args.not_visit {
        choices.push(VisitChoice::Visit(day(text)?, false));
    }
    for &number in &args.drop_question {
        let asked = number.checked_sub(1).and_then(|place| kept.questions.get(place));
        let asked = asked.ok_or_else(|| {
            Failure::usage(format!(
                "there is no question {number}; `interstice visit-set` lists them"
            ))
        })?;
        choices.push(VisitChoice::Question(asked.written, None));
    }
    for (written, text) in (kept.free_instant(now)..).zip(&args.question) {
        choices.push(VisitChoice::Question(written, Some(text.clone())));
    }
    for text in &args.hba1c {
        let (on, value) = text
            .split_once('=')
            .ok_or_else(|| Failure::usage(format!("'{text}' is not like 2025-03-01=7.1")))?;
        let said = Hba1c::from_words(value).ok_or_else(|| {
            Failure::usage(format!(
                "'{value}' is no HbA1c; write it like 7.1 % or 54 mmol/mol"
            ))
        })?;
        choices.push(VisitChoice::Hba1c(day(on.trim())?, Some(said)));
    }
    for text in &args.no_hba1c {
        choices.push(VisitChoice::Hba1c(day(text)?, None));
    }
    Ok(choices)
}

fn list(kept: &VisitNotes, changes: &[i64], out: &mut Output) -> Answer {
    if out.json() {
        out.document(&json!({
            "name": kept.name,
            "visits": kept.visits.iter().map(|&day| day_words(day)).collect::<Vec<_>>(),
            "questions": kept.questions.iter().map(|asked| &asked.text).collect::<Vec<_>>(),
            "hba1c": kept.hba1c.iter().map(|lab| json!({ "date": day_words(lab.day), "said": lab.said.to_string() })).collect::<Vec<_>>(),
            "changes": changes,
        }))?;
        return Ok(Exit::Done);
    }
    let mut text = format!("name: {}\n", kept.name.as_deref().unwrap_or("not set"));
    let visits: Vec<String> = kept.visits.iter().map(|&day| day_words(day)).collect();
    text += &format!(
        "visits: {}\n",
        if visits.is_empty() {
            "none yet".to_owned()
        } else {
            visits.join(", ")
        }
    );
    for lab in &kept.hba1c {
        text += &format!("HbA1c {}: {}\n", day_words(lab.day), lab.said);
    }
    for (number, asked) in (1..).zip(&kept.questions) {
        text += &format!("question {number}: {}\n", asked.text);
    }
    out.text(&text);
    Ok(Exit::Done)
}

//! `books`: the books on this machine, and which one is meant.

use std::path::{Path, PathBuf};

use interstice_desk::{Book, Mode};
use interstice_glucose::{Moment, Second};
use serde_json::{Value, json};

use crate::exit::{Answer, Exit, Failure};
use crate::output::Output;
use crate::world::World;

/// What is told of a book.
struct Told {
    path: PathBuf,
    is_meant: bool,
    /// Readings from and to; `None` where it has none.
    span: Option<(Second, Second)>,
    name: Option<String>,
    /// Why it cannot be opened.
    trouble: Option<String>,
}

/// Lists them: the one that is meant first, then those beside it.
pub(crate) fn books(meant: &Path, world: &World, out: &mut Output) -> Answer {
    let mut paths = beside(meant).map_err(Failure::internal)?;
    if !paths.contains(&meant.to_path_buf()) && meant.exists() {
        paths.push(meant.to_path_buf());
    }
    paths.sort_by_key(|path| (path != meant, path.clone()));
    let all: Vec<Told> = paths.into_iter().map(|path| told(path, meant)).collect();
    if out.json() {
        let all: Vec<Value> = all.iter().map(|book| document(book, world)).collect();
        out.document(&json!({ "meant": meant.display().to_string(), "books": all }))?;
        return Ok(Exit::Done);
    }
    if !meant.exists() {
        out.text(&format!(
            "No book is begun at {} yet; bringing a file in begins it.\n",
            meant.display()
        ));
    }
    for book in &all {
        out.text(&format!("{}\n", line(book, world)));
    }
    if all.len() > 1 {
        out.text("Another one is meant with --book FILE.\n");
    }
    Ok(Exit::Done)
}

/// Files of the folder that are books. Each kind of file says what it is in its first bytes; only those are opened.
fn beside(meant: &Path) -> std::io::Result<Vec<PathBuf>> {
    let folder = meant.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.unwrap_or(Path::new("."));
    if !folder.is_dir() {
        return Ok(Vec::new());
    }
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let path = if meant.parent() == Some(Path::new("")) {
            path.strip_prefix(".")
                .map_or_else(|_| path.clone(), Path::to_path_buf)
        } else {
            path
        };
        let is_ours = path
            .extension()
            .is_some_and(|ending| ending == "interstice" || ending == "book");
        if path == meant || (is_ours && path.is_file()) {
            found.push(path);
        }
    }
    Ok(found)
}

fn told(path: PathBuf, meant: &Path) -> Told {
    let is_meant = path == meant;
    let looked =
        Book::open(&path, Mode::ReadOnly).and_then(|book| Ok((book.span()?, book.visit_notes()?.name)));
    let (span, name, trouble) = match looked {
        Ok((span, name)) => (span, name, None),
        Err(error) => (None, None, Some(error.to_string())),
    };
    Told {
        path,
        is_meant,
        span,
        name,
        trouble,
    }
}

fn line(book: &Told, world: &World) -> String {
    let mark = if book.is_meant { "*" } else { " " };
    let name = book
        .name
        .as_ref()
        .map(|name| format!(", of {name}"))
        .unwrap_or_default();
    let what = match (&book.trouble, book.span) {
        (Some(why), _) => format!("cannot be opened: {why}"),
        (None, None) => "no readings yet".to_owned(),
        (None, Some((first, last))) => format!("readings {} to {}", day(first, world), day(last, world)),
    };
    format!("{mark} {}{name}: {what}", book.path.display())
}

fn document(book: &Told, world: &World) -> Value {
    json!({
        "file": book.path.display().to_string(),
        "meant": book.is_meant,
        "name": book.name,
        "first": book.span.map(|span| day(span.0, world)),
        "last": book.span.map(|span| day(span.1, world)),
        "trouble": book.trouble,
    })
}

/// The day by the machine's zone.
fn day(at: Second, world: &World) -> String {
    let offset_s = world.zone.offset_s(at);
    let text = Moment { at, offset_s }.to_string();
    text.get(..10).unwrap_or_default().to_owned()
}

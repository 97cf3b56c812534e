//! `share`: a part of the record to hand on. Lists what would be in it; writes only when told to.

use std::collections::BTreeSet;
use std::hash::{BuildHasher, Hasher};
use std::path::Path;

use interstice_desk::Mode;
use interstice_doors::{Exported, Folder, InMemory, Part, ShareAsk, Sink, zip_archive};
use interstice_findings::{DEFAULT_SEED, Taken, reader};
use serde_json::{Value, json};

use crate::args::ShareArgs;
use crate::exit::{Answer, Exit, Failure};
use crate::import::{many, thousands};
use crate::opened::open;
use crate::output::Output;
use crate::photo::write_new;
use crate::review::asked_span;

/// Dates are moved by a number of weeks drawn between these: one year to ten.
const WEEKS: std::ops::RangeInclusive<u32> = 52..=520;
const WEEK_S: i64 = 7 * 86_400;

/// Lists, or writes.
pub(crate) fn share(args: &ShareArgs, path: &Path, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let span = asked_span(Some(args.days), None, None)?;
    let taken = interstice_findings::taken(&book, Some(span), DEFAULT_SEED)?;
    let ask = ShareAsk {
        parts: parts(&args.with)?,
        notes: args.notes,
        weeks_earlier: weeks(args, &taken)?,
        without_names: args.without_names,
    };
    let mut made = InMemory::default();
    let told = interstice_doors::share(&taken, reader(&book)?, &ask, DEFAULT_SEED, &mut made)?;
    if args.yes {
        write(&args.out, &made)?;
    }
    tell(args, &ask, &told, out)?;
    Ok(if args.yes { Exit::Done } else { Exit::NeedsYou })
}

fn parts(words: &[String]) -> Result<BTreeSet<Part>, Failure> {
    let known = Part::ALL.map(|(_, word)| word).join(", ");
    let part = |word: &String| {
        Part::named(word).ok_or_else(|| Failure::usage(format!("'{word}' is not one of: {known}")))
    };
    words.iter().map(part).collect()
}

/// Drawn anew each time unless it is said; never so many that a date would lie before 1970.
fn weeks(args: &ShareArgs, taken: &Taken) -> Result<u32, Failure> {
    let Some(asked) = &args.shift_dates else {
        return Ok(0);
    };
    let most = u32::try_from(taken.from / WEEK_S - 1).unwrap_or(0);
    let weeks = match asked {
        Some(weeks) => *weeks,
        None => {
            let drawn = std::collections::hash_map::RandomState::new()
                .build_hasher()
                .finish();
            let width = u64::from(WEEKS.end() - WEEKS.start() + 1);
            WEEKS.start() + u32::try_from(drawn % width).unwrap_or(0)
        }
    };
    if weeks > most && asked.is_some() {
        return Err(Failure::usage(format!(
            "the dates would lie before 1970; say at most {most} weeks"
        )));
    }
    Ok(weeks.min(most))
}

fn write(to: &Path, made: &InMemory) -> Result<(), Failure> {
    let unwritten =
        |error: std::io::Error| Failure::usage(format!("cannot write into {}: {error}", to.display()));
    if to
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("zip"))
    {
        return write_new(to, &zip_archive(made).map_err(unwritten)?);
    }
    let mut folder = Folder::create(to).map_err(unwritten)?;
    for (path, bytes) in &made.0 {
        folder.put(path, bytes).map_err(unwritten)?;
    }
    Ok(())
}

fn tell(args: &ShareArgs, ask: &ShareAsk, told: &Exported, out: &mut Output) -> Result<(), Failure> {
    if out.json() {
        let parts: Vec<Value> = Part::ALL
            .iter()
            .filter(|(part, _)| ask.parts.contains(part))
            .map(|(_, word)| json!(word))
            .collect();
        return out.document(&json!({
            "out": args.out.display().to_string(),
            "written": args.yes,
            "with": parts,
            "notes_included": ask.notes,
            "without_names": ask.without_names,
            "weeks_earlier": ask.weeks_earlier,
            "files": told.files,
            "notes": told.notes,
        }));
    }
    let mut text = String::new();
    for file in &told.files {
        let rows = match file.rows {
            0 => String::new(),
            rows => format!("  {}", many(rows, "row", "rows")),
        };
        text.push_str(&format!("{:>12} B  {}{rows}\n", thousands(file.bytes), file.path));
    }
    for note in &told.notes {
        text.push_str(&format!("· {note}\n"));
    }
    if ask.weeks_earlier != 0 {
        text.push_str(&format!(
            "· Dates are {} earlier than they were; this stands nowhere in the files. For the same again say \
             --shift-dates={}.\n",
            many(u64::from(ask.weeks_earlier), "week", "weeks"),
            ask.weeks_earlier
        ));
    }
    text.push_str(&if args.yes {
        format!("written to {}\n", args.out.display())
    } else {
        "nothing is written yet; look through it, then say it again with --yes\n".to_owned()
    });
    out.text(&text);
    Ok(())
}

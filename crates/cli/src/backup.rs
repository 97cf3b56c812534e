//! `backup`, `backup-set`, `restore`: the whole book in one encrypted file, and back.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use interstice_backup::{BackupError, Due, Keep, Key, Place, Plan, Schedule, Taken, Work, Written};
use interstice_desk::{Book, Mode};
use interstice_glucose::{Moment, Second, Zone};
use serde_json::{Value, json};

use crate::args::{BackupArgs, BackupSetArgs, RestoreArgs};
use crate::exit::{Answer, Exit, Failure};
use crate::import::many;
use crate::opened::open;
use crate::output::Output;
use crate::passphrase::{self, BACKUPS};
use crate::world::{World, now};

/// Between two backups where nothing else was said.
const USUAL_HOURS: u32 = 24;

/// How often it is looked whether one is due, and how long after the start that begins.
const LOOK: Duration = Duration::from_secs(60);

/// Makes backups that are due, for as long as the program runs. What goes wrong is said once and is told in Settings.
pub(crate) fn by_itself(book: PathBuf, zone: Zone) {
    std::thread::spawn(move || {
        let mut said = None;
        loop {
            std::thread::sleep(look_after());
            let failed = make_if_due(&book, &zone).err();
            if failed.is_some() && failed != said {
                let why = failed.as_deref().unwrap_or_default();
                Output::new(false).message(&format!("no backup was made: {why}"));
            }
            said = failed;
        }
    });
}

/// A test need not wait a minute.
fn look_after() -> Duration {
    let seconds = std::env::var("INTERSTICE_BACKUP_LOOK_SECONDS").ok();
    seconds
        .and_then(|text| text.parse().ok())
        .map_or(LOOK, Duration::from_secs)
}

fn make_if_due(path: &Path, zone: &Zone) -> Result<(), String> {
    let words = |error: BackupError| error.to_string();
    let place = Place::beside(path);
    // A book that has no plan gets no folder beside it.
    if place.plan().map_err(words)?.due(now()) != Due::Now {
        return Ok(());
    }
    let held = place.hold().map_err(words)?;
    // Another program may have made it meanwhile.
    if held.plan().map_err(words)?.due(now()) != Due::Now {
        return Ok(());
    }
    let book = Book::open(path, Mode::Existing).map_err(|error| error.to_string())?;
    held.run(&book, None, now(), zone).map_err(words)?;
    Ok(())
}

/// Makes one.
pub(crate) fn backup(args: &BackupArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let book = open(path, Mode::Existing, out)?;
    let held = Place::beside(path).hold().map_err(failed)?;
    let mut plan = held.plan().map_err(failed)?;
    if args.if_due && plan.due(world.now) != Due::Now {
        return not_due(&plan, world, out);
    }
    if plan.key.is_none() {
        choose(&mut plan, args.passphrase_file.as_deref(), out)?;
        held.put(&plan).map_err(failed)?;
    }
    let file = args.file.as_deref().map(absolute).transpose()?;
    let taken = held
        .run(&book, file.as_deref(), world.now, &world.zone)
        .map_err(failed)?;
    if out.json() {
        out.document(&taken_json(&taken))?;
    } else {
        out.text(&taken_words(&taken));
    }
    Ok(Exit::Done)
}

fn not_due(plan: &Plan, world: &World, out: &mut Output) -> Answer {
    let next = match plan.due(world.now) {
        Due::At(at) => Some(moment(at, &world.zone)),
        Due::Off | Due::Now => None,
    };
    if out.json() {
        out.document(&json!({ "file": null, "next": next }))?;
        return Ok(Exit::Done);
    }
    match next {
        Some(next) => out.text(&format!("nothing is due before {next}\n")),
        None => out.text(
            "no backups are made by themselves; choose a folder with `interstice backup-set --folder DIR`\n",
        ),
    }
    Ok(Exit::Done)
}

fn taken_words(taken: &Taken) -> String {
    let made = &taken.made;
    let held = if made.beside_open_book {
        "the book"
    } else {
        "the copy it was made from, for the book was being written to"
    };
    let mut text = format!(
        "{} ({} bytes)\nread back from the disk and held against {held}: the same bytes, {} and {}, the same account\n",
        made.path.display(),
        crate::import::thousands(made.size_bytes),
        many(made.check.readings, "reading", "readings"),
        many(made.check.entries, "entry", "entries"),
    );
    for path in &taken.removed {
        let _ = writeln!(text, "no longer kept: {}", path.display());
    }
    text.push_str("It opens with the passphrase alone; without that nobody can open it, you neither.\n");
    text
}

fn taken_json(taken: &Taken) -> Value {
    let made = &taken.made;
    json!({
        "file": made.path.display().to_string(),
        "size_bytes": made.size_bytes,
        "sha256": made.sha256,
        "readings": made.check.readings,
        "entries": made.check.entries,
        "originals": made.check.originals,
        "photos": made.check.photos,
        "same_findings": true,
        "beside_open_book": made.beside_open_book,
        "removed": taken.removed.iter().map(|path| path.display().to_string()).collect::<Vec<_>>(),
    })
}

/// Chooses a passphrase, or another.
fn choose(plan: &mut Plan, file: Option<&Path>, out: &mut Output) -> Result<(), Failure> {
    let chosen = match passphrase::given(BACKUPS, file)? {
        Some(given) => given,
        None => passphrase::chosen(BACKUPS, out)?,
    };
    let key = Key::make(&chosen, Work::Usual).map_err(failed)?;
    plan.key = Some(key);
    out.message(
        "Keep the passphrase where you find it when this machine is gone: it is written nowhere. Backups are locked with it from now on without asking.",
    );
    Ok(())
}

/// Chooses or lists how backups are made.
pub(crate) fn backup_set(args: &BackupSetArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    // A plan for a book that is not there would be found by nobody.
    drop(open(path, Mode::ReadOnly, out)?);
    let place = Place::beside(path);
    if changes(args) {
        let held = place.hold().map_err(failed)?;
        let mut plan = held.plan().map_err(failed)?;
        schedule(args, &mut plan)?;
        if args.new_passphrase || (plan.schedule.is_some() && plan.key.is_none()) {
            choose(&mut plan, args.passphrase_file.as_deref(), out)?;
        }
        held.put(&plan).map_err(failed)?;
    }
    let plan = place.plan().map_err(failed)?;
    if out.json() {
        out.document(&plan_json(&plan, world))?;
    } else {
        out.text(&plan_words(&plan, world));
    }
    Ok(Exit::Done)
}

fn changes(args: &BackupSetArgs) -> bool {
    args.off
        || args.new_passphrase
        || args.folder.is_some()
        || [
            args.every_hours,
            args.keep_days,
            args.keep_weeks,
            args.keep_months,
        ]
        .iter()
        .any(Option::is_some)
}

fn schedule(args: &BackupSetArgs, plan: &mut Plan) -> Result<(), Failure> {
    if args.off {
        plan.schedule = None;
        return Ok(());
    }
    let numbers = [
        args.every_hours,
        args.keep_days,
        args.keep_weeks,
        args.keep_months,
    ];
    let folder = match (&args.folder, &plan.schedule) {
        (Some(folder), _) => {
            let folder = absolute(folder)?;
            interstice_backup::make_folder(&folder).map_err(failed)?;
            folder
        }
        (None, Some(schedule)) => schedule.folder.clone(),
        (None, None) if numbers.iter().any(Option::is_some) => {
            return Err(Failure::usage("say where backups go too, with --folder DIR"));
        }
        (None, None) => return Ok(()),
    };
    let before = plan.schedule.take();
    let keep = before.as_ref().map_or_else(Keep::default, |before| before.keep);
    let hours = before.map_or(USUAL_HOURS, |before| before.every_hours);
    plan.schedule = Some(Schedule {
        folder,
        every_hours: args.every_hours.unwrap_or(hours),
        keep: Keep {
            days: args.keep_days.unwrap_or(keep.days),
            weeks: args.keep_weeks.unwrap_or(keep.weeks),
            months: args.keep_months.unwrap_or(keep.months),
        },
    });
    Ok(())
}

fn plan_words(plan: &Plan, world: &World) -> String {
    let mut text = String::new();
    match &plan.schedule {
        None => text.push_str("No backups are made by themselves (`interstice backup-set --folder DIR`).\n"),
        Some(schedule) => {
            let Schedule {
                folder,
                every_hours,
                keep,
            } = schedule;
            let _ = writeln!(
                text,
                "Every {every_hours} hours into {}, while the app is open or by a timer.\n\
                 Kept: the last of each of {} days, {} weeks and {} months.",
                folder.display(),
                keep.days,
                keep.weeks,
                keep.months
            );
            let _ = match plan.due(world.now) {
                Due::At(at) => writeln!(text, "The next one: {}", moment(at, &world.zone)),
                Due::Now | Due::Off => writeln!(text, "The next one is due now."),
            };
        }
    }
    if plan.key.is_none() {
        text.push_str("No passphrase was chosen yet.\n");
    }
    match &plan.last {
        None => text.push_str("The last backup: never\n"),
        Some(last) => {
            let at = moment(last.at, &world.zone);
            let _ = writeln!(text, "The last backup: {at}, {}", last.path.display());
        }
    }
    if let Some(trouble) = &plan.trouble {
        let at = moment(trouble.at, &world.zone);
        let _ = writeln!(text, "The last try, {at}, failed: {}", trouble.why);
    }
    for written in &plan.written {
        let _ = writeln!(text, "  {}", written.path.display());
    }
    text
}

fn plan_json(plan: &Plan, world: &World) -> Value {
    let written = |written: &Written| {
        json!({
            "file": written.path.display().to_string(),
            "at": moment(written.at, &world.zone),
            "size_bytes": written.size_bytes,
            "sha256": written.sha256,
        })
    };
    let schedule = plan.schedule.as_ref().map(|schedule| {
        json!({
            "folder": schedule.folder.display().to_string(),
            "every_hours": schedule.every_hours,
            "keep_days": schedule.keep.days,
            "keep_weeks": schedule.keep.weeks,
            "keep_months": schedule.keep.months,
        })
    });
    let next = match plan.due(world.now) {
        Due::At(at) => Some(moment(at, &world.zone)),
        Due::Now => Some(moment(world.now, &world.zone)),
        Due::Off => None,
    };
    json!({
        "schedule": schedule,
        "has_passphrase": plan.key.is_some(),
        "next": next,
        "last": plan.last.as_ref().map(written),
        "trouble": plan.trouble.as_ref().map(|trouble| json!({ "at": moment(trouble.at, &world.zone), "why": trouble.why })),
        "kept": plan.written.iter().map(written).collect::<Vec<_>>(),
    })
}

/// Brings a book back.
pub(crate) fn restore(args: &RestoreArgs, path: &Path, out: &mut Output) -> Answer {
    if !args.only_try && std::fs::symlink_metadata(path).is_ok() {
        return Err(Failure::usage(format!(
            "there is a file at {} already; name a new one with --book, or move that one away first",
            path.display()
        )));
    }
    let passphrase = passphrase::known(BACKUPS, args.passphrase_file.as_deref())?;
    let restored = if args.only_try {
        let mut beside = path.as_os_str().to_owned();
        beside.push(".try");
        interstice_backup::try_restore(&args.file, Path::new(&beside), &passphrase)
    } else {
        interstice_backup::restore(&args.file, path, &passphrase)
    };
    let restored = restored.map_err(failed)?;
    let check = &restored.check;
    if out.json() {
        out.document(&json!({
            "book": (!args.only_try).then(|| path.display().to_string()),
            "brought_forward_from": restored.brought_forward_from,
            "readings": check.readings,
            "entries": check.entries,
            "originals": check.originals,
            "photos": check.photos,
        }))?;
        return Ok(Exit::Done);
    }
    let place = if args.only_try {
        "it can be brought back; nothing was written".to_owned()
    } else {
        format!("the book is at {}", path.display())
    };
    let mut text = format!(
        "{place}: {}, {}, {}; it is whole\n",
        many(check.readings, "reading", "readings"),
        many(check.entries, "entry", "entries"),
        many(check.originals, "kept file", "kept files")
    );
    if let Some(layout) = restored.brought_forward_from {
        let _ = writeln!(
            text,
            "it was of an earlier version (layout {layout}) and was brought forward"
        );
    }
    if !args.only_try {
        text.push_str(
            "Where its backups go is not part of it: choose that again with `interstice backup-set`.\n",
        );
    }
    out.text(&text);
    Ok(Exit::Done)
}

/// Backups are made from wherever the program is started next.
fn absolute(path: &Path) -> Result<PathBuf, Failure> {
    std::path::absolute(path).map_err(Failure::internal)
}

fn moment(at: Second, zone: &Zone) -> String {
    let offset_s = zone.offset_s(at);
    Moment { at, offset_s }.to_string()
}

/// Exit codes as elsewhere: the request, the file that cannot be read, the book.
fn failed(error: BackupError) -> Failure {
    let exit = match &error {
        BackupError::Book(refused) if refused.is_refusal() => Exit::Usage,
        BackupError::Request(_) | BackupError::Passphrase { .. } => Exit::Usage,
        BackupError::Foreign { .. } | BackupError::Newer { .. } | BackupError::Damaged { .. } => Exit::Input,
        BackupError::Book(_) | BackupError::File { .. } => Exit::Book,
        _ => Exit::Internal,
    };
    Failure {
        exit,
        error: error.into(),
    }
}

//! `demo`: the invented scenario, from its three ugly files to the open page, by the same road as any export.

use std::path::{Path, PathBuf};

use interstice_demo::{AfterTruth, EarlierTruth, Scenario, TagTruth};
use interstice_desk::{
    Book, CAUTIONS_READ, DeskError, Entry, FileStatus, ImportRequest, Mode, Place, Setting, import_path,
    log_together,
};
use interstice_findings::{Ask, Span};
use interstice_glucose::{DAY_S, Hba1c, Moment, Region, Second, SensorKind, VisitChoice, WearFrom, Zone};
use interstice_web::Outside;

use crate::args::DemoArgs;
use crate::exit::{Answer, Failure};
use crate::opened::open;
use crate::output::Output;
use crate::serve::serve_as_of;
use crate::world::{World, now};

/// Days of the account the demo prints: enough for lows (review, Diabetes Technol Ther 2024, dia.2023.0476).
const ACCOUNT_DAYS: u32 = 28;
/// The invented engineer's last visit was so many days before the last reading.
const DAYS_SINCE_VISIT: i64 = 90;
/// The demo's clock stands so long after its last reading.
const AFTER_LAST_S: Second = 120;

/// Builds, imports, prints, serves.
pub(crate) fn demo(args: &DemoArgs, book: Option<PathBuf>, world: &World, out: &mut Output) -> Answer {
    let scenario = Scenario::build(args.seed.unwrap_or(interstice_demo::DEFAULT_SEED));
    let folder = folder(scenario.seed)?;
    let files = scenario.write(&folder).map_err(Failure::internal)?;
    let book = book.unwrap_or_else(|| folder.join("invented.interstice"));
    out.message(&format!(
        "{}\nFiles, truth and book: {}\n",
        scenario.story,
        folder.display()
    ));
    bring_in(&scenario, &files, &book, world, out)?;
    describe(&scenario, &book, world, out)?;
    account(&book, out)?;
    let outside = Outside {
        stands_at: ends(&book)?,
        ..Outside::new(world.zone.clone(), now)
    };
    if let Some(at) = outside.stands_at {
        out.message(&format!(
            "The invented recording ends on {}; the pages are shown as of then. For the same on the command line, give --at.\n",
            Zone::named(scenario.zone).map_or_else(|_| at.to_string(), |zone| Moment { at, offset_s: zone.offset_s(at) }.to_string())
        ));
    }
    serve_as_of(&book, args.port, !args.no_open, outside, out)
}

/// The invented recording for the app to show beside a book: built as the demo is, in its folder, unless it is there already.
pub(crate) fn invent() -> Result<(PathBuf, Outside), String> {
    made().map_err(|failure| failure.error.to_string())
}

fn made() -> Result<(PathBuf, Outside), Failure> {
    let world = World::look();
    let scenario = Scenario::build(interstice_demo::DEFAULT_SEED);
    let folder = folder(scenario.seed)?;
    let book = folder.join("beside.interstice");
    if !book.exists() {
        // Made under another name first, so that one left half made is never shown.
        let half = folder.join("beside.half");
        let _ = std::fs::remove_file(&half);
        let files = scenario.write(&folder).map_err(Failure::internal)?;
        let quiet = &mut Output::quiet();
        bring_in(&scenario, &files, &half, &world, quiet)?;
        describe(&scenario, &half, &world, quiet)?;
        std::fs::rename(&half, &book).map_err(Failure::internal)?;
    }
    let outside = Outside {
        stands_at: ends(&book)?,
        ..Outside::new(world.zone.clone(), now)
    };
    Ok((book, outside))
}

/// Just after the last reading.
fn ends(book: &Path) -> Result<Option<Second>, Failure> {
    let book = Book::open(book, Mode::ReadOnly).map_err(Failure::book)?;
    let span = book.span().map_err(Failure::book)?;
    Ok(span.map(|(_, last)| last + AFTER_LAST_S))
}

/// A folder of the demo's own in this account's cache, or among temporary files.
fn folder(seed: u64) -> Result<PathBuf, Failure> {
    let cache = directories::ProjectDirs::from("", "", "interstice").map(|dirs| dirs.cache_dir().to_owned());
    let folder = cache
        .unwrap_or_else(|| std::env::temp_dir().join("interstice"))
        .join(format!("demo-{seed}"));
    std::fs::create_dir_all(&folder).map_err(Failure::internal)?;
    Ok(folder)
}

/// The kind of sensor the invented engineer wears, as invented instructions have it, and what lies in the drawer.
fn describe(scenario: &Scenario, book: &Path, world: &World, out: &mut Output) -> Result<(), Failure> {
    let kind = SensorKind {
        name: "invented fortnight sensor".to_owned(),
        wear_min: 14 * 1440,
        extra_min: 12 * 60,
        warm_up_min: 60,
        longest_bedding_min: 48 * 60,
        wear_from: WearFrom::Started,
        side_by_side: true,
        sites: vec![Region::UpperArm, Region::Abdomen],
    };
    let mut book = open(book, Mode::Existing, out)?;
    book.set_sensor_kind(&kind, world.now)
        .map_err(Failure::refusal_or_book)?;
    // A demo begun again in the same book has its drawer already.
    if book.stock().map_err(Failure::book)?.lots.is_empty() {
        for lot in &scenario.truth.drawer {
            book.add_lot(&lot.written(), world.now)
                .map_err(Failure::refusal_or_book)?;
        }
    }
    let truth = &scenario.truth;
    let before = truth.before.iter().flat_map(EarlierTruth::written);
    let after = truth.after.iter().map(AfterTruth::written);
    let tags = truth.tags.iter().map(TagTruth::written).map(Entry::Mark);
    for written in [before.chain(after).map(Entry::Sensor).collect(), tags.collect()] {
        let written: Vec<Entry> = written;
        match log_together(&mut book, &written, world.now) {
            // A demo begun again in the same book has them already.
            Ok(_) | Err(DeskError::Request(_)) => {}
            Err(error) => return Err(error.into()),
        }
    }
    book.set_delivery_days(interstice_demo::DELIVERY_DAYS, world.now)
        .map_err(Failure::refusal_or_book)?;
    keep_for_visit(&mut book, world)
}

/// What the invented engineer keeps for the next visit: all of it invented, the HbA1c too.
fn keep_for_visit(book: &mut Book, world: &World) -> Result<(), Failure> {
    let Some((_, last)) = book.span().map_err(Failure::book)? else {
        return Ok(());
    };
    let day = last / DAY_S;
    let lab = |before: i64, said: &str| VisitChoice::Hba1c(day - before, Hba1c::from_words(said));
    let asked = |place: i64, text: &str| VisitChoice::Question(last + place, Some(text.to_owned()));
    let kept = [
        VisitChoice::Name(Some("The invented ship's engineer".to_owned())),
        VisitChoice::Visit(day - DAYS_SINCE_VISIT, true),
        lab(DAYS_SINCE_VISIT + 5, "7.4 %"),
        lab(6, "7.1 %"),
        asked(0, "Why am I low so often before dinner on watch?"),
        asked(1, "How do I tell a low in bed from lying on the sensor?"),
    ];
    for choice in &kept {
        book.set_visit_note(choice, world.now)
            .map_err(Failure::refusal_or_book)?;
    }
    // So that the pages look as they do every day, not as on the first.
    let read = Setting::Other(CAUTIONS_READ.to_owned(), Some("invented".to_owned()));
    book.set(read, world.now).map_err(Failure::refusal_or_book)?;
    Ok(())
}

fn bring_in(
    scenario: &Scenario,
    files: &[PathBuf],
    book: &Path,
    world: &World,
    out: &mut Output,
) -> Result<(), Failure> {
    let zone = Zone::named(scenario.zone).map_err(Failure::internal)?;
    let request = ImportRequest {
        zone: Some(zone),
        ..ImportRequest::default()
    };
    let place = Place {
        now: world.now,
        machine_zone: world.zone.clone(),
    };
    let mut book = Book::open(book, Mode::CreateIfAbsent).map_err(Failure::book)?;
    for file in files {
        let report = import_path(&mut book, file, &request, &place, &mut ())?;
        out.message(&crate::import::in_words(&report, false));
        if report.status != FileStatus::Imported {
            return Err(Failure::internal(anyhow::anyhow!(
                "the demo's own file {} was not understood; this is a fault of ours",
                report.file
            )));
        }
    }
    Ok(())
}

fn account(book: &Path, out: &mut Output) -> Result<(), Failure> {
    let book = Book::open(book, Mode::ReadOnly).map_err(Failure::book)?;
    let ask = Ask {
        span: Span::LastDays(ACCOUNT_DAYS),
        ..Ask::default()
    };
    let findings = interstice_findings::review_book(&book, &ask)?;
    out.message(&interstice_render::text::review(&findings, findings.unit));
    Ok(())
}

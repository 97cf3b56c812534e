//! Invented recordings, written down in hundreds of random layouts and read back: each comes back equal in its
//! instants, in its values as they were said, in kind and in number. Where a layout leaves two readings possible, a
//! question comes back, and its answer gives equality. A silent difference is a failure.
//!
//! The layouts are drawn from fixed seeds. `INTERSTICE_LAYOUTS=5000` draws more of them, `INTERSTICE_LAYOUT=17` only
//! the one of that seed, with its file left in the folder for temporary files.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

#[path = "../common/mod.rs"]
mod common;
mod layout;
mod recording;
mod words;
mod write;

use interstice_glucose::{Delivery, Draft, MarkKind, Second, TraceKind};
use interstice_intake::{DateOrder, Hints, Outcome, Question, ReadFile, Role, ZoneSource, read_bytes};

use common::dice::Dice;
use layout::{DateStyle, Layout, Shape, UnitPlace};
use recording::{Recording, What, Wish, is_twice, rank};
use words::LANGUAGES;
use write::{Written, write};

/// Layouts drawn where nothing else is asked for.
const CASES: u64 = 240;
/// First seed.
const SEED: u64 = 0;
/// Failures told in full.
const TOLD: usize = 12;

#[test]
fn every_layout_comes_back_equal_or_asks() {
    let number = |name: &str| std::env::var(name).ok().and_then(|text| text.parse::<u64>().ok());
    let seeds = match number("INTERSTICE_LAYOUT") {
        Some(seed) => seed..seed + 1,
        None => SEED..SEED + number("INTERSTICE_LAYOUTS").unwrap_or(CASES),
    };
    let (mut failures, mut asked, total) = (Vec::new(), 0u64, seeds.end - seeds.start);
    for seed in seeds {
        match case(seed) {
            Ok(questions) => asked += u64::from(questions > 0),
            Err(failure) => failures.push(failure),
        }
    }
    eprintln!(
        "{total} layouts, {asked} of them asked first, {} failed",
        failures.len()
    );
    for failure in &failures {
        eprintln!("{}", failure.lines().next().unwrap_or_default());
    }
    let told: Vec<String> = failures.iter().take(TOLD).cloned().collect();
    assert!(
        failures.is_empty(),
        "{} of {total} layouts failed:\n\n{}",
        failures.len(),
        told.join("\n\n")
    );
}

/// One layout; how many questions it raised, or what went wrong.
fn case(seed: u64) -> Result<usize, String> {
    let mut dice = Dice::new(seed);
    let layout = Layout::draw(&mut dice);
    let wish = Wish {
        mixed: layout.shape != Shape::GlucoseOnly,
        whole_minutes: layout.whole_minutes(),
    };
    let recording = Recording::invent(&mut dice, wish, LANGUAGES[layout.language].remarks);
    let written = write(&recording, &layout);
    if std::env::var_os("INTERSTICE_LAYOUT").is_some() {
        std::fs::write(
            std::env::temp_dir().join(format!("layout-{seed}-{}", written.name)),
            &written.bytes,
        )
        .unwrap();
    }
    round_trip(&recording, &layout, &written).map_err(|why| {
        format!(
            "seed {seed}, {} ({}): {why}\n  {layout:?}",
            recording.zone.name(),
            LANGUAGES[layout.language].name
        )
    })
}

fn round_trip(recording: &Recording, layout: &Layout, written: &Written) -> Result<usize, String> {
    let mut hints = common::hints("UTC");
    hints.zone = (recording.zone.clone(), ZoneSource::Asked);
    for asked in 0..4 {
        let outcome = read_bytes(&written.name, &written.bytes, &hints, &mut ())
            .map_err(|e| format!("refused: {e}"))?;
        match outcome {
            Outcome::Question { questions, .. } => {
                for question in &questions {
                    answer(&mut hints, question, recording, layout)?;
                }
            }
            Outcome::Read(file) => {
                return compare(recording, written, &file)
                    .map(|()| asked)
                    .map_err(|why| format!("{why}\n{}", common::understood(&file)));
            }
        }
    }
    Err("it keeps asking".to_owned())
}

/// Answers what may be asked; a question that the layout leaves no room for is a failure too.
fn answer(
    hints: &mut Hints,
    question: &Question,
    recording: &Recording,
    layout: &Layout,
) -> Result<(), String> {
    let flag = &question.answers.first().ok_or("a question without answers")?.0;
    if flag.starts_with("--dates") && hints.dates.is_none() && dates_are_open(recording, layout) {
        hints.dates = Some(if matches!(layout.date, DateStyle::MonthFirst(_)) {
            DateOrder::MonthFirst
        } else {
            DateOrder::DayFirst
        });
        Ok(())
    } else if flag.starts_with("--unit")
        && hints.unit.is_none()
        && layout.unit_place == UnitPlace::WrongHeading
    {
        hints.unit = Some(recording.unit);
        Ok(())
    } else if flag.starts_with("--as") && hints.roles.is_empty() && !layout.headed {
        // Without headings, numbers that do not run smoothly could be anything.
        let column = if layout.split && !layout.under { "3" } else { "2" };
        hints.roles = vec![(column.to_owned(), Role::Glucose)];
        Ok(())
    } else {
        Err(format!("a needless question: {}", question.ask))
    }
}

/// Whether each date of the file could be read in another order too.
fn dates_are_open(recording: &Recording, layout: &Layout) -> bool {
    if !matches!(layout.date, DateStyle::DayFirst(_) | DateStyle::MonthFirst(_)) {
        return false;
    }
    let walls = recording.entries.iter().map(|(at, _)| {
        interstice_glucose::WallTime(at + i64::from(recording.zone.offset_s(*at)))
            .civil()
            .unwrap()
    });
    let (mut swapped, mut year_first) = (true, layout.short_year);
    for wall in walls {
        swapped &= wall.day() <= 12;
        let (first, second) = match layout.date {
            DateStyle::MonthFirst(_) => (wall.month(), wall.day()),
            _ => (wall.day(), wall.month()),
        };
        let as_year_first =
            jiff::civil::Date::new(2000 + i16::from(first), second, (wall.year() % 100) as i8);
        year_first &= as_year_first.is_ok();
    }
    swapped || year_first
}

/// Every entry of a draft, in the words of the recording; an entry that no recording has is told.
fn entries(draft: &Draft) -> Result<Vec<(Second, What)>, String> {
    let mut out = Vec::new();
    for trace in &draft.traces {
        for (&at, &level) in trace.readings.at().iter().zip(trace.readings.level()) {
            let said = draft.levels.get(level).said;
            out.push((
                Second::from(at),
                match trace.kind {
                    TraceKind::Automatic => What::Automatic(said),
                    TraceKind::Scan => What::Scan(said),
                },
            ));
        }
    }
    out.extend(draft.blood_checks.iter().map(|b| (b.at, What::Blood(b.said))));
    for dose in &draft.doses {
        if dose.delivery != Delivery::AtOnce || dose.note.is_some() {
            return Err(format!("a dose that nobody wrote: {dose:?}"));
        }
        out.push((
            dose.at,
            What::Dose(dose.insulin, (dose.units * 10.0).round() as i64),
        ));
    }
    for meal in &draft.meals {
        match (meal.carbohydrate_g, &meal.text) {
            (Some(grams), None) => out.push((meal.at, What::Carbohydrate(grams.round() as i64))),
            _ => return Err(format!("a meal that nobody wrote: {meal:?}")),
        }
    }
    for mark in &draft.marks {
        let words = LANGUAGES
            .iter()
            .flat_map(|l| l.remarks)
            .find(|r| mark.text.as_deref() == Some(**r));
        match (mark.kind, words) {
            (MarkKind::Note, Some(words)) => out.push((mark.at, What::Note(words))),
            _ => return Err(format!("a mark that nobody wrote: {mark:?}")),
        }
    }
    if let Some(note) = draft.sensor_notes.first() {
        return Err(format!("a sensor's moment that nobody wrote: {note:?}"));
    }
    out.sort_by_key(|(at, what)| (*at, rank(what)));
    Ok(out)
}

fn compare(recording: &Recording, written: &Written, file: &ReadFile) -> Result<(), String> {
    if let Some(rejected) = file.draft.rejected.first() {
        return Err(format!(
            "{} rows rejected, first {rejected:?}",
            file.draft.rejected_count()
        ));
    }
    let got = entries(&file.draft)?;
    // What stood in the hour that came twice may have been lived in either pass; then that is said.
    if recording.entries != got
        && file
            .understanding
            .notes
            .iter()
            .any(|note| note.contains("nothing tells"))
    {
        let zone = &recording.zone;
        let walls = |entries: &[(Second, What)]| {
            let mut walls: Vec<String> = entries
                .iter()
                .map(|(at, what)| format!("{} {what:?}", at + i64::from(zone.offset_s(*at))))
                .collect();
            walls.sort();
            walls
        };
        let moved = recording.entries.iter().filter(|entry| !got.contains(entry));
        let others = moved.clone().find(|(at, _)| !is_twice(zone, *at));
        return match others {
            Some(entry) => Err(format!("{entry:?} was moved")),
            None if walls(&recording.entries) != walls(&got) => {
                Err("the wall clock of entries changed".to_owned())
            }
            None => Ok(()),
        };
    }
    if let Some((want, got)) = recording.entries.iter().zip(&got).find(|(want, got)| want != got) {
        return Err(format!("{want:?} came back as {got:?}"));
    }
    if got.len() != recording.entries.len() {
        return Err(format!(
            "{} entries came back of {}",
            got.len(),
            recording.entries.len()
        ));
    }
    if file.rows_read != written.rows {
        return Err(format!("{} rows were read of {}", file.rows_read, written.rows));
    }
    Ok(())
}

//! What a book is and holds beside the record, and its settings.

use std::path::Path;

use interstice_backup::{AtStake, BackupError, Due, Place, Plan, Reminder};
use interstice_desk::{Book, CAUTIONS_READ, LANGUAGE, Setting, language};
use interstice_findings::states::{KnownBy, KnownState};
use interstice_findings::{FindingsError, Shelf, TargetGroup};
use interstice_glucose::{Moment, Second, Unit, Zone};

use crate::{AboutBook, AwayLine, Backups, Settings, Trouble};

/// Those of a book, the usual ones where there is none.
pub(super) fn settings(book: Option<&Book>, machine_zone: &Zone) -> Result<Settings, Trouble> {
    let kept = book.map(Book::settings).transpose()?.unwrap_or_default();
    let language = language(&kept);
    let zone = kept.base_zone.unwrap_or_else(|| machine_zone.clone());
    Ok(Settings {
        language,
        unit: kept.unit.unwrap_or(Unit::MgPerDl),
        targets: kept
            .target_group
            .as_deref()
            .and_then(TargetGroup::named)
            .unwrap_or_default(),
        zone: zone.name().to_owned(),
        insulin: kept.insulin_lasts,
        night: kept.night,
        cautions_read: kept.other.contains_key(CAUTIONS_READ),
    })
}

/// Writes those that differ.
pub(super) fn change(book: &mut Book, settings: &Settings, now: Second) -> Result<(), Trouble> {
    let zone = Zone::named(&settings.zone).map_err(|error| Trouble::Request(error.to_string()))?;
    let read_at = Moment {
        at: now,
        offset_s: zone.offset_s(now),
    };
    let before = book.settings()?;
    let read_before = before.other.get(CAUTIONS_READ).cloned();
    let read = read_before.unwrap_or_else(|| read_at.to_string());
    let read = settings.cautions_read.then_some(read);
    let spoken = settings.language != language(&before);
    let spoken =
        spoken.then(|| Setting::Other(LANGUAGE.to_owned(), Some(settings.language.code().to_owned())));
    for setting in [
        Setting::Unit(Some(settings.unit)),
        Setting::TargetGroup(Some(settings.targets.text())),
        Setting::BaseZone(Some(zone)),
        Setting::RapidLasts(settings.insulin.rapid_min),
        Setting::ShortLasts(settings.insulin.short_min),
        Setting::Night(settings.night),
        Setting::Other(CAUTIONS_READ.to_owned(), read),
    ]
    .into_iter()
    .chain(spoken)
    {
        book.set(setting, now)?;
    }
    Ok(())
}

/// Of the book at a path, where it is there.
pub(super) fn book(
    path: &Path,
    book: Option<&Book>,
    shelf: &Shelf,
    now: Second,
) -> Result<AboutBook, Trouble> {
    let mut about = AboutBook {
        path: path.display().to_string(),
        ..AboutBook::default()
    };
    let Some(book) = book else {
        return Ok(about);
    };
    about.bytes = std::fs::metadata(path).ok().map(|found| found.len());
    about.layouts = book.recipes()?.len();
    about.imports = book.imports()?.len();
    about.away = away(shelf, &book.settings()?)?;
    about.tags = own_tags(shelf.states())?;
    let zone = book.settings()?.base_zone.unwrap_or_else(Zone::utc);
    about.backups = backups(&plan(path)?, &zone, now);
    Ok(about)
}

/// Whether there is something to say of backups. A plan that cannot be read is told in Settings, not on every page.
pub(super) fn backup_reminder(
    path: &Path,
    book: Option<&Book>,
    now: Second,
) -> Result<Option<Reminder>, Trouble> {
    let (Some(book), Ok(plan)) = (book, Place::beside(path).plan()) else {
        return Ok(None);
    };
    let stake = AtStake::of(book).map_err(failed)?;
    Ok(plan.reminder(&stake, now))
}

fn plan(path: &Path) -> Result<Plan, Trouble> {
    Place::beside(path).plan().map_err(failed)
}

fn failed(error: BackupError) -> Trouble {
    match error {
        BackupError::Book(error) => error.into(),
        other => Trouble::Internal(other.to_string()),
    }
}

fn backups(plan: &Plan, zone: &Zone, now: Second) -> Backups {
    let moment = |at: Second| Moment {
        at,
        offset_s: zone.offset_s(at),
    };
    Backups {
        last: plan
            .last
            .as_ref()
            .map(|last| (moment(last.at), last.path.display().to_string())),
        by_itself: plan
            .schedule
            .as_ref()
            .map(|schedule| (schedule.folder.display().to_string(), schedule.every_hours)),
        next: match plan.due(now) {
            Due::Off => None,
            Due::Now => Some(moment(now)),
            Due::At(at) => Some(moment(at)),
        },
        trouble: plan
            .trouble
            .as_ref()
            .map(|trouble| (moment(trouble.at), trouble.why.clone())),
    }
}

/// Files tell of stretches by the clock at home too; those are not away.
fn away(shelf: &Shelf, settings: &interstice_desk::Settings) -> Result<Vec<AwayLine>, Trouble> {
    let (record, _) = shelf.record()?;
    let home = settings.base_zone.as_ref().map(Zone::name);
    let away = record
        .lived
        .iter()
        .filter(|kept| Some(kept.it.zone.name()) != home);
    let lines = away.map(|kept| {
        let there = |at: Second| Moment {
            at,
            offset_s: kept.it.zone.offset_s(at),
        };
        AwayLine {
            entry: kept.entry,
            span: (there(kept.it.from), there(kept.it.to)),
            zone: kept.it.zone.name().to_owned(),
            by_hand: kept.by_hand,
        }
    });
    Ok(lines.collect())
}

/// The wearer's own tags; none of a book without readings.
fn own_tags(states: Result<Vec<KnownState>, FindingsError>) -> Result<Vec<(String, usize)>, Trouble> {
    match states {
        Ok(states) => Ok(states
            .into_iter()
            .filter(|state| state.known_by == KnownBy::Tag)
            .map(|state| (state.name, state.days))
            .collect()),
        Err(FindingsError::Empty) => Ok(Vec::new()),
        Err(error) => Err(error.into()),
    }
}

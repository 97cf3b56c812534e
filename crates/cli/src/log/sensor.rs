//! A moment in a sensor's life from what was typed.

use std::io::Read;
use std::path::Path;

use interstice_glucose::{
    Comfort, Ending, Removal, Second, SensorDetail, SensorNote, SensorNoteKind, Side, SkinAfter,
};

use crate::args::{BodySide, HowEnded, HowTakenOff, SensorArgs, SensorWhat, Skin};
use crate::exit::{Exit, Failure};

pub(super) fn note(args: &SensorArgs, at: Second, note: Option<String>) -> Result<SensorNote, Failure> {
    let kind = match args.what {
        SensorWhat::PutOn => SensorNoteKind::PutOn,
        SensorWhat::Started => SensorNoteKind::Started,
        SensorWhat::Ended => SensorNoteKind::Ended,
        SensorWhat::Noted => SensorNoteKind::Noted,
    };
    of_its_time(args)?;
    let place: Vec<String> = args
        .side
        .map(|side| side_of(side).name().to_owned())
        .into_iter()
        .chain(args.site.clone())
        .collect();
    let place = Some(place.join(" ")).filter(|place| !place.is_empty());
    let site: Vec<String> = place.into_iter().chain(args.spot.clone()).collect();
    Ok(SensorNote {
        at,
        kind,
        sensor: args.name.clone(),
        site: Some(site.join(", ")).filter(|site| !site.is_empty()),
        note,
        detail: detail(args),
    })
}

/// A photo's name and bytes. No more is read than may be kept, so that a wrong file is refused soon.
pub(super) fn photo(file: &Path) -> Result<(String, Vec<u8>), Failure> {
    let unread = |error: std::io::Error| Failure {
        exit: Exit::Input,
        error: anyhow::Error::msg(format!("the photo {} could not be read: {error}", file.display())),
    };
    let mut bytes = Vec::new();
    let most = interstice_desk::LARGEST_PHOTO as u64 + 1;
    let opened = std::fs::File::open(file).map_err(unread)?;
    opened.take(most).read_to_end(&mut bytes).map_err(unread)?;
    if bytes.len() as u64 == most {
        return Err(Failure::usage(format!(
            "the photo {} is larger than 8 MB; save it smaller and bring it again",
            file.display()
        )));
    }
    let name = file
        .file_name()
        .map_or_else(|| "photo".to_owned(), |name| name.to_string_lossy().into_owned());
    Ok((name, bytes))
}

/// Refuses what can be said only of a sensor that has ended.
fn of_its_time(args: &SensorArgs) -> Result<(), Failure> {
    if args.how.is_some() && args.what != SensorWhat::Ended {
        return Err(Failure::usage(
            "--how says how a sensor ended; use it with 'log sensor ended'",
        ));
    }
    let afterwards =
        args.removal.is_some() || args.comfort.is_some() || args.skin.is_some() || args.skin_days.is_some();
    if afterwards && !matches!(args.what, SensorWhat::Ended | SensorWhat::Noted) {
        return Err(Failure::usage(
            "--removal, --comfort, --skin and --skin-days tell what came after a sensor's end; use them with 'log sensor ended' or, later, 'log sensor noted'",
        ));
    }
    Ok(())
}

fn detail(args: &SensorArgs) -> SensorDetail {
    SensorDetail {
        preparation: args.prep.clone(),
        cover: args.cover.clone(),
        lot: args.lot.clone(),
        serial: args.serial.clone(),
        ending: args.how.map(ending),
        removal: args.removal.map(|removal| match removal {
            HowTakenOff::Dry => Removal::Dry,
            HowTakenOff::Oil => Removal::Oil,
            HowTakenOff::Remover => Removal::Remover,
        }),
        comfort: args.comfort.and_then(Comfort::new),
        skin: args.skin.map(|skin| match skin {
            Skin::Clear => SkinAfter::Clear,
            Skin::Irritant => SkinAfter::Irritant,
            Skin::Allergic => SkinAfter::Allergic,
            Skin::Mechanical => SkinAfter::Mechanical,
            Skin::Infection => SkinAfter::Infection,
            Skin::LumpOrScar => SkinAfter::LumpOrScar,
        }),
        skin_days: args.skin_days,
        slept: args.slept.map(side_of),
    }
}

fn side_of(side: BodySide) -> Side {
    match side {
        BodySide::Left => Side::Left,
        BodySide::Right => Side::Right,
    }
}

fn ending(how: HowEnded) -> Ending {
    match how {
        HowEnded::Planned => Ending::Planned,
        HowEnded::TakenOff => Ending::TakenOff,
        HowEnded::PainOrSkin => Ending::PainOrSkin,
        HowEnded::CameOff => Ending::CameOff,
        HowEnded::KnockedOff => Ending::KnockedOff,
        HowEnded::AdhesiveGaveWay => Ending::AdhesiveGaveWay,
        HowEnded::Failed => Ending::Failed,
        HowEnded::SignalLost => Ending::SignalLost,
        HowEnded::FailedReadings => Ending::FailedReadings,
        HowEnded::Other => Ending::Other,
    }
}

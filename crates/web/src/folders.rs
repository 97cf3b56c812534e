//! The feeds of a household as the app and the command line ask for them, and the folders that are looked into.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use interstice_desk::{Feed, FileState, Seen};
use interstice_findings::feeds::{ComesAsk, FeedAsk, FileLine, FolderAsk, RadioAsk};
use interstice_home::{Clock, Comes, Household, Source};
use interstice_render::words;

use crate::{Backend, Trouble};

/// Between two looks: a file is read by the second that finds it unchanged.
pub(crate) const BETWEEN_LOOKS: Duration = Duration::from_secs(3);

/// What may be asked of every feed of a household.
///
/// # Errors
/// When the folder beside the book cannot be read.
pub fn feeds_of(household: &Household) -> Result<Vec<FeedAsk>, Trouble> {
    let sources = household.sources()?;
    sources
        .iter()
        .map(|source| {
            let comes = match &source.comes {
                Comes::Sent { .. } => ComesAsk::Sent,
                Comes::Watched { folder } => ComesAsk::Folder(folder_of(household, source, folder)?),
                Comes::Heard { address } => ComesAsk::Radio(radio_of(household, source, address)?),
            };
            Ok(FeedAsk {
                number: source.id,
                name: source.name.clone(),
                key: source.key(),
                comes,
            })
        })
        .collect()
}

fn radio_of(household: &Household, source: &Source, address: &str) -> Result<RadioAsk, Trouble> {
    let heard = household.heard(source.id)?;
    let note = heard.session.and_then(|session| match session.clock {
        Clock::Agrees => None,
        Clock::Differs(ahead) => Some(words::clock_differs(ahead)),
        Clock::Unknown => Some(words::CLOCK_UNKNOWN.to_owned()),
    });
    Ok(RadioAsk {
        address: address.to_owned(),
        trouble: heard.trouble,
        note,
    })
}

fn folder_of(household: &Household, source: &Source, folder: &str) -> Result<FolderAsk, Trouble> {
    let seen = seen(household, source)?;
    let mut asked = FolderAsk {
        path: folder.to_owned(),
        trouble: seen.trouble,
        ..FolderAsk::default()
    };
    for (file, it) in seen.files {
        let line = |why: String| FileLine { file, why };
        match it.state {
            FileState::Taken { .. } => asked.taken += 1,
            FileState::Arriving => asked.arriving.push(line(String::new())),
            FileState::NotWhole { why } => asked.arriving.push(line(why)),
            FileState::Waits { why } => asked.waiting.push(line(why)),
            FileState::NotUsed { why } => asked.not_used.push(line(why)),
        }
    }
    Ok(asked)
}

/// What was noted of a folder; what cannot be read is looked at anew, which changes nothing in the book.
fn seen(household: &Household, source: &Source) -> Result<Seen, Trouble> {
    let noted = household.noted(source.id)?;
    Ok(noted
        .and_then(|text| serde_json::from_str(&text).ok())
        .unwrap_or_default())
}

/// Looks into every folder of a household once. Answers how many rows are new in the book.
///
/// # Errors
/// When the book or the folder beside it cannot be used.
pub fn look_into_folders(household: &Household, backend: &dyn Backend) -> Result<u64, Trouble> {
    let mut new = 0;
    for source in household.sources()? {
        let Some(folder) = source.folder() else { continue };
        let before = seen(household, &source)?;
        let mut now = before.clone();
        let from = Feed::named(source.key(), &source.name);
        let looked = backend.look_into(Path::new(folder), &from, &mut now);
        if now != before {
            let text =
                serde_json::to_string_pretty(&now).map_err(|error| Trouble::Internal(error.to_string()))?;
            household.note(source.id, &text)?;
        }
        new += looked?;
    }
    Ok(new)
}

/// Looks into the folders every few seconds, for as long as it is polled.
pub(crate) async fn keep_looking(household: Household, backend: Arc<dyn Backend>, tell: impl Fn()) {
    loop {
        tokio::time::sleep(BETWEEN_LOOKS).await;
        let (household, backend) = (household.clone(), Arc::clone(&backend));
        let looked = tokio::task::spawn_blocking(move || look_into_folders(&household, &*backend));
        // What is wrong with the book the pages say; the files wait for the next look.
        if let Ok(Ok(1..)) = looked.await {
            tell();
        }
    }
}

//! What a book is and holds, beside the record.

use std::path::Path;

use interstice_desk::Book;
use interstice_findings::states::{KnownBy, KnownState};
use interstice_findings::{FindingsError, Shelf};
use interstice_glucose::{Moment, Second};

use crate::{AboutBook, AwayLine, Trouble};

/// Of the book at a path, where it is there.
pub(super) fn book(path: &Path, book: Option<&Book>, shelf: &Shelf) -> Result<AboutBook, Trouble> {
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
    about.away = away(shelf)?;
    about.tags = own_tags(shelf.states())?;
    Ok(about)
}

fn away(shelf: &Shelf) -> Result<Vec<AwayLine>, Trouble> {
    let (record, _) = shelf.record()?;
    let lines = record.lived.iter().map(|kept| {
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

//! What comes by itself: sent, or found in a folder.

use std::path::Path;

use interstice_desk::{Book, Fed, Feed, Mode, Seen, look_into as look, take_in, take_in_read};
use interstice_findings::feeds::{FeedAsk, FeedsFindings, feeds};
use interstice_glucose::Draft;

use super::KeptBook;
use crate::{Backend, Trouble};

/// Writes what was sent; when this answers, it is on the disk.
pub(super) fn feed(kept: &KeptBook, from: &Feed, sent: &[u8]) -> Result<Fed, Trouble> {
    is_own(kept)?;
    let _one = kept.act();
    let mut book = Book::open(&kept.path, Mode::CreateIfAbsent)?;
    Ok(take_in(&mut book, from, sent, &kept.place())?)
}

/// The same of rows that were read already.
pub(super) fn feed_read(kept: &KeptBook, from: &Feed, rows: Draft, rows_read: u64) -> Result<Fed, Trouble> {
    is_own(kept)?;
    let _one = kept.act();
    let mut book = Book::open(&kept.path, Mode::CreateIfAbsent)?;
    Ok(take_in_read(&mut book, from, rows, rows_read, &kept.place())?)
}

/// Looks into a folder once. The book is opened where there is something to read.
pub(super) fn look_into(
    kept: &KeptBook,
    folder: &Path,
    from: &Feed,
    seen: &mut Seen,
) -> Result<u64, Trouble> {
    is_own(kept)?;
    let _one = kept.act();
    let open = &mut || Ok(Book::open(&kept.path, Mode::CreateIfAbsent)?);
    Ok(look(folder, from, seen, &kept.place(), open)?)
}

pub(super) fn told(kept: &KeptBook, asked: &[FeedAsk]) -> Result<FeedsFindings, Trouble> {
    let book = kept.existing()?;
    let outside = &kept.outside;
    Ok(feeds(book.as_ref(), asked, outside.now(), &outside.machine_zone)?)
}

/// Nothing that comes is ever mixed with what was invented.
fn is_own(kept: &KeptBook) -> Result<(), Trouble> {
    if kept.is_invented() {
        let why = "this is an invented recording, and nothing is written in it";
        return Err(Trouble::Refused(why.to_owned()));
    }
    Ok(())
}

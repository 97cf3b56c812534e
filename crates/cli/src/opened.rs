//! Opening the book, and saying so where that changed its layout.

use std::path::Path;

use interstice_desk::{Book, Mode, language};
use interstice_tongue::speak;

use crate::exit::Failure;
use crate::output::Output;

/// Opens the book, and speaks its language from now on. One of an earlier layout is brought forward, which is said: earlier versions cannot read it any more.
pub(crate) fn open(path: &Path, mode: Mode, out: &mut Output) -> Result<Book, Failure> {
    let book = Book::open(path, mode).map_err(Failure::book)?;
    say_brought_forward(&book, out);
    // Documents for programs are the same for every reader.
    if !out.json()
        && let Ok(settings) = book.settings()
    {
        speak(language(&settings));
    }
    Ok(book)
}

/// Before pages are served: looks at the book that is there. What is wrong with it the pages say, where it is seen.
pub(crate) fn look_at(path: &Path, out: &mut Output) {
    if let Ok(book) = Book::open(path, Mode::ReadOnly) {
        say_brought_forward(&book, out);
    }
}

fn say_brought_forward(book: &Book, out: &mut Output) {
    if let Some(layout) = book.brought_forward_from() {
        out.message(&format!(
            "{} was of an earlier version (layout {layout}) and was brought forward; earlier versions cannot open \
             it any more",
            book.path().display()
        ));
    }
}

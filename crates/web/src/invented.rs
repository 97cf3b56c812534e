//! The invented recording beside the book, and what is said on its pages.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};

use axum::extract::{Request, State};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use interstice_tongue::say;
use maud::{Markup, html};

use crate::app::App;
use crate::door::PAIR;
use crate::guard::writes;
use crate::push::PUSH;
use crate::{Backend, KeptBook, Outside, Trouble};

/// Makes a book of an invented recording; gives where it lies and what is outside it. The error says what went wrong.
pub type Invent = fn() -> Result<(PathBuf, Outside), String>;

/// The invented recording, made when it is first asked for.
#[derive(Default)]
pub(crate) struct Invented {
    made: OnceLock<Arc<dyn Backend>>,
    is_shown: AtomicBool,
}

impl Invented {
    /// What is shown in place of the book; `None` while the book itself is.
    pub(crate) fn shown(&self) -> Option<Arc<dyn Backend>> {
        self.made
            .get()
            .filter(|_| self.is_shown.load(Ordering::Acquire))
            .cloned()
    }

    /// Shows it from now on.
    ///
    /// # Errors
    /// Where it cannot be made.
    pub(crate) fn show(&self, invent: Invent) -> Result<(), Trouble> {
        if self.made.get().is_none() {
            let (path, outside) = invent().map_err(Trouble::Internal)?;
            self.made
                .get_or_init(|| Arc::new(KeptBook::new(path, outside)) as Arc<dyn Backend>);
        }
        self.is_shown.store(true, Ordering::Release);
        Ok(())
    }

    /// Shows the book again.
    pub(crate) fn put_away(&self) {
        self.is_shown.store(false, Ordering::Release);
    }
}

/// Whose data a page shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Whose {
    /// The wearer's own.
    #[default]
    Own,
    /// Invented, with no book behind it.
    Invented,
    /// Invented, shown in place of the wearer's book.
    InventedInPlace,
}

tokio::task_local! {
    static WHOSE: Whose;
}

/// What may be written while an invented recording is shown in place of the book: nothing of the recording. What is sent
/// goes to the book.
const STILL_WRITTEN: [&str; 7] = [
    "/begin/",
    "/write/queued",
    "/devices",
    "/feeds/token",
    "/feeds/end",
    PAIR,
    PUSH,
];

/// Lets every page of a request know whose data it shows, so that none can forget to say it; and lets nothing be written down
/// in a book that is not the wearer's, where it would be lost.
pub(crate) async fn told(State(app): State<App>, request: Request, next: Next) -> Response {
    let whose = app.whose().await;
    let path = request.uri().path();
    let is_lost = whose == Whose::InventedInPlace
        && writes(request.method())
        && !STILL_WRITTEN.iter().any(|start| path.starts_with(start));
    let answer = async {
        if is_lost {
            return Trouble::Refused(say!("error-invented-not-written")).into_response();
        }
        next.run(request).await
    };
    WHOSE.scope(whose, answer).await
}

/// What stands on top of a page that shows invented data.
pub(crate) fn banner() -> Markup {
    match WHOSE.try_with(|whose| *whose).unwrap_or_default() {
        Whose::Own => html! {},
        Whose::Invented => html! {
            aside.invented aria-label=(say!("shell-invented-label")) { (say!("shell-invented")) }
        },
        Whose::InventedInPlace => html! {
            aside.invented aria-label=(say!("shell-invented-label")) {
                form.in-line method="post" action="/begin/own" {
                    span { (say!("shell-invented-in-place")) }
                    button.quiet type="submit" { (say!("shell-invented-back")) }
                }
            }
        },
    }
}

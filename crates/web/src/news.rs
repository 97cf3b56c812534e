//! Tells open pages that the book has changed, so that they look again. What has changed is not said: a page asks for it
//! as it does anyway.

use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::Router;
use axum::body::{Body, Bytes, HttpBody};
use axum::extract::{Request, State};
use axum::http::header::{ACCEPT, CONTENT_TYPE};
use axum::http::{HeaderMap, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use http_body::Frame;
use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc, watch};

use crate::Trouble;
use crate::app::App;
use crate::guard::writes;

/// Pages that may listen at once; more look by themselves, as those without a script do.
const LISTENERS: usize = 32;
/// A line that nobody reads is found out by writing on it.
const STILL_THERE: Duration = Duration::from_secs(20);
/// How long a page waits before it comes again, milliseconds.
const HELLO: &str = "retry: 3000\n\n";
const KIND: &str = "text/event-stream";

/// What there is to hear.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Said {
    Changes(u64),
    Over,
}

/// Where it is said and heard.
pub(crate) struct News {
    said: watch::Sender<Said>,
    places: Arc<Semaphore>,
}

impl Default for News {
    fn default() -> Self {
        News {
            said: watch::Sender::new(Said::Changes(0)),
            places: Arc::new(Semaphore::new(LISTENERS)),
        }
    }
}

impl News {
    /// Something in the book may have changed.
    pub(crate) fn tell(&self) {
        self.said.send_modify(|said| {
            if let Said::Changes(count) = said {
                *count += 1;
            }
        });
    }

    /// Nothing more will be said: the app ends, and waits for nobody who listens.
    pub(crate) fn end(&self) {
        self.said.send_replace(Said::Over);
    }
}

pub(crate) fn routes() -> Router<App> {
    Router::new().route("/events", get(events))
}

/// Tells of what was written by a form.
pub(crate) async fn tell_of_writes(State(app): State<App>, request: Request, next: Next) -> Response {
    let is_write = writes(request.method());
    let answer = next.run(request).await;
    if is_write && !(answer.status().is_client_error() || answer.status().is_server_error()) {
        app.news().tell();
    }
    answer
}

async fn events(State(app): State<App>, headers: HeaderMap) -> Result<Response, Trouble> {
    let accepts = headers.get(ACCEPT).and_then(|value| value.to_str().ok());
    if !accepts.is_some_and(|accepts| accepts.contains(KIND)) {
        let why = "this tells open pages of news, line by line; pages listen by themselves\n";
        return Ok((StatusCode::NOT_ACCEPTABLE, why).into_response());
    }
    let place = Arc::clone(&app.news().places).try_acquire_owned();
    let place = place.map_err(|_| Trouble::TooMany(30))?;
    let (pieces, body) = mpsc::channel(4);
    tokio::spawn(keep_telling(app.news().said.subscribe(), pieces, place));
    Ok(([(CONTENT_TYPE, KIND)], Body::new(Pieces(body))).into_response())
}

/// Until the page goes, or the app ends.
async fn keep_telling(
    mut said: watch::Receiver<Said>,
    page: mpsc::Sender<Bytes>,
    _place: OwnedSemaphorePermit,
) {
    let mut piece = Bytes::from_static(HELLO.as_bytes());
    loop {
        if page.send(piece).await.is_err() {
            return;
        }
        piece = tokio::select! {
            changed = said.changed() => match changed {
                Ok(()) if *said.borrow_and_update() != Said::Over => Bytes::from_static(b"data: news\n\n"),
                _ => return,
            },
            () = tokio::time::sleep(STILL_THERE) => Bytes::from_static(b": still here\n\n"),
            () = page.closed() => return,
        };
    }
}

/// A body of pieces as they come.
struct Pieces(mpsc::Receiver<Bytes>);

impl HttpBody for Pieces {
    type Data = Bytes;
    type Error = std::convert::Infallible;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Self::Error>>> {
        self.0
            .poll_recv(cx)
            .map(|piece| piece.map(|piece| Ok(Frame::data(piece))))
    }
}

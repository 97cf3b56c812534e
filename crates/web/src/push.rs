//! Where phones and transmitters send readings. Whoever has a token writes readings and nothing else: it reads nothing,
//! opens no page, and is ended by itself. What is answered was written to the disk before.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use std::time::Instant;

use axum::Router;
use axum::body::Bytes;
use axum::extract::{Request, State};
use axum::http::header::{
    AUTHORIZATION, CONTENT_LENGTH, CONTENT_TYPE, ORIGIN, RETRY_AFTER, WWW_AUTHENTICATE,
};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::routing::post;
use http_body_util::{BodyExt as _, LengthLimitError, Limited};
use interstice_desk::{Fed, Feed};
use interstice_home::Source;
use interstice_tongue::{Tongue, within};
use serde_json::json;
use tokio::sync::Semaphore;

use crate::Trouble;
use crate::app::App;
use crate::bucket::Bucket;

/// Where readings are sent.
pub(crate) const PUSH: &str = "/push";

/// Largest body: some 100,000 readings of our own format, 10,000 of FHIR.
const LARGEST: usize = 8 << 20;
/// Bodies that may arrive at once.
const AT_ONCE: usize = 4;
/// Sent by one token at once and in a minute after that: a sensor tells one reading a minute, and a queue that waited
/// comes in one piece (common practice, no source).
const SENT_AT_ONCE: u32 = 240;
const SENT_A_MINUTE: u32 = 120;
/// Wrong tokens at once and in a minute after that, from everywhere together. They hold up nobody with a right one.
const WRONG_AT_ONCE: u32 = 20;
const WRONG_A_MINUTE: u32 = 20;

/// Kinds of bodies that are read.
const KINDS: [&str; 3] = [
    "application/json",
    "application/fhir+json",
    "application/x-ndjson",
];

pub(crate) fn routes() -> Router<App> {
    Router::new().route(PUSH, post(push))
}

/// Whether a request comes by a token, which stands in place of an origin: pages elsewhere cannot send one, and what a
/// browser sends for a page is held to the page's origin as any other write.
pub(crate) fn comes_by_token(method: &Method, path: &str, headers: &HeaderMap) -> bool {
    method == Method::POST
        && path == PUSH
        && headers.contains_key(AUTHORIZATION)
        && !headers.contains_key(ORIGIN)
        && !headers.contains_key("sec-fetch-site")
}

/// How much is let through.
pub(crate) struct Gate {
    wrong: Mutex<Bucket>,
    sent: Mutex<HashMap<u32, Bucket>>,
    bodies: Semaphore,
}

impl Default for Gate {
    fn default() -> Self {
        Gate {
            wrong: Mutex::new(Bucket::full(WRONG_AT_ONCE, WRONG_A_MINUTE, Instant::now())),
            sent: Mutex::default(),
            bodies: Semaphore::new(AT_ONCE),
        }
    }
}

impl Gate {
    /// Refuses a token that nobody has, ever more curtly.
    fn wrong(&self) -> Refusal {
        let mut bucket = self.wrong.lock().unwrap_or_else(PoisonError::into_inner);
        match bucket.take(Instant::now()) {
            Ok(()) => Refusal::Unknown,
            Err(seconds) => Refusal::TooMany(seconds),
        }
    }

    fn counted(&self, id: u32) -> Result<(), Refusal> {
        let now = Instant::now();
        let mut sent = self.sent.lock().unwrap_or_else(PoisonError::into_inner);
        let bucket = sent
            .entry(id)
            .or_insert_with(|| Bucket::full(SENT_AT_ONCE, SENT_A_MINUTE, now));
        bucket.take(now).map_err(Refusal::TooMany)
    }
}

/// Why nothing was written.
#[derive(Debug)]
enum Refusal {
    Unknown,
    TooMany(u64),
    Kind,
    TooLarge,
    Broken,
    Unreadable(String),
    Trouble(Trouble),
}

impl From<Trouble> for Refusal {
    fn from(trouble: Trouble) -> Self {
        match trouble {
            Trouble::Request(why) => Refusal::Unreadable(why),
            other => Refusal::Trouble(other),
        }
    }
}

impl Refusal {
    fn told(&self) -> (StatusCode, String) {
        let text = |text: &str| text.to_owned();
        match self {
            Refusal::Unknown => (
                StatusCode::UNAUTHORIZED,
                text(
                    "this token is not known or was revoked; make another with `interstice feeds --make-token NAME`",
                ),
            ),
            Refusal::TooMany(seconds) => (
                StatusCode::TOO_MANY_REQUESTS,
                format!(
                    "too much was sent at once; send it again in {seconds} s, many readings in one piece"
                ),
            ),
            Refusal::Kind => (
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                format!("send JSON, with the header Content-Type: {}", KINDS.join(" or ")),
            ),
            Refusal::TooLarge => (
                StatusCode::PAYLOAD_TOO_LARGE,
                format!(
                    "more than {} MB came in one piece; send it in parts",
                    LARGEST >> 20
                ),
            ),
            Refusal::Broken => (
                StatusCode::REQUEST_TIMEOUT,
                text("what was sent did not arrive whole; send it again"),
            ),
            Refusal::Unreadable(why) => (StatusCode::UNPROCESSABLE_ENTITY, why.clone()),
            Refusal::Trouble(trouble) => (trouble.status(), within(Tongue::English, || trouble.to_string())),
        }
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let (status, why) = self.told();
        let mut answer = document(status, &json!({ "error": why }));
        match self {
            Refusal::Unknown => {
                let bearer = HeaderValue::from_static("Bearer");
                answer.headers_mut().insert(WWW_AUTHENTICATE, bearer);
            }
            Refusal::TooMany(seconds) => {
                answer
                    .headers_mut()
                    .insert(RETRY_AFTER, HeaderValue::from(seconds));
            }
            _ => {}
        }
        answer
    }
}

async fn push(State(app): State<App>, request: Request) -> Response {
    match taken(&app, request).await {
        // Kept with its reason, and so nothing to send again; but whoever sends should hear that none of it is of use.
        Ok(fed) if !fed.is_of_use() => document(StatusCode::UNPROCESSABLE_ENTITY, &fed),
        Ok(fed) => document(StatusCode::OK, &fed),
        Err(refusal) => refusal.into_response(),
    }
}

async fn taken(app: &App, request: Request) -> Result<Fed, Refusal> {
    let source = sender(app, request.headers()).await?;
    app.gate().counted(source.id)?;
    is_json(request.headers())?;
    let _place = app.gate().bodies.try_acquire().map_err(|_| Refusal::TooMany(1))?;
    let bytes = body(request).await?;
    let from = Feed::named(source.key(), source.name);
    // Always the wearer's own book, whatever is shown.
    Ok(app.ask_own(move |own| own.feed(&from, &bytes)).await?)
}

async fn sender(app: &App, headers: &HeaderMap) -> Result<Source, Refusal> {
    let token = headers.get(AUTHORIZATION).and_then(|value| value.to_str().ok());
    let token = token
        .and_then(|value| value.split_once(' '))
        .filter(|(kind, _)| kind.eq_ignore_ascii_case("bearer"));
    let (Some((_, token)), Some(door)) = (token, app.door()) else {
        return Err(app.gate().wrong());
    };
    let token = token.trim().to_owned();
    let found = tokio::task::spawn_blocking(move || door.household().sender_of(&token)).await;
    let found = found.map_err(|_| Trouble::Internal("the token was not looked up".to_owned()))?;
    found.map_err(Trouble::from)?.ok_or_else(|| app.gate().wrong())
}

fn is_json(headers: &HeaderMap) -> Result<(), Refusal> {
    let kind = headers
        .get(CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .unwrap_or_default();
    let kind = kind.split(';').next().unwrap_or_default().trim();
    if KINDS.iter().any(|known| known.eq_ignore_ascii_case(kind)) {
        Ok(())
    } else {
        Err(Refusal::Kind)
    }
}

async fn body(request: Request) -> Result<Bytes, Refusal> {
    let said = request
        .headers()
        .get(CONTENT_LENGTH)
        .and_then(|value| value.to_str().ok()?.parse::<u64>().ok());
    if said.is_some_and(|bytes| bytes > LARGEST as u64) {
        return Err(Refusal::TooLarge);
    }
    match Limited::new(request.into_body(), LARGEST).collect().await {
        Ok(whole) => Ok(whole.to_bytes()),
        Err(error) if error.is::<LengthLimitError>() => Err(Refusal::TooLarge),
        Err(_) => Err(Refusal::Broken),
    }
}

fn document(status: StatusCode, told: &impl serde::Serialize) -> Response {
    let text = serde_json::to_string(told).unwrap_or_default() + "\n";
    (status, [(CONTENT_TYPE, "application/json")], text).into_response()
}

//! The one place where trouble becomes an HTTP answer.

use axum::extract::Request;
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use interstice_tongue::say;

use crate::shell;

/// Why a page cannot be shown, in calm words that say what to do next.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Trouble {
    /// There is no such page.
    #[error("{}", say!("error-said-nothing-here"))]
    NotFound,
    /// There is no such sensor, or several of that name.
    #[error("{0}")]
    NoSensor(String),
    /// A link that is no longer good, or never was.
    #[error("{}", say!("error-said-no-link"))]
    NoLink,
    /// What was asked for makes no sense.
    #[error("{0}")]
    Request(String),
    /// The request came from another page, or under another name, than this app's own.
    #[error("{0}")]
    Refused(String),
    /// Too much is asked for at once; seconds until it may be tried again.
    #[error("{}", say!("error-said-too-many", seconds = *.0))]
    TooMany(u64),
    /// The book cannot be used.
    #[error("{0}")]
    Book(String),
    /// A fault of ours.
    #[error("{}", say!("error-said-internal", why = .0))]
    Internal(String),
}

impl Trouble {
    /// Its status.
    pub fn status(&self) -> StatusCode {
        match self {
            Trouble::NotFound | Trouble::NoSensor(_) | Trouble::NoLink => StatusCode::NOT_FOUND,
            Trouble::Request(_) => StatusCode::BAD_REQUEST,
            Trouble::Refused(_) => StatusCode::FORBIDDEN,
            Trouble::TooMany(_) => StatusCode::TOO_MANY_REQUESTS,
            Trouble::Book(_) => StatusCode::SERVICE_UNAVAILABLE,
            Trouble::Internal(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    /// Seconds until it may be tried again.
    pub(crate) fn wait_s(&self) -> Option<u64> {
        match self {
            Trouble::TooMany(seconds) => Some(*seconds),
            _ => None,
        }
    }

    /// Where to go from it: address and words.
    pub(crate) fn way_on(&self) -> (&'static str, String) {
        match self {
            Trouble::NoSensor(_) => ("/trust#sensors", say!("error-to-sensors")),
            _ => ("/", say!("error-to-first")),
        }
    }

    /// A heading for it.
    pub(crate) fn heading(&self) -> String {
        match self {
            Trouble::NotFound => say!("error-nothing-here"),
            Trouble::NoLink => say!("error-no-link"),
            Trouble::NoSensor(_) => say!("error-no-sensor"),
            Trouble::Request(_) => say!("error-request"),
            Trouble::Refused(_) => say!("error-refused"),
            Trouble::TooMany(_) => say!("error-too-many"),
            Trouble::Book(_) => say!("error-book"),
            Trouble::Internal(_) => say!("error-internal"),
        }
    }
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        let (address, words) = self.way_on();
        let page = match self {
            // Nothing here leads further in.
            Trouble::NoLink => shell::alone(
                &self.heading(),
                maud::html! { h1 { (self.heading()) } p.answer { (shell::sentence(&self.to_string())) } },
            ),
            _ => shell::trouble(&self, (address, &words)),
        };
        let mut answer = (self.status(), page).into_response();
        answer.extensions_mut().insert(self);
        answer
    }
}

/// Leads from a form that was refused back to where it stands.
pub(crate) async fn lead_back(request: Request, next: Next) -> Response {
    let form = (request.method() == Method::POST).then(|| form_at(request.uri().path()));
    let mut answer = next.run(request).await;
    match (form.flatten(), answer.extensions_mut().remove::<Trouble>()) {
        (Some(form), Some(trouble)) => (
            trouble.status(),
            shell::trouble(&trouble, (form, &say!("error-to-form"))),
        )
            .into_response(),
        _ => answer,
    }
}

/// Where the form stands that posts to a path.
fn form_at(path: &str) -> Option<&'static str> {
    Some(match path {
        "/settings" => "/settings",
        path if path.starts_with("/write/") => "/write",
        "/imports/undo" => "/imports",
        "/home/pair" => "/home/pair",
        path if path.starts_with("/devices/") => "/devices",
        path if path.starts_with("/feeds/") => "/feeds",
        "/wear/put-on" => "/wear#put-on",
        "/wear/start" | "/wear/end" => "/wear#on-now",
        "/wear/photo" | "/wear/claim" | "/wear/claim/undo" => "/wear#lost",
        "/wear/found" => "/wear#found",
        "/wear/kind" => "/wear#kind",
        path if path.starts_with("/wear/stock") => "/wear#drawer",
        path if path.starts_with("/wear/choose") => "/wear#choices",
        path if path.starts_with("/wear/trial") => "/wear#trials",
        path if path.starts_with("/wear/") => "/wear",
        path if path.starts_with("/trust/") => "/trust#pressure",
        _ => return None,
    })
}

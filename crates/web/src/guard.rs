//! Who may ask. A page elsewhere can make a browser send requests to this machine, under a name of its own (DNS
//! rebinding) or under ours (a forged form); neither gets an answer, and nothing asked for from elsewhere is written.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HOST, HeaderName, HeaderValue, ORIGIN, REFERRER_POLICY,
    RETRY_AFTER, X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use axum::http::{HeaderMap, Method};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::Trouble;
use crate::arriving::{Arriving, UPLOAD};
use crate::bucket::Bucket;
use crate::push::comes_by_token;

/// Nothing but what is named: scripts, styles, pictures and data of this app's own files; no script or style inside a
/// page, no frame around it, no form to elsewhere.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; \
    manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// What a page of this app never asks the browser for.
const PERMISSIONS: &str = "camera=(), microphone=(), geolocation=(), payment=(), usb=(), serial=()";

/// Names this machine calls itself by.
const OWN_NAMES: [&str; 3] = ["127.0.0.1", "localhost", "[::1]"];

/// Writes at once, and in a minute after that: far beyond a hand, far below a flood (common practice, no source).
const WRITES_AT_ONCE: u32 = 120;
const WRITES_A_MINUTE: u32 = 120;

const SEC_FETCH_SITE: &str = "sec-fetch-site";
const SEC_FETCH_MODE: &str = "sec-fetch-mode";
const SEC_FETCH_DEST: &str = "sec-fetch-dest";

/// The names an app answers under, and how much may be written.
pub(crate) struct Guard {
    scheme: &'static str,
    names: Vec<String>,
    writes: Mutex<Bucket>,
}

impl Guard {
    /// For this machine alone.
    pub(crate) fn loopback() -> Arc<Self> {
        Guard::over("http", OWN_NAMES.map(str::to_owned).to_vec())
    }

    /// For these names, as a Host header has them, without a port.
    pub(crate) fn over(scheme: &'static str, names: Vec<String>) -> Arc<Self> {
        Arc::new(Guard {
            scheme,
            names,
            writes: Mutex::new(Bucket::full(WRITES_AT_ONCE, WRITES_A_MINUTE, Instant::now())),
        })
    }

    fn refusal(&self, method: &Method, path: &str, headers: &HeaderMap) -> Option<Trouble> {
        let host = text(headers, HOST.as_str());
        if !is_named(host, &self.names) {
            let why = "this app answers only under its own names; open it by the address it printed when it started";
            return Some(Trouble::Refused(why.to_owned()));
        }
        if !writes(method) {
            let why = "a page elsewhere asked for this; open it from here";
            return asked_from_elsewhere(headers).then(|| Trouble::Refused(why.to_owned()));
        }
        if comes_by_token(method, path, headers) {
            return None;
        }
        let origin = text(headers, ORIGIN.as_str());
        let ours = origin
            .strip_prefix(self.scheme)
            .and_then(|rest| rest.strip_prefix("://"))
            == Some(host);
        // Browsers that say where a request began must say 'here'; those that do not are held to the origin alone.
        let began = text(headers, SEC_FETCH_SITE);
        if !ours || !(began.is_empty() || began == "same-origin") {
            let why = "a change was asked for from another page than this app's own; nothing was changed";
            return Some(Trouble::Refused(why.to_owned()));
        }
        let mut bucket = self.writes.lock().unwrap_or_else(PoisonError::into_inner);
        bucket.take(Instant::now()).err().map(Trouble::TooMany)
    }
}

/// Lets a request through only under the app's own names and, when it writes, only from the app's own pages, not too
/// often, and only as long as its body keeps coming.
pub(crate) async fn check(State(guard): State<Arc<Guard>>, request: Request, next: Next) -> Response {
    let answer = match guard.refusal(request.method(), request.uri().path(), request.headers()) {
        Some(trouble) => trouble.into_response(),
        None if writes(request.method()) => {
            next.run(request.map(|body| Body::new(Arriving::new(body, UPLOAD))))
                .await
        }
        None => next.run(request).await,
    };
    with_headers(answer)
}

/// Whether a request asks for a change.
pub(crate) fn writes(method: &Method) -> bool {
    ![Method::GET, Method::HEAD, Method::OPTIONS].contains(method)
}

/// Whether a page elsewhere wants this for itself, as a picture, a script or data. A link that is followed is no such
/// thing, nor is a browser that does not say.
fn asked_from_elsewhere(headers: &HeaderMap) -> bool {
    let elsewhere = ["cross-site", "same-site"].contains(&text(headers, SEC_FETCH_SITE));
    let followed = text(headers, SEC_FETCH_MODE) == "navigate" && text(headers, SEC_FETCH_DEST) == "document";
    elsewhere && !followed
}

fn text<'a>(headers: &'a HeaderMap, name: &str) -> &'a str {
    headers
        .get(name)
        .and_then(|value| value.to_str().ok())
        .unwrap_or("")
}

/// Whether a Host header names this machine to itself, with or without a port.
#[cfg(any(test, fuzzing))]
pub(crate) fn is_own(host: &str) -> bool {
    is_named(host, &OWN_NAMES)
}

fn is_named(host: &str, names: &[impl AsRef<str>]) -> bool {
    names.iter().any(|name| match host.strip_prefix(name.as_ref()) {
        Some("") => true,
        Some(rest) => rest
            .strip_prefix(':')
            .is_some_and(|port| port.parse::<u16>().is_ok()),
        None => false,
    })
}

fn with_headers(mut answer: Response) -> Response {
    let fixed: [(HeaderName, &'static str); 7] = [
        (CONTENT_SECURITY_POLICY, POLICY),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (X_FRAME_OPTIONS, "DENY"),
        // No other host learns an address. 'no-referrer' would do the same and take the origin from our own forms,
        // which is what tells them from forged ones.
        (REFERRER_POLICY, "same-origin"),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
        (HeaderName::from_static("permissions-policy"), PERMISSIONS),
    ];
    let wait = answer.extensions().get::<Trouble>().and_then(Trouble::wait_s);
    let headers = answer.headers_mut();
    for (name, value) in fixed {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if let Some(seconds) = wait {
        headers.insert(RETRY_AFTER, HeaderValue::from(seconds));
    }
    // A record of someone's health does not belong in a browser's cache.
    headers
        .entry(CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
    answer
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_our_own_names_are_ours() {
        for host in ["127.0.0.1", "127.0.0.1:8080", "localhost:1", "[::1]:65535"] {
            assert!(is_own(host), "{host}");
        }
        for host in [
            "",
            "127.0.0.1.example.org",
            "localhost.example.org:80",
            "127.0.0.1:",
            "127.0.0.1:99999",
            "evil",
            "127.0.0.12",
        ] {
            assert!(!is_own(host), "{host}");
        }
    }
}

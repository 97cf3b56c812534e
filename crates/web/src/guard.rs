//! Who may ask. A page elsewhere can make a browser send requests to this machine, under a name of its own (DNS
//! rebinding) or under ours (a forged form); neither gets an answer.

use axum::extract::Request;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HOST, HeaderName, HeaderValue, ORIGIN, REFERRER_POLICY,
    X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use axum::http::{HeaderMap, Method};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::Trouble;

/// Everything from this app, nothing from elsewhere, and no frame around it.
const POLICY: &str = "default-src 'self'; img-src 'self' data:; base-uri 'none'; form-action 'self'; \
    frame-ancestors 'none'; object-src 'none'";

/// Names this machine calls itself by.
const OWN_NAMES: [&str; 3] = ["127.0.0.1", "localhost", "[::1]"];

/// Lets a request through only under this machine's own name and, when it writes, only from this app's own pages.
pub(crate) async fn check(request: Request, next: Next) -> Response {
    let answer = match refusal(request.method(), request.headers()) {
        Some(trouble) => trouble.into_response(),
        None => next.run(request).await,
    };
    with_headers(answer)
}

fn refusal(method: &Method, headers: &HeaderMap) -> Option<Trouble> {
    let host = headers
        .get(HOST)
        .and_then(|value| value.to_str().ok())
        .unwrap_or("");
    if !is_own(host) {
        let why = "this app answers only under 127.0.0.1 or localhost; open it by the address it printed when it started";
        return Some(Trouble::Refused(why.to_owned()));
    }
    let reads = [Method::GET, Method::HEAD, Method::OPTIONS].contains(method);
    let origin = headers
        .get(ORIGIN)
        .and_then(|value| value.to_str().ok())
        .unwrap_or("");
    if !reads && origin.strip_prefix("http://") != Some(host) {
        let why = "a change was asked for from another page than this app's own; nothing was changed";
        return Some(Trouble::Refused(why.to_owned()));
    }
    None
}

/// Whether a Host header names this machine, with or without a port.
pub(crate) fn is_own(host: &str) -> bool {
    OWN_NAMES.iter().any(|name| match host.strip_prefix(name) {
        Some("") => true,
        Some(rest) => rest
            .strip_prefix(':')
            .is_some_and(|port| port.parse::<u16>().is_ok()),
        None => false,
    })
}

fn with_headers(mut answer: Response) -> Response {
    let fixed: [(HeaderName, &'static str); 6] = [
        (CONTENT_SECURITY_POLICY, POLICY),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (X_FRAME_OPTIONS, "DENY"),
        (REFERRER_POLICY, "same-origin"),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
    ];
    let headers = answer.headers_mut();
    for (name, value) in fixed {
        headers.insert(name, HeaderValue::from_static(value));
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

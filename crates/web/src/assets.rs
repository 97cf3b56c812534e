//! Style sheets and scripts, inside the binary.

use axum::Router;
use axum::extract::Path;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use rust_embed::{EmbeddedFile, RustEmbed};

use crate::Trouble;
use crate::app::App;

#[derive(RustEmbed)]
#[folder = "assets/"]
struct Assets;

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route(
            "/assets/chart.css",
            get(async || ([(CONTENT_TYPE, "text/css")], interstice_render::chart::style())),
        )
        .route(
            "/assets/sheet.css",
            get(async || {
                (
                    [(CONTENT_TYPE, "text/css")],
                    interstice_render::sheet::html::STYLE,
                )
            }),
        )
        // Asked for by browsers where a page names no icon.
        .route(
            "/favicon.ico",
            get(async |headers: HeaderMap| asset(Path("icon.svg".to_owned()), headers).await),
        )
        .route("/assets/{name}", get(asset))
}

async fn asset(Path(name): Path<String>, headers: HeaderMap) -> Response {
    let Some(file) = Assets::get(&name) else {
        return Trouble::NotFound.into_response();
    };
    let tag = etag(&file);
    if headers
        .get(IF_NONE_MATCH)
        .is_some_and(|seen| seen.as_bytes() == tag.as_bytes())
    {
        return (StatusCode::NOT_MODIFIED, [(ETAG, tag)]).into_response();
    }
    let kind = file.metadata.mimetype().to_owned();
    (
        [
            (CONTENT_TYPE, kind),
            (CACHE_CONTROL, "no-cache".to_owned()),
            (ETAG, tag),
        ],
        file.data,
    )
        .into_response()
}

/// What changes with any asset and with a text.
pub(crate) fn digest(text: &str) -> String {
    let mut names: Vec<_> = Assets::iter().collect();
    names.sort();
    let tags = names
        .iter()
        .filter_map(|name| Assets::get(name))
        .map(|file| etag(&file));
    let all: String = tags
        .chain([text.to_owned(), interstice_render::chart::style().to_owned()])
        .collect();
    interstice_desk::digest(all.as_bytes())
        .get(..16)
        .unwrap_or_default()
        .to_owned()
}

/// A tag that changes with the file.
fn etag(file: &EmbeddedFile) -> String {
    let digest: String = file
        .metadata
        .sha256_hash()
        .iter()
        .take(8)
        .map(|byte| format!("{byte:02x}"))
        .collect();
    format!("\"{digest}\"")
}

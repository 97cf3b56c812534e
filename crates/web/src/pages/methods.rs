//! How everything is computed: the pages of docs/methods.

use axum::Router;
use axum::extract::Path;
use axum::routing::get;
use maud::{Markup, PreEscaped, html};
use pulldown_cmark::{Event, Options, Parser};
use rust_embed::RustEmbed;

use crate::Trouble;
use crate::app::App;
use crate::shell::{Tab, page};

#[derive(RustEmbed)]
#[folder = "../../docs/methods/"]
#[allow_missing = true]
struct Methods;

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/methods", get(list))
        .route("/methods/{name}", get(method))
}

async fn list() -> Markup {
    page(
        "Methods",
        Tab::Elsewhere,
        &[],
        html! {
            h1 { "How everything is computed" }
            p.lead { "Every figure has a formula, a source, its limits, and a note of how it is checked." }
            dl.methods {
                @for Listed { name, words } in listed() {
                    dt { a href={ "/methods/" (name) } { (title(&text(&name).unwrap_or_default(), &name)) } }
                    dd { (words) }
                }
            }
        },
    )
}

/// A page of the list, and what it computes.
struct Listed {
    name: String,
    words: String,
}

/// The pages in the order of the index, `| [risk](risk.md) | LBGI, HBGI, GRI |`, then those it does not name.
fn listed() -> Vec<Listed> {
    let row = |line: &str| {
        let (link, words) = line.strip_prefix("| [")?.split_once(") | ")?;
        let (_, file) = link.split_once("](")?;
        Some(Listed {
            name: file.strip_suffix(".md")?.to_owned(),
            words: words.trim_end_matches('|').trim().to_owned(),
        })
    };
    let mut listed: Vec<Listed> = text("README")
        .unwrap_or_default()
        .lines()
        .filter_map(row)
        .collect();
    let mut others: Vec<String> = Methods::iter()
        .filter_map(|file| file.strip_suffix(".md").map(str::to_owned))
        .filter(|name| name != "README" && !listed.iter().any(|one| one.name == *name))
        .collect();
    others.sort();
    listed.extend(others.into_iter().map(|name| Listed {
        name,
        words: String::new(),
    }));
    listed
}

async fn method(Path(name): Path<String>) -> Result<Markup, Trouble> {
    let text = text(&name).ok_or(Trouble::NotFound)?;
    let title = title(&text, &name);
    Ok(page(
        &title,
        Tab::Elsewhere,
        &[],
        html! { article.method { (PreEscaped(to_html(&text))) } },
    ))
}

/// The text of a method page.
fn text(name: &str) -> Option<String> {
    let file = Methods::get(&format!("{}.md", name.strip_suffix(".md").unwrap_or(name)))?;
    String::from_utf8(file.data.into_owned()).ok()
}

/// Its first heading, else its name.
fn title(text: &str, name: &str) -> String {
    text.lines()
        .find_map(|line| line.strip_prefix("# "))
        .unwrap_or(name)
        .trim()
        .to_owned()
}

/// Raw HTML in a page is shown as text: the pages are ours, and none needs it.
fn to_html(text: &str) -> String {
    let events = Parser::new_ext(text, Options::ENABLE_TABLES).map(|event| match event {
        Event::Html(raw) | Event::InlineHtml(raw) => Event::Text(raw),
        other => other,
    });
    let mut html = String::with_capacity(text.len() * 2);
    pulldown_cmark::html::push_html(&mut html, events);
    html
}

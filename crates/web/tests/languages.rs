//! Wording is in the catalogue: what a page shows that does not come from it, and pages in another language.
//!
//! `INTERSTICE_PAGE=/wear cargo test -p interstice-web --test languages -- --nocapture` prints what of a page does not.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::ops::ControlFlow;

use axum::http::StatusCode;
use common::desk::{Desk, NOW, OWN, flat};
use common::{Fake, get, words};
use interstice_tongue::Tongue;
use scraper::{ElementRef, Html, Node, Selector};

/// Pages whose wording is all in the catalogue, with the parts of them that are still to be moved. The list grows.
const PAGES: [(&str, &str); 9] = [
    ("/now", "[aria-labelledby=due]"),
    ("/second-look", ""),
    // Names a person gave, kinds of days, and reasons and notes of findings.
    (
        "/review",
        "[aria-labelledby=notes], [aria-labelledby=meals], [aria-labelledby=measures], [aria-labelledby=sensors]",
    ),
    ("/review/compare", "select"),
    ("/write", ".what, .again"),
    // What stands for a browser without scripts is read as text, marks and all.
    ("/write/away", "noscript"),
    // Marks do not stand in marks, as the names of fields within a sentence would; tags are the wearer's own words.
    (
        "/settings",
        "label[lang], .own-targets, [aria-labelledby=more] li:last-child",
    ),
    ("/imports", "tbody th, td form"),
    ("/nowhere", ""),
];

/// What reads the same in every language.
const SAME: [&str; 7] = ["Interstice", "mg/dL", "mmol/L", "UTC", "CSV", "MB", "Asia/Tokyo"];

/// Attributes a person reads or hears.
const READ: [&str; 6] = ["aria-label", "alt", "data-label", "placeholder", "title", "label"];

/// What of a page is in words and not from the catalogue, in the order of the page.
fn not_from_catalogue(page: &str, but_for: &str) -> Vec<String> {
    let page = Html::parse_document(page);
    let mut skipped: Vec<ElementRef<'_>> = Vec::new();
    if !but_for.is_empty() {
        skipped.extend(page.select(&Selector::parse(but_for).unwrap()));
    }
    let mut text = String::new();
    gather(page.root_element(), &skipped, &mut text);
    let mut left = Vec::new();
    for piece in outside_marks(&text).lines() {
        let piece = SAME
            .iter()
            .fold(piece.to_owned(), |piece, same| piece.replace(same, ""));
        if piece.chars().any(char::is_alphabetic) {
            left.push(piece.split_whitespace().collect::<Vec<_>>().join(" "));
        }
    }
    left
}

/// Texts and attributes that are read, each on a line of its own; not what is typed as it stands.
fn gather(element: ElementRef<'_>, skipped: &[ElementRef<'_>], text: &mut String) {
    if skipped.contains(&element) || ["script", "style", "code"].contains(&element.value().name()) {
        return;
    }
    for name in READ {
        if let Some(value) = element.value().attr(name) {
            text.push_str(value);
            text.push('\n');
        }
    }
    for child in element.children() {
        match child.value() {
            Node::Text(words) => {
                text.push_str(words);
                text.push('\n');
            }
            Node::Element(_) => {
                let child = ElementRef::wrap(child);
                child.into_iter().for_each(|child| gather(child, skipped, text));
            }
            _ => {}
        }
    }
}

/// What stands outside '⟦' and '⟧', which never stand inside each other.
fn outside_marks(text: &str) -> String {
    let mut outside = String::new();
    let _ = text.chars().try_fold(false, |inside, letter| {
        match letter {
            '⟦' => return ControlFlow::<(), bool>::Continue(true),
            '⟧' => return ControlFlow::Continue(false),
            letter if !inside => outside.push(letter),
            '\n' => outside.push('\n'),
            _ => {}
        }
        ControlFlow::Continue(inside)
    });
    outside
}

#[tokio::test]
async fn all_wording_of_a_page_is_from_the_catalogue() {
    let book = Fake::days(14).speaking(Tongue::Marked);
    for (path, but_for) in PAGES {
        let page = get(book.clone(), path).await.text;
        assert_eq!(not_from_catalogue(&page, but_for), Vec::<String>::new(), "{path}");
        assert!(!outside_marks(&page).contains("[now-"), "{path}");
    }
    if let Ok(path) = std::env::var("INTERSTICE_PAGE") {
        let page = get(book, &path).await.text;
        let left = not_from_catalogue(&page, "");
        println!(
            "{path}: {} texts are not from the catalogue\n{}",
            left.len(),
            left.join("\n")
        );
    }
}

#[test]
fn what_is_not_from_the_catalogue_is_found() {
    let page = "<html lang=en><title>⟦Now⟧ · Interstice</title><p aria-label='one'>⟦It is ⟧<a>⟦two⟧</a>⟦ at ⟧104 mg/dL⟦.⟧ three</p><code>x</code>";
    assert_eq!(not_from_catalogue(page, ""), ["one", "104 three"]);
    assert_eq!(not_from_catalogue(page, "p"), Vec::<String>::new());
}

#[tokio::test]
async fn pages_read_in_spanish() {
    let book = Fake::days(14).speaking(Tongue::Spanish);
    let now = get(book.clone(), "/now").await.text;
    assert!(now.contains("<html lang=\"es\">"), "{now}");
    insta::assert_snapshot!("now_in_spanish", words(&now));
    let look = get(book.clone(), "/second-look").await.text;
    insta::assert_snapshot!("second_look_in_spanish", words(&look));
    let review = get(book.clone(), "/review").await.text;
    insta::assert_snapshot!("review_in_spanish", words(&review));
    // Programs read the same in every language.
    for path in ["/api/now", "/api/second-look"] {
        let english = get(Fake::days(14), path).await.text;
        assert_eq!(get(book.clone(), path).await.text, english, "{path}");
    }
}

#[tokio::test]
async fn the_language_is_set_shown_and_taken_back() {
    const FORM: &str = "unit=mg%2FdL&targets=adult&zone=Europe%2FLisbon";
    let mut desk = Desk::new(&flat("before"), || NOW);
    assert!(desk.get("/now").await.contains("<html lang=\"en\">"));
    let set = format!("{FORM}&language=es");
    assert_eq!(desk.post("/settings", &set, OWN).await.0, StatusCode::SEE_OTHER);
    let page = desk.get("/settings").await;
    assert!(
        page.contains("<html lang=\"es\">") && page.contains("value=\"es\" checked"),
        "{page}"
    );
    let told = desk
        .book
        .journal()
        .unwrap()
        .into_iter()
        .max_by_key(|change| change.id)
        .unwrap();
    assert_eq!(told.what, "set language to es");
    // A form without the field leaves it.
    desk.post("/settings", FORM, OWN).await;
    assert!(desk.get("/now").await.contains("<html lang=\"es\">"));
    let unknown = format!("{FORM}&language=tlh");
    assert_eq!(
        desk.post("/settings", &unknown, OWN).await.0,
        StatusCode::BAD_REQUEST
    );
    desk.book.undo(Some(told.id), NOW).unwrap();
    assert!(desk.get("/now").await.contains("<html lang=\"en\">"));
}

/// A page shows a decimal comma, and a form takes one.
#[tokio::test]
async fn forms_take_what_pages_show() {
    let desk = Desk::new(&flat("before"), || NOW);
    let form = "unit=mmol%2FL&targets=adult&zone=Europe%2FLisbon&language=es";
    let set = format!("{form}&rapid_hours=4%2C5");
    assert_eq!(desk.post("/settings", &set, OWN).await.0, StatusCode::SEE_OTHER);
    let kept = desk.book.settings().unwrap().insulin_lasts.rapid_min;
    assert_eq!(kept, Some(270));
    // A field of the kind 'number' wants plain digits, whatever is spoken.
    assert!(desk.get("/settings").await.contains("value=\"4.5\""));
}

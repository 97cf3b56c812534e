//! Who gets an answer and whose writing is taken, asked of every route there is.

mod common;

use axum::http::StatusCode;
use common::forged::FORGED;
use common::{Fake, answer_of, forged, routes, send_to, walk};
use interstice_web::router;

const HOST: (&str, &str) = ("host", "127.0.0.1:8080");
const FORM: (&str, &str) = ("content-type", "application/x-www-form-urlencoded");

#[test]
fn the_table_of_routes_is_read_whole() {
    let all = routes::all(&router(Fake::empty()));
    let takes = |path: &str| {
        all.iter()
            .find(|route| route.path == path)
            .map(|r| (r.get, r.post))
    };
    assert_eq!(takes("/settings"), Some((true, true)));
    assert_eq!(takes("/now"), Some((true, false)));
    assert_eq!(takes("/bring"), Some((false, true)));
    assert_eq!(takes("/wear/put-on"), Some((false, true)));
    assert_eq!(takes("/trust/{table}"), Some((true, false)));
    assert!(all.iter().filter(|route| route.post).count() >= 35, "{all:?}");
}

/// Headers a browser sends along with a form that stands on another site, or on another port of this machine, or
/// that has no origin at all; and a name of somebody else's that leads here.
#[tokio::test]
async fn no_route_writes_for_a_page_elsewhere() {
    let from_elsewhere: [&[(&str, &str)]; 9] = [
        &[HOST],
        &[HOST, ("origin", "null")],
        &[
            HOST,
            ("origin", "https://example.org"),
            ("sec-fetch-site", "cross-site"),
        ],
        &[
            HOST,
            ("origin", "http://127.0.0.1:9"),
            ("sec-fetch-site", "same-site"),
        ],
        &[HOST, ("origin", "https://127.0.0.1:8080")],
        &[HOST, ("origin", "http://127.0.0.1:8080.example.org")],
        &[
            HOST,
            ("origin", "http://127.0.0.1:8080"),
            ("sec-fetch-site", "cross-site"),
        ],
        &[
            HOST,
            ("origin", "http://127.0.0.1:8080"),
            ("sec-fetch-site", "none"),
        ],
        &[
            ("host", "example.org:8080"),
            ("origin", "http://example.org:8080"),
        ],
    ];
    let app = router(Fake::days(14));
    let mut asked = 0;
    for route in routes::all(&app).iter().filter(|route| route.post) {
        for headers in from_elsewhere {
            for kind in [FORM, ("content-type", "text/plain")] {
                let headers: Vec<(&str, &str)> = headers.iter().copied().chain([kind]).collect();
                let answer = answer_of(app.clone(), "POST", &route.filled("1"), &headers, "a=b").await;
                assert_eq!(answer.status, StatusCode::FORBIDDEN, "{} {headers:?}", route.path);
                asked += 1;
            }
        }
        // The same from the app's own page is let through, to whatever the route makes of it.
        let own = [
            HOST,
            ("origin", "http://127.0.0.1:8080"),
            ("sec-fetch-site", "same-origin"),
            FORM,
        ];
        let answer = answer_of(app.clone(), "POST", &route.filled("1"), &own, "a=b").await;
        assert_ne!(answer.status, StatusCode::FORBIDDEN, "{}", route.path);
    }
    assert!(asked > 600, "{asked}");
}

/// A read changes nothing, so a link from elsewhere may be followed; but no page elsewhere may take ours in.
#[tokio::test]
async fn a_page_elsewhere_reads_nothing() {
    let app = router(Fake::days(14));
    for (site, mode, dest, status) in [
        ("cross-site", "no-cors", "image", StatusCode::FORBIDDEN),
        ("cross-site", "no-cors", "script", StatusCode::FORBIDDEN),
        ("cross-site", "navigate", "iframe", StatusCode::FORBIDDEN),
        ("same-site", "cors", "empty", StatusCode::FORBIDDEN),
        ("cross-site", "navigate", "document", StatusCode::OK),
        ("same-origin", "cors", "empty", StatusCode::OK),
        ("none", "navigate", "document", StatusCode::OK),
    ] {
        let headers = [
            HOST,
            ("sec-fetch-site", site),
            ("sec-fetch-mode", mode),
            ("sec-fetch-dest", dest),
        ];
        let answer = answer_of(app.clone(), "GET", "/api/review", &headers, "").await;
        assert_eq!(answer.status, status, "{site} {mode} {dest}");
        assert_eq!(answer.text.contains("in_range_percent"), status == StatusCode::OK);
    }
}

/// The policy names what it allows and nothing else, on every answer, also a refused one.
#[tokio::test]
async fn every_answer_carries_the_strict_policy() {
    let app = router(Fake::days(14));
    for route in routes::all(&app).iter().filter(|route| route.get) {
        let answer = answer_of(app.clone(), "GET", &route.filled("1"), &[HOST], "").await;
        let policy = answer.header("content-security-policy");
        assert!(
            policy.starts_with("default-src 'none';"),
            "{}: {policy}",
            route.path
        );
        assert!(!policy.contains("unsafe") && !policy.contains('*') && !policy.contains("http"));
        assert!(policy.contains("frame-ancestors 'none'") && policy.contains("base-uri 'none'"));
        assert_eq!(answer.header("x-content-type-options"), "nosniff");
        assert_eq!(answer.header("cross-origin-opener-policy"), "same-origin");
        assert_eq!(answer.header("cross-origin-resource-policy"), "same-origin");
        assert_eq!(answer.header("referrer-policy"), "same-origin");
        assert!(
            ["no-store", "no-cache"].contains(&answer.header("cache-control")),
            "{}",
            route.path
        );
    }
    let refused = answer_of(app, "GET", "/now", &[("host", "example.org")], "").await;
    assert!(
        refused
            .header("content-security-policy")
            .starts_with("default-src 'none';")
    );
}

/// No script and no style stands inside a page: the policy would stop it.
#[tokio::test]
async fn no_page_has_script_or_style_inside() {
    let pages = walk::walk(&router(Fake::days(14)), &[]).await.pages;
    assert!(pages.len() > 25, "{}", pages.len());
    let (styled, script) = (
        scraper::Selector::parse("[style], style").unwrap(),
        scraper::Selector::parse("script").unwrap(),
    );
    for (address, page) in pages {
        let page = scraper::Html::parse_document(&page);
        assert_eq!(page.select(&styled).count(), 0, "{address}");
        for script in page.select(&script) {
            let script = script.value();
            let is_data = script.attr("type") == Some("application/json");
            assert!(script.attr("src").is_some() || is_data, "{address}: {script:?}");
        }
    }
}

/// Every page there is, over a book whose every text is markup.
#[tokio::test]
async fn markup_in_the_book_stays_text_on_every_page() {
    let (kept, _folder) = forged::book().await;
    let app = router(kept);
    let walked = walk::walk(
        &app,
        &["/write?what=tag", "/wear?place=left+thigh", "/review?days=30"],
    )
    .await;
    let forged = scraper::Selector::parse("#forged, [onerror]").unwrap();
    let mut shown = 0;
    for (address, page) in &walked.pages {
        assert!(!page.contains("<img id=forged"), "{address}");
        let parsed = scraper::Html::parse_document(page);
        assert_eq!(parsed.select(&forged).count(), 0, "{address}");
        shown += usize::from(page.contains("id=forged"));
    }
    assert!(shown >= 8, "{shown} of {} pages show it", walked.pages.len());
    for said in ["/write", "/wear", "/visit", "/imports", "/trust"] {
        assert!(walked.pages[said].contains("&lt;img id=forged"), "{said}");
    }
    let alone = answer_of(app, "GET", "/visit/sheet.html?days=30", &[HOST], "")
        .await
        .text;
    assert!(alone.contains("&lt;img id=forged") && !alone.contains("<img id=forged"));
    assert!(FORGED.contains("<img id=forged"));
}

/// More than a hand can write is held up, and told when to go on; reading goes on.
#[tokio::test]
async fn a_flood_of_writes_is_held_up() {
    let app = router(Fake::days(14));
    let form = "unit=mmol%2FL&targets=adult&zone=Europe%2FLisbon";
    let mut held = None;
    for i in 0..200 {
        let answer = send_to(&app, "/settings", form).await;
        if answer.status == StatusCode::TOO_MANY_REQUESTS {
            held = Some((i, answer));
            break;
        }
        assert_eq!(answer.status, StatusCode::SEE_OTHER);
    }
    let (taken, answer) = held.unwrap();
    assert!((120..140).contains(&taken), "{taken}");
    assert!(answer.header("retry-after").parse::<u64>().unwrap() <= 2);
    assert!(answer.text.contains("try again in"));
    let read = answer_of(app, "GET", "/settings", &[HOST], "").await;
    assert_eq!(read.status, StatusCode::OK);
}

/// A form is a few lines; the form that takes a file takes a quarter of a gigabyte, which `bring` looks at.
#[tokio::test]
async fn a_form_that_is_too_long_is_refused() {
    let app = router(Fake::days(14));
    let form = format!("unit=mg&targets=adult&zone={}", "x".repeat(3 << 20));
    let answer = send_to(&app, "/settings", &form).await;
    assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
}

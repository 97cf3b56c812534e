//! Every page there is, found by its links, beginning with the router's own table.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use axum::Router;
use axum::body::Body;
use axum::http::{Request, StatusCode};
use tower::ServiceExt;

use super::routes::{Route, all};

/// Addresses of one route that are looked at.
const OF_ONE_ROUTE: usize = 4;

/// What was found.
pub(crate) struct Walk {
    /// Address and page, of everything that is a page.
    pub(crate) pages: BTreeMap<String, String>,
    /// Routes that are read and of which no address answered.
    pub(crate) unseen: BTreeSet<String>,
}

/// Reads every route without a placeholder, and what the pages lead to.
pub(crate) async fn walk(app: &Router, more: &[&str]) -> Walk {
    let routes: Vec<Route> = all(app).into_iter().filter(|route| route.get).collect();
    let bare = routes.iter().filter(|route| !route.path.contains('{'));
    let mut ahead: VecDeque<String> = bare.map(|route| route.path.clone()).collect();
    ahead.extend(more.iter().map(|path| (*path).to_owned()));
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut known = BTreeSet::new();
    let mut pages = BTreeMap::new();
    let mut unseen: BTreeSet<String> = routes.iter().map(|route| route.path.clone()).collect();
    while let Some(address) = ahead.pop_front() {
        let path = address.split('?').next().unwrap();
        let Some(route) = routes.iter().find(|route| matches(&route.path, path)) else {
            panic!("{address} is linked to and no route reads it")
        };
        let times = seen.entry(route.path.clone()).or_default();
        if *times >= OF_ONE_ROUTE || !known.insert(address.clone()) {
            continue;
        }
        *times += 1;
        let request = Request::builder().uri(&address).header("host", "127.0.0.1:8080");
        let answer = app
            .clone()
            .oneshot(request.body(Body::empty()).unwrap())
            .await
            .unwrap();
        let status = answer.status();
        assert!(!status.is_server_error(), "{address}: {status}");
        if status == StatusCode::OK || status == StatusCode::SEE_OTHER {
            unseen.remove(&route.path);
        }
        let is_page = answer
            .headers()
            .get("content-type")
            .is_some_and(|kind| kind.to_str().unwrap().starts_with("text/html"));
        let is_file = answer.headers().contains_key("content-disposition");
        if !is_page || is_file {
            continue;
        }
        let bytes = axum::body::to_bytes(answer.into_body(), usize::MAX)
            .await
            .unwrap();
        let page = String::from_utf8(bytes.to_vec()).unwrap();
        ahead.extend(links(&page));
        pages.insert(address, page);
    }
    Walk { pages, unseen }
}

fn matches(template: &str, path: &str) -> bool {
    let (template, path): (Vec<&str>, Vec<&str>) = (template.split('/').collect(), path.split('/').collect());
    template.len() == path.len()
        && template
            .iter()
            .zip(&path)
            .all(|(part, own)| part == own || (part.starts_with('{') && !own.is_empty()))
}

/// Addresses of this app in a page: links, pictures, scripts, styles.
fn links(page: &str) -> Vec<String> {
    let page = scraper::Html::parse_document(page);
    let all = scraper::Selector::parse("[href], [src]").unwrap();
    let addresses = page.select(&all).filter_map(|element| {
        let value = element.value();
        value.attr("href").or_else(|| value.attr("src"))
    });
    addresses
        .filter(|address| address.starts_with('/'))
        .map(|address| address.split('#').next().unwrap().to_owned())
        .collect()
}

//! The router's own table: every route with the methods it takes, so that a test over all of them meets the next one too.

use axum::Router;

/// A path with its placeholders, and whether it is read and whether it is written to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Route {
    pub(crate) path: String,
    pub(crate) get: bool,
    pub(crate) post: bool,
}

impl Route {
    /// The path with something in every placeholder.
    pub(crate) fn filled(&self, with: &str) -> String {
        let parts = self
            .path
            .split('/')
            .map(|part| if part.starts_with('{') { with } else { part });
        parts.collect::<Vec<_>>().join("/")
    }
}

/// All of them. The library has no other way to list them than how it prints itself.
pub(crate) fn all(router: &Router) -> Vec<Route> {
    let printed = format!("{router:?}");
    // `RouteId(3): MethodRouter(MethodRouter { get: …, post: …, … })`, and later `RouteId(3): "/path"`.
    let table = printed.split("fallback_router").next().unwrap();
    let (methods, paths) = table.split_once("node: Node").unwrap();
    let methods: Vec<(&str, &str)> = entries(methods);
    let mut routes: Vec<Route> = entries(paths)
        .into_iter()
        .map(|(id, rest)| {
            let path = rest.split('"').nth(1).unwrap().to_owned();
            let takes = methods.iter().find(|(other, _)| *other == id).unwrap().1;
            let takes = |method: &str| {
                let at = takes.find(&format!("{method}: ")).unwrap() + method.len() + 2;
                !takes[at..].starts_with("None")
            };
            for other in ["delete", "options", "patch", "put", "trace", "connect"] {
                assert!(!takes(other), "{path} takes {other}, which no test here looks at");
            }
            Route {
                get: takes("get"),
                post: takes("post"),
                path,
            }
        })
        .collect();
    routes.sort_by(|a, b| a.path.cmp(&b.path));
    assert_eq!(routes.len(), methods.len(), "{table}");
    routes
}

/// Numbers and what follows each, up to the next.
fn entries(text: &str) -> Vec<(&str, &str)> {
    let parts = text.split("RouteId(").skip(1);
    parts.map(|part| part.split_once("): ").unwrap()).collect()
}

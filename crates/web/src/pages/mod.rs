//! One file a page.

mod days;
mod imports;
mod methods;
mod review;
mod settings;
mod welcome;

use axum::Router;

use crate::app::App;

/// Every page and every data endpoint.
pub(crate) fn routes() -> Router<App> {
    Router::new()
        .merge(welcome::routes())
        .merge(review::routes())
        .merge(days::routes())
        .merge(imports::routes())
        .merge(settings::routes())
        .merge(methods::routes())
}

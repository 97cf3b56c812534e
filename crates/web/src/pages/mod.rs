//! One file a page.

mod away;
mod backups;
mod bring;
mod days;
mod devices;
mod feeds;
mod find;
mod imports;
mod lows;
mod methods;
mod now;
mod pairs;
mod review;
mod sensor;
mod settings;
mod trust;
mod understanding;
mod visit;
mod wear;
mod welcome;
mod write;

use axum::Router;

use crate::app::App;

/// Every page and every data endpoint.
pub(crate) fn routes() -> Router<App> {
    Router::new()
        .merge(welcome::routes())
        .merge(now::routes())
        .merge(review::routes())
        .merge(pairs::routes())
        .merge(trust::routes())
        .merge(sensor::routes())
        .merge(wear::routes())
        .merge(visit::routes())
        .merge(lows::routes())
        .merge(days::routes())
        .merge(find::routes())
        .merge(imports::routes())
        .merge(bring::routes())
        .merge(write::routes())
        .merge(away::routes())
        .merge(settings::routes())
        .merge(devices::routes())
        .merge(feeds::routes())
        .merge(methods::routes())
}

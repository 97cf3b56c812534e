//! Which path answers what.

use std::sync::Arc;

use axum::Router;
use axum::middleware;
use tower_http::CompressionLevel;
use tower_http::compression::CompressionLayer;

use crate::door::{self, Door};
use crate::guard::Guard;
use crate::invented::{Invented, Whose};
use crate::waiting::WaitingRoom;
use crate::{Backend, Settings, Trouble, assets, error, guard, invented, pages};

/// What every route may use.
#[derive(Clone)]
pub(crate) struct App {
    backend: Arc<dyn Backend>,
    invented: Arc<Invented>,
    waiting: Arc<WaitingRoom>,
    door: Option<Arc<Door>>,
}

impl App {
    /// Asks the backend off the threads that answer requests, for it may read the disk or compute for a while.
    pub(crate) async fn ask<T: Send + 'static>(
        &self,
        question: impl FnOnce(&dyn Backend) -> Result<T, Trouble> + Send + 'static,
    ) -> Result<T, Trouble> {
        let backend = self.invented.shown().unwrap_or_else(|| Arc::clone(&self.backend));
        match tokio::task::spawn_blocking(move || question(&*backend)).await {
            Ok(answer) => answer,
            Err(_) => Err(Trouble::Internal("the answer was not finished".to_owned())),
        }
    }

    /// Shows the invented recording in place of the book.
    pub(crate) async fn show_invented(&self) -> Result<(), Trouble> {
        let invent = self.backend.invent().ok_or(Trouble::NotFound)?;
        let invented = Arc::clone(&self.invented);
        match tokio::task::spawn_blocking(move || invented.show(invent)).await {
            Ok(shown) => shown,
            Err(_) => Err(Trouble::Internal("the recording was not finished".to_owned())),
        }
    }

    /// Shows the book again.
    pub(crate) fn show_own(&self) {
        self.invented.put_away();
    }

    /// Whether an invented recording can be shown.
    pub(crate) fn can_invent(&self) -> bool {
        self.backend.invent().is_some()
    }

    /// Whose data is shown.
    pub(crate) fn whose(&self) -> Whose {
        match self.invented.shown() {
            Some(_) => Whose::InventedInPlace,
            None if self.backend.is_invented() => Whose::Invented,
            None => Whose::Own,
        }
    }

    /// Files handed over but not yet in the book.
    pub(crate) fn waiting(&self) -> &WaitingRoom {
        &self.waiting
    }

    /// The door to the home network, where there is one.
    pub(crate) fn door(&self) -> Option<Arc<Door>> {
        self.door.clone()
    }

    /// The settings every page is shown by.
    pub(crate) async fn settings(&self) -> Result<Settings, Trouble> {
        self.ask(|backend| backend.settings()).await
    }
}

/// The whole app over a backend, for this machine alone: pages, data, assets, and the guards around them.
pub fn router(backend: Arc<dyn Backend>) -> Router {
    guarded(routes(), Guard::loopback(), App::over(backend, None))
}

impl App {
    pub(crate) fn over(backend: Arc<dyn Backend>, door: Option<Arc<Door>>) -> Self {
        App {
            backend,
            invented: Arc::default(),
            waiting: Arc::default(),
            door,
        }
    }

    /// For this machine alone, with a door to look after.
    pub(crate) fn on_loopback(self) -> Router {
        guarded(routes(), Guard::loopback(), self)
    }

    /// For the home network, under these names: through the door alone.
    pub(crate) fn at_home(self, door: Arc<Door>, names: Vec<String>) -> Router {
        let routes = routes().layer(middleware::from_fn_with_state(door, door::admit));
        guarded(routes, Guard::over("https", names), self)
    }
}

fn routes() -> Router<App> {
    Router::new()
        .merge(pages::routes())
        .merge(assets::routes())
        .fallback(async || Trouble::NotFound)
        .layer(middleware::from_fn(error::lead_back))
        .layer(CompressionLayer::new().quality(CompressionLevel::Fastest))
}

fn guarded(routes: Router<App>, guard: Arc<Guard>, app: App) -> Router {
    routes
        .layer(middleware::from_fn_with_state(app.clone(), invented::told))
        .layer(middleware::from_fn_with_state(guard, guard::check))
        .with_state(app)
}

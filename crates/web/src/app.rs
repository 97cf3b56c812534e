//! Which path answers what.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Request, State};
use axum::middleware::{self, Next};
use axum::response::Response;
use interstice_tongue::{Tongue, current, say, while_polled, within};
use tower_http::CompressionLevel;
use tower_http::compression::CompressionLayer;

use crate::door::{self, Door};
use crate::guard::Guard;
use crate::invented::{Invented, Whose};
use crate::news::News;
use crate::push::Gate;
use crate::waiting::WaitingRoom;
use crate::{Backend, Settings, Trouble, assets, error, guard, invented, news, pages, push};

/// What every route may use.
#[derive(Clone)]
pub(crate) struct App {
    backend: Arc<dyn Backend>,
    invented: Arc<Invented>,
    waiting: Arc<WaitingRoom>,
    door: Option<Arc<Door>>,
    gate: Arc<Gate>,
    news: Arc<News>,
}

impl App {
    /// Asks the book that is shown, off the threads that answer requests, for it may read the disk or compute for a while.
    pub(crate) async fn ask<T: Send + 'static>(
        &self,
        question: impl FnOnce(&dyn Backend) -> Result<T, Trouble> + Send + 'static,
    ) -> Result<T, Trouble> {
        let shown = self.invented.shown().unwrap_or_else(|| Arc::clone(&self.backend));
        App::asked(shown, question).await
    }

    /// Asks the wearer's own book, whatever is shown: what others are given, and what was written down elsewhere, is never of
    /// an invented one.
    pub(crate) async fn ask_own<T: Send + 'static>(
        &self,
        question: impl FnOnce(&dyn Backend) -> Result<T, Trouble> + Send + 'static,
    ) -> Result<T, Trouble> {
        App::asked(Arc::clone(&self.backend), question).await
    }

    async fn asked<T: Send + 'static>(
        backend: Arc<dyn Backend>,
        question: impl FnOnce(&dyn Backend) -> Result<T, Trouble> + Send + 'static,
    ) -> Result<T, Trouble> {
        let tongue = current();
        match tokio::task::spawn_blocking(move || within(tongue, || question(&*backend))).await {
            Ok(answer) => answer,
            Err(_) => Err(Trouble::Internal("the answer was not finished".to_owned())),
        }
    }

    /// Shows the invented recording in place of the book, while that is empty.
    pub(crate) async fn show_invented(&self) -> Result<(), Trouble> {
        let invent = self.backend.invent().ok_or(Trouble::NotFound)?;
        if !self.ask_own(|own| own.is_empty()).await? {
            return Err(Trouble::Request(say!("error-not-empty")));
        }
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

    /// Whether another recording is shown than the wearer's own.
    pub(crate) fn is_another_shown(&self) -> bool {
        self.invented.shown().is_some() || self.backend.is_invented()
    }

    /// Whose data is shown. Once the book has something in it, that is shown again.
    pub(crate) async fn whose(&self) -> Whose {
        if self.invented.shown().is_some() && !matches!(self.ask_own(|own| own.is_empty()).await, Ok(true)) {
            self.show_own();
        }
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

    /// Where changes of the book are told of.
    pub(crate) fn news(&self) -> &News {
        &self.news
    }

    /// How much may be sent.
    pub(crate) fn gate(&self) -> &Gate {
        &self.gate
    }

    /// The language of the wearer, whatever is shown; English where their book cannot be asked, which the page then says.
    async fn language(&self) -> Tongue {
        let settings = self.ask_own(|own| own.settings()).await;
        settings.map_or(Tongue::English, |settings| settings.language)
    }

    /// The settings every page is shown by.
    pub(crate) async fn settings(&self) -> Result<Settings, Trouble> {
        self.ask(|backend| backend.settings()).await
    }
}

/// The whole app over a backend, for this machine alone: pages, data, assets, and the guards around them.
pub fn router(backend: Arc<dyn Backend>) -> Router {
    guarded(
        routes(),
        Guard::loopback(),
        App::over(backend, None, Arc::default()),
    )
}

/// The same with devices, links and feeds to look after.
pub fn router_with_door(backend: Arc<dyn Backend>, door: Arc<Door>) -> Router {
    App::over(backend, Some(door), Arc::default()).on_loopback()
}

impl App {
    pub(crate) fn over(backend: Arc<dyn Backend>, door: Option<Arc<Door>>, news: Arc<News>) -> Self {
        App {
            backend,
            invented: Arc::default(),
            waiting: Arc::default(),
            door,
            gate: Arc::default(),
            news,
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
        .merge(push::routes())
        .merge(news::routes())
        .merge(assets::routes())
        .fallback(async || Trouble::NotFound)
        .layer(middleware::from_fn(error::lead_back))
        .layer(CompressionLayer::new().quality(CompressionLevel::Fastest))
}

fn guarded(routes: Router<App>, guard: Arc<Guard>, app: App) -> Router {
    routes
        .layer(middleware::from_fn_with_state(app.clone(), news::tell_of_writes))
        .layer(middleware::from_fn_with_state(app.clone(), invented::told))
        .layer(middleware::from_fn_with_state(app.clone(), speak))
        .layer(middleware::from_fn_with_state(guard, guard::check))
        .with_state(app)
}

/// Answers in the language of the wearer. Files of the app are the same in all of them.
async fn speak(State(app): State<App>, request: Request, next: Next) -> Response {
    let tongue = if request.uri().path().starts_with("/assets/") {
        Tongue::English
    } else {
        app.language().await
    };
    while_polled(tongue, next.run(request)).await
}

//! The listener.

use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;

use axum::Router;
use axum::serve::ListenerExt;
use interstice_home::{Certificate, Household, Names};
use tokio::net::TcpListener;
use tokio::sync::watch;

use crate::Backend;
use crate::app::App;
use crate::door::Door;
use crate::folders::keep_looking;
use crate::news::News;
use crate::secure::{Secure, config};

/// Why the app cannot be served.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ServeError {
    /// The port is taken or not allowed.
    #[error("cannot listen on port {port}: {source}; choose another with --port, or 0 for any free one")]
    Bind {
        /// The port asked for.
        port: u16,
        /// Cause.
        source: std::io::Error,
    },
    /// An address of the home network is taken or not allowed.
    #[error("cannot listen on {address}: {source}; choose another port with --home-port")]
    BindHome {
        /// Where.
        address: SocketAddr,
        /// Cause.
        source: std::io::Error,
    },
    /// The certificate does not do.
    #[error("the certificate beside the book cannot be used: {0}; move the folder away and start again")]
    Certificate(String),
    /// The listener broke.
    #[error("the listener stopped: {0}; start it again")]
    Serve(#[from] std::io::Error),
}

/// The app, listening on 127.0.0.1, and on the home network where that was asked for. Prints nothing.
pub struct Served {
    listener: TcpListener,
    address: SocketAddr,
    backend: Arc<dyn Backend>,
    router: Router,
    news: Arc<News>,
    household: Option<Household>,
    home: Option<(Secure, Router, Vec<SocketAddr>)>,
}

impl Served {
    /// Listens over a backend; port 0 lets the system choose.
    ///
    /// # Errors
    /// `Bind`.
    pub async fn over(backend: Arc<dyn Backend>, port: u16) -> Result<Self, ServeError> {
        let bind = |source| ServeError::Bind { port, source };
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))
            .await
            .map_err(bind)?;
        let address = listener.local_addr().map_err(bind)?;
        let news = Arc::<News>::default();
        Ok(Served {
            listener,
            address,
            router: App::over(Arc::clone(&backend), None, Arc::clone(&news)).on_loopback(),
            backend,
            news,
            household: None,
            home: None,
        })
    }

    /// Looks after devices, links and feeds too, and into the folders among those.
    #[must_use]
    pub fn with_door(self, door: Arc<Door>) -> Self {
        Served {
            household: Some(door.household().clone()),
            router: App::over(Arc::clone(&self.backend), Some(door), Arc::clone(&self.news)).on_loopback(),
            ..self
        }
    }

    /// Listens on the home network too, under these names, through this door.
    ///
    /// # Errors
    /// `BindHome`, `Certificate`.
    pub async fn at_home(
        self,
        door: Arc<Door>,
        names: &Names,
        port: u16,
        certificate: Certificate,
    ) -> Result<Self, ServeError> {
        let config = config(certificate).map_err(|error| ServeError::Certificate(error.to_string()))?;
        let mut listeners = Vec::new();
        for &ip in &names.addresses {
            let address = SocketAddr::new(ip, port);
            let bind = |source| ServeError::BindHome { address, source };
            listeners.push(TcpListener::bind(address).await.map_err(bind)?);
        }
        let addresses = listeners
            .iter()
            .map(TcpListener::local_addr)
            .collect::<Result<_, _>>()?;
        let app = App::over(
            Arc::clone(&self.backend),
            Some(Arc::clone(&door)),
            Arc::clone(&self.news),
        );
        let router = app.at_home(Arc::clone(&door), names.hosts());
        let home = (Secure::over(listeners, config)?, router, addresses);
        Ok(Served {
            home: Some(home),
            ..self.with_door(door)
        })
    }

    /// Tells open pages that the book has changed, for what brings readings by another way than the app's own.
    pub fn teller(&self) -> impl Fn() + Clone + Send + 'static {
        let news = Arc::clone(&self.news);
        move || news.tell()
    }

    /// Where it listens on this machine.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Where it listens on the home network.
    pub fn home_addresses(&self) -> &[SocketAddr] {
        self.home.as_ref().map_or(&[], |home| &home.2)
    }

    /// Answers until `stop` is ready.
    ///
    /// # Errors
    /// `Serve`.
    pub async fn until(self, stop: impl Future<Output = ()> + Send + 'static) -> Result<(), ServeError> {
        // A page goes out in several writes; without this the last one waits up to 40 ms for the browser's receipt.
        let listener = self.listener.tap_io(|connection| {
            // A connection that cannot be told so is slower and otherwise the same.
            let _ = connection.set_nodelay(true);
        });
        let looking = self.household.map(|household| {
            let news = Arc::clone(&self.news);
            tokio::spawn(keep_looking(household, self.backend, move || news.tell()))
        });
        let news = self.news;
        let stop = async move {
            stop.await;
            // Pages that listen would keep the app from ending.
            news.end();
            if let Some(looking) = looking {
                looking.abort();
            }
        };
        let (ended, end) = watch::channel(false);
        let here = axum::serve(listener, self.router).with_graceful_shutdown(async move {
            stop.await;
            // Nobody else listens where there is no home network.
            let _ = ended.send(true);
        });
        let Some((secure, router, _)) = self.home else {
            return Ok(here.await?);
        };
        let home = axum::serve(secure, router).with_graceful_shutdown(has_ended(end));
        tokio::try_join!(async { here.await }, async { home.await })?;
        Ok(())
    }
}

async fn has_ended(mut end: watch::Receiver<bool>) {
    // The sender goes only when it is over.
    let _ = end.wait_for(|over| *over).await;
}

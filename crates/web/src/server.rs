//! The listener.

use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;

use axum::serve::ListenerExt;
use tokio::net::TcpListener;

use crate::{Backend, router};

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
    /// The listener broke.
    #[error("the listener stopped: {0}; start it again")]
    Serve(#[from] std::io::Error),
}

/// The app, listening on 127.0.0.1 alone. Prints nothing.
pub struct Served {
    listener: TcpListener,
    address: SocketAddr,
    backend: Arc<dyn Backend>,
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
        Ok(Served {
            listener,
            address,
            backend,
        })
    }

    /// Where it listens.
    pub fn address(&self) -> SocketAddr {
        self.address
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
        axum::serve(listener, router(self.backend))
            .with_graceful_shutdown(stop)
            .await?;
        Ok(())
    }
}

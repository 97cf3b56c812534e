//! The listener.

use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;

use tokio::net::TcpListener;

use crate::{Backend, router};

/// How to listen.
#[derive(Clone, Copy, Debug, Default)]
pub struct Options {
    /// Port; 0 lets the system choose.
    pub port: u16,
}

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

/// Listens on 127.0.0.1 until `stop` is ready. `ready` is told the address once requests are answered. Prints nothing.
///
/// # Errors
/// `Bind` when the port cannot be had, `Serve` when the listener breaks.
pub async fn serve(
    backend: Arc<dyn Backend>,
    options: Options,
    ready: impl FnOnce(SocketAddr),
    stop: impl Future<Output = ()> + Send + 'static,
) -> Result<(), ServeError> {
    let bind = |source| ServeError::Bind {
        port: options.port,
        source,
    };
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, options.port))
        .await
        .map_err(bind)?;
    ready(listener.local_addr().map_err(bind)?);
    axum::serve(listener, router(backend))
        .with_graceful_shutdown(stop)
        .await?;
    Ok(())
}

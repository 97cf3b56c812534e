//! Encrypted connections from the home network. What is not encrypted, or comes from beyond, is closed without a word.

use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::serve::Listener;
use interstice_home::{Certificate, is_of_home};
use rustls::ServerConfig;
use rustls::crypto::ring;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc};
use tokio_rustls::TlsAcceptor;
use tokio_rustls::server::TlsStream;

/// Connections at once; a household's devices keep a few each.
const CONNECTIONS: usize = 64;

/// A greeting that takes longer is given up.
const GREETING: Duration = Duration::from_secs(10);

/// After a listener failed, for want of file handles perhaps.
const PAUSE: Duration = Duration::from_millis(200);

/// Connections that have been greeted, from every address listened on.
pub(crate) struct Secure {
    greeted: mpsc::Receiver<(Held, SocketAddr)>,
    address: SocketAddr,
}

/// What protects the connections: TLS 1.3 alone.
pub(crate) fn config(certificate: Certificate) -> Result<Arc<ServerConfig>, rustls::Error> {
    let config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_protocol_versions(&[&rustls::version::TLS13])?
        .with_no_client_auth()
        .with_single_cert(certificate.chain, certificate.key)?;
    Ok(Arc::new(config))
}

impl Secure {
    pub(crate) fn over(listeners: Vec<TcpListener>, config: Arc<ServerConfig>) -> io::Result<Self> {
        let first = listeners.first().ok_or(io::ErrorKind::AddrNotAvailable)?;
        let address = first.local_addr()?;
        let (ready, greeted) = mpsc::channel(CONNECTIONS);
        let free = Arc::new(Semaphore::new(CONNECTIONS));
        for listener in listeners {
            let acceptor = TlsAcceptor::from(Arc::clone(&config));
            tokio::spawn(listen(listener, acceptor, Arc::clone(&free), ready.clone()));
        }
        Ok(Secure { greeted, address })
    }
}

async fn listen(
    listener: TcpListener,
    acceptor: TlsAcceptor,
    free: Arc<Semaphore>,
    ready: mpsc::Sender<(Held, SocketAddr)>,
) {
    while let Ok(place) = Arc::clone(&free).acquire_owned().await {
        let accepted = tokio::select! {
            accepted = listener.accept() => accepted,
            // The app has ended.
            () = ready.closed() => return,
        };
        let Ok((stream, peer)) = accepted else {
            tokio::time::sleep(PAUSE).await;
            continue;
        };
        if !is_of_home(peer.ip()) {
            continue;
        }
        let (acceptor, ready) = (acceptor.clone(), ready.clone());
        tokio::spawn(async move {
            // A connection that cannot be told so is slower and otherwise the same.
            let _ = stream.set_nodelay(true);
            if let Ok(Ok(stream)) = tokio::time::timeout(GREETING, acceptor.accept(stream)).await {
                // Nobody hears it where the app has ended.
                let _ = ready
                    .send((
                        Held {
                            stream,
                            _place: place,
                        },
                        peer,
                    ))
                    .await;
            }
        });
    }
}

impl Listener for Secure {
    type Io = Held;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Held, SocketAddr) {
        match self.greeted.recv().await {
            Some(greeted) => greeted,
            // Every listener has ended, which they do after the app alone.
            None => std::future::pending().await,
        }
    }

    fn local_addr(&self) -> io::Result<SocketAddr> {
        Ok(self.address)
    }
}

/// A connection and the place it takes among all that may be.
pub(crate) struct Held {
    stream: TlsStream<TcpStream>,
    _place: OwnedSemaphorePermit,
}

impl AsyncRead for Held {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(cx, buf)
    }
}

impl AsyncWrite for Held {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &[u8]) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(cx, buf)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

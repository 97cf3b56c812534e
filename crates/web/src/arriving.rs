//! The body of a request that writes, as long as it keeps coming: somebody who sends a byte a minute holds nothing up.

use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::body::{Body, Bytes, HttpBody};
use http_body::{Frame, SizeHint};
use tokio::time::{Instant, Sleep, sleep};

/// How long a body may take.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Patience {
    /// Between two pieces.
    pub(crate) stall: Duration,
    /// In all.
    pub(crate) whole: Duration,
}

/// A quarter of a gigabyte, the largest that is taken, over the slower kind of home network (about 1 MB/s).
pub(crate) const UPLOAD: Patience = Patience {
    stall: Duration::from_secs(20),
    whole: Duration::from_secs(300),
};

/// A body with an end to it.
pub(crate) struct Arriving {
    body: Body,
    stall: Duration,
    stalled: Pin<Box<Sleep>>,
    over: Pin<Box<Sleep>>,
}

impl Arriving {
    pub(crate) fn new(body: Body, patience: Patience) -> Self {
        Arriving {
            body,
            stall: patience.stall,
            stalled: Box::pin(sleep(patience.stall)),
            over: Box::pin(sleep(patience.whole)),
        }
    }
}

impl HttpBody for Arriving {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
        let this = self.get_mut();
        if let Poll::Ready(frame) = Pin::new(&mut this.body).poll_frame(cx) {
            this.stalled.as_mut().reset(Instant::now() + this.stall);
            return Poll::Ready(frame);
        }
        let late = this.stalled.as_mut().poll(cx).is_ready() || this.over.as_mut().poll(cx).is_ready();
        if late {
            let why = std::io::Error::new(
                std::io::ErrorKind::TimedOut,
                "what was sent did not arrive in time",
            );
            return Poll::Ready(Some(Err(axum::Error::new(why))));
        }
        Poll::Pending
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gives a byte each so often, for ever.
    struct Drip(Pin<Box<Sleep>>, Duration);

    impl HttpBody for Drip {
        type Data = Bytes;
        type Error = std::convert::Infallible;

        fn poll_frame(
            self: Pin<&mut Self>,
            cx: &mut Context<'_>,
        ) -> Poll<Option<Result<Frame<Bytes>, Self::Error>>> {
            let this = self.get_mut();
            if this.0.as_mut().poll(cx).is_pending() {
                return Poll::Pending;
            }
            this.0.as_mut().reset(Instant::now() + this.1);
            Poll::Ready(Some(Ok(Frame::data(Bytes::from_static(b"x")))))
        }
    }

    async fn taken(each: Duration, patience: Patience) -> (bool, Duration) {
        let begun = Instant::now();
        let body = Body::new(Drip(Box::pin(sleep(each)), each));
        let all = axum::body::to_bytes(Body::new(Arriving::new(body, patience)), usize::MAX).await;
        (all.is_ok(), begun.elapsed())
    }

    /// Without an end these bodies never finish.
    #[tokio::test]
    async fn a_body_that_stalls_or_drips_is_given_up() {
        let ms = Duration::from_millis;
        let patience = Patience {
            stall: ms(60),
            whole: ms(300),
        };
        let (whole, stalled) = taken(ms(5000), patience).await;
        assert!(!whole && stalled < ms(250), "{stalled:?}");
        let (whole, dripped) = taken(ms(10), patience).await;
        assert!(!whole && dripped >= ms(300) && dripped < ms(2000), "{dripped:?}");
    }
}

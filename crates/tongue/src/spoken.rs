//! Which language is spoken now: a matter of the thread.

use std::cell::Cell;
use std::future::{Future, poll_fn};
use std::marker::PhantomData;

use crate::Tongue;

thread_local! {
    static SPOKEN: Cell<Tongue> = const { Cell::new(Tongue::English) };
}

/// The language spoken on this thread.
pub fn current() -> Tongue {
    SPOKEN.get()
}

/// Speaks it on this thread from now on: for a program that answers one person.
pub fn speak(tongue: Tongue) {
    SPOKEN.set(tongue);
}

/// Speaks it within `what`, and what was spoken before afterwards.
pub fn within<T>(tongue: Tongue, what: impl FnOnce() -> T) -> T {
    let _speaking = Speaking::start(tongue);
    what()
}

/// Speaks it whenever the future goes on, on whichever thread that is: for an answer that waits in between.
pub async fn while_polled<F: Future>(tongue: Tongue, future: F) -> F::Output {
    let mut future = Box::pin(future);
    poll_fn(move |context| within(tongue, || future.as_mut().poll(context))).await
}

/// Speaks a language until it is dropped.
#[derive(Debug)]
pub struct Speaking {
    before: Tongue,
    /// It must be dropped on the thread it was made on.
    stays: PhantomData<*const ()>,
}

impl Speaking {
    /// Begins.
    #[must_use = "the language is spoken until this is dropped"]
    pub fn start(tongue: Tongue) -> Self {
        Speaking {
            before: SPOKEN.replace(tongue),
            stays: PhantomData,
        }
    }
}

impl Drop for Speaking {
    fn drop(&mut self) {
        SPOKEN.set(self.before);
    }
}

#[cfg(test)]
mod tests {
    use std::future::ready;
    use std::pin::pin;
    use std::task::{Context, Poll, Waker};

    use super::*;

    #[test]
    fn what_was_spoken_before_is_spoken_again() {
        let inside = within(Tongue::Spanish, || {
            let innermost = within(Tongue::English, current);
            (innermost, current())
        });
        assert_eq!(inside, (Tongue::English, Tongue::Spanish));
        assert_eq!(current(), Tongue::English);
    }

    #[test]
    fn a_fault_inside_leaves_nothing_spoken() {
        let fault = std::panic::catch_unwind(|| within(Tongue::Spanish, || assert_eq!(1, 2)));
        assert!(fault.is_err());
        assert_eq!(current(), Tongue::English);
    }

    /// Two answers that take turns on one thread, as those of a server do.
    #[test]
    fn answers_that_wait_keep_each_their_language() {
        let answer = |tongue| {
            while_polled(tongue, async {
                let before = current();
                let mut waited = false;
                poll_fn(|_| match std::mem::replace(&mut waited, true) {
                    true => Poll::Ready(()),
                    false => Poll::Pending,
                })
                .await;
                (before, current(), ready(()).await)
            })
        };
        let mut one = pin!(answer(Tongue::Spanish));
        let mut other = pin!(answer(Tongue::English));
        let mut context = Context::from_waker(Waker::noop());
        assert!(one.as_mut().poll(&mut context).is_pending());
        assert!(other.as_mut().poll(&mut context).is_pending());
        assert_eq!(current(), Tongue::English);
        let spoken = Poll::Ready((Tongue::Spanish, Tongue::Spanish, ()));
        assert_eq!(one.as_mut().poll(&mut context), spoken);
        let spoken = Poll::Ready((Tongue::English, Tongue::English, ()));
        assert_eq!(other.as_mut().poll(&mut context), spoken);
    }
}

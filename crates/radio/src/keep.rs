//! Listening for as long as it is wanted: again after each end, after longer and longer pauses.

use std::time::Duration;

use interstice_home::Heard;
use tokio::sync::watch;

use crate::bus::At;
use crate::listen::listen;
use crate::{Desk, RadioError};

/// Says when it is enough: once it holds `true`, or its other end is gone.
pub type Stop = watch::Receiver<bool>;

/// How long is waited.
#[derive(Clone, Copy, Debug)]
pub struct Pace {
    /// Before the first further try.
    pub first: Duration,
    /// Before any: twice the one before, up to this.
    pub longest: Duration,
    /// For a word of the sensor, before it is looked at whether it is still there.
    pub silence: Duration,
    /// For an answer.
    pub answers_within: Duration,
}

impl Default for Pace {
    /// A sensor that is out of reach for hours costs a try a minute, and is heard within a minute of coming back (ours).
    fn default() -> Self {
        Pace {
            first: Duration::from_secs(2),
            longest: Duration::from_secs(60),
            silence: Duration::from_secs(60),
            answers_within: Duration::from_secs(30),
        }
    }
}

/// Listens to a device until it is told to stop. What goes wrong is kept with what is known of the sensor, for people to see.
pub async fn keep(at: &At, address: &str, pace: Pace, mut heard: Heard, desk: &mut dyn Desk, mut stop: Stop) {
    let mut pause = pace.first;
    loop {
        let mut got = false;
        let ended = tokio::select! {
            biased;
            () = stopped(&mut stop) => return,
            ended = listen(at, address, &pace, &mut heard, desk, &mut got) => ended,
        };
        let why = match ended {
            Ok(never) => match never {},
            Err(why) => why,
        };
        if got {
            pause = pace.first;
        }
        // A sensor that was heard and went is nothing to look at; one that does not come back is.
        let went = got && matches!(why, RadioError::Lost);
        if !went && !matches!(why, RadioError::AnotherSession) {
            heard.trouble = Some(why.to_string());
            // Where even that cannot be kept, the next try will say so again.
            let _ = desk.note(&heard);
        }
        tokio::select! {
            biased;
            () = stopped(&mut stop) => return,
            () = tokio::time::sleep(pause) => {}
        }
        pause = (2 * pause).min(pace.longest);
    }
}

async fn stopped(stop: &mut Stop) {
    // Also where the other end is gone: nobody wants it any more.
    let _ = stop.wait_for(|stop| *stop).await;
}

//! How late the sensors are, in words.

use interstice_findings::trust::{Lag, LagOneWay};

/// The delay in a sentence or three, and how weakly it is known.
pub fn lag(lag: &Lag) -> String {
    let (Some(minutes), Some(low), Some(high)) = (lag.lag_min, lag.lag_min_lo90, lag.lag_min_hi90) else {
        return lag.lag_min_reason.as_ref().map_or_else(String::new, |reason| {
            format!("How late your sensors are behind blood cannot be told yet: {reason}.")
        });
    };
    let mut out = format!(
        "Your sensors run about {minutes:.0} minutes behind blood; nine times in ten it would be between {low:.0} and {high:.0}."
    );
    if lag.lag_weakly_known {
        out.push_str(" That is weakly known: the checks say little more than is thought of any sensor.");
    }
    if let (Some(falling), Some(rising)) = (lag.lag_falling, lag.lag_rising) {
        out.push_str(&format!(
            " While falling about {}, while rising about {}.",
            one_way(&falling),
            one_way(&rising)
        ));
    }
    if lag.lag_stamp_min > 0.0 {
        out.push_str(&format!(
            " The checks carry the times of readings, {:.0} minutes apart, so a delay cannot be told finer, and below zero means \
             that checks seem to come after the sensor.",
            lag.lag_stamp_min
        ));
    }
    out
}

fn one_way(way: &LagOneWay) -> String {
    format!(
        "{:.0} ({:.0} to {:.0})",
        way.lag_min, way.lag_min_lo90, way.lag_min_hi90
    )
}

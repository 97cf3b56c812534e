//! Sensor faults: silences, stuck values, steps, bursts of noise, drift against blood, and an early end.
//!
//! One trace at a time, each fault an interval with its evidence. The yardstick is the trace itself: how often it repeats a
//! value, how far its readings usually lie from their neighbours. So a sensor read every quarter of an hour in tenths of a
//! mmol/L and one read every minute in whole mg/dL are judged alike. A fault is something to look at, not a verdict on the
//! sensor: pressure, food and sensors strung together in one export can look like one.
//!
//! No paper gives rules for these from a person's own export; the rules are ours, with one plausibility limit from print,
//! and each says so.

mod drift;
mod early_end;
mod fault;
mod gaps;
mod noise;
mod signal;
mod step;
mod stuck;

use interstice_glucose::Second;

pub use drift::{CheckedAt, DriftError, FEWEST_DRIFT_CHECKS, FEWEST_DRIFT_DAYS, drift};
pub use early_end::{SILENT_S, UsualLife, Wear, usual_life};
pub use fault::{Evidence, Fault};
use signal::Signal;
pub use signal::Trace;

/// Every fault of one sensor's trace but [`drift`], in order of their beginnings.
///
/// * `until`: up to when readings would have come in, had the sensor gone on: the end of the window, or now.
/// * `wear`: what is known of its end beside the trace.
///
/// Readings less than half a native interval after the one before are passed over: scans between stored readings are no
/// jumps.
pub fn faults(trace: &Trace<'_>, until: Second, wear: &Wear) -> Vec<Fault> {
    let signal = Signal::new(trace);
    let noise = noise::bursts(&signal);
    let mut found = gaps::dropouts(&signal);
    found.extend(stuck::runs(&signal));
    found.extend(step::steps(&signal));
    found.extend(early_end::early_end(&signal, &noise, until, wear));
    found.extend(noise);
    found.sort_by_key(|fault| (fault.from, fault.to));
    found
}

//! What looks wrong with a sensor, in words.

use interstice_findings::TrustFindings;
use interstice_findings::trust::FaultLine;

use super::{Shown, date_and_clock, hours_minutes};

/// 'S2, 9 November 11:15: ended, its last 6 h 11 times rougher than usual'.
pub fn fault_said(line: &FaultLine, shown: Shown) -> String {
    format!(
        "{}, {}: {}",
        line.sensor,
        date_and_clock(line.from.0),
        line.fault.words(shown.unit)
    )
}

/// Faults but silences, which are counted instead.
pub fn faults_apart(findings: &TrustFindings) -> impl Iterator<Item = &FaultLine> {
    findings.faults.iter().filter(|line| line.kind != "dropout")
}

/// How many silences there were, and the longest; empty where there were none.
pub fn silences_said(findings: &TrustFindings) -> String {
    let silences = || findings.faults.iter().filter(|line| line.kind == "dropout");
    let count = silences().count();
    let Some(longest) = silences().max_by(|a, b| a.minutes.total_cmp(&b.minutes)) else {
        return String::new();
    };
    let all: f64 = silences().map(|line| line.minutes).sum();
    if count == 1 {
        return format!(
            "One silence within a sensor's wear: {} on {} ({}).",
            hours_minutes(longest.minutes),
            longest.sensor,
            date_and_clock(longest.from.0)
        );
    }
    format!(
        "{count} silences within sensors' wear, {} in all; the longest {} on {} ({}).",
        hours_minutes(all),
        hours_minutes(longest.minutes),
        longest.sensor,
        date_and_clock(longest.from.0)
    )
}

/// What stands above the faults.
pub const FAULTS_HELP: &str = "Each is judged by what is usual in the same trace. Something to look at, not a verdict: pressure and \
    food can look like a fault.";

//! What makes a sensor good or bad, and what looks wrong with one, in words.

use interstice_findings::TrustFindings;
use interstice_findings::trust::{EffectLine, FaultLine, LevelLine};
use interstice_glucose::{counted, round_half_up};

use super::{Shown, date_and_clock, hours_minutes};

/// What is said of one comparison.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EffectSaid {
    /// 'site: thigh beside upper arm', or the question alone.
    pub name: String,
    /// The answer for the signed difference and for its size; the reason once where there is none.
    pub says: Vec<String>,
    /// Whether either may be taken as there.
    pub holds: bool,
}

/// Every comparison, what may be taken as there first, else in the order asked.
pub fn effects_said(findings: &TrustFindings) -> Vec<EffectSaid> {
    let mut said: Vec<EffectSaid> = Vec::new();
    for line in &findings.effects.asked {
        let name = name(line);
        let place = said
            .iter()
            .position(|other| other.name == name)
            .unwrap_or_else(|| {
                said.push(EffectSaid {
                    name,
                    says: Vec::new(),
                    holds: false,
                });
                said.len() - 1
            });
        let entry = &mut said[place];
        let words = match (line.points, line.of) {
            (None, _) => line.says.clone(),
            (Some(_), "signed") => format!("it reads {}", line.says),
            (Some(_), _) => format!("it stands {}", line.says),
        };
        if !entry.says.contains(&words) {
            entry.says.push(words);
        }
        entry.holds |= line.holds;
    }
    said.sort_by_key(|entry| !entry.holds);
    said
}

fn name(line: &EffectLine) -> String {
    match (&line.level, &line.beside) {
        (Some(level), Some(beside)) => format!("{}: {level} beside {beside}", line.about),
        _ => line.about.to_owned(),
    }
}

/// 'upper arm: 9.2 % (7.1 to 12.0), 4 sensors, 38 checks; plain mean 9.6 %'.
pub fn level_said(line: &LevelLine) -> String {
    let tenth = |value: f64| round_half_up(value, 1);
    format!(
        "{} {}: expect a MARD of {} % ({} to {}); its {} and {} {} %",
        line.about,
        line.level,
        tenth(line.expected_percent),
        tenth(line.expected_percent_lo95.max(0.0)),
        tenth(line.expected_percent_hi95),
        counted(line.sensors, "sensor", "sensors"),
        counted(line.pairs, "check show", "checks show"),
        tenth(line.mard_percent)
    )
}

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

/// What stands above the comparisons.
pub const EFFECTS_HELP: &str = "Each is a comparison between your own sensors, in percentage points of the blood value, with its 95 % \
    margin; the first day and the direction of change are held equal. Everything asked is counted, so that one in many does not stand \
    out by chance, and what a single sensor makes does not count. It shows what went together, not what caused it.";

/// What stands above the faults.
pub const FAULTS_HELP: &str = "Each is judged by what is usual in the same trace. Something to look at, not a verdict: pressure and \
    food can look like a fault.";

//! `interstice trial` as text.

use interstice_findings::TrialLine;
use interstice_findings::wear::trials::TrialSize;
use interstice_glucose::Unit;

use super::table::wrap;
use crate::words::{
    Caution, Shown, answer_table, given_table, sentence, size_table, trial_head, trial_settled,
};

/// How each trial stands; ends in a line feed.
pub fn trials(trials: &[TrialLine]) -> String {
    if trials.is_empty() {
        return "no trial was begun yet; `interstice trial plan` says how many sensors one takes\n"
            .to_owned();
    }
    let lines: Vec<String> = trials
        .iter()
        .flat_map(|trial| wrap(&trial_head(trial), 0))
        .collect();
    lines.join("\n") + "\n"
}

/// One trial in full; ends in a line feed.
pub fn trial(trial: &TrialLine) -> String {
    let mut out = wrap(&trial_head(trial), 0);
    out.push(String::new());
    out.extend(wrap(&trial_settled(trial), 0));
    if let Some(answer) = &trial.answer {
        out.push(String::new());
        out.extend(answer_table(answer, trial).lines());
    }
    if !trial.given.is_empty() {
        out.push(String::new());
        out.extend(given_table(trial).lines());
    }
    caution(&mut out);
    out.join("\n")
}

/// How many sensors and checks a trial takes; ends in a line feed.
pub fn trial_size(size: &TrialSize) -> String {
    let mut out = wrap(&sentence(&size.says), 0);
    if !size.table.is_empty() {
        out.push(String::new());
        out.push("How often such a trial finds it:".to_owned());
        out.extend(size_table(size).lines());
    }
    caution(&mut out);
    out.join("\n")
}

fn caution(out: &mut Vec<String>) {
    out.push(String::new());
    // The words name no glucose.
    out.extend(wrap(&Caution::Wear.text(Shown { unit: Unit::MgPerDl }), 0));
    out.push(String::new());
}

//! `interstice wear` as text.

use interstice_findings::WearFindings;
use interstice_findings::wear::Chosen;
use interstice_glucose::Unit;

use super::drawer::drawer_lines;
use super::table::wrap;
use crate::words::{
    Caution, SKIN_SAID, STAYING_CAUTION, Shown, at_age_said, bedding_cost_said, bedding_said, claim_steps,
    day_and_clock, ends_said, found_said, lost_table, places_table, plan_table, skin_table, staying_differs,
    staying_said, staying_table, trial_head, wear_answer, worth_said, worth_when,
};

/// What is on, what comes next, how long sensors stay on; ends in a line feed.
pub fn wear(findings: &WearFindings, plan: bool) -> String {
    let mut out = wrap(&wear_answer(findings), 0);
    for on in &findings.on_now {
        if let Some(said) = on.trust.as_ref().and_then(at_age_said) {
            out.extend(wrap(&said, 0));
        }
    }
    if let Some(reason) = &findings.plan_reason {
        out.extend(wrap(&format!("No plan: {reason}."), 0));
    }
    if plan && !findings.plan.is_empty() {
        section(
            &mut out,
            &format!("The next {} days", findings.choices.days_ahead),
        );
        out.extend(plan_table(&findings.plan).lines());
        for one in &findings.plan {
            out.push(String::new());
            out.push(format!("{}:", day_and_clock(one.put_on.0)));
            for why in &one.why {
                out.extend(wrap(&format!("- {why}"), 2));
            }
        }
    }
    for unmet in &findings.unmet {
        out.extend(wrap(&format!("Not met: {unmet}."), 0));
    }
    if findings.places.iter().any(|place| place.sensors > 0) {
        section(&mut out, "Places on the body");
        out.extend(places_table(&findings.places).lines());
    }
    section(&mut out, "The drawer");
    out.extend(drawer_lines(&findings.drawer));
    section(&mut out, "How long sensors stay on");
    out.extend(wrap(&ends_said(&findings.ends), 0));
    for staying in &findings.survival {
        out.push(String::new());
        out.extend(staying_table(staying).lines());
        if staying.groups.len() > 1 {
            for said in staying_said(staying) {
                out.extend(wrap(&said, 0));
            }
        }
    }
    if !findings.survival.is_empty() {
        out.push(String::new());
        if staying_differs(&findings.survival) {
            out.extend(wrap(STAYING_CAUTION, 0));
        }
        out.extend(wrap(
            "A sensor that was taken off on purpose, or is still on, might have lasted longer and is counted so. Margins \
             hold in 95 of 100 cases.",
            0,
        ));
    }
    afterwards(&mut out, findings);
    section(&mut out, "Does bedding in help?");
    for said in bedding_said(&findings.bedding) {
        out.extend(wrap(&said, 0));
    }
    if let Some(cost) = &findings.drawer.cost.bedding {
        out.extend(wrap(&bedding_cost_said(cost), 0));
    }
    if !findings.trials.is_empty() {
        section(&mut out, "Trials");
        for trial in &findings.trials {
            out.extend(wrap(&trial_head(trial), 0));
        }
    }
    section(&mut out, "Blood checks that would teach most (none is needed)");
    for said in worth_said(&findings.worth_checking) {
        out.extend(wrap(&format!("- {said}"), 2));
    }
    out.extend(
        worth_when(&findings.worth_checking)
            .iter()
            .flat_map(|said| wrap(said, 0)),
    );
    out.push(String::new());
    // The words name no glucose.
    out.extend(wrap(&Caution::Wear.text(Shown { unit: Unit::MgPerDl }), 0));
    out.push(String::new());
    out.join("\n")
}

/// The skin, what was lost and claimed, what the readings tell that nobody wrote down.
fn afterwards(out: &mut Vec<String>, findings: &WearFindings) {
    if !findings.skin.is_empty() {
        section(out, "The skin afterwards");
        out.extend(wrap(SKIN_SAID, 0));
        for skin in &findings.skin {
            out.push(String::new());
            out.extend(skin_table(skin).lines());
        }
    }
    if !findings.lost.is_empty() {
        section(out, "Lost sensors");
        out.extend(lost_table(&findings.lost).lines());
        let sensor = &findings.lost[0].record;
        out.extend(wrap(
            &format!("The record of one, to send: interstice sensor-record '{sensor}' --out FILE.pdf"),
            0,
        ));
    }
    for claim in &findings.claims {
        section(out, &format!("Claim for {}", claim.record));
        for step in claim_steps(claim) {
            out.extend(wrap(&step, 0));
        }
    }
    if !findings.found.is_empty() {
        let many = interstice_glucose::counted(findings.found.len() as u64, "thing", "things");
        section(out, "Not written down");
        let said = format!(
            "The readings tell of {many} that nobody wrote down: interstice wear --found lists them."
        );
        out.extend(wrap(&said, 0));
    }
}

/// What the readings tell that nobody wrote down, each with the key to confirm it by; ends in a line feed.
pub fn wear_found(findings: &WearFindings) -> String {
    let mut out = Vec::new();
    for found in &findings.found {
        out.push(found.key.clone());
        out.extend(wrap(&format!("  {}", found_said(found)), 2));
    }
    let last = if out.is_empty() {
        "Nothing: all that the readings tell of sensors was written down."
    } else {
        "To write one down: interstice wear --confirm KEY. What is wrong is not confirmed, but written down as it was, with \
         interstice log sensor."
    };
    out.extend(wrap(last, 0));
    out.push(String::new());
    out.join("\n")
}

/// What the plan goes by; ends in a line feed.
pub fn wear_choices(chosen: &Chosen) -> String {
    let mut lines = vec![
        format!("put-on hours      {}", chosen.put_on_hours),
        format!("start hours       {}", chosen.start_hours),
        format!("bedding-in hours  {}", chosen.bedding_h),
        format!("rest days         {}", chosen.rest_days),
        format!("days ahead        {}", chosen.days_ahead),
    ];
    for away in &chosen.away {
        let note = away
            .note
            .as_ref()
            .map_or_else(String::new, |note| format!("  {note}"));
        lines.push(format!("away              {}{note}", away.days));
    }
    for pin in &chosen.pinned {
        let site = pin
            .site
            .as_ref()
            .map_or_else(String::new, |site| format!("  {site}"));
        lines.push(format!("settled put-on    {}{site}", pin.put_on.0));
    }
    lines.push("weights".to_owned());
    let weights = chosen.weights.iter();
    lines.extend(weights.map(|(name, weight)| format!("  {name:<18}{weight}")));
    lines.push(String::new());
    lines.join("\n")
}

fn section(out: &mut Vec<String>, title: &str) {
    out.push(String::new());
    out.push(title.to_owned());
}

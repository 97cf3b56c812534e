//! Personal trials.

use interstice_findings::TrialLine;
use interstice_findings::wear::trials::{Given, TrialSize};
use interstice_glucose::counted;

use super::time::day_and_clock;
use super::trust_table::Table;

/// 'arm or thigh: 3 of 8 sensors put on; next: thigh.'
pub fn trial_head(trial: &TrialLine) -> String {
    format!("{}: {}.", trial.name, trial.says)
}

/// What was settled beforehand, in a sentence or two.
pub fn trial_settled(trial: &TrialLine) -> String {
    let measured = match trial.outcome {
        "hours on" => trial.limit_h.map_or_else(
            || "hours on the body".to_owned(),
            |limit| format!("hours on the body, up to {limit:.0}"),
        ),
        "error" => "mean absolute relative difference from blood over all its wear".to_owned(),
        _ => "mean absolute relative difference from blood in the 24 hours from its start".to_owned(),
    };
    let checks = if trial.checks > 0 {
        format!(
            ", from {} of each sensor ({} at the least)",
            counted(u64::from(trial.checks), "blood check", "blood checks"),
            trial.fewest_checks
        )
    } else {
        String::new()
    };
    let mut ends = Vec::new();
    if let Some(after) = trial.look_after {
        ends.push(format!("one look after {after} sensors, where it may end"));
    }
    if let Some(most) = trial.most_losses {
        ends.push(format!(
            "it ends without an answer once {} of one way came off or failed",
            counted(u64::from(most), "sensor", "sensors")
        ));
    }
    let ends = if ends.is_empty() {
        String::new()
    } else {
        format!(" Before the end: {}.", ends.join("; "))
    };
    format!(
        "Compared: {} ({}). Measured: {measured}{checks}. {} in blocks of {}, begun {}, order drawn with seed {}.{ends}",
        trial.arms.join(" or "),
        trial.compares,
        counted(u64::from(trial.sensors), "sensor", "sensors"),
        trial.block,
        day_and_clock(trial.begun.0),
        trial.seed
    )
}

/// The sensors so far: what was drawn, what was worn, never what they showed.
pub fn given_table(trial: &TrialLine) -> Table {
    let heads = [
        ("Sensor", false),
        ("Put on", false),
        ("Drawn", false),
        ("Worn", false),
        ("Checks", true),
        ("", false),
    ];
    Table::new(
        "given",
        &heads,
        trial.given.iter().map(|one| given(one, trial)).collect(),
    )
}

fn given(one: &Given, trial: &TrialLine) -> Vec<String> {
    let worn = match (one.as_drawn, &one.worn_as) {
        (Some(true), _) => "as drawn".to_owned(),
        (Some(false), Some(other)) => other.clone(),
        (Some(false), None) => "otherwise".to_owned(),
        (None, _) => "not written down".to_owned(),
    };
    let checks = one.checks.map_or_else(
        || "–".to_owned(),
        |checks| format!("{checks} of {}", trial.checks),
    );
    let stands = match (&one.no_outcome, one.over) {
        (Some(why), _) => format!("no outcome: {why}"),
        (None, true) => "over".to_owned(),
        (None, false) => "on".to_owned(),
    };
    vec![
        one.sensor_id.clone().unwrap_or_else(|| "–".to_owned()),
        day_and_clock(one.put_on.0),
        one.arm.clone(),
        worn,
        checks,
        stands,
    ]
}

/// Sensors down, checks across, the chance to find the difference in the cells.
pub fn size_table(size: &TrialSize) -> Table {
    let mut checks: Vec<Option<u32>> = size.table.iter().map(|row| row.checks).collect();
    checks.dedup();
    let first = checks.first().copied().flatten();
    let sensors = size
        .table
        .iter()
        .filter(|row| row.checks == first)
        .map(|row| row.sensors);
    let heads: Vec<(String, bool)> = std::iter::once(("Sensors".to_owned(), true))
        .chain(checks.iter().map(|checks| {
            let head = checks.map_or_else(|| "Found".to_owned(), |checks| format!("{checks} checks each"));
            (head, true)
        }))
        .collect();
    let heads: Vec<(&str, bool)> = heads
        .iter()
        .map(|(name, number)| (name.as_str(), *number))
        .collect();
    let rows = sensors.map(|sensors| {
        let cell = |checks: &Option<u32>| {
            let found = size
                .table
                .iter()
                .find(|row| row.sensors == sensors && row.checks == *checks);
            found.map_or_else(String::new, |row| format!("{:.0} %", row.power_percent))
        };
        std::iter::once(sensors.to_string())
            .chain(checks.iter().map(cell))
            .collect()
    });
    Table::new("trial-size", &heads, rows.collect())
}

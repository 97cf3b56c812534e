//! Personal trials, whether bedding in helps, and which blood check would teach most.

use interstice_findings::trust::{BeddingHelps, GroupLine};
use interstice_findings::wear::trials::{Given, TrialAnswer, TrialSize};
use interstice_findings::wear::{Bedding, WorthChecking};
use interstice_findings::{Figure, TrialLine};
use interstice_glucose::{counted, one_or_many};

use super::time::day_and_clock;
use super::trust_table::Table;

/// A sentence of words that have neither a capital nor a full stop.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).chain(['.']).collect()
    })
}

/// Whether bedding in helps: the figures, then the answer.
pub fn bedding_said(bedding: &BeddingHelps) -> Vec<String> {
    let group = |group: &GroupLine, how: &str| {
        let sensors = counted(group.sensors, "sensor", "sensors");
        let checks = counted(group.pairs, "check", "checks");
        let figure = error(&group.mard_percent);
        figure.map(|figure| format!("{figure} from blood on {sensors} {how} ({checks})"))
    };
    let with = group(&bedding.with, "that had bedded in for half a day or more");
    let without = group(&bedding.without, "that had not");
    let mut said = Vec::new();
    if let (Some(with), Some(without)) = (with, without) {
        said.push(format!("On the first day readings stood {with}, and {without}."));
    }
    said.push(sentence(&bedding.says));
    if bedding.sensors_between > 0 {
        said.push(format!(
            "{} for 2 to 12 h and {} to neither.",
            counted(bedding.sensors_between, "sensor bedded in", "sensors bedded in"),
            one_or_many(&bedding.sensors_between, "belongs", "belong")
        ));
    }
    said
}

/// '7.6 % (5.4 to 10.5)'.
fn error(figure: &Figure) -> Option<String> {
    let within = figure
        .lo95
        .zip(figure.hi95)
        .map_or_else(String::new, |(lo, hi)| format!(" ({lo:.1} to {hi:.1})"));
    Some(format!("{:.1} %{within}", figure.value?))
}

/// What bedding in costs in wear.
pub fn bedding_cost_said(cost: &Bedding) -> String {
    if !cost.from_wear {
        return "It takes none of the labelled wear: the time of your sensors runs from their start."
            .to_owned();
    }
    match (cost.hours_a_year, cost.sensors_a_year) {
        (Some(hours), Some(sensors)) => format!(
            "It is not free: the time of your sensors runs from being put on, so that {:.0} h of bedding in each take {hours:.0} h of \
             labelled wear a year, about {sensors:.1} sensors more.",
            cost.bedding_h
        ),
        _ => "It is not free: the time of your sensors runs from being put on.".to_owned(),
    }
}

/// The checks that would teach most, a line each, or why none is named.
pub fn worth_said(worth: &WorthChecking) -> Vec<String> {
    let mut said: Vec<String> = worth.list.iter().map(|line| sentence(&line.says)).collect();
    said.extend(worth.reason.as_deref().map(sentence));
    said
}

/// When glucose stands still, where something would be gained by it.
pub fn worth_when(worth: &WorthChecking) -> Option<String> {
    if worth.list.is_empty() {
        return None;
    }
    let now = match worth.steady_now {
        Some(true) => "By the last reading glucose stands still now.",
        Some(false) => "By the last reading glucose is changing now: a check would tell less of the sensor.",
        None => "",
    };
    let later = worth.steady_at.map_or_else(String::new, |hour| {
        format!(
            " Of the hours to come today it usually stands still most from {:02}:00 ({:.0} % of readings of the last two weeks).",
            hour.hour, hour.steady_percent
        )
    });
    let said = format!("{now}{later}");
    (!said.is_empty()).then(|| said.trim().to_owned())
}

/// '+1.5', '−0.4'.
fn signed_tenths(value: f64) -> String {
    format!("{value:+.1}").replace('-', "−")
}

/// Each way of a trial that has ended.
pub fn answer_table(answer: &TrialAnswer, trial: &TrialLine) -> Table {
    let unit = if trial.outcome == "hours on" {
        "Mean hours"
    } else {
        "Mean error, %"
    };
    let heads = [
        ("Way", false),
        ("Sensors", true),
        (unit, true),
        ("Beside the first", false),
    ];
    let rows = answer.arms.iter().map(|arm| {
        let beside = answer.beside_first.iter().find(|beside| beside.arm == arm.arm);
        vec![
            arm.arm.clone(),
            arm.sensors.to_string(),
            arm.mean
                .map_or_else(|| "–".to_owned(), |mean| format!("{mean:.1}")),
            beside.map_or_else(String::new, |beside| match beside.lo.zip(beside.hi) {
                Some((lo, hi)) => format!(
                    "{} ({} to {})",
                    signed_tenths(beside.more),
                    signed_tenths(lo),
                    signed_tenths(hi)
                ),
                None => format!("{} (no limit to it)", signed_tenths(beside.more)),
            }),
        ]
    });
    Table::new("trial-answer", &heads, rows.collect())
}

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
        ("Standing", false),
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

//! Trials in words.

use interstice_book::Abandoned;
use interstice_glucose::{Arm, Region, SensorKind, Trial, TrialOutcome, counted, one_or_many};

use super::answer::{BesideFirst, End, TrialAnswer};
use super::size::TrialSize;
use super::{TrialLine, TrialState};

/// Why a coming sensor is worn so.
pub(super) fn turn(trial: &Trial, place: usize, arm: &Arm, kind: Option<&SensorKind>) -> String {
    let what = match arm {
        Arm::Place { .. } => format!("its turn is the {arm}"),
        Arm::Preparation(tags) if tags.is_empty() => "its turn is no preparation".to_owned(),
        Arm::Preparation(_) => format!("its turn is the skin prepared with {arm}"),
        Arm::Cover(tags) if tags.is_empty() => "its turn is no cover".to_owned(),
        Arm::Cover(_) => format!("its turn is the cover {arm}"),
        Arm::BeddingIn { hours: 0 } => "its turn is a start without bedding in".to_owned(),
        Arm::BeddingIn { hours } => format!("its turn is {hours} h of bedding in"),
    };
    let named =
        |region: &Region| kind.is_none_or(|kind| kind.sites.is_empty() || kind.sites.contains(region));
    let own_choice = match arm {
        Arm::Place { region, .. } if !named(region) => ", a place its instructions do not name",
        _ => "",
    };
    format!(
        "trial '{}': {what}{own_choice} (sensor {} of {})",
        trial.name,
        place + 1,
        trial.sensors
    )
}

/// How a trial stands.
pub(super) fn says(line: &TrialLine, trial: &Trial, abandoned: Option<&Abandoned>, end: &End) -> String {
    let mut said = Vec::new();
    let all = trial.sensors;
    let put_on = line.given.len();
    match line.state {
        TrialState::Running => said.push(match &line.next {
            Some(next) => format!("{put_on} of {all} sensors put on; next: {next}"),
            None => format!(
                "all {all} sensors put on; {} of them have shown all they will",
                line.over
            ),
        }),
        TrialState::Ended => said.push(format!("ended after {all} sensors")),
        TrialState::EndedAtLook => said.push(format!(
            "it ended at the look that was settled for after {} of {all} sensors",
            trial.look_after.unwrap_or(all)
        )),
        TrialState::EndedByLosses => {
            let way = end
                .lost
                .map_or_else(String::new, |arm| format!(" ({})", trial.arms[arm as usize]));
            let most = trial.most_losses.unwrap_or(0);
            said.push(format!(
                "it ended by its rule: {} of one way{way} came off or failed",
                counted(u64::from(most), "sensor", "sensors")
            ));
        }
        TrialState::Abandoned => said.push(abandoned.map_or_else(
            || "given up".to_owned(),
            |gone| format!("given up after {put_on} of {all} sensors: {}", gone.reason),
        )),
    }
    if end.looked {
        said.push("the look that was settled was taken, and it went on".to_owned());
    }
    match (&line.answer, &line.answer_reason) {
        (Some(answer), _) => said.push(answer.says.clone()),
        (None, Some(reason)) if line.state == TrialState::Ended => said.push(format!("no answer: {reason}")),
        _ => {}
    }
    said.extend(notes(line));
    sentences(&said)
}

/// One after another, the first without a capital, the last without a full stop.
fn sentences(said: &[String]) -> String {
    let mut all = String::new();
    for (place, one) in said.iter().enumerate() {
        let mut letters = one.chars();
        match letters.next() {
            Some(first) if place > 0 => {
                all.push_str(". ");
                all.extend(first.to_uppercase());
            }
            first => all.extend(first),
        }
        all.push_str(letters.as_str());
    }
    all
}

fn notes(line: &TrialLine) -> Vec<String> {
    let mut notes = Vec::new();
    if line.deviations > 0 {
        notes.push(format!(
            "{} worn another way than was drawn and {} as drawn, so that a difference may look smaller than it is",
            counted(u64::from(line.deviations), "sensor was", "sensors were"),
            one_or_many(&line.deviations, "counts", "count")
        ));
    }
    let without = line.over - line.measured;
    if without > 0 {
        notes.push(format!(
            "{} no outcome",
            counted(u64::from(without), "sensor has", "sensors have")
        ));
    }
    notes
}

/// What the trial found.
pub(super) fn answer(trial: &Trial, answer: &TrialAnswer) -> String {
    let first = trial.arms.first().map(ToString::to_string).unwrap_or_default();
    let mut said: Vec<String> = answer
        .beside_first
        .iter()
        .map(|beside| difference(trial.outcome, beside, &first))
        .collect();
    let often = match answer.orders {
        Some(orders) if answer.exact => format!(
            "{:.0} of the {orders} orders that could have been drawn show as much",
            answer.p * orders as f64
        ),
        _ => format!(
            "{:.1} % of the orders that could have been drawn show as much",
            100.0 * answer.p
        ),
    };
    let limit = 100.0 * answer.most_p;
    said.push(if answer.differs {
        format!("{often}, no more than {limit:.0} %: this is more than chance")
    } else {
        format!(
            "{often}, more than {limit:.0} %: chance alone may have made it, and this trial does not tell"
        )
    });
    sentences(&said)
}

fn difference(outcome: TrialOutcome, beside: &BesideFirst, first: &str) -> String {
    let (unit, more, less) = match outcome {
        TrialOutcome::FirstDayError => (
            "points",
            "further from blood on the first day",
            "nearer to blood on the first day",
        ),
        TrialOutcome::Error => ("points", "further from blood", "nearer to blood"),
        TrialOutcome::HoursOn => ("h", "longer on", "shorter on"),
    };
    let way = |value: f64| if value >= 0.0 { more } else { less };
    let within = match (beside.lo, beside.hi) {
        (Some(lo), Some(hi)) => format!(
            "anything from {:.1} {} to {:.1} {} fits, with {:.0} % confidence",
            lo.abs(),
            short(way(lo)),
            hi.abs(),
            short(way(hi)),
            beside.confidence_percent
        ),
        _ => "how large it may be cannot be told from so few sensors".to_owned(),
    };
    format!(
        "{}: on average {:.1} {unit} {} than {first}; {within}",
        beside.arm,
        beside.more.abs(),
        way(beside.more)
    )
}

/// 'further' of 'further from blood'.
fn short(way: &str) -> &str {
    way.split(' ').next().unwrap_or(way)
}

/// How many sensors it takes.
pub(super) fn size(size: &TrialSize) -> String {
    if let Some(reason) = &size.reason {
        return reason.clone();
    }
    let (unit, within) = if size.outcome == TrialOutcome::HoursOn.name() {
        ("h", "")
    } else if size.outcome == TrialOutcome::FirstDayError.name() {
        ("points", " on each first day")
    } else {
        ("points", " of each")
    };
    let spread = match (size.between_sensors, size.between_checks) {
        (Some(sensors), Some(checks)) => format!(
            "{} of yours differ by {sensors:.1} {unit} from each other and {} by {checks:.1} {unit} beyond that",
            counted(size.from_sensors, "sensor", "sensors"),
            counted(size.from_checks, "blood check", "blood checks")
        ),
        (Some(sensors), None) => format!(
            "{} of yours differ by {sensors:.0} {unit} from each other",
            counted(size.from_sensors, "sensor", "sensors")
        ),
        _ => String::new(),
    };
    let ways: Vec<String> = size
        .enough
        .iter()
        .filter_map(|enough| {
            let sensors = enough.sensors?;
            let checks = enough.checks.map_or_else(String::new, |checks| {
                format!(" with {checks} blood checks{within}")
            });
            Some(format!("about {sensors} sensors{checks}"))
        })
        .collect();
    let takes = if ways.is_empty() {
        "takes more than 104 sensors, whatever the checks".to_owned()
    } else {
        format!("takes {}", ways.join(", or "))
    };
    format!(
        "{spread}. To find a difference of {:.1} {unit} in 4 of 5 trials {takes}",
        size.difference
    )
}

//! Possible pressure lows in words.

use interstice_findings::trust::{
    LowVerdict, OwnPrior, PressureEvent, PressureFindings, PressureRates, RateLine, RateRatio, SaidLow,
};
use interstice_glucose::{LowWas, counted, round_half_up};

use super::{Shown, Table, date_and_clock};

/// How many there are, in how many nights.
pub fn pressure_account(findings: &PressureFindings) -> String {
    let count = match findings.events.len() {
        0 => "No possible pressure low".to_owned(),
        1 => "1 possible pressure low".to_owned(),
        count => format!("{count} possible pressure lows"),
    };
    format!(
        "{count} in {} with readings, {} of them with sleep logged.",
        counted(findings.nights, "night", "nights"),
        findings.nights_logged
    )
}

/// What the wearer said of them, and what that teaches; nothing without a word.
pub fn pressure_said(findings: &PressureFindings) -> Option<String> {
    let words = findings.events.iter().filter_map(|event| event.verdict);
    let count = |was| words.clone().filter(|verdict| verdict.was == was).count();
    let (pressure, real) = (count(LowWas::Pressure), count(LowWas::Real));
    if pressure + real == 0 {
        return None;
    }
    Some(format!(
        "You judged {}: {pressure} pressure, {real} real.{}",
        pressure + real,
        taught(&findings.own)
    ))
}

fn taught(own: &OwnPrior) -> String {
    if own.pressure + own.real == 0 {
        return String::new();
    }
    let (times, word) = if own.odds_times < 1.0 {
        (1.0 / own.odds_times, "less")
    } else {
        (own.odds_times, "more")
    };
    if times < 1.05 {
        return " It agrees with what the signs say, so that the others stay as they are.".to_owned();
    }
    format!(
        " That makes pressure {} times {word} likely, as odds, in the others than their signs alone say.",
        round_half_up(times, 1)
    )
}

/// A probability in whole percent, never none and never all.
pub(crate) fn chance(probability: f64) -> String {
    match 100.0 * probability {
        percent if percent > 99.0 => "over 99 %".to_owned(),
        percent if percent < 1.0 => "under 1 %".to_owned(),
        percent => format!("{percent:.0} %"),
    }
}

/// What was said of one, as a sentence; nothing where nothing was.
pub fn low_verdict(verdict: Option<LowVerdict>) -> Option<&'static str> {
    let verdict = verdict?;
    Some(match (verdict.was, verdict.change) {
        (LowWas::Pressure, Some(_)) => "You said it was pressure.",
        (LowWas::Pressure, None) => "You marked its readings as not to be believed.",
        (LowWas::Real, _) => "You said it was real.",
    })
}

/// One of them: when, how low, how likely, and what the wearer said.
pub fn pressure_event(event: &PressureEvent, shown: Shown) -> String {
    format!(
        "{} to {}, sensor {}: lowest reading {}, about {:.0} % taken off; {} likely by these signs.{}",
        date_and_clock(event.start.0),
        date_and_clock(event.end.0),
        event.sensor_id,
        shown.glucose_with_unit(event.nadir_mg_dl),
        event.attenuation_percent,
        chance(if by_word(event) {
            event.probability_by_signs
        } else {
            event.probability
        }),
        low_verdict(event.verdict).map_or(String::new(), |said| format!(" {said}"))
    )
}

fn by_word(event: &PressureEvent) -> bool {
    event.verdict.is_some_and(|verdict| verdict.change.is_some())
}

/// How likely it is, or what the wearer said in its place.
pub fn pressure_likely(event: &PressureEvent) -> String {
    match event.verdict {
        Some(LowVerdict { was, change: Some(_) }) => match was {
            LowWas::Pressure => "pressure, you said".to_owned(),
            LowWas::Real => "real, you said".to_owned(),
        },
        _ => chance(event.probability),
    }
}

/// A word of the wearer where nothing was found.
pub fn said_low(said: &SaidLow) -> String {
    let sensor = said
        .sensor_id
        .as_ref()
        .map_or(String::new(), |sensor| format!(", sensor {sensor}"));
    let what = match said.verdict.was {
        LowWas::Pressure => {
            "pressure; nothing in the readings says so, and they are left out with the others"
        }
        LowWas::Real => "real; nothing in the readings looked like pressure",
    };
    format!(
        "{} to {}{sensor}: you said it was {what}.",
        date_and_clock(said.start.0),
        date_and_clock(said.end.0)
    )
}

/// What stands beside the table of rates.
pub const RATES_HELP: &str = "A night, from noon to noon, counts once for each sensor read in it, however often sleep was broken. A low counts where it is flagged and you did not call it \
    real, or where you called it pressure; 'expected' adds up the probabilities instead. The margins (95 %) are exact for lows \
    that come one by one; where one night brings several, the truth is wider.";

/// How often, and whether sides and sites differ by more than chance.
pub fn pressure_rates(rates: &PressureRates) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(rate) = rate_words(&rates.all) {
        said.push(format!(
            "{} in {} nights worn: {rate} a night worn; {} to be expected by their probabilities.",
            lows(rates.all.lows),
            rates.all.nights,
            round_half_up(rates.all.expected, 1)
        ));
    }
    said.extend(rates.right_to_left.map(|ratio| sides(rates, ratio)));
    said.extend(sites(rates));
    said
}

fn lows(count: u64) -> String {
    match count {
        0 => "None".to_owned(),
        1 => "1 low".to_owned(),
        count => format!("{count} lows"),
    }
}

/// '0.12 (0.05 to 0.25)'.
fn rate_words(line: &RateLine) -> Option<String> {
    let two = |value: f64| round_half_up(value, 2);
    Some(format!(
        "{} ({} to {})",
        two(line.per_night?),
        two(line.per_night_lo95?),
        two(line.per_night_hi95?)
    ))
}

fn sides(rates: &PressureRates, ratio: RateRatio) -> String {
    let of = |key: &str| {
        let line = rates.side.iter().find(|line| line.key == key);
        line.map_or(String::new(), |line| {
            format!("{} in {} nights", line.lows, line.nights)
        })
    };
    let one = |value: f64| round_half_up(value, 1);
    let upper = ratio.hi95.map_or("any number of times".to_owned(), |hi| {
        format!("{} times", one(hi))
    });
    let settled = match (ratio.lo95 > 1.0, ratio.hi95.is_some_and(|hi| hi < 1.0)) {
        (true, _) => "more often on the right than chance would make it",
        (_, true) => "more often on the left than chance would make it",
        _ => "these nights do not settle whether the sides differ",
    };
    let times = ratio.ratio.map_or(String::new(), |ratio| {
        format!(" {} times as often on the right;", one(ratio))
    });
    format!(
        "On the left {}, on the right {}:{times} it could be anything from {} to {upper}, so {settled}.",
        of("left"),
        of("right"),
        one(ratio.lo95)
    )
}

fn sites(rates: &PressureRates) -> Option<String> {
    let known = rates.site.iter().filter(|line| line.key != "unknown").count();
    if known < 2 || rates.all.lows == 0 {
        return None;
    }
    let apart = rates.sites_apart();
    if apart.is_empty() {
        return Some(
            "Between parts of the body the margins overlap: they may not differ at all, or more nights may show it."
                .to_owned(),
        );
    }
    let pairs: Vec<String> = apart
        .iter()
        .map(|(more, less)| format!("on the {} than on the {}", more.key, less.key))
        .collect();
    let others = if known == 2 { "" } else { " Other margins overlap." };
    Some(format!(
        "More often {}, margin against margin.{others}",
        pairs.join(", ")
    ))
}

/// All rates as a table, group by group.
pub fn rate_table(rates: &PressureRates) -> Table {
    let groups: [(&str, &[RateLine]); 5] = [
        ("side", &rates.side),
        ("part of the body", &rates.site),
        ("side and part", &rates.side_and_site),
        ("slept on the", &rates.slept),
        ("slept on", &rates.slept_on_it),
    ];
    let mut rows = vec![rate_row("all nights worn".to_owned(), &rates.all)];
    for (group, lines) in groups {
        for line in lines {
            rows.push(rate_row(format!("{group}: {}", line.key), line));
        }
    }
    let heads = [
        ("Nights worn", false),
        ("Nights", true),
        ("Lows", true),
        ("Expected", true),
        ("A night (95 % margin)", true),
    ];
    Table::new("pressure-rates", &heads, rows)
}

fn rate_row(name: String, line: &RateLine) -> Vec<String> {
    vec![
        name,
        line.nights.to_string(),
        line.lows.to_string(),
        round_half_up(line.expected, 1),
        rate_words(line).unwrap_or_else(|| "–".to_owned()),
    ]
}

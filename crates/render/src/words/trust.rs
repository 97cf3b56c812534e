//! The sentences of trust: how far the sensors stand from the blood.

use interstice_findings::trust::{
    By, CriterionAsk, CriterionLine, GroupLine, IntervalBy, Meter, NextCheck, Pairing, SensorRange, Share,
};
use interstice_findings::{Figure, TrustFindings};
use interstice_glucose::{Glucose, Unit, round_half_up};

use super::number::tenths_percent;
use super::{Shown, percent};

/// Fewest pairs of which 'so many times in ten' is said; of fewer, the count itself.
const FEWEST_FOR_TENTHS: u64 = 20;

/// The answer in one sentence.
pub fn trust_answer(findings: &TrustFindings, shown: Shown) -> String {
    let counts = &findings.counts;
    let whose = match &findings.sensor {
        Some(name) => format!("The sensor {name}"),
        None => "Your sensors".to_owned(),
    };
    if counts.checks == 0 {
        return "How far your sensors stand from your blood is not known: the book holds no blood check yet."
            .to_owned();
    }
    let Some(share) = findings.agreement.share(15.0).filter(|share| share.of > 0) else {
        return format!(
            "How far your sensors stand from your blood is not known: none of {} has a usable reading beside it.",
            counted(counts.checks, "blood check")
        );
    };
    let mut sentence = format!("{whose} read within 15 % of blood {}", times(share));
    if findings.agreement.mard_percent.value.is_some() {
        sentence.push_str(&first_day(findings, share));
        for (key, when) in [
            ("falling_fast", "while falling fast"),
            ("rising_fast", "while rising fast"),
        ] {
            sentence.push_str(&off_while(&findings.by, key, when, shown));
        }
        return sentence + ".";
    }
    let (Some(lo), Some(hi)) = (share.percent.lo95, share.percent.hi95) else {
        return sentence + ".";
    };
    format!(
        "Not enough yet to say: {} {} beside a reading, {} within 15 %. The true share could be anything from {} to {} %.",
        share.of,
        if share.of == 1 {
            "blood check has been taken"
        } else {
            "blood checks have been taken"
        },
        share.within,
        round_half_up(lo, 0),
        round_half_up(hi, 0)
    )
}

/// '7 times in 10', '4 of 6 times', 'every time'.
fn times(share: &Share) -> String {
    let value = share.percent.value.unwrap_or_default();
    if share.of < FEWEST_FOR_TENTHS {
        return format!("{} of {} times", share.within, share.of);
    }
    if share.within == share.of {
        return format!("every time of {}", share.of);
    }
    if !(5.0..95.0).contains(&value) {
        return format!("{} times in 100", round_half_up(value, 0));
    }
    format!("{} times in 10", round_half_up(value / 10.0, 0))
}

fn first_day(findings: &TrustFindings, all: &Share) -> String {
    let Some(line) = group(&findings.by.day_of_wear, "1").filter(|line| line.mard_percent.value.is_some())
    else {
        return String::new();
    };
    let (first, overall) = (times(&line.within_15), times(all));
    if first == overall {
        "; on first days as often".to_owned()
    } else {
        let short = first
            .strip_suffix(" times")
            .unwrap_or(&first)
            .replace(" times in ", " in ");
        format!("; on first days {short}")
    }
}

/// '; while falling fast they read about 11 mg/dL high', where the margin leaves no doubt on which side.
fn off_while(by: &By, key: &str, when: &str, shown: Shown) -> String {
    let Some(bias) = group(&by.direction, key).map(|line| &line.bias_mg_dl) else {
        return String::new();
    };
    let (Some(value), Some(lo), Some(hi)) = (bias.value, bias.lo95, bias.hi95) else {
        return String::new();
    };
    if lo <= 0.0 && hi >= 0.0 {
        return String::new();
    }
    let side = if value > 0.0 { "high" } else { "low" };
    format!(
        "; {when} they read about {} {side}",
        shown.glucose_with_unit(value.abs())
    )
}

fn group<'a>(lines: &'a [GroupLine], key: &str) -> Option<&'a GroupLine> {
    lines.iter().find(|line| line.key == key)
}

/// What the answer rests on, and what its words mean.
pub fn trust_basis(findings: &TrustFindings, shown: Shown) -> String {
    let counts = &findings.counts;
    if counts.pairs == 0 {
        return String::new();
    }
    let bounds = match findings.agreement.share(15.0).map(|share| &share.percent) {
        Some(Figure {
            value: Some(value),
            lo95: Some(lo),
            hi95: Some(hi),
            ..
        }) => format!(
            "{} % of the pairs lie within 15 %, and the exact 95 % margin is {} to {} %",
            percent(*value),
            percent(*lo),
            percent(*hi)
        ),
        _ => "no pair can be used".to_owned(),
    };
    format!(
        "From {} on {}: {bounds}. Below {} 'within 15 %' means within {}.",
        counted(counts.pairs, "pair of blood check and reading").replace(
            "pair of blood check and readings",
            "pairs of blood check and reading"
        ),
        counted(counts.sensors, "sensor"),
        shown.glucose_with_unit(findings.split_mg_dl),
        shown.glucose_with_unit(15.0),
    )
}

/// How readings were found for checks.
pub fn pairing(rule: Pairing) -> &'static str {
    match rule {
        Pairing::NearestAfter => {
            "Each blood check is paired with the nearest reading at it or within five minutes after it."
        }
        Pairing::Interpolated => {
            "Each blood check is paired with the straight line between the readings before and after it, neither more than \
             one interval of the sensor away."
        }
    }
}

/// What became of the checks that make no pair.
pub fn checks_account(findings: &TrustFindings) -> String {
    let counts = &findings.counts;
    format!(
        "Of {}, {} while no sensor was read, {} without a reading near enough, {} in readings marked as artefacts, {} beyond \
         what sensor or meter measures; a check beside two sensors makes two pairs.",
        counted(counts.checks, "blood check"),
        counts.without_sensor,
        counts.unpaired,
        counts.artefact,
        counts.censored
    )
}

/// What the margins of the means rest on.
pub fn interval_basis(by: Option<IntervalBy>, sensors: u64) -> String {
    match by {
        Some(IntervalBy::Sensors) => {
            format!(
                "Margins of means come from drawing whole sensors, {sensors} of them: they tell of sensors like these."
            )
        }
        Some(IntervalBy::Days) => format!(
            "Margins of means come from drawing days, because {} too few to draw: they tell of {}, not of the next one.",
            if sensors == 1 {
                "one sensor is".to_owned()
            } else {
                format!("{sensors} sensors are")
            },
            if sensors == 1 {
                "this one sensor"
            } else {
                "these sensors"
            }
        ),
        Some(IntervalBy::Pairs) => {
            "Margins of means come from drawing single pairs, because there are too few sensors and \
             days: they are likely too narrow."
                .to_owned()
        }
        None => String::new(),
    }
}

/// The meter beside the sensor.
pub fn meter(meter: &Meter, shown: Shown) -> String {
    let Some(alone) = meter.mard_percent else {
        return String::new();
    };
    let verdict = if meter.below_meter {
        " The MARD found is below that: it is not believable as the sensor's own, whatever made it so small."
    } else {
        ""
    };
    format!(
        "The meter has an error too. One that only just keeps {} (95 % of results within {} below {}, within {} % from there on) \
         would show a MARD of about {} % here beside a perfect sensor.{verdict}",
        meter.standard,
        shown.glucose_with_unit(meter.limit),
        shown.glucose_with_unit(meter.split_mg_dl),
        percent(meter.limit),
        round_half_up(alone, 1)
    )
}

/// One line of the table of figures.
#[derive(Clone, Debug, PartialEq)]
pub struct AgreementRow {
    /// The trade's name.
    pub name: String,
    /// Value, unit and margin, or why there is none.
    pub value: String,
    /// What it means, in one sentence.
    pub meaning: String,
}

fn agreement_row(name: impl Into<String>, value: String, meaning: impl Into<String>) -> AgreementRow {
    AgreementRow {
        name: name.into(),
        value,
        meaning: meaning.into(),
    }
}

/// Every figure over all pairs.
pub fn agreement_rows(findings: &TrustFindings, shown: Shown) -> Vec<AgreementRow> {
    let found = &findings.agreement;
    let limits = "95 of 100 differences would lie between the two limits if they were normal; their margins take the pairs as independent.";
    let mut rows = vec![
        agreement_row(
            "MARD",
            tenths_percent(&found.mard_percent),
            "Mean absolute relative difference, in percent of the blood.",
        ),
        agreement_row(
            "Median ARD",
            tenths_percent(&found.median_ard_percent),
            "Half of the pairs differ by less.",
        ),
        agreement_row(
            "MAD",
            shown.glucose_figure(&found.mad_mg_dl),
            "Mean absolute difference.",
        ),
        agreement_row(
            "Bias",
            signed_figure(&found.bias_mg_dl, shown),
            "Mean of sensor less blood: above zero where the sensor reads high.",
        ),
        agreement_row(
            "Relative bias",
            signed_percent(&found.relative_bias_percent),
            "The same in percent of the blood.",
        ),
        agreement_row(
            "Lower limit of agreement",
            signed_figure(&found.limits_lower_mg_dl, shown),
            limits,
        ),
        agreement_row(
            "Upper limit of agreement",
            signed_figure(&found.limits_upper_mg_dl, shown),
            limits,
        ),
    ];
    rows.extend(
        found
            .within
            .iter()
            .map(|share| share_row(share, findings.split_mg_dl, shown)),
    );
    rows
}

fn share_row(share: &Share, split_mg_dl: f64, shown: Shown) -> AgreementRow {
    let limit = percent(share.limit);
    let lower = match share.lower95 {
        Some(lower) => format!(" At least {} % by a one-sided test.", percent(lower)),
        None => String::new(),
    };
    agreement_row(
        format!("Within {limit}/{limit}"),
        super::number::percent_figure(&share.percent),
        format!(
            "{} of {}: at most {} from the blood below {}, at most {limit} % from there on.{lower}",
            share.within,
            share.of,
            shown.glucose_with_unit(share.limit),
            shown.glucose_with_unit(split_mg_dl)
        ),
    )
}

/// '+11 mg/dL', '−0.6 mmol/L'.
pub fn signed_with_unit(mg_dl: f64, shown: Shown) -> String {
    format!("{} {}", signed(mg_dl, shown), shown.unit)
}

/// '+11', '−0.6'.
pub fn signed(mg_dl: f64, shown: Shown) -> String {
    with_sign(mg_dl, &shown.glucose(mg_dl.abs()))
}

fn with_sign(value: f64, size: &str) -> String {
    let is_zero = size
        .chars()
        .all(|letter| !letter.is_ascii_digit() || letter == '0');
    match (is_zero, value < 0.0) {
        (true, _) => size.to_owned(),
        (false, true) => format!("−{size}"),
        (false, false) => format!("+{size}"),
    }
}

fn signed_figure(figure: &Figure, shown: Shown) -> String {
    signed_with(figure, &format!(" {}", shown.unit), |value| signed(value, shown))
}

fn signed_percent(figure: &Figure) -> String {
    signed_with(figure, " %", |value| {
        with_sign(value, &round_half_up(value.abs(), 1))
    })
}

fn signed_with(figure: &Figure, unit: &str, write: impl Fn(f64) -> String) -> String {
    let Some(value) = figure.value else {
        return format!("not yet: {}", figure.reason.as_deref().unwrap_or("too few pairs"));
    };
    match (figure.lo95, figure.hi95) {
        (Some(lo), Some(hi)) => format!("{}{unit} ({} to {})", write(value), write(lo), write(hi)),
        _ => format!("{}{unit}", write(value)),
    }
}

/// One breakdown as it is shown.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupTable {
    /// For addresses and files.
    pub id: &'static str,
    /// What the pairs have in common.
    pub title: &'static str,
    /// What the reader must know of it.
    pub help: String,
    /// One line a group.
    pub rows: Vec<GroupRow>,
}

/// One group as it is shown.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupRow {
    /// Its name.
    pub name: String,
    /// Pairs in it.
    pub pairs: u64,
    /// MARD with its margin, or how many more pairs would do.
    pub mard: String,
    /// Bias with its margin, in the wearer's unit.
    pub bias: String,
    /// Share within 15/15 with its exact margin.
    pub within: String,
    /// About how many more pairs would tell the MARD within 2 points.
    pub more: String,
}

/// Every breakdown that tells something, in the order in which they are asked for.
pub fn group_tables(findings: &TrustFindings, shown: Shown) -> Vec<GroupTable> {
    let by = &findings.by;
    let all: [(&'static str, &'static str, &Vec<GroupLine>); 11] = [
        ("day-of-wear", "Day of wear", &by.day_of_wear),
        (
            "first-day",
            "Hours since the start, first day",
            &by.first_day_hours,
        ),
        ("direction", "Direction and speed of change", &by.direction),
        ("range", "Range of the blood value", &by.range),
        ("sensor", "Sensor", &by.sensor),
        ("site", "Site", &by.site),
        ("side", "Side", &by.side),
        ("lot", "Lot", &by.lot),
        ("preparation", "Preparation of the skin", &by.preparation),
        ("bedding-in", "Worn before the start", &by.bedding_in),
        ("time-of-day", "Time of day", &by.time_of_day),
    ];
    all.into_iter()
        .filter(|(_, _, lines)| lines.iter().any(|line| !line.is_unknown() && line.pairs > 0))
        .map(|(id, title, lines)| GroupTable {
            id,
            title,
            help: help(id, shown),
            rows: lines.iter().map(|line| group_row(id, line, shown)).collect(),
        })
        .collect()
}

fn group_row(table: &str, line: &GroupLine, shown: Shown) -> GroupRow {
    let missing = format!("{} more would do", counted(line.pairs_missing, "pair"));
    let given = line.mard_percent.value.is_some();
    GroupRow {
        name: group_name(table, &line.key, shown),
        pairs: line.pairs,
        mard: if given {
            tenths_percent(&line.mard_percent)
        } else {
            missing
        },
        bias: if given {
            signed_figure(&line.bias_mg_dl, shown)
        } else {
            "–".to_owned()
        },
        within: if line.within_15.of > 0 {
            format!(
                "{} of {}, {}",
                line.within_15.within,
                line.within_15.of,
                super::number::percent_figure(&line.within_15.percent)
            )
        } else {
            "–".to_owned()
        },
        more: match line.pairs_for_2_points {
            Some(0) => "enough".to_owned(),
            Some(more) => format!("about {more}"),
            None => "–".to_owned(),
        },
    }
}

fn help(table: &str, shown: Shown) -> String {
    match table {
        "day-of-wear" => "Days of 24 hours from the sensor's start.".to_owned(),
        "direction" => format!(
            "By the sensor, from the readings of the quarter of an hour before and after the check. Fast is more than {} a \
             minute; steady is at most {} either way.",
            rate(2.0, shown),
            rate(1.0, shown)
        ),
        "sensor" | "site" | "side" | "lot" | "preparation" | "bedding-in" => {
            "Looked at one by one: sensors that differ in one thing may differ in others too, and of many groups one stands \
             out by chance."
                .to_owned()
        }
        "time-of-day" => "By the clock that was lived by.".to_owned(),
        _ => String::new(),
    }
}

/// A rate of change with its unit, without the word minute: '2 mg/dL', '0.11 mmol/L'.
fn rate(mg_dl_min: f64, shown: Shown) -> String {
    let number = Glucose::from_mg_per_dl(mg_dl_min).in_unit(shown.unit);
    let decimals = if shown.unit == Unit::MgPerDl { 0 } else { 2 };
    format!("{} {}", round_half_up(number, decimals), shown.unit)
}

fn group_name(table: &str, key: &str, shown: Shown) -> String {
    if key == GroupLine::UNKNOWN {
        return "not known".to_owned();
    }
    let glucose = |mg_dl: f64| shown.glucose(mg_dl);
    match (table, key) {
        ("day-of-wear", "15+") => "day 15 and later".to_owned(),
        ("day-of-wear", day) => format!("day {day}"),
        ("first-day", hours) => format!("{} h", hours.replace('-', " to ")),
        ("direction", "falling_fast") => "falling fast".to_owned(),
        ("direction", "rising_fast") => "rising fast".to_owned(),
        ("range", "very_low") => format!("below {}", glucose(54.0)),
        ("range", "low") => format!("{} to below {}", glucose(54.0), glucose(70.0)),
        ("range", "in_range") => format!("{} to {}", glucose(70.0), glucose(180.0)),
        ("range", "high") => format!("above {} to {}", glucose(180.0), glucose(250.0)),
        ("range", "very_high") => format!("above {}", glucose(250.0)),
        ("bedding-in", "under_2_h") => "under 2 h".to_owned(),
        ("bedding-in", "2_to_12_h") => "2 to 12 h".to_owned(),
        ("bedding-in", "12_h_or_more") => "12 h or more".to_owned(),
        ("time-of-day", hours) => {
            let (from, to) = hours.split_once('-').unwrap_or((hours, ""));
            format!("{from}:00 to {to}:00")
        }
        _ => key.to_owned(),
    }
}

/// Which checks would tell most, a sentence each.
pub fn next_check(next: NextCheck, shown: Shown) -> String {
    let checks = |more: u64| counted(more, "more blood check");
    match next {
        NextCheck::Flat { more } => format!(
            "{} while glucose has been flat for a quarter of an hour: the plainest look at the sensor itself.",
            checks(more)
        ),
        NextCheck::FirstDay { more } => format!("{} in the first 24 hours of a sensor.", checks(more)),
        NextCheck::Falling { more } => format!(
            "{} while glucose is falling by more than {} a minute, when a check is wise anyway.",
            checks(more),
            rate(1.0, shown)
        ),
        NextCheck::Low { more } => format!(
            "{} with the blood below {}: whenever the sensor shows a low, a check tells of both.",
            checks(more),
            shown.glucose_with_unit(70.0)
        ),
        NextCheck::OtherSensors { more } => format!(
            "Checks on {}: until then nothing can be said of the next sensor.",
            counted(more, "more sensor")
        ),
    }
}

/// One criterion for integrated sensors: item, what is asked, what is found.
pub fn criterion(line: &CriterionLine, shown: Shown) -> [String; 3] {
    let range = match line.sensor_range {
        SensorRange::Below70 => format!("Sensor below {}", shown.glucose(70.0)),
        SensorRange::From70To180 => format!("Sensor {} to {}", shown.glucose(70.0), shown.glucose(180.0)),
        SensorRange::Above180 => format!("Sensor above {}", shown.glucose(180.0)),
        SensorRange::All => "All".to_owned(),
    };
    let asked = match line.asks {
        CriterionAsk::Rate {
            within,
            percent: true,
            over_percent,
        } => {
            format!(
                "within {} %: bound over {} %",
                percent(within),
                percent(over_percent)
            )
        }
        CriterionAsk::Rate {
            within, over_percent, ..
        } => {
            format!(
                "within {}: bound over {} %",
                shown.glucose_with_unit(within),
                percent(over_percent)
            )
        }
        CriterionAsk::NoneAbove { mg_dl } => format!("no blood value above {}", shown.glucose(mg_dl)),
        CriterionAsk::NoneBelow { mg_dl } => format!("no blood value below {}", shown.glucose(mg_dl)),
        CriterionAsk::Trend { rising } => {
            let (sensor, blood) = if rising {
                ("rises", "falls")
            } else {
                ("falls", "rises")
            };
            format!("sensor {sensor} while blood {blood} fast: at most 1 %")
        }
    };
    [
        line.item.to_string(),
        format!("{range}, {asked}"),
        criterion_found(line),
    ]
}

fn criterion_found(line: &CriterionLine) -> String {
    let (Some(within), Some(of)) = (line.within, line.of) else {
        return "single checks cannot tell".to_owned();
    };
    let so_many = format!("{within} of {of}");
    match (line.met, line.lower95_percent, line.fewest_pairs) {
        (Some(met), Some(lower), _) => {
            let word = if met { "reached" } else { "not reached" };
            format!("{so_many}, bound {} %: {word}", percent(lower))
        }
        (Some(met), None, _) => format!("{so_many}: {}", if met { "so" } else { "not so" }),
        (None, _, Some(fewest)) => format!("{so_many}: too few, {fewest} could tell at best"),
        (None, ..) => format!("{so_many}: too few"),
    }
}

/// '1 pair', '12 pairs'.
fn counted(n: u64, noun: &str) -> String {
    if n == 1 {
        format!("1 {noun}")
    } else {
        format!("{n} {noun}s")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn share(within: u64, of: u64) -> Share {
        Share {
            limit: 15.0,
            within,
            of,
            percent: Figure::plain(100.0 * within as f64 / of as f64),
            lower95: None,
        }
    }

    #[test]
    fn shares_are_said_as_people_say_them() {
        let said = [(4, 6), (44, 60), (60, 60), (97, 100), (1, 60), (5, 5)]
            .map(|(within, of)| times(&share(within, of)));
        assert_eq!(
            said,
            [
                "4 of 6 times",
                "7 times in 10",
                "every time of 60",
                "97 times in 100",
                "2 times in 100",
                "5 of 5 times"
            ]
        );
    }

    #[test]
    fn a_difference_has_its_sign_and_nothing_has_none() {
        let mg = Shown { unit: Unit::MgPerDl };
        let mmol = Shown { unit: Unit::MmolPerL };
        let said = [
            signed(11.4, mg),
            signed(-11.4, mmol),
            signed(-0.3, mg),
            signed(0.0, mmol),
        ];
        assert_eq!(said, ["+11", "−0.6", "0", "0.0"]);
    }
}

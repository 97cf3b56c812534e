//! The sentences of trust: how far the sensors stand from the blood.

use interstice_findings::trust::{
    By, CriterionAsk, CriterionLine, GroupLine, IntervalBy, Meter, NextCheck, Pairing, SensorRange, Share,
};
use interstice_findings::{Figure, TrustFindings};
use interstice_glucose::{Glucose, Unit, counted, one_or_many, round_half_up};

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
            counted(counts.checks, "blood check", "blood checks")
        );
    };
    let mut sentence = format!("{whose} read within 15 % of blood {}", times(share));
    if findings.agreement.mard_percent.value.is_some() {
        sentence.push_str(&first_day(findings, share));
        for (fast, slower, word) in [
            ("falling_fast", "falling", "falling"),
            ("rising_fast", "rising", "rising"),
        ] {
            let said = off_while(&findings.by, fast, &format!("while {word} fast"), shown);
            // Without enough pairs of fast change, what is known of slower change is said instead.
            let said = said.or_else(|| off_while(&findings.by, slower, &format!("while {word}"), shown));
            sentence.push_str(&said.unwrap_or_default());
        }
        return sentence + ".";
    }
    let (Some(lo), Some(hi)) = (share.percent.lo95, share.percent.hi95) else {
        return sentence + ".";
    };
    format!(
        "Not enough yet to say: {} beside a reading, {} within 15 %. The true share could be anything from {} to {} %.",
        counted(
            share.of,
            "blood check has been taken",
            "blood checks have been taken"
        ),
        share.within,
        round_half_up(lo, 0),
        round_half_up(hi, 0)
    )
}

/// '7 times in 10', '4 of 6 times', 'every time'.
pub(super) fn times(share: &Share) -> String {
    let value = share.percent.value.unwrap_or_default();
    if share.of < FEWEST_FOR_TENTHS {
        return format!("{} of {}", share.within, counted(share.of, "time", "times"));
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

/// '; while falling fast they read about 11 mg/dL high'; empty where the margin leaves a doubt on which side, `None` where there
/// are too few pairs.
fn off_while(by: &By, key: &str, when: &str, shown: Shown) -> Option<String> {
    let bias = &group(&by.direction, key)?.bias_mg_dl;
    let (value, lo, hi) = (bias.value?, bias.lo95?, bias.hi95?);
    if lo <= 0.0 && hi >= 0.0 {
        return Some(String::new());
    }
    let side = if value > 0.0 { "high" } else { "low" };
    Some(format!(
        "; {when} they read about {} {side}",
        shown.glucose_with_unit(value.abs())
    ))
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
        counted(
            counts.pairs,
            "pair of blood check and reading",
            "pairs of blood check and reading"
        ),
        counted(counts.sensors, "sensor", "sensors"),
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
        counted(counts.checks, "blood check", "blood checks"),
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
            one_or_many(&sensors, "this one sensor", "these sensors")
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
    if found.named().iter().all(|(_, figure)| figure.value.is_none()) {
        // One reason once, not once a figure.
        rows = vec![agreement_row(
            "Means and limits",
            tenths_percent(&found.mard_percent),
            "MARD, MAD, bias and the limits of agreement.",
        )];
    }
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

pub(super) fn with_sign(value: f64, size: &str) -> String {
    let is_zero = size
        .chars()
        .all(|letter| !letter.is_ascii_digit() || letter == '0');
    match (is_zero, value < 0.0) {
        (true, _) => size.to_owned(),
        (false, true) => format!("−{size}"),
        (false, false) => format!("+{size}"),
    }
}

pub(super) fn signed_figure(figure: &Figure, shown: Shown) -> String {
    signed_with(figure, &format!(" {}", shown.unit), |value| signed(value, shown))
}

pub(super) fn signed_percent(figure: &Figure) -> String {
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

/// A rate of change with its unit, without the word minute: '2 mg/dL', '0.11 mmol/L'.
pub(super) fn rate(mg_dl_min: f64, shown: Shown) -> String {
    let number = Glucose::from_mg_per_dl(mg_dl_min).in_unit(shown.unit);
    let decimals = if shown.unit == Unit::MgPerDl { 0 } else { 2 };
    format!("{} {}", round_half_up(number, decimals), shown.unit)
}

/// Which checks would tell most, a sentence each.
pub fn next_check(next: NextCheck, shown: Shown) -> String {
    let checks = |more: u64| counted(more, "more blood check", "more blood checks");
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
            counted(more, "more sensor", "more sensors")
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
    if matches!(
        line.asks,
        CriterionAsk::NoneAbove { .. } | CriterionAsk::NoneBelow { .. }
    ) {
        return match of.saturating_sub(within) {
            _ if of == 0 => "no pair".to_owned(),
            0 => format!("none in {of}"),
            some => format!("{some} in {of}"),
        };
    }
    match (line.met, line.lower95_percent, line.fewest_pairs) {
        (Some(met), Some(lower), _) => {
            let word = if met { "reached" } else { "not reached" };
            format!("{so_many}, bound {} %: {word}", percent(lower))
        }
        (_, _, Some(fewest)) => format!("{so_many}: too few, {fewest} could tell at best"),
        _ => format!("{so_many}: too few"),
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

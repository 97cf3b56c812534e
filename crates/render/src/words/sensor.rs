//! The sentences of one sensor over its life.

use interstice_findings::trust::{FaultLine, ReadsHigh, SensorFindings, WearDay};
use interstice_glucose::{counted, one_or_many, round_half_up};

use super::number::tenths_percent;
use super::trust::times;
use super::{
    Shown, date_and_clock, day, day_and_clock, duration, extremes, hours_minutes, percent, wear_site,
    wear_start,
};

/// 'sensor S03, 3 March 2025 to 17 March 2025'.
pub fn sensor_span(findings: &SensorFindings) -> String {
    let wear = &findings.wear;
    format!("{} to {}", day(wear.from.0), day(wear.to.0))
}

/// The answer in one sentence.
pub fn sensor_answer(findings: &SensorFindings) -> String {
    let Some(share) = findings.agreement.share(15.0).filter(|share| share.of > 0) else {
        return "How far this sensor stood from blood is not known: no blood check has a usable reading of it beside it."
            .to_owned();
    };
    if findings.agreement.mard_percent.value.is_none() {
        return format!(
            "Not enough yet to say how far this sensor stood from blood: {}, {} within 15 %.",
            counted(share.of, "blood check", "blood checks"),
            if share.within == share.of {
                "all".to_owned()
            } else {
                format!("{} of them", share.within)
            }
        );
    }
    format!(
        "This sensor read within 15 % of blood {}{}{}.",
        times(share),
        side(findings),
        first_day(findings)
    )
}

/// ' and about 4 % high', or that no side can be told.
fn side(findings: &SensorFindings) -> String {
    let bias = &findings.agreement.relative_bias_percent;
    let Some(value) = bias.value else {
        return String::new();
    };
    match (bias.lo95, bias.hi95) {
        (Some(lo), Some(hi)) if lo < 0.0 && hi > 0.0 => {
            ", and neither high nor low as far as its checks tell".to_owned()
        }
        _ => format!(" and about {}", high_or_low(value)),
    }
}

fn first_day(findings: &SensorFindings) -> String {
    let first = &findings.first_day;
    match (findings.wear.started, first.of) {
        (None, _) => String::new(),
        (Some(_), 0) => "; its first day has no blood check".to_owned(),
        (Some(_), 1) => format!(
            "; its one check on the first day was {}",
            if first.within == 1 { "within" } else { "not" }
        ),
        (Some(_), of) => format!("; on its first day {} of {of} times", first.within),
    }
}

/// What the answer rests on, and the other sensors beside it.
pub fn sensor_basis(findings: &SensorFindings, shown: Shown) -> String {
    let Some(share) = findings.agreement.share(15.0).filter(|share| share.of > 0) else {
        return String::new();
    };
    let margin = match (share.percent.lo95, share.percent.hi95) {
        (Some(lo), Some(hi)) => format!(
            ", exact 95 % margin {} to {} %",
            round_half_up(lo, 0),
            round_half_up(hi, 0)
        ),
        _ => String::new(),
    };
    let others = findings.others.as_ref().and_then(|others| {
        let share = others.agreement.share(15.0).filter(|share| share.of > 0)?;
        Some(format!(
            " Of your {}: {} % of {}.",
            counted(
                others.sensors,
                "other sensor with checks",
                "other sensors with checks"
            ),
            percent(share.percent.value?),
            share.of
        ))
    });
    format!(
        "{} of {} {} within 15 %{margin}.{} Below {} 'within 15 %' means within {}.",
        share.within,
        share.of,
        one_or_many(
            &share.of,
            "pair of blood check and reading is",
            "pairs of blood check and reading are"
        ),
        others.unwrap_or_default(),
        shown.glucose_with_unit(findings.split_mg_dl),
        shown.glucose_with_unit(15.0)
    )
}

/// '4 % high', '3 % low', '0 %'.
pub fn high_or_low(percent: f64) -> String {
    let size = round_half_up(percent.abs(), 0);
    match (size.as_str(), percent < 0.0) {
        ("0", _) => "0 %".to_owned(),
        (_, true) => format!("{size} % low"),
        (_, false) => format!("{size} % high"),
    }
}

/// 'about 4 % high (1 to 7 % high)', 'about 2 % low (6 % low to 1 % high)'.
fn reads(high: &ReadsHigh) -> String {
    let (low_end, high_end) = high.most;
    let whole = |value: f64| round_half_up(value.abs(), 0);
    let band = if low_end >= 0.0 && high_end >= 0.0 {
        format!("{} to {} % high", whole(low_end), whole(high_end))
    } else if low_end <= 0.0 && high_end <= 0.0 {
        format!("{} to {} % low", whole(high_end), whole(low_end))
    } else {
        format!("{} to {}", high_or_low(low_end), high_or_low(high_end))
    };
    format!("about {} ({band})", high_or_low(high.percent))
}

/// How it scaled at its beginning, its middle and its end.
pub fn scale_said(findings: &SensorFindings, shown: Shown) -> String {
    if let Some(reason) = &findings.scale.reason {
        return format!("How this sensor scales is not told: {reason}.");
    }
    let told: Vec<(&WearDay, &ReadsHigh)> = findings
        .days
        .iter()
        .filter_map(|day| Some((day, day.reads_high.as_ref()?)))
        .collect();
    let mut chosen: Vec<usize> = vec![0, told.len() / 2, told.len().saturating_sub(1)];
    chosen.dedup();
    let days: Vec<String> = chosen
        .into_iter()
        .filter_map(|place| told.get(place))
        .map(|(day, high)| format!("on day {} {}", day.day, reads(high)))
        .collect();
    format!(
        "Where it showed {}, its middle reading, it read {}; in brackets what holds nine times in ten. That rests on {} of its \
         own and on what your other sensors are like.",
        shown.glucose_with_unit(findings.scale.at_mg_dl),
        days.join(", "),
        counted(findings.scale.checks, "blood check", "blood checks")
    )
}

/// What is known of it, name and value.
pub fn sensor_facts(findings: &SensorFindings) -> Vec<(&'static str, String)> {
    let wear = &findings.wear;
    let ended = match (findings.ended, findings.ending) {
        (Some(at), Some(how)) => Some(format!("{}, {how}", day_and_clock(at.0))),
        (Some(at), None) => Some(day_and_clock(at.0)),
        (None, how) => how.map(str::to_owned),
    };
    let all = [
        ("Put on", wear.put_on.map(|at| day_and_clock(at.0))),
        ("Started", Some(wear_start(wear))),
        (
            "Worn before",
            wear.bedding_in_h.map(|hours| duration(hours * 60.0)),
        ),
        ("Read from", Some(day_and_clock(wear.from.0))),
        ("Read to", Some(day_and_clock(wear.to.0))),
        ("Ended", ended),
        ("Place", wear_site(wear)),
        ("Lot", wear.lot.clone()),
        ("Skin", wear.preparation.clone()),
        (
            "Readings",
            Some(format!(
                "{}, one every {}; {} % of those expected from the first to the last",
                findings.readings,
                duration(f64::from(findings.interval_s) / 60.0),
                percent(findings.active_percent)
            )),
        ),
        (
            "Written",
            (!findings.written.is_empty()).then(|| findings.written.join("; ")),
        ),
    ];
    let known = |(name, value): (&'static str, Option<String>)| Some((name, value?));
    all.into_iter().filter_map(known).collect()
}

/// What looks wrong with it but silences: when, and the evidence.
pub fn sensor_faults(findings: &SensorFindings, shown: Shown) -> Vec<String> {
    let apart = findings.faults.iter().filter(|line| line.kind != "dropout");
    apart
        .map(|line| {
            format!(
                "{}: {}.",
                date_and_clock(line.from.0),
                line.fault.words(shown.unit)
            )
        })
        .collect()
}

/// How many silences it had, and that nothing else looks wrong where that is so.
pub fn faults_account(findings: &SensorFindings) -> String {
    let silences: Vec<&FaultLine> = findings
        .faults
        .iter()
        .filter(|line| line.kind == "dropout")
        .collect();
    let longest = silences.iter().max_by(|a, b| a.minutes.total_cmp(&b.minutes));
    let silent = match (longest, silences.len()) {
        (None, _) => "It was never silent for long.".to_owned(),
        (Some(longest), 1) => format!(
            "It was silent once, for {} ({}).",
            hours_minutes(longest.minutes),
            date_and_clock(longest.from.0)
        ),
        (Some(longest), count) => format!(
            "It was silent {count} times, {} in all; the longest {} ({}).",
            hours_minutes(silences.iter().map(|line| line.minutes).sum()),
            hours_minutes(longest.minutes),
            date_and_clock(longest.from.0)
        ),
    };
    if findings.faults.len() == silences.len() {
        format!("No stuck value, jump, noise, drift or early end stands out. {silent}")
    } else {
        silent
    }
}

/// How many possible pressure lows it has.
pub fn sensor_pressure(findings: &SensorFindings) -> String {
    match findings.pressure.len() {
        0 => "No low of the night on this sensor looks like pressure.".to_owned(),
        1 => "One low of the night looks as if someone lay on the sensor.".to_owned(),
        count => format!("{count} lows of the night look as if someone lay on the sensor."),
    }
}

/// What the picture of it says, for those who do not see it.
pub fn sensor_picture(findings: &SensorFindings, shown: Shown) -> String {
    let life = &findings.life.blood;
    let fold = |values: &mut dyn Iterator<Item = f64>| {
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        })
    };
    let (low, high) = fold(&mut life.sensor_mg_dl.iter().copied());
    let (low_told, high_told) = fold(&mut life.blood.iter().map(|blood| blood.mean_mg_dl));
    let others = findings
        .faults
        .iter()
        .filter(|line| line.kind != "dropout")
        .count();
    format!(
        "Readings from {} {}; blood probably from {}. {} beside readings, MARD {}. {} Marked: {}, {}. The tables below say the same \
         day by day and check by check.",
        extremes(low, false, high, false, shown),
        shown.unit,
        extremes(low_told, false, high_told, false, shown),
        counted(findings.counts.pairs, "blood check", "blood checks"),
        tenths_percent(&findings.agreement.mard_percent),
        scale_said(findings, shown),
        counted(others as u64, "thing that looks wrong", "things that look wrong"),
        counted(
            findings.pressure.len() as u64,
            "possible pressure low",
            "possible pressure lows"
        )
    )
}

/// What the picture of one day of it says.
pub fn day_picture(day: &WearDay) -> String {
    let high = day.reads_high.map_or_else(String::new, |high| {
        format!(" At its middle it read {}.", reads(&high))
    });
    format!(
        "24 hours from {}: {} readings, {}, {} within 15 %.{high} The tables below say the same.",
        date_and_clock(day.from.0),
        day.readings,
        counted(day.checks, "blood check", "blood checks"),
        day.within_15
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn high_and_low_are_words_not_signs() {
        let said = [4.4, -3.5, 0.3, -0.4].map(high_or_low);
        assert_eq!(said, ["4 % high", "4 % low", "0 %", "0 %"]);
        let high = |percent, most| {
            reads(&ReadsHigh {
                percent,
                half: most,
                most,
            })
        };
        assert_eq!(high(4.0, (1.0, 7.0)), "about 4 % high (1 to 7 % high)");
        assert_eq!(high(-4.0, (-7.0, -1.0)), "about 4 % low (1 to 7 % low)");
        assert_eq!(high(-2.0, (-6.0, 1.0)), "about 2 % low (6 % low to 1 % high)");
    }
}

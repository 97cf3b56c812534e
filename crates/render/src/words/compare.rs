//! Before and after, as sentences and tables. They tell what was different, and never why.

use interstice_findings::compare::{CompareFindings, ComparedLine, Logged, Measured, SideLine, What};
use interstice_findings::states::{KnownBy, KnownState};
use interstice_glucose::{Moment, Unit, counted, one_or_many, round_half_up};

use super::{Shown, Table, day, percent};

/// Things named in front of the table.
const NAMED: usize = 5;

/// The answer in front: the difference of time in range, and what else was different.
pub fn compare_answer(findings: &CompareFindings) -> Vec<String> {
    let Some(line) = in_range(findings) else {
        let reason = findings.reason.as_deref().unwrap_or("there is too little");
        return vec![super::sentence(&format!("too little to compare yet: {reason}"))];
    };
    vec![in_range_said(findings, line), others_said(findings)]
}

fn in_range(findings: &CompareFindings) -> Option<&ComparedLine> {
    let is_it = |line: &&ComparedLine| line.what == What::Figure(Measured::InRange);
    findings.figures.iter().find(is_it)
}

fn in_range_said(findings: &CompareFindings, line: &ComparedLine) -> String {
    let (Some(difference), Some(before), Some(after)) = (line.difference, line.before, line.after) else {
        return "Time in range cannot be compared.".to_owned();
    };
    let direction = if difference < 0.0 { "lower" } else { "higher" };
    let (when, than) = (when(findings, &findings.after), when(findings, &findings.before));
    let (Some(lo), Some(hi)) = (line.difference_lo95, line.difference_hi95) else {
        return format!(
            "Time in range was {} % {when} and {} % {than}; how sure that is cannot be told.",
            percent(after),
            percent(before)
        );
    };
    // Told as a size, the ends of a fall turn round.
    let (lo, hi) = if difference < 0.0 { (-hi, -lo) } else { (lo, hi) };
    let points = |value: f64| round_half_up(value, 1).replace('-', "−");
    let size = points(difference.abs());
    let margin = format!("{} to {}, 95 % margin", points(lo), points(hi));
    let figures = format!("{} % against {} %", percent(after), percent(before));
    if line.leaves_zero() == 0 {
        format!(
            "Whether time in range differs cannot be told: it was {size} points {direction} {when} than {than} ({margin}): {figures}."
        )
    } else {
        format!("Time in range was {size} points {direction} {when} than {than} ({margin}): {figures}.")
    }
}

/// 'from 1 October 2025 to 28 October 2025', 'on days with 'on board'', 'on other days'.
fn when(findings: &CompareFindings, side: &SideLine) -> String {
    match (&side.name, findings.known_by) {
        (Some(name), known_by) => kind_days(name, known_by),
        (None, Some(_)) => "on other days".to_owned(),
        (None, None) => format!("from {}", side_days(side)),
    }
}

fn kind_days(name: &str, known_by: Option<KnownBy>) -> String {
    match (name, known_by) {
        ("weekend", Some(KnownBy::Calendar)) => "at weekends".to_owned(),
        (name, Some(KnownBy::Calendar)) => format!("on days in {name}"),
        _ => format!("on days with '{name}'"),
    }
}

fn side_days(side: &SideLine) -> String {
    let last = Moment {
        at: side.to.0.at - 1,
        offset_s: side.to.0.offset_s,
    };
    format!("{} to {}", day(side.from.0), day(last))
}

/// What else was different; and that what made it cannot be told.
fn others_said(findings: &CompareFindings) -> String {
    let mut others: Vec<&ComparedLine> = findings.also.iter().filter(|line| line.is_named()).collect();
    let p = |line: &ComparedLine| line.p_all_allowed_for.unwrap_or(1.0);
    let size = |line: &ComparedLine| line.difference.unwrap_or(0.0).abs();
    others.sort_by(|a, b| p(a).total_cmp(&p(b)).then(size(b).total_cmp(&size(a))));
    let sensors = [findings.before.sensors, findings.after.sensors];
    let sensors = format!(
        "they were read by {} and {} {}, which differ from one another",
        sensors[0],
        sensors[1],
        one_or_many(&(sensors[1] as u64), "sensor", "sensors")
    );
    if others.is_empty() {
        return format!(
            "Nothing else that was logged differs clearly between them, but {sensors}, and what nobody logged is not known: what made a \
             difference cannot be told."
        );
    }
    let named: Vec<String> = others.iter().take(NAMED).map(|line| other_said(line)).collect();
    let more = match others.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(
            " and {} in the table",
            counted(more as u64, "thing more", "things more")
        ),
    };
    format!(
        "Also different between them: {}{more}; {sensors}. So what made it cannot be told.",
        named.join(", ")
    )
}

/// '4.2 units a day more rapid insulin'.
fn other_said(line: &ComparedLine) -> String {
    let What::Logged(what) = &line.what else {
        return String::new();
    };
    let difference = line.difference.unwrap_or(0.0);
    let size = round_half_up(difference.abs(), decimals(line, Unit::MgPerDl));
    let (more, many) = if difference < 0.0 {
        ("less", "fewer")
    } else {
        ("more", "more")
    };
    match what {
        Logged::RapidInsulin => format!("{size} units a day {more} rapid insulin"),
        Logged::LongInsulin => format!("{size} units a day {more} long insulin"),
        Logged::OtherInsulin => format!("{size} units a day {more} insulin of other kinds"),
        Logged::BasalInsulin => format!("{size} units a day {more} of a pump's basal insulin"),
        Logged::Doses => format!("{size} a day {many} doses of rapid insulin"),
        Logged::Corrections => format!("{size} a day {many} corrections"),
        Logged::Carbohydrate => format!("{size} g a day {more} carbohydrate"),
        Logged::Meals => format!("{size} a day {many} meals"),
        Logged::LowsTreated => format!("{size} a week {many} lows eaten against"),
        Logged::Activity => format!("{size} minutes a day {more} activity"),
        Logged::Sleep => format!("{size} hours a day {more} sleep"),
        Logged::Readings => format!("{size} a day {many} readings"),
        Logged::BloodChecks => format!("{size} a day {many} blood checks"),
        Logged::PressureLows => format!("{size} a week {many} possible pressure lows"),
        Logged::Place(place) => format!("{size} points {more} of the time on the {place}"),
        Logged::Lot(lot) => format!("{size} points {more} of the time from lot {lot}"),
        Logged::BeddedIn => format!("{size} points {more} of the time on sensors bedded in"),
        Logged::FirstDay => format!("{size} points {more} of the time in a sensor's first day"),
    }
}

/// What each side is: days, readings, sensors, and whether there is enough.
pub fn compare_sides(findings: &CompareFindings) -> Vec<String> {
    [&findings.before, &findings.after]
        .into_iter()
        .map(|side| {
            let active = side.active_percent.map_or_else(String::new, |active| {
                format!(", {} % of the time read", percent(active))
            });
            let enough = side
                .reason
                .as_ref()
                .map_or_else(String::new, |reason| format!(" Not enough: {reason}."));
            super::sentence(&format!(
                "{}: {}{} with readings{active}, {}",
                side_name(findings, side),
                counted(side.days as u64, "day", "days"),
                if side.days_with_data as usize == side.days {
                    ", all".to_owned()
                } else {
                    format!(", {}", side.days_with_data)
                },
                counted(side.sensors as u64, "sensor", "sensors")
            )) + &enough
        })
        .collect()
}

/// 'Days with 'on board', 4 October 2025 to 7 April 2026'.
fn side_name(findings: &CompareFindings, side: &SideLine) -> String {
    let days = side_days(side);
    match (&side.name, findings.known_by) {
        (None, None) => days,
        (None, Some(_)) => format!("other days, {days}"),
        (Some(name), known_by) => {
            let of = kind_days(name, known_by);
            format!("{}, {days}", of.trim_start_matches("on "))
        }
    }
}

/// A short name of a side, for the head of a column.
pub fn compare_head(findings: &CompareFindings, is_after: bool) -> String {
    let side = if is_after {
        &findings.after
    } else {
        &findings.before
    };
    match (&side.name, findings.known_by, is_after) {
        (Some(_), _, true) if findings.before.name.is_none() => "with".to_owned(),
        (Some(name), _, _) => name.clone(),
        (None, Some(_), _) => "without".to_owned(),
        (None, None, false) => "former".to_owned(),
        (None, None, true) => "latter".to_owned(),
    }
}

/// What a difference is.
pub fn compare_less(findings: &CompareFindings) -> String {
    match (&findings.before.name, &findings.after.name) {
        (Some(before), Some(after)) => format!("Days with '{after}' less days with '{before}'."),
        (None, Some(_)) => "Days with it less days without.".to_owned(),
        (_, None) => "The latter less the former.".to_owned(),
    }
}

/// What asking so much at once means.
pub fn compare_many(findings: &CompareFindings) -> String {
    format!(
        "{} asked about at once: of margins like these one in twenty leaves zero out though nothing differs. With everything asked allowed \
         for, {} (marked 'stands'; 'alone' is what leaves zero out by its own margin only).",
        counted(findings.asked as u64, "difference is", "differences are"),
        match findings.stand {
            0 => "none stands".to_owned(),
            1 => "1 still stands".to_owned(),
            stand => format!("{stand} still stand"),
        }
    )
}

/// The figures.
pub fn compare_table(findings: &CompareFindings, shown: Shown) -> Table {
    table(findings, &findings.figures, "figures", shown)
}

/// What else was different, or was not.
pub fn compare_also_table(findings: &CompareFindings, shown: Shown) -> Table {
    table(findings, &findings.also, "also", shown)
}

fn table(findings: &CompareFindings, lines: &[ComparedLine], id: &'static str, shown: Shown) -> Table {
    let heads = [compare_head(findings, false), compare_head(findings, true)];
    let first = if id == "also" { "What was logged" } else { "Figure" };
    let rows = lines.iter().map(|line| {
        let value =
            |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |value| plain(line, value, shown));
        vec![
            compare_label(&line.what, shown),
            value(line.before),
            value(line.after),
            compare_difference(line, shown),
            standing(line).to_owned(),
        ]
    });
    Table::new(
        id,
        &[
            (first, false),
            (&heads[0], true),
            (&heads[1], true),
            ("Difference, 95 % margin", true),
            ("Standing", false),
        ],
        rows.collect(),
    )
}

/// 'stands' where it does with everything allowed for, 'alone' where only its own margin leaves zero out.
fn standing(line: &ComparedLine) -> &'static str {
    match (line.stands(), line.leaves_zero() != 0) {
        (true, true) => "stands",
        (_, true) => "alone",
        _ => "",
    }
}

/// '+6.2 (2.1 to 10.3)', or why there is none.
pub fn compare_difference(line: &ComparedLine, shown: Shown) -> String {
    let Some(difference) = line.difference else {
        return line.difference_reason.clone().unwrap_or_else(|| "–".to_owned());
    };
    let difference = signed(line, difference, shown);
    match line.difference_lo95.zip(line.difference_hi95) {
        Some((lo, hi)) => format!(
            "{difference} ({} to {})",
            signed(line, lo, shown),
            signed(line, hi, shown)
        ),
        None => difference,
    }
}

fn is_glucose(what: &What) -> bool {
    matches!(
        what,
        What::Figure(Measured::Mean | Measured::Sd | Measured::NightMean)
    )
}

fn is_percent(what: &What) -> bool {
    match what {
        What::Figure(which) => {
            !is_glucose(what) && !matches!(which, Measured::Lows | Measured::DeepLows | Measured::Highs)
        }
        What::Logged(what) => matches!(
            what,
            Logged::Place(_) | Logged::Lot(_) | Logged::BeddedIn | Logged::FirstDay
        ),
    }
}

fn plain(line: &ComparedLine, value: f64, shown: Shown) -> String {
    match &line.what {
        what if is_glucose(what) => shown.glucose(value),
        What::Figure(Measured::Cv | Measured::Gmi) => round_half_up(value, 1),
        what if is_percent(what) => percent(value),
        What::Logged(Logged::Readings | Logged::Carbohydrate | Logged::Activity) => round_half_up(value, 0),
        _ => round_half_up(value, 1),
    }
}

/// With its sign, in the wearer's unit, difference and both ends with the same decimals.
fn signed(line: &ComparedLine, value: f64, shown: Shown) -> String {
    let is_glucose = is_glucose(&line.what);
    let scale = if is_glucose { in_unit(shown.unit) } else { 1.0 };
    let text = round_half_up(value * scale, decimals(line, shown.unit));
    let nothing = text.chars().all(|c| matches!(c, '0' | '.' | '-'));
    match text.strip_prefix('-') {
        Some(size) if !nothing => format!("−{size}"),
        Some(size) => size.to_owned(),
        None if nothing => text,
        None => format!("+{text}"),
    }
}

/// What a difference in mg/dL is multiplied by.
pub(crate) fn in_unit(unit: Unit) -> f64 {
    match unit {
        Unit::MgPerDl => 1.0,
        Unit::MmolPerL => 1.0 / interstice_glucose::MG_PER_DL_IN_ONE_MMOL_PER_L,
    }
}

fn decimals(line: &ComparedLine, unit: Unit) -> usize {
    let ends = [line.difference, line.difference_lo95, line.difference_hi95];
    let largest = ends
        .into_iter()
        .flatten()
        .fold(0.0_f64, |most, end| most.max(end.abs()));
    match (is_glucose(&line.what), unit) {
        (true, Unit::MmolPerL) => 1,
        (true, Unit::MgPerDl) => 0,
        _ if largest >= 50.0 => 0,
        _ if matches!(
            line.what,
            What::Logged(Logged::Place(_) | Logged::Lot(_) | Logged::BeddedIn)
        ) =>
        {
            0
        }
        _ if largest >= 1.0 => 1,
        _ => 2,
    }
}

/// What a line is about, with its unit.
pub fn compare_label(what: &What, shown: Shown) -> String {
    match what {
        What::Figure(which) => figure_label(*which, shown),
        What::Logged(what) => logged_label(what),
    }
}

fn figure_label(which: Measured, shown: Shown) -> String {
    let glucose = |mg_dl: f64| shown.glucose(mg_dl);
    match which {
        Measured::InRange => "Time in range, %".to_owned(),
        Measured::Tight => format!("Time from {} to {}, %", glucose(70.0), glucose(140.0)),
        Measured::Below => "Time below range, %".to_owned(),
        Measured::VeryLow => format!("Time below {}, %", glucose(54.0)),
        Measured::Above => "Time above range, %".to_owned(),
        Measured::VeryHigh => format!("Time above {}, %", glucose(250.0)),
        Measured::Mean => format!("Mean, {}", shown.unit),
        Measured::Sd => format!("Standard deviation, {}", shown.unit),
        Measured::Cv => "CV, %".to_owned(),
        Measured::Gmi => "GMI, %".to_owned(),
        Measured::Lows => "Lows a week".to_owned(),
        Measured::DeepLows => "Lows of level 2 a week".to_owned(),
        Measured::Highs => "Highs a week".to_owned(),
        Measured::NightMean => format!("Mean at night, {}", shown.unit),
        Measured::NightInRange => "In range at night, %".to_owned(),
        Measured::NightBelow => "Below range at night, %".to_owned(),
    }
}

fn logged_label(what: &Logged) -> String {
    match what {
        Logged::RapidInsulin => "Rapid insulin, units a day".to_owned(),
        Logged::LongInsulin => "Long insulin, units a day".to_owned(),
        Logged::OtherInsulin => "Other insulin, units a day".to_owned(),
        Logged::BasalInsulin => "Pump basal, units a day".to_owned(),
        Logged::Doses => "Doses of rapid insulin a day".to_owned(),
        Logged::Corrections => "Corrections a day".to_owned(),
        Logged::Carbohydrate => "Carbohydrate, g a day".to_owned(),
        Logged::Meals => "Meals a day".to_owned(),
        Logged::LowsTreated => "Lows eaten against, a week".to_owned(),
        Logged::Activity => "Activity, minutes a day".to_owned(),
        Logged::Sleep => "Sleep, hours a day".to_owned(),
        Logged::Readings => "Readings a day".to_owned(),
        Logged::BloodChecks => "Blood checks a day".to_owned(),
        Logged::PressureLows => "Possible pressure lows a week".to_owned(),
        Logged::Place(place) => format!("On the {place}, % of time"),
        Logged::Lot(lot) => format!("Lot {lot}, % of time"),
        Logged::BeddedIn => "Sensor bedded in, % of time".to_owned(),
        Logged::FirstDay => "Sensor's first day, % of time".to_owned(),
    }
}

/// A kind of day to choose: 'on board (a tag, 84 days)'.
pub fn compare_state(state: &KnownState) -> String {
    let by = match state.known_by {
        KnownBy::Tag => "a tag",
        KnownBy::Logged => "logged",
        KnownBy::Words => "your words",
        KnownBy::Calendar => "the calendar",
    };
    format!(
        "{} ({by}, {})",
        state.name,
        counted(state.days as u64, "day", "days")
    )
}

/// The same where a list says how it is known: 'on board, 84 days'.
pub fn compare_option(state: &KnownState) -> String {
    format!("{}, {}", state.name, counted(state.days as u64, "day", "days"))
}

/// How the margins were made.
pub fn compare_basis(findings: &CompareFindings) -> String {
    format!(
        "Margins from 2,000 drawings of days of each side, in blocks of {} and {} days on average (seed {}).",
        round_half_up(findings.block_days[0], 1),
        round_half_up(findings.block_days[1], 1),
        findings.seed
    )
}

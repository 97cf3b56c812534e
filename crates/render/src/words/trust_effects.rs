//! What makes a sensor good or bad, in words: what can be told first, the rest in one sentence and a table.

use interstice_findings::trust::{EffectLine, Effects};
use interstice_glucose::{counted, round_half_up};

use super::Table;

/// What stands above the comparisons.
pub const EFFECTS_HELP: &str = "Each is a comparison between your own sensors, in percentage points of the blood value, with its 95 % \
    margin; the first day and the direction of change are held equal. Everything asked is counted, so that one in many does not stand \
    out by chance, and what a single sensor makes does not count. It shows what went together, not what caused it.";

/// The summary of the table of comparisons.
pub const EFFECTS_TABLE: &str = "Every comparison, and what would settle it";

/// The summary of the table of sites and lots.
pub const LEVELS_TABLE: &str = "What to expect of a new sensor, by site and lot";

/// What is said of one comparison.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EffectSaid {
    /// 'site: thigh beside upper arm'.
    pub name: String,
    /// The answer for the signed difference and for its size.
    pub says: Vec<String>,
}

/// The comparisons of which something may be shown as there, in the order asked; each with both its answers.
pub fn effects_there(effects: &Effects) -> Vec<EffectSaid> {
    comparisons(effects)
        .into_iter()
        .filter(|(_, lines)| lines.iter().any(|line| line.holds))
        .map(|(name, lines)| EffectSaid {
            name,
            says: lines.iter().map(|line| answer(line)).collect(),
        })
        .collect()
}

/// The answer of one line in words.
fn answer(line: &EffectLine) -> String {
    match (line.points, line.of) {
        (None, _) => line.says.clone(),
        (Some(_), "signed") => format!("it reads {}", line.says),
        (Some(_), _) => format!("it stands {}", line.says),
    }
}

/// What is not there: how many cannot be told yet, which is nearest to an answer, what is too small to matter, and what
/// could not be compared at all. A sentence each; empty where everything is there.
pub fn effects_rest(effects: &Effects) -> Vec<String> {
    let lines = &effects.asked;
    let is = |line: &&EffectLine, standing: &str| line.standing == standing;
    let open: Vec<&EffectLine> = lines
        .iter()
        .filter(|line| matches!(line.standing, "open" | "among_many" | "one_sensor"))
        .collect();
    let told = lines.iter().filter(|line| line.points.is_some()).count();
    let mut said = Vec::new();
    if !open.is_empty() {
        said.push(format!(
            "{} of {told} answers cannot be told yet: that nothing shows does not mean that nothing is there.{}",
            open.len(),
            nearest(&open)
        ));
    }
    let small = lines.iter().filter(|line| is(line, "too_small")).count() as u64;
    if small > 0 {
        said.push(format!(
            "{} too small to matter: whatever it is, it is less than 3 points either way.",
            counted(small, "is", "are")
        ));
    }
    let mut untold: Vec<&str> = Vec::new();
    for line in lines.iter().filter(|line| is(line, "untold")) {
        if !untold.contains(&line.about) {
            untold.push(line.about);
        }
    }
    if !untold.is_empty() {
        said.push(format!(
            "Nothing to compare yet for {}: the table says what is missing.",
            untold.join(", ")
        ));
    }
    said
}

/// The one that needs fewest further sensors, and how many ask for more than are sensible to wait for.
fn nearest(open: &[&EffectLine]) -> String {
    let near = open
        .iter()
        .filter_map(|line| Some((line.more_sensors?, line)))
        .min_by_key(|(more, _)| *more);
    let far = open.iter().filter(|line| line.more_sensors.is_none()).count() as u64;
    let mut words = String::new();
    if let Some((more, line)) = near {
        words = format!(
            " Nearest to an answer is {} ({}): about {}.",
            name(line),
            if line.of == "signed" {
                "does it read high or low"
            } else {
                "how far off it is"
            },
            counted(u64::from(more), "more sensor", "more sensors")
        );
    }
    if far > 0 {
        words += &format!(" {far} would take more sensors than are sensible to wait for.");
    }
    words
}

/// Why there is nothing to compare, 'preparation, temperature: nothing of it was logged': names with one reason together.
pub fn effects_untold(effects: &Effects) -> Vec<String> {
    let mut reasons: Vec<(&str, Vec<String>)> = Vec::new();
    for line in effects.asked.iter().filter(|line| line.points.is_none()) {
        let name = name(line);
        match reasons.iter_mut().find(|(why, _)| *why == line.says) {
            Some((_, names)) if names.contains(&name) => {}
            Some((_, names)) => names.push(name),
            None => reasons.push((&line.says, vec![name])),
        }
    }
    let words = |(why, names): &(&str, Vec<String>)| format!("{} – {why}", names.join(", "));
    reasons.iter().map(words).collect()
}

fn name(line: &EffectLine) -> String {
    match (&line.level, &line.beside, line.step) {
        (Some(level), Some(beside), _) => format!("{}: {level} beside {beside}", line.about),
        (_, _, Some(step)) if line.points.is_some() => format!("{}: {step}", line.about),
        _ => line.about.to_owned(),
    }
}

/// Lines of one comparison together, in the order asked.
fn comparisons(effects: &Effects) -> Vec<(String, Vec<&EffectLine>)> {
    let mut all: Vec<(String, Vec<&EffectLine>)> = Vec::new();
    for line in &effects.asked {
        let name = name(line);
        match all.iter_mut().find(|(other, _)| *other == name) {
            Some((_, lines)) => lines.push(line),
            None => all.push((name, vec![line])),
        }
    }
    all
}

/// Every comparison as cells: what is compared, and for either answer the points with their margin and what would settle it.
pub(super) fn effects_table(effects: &Effects) -> Table {
    let rows = comparisons(effects).into_iter().map(|(name, lines)| {
        let of = |of: &str| lines.iter().find(|line| line.of == of);
        let cell = |kind: &str| of(kind).map_or_else(|| ["–".to_owned(), "–".to_owned()], |line| cells(line));
        let sensors = lines
            .first()
            .and_then(|line| line.sensors.zip(line.sensors_beside))
            .map_or_else(
                || "–".to_owned(),
                |(own, beside)| match lines[0].step {
                    Some(_) => own.to_string(),
                    None => format!("{own} and {beside}"),
                },
            );
        let ([reads, reads_more], [stands, mut stands_more]) = (cell("signed"), cell("size"));
        if stands == "–" && stands_more == reads_more {
            stands_more = "–".to_owned(); // The reason once.
        }
        vec![name, sensors, reads, reads_more, stands, stands_more]
    });
    let heads = [
        ("Compared", false),
        ("Sensors", true),
        ("Reads higher (+), points", true),
        ("Answer", false),
        ("Further from blood (+), points", true),
        ("Answer", false),
    ];
    Table::new("effects", &heads, rows.collect())
}

fn cells(line: &EffectLine) -> [String; 2] {
    let (Some(points), Some(lo), Some(hi)) = (line.points, line.points_lo95, line.points_hi95) else {
        return ["–".to_owned(), line.says.clone()];
    };
    let stands = match (line.standing, line.more_sensors) {
        ("there", _) => "there".to_owned(),
        ("too_small", _) => "too small to matter".to_owned(),
        (_, Some(more)) => format!("about {}", counted(more, "more sensor", "more sensors")),
        (_, None) => "over 100 more sensors".to_owned(),
    };
    let apart = match line.standing {
        "among_many" => "; among so many it may be chance",
        "one_sensor" => "; one sensor alone makes it",
        _ => "",
    };
    [
        format!("{} ({} to {})", whole(points), whole(lo), whole(hi)),
        stands + apart,
    ]
}

/// '+8', '−3', '0'.
fn whole(points: f64) -> String {
    match points.round() as i64 {
        0 => "0".to_owned(),
        some if some > 0 => format!("+{some}"),
        some => format!("−{}", some.unsigned_abs()),
    }
}

/// One comparison as it stands in a line of text: its name, and for either answer the points and a word for how it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EffectRow {
    /// 'site: thigh / upper arm'.
    pub name: String,
    /// '+2 (−7…+10)' and 'yes', 'no' (too small to matter), or about how many more sensors would tell; first whether it
    /// reads high or low, then how far off it is.
    pub cells: [String; 4],
}

/// Every comparison that was made, in the order asked.
pub fn effect_rows(effects: &Effects) -> Vec<EffectRow> {
    let made = comparisons(effects).into_iter();
    let made = made.filter(|(_, lines)| lines.iter().any(|line| line.points.is_some()));
    made.map(|(name, lines)| {
        let of = |of: &str| lines.iter().find(|line| line.of == of).map(|line| short(line));
        let empty = || ["–".to_owned(), "–".to_owned()];
        let ([reads, so], [stands, also]) = (
            of("signed").unwrap_or_else(empty),
            of("size").unwrap_or_else(empty),
        );
        EffectRow {
            name: name.replace(" beside ", " / "),
            cells: [reads, so, stands, also],
        }
    })
    .collect()
}

fn short(line: &EffectLine) -> [String; 2] {
    let (Some(points), Some(lo), Some(hi)) = (line.points, line.points_lo95, line.points_hi95) else {
        return ["–".to_owned(), "–".to_owned()];
    };
    let so = match (line.standing, line.more_sensors) {
        ("there", _) => "yes".to_owned(),
        ("too_small", _) => "no".to_owned(),
        (_, Some(more)) => more.to_string(),
        (_, None) => ">100".to_owned(),
    };
    [format!("{} ({}…{})", whole(points), whole(lo), whole(hi)), so]
}

/// What may be expected of a new sensor at each site and of each lot, as cells.
pub(super) fn levels_table(effects: &Effects) -> Table {
    let tenth = |value: f64| round_half_up(value, 1);
    let rows = effects.levels.iter().map(|line| {
        vec![
            format!("{} {}", line.about, line.level),
            line.sensors.to_string(),
            line.pairs.to_string(),
            format!("{} %", tenth(line.mard_percent)),
            format!(
                "{} % ({} to {})",
                tenth(line.expected_percent),
                tenth(line.expected_percent_lo95.max(0.0)),
                tenth(line.expected_percent_hi95)
            ),
        ]
    });
    let heads = [
        ("Of", false),
        ("Sensors", true),
        ("Checks", true),
        ("Their MARD", true),
        ("MARD to expect, 95 % margin", true),
    ];
    Table::new("levels", &heads, rows.collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(about: &'static str, of: &'static str, standing: &'static str, more: Option<u32>) -> EffectLine {
        let made = standing != "untold";
        EffectLine {
            about,
            of,
            level: made.then(|| "thigh".to_owned()),
            beside: made.then(|| "upper arm".to_owned()),
            step: None,
            points: made.then_some(-2.6),
            points_lo95: made.then_some(-7.4),
            points_hi95: made.then_some(0.3),
            p: made.then_some(0.2),
            q: made.then_some(0.4),
            sensors: made.then_some(4),
            sensors_beside: made.then_some(6),
            holds: standing == "there",
            standing,
            more_sensors: more,
            entangled_with: Vec::new(),
            says: if made {
                "about 3 points lower".to_owned()
            } else {
                "nothing of it was logged".to_owned()
            },
        }
    }

    #[test]
    fn what_is_there_comes_with_both_answers_and_the_rest_in_a_few_sentences() {
        let effects = Effects {
            asked: vec![
                line("lot", "signed", "there", Some(0)),
                line("lot", "size", "open", Some(12)),
                line("site", "signed", "too_small", Some(0)),
                line("site", "size", "among_many", Some(1)),
                line("side", "signed", "open", None),
                line("side", "size", "one_sensor", Some(3)),
                line("water drunk", "signed", "untold", None),
                line("water drunk", "size", "untold", None),
                line("temperature", "signed", "untold", None),
            ],
            levels: Vec::new(),
        };
        let there = effects_there(&effects);
        assert_eq!(there.len(), 1);
        assert_eq!(there[0].name, "lot: thigh beside upper arm");
        assert_eq!(
            there[0].says,
            ["it reads about 3 points lower", "it stands about 3 points lower"]
        );
        assert_eq!(
            effects_rest(&effects),
            [
                "4 of 6 answers cannot be told yet: that nothing shows does not mean that nothing is there. Nearest to an \
                 answer is site: thigh beside upper arm (how far off it is): about 1 more sensor. 1 would take more sensors than \
                 are sensible to wait for.",
                "1 is too small to matter: whatever it is, it is less than 3 points either way.",
                "Nothing to compare yet for water drunk, temperature: the table says what is missing.",
            ]
        );
        assert_eq!(
            effects_untold(&effects),
            ["water drunk, temperature – nothing of it was logged"]
        );
        let rows = effect_rows(&effects);
        let cells: Vec<&str> = rows
            .iter()
            .flat_map(|row| [row.cells[1].as_str(), row.cells[3].as_str()])
            .collect();
        assert_eq!(cells, ["yes", "12", "no", "1", ">100", "3"]);
        assert_eq!(
            (rows[0].name.as_str(), rows[0].cells[0].as_str()),
            ("lot: thigh / upper arm", "−3 (−7…0)")
        );
        let table = effects_table(&effects);
        assert_eq!(
            table.rows.len(),
            5,
            "one row a comparison, those without an answer too"
        );
        assert_eq!(
            table.rows[1][5],
            "about 1 more sensor; among so many it may be chance"
        );
        assert_eq!(table.rows[3][3], "nothing of it was logged");
    }

    #[test]
    fn nothing_asked_says_nothing() {
        assert!(
            effects_rest(&Effects::default()).is_empty() && effects_there(&Effects::default()).is_empty()
        );
    }
}

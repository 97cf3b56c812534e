//! How long sensors stay on: the tables, and which groups differ from the others.

use interstice_findings::Figure;
use interstice_findings::wear::{Against, Group, Standing, Staying};
use interstice_glucose::counted;

use super::trust_table::Table;
use super::wear::{by_name, with_margin};

/// How long sensors stay on, by what they have in common.
pub fn staying_table(staying: &Staying) -> Table {
    let heads = [
        (by_name(staying.by), false),
        ("Sensors", true),
        ("Lost", true),
        ("On after 7 days", true),
        ("To labelled end", true),
        ("Mean days", true),
    ];
    Table::new("staying", &heads, staying.groups.iter().map(cells).collect())
}

fn cells(group: &Group) -> Vec<String> {
    vec![
        group.name.clone(),
        group.sensors.to_string(),
        lost_cell(group),
        with_margin(&group.week_percent, 1.0, 0, " %"),
        with_margin(&group.labelled_percent, 1.0, 0, " %"),
        with_margin(&group.mean_h, 1.0 / 24.0, 1, ""),
    ]
}

/// '3: 2 off, 1 failed'.
fn lost_cell(group: &Group) -> String {
    let causes = [
        (group.came_off, "off"),
        (group.failed, "failed"),
        (group.pain_or_skin, "pain or skin"),
    ];
    let causes: Vec<String> = causes
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, cause)| format!("{count} {cause}"))
        .collect();
    if causes.is_empty() {
        return group.lost.to_string();
    }
    format!("{}: {}", group.lost, causes.join(", "))
}

/// What sensors are told apart by: 'By site'.
pub fn by_said(by: &'static str) -> String {
    format!("By {}", by_name(by).to_lowercase())
}

/// Which groups differ from the others, a sentence each; of those that are too few, how many are missing.
pub fn staying_said(staying: &Staying) -> Vec<String> {
    let told: Vec<(&Group, &Against)> = staying
        .groups
        .iter()
        .filter_map(|group| Some((group, group.against_others.as_ref()?)))
        .collect();
    if told
        .iter()
        .all(|(_, against)| against.standing == Standing::TooFew)
    {
        return at_once(&staying.p).into_iter().collect();
    }
    if let [(first, _), (second, _)] = told[..] {
        // The second comparison is the first over again; told of what was done rather than of nothing.
        let (of, than) = if first.name == "nothing" {
            (1, first)
        } else {
            (0, second)
        };
        let (group, against) = told[of];
        return vec![group_said(
            staying.by,
            group,
            against,
            &with(staying.by, &than.name),
        )];
    }
    told.iter()
        .map(|(group, against)| group_said(staying.by, group, against, "the others"))
        .collect()
}

/// Said once beside differences that were found.
pub const STAYING_CAUTION: &str = "These sensors were not assigned by lot: what else was different when they were worn is in such a difference too. \
                                   A trial of your own tells it apart.";

/// Whether any group was found to differ.
pub fn staying_differs(survival: &[Staying]) -> bool {
    let mut all = survival.iter().flat_map(|staying| &staying.groups);
    all.any(|group| {
        let standing = group.against_others.as_ref().map(|against| against.standing);
        matches!(
            standing,
            Some(Standing::Longer | Standing::Shorter | Standing::Differs)
        )
    })
}

/// Whether all groups differ at once.
fn at_once(p: &Figure) -> Option<String> {
    let reason = p.reason.as_ref()?;
    Some(format!("Whether the groups differ cannot be told yet: {reason}."))
}

/// 'with over-patch', 'thigh'.
fn with(by: &str, name: &str) -> String {
    match by {
        "cover" | "preparation" => format!("with {name}"),
        _ => name.to_owned(),
    }
}

fn group_said(by: &str, group: &Group, against: &Against, others: &str) -> String {
    let name = sentence_case(&with(by, &group.name));
    let by_much = apart(&against.longer_h);
    let chance = || {
        let p = against.p.value.unwrap_or(1.0);
        chance(p, against.comparisons)
    };
    match against.standing {
        Standing::Longer => format!(
            "{name}: they stay on longer than {others}, by {by_much}; {}.",
            chance()
        ),
        Standing::Shorter => format!(
            "{name}: they are lost sooner than {others}, by {by_much}; {}.",
            chance()
        ),
        Standing::Differs => format!(
            "{name}: they are not lost as {others} are, but by how much on average cannot be told; {}.",
            chance()
        ),
        Standing::Open => format!("{name}: {}it may be chance.", open(&against.longer_h, others)),
        Standing::TooFew => too_few(by, group, against, &name),
    }
}

fn too_few(by: &str, group: &Group, against: &Against, name: &str) -> String {
    let (sensors, lost) = (counted(group.sensors, "sensor", "sensors"), group.lost);
    let so = match by {
        "cover" | "preparation" => "so prepared",
        _ => "there",
    };
    let more = against.more_sensors.map_or_else(
        || "the others are too few to compare with".to_owned(),
        |more| format!("about {more} more {so} would do"),
    );
    format!("{name}: not enough yet ({sensors}, {lost} lost); {more}.")
}

fn sentence_case(name: &str) -> String {
    let mut letters = name.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// '4.1 days on average (2.2 to 6.0)'.
fn apart(longer_h: &Figure) -> String {
    let Some((hours, (lo, hi))) = longer_h.value.zip(longer_h.lo95.zip(longer_h.hi95)) else {
        return String::new();
    };
    let [hours, lo, hi] = [hours, lo, hi].map(|hours| hours.abs() / 24.0);
    format!(
        "{hours:.1} days on average ({:.1} to {:.1})",
        lo.min(hi),
        lo.max(hi)
    )
}

/// '0.4 days longer than the others on average (1.0 less long to 1.8 longer); '.
fn open(longer_h: &Figure, others: &str) -> String {
    let Some((hours, (lo, hi))) = longer_h.value.zip(longer_h.lo95.zip(longer_h.hi95)) else {
        return format!("no difference from {others} can be told; ");
    };
    let way = |hours: f64| if hours < 0.0 { "less long" } else { "longer" };
    let [days, from, to] = [hours, lo, hi].map(|hours| hours.abs() / 24.0);
    let within = if way(lo) == way(hi) {
        format!("{:.1} to {:.1}", from.min(to), from.max(to))
    } else {
        format!("{from:.1} {} to {to:.1} {}", way(lo), way(hi))
    };
    format!(
        "{days:.1} days {} than {others} on average ({within}); ",
        way(hours)
    )
}

/// 'if they were alike, so large a difference would come in 3 of 100 such records (log-rank, 4 comparisons allowed for)'.
fn chance(p: f64, comparisons: u64) -> String {
    let of = if p < 0.01 {
        "fewer than 1".to_owned()
    } else {
        format!("{:.0}", 100.0 * p)
    };
    let allowed = if comparisons > 1 {
        format!(", {comparisons} comparisons allowed for")
    } else {
        String::new()
    };
    format!(
        "if they were alike, so large a difference would come in {of} of 100 such records (log-rank{allowed})"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn group(name: &str, standing: Standing, days: Option<(f64, f64, f64)>, more: Option<u64>) -> Group {
        let figure = |days: (f64, f64, f64)| Figure {
            value: Some(24.0 * days.0),
            lo95: Some(24.0 * days.1),
            hi95: Some(24.0 * days.2),
            reason: None,
        };
        Group {
            name: name.to_owned(),
            sensors: 3,
            lost: 2,
            came_off: 2,
            failed: 0,
            pain_or_skin: 0,
            week_percent: Figure::default(),
            labelled_percent: Figure::default(),
            mean_h: Figure::default(),
            longest_h: 336.0,
            curve: Vec::new(),
            against_others: Some(Against {
                standing,
                longer_h: days.map_or_else(Figure::default, figure),
                p: Figure::plain(0.034),
                comparisons: 2,
                more_sensors: more,
            }),
        }
    }

    #[test]
    fn each_standing_has_its_sentence() {
        let staying = |by, groups| Staying {
            by,
            groups,
            p: Figure::missing("3 losses are too few"),
        };
        let said = staying_said(&staying(
            "site",
            vec![
                group("thigh", Standing::Shorter, Some((-3.84, -5.7, -1.9)), None),
                group("chest", Standing::Open, Some((0.5, -1.04, 2.0)), None),
                group("abdomen", Standing::TooFew, None, Some(14)),
            ],
        ));
        assert_eq!(
            said,
            [
                "Thigh: they are lost sooner than the others, by 3.8 days on average (1.9 to 5.7); if they were alike, so \
                 large a difference would come in 3 of 100 such records (log-rank, 2 comparisons allowed for).",
                "Chest: 0.5 days longer than the others on average (1.0 less long to 2.0 longer); it may be chance.",
                "Abdomen: not enough yet (3 sensors, 2 lost); about 14 more there would do.",
            ]
        );
        let said = staying_said(&staying(
            "cover",
            vec![
                group("nothing", Standing::Shorter, Some((-4.2, -6.0, -2.0)), None),
                group("over-patch", Standing::Longer, Some((4.2, 2.0, 6.0)), None),
            ],
        ));
        let [said] = said.as_slice() else {
            panic!("{said:?}")
        };
        assert!(
            said.starts_with("With over-patch: they stay on longer than with nothing, by 4.2 days"),
            "{said}"
        );
        let too_few = || group("a", Standing::TooFew, None, None);
        assert_eq!(
            staying_said(&staying("side", vec![too_few(), too_few()])),
            ["Whether the groups differ cannot be told yet: 3 losses are too few."]
        );
    }
}

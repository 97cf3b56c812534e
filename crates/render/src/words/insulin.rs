//! Insulin as it was logged, in words and a table.

use interstice_findings::visit::{InsulinGiven, InsulinLine};
use interstice_glucose::round_half_up;

use super::Table;

/// On how many of the window's days any was logged.
pub fn insulin_logged(given: &InsulinGiven, days: u32) -> String {
    if given.kinds.is_empty() {
        return "No insulin was logged in this window.".to_owned();
    }
    format!(
        "Logged on {} of {days} days. Units, mean of the days on which that kind was logged.",
        given.days_logged
    )
}

/// Units a day by kind and time of day; `None` where none was logged.
pub fn insulin_table(given: &InsulinGiven) -> Option<Table> {
    let row = |line: &InsulinLine| {
        let mut cells = vec![
            name(line),
            line.days_logged.to_string(),
            units(line.units_per_day_logged),
        ];
        cells.extend(line.units_by_quarter.map(units));
        cells
    };
    (!given.kinds.is_empty()).then(|| {
        Table::new(
            "insulin",
            &[
                ("Kind", false),
                ("Days", true),
                ("A day", true),
                ("0 to 6", true),
                ("6 to 12", true),
                ("12 to 18", true),
                ("18 to 24", true),
            ],
            given.kinds.iter().map(row).collect(),
        )
    })
}

fn name(line: &InsulinLine) -> String {
    let kind = match line.insulin {
        "rapid" => "Rapid-acting",
        "short" => "Short-acting",
        "intermediate" => "Intermediate",
        "long" => "Long-acting",
        "mixed" => "Premixed",
        _ => "Kind not said",
    };
    if line.basal_rate {
        format!("{kind}, basal rate")
    } else {
        kind.to_owned()
    }
}

/// Units with one decimal; a dash for none.
fn units(units: f64) -> String {
    if units > 0.0 {
        round_half_up(units, 1)
    } else {
        "–".to_owned()
    }
}

//! Insulin as it was logged, in words and a table.

use interstice_findings::visit::{InsulinGiven, InsulinLine};
use interstice_tongue::say;

use super::{Table, rounded};

/// On how many of the window's days any was logged.
pub fn insulin_logged(given: &InsulinGiven, days: u32) -> String {
    if given.kinds.is_empty() {
        return say!("insulin-none");
    }
    say!("insulin-logged", with = given.days_logged, days = days)
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
                (&say!("review-kind"), false),
                (&say!("review-days-head"), true),
                (&say!("insulin-a-day"), true),
                (&hours("0", "6"), true),
                (&hours("6", "12"), true),
                (&hours("12", "18"), true),
                (&hours("18", "24"), true),
            ],
            given.kinds.iter().map(row).collect(),
        )
    })
}

fn hours(from: &str, to: &str) -> String {
    say!("number-span", low = from, high = to)
}

fn name(line: &InsulinLine) -> String {
    if line.basal_rate {
        say!("insulin-kind-basal", kind = line.insulin)
    } else {
        say!("insulin-kind", kind = line.insulin)
    }
}

/// Units with one decimal; a dash for none.
fn units(units: f64) -> String {
    if units > 0.0 {
        rounded(units, 1)
    } else {
        "–".to_owned()
    }
}

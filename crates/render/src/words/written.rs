//! What was written down, in words.

use interstice_findings::written::{Entry, WrittenLine};
use interstice_glucose::{Mark, MarkKind, Unit};

use super::number::units;
use super::{Shown, amount, duration};

/// An entry in a line: '4.5 units rapid', 'soup, 40 g', 'slept 7 h 20 min'.
pub fn written_said(line: &WrittenLine, shown: Shown) -> String {
    let (said, note) = match &line.it {
        Entry::BloodCheck(check) => {
            let of = match check.source {
                interstice_glucose::BloodSource::Laboratory => "laboratory",
                _ => "blood check",
            };
            let said = shown.glucose_with_unit(check.said.glucose().mg_per_dl());
            (format!("{of} {said}"), check.note.as_deref())
        }
        Entry::Dose(dose) => (
            format!("{} {}", units(dose.units), dose.insulin.name()),
            dose.note.as_deref(),
        ),
        Entry::Meal(meal) => {
            let grams = meal
                .carbohydrate_g
                .map(|grams| format!("{} g of carbohydrate", amount(grams)));
            (grams.unwrap_or_else(|| "meal".to_owned()), meal.text.as_deref())
        }
        Entry::Mark(mark) => (mark_said(mark, line), mark.text.as_deref()),
        _ => ("an entry".to_owned(), None),
    };
    note.map_or(said.clone(), |note| format!("{said}: {note}"))
}

fn mark_said(mark: &Mark, line: &WrittenLine) -> String {
    let lasted = line
        .until
        .map(|until| (until.0.at - line.at.0.at) as f64 / 60.0)
        .filter(|minutes| *minutes > 0.0)
        .map_or_else(String::new, |minutes| format!(", {}", duration(minutes)));
    let value = |unit: &str| {
        mark.value
            .map_or_else(String::new, |value| format!(" {} {unit}", amount(value)))
    };
    match mark.kind {
        MarkKind::Activity => format!("activity{lasted}"),
        MarkKind::Sleep => format!("sleep{lasted}"),
        MarkKind::Ketones => format!("ketones{}", value(Unit::MmolPerL.symbol())),
        MarkKind::Symptom => format!("symptom{lasted}"),
        MarkKind::Illness => format!("illness{lasted}"),
        MarkKind::Drink => format!("drink{}", value("ml")),
        MarkKind::Temperature => format!("temperature{}", value("°C")),
        MarkKind::Medicine => "medicine".to_owned(),
        MarkKind::Device => "a device's report".to_owned(),
        MarkKind::Note => "note".to_owned(),
        MarkKind::Tag => format!("kind of day{lasted}"),
        MarkKind::Artefact => format!("not to be believed{lasted}"),
    }
}

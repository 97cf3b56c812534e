//! What was written down, in words.

use interstice_findings::written::{Entry, WrittenLine};
use interstice_glucose::{InsulinKind, Mark, MarkKind, Unit};
use interstice_tongue::say;

use super::number::units;
use super::{Shown, amount, duration};

/// An entry in a line: '4.5 units rapid', 'soup, 40 g', 'slept 7 h 20 min'.
pub fn written_said(line: &WrittenLine, shown: Shown) -> String {
    let (said, note) = match &line.it {
        Entry::BloodCheck(check) => {
            let glucose = shown.glucose_with_unit(check.said.glucose().mg_per_dl());
            let said = match check.source {
                interstice_glucose::BloodSource::Laboratory => {
                    say!("write-said-laboratory", glucose = glucose)
                }
                _ => say!("write-said-blood", glucose = glucose),
            };
            (said, check.note.as_deref())
        }
        Entry::Dose(dose) => (dose_said(dose.units, dose.insulin), dose.note.as_deref()),
        Entry::Meal(meal) => {
            let grams = meal.carbohydrate_g.map(carbohydrate_said);
            (
                grams.unwrap_or_else(|| say!("write-said-meal")),
                meal.text.as_deref(),
            )
        }
        Entry::Mark(mark) => (mark_said(mark, line), mark.text.as_deref()),
        _ => (say!("write-said-entry"), None),
    };
    note.map_or(said.clone(), |note| format!("{said}: {note}"))
}

/// '4.5 units rapid'.
pub fn dose_said(of_insulin: f64, insulin: InsulinKind) -> String {
    say!(
        "write-said-dose",
        units = units(of_insulin),
        insulin = insulin.name()
    )
}

/// '40 g of carbohydrate'.
pub fn carbohydrate_said(grams: f64) -> String {
    say!("write-said-carbohydrate", grams = amount(grams))
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
    let (kind, more) = match mark.kind {
        MarkKind::Activity => ("activity", lasted),
        MarkKind::Sleep => ("sleep", lasted),
        MarkKind::Ketones => ("ketones", value(Unit::MmolPerL.symbol())),
        MarkKind::Symptom => ("symptom", lasted),
        MarkKind::Illness => ("illness", lasted),
        MarkKind::Drink => ("drink", value("ml")),
        MarkKind::Temperature => ("temperature", value("°C")),
        MarkKind::Medicine => ("medicine", String::new()),
        MarkKind::Device => ("device", String::new()),
        MarkKind::Note => ("note", String::new()),
        MarkKind::Tag => ("tag", lasted),
        MarkKind::Artefact => ("artefact", lasted),
    };
    say!("write-said-mark", kind = kind) + &more
}

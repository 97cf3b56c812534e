//! What was written down beside the readings.

use interstice_book::Kept;
use interstice_glucose::{BloodCheck, Delivery, Dose, LowVerdict, Mark, MarkKind, Meal, Named};

use crate::lived::Lived;
use crate::table::{Making, Table};

use super::said;

fn by_hand<T>(making: Making<'_, Kept<T>>) -> Making<'_, Kept<T>> {
    making.yes_no(
        "by_hand",
        "whether it was written down by hand rather than brought in with a file",
        |kept| Some(kept.by_hand),
    )
}

pub(crate) fn blood_checks(all: &[Kept<BloodCheck>], lived: &Lived<'_>) -> Table {
    let making = Table::of("blood_checks", "blood glucose, from a meter or a laboratory", all);
    let making = said(lived.times(making, |kept| kept.it.at), |kept| kept.it.said)
        .text("source", "'meter' or 'laboratory'", |kept| {
            Some(kept.it.source.word())
        })
        .text("note", "anything written beside it", |kept| kept.it.note.clone());
    by_hand(making).made()
}

pub(crate) fn doses(all: &[Kept<Dose>], lived: &Lived<'_>) -> Table {
    let making = Table::of(
        "doses",
        "insulin as it was logged; a basal rate holds until the next",
        all,
    );
    let making = lived
        .times(making, |kept| kept.it.at)
        .text(
            "insulin",
            "'rapid', 'short', 'intermediate', 'long', 'mixed' or 'unsaid'",
            |kept| Some(kept.it.insulin.word()),
        )
        .text(
            "delivery",
            "'at once', 'spread' over some minutes, 'basal rate' or 'intravenous'",
            |kept| Some(delivery(kept.it.delivery).0),
        )
        .real("dose_u", "units; empty for a basal rate", |kept| {
            (kept.it.delivery != Delivery::BasalRate).then_some(kept.it.units)
        })
        .real(
            "rate_u_per_h",
            "units an hour, from then on; empty but for a basal rate",
            |kept| (kept.it.delivery == Delivery::BasalRate).then_some(kept.it.units),
        )
        .whole("minutes", "over how long a spread dose ran, minutes", |kept| {
            delivery(kept.it.delivery).1
        })
        .text("note", "anything written beside it", |kept| kept.it.note.clone());
    by_hand(making).made()
}

fn delivery(delivery: Delivery) -> (&'static str, Option<i64>) {
    match delivery {
        Delivery::AtOnce => ("at once", None),
        Delivery::Spread { minutes } => ("spread", Some(i64::from(minutes))),
        Delivery::BasalRate => ("basal rate", None),
        Delivery::Intravenous => ("intravenous", None),
    }
}

pub(crate) fn meals(all: &[Kept<Meal>], lived: &Lived<'_>) -> Table {
    let making = Table::of("meals", "what was eaten or drunk for its carbohydrate", all);
    let making = lived
        .times(making, |kept| kept.it.at)
        .real("carbohydrate_g", "carbohydrate, grams", |kept| {
            kept.it.carbohydrate_g
        })
        .real("protein_g", "protein, grams", |kept| kept.it.protein_g)
        .real("fat_g", "fat, grams", |kept| kept.it.fat_g)
        .real("fibre_g", "fibre, grams", |kept| kept.it.fibre_g)
        .real("energy_kcal", "energy, kilocalories", |kept| kept.it.energy_kcal)
        .text("text", "what it was", |kept| kept.it.text.clone());
    by_hand(making).made()
}

pub(crate) fn entries(all: &[Kept<Mark>], lived: &Lived<'_>) -> Table {
    let about = "activity, sleep, ketones, symptoms, illness, drinks, temperature, other medicine, what devices reported, \
                 notes, tags, and stretches marked as not to be believed";
    let making = lived.times(Table::of("entries", about, all), |kept| kept.it.at);
    let making = lived
        .until(making, |kept| kept.it.until)
        .text(
            "kind",
            "'activity', 'sleep', 'ketones', 'symptom', 'illness', 'drink', 'temperature', 'medicine', 'device', \
             'note', 'tag' or 'artefact'",
            |kept| Some(kept.it.kind.word()),
        )
        .real("value", "a number belonging to it", |kept| kept.it.value)
        .text("value_unit", "its unit, where its kind has one", |kept| {
            kept.it.value.and(unit(kept.it.kind))
        })
        .text("text", "words; of an artefact, why", |kept| kept.it.text.clone());
    by_hand(making).made()
}

fn unit(kind: MarkKind) -> Option<&'static str> {
    match kind {
        MarkKind::Ketones => Some("mmol/L"),
        MarkKind::Drink => Some("mL"),
        MarkKind::Temperature => Some("degC"),
        _ => None,
    }
}

pub(crate) fn low_verdicts(all: &[Kept<LowVerdict>], lived: &Lived<'_>) -> Table {
    let making = Table::of("low_verdicts", "what lows were, by the wearer's own word", all);
    let making = lived.times(making, |kept| kept.it.at);
    let making = lived
        .until(making, |kept| Some(kept.it.until))
        .text("sensor", "which sensor's; empty: any worn then", |kept| {
            kept.it.sensor.clone()
        })
        .text("was", "'pressure' on the sensor, or 'real'", |kept| {
            Some(kept.it.was.word())
        })
        .text("note", "anything written beside it", |kept| kept.it.note.clone());
    by_hand(making).made()
}

/// The zones lived in other than the base zone, and the base zone itself where it was said beside them.
pub(crate) fn zones(lived: &Lived<'_>) -> Table {
    let about = "the time zones lived in, by stretches that do not overlap; between them the zone named in the manifest";
    Table::of("zones", about, &lived.apart)
        .instant("from_utc", "first instant of the stretch", |span| Some(span.from))
        .instant("to_utc", "first instant after it", |span| Some(span.to))
        .text(
            "zone",
            "the zone's name in the public zone table, or an offset",
            |span| Some(span.zone.name()),
        )
        .made()
}

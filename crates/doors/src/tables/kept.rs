//! What the book keeps beside the record: settings and what lies among them, imports, photos.

use interstice_book::{Claims, Conflict, ImportInfo, KeptLot, KeptTrial, Photo, SensorKinds};
use interstice_glucose::{Arrival, ClaimStep, Compares, Named, Price, Rejected, SensorKind, WearFrom};

use crate::digest::hex;
use crate::lived::Lived;
use crate::table::Table;

const AGAIN: &str = "told again from the settings for reading; the settings are what is read back";

pub(crate) fn settings(all: &[(String, String)]) -> Table {
    let about = "everything that was set, as the book keeps it: unit, zone, targets, night, and kinds of sensors, the \
                 drawer, claims, trials, what is kept for visits and choices of the plan";
    Table::of("settings", about, all)
        .text("name", "what was set", |it| Some(it.0.as_str()))
        .text("value", "to what", |it| Some(it.1.as_str()))
        .made()
}

pub(crate) fn sensor_kinds(kinds: &SensorKinds) -> Table {
    let minutes = |minutes: u32| Some(i64::from(minutes));
    Table::of("sensor_kinds", AGAIN, &kinds.all)
        .text(
            "name",
            "the kind, by the wearer's own name",
            |kind: &SensorKind| Some(kind.name.as_str()),
        )
        .whole("wear_min", "how long it may be worn, minutes", |kind| {
            minutes(kind.wear_min)
        })
        .whole("extra_min", "how much longer it reads, minutes", |kind| {
            minutes(kind.extra_min)
        })
        .whole("warm_up_min", "from start to first reading, minutes", |kind| {
            minutes(kind.warm_up_min)
        })
        .whole(
            "longest_bedding_min",
            "longest wear before the start, minutes",
            |kind| minutes(kind.longest_bedding_min),
        )
        .yes_no(
            "wear_from_put_on",
            "whether its time runs from being put on",
            |kind| Some(kind.wear_from == WearFrom::PutOn),
        )
        .yes_no(
            "side_by_side",
            "whether one warms up while another reads",
            |kind| Some(kind.side_by_side),
        )
        .text(
            "sites",
            "where its instructions allow it, separated by '; '",
            |kind| {
                let names: Vec<&str> = kind.sites.iter().map(|region| region.name()).collect();
                Some(names.join("; "))
            },
        )
        .made()
}

pub(crate) fn stock(lots: &[KeptLot]) -> Table {
    let money = |kept: &KeptLot| match &kept.lot.price {
        Some(Price::All(money)) => Some(money.clone()),
        _ => None,
    };
    Table::of("stock", AGAIN, lots)
        .whole("lot_id", "its number in the book", |kept| {
            Some(i64::from(kept.id))
        })
        .text("holds", "what it is of", |kept| Some(kept.lot.holds.name()))
        .text("name", "the kind, cover or preparation", |kept| {
            kept.lot.name.clone()
        })
        .text("lot", "lot number", |kept| kept.lot.number.clone())
        .whole("count", "pieces that came", |kept| {
            Some(i64::from(kept.lot.count))
        })
        .whole(
            "price_minor_units",
            "what all cost together, in the currency's smallest unit; 0 where free",
            move |kept| match &kept.lot.price {
                Some(Price::Free) => Some(0),
                _ => i64::try_from(money(kept)?.minor).ok(),
            },
        )
        .text("currency", "the currency's code", move |kept| {
            Some(money(kept)?.currency.name().to_owned())
        })
        .text("source", "where they came from", |kept| kept.lot.source.clone())
        .text("arrival_date", "the day they came or are to come", |kept| {
            Some(kept.lot.arrival.date().to_string())
        })
        .yes_no("arrived", "whether they came", |kept| {
            Some(matches!(kept.lot.arrival, Arrival::Arrived(_)))
        })
        .text("use_by_date", "last day one may be put on", |kept| {
            kept.lot.use_by.map(|day| day.to_string())
        })
        .text("note", "what else was said of it", |kept| kept.lot.note.clone())
        .made()
}

pub(crate) fn claims(claims: &Claims) -> Table {
    let steps: Vec<(&String, &ClaimStep)> = claims
        .iter()
        .flat_map(|(sensor, steps)| steps.iter().map(move |step| (sensor, step)))
        .collect();
    Table::of("claims", AGAIN, &steps)
        .text("sensor", "the sensor it is for", |step| Some(step.0.as_str()))
        .instant("time_utc", "when", |step| Some(step.1.at))
        .text("step", "'sent', 'answered', 'replaced' or 'refused'", |step| {
            Some(step.1.what.name())
        })
        .text("words", "words", |step| step.1.words.clone())
        .made()
}

pub(crate) fn trials(trials: &[KeptTrial]) -> Table {
    let whole = |number: u32| Some(i64::from(number));
    Table::of("trials", AGAIN, trials)
        .text("name", "its name", |kept| Some(kept.trial.name.as_str()))
        .text("compares", "what it compares", |kept| {
            kept.trial.compares().map(Compares::name)
        })
        .text("ways", "the ways compared, a JSON list", |kept| {
            let arms: Vec<String> = kept.trial.arms.iter().map(ToString::to_string).collect();
            Some(serde_json::Value::from(arms).to_string())
        })
        .text("outcome", "what is held against what", |kept| {
            Some(kept.trial.outcome.name())
        })
        .whole("sensors", "sensors in all", |kept| whole(kept.trial.sensors))
        .whole("block", "sensors in a block", |kept| whole(kept.trial.block))
        .text("seed", "seed of its order", |kept| {
            Some(kept.trial.seed.to_string())
        })
        .instant("begun_utc", "when it began", |kept| Some(kept.trial.begun))
        .instant("abandoned_utc", "when it was given up", |kept| {
            Some(kept.abandoned.as_ref()?.at)
        })
        .text("abandoned_reason", "why", |kept| {
            Some(kept.abandoned.as_ref()?.reason.clone())
        })
        .made()
}

pub(crate) fn conflicts(all: &[Conflict], lived: &Lived<'_>) -> Table {
    let about = "readings that differ from what stands at their instant, because another file came first; not read back";
    let making = lived.times(Table::of("conflicts", about, all), |conflict| conflict.at);
    making
        .text("kind", "'automatic' or 'scan'", |conflict| {
            Some(conflict.kind.word())
        })
        .text("sensor", "the sensor's name", |conflict| {
            Some(conflict.sensor.as_str())
        })
        .text("standing_value", "the number that stands", |conflict| {
            Some(conflict.standing.decimal())
        })
        .text("standing_unit", "its unit", |conflict| {
            Some(conflict.standing.unit().word())
        })
        .text("other_value", "the number that does not", |conflict| {
            Some(conflict.other.decimal())
        })
        .text("other_unit", "its unit", |conflict| {
            Some(conflict.other.unit().word())
        })
        .made()
}

pub(crate) fn imports(all: &[ImportInfo]) -> Table {
    let count = |number: u64| i64::try_from(number).ok();
    Table::of("imports", "the files that were brought in; not read back", all)
        .whole("import_id", "the change that brought it", |import| {
            import.receipt.change.map(|change| change.0)
        })
        .instant("time_utc", "when", |import| Some(import.imported_at))
        .text("file", "its name", |import| Some(import.file_name.as_str()))
        .text("sha256", "its digest", |import| Some(hex(&import.digest)))
        .whole("size_bytes", "its size", |import| count(import.size_bytes))
        .whole("readings_new", "readings it brought", |import| {
            count(import.receipt.readings_new)
        })
        .whole("scans_new", "scans it brought", |import| {
            count(import.receipt.scans_new)
        })
        .whole("entries_new", "everything else it brought", |import| {
            let of = &import.receipt;
            count(of.blood_checks_new + of.doses_new + of.meals_new + of.other_new)
        })
        .whole("rejected", "rows that could not be used", |import| {
            count(import.receipt.rejected)
        })
        .made()
}

pub(crate) fn rejected(all: &[(i64, Rejected)]) -> Table {
    let about = "rows of those files that could not be used; not read back";
    Table::of("rejected_rows", about, all)
        .whole("import_id", "the change that brought the file", |row| Some(row.0))
        .whole("row", "line in the file, or row of the sheet", |row| {
            i64::try_from(row.1.row).ok()
        })
        .text("column_name", "its heading or number", |row| {
            Some(row.1.column.as_str())
        })
        .text("text", "what was found there", |row| Some(row.1.text.as_str()))
        .text("reason", "why it could not be used", |row| {
            Some(row.1.reason.as_str())
        })
        .made()
}

pub(crate) fn photos(all: &[Photo], lived: &Lived<'_>) -> Table {
    let about = "photos beside sensors' moments; each is a file of its own here";
    lived
        .times(Table::of("photos", about, all), |photo| photo.at)
        .text("sensor", "the sensor's name", |photo| photo.sensor.clone())
        .text("name", "name of the file it came in", |photo| {
            Some(photo.name.as_str())
        })
        .text("media", "what kind of picture", |photo| Some(photo.media.name()))
        .text("file", "where it lies here", |photo| Some(photo_path(photo)))
        .made()
}

/// Where a photo's bytes go.
pub(crate) fn photo_path(photo: &Photo) -> String {
    format!("photos/{}.{}", photo.id.0, photo.media.ending())
}

//! What was written down beside the readings.

use interstice_glucose::{
    BloodCheck, Comfort, Delivery, Dose, LivedSpan, LowVerdict, Mark, Meal, SensorDetail, SensorNote, Zone,
};

use super::Reading;
use super::row::{Row, Unusable};

pub(super) fn blood_check(reading: &mut Reading<'_>, row: &Row<'_>) -> Result<(), Unusable> {
    reading.draft.blood_checks.push(BloodCheck {
        at: row.instant("time_utc")?,
        said: row.said()?,
        source: row.word("source")?,
        note: row.text("note")?,
    });
    Ok(())
}

pub(super) fn dose(reading: &mut Reading<'_>, row: &Row<'_>) -> Result<(), Unusable> {
    let kind = row.text("delivery")?;
    let (delivery, column) = match kind.as_deref() {
        Some("at once") => (Delivery::AtOnce, "dose_u"),
        Some("intravenous") => (Delivery::Intravenous, "dose_u"),
        Some("basal rate") => (Delivery::BasalRate, "rate_u_per_h"),
        Some("spread") => {
            let minutes = row.whole("minutes")?;
            let minutes =
                minutes.ok_or_else(|| row.unusable("minutes", "a spread dose needs its minutes"))?;
            (Delivery::Spread { minutes }, "dose_u")
        }
        _ => return Err(row.unusable("delivery", "this is no delivery; see the list in the manifest")),
    };
    let units = row.number(column)?.filter(|units| *units >= 0.0);
    reading.draft.doses.push(Dose {
        at: row.instant("time_utc")?,
        units: units.ok_or_else(|| row.unusable(column, "a number that is not negative must stand here"))?,
        insulin: row.word("insulin")?,
        delivery,
        note: row.text("note")?,
    });
    Ok(())
}

pub(super) fn meal(reading: &mut Reading<'_>, row: &Row<'_>) -> Result<(), Unusable> {
    reading.draft.meals.push(Meal {
        at: row.instant("time_utc")?,
        carbohydrate_g: row.number("carbohydrate_g")?,
        protein_g: row.number("protein_g")?,
        fat_g: row.number("fat_g")?,
        fibre_g: row.number("fibre_g")?,
        energy_kcal: row.number("energy_kcal")?,
        text: row.text("text")?,
    });
    Ok(())
}

pub(super) fn entry(reading: &mut Reading<'_>, row: &Row<'_>) -> Result<(), Unusable> {
    reading.draft.marks.push(Mark {
        at: row.instant("time_utc")?,
        until: row.maybe_instant("until_utc")?,
        kind: row.word("kind")?,
        value: row.number("value")?,
        text: row.text("text")?,
    });
    Ok(())
}

pub(super) fn low_verdict(reading: &mut Reading<'_>, row: &Row<'_>) -> Result<(), Unusable> {
    reading.draft.low_verdicts.push(LowVerdict {
        at: row.instant("time_utc")?,
        until: row.instant("until_utc")?,
        sensor: row.text("sensor")?,
        was: row.word("was")?,
        note: row.text("note")?,
    });
    Ok(())
}

pub(super) fn sensor_moment(reading: &mut Reading<'_>, row: &Row<'_>) -> Result<(), Unusable> {
    reading.draft.sensor_notes.push(SensorNote {
        at: row.instant("time_utc")?,
        kind: row.word("kind")?,
        sensor: row.text("sensor")?,
        site: row.text("site")?,
        note: row.text("note")?,
        detail: SensorDetail {
            preparation: row.list("preparation")?,
            cover: row.list("cover")?,
            lot: row.text("lot")?,
            serial: row.text("serial")?,
            ending: row.maybe_word("ending")?,
            removal: row.maybe_word("removal")?,
            comfort: row.maybe_word::<Comfort>("comfort")?,
            skin: row.maybe_word("skin")?,
            skin_days: row.whole("skin_days")?,
            slept: row.maybe_word("slept_side")?,
        },
    });
    Ok(())
}

pub(super) fn zone(reading: &mut Reading<'_>, row: &Row<'_>) -> Result<(), Unusable> {
    let (from, to) = (row.instant("from_utc")?, row.instant("to_utc")?);
    if from >= to {
        return Err(row.unusable("to_utc", "the stretch ends before it begins"));
    }
    let name = row.text("zone")?.unwrap_or_default();
    let zone = Zone::named(&name).map_err(|error| row.unusable("zone", error.to_string()))?;
    reading.draft.lived.push(LivedSpan { from, to, zone });
    Ok(())
}

pub(super) fn setting(reading: &mut Reading<'_>, row: &Row<'_>) -> Result<(), Unusable> {
    let name = row.text("name")?;
    let name = name.ok_or_else(|| row.unusable("name", "a setting needs its name"))?;
    reading
        .settings
        .push((name, row.text("value")?.unwrap_or_default()));
    Ok(())
}

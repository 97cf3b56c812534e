//! Readings, blood checks, doses and meals as resources.

use interstice_findings::Taken;
use interstice_glucose::{
    BloodCheck, Censor, Delivery, Dose, InsulinKind, Meal, Named, Said, Second, TraceKind, Unit,
};

use super::Maker;
use super::codes;
use super::resource::{
    Annotation, CodeableConcept, Component, Dosage, MedicationAdministration, Meta, Observation, Period,
    Quantity, Resource,
};
use crate::decimals::{decimal, number};

/// A resource, when, and what names it.
pub(super) type Told = (Second, Resource, String);

/// Everything of the window that these documents can tell.
pub(super) fn all<'a>(taken: &'a Taken, maker: &'a Maker<'_>) -> impl Iterator<Item = Told> + 'a {
    let record = &taken.record;
    let inside = |at: Second| (taken.from..taken.to).contains(&at);
    let readings = record.traces.iter().flat_map(move |trace| {
        let places = trace.readings.range(taken.from, taken.to);
        places.filter_map(move |place| {
            let at = Second::from(trace.readings.at()[place]);
            let said = record.levels.get(trace.readings.level()[place]).said;
            reading(maker, at, &trace.sensor, trace.kind, said)
        })
    });
    let checks = record.blood_checks.iter().map(|kept| &kept.it);
    let checks = checks
        .filter(move |it| inside(it.at))
        .filter_map(|it| check(maker, it));
    let doses = record.doses.iter().map(|kept| &kept.it);
    let doses = doses
        .filter(move |it| inside(it.at))
        .filter_map(|it| dose(maker, it));
    let meals = record.meals.iter().map(|kept| &kept.it);
    let meals = meals.filter(move |it| inside(it.at)).map(|it| meal(maker, it));
    readings.chain(checks).chain(doses).chain(meals)
}

/// What they cannot.
pub(super) fn left_out(taken: &Taken) -> Vec<String> {
    let record = &taken.record;
    let inside = |at: Second| (taken.from..taken.to).contains(&at);
    let marks = record.marks.iter().filter(|kept| inside(kept.it.at)).count();
    let moments = record
        .sensor_notes
        .iter()
        .filter(|kept| inside(kept.it.at))
        .count();
    let verdicts = record
        .low_verdicts
        .iter()
        .filter(|kept| inside(kept.it.at))
        .count();
    match marks + moments + verdicts {
        0 => Vec::new(),
        some => vec![format!(
            "Not in these documents: {some} other entries (activity, sleep, notes, moments of sensors, words on lows), \
             settings and names of zones; `--as csv` has everything."
        )],
    }
}

/// Which of two codes or profiles, mass first.
pub(super) fn by_unit<T: Copy>(pair: [T; 2], unit: Unit) -> T {
    match unit {
        Unit::MgPerDl => pair[0],
        Unit::MmolPerL => pair[1],
    }
}

pub(super) fn quantity(
    value: Box<serde_json::value::RawValue>,
    unit: &'static str,
    code: &'static str,
) -> Quantity {
    Quantity {
        value,
        comparator: None,
        unit,
        system: codes::UCUM,
        code,
    }
}

fn glucose(said: Said) -> Option<Quantity> {
    let symbol = said.unit().word();
    Some(Quantity {
        comparator: match said.censor() {
            Censor::None => None,
            Censor::Below => Some("<"),
            Censor::Above => Some(">"),
        },
        ..quantity(decimal(&said.decimal())?, symbol, symbol)
    })
}

fn notes(text: &Option<String>) -> Vec<Annotation> {
    text.iter()
        .map(|text| Annotation { text: text.clone() })
        .collect()
}

pub(super) fn observation(maker: &Maker<'_>, key: &str, code: CodeableConcept) -> Observation {
    Observation {
        meta: None,
        identifier: maker.identifier(key),
        status: "final",
        category: vec![CodeableConcept {
            coding: vec![super::resource::Coding {
                system: codes::CATEGORY,
                code: "laboratory",
            }],
            text: None,
        }],
        code,
        subject: maker.subject(),
        effective_date_time: None,
        effective_period: None,
        value_quantity: None,
        note: Vec::new(),
        method: None,
        device: None,
        has_member: Vec::new(),
        component: Vec::new(),
    }
}

fn reading(maker: &Maker<'_>, at: Second, sensor: &str, kind: TraceKind, said: Said) -> Option<Told> {
    let key = format!("reading {sensor} {} {at} {said}", kind.word());
    let code = CodeableConcept::coded(
        codes::LOINC,
        by_unit(codes::SENSOR, said.unit()),
        "sensor glucose",
    );
    let it = Observation {
        meta: Some(Meta {
            profile: vec![by_unit(codes::SENSOR_PROFILE, said.unit())],
        }),
        effective_date_time: Some(maker.time(at)),
        value_quantity: Some(glucose(said)?),
        method: (kind == TraceKind::Scan).then(|| CodeableConcept::words("scan")),
        device: maker.device(sensor),
        ..observation(maker, &key, code)
    };
    Some((at, Resource::Observation(Box::new(it)), key))
}

fn check(maker: &Maker<'_>, check: &BloodCheck) -> Option<Told> {
    let key = format!("{check:?}");
    let code = CodeableConcept::coded(
        codes::LOINC,
        by_unit(codes::BLOOD, check.said.unit()),
        "blood glucose",
    );
    let it = Observation {
        effective_date_time: Some(maker.time(check.at)),
        value_quantity: Some(glucose(check.said)?),
        note: notes(&check.note),
        method: Some(CodeableConcept::words(check.source.word())),
        ..observation(maker, &key, code)
    };
    Some((check.at, Resource::Observation(Box::new(it)), key))
}

/// The insulin by the classes of the ATC (A10AB fast-acting, AC intermediate-acting, AD the two combined, AE
/// long-acting); rapid and short share one, and our word tells them apart.
fn insulin(kind: InsulinKind) -> CodeableConcept {
    let class = match kind {
        InsulinKind::Rapid | InsulinKind::Short => "A10AB",
        InsulinKind::Intermediate => "A10AC",
        InsulinKind::Mixed => "A10AD",
        InsulinKind::Long => "A10AE",
        InsulinKind::Unsaid => "A10A",
    };
    CodeableConcept::coded(codes::ATC, class, &format!("insulin, {}", kind.word()))
}

fn dose(maker: &Maker<'_>, dose: &Dose) -> Option<Told> {
    let key = format!("{dose:?}");
    let units = number(dose.units)?;
    let (amount, rate) = match dose.delivery {
        Delivery::BasalRate => (None, Some(quantity(units, "U/h", "[iU]/h"))),
        _ => (Some(quantity(units, "U", "[iU]")), None),
    };
    let period = match dose.delivery {
        Delivery::Spread { minutes } => Some(Period {
            start: maker.time(dose.at),
            end: maker.time(dose.at + 60 * Second::from(minutes)),
        }),
        _ => None,
    };
    let it = MedicationAdministration {
        identifier: maker.identifier(&key),
        status: "completed",
        medication_codeable_concept: insulin(dose.insulin),
        subject: maker.subject(),
        effective_date_time: period.is_none().then(|| maker.time(dose.at)),
        effective_period: period,
        note: notes(&dose.note),
        dosage: Dosage {
            route: (dose.delivery == Delivery::Intravenous).then(|| CodeableConcept::words("intravenous")),
            dose: amount,
            rate_quantity: rate,
        },
    };
    Some((dose.at, Resource::MedicationAdministration(Box::new(it)), key))
}

fn meal(maker: &Maker<'_>, meal: &Meal) -> Told {
    let key = format!("{meal:?}");
    let code = match meal.carbohydrate_g {
        Some(_) => CodeableConcept::coded(codes::LOINC, codes::CARBOHYDRATE, "carbohydrate"),
        None => CodeableConcept::words("meal"),
    };
    let beside = [
        ("protein", meal.protein_g, "g"),
        ("fat", meal.fat_g, "g"),
        ("fibre", meal.fibre_g, "g"),
        ("energy", meal.energy_kcal, "kcal"),
    ];
    let component = beside.into_iter().filter_map(|(name, value, unit)| {
        Some(Component {
            code: CodeableConcept::words(name),
            value_quantity: quantity(number(value?)?, unit, unit),
        })
    });
    let it = Observation {
        category: Vec::new(),
        effective_date_time: Some(maker.time(meal.at)),
        value_quantity: meal
            .carbohydrate_g
            .and_then(|grams| Some(quantity(number(grams)?, "g", "g"))),
        note: notes(&meal.text),
        component: component.collect(),
        ..observation(maker, &key, code)
    };
    (meal.at, Resource::Observation(Box::new(it)), key)
}

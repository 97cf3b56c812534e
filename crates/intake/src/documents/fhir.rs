//! FHIR R4: observations of glucose and carbohydrate, administrations of insulin, alone or in bundles.

use interstice_glucose::{BloodCheck, BloodSource, Delivery, Dose, InsulinKind, Meal, Named, TraceKind};
use serde::Deserialize;
use serde_json::value::RawValue;

use crate::api::IntakeError;

use super::taking::{Quantity, Taking, Unusable, When, unusable};

/// LOINC codes of glucose as sensors tell it (HL7 guide for continuous glucose monitoring, STU 1).
const SENSOR: [&str; 2] = ["99504-3", "105272-9"];
/// In blood, by a meter or unsaid: 2339-0 and 15074-8 as Open mHealth cites them; in capillary blood, also by glucometer:
/// 32016-8, 41653-7, 14743-9, from memory.
const BLOOD: [&str; 5] = ["2339-0", "15074-8", "32016-8", "41653-7", "14743-9"];
/// In serum or plasma, from a laboratory: from memory.
const LABORATORY: [&str; 2] = ["2345-7", "14749-6"];
/// Carbohydrate intake: from memory.
const CARBOHYDRATE: &str = "9059-7";
/// A meal without counted carbohydrate, in the words of our own documents.
const MEAL: &str = "meal";
const LOINC: &str = "http://loinc.org";
/// Sensors of our own documents, named after the book and a slash.
const OF_SENSOR: &str = "urn:interstice:sensor";
const UNITS: [&str; 5] = ["[iU]", "U", "IU", "units", "unit"];
const UNITS_AN_HOUR: [&str; 4] = ["[iU]/h", "U/h", "IU/h", "U/hr"];

#[derive(Default, Deserialize)]
#[serde(default, rename_all = "camelCase")]
struct Head {
    resource_type: String,
}

#[derive(Deserialize)]
struct Bundle<'a> {
    #[serde(borrow, default)]
    entry: Vec<BundleEntry<'a>>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
struct BundleEntry<'a> {
    full_url: Option<String>,
    #[serde(borrow)]
    resource: Option<&'a RawValue>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Coding {
    system: String,
    code: String,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Concept {
    coding: Vec<Coding>,
    text: Option<String>,
}

impl Concept {
    fn text(&self) -> &str {
        self.text.as_deref().unwrap_or_default()
    }

    fn has(&self, codes: &[&str]) -> bool {
        self.coding
            .iter()
            .any(|coding| coding.system == LOINC && codes.contains(&coding.code.as_str()))
    }
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Reference {
    reference: Option<String>,
    display: Option<String>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Period {
    start: Option<String>,
    end: Option<String>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Annotation {
    text: String,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Identifier {
    system: Option<String>,
    value: Option<String>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct DeviceName {
    name: Option<String>,
}

#[derive(Default, Deserialize)]
#[serde(default, rename_all = "camelCase")]
struct Device {
    id: Option<String>,
    identifier: Vec<Identifier>,
    device_name: Vec<DeviceName>,
    serial_number: Option<String>,
}

#[derive(Default, Deserialize)]
#[serde(default, rename_all = "camelCase")]
struct Component {
    code: Concept,
    value_quantity: Quantity,
}

#[derive(Default, Deserialize)]
#[serde(default, rename_all = "camelCase")]
struct Observation {
    status: String,
    code: Concept,
    subject: Reference,
    effective_date_time: Option<String>,
    effective_instant: Option<String>,
    effective_period: Period,
    value_quantity: Option<Quantity>,
    note: Vec<Annotation>,
    method: Concept,
    device: Reference,
    component: Vec<Component>,
}

#[derive(Default, Deserialize)]
#[serde(default, rename_all = "camelCase")]
struct Dosage {
    route: Concept,
    dose: Option<Quantity>,
    rate_quantity: Option<Quantity>,
}

#[derive(Default, Deserialize)]
#[serde(default, rename_all = "camelCase")]
struct Administration {
    status: String,
    medication_codeable_concept: Concept,
    subject: Reference,
    effective_date_time: Option<String>,
    effective_period: Period,
    note: Vec<Annotation>,
    dosage: Dosage,
}

/// Takes a resource in, or every resource of a bundle.
pub(super) fn take(taking: &mut Taking<'_>, raw: &RawValue) -> Result<(), IntakeError> {
    let head: Head = serde_json::from_str(raw.get()).unwrap_or_default();
    if head.resource_type != "Bundle" {
        return resource(taking, raw, &head.resource_type, None);
    }
    let Ok(bundle) = serde_json::from_str::<Bundle<'_>>(raw.get()) else {
        return taking.row(raw, |_| {
            Err(unusable(
                "Bundle",
                "its entries are not as the standard has them; export it again",
            ))
        });
    };
    let resources = bundle
        .entry
        .iter()
        .filter_map(|entry| Some((entry, entry.resource?)));
    let kinds: Vec<(&BundleEntry<'_>, &RawValue, String)> = resources
        .map(|(entry, raw)| {
            let head: Head = serde_json::from_str(raw.get()).unwrap_or_default();
            (entry, raw, head.resource_type)
        })
        .collect();
    // Sensors first: readings point at them wherever they stand.
    for (entry, raw, _) in kinds.iter().filter(|(.., kind)| kind == "Device") {
        device(taking, raw, entry.full_url.as_deref());
    }
    for (_, raw, kind) in &kinds {
        resource(taking, raw, kind, Some(()))?;
    }
    Ok(())
}

fn resource(
    taking: &mut Taking<'_>,
    raw: &RawValue,
    kind: &str,
    in_bundle: Option<()>,
) -> Result<(), IntakeError> {
    taking.row(raw, |taking| match kind {
        "Observation" => observation(taking, &parsed(raw, "Observation")?),
        "MedicationAdministration" => administration(taking, &parsed(raw, "MedicationAdministration")?),
        "Device" => {
            if in_bundle.is_none() {
                device(taking, raw, None);
            }
            Ok(())
        }
        "Patient" => Ok(()),
        "" => Err(unusable("resourceType", "it does not say what it is")),
        other => {
            taking.pass_over(other);
            Ok(())
        }
    })
}

fn parsed<T: for<'de> Deserialize<'de>>(raw: &RawValue, part: &'static str) -> Result<T, Unusable> {
    serde_json::from_str(raw.get())
        .map_err(|error| unusable(part, format!("it is not as the standard has it ({error})")))
}

/// Remembers a sensor's name by what may point at it.
fn device(taking: &mut Taking<'_>, raw: &RawValue, full_url: Option<&str>) {
    let Ok(device) = serde_json::from_str::<Device>(raw.get()) else {
        return;
    };
    let ours = device
        .identifier
        .iter()
        .find(|of| of.system.as_deref() == Some(OF_SENSOR))
        .and_then(|of| Some(of.value.as_deref()?.split_once('/')?.1.to_owned()));
    let named = device.device_name.into_iter().find_map(|name| name.name);
    let identified = device.identifier.into_iter().find_map(|of| of.value);
    let name = ours.or(named).or(device.serial_number).or(identified);
    let Some(name) = name else { return };
    if let Some(id) = device.id {
        taking.sensors.insert(format!("Device/{id}"), name.clone());
    }
    if let Some(url) = full_url {
        taking.sensors.insert(url.to_owned(), name);
    }
}

fn sensor(taking: &Taking<'_>, device: &Reference) -> String {
    let Some(reference) = &device.reference else {
        return device.display.clone().unwrap_or_default();
    };
    let known = taking.sensors.get(reference).cloned();
    known
        .or_else(|| device.display.clone())
        .unwrap_or_else(|| reference.clone())
}

/// What was entered in error or never came about is no measurement.
fn is_told(status: &str) -> Result<(), Unusable> {
    match status {
        "entered-in-error" | "cancelled" | "not-done" => Err(unusable(
            "status",
            format!("its status is '{status}': it tells of nothing that was measured"),
        )),
        _ => Ok(()),
    }
}

fn note(notes: &[Annotation]) -> Option<String> {
    let words: Vec<&str> = notes
        .iter()
        .map(|note| note.text.as_str())
        .filter(|text| !text.is_empty())
        .collect();
    (!words.is_empty()).then(|| words.join("\n"))
}

fn observation(taking: &mut Taking<'_>, it: &Observation) -> Result<(), Unusable> {
    let is_sensor = it.code.has(&SENSOR);
    let is_laboratory = it.code.has(&LABORATORY);
    let is_blood = it.code.has(&BLOOD) || is_laboratory;
    let is_meal = it.code.has(&[CARBOHYDRATE]) || (it.code.coding.is_empty() && it.code.text() == MEAL);
    if !(is_sensor || is_blood || is_meal) {
        let code = it
            .code
            .coding
            .first()
            .map_or(it.code.text(), |coding| coding.code.as_str());
        taking.pass_over(&format!("Observation {code}"));
        return Ok(());
    }
    if !taking.is_of(it.subject.reference.as_deref()) {
        return Ok(());
    }
    is_told(&it.status)?;
    let text = it
        .effective_date_time
        .as_deref()
        .or(it.effective_instant.as_deref());
    let when = When::read("effectiveDateTime", text.or(it.effective_period.start.as_deref()))?;
    if is_meal {
        return meal(taking, it, when);
    }
    let value = it.value_quantity.as_ref();
    let value = value.ok_or_else(|| unusable("valueQuantity", "it has no value"))?;
    let said = value.glucose("valueQuantity")?;
    if is_sensor {
        let kind = match it.method.text() {
            "scan" => TraceKind::Scan,
            _ => TraceKind::Automatic,
        };
        let sensor = sensor(taking, &it.device);
        return taking.reading(when, sensor, kind, said, "effectiveDateTime");
    }
    let source = BloodSource::of_word(it.method.text()).unwrap_or(if is_laboratory {
        BloodSource::Laboratory
    } else {
        BloodSource::Meter
    });
    let check = BloodCheck {
        at: taking.lived(when),
        said,
        source,
        note: note(&it.note),
    };
    taking.draft.blood_checks.push(check);
    Ok(())
}

fn meal(taking: &mut Taking<'_>, it: &Observation, when: When) -> Result<(), Unusable> {
    let grams = |quantity: &Quantity| quantity.amount("valueQuantity", &["g", "gram", "grams"]);
    let mut meal = Meal {
        at: taking.lived(when),
        carbohydrate_g: it.value_quantity.as_ref().map(grams).transpose()?,
        protein_g: None,
        fat_g: None,
        fibre_g: None,
        energy_kcal: None,
        text: note(&it.note),
    };
    for component in &it.component {
        let place = match component.code.text() {
            "protein" => &mut meal.protein_g,
            "fat" => &mut meal.fat_g,
            "fibre" => &mut meal.fibre_g,
            "energy" => {
                let energy = component.value_quantity.amount("component", &["kcal"])?;
                meal.energy_kcal = Some(energy);
                continue;
            }
            other => {
                taking.pass_over(&format!("component {other}"));
                continue;
            }
        };
        *place = Some(
            component
                .value_quantity
                .amount("component", &["g", "gram", "grams"])?,
        );
    }
    taking.draft.meals.push(meal);
    Ok(())
}

/// By our own words, else by the classes of the ATC (A10AB fast-acting, AC intermediate-acting, AD the two combined, AE
/// long-acting); `None` of what is no insulin.
fn insulin(concept: &Concept) -> Option<InsulinKind> {
    if let Some(kind) = concept
        .text()
        .strip_prefix("insulin, ")
        .and_then(InsulinKind::of_word)
    {
        return Some(kind);
    }
    let class = concept
        .coding
        .iter()
        .find(|coding| coding.code.starts_with("A10A"));
    match class.and_then(|class| class.code.get(..5)) {
        Some("A10AB") => Some(InsulinKind::Rapid),
        Some("A10AC") => Some(InsulinKind::Intermediate),
        Some("A10AD") => Some(InsulinKind::Mixed),
        Some("A10AE") => Some(InsulinKind::Long),
        _ => {
            let is_said = concept.text().to_lowercase().contains("insulin");
            (class.is_some() || is_said).then_some(InsulinKind::Unsaid)
        }
    }
}

fn administration(taking: &mut Taking<'_>, it: &Administration) -> Result<(), Unusable> {
    let Some(insulin) = insulin(&it.medication_codeable_concept) else {
        taking.pass_over("MedicationAdministration of another medicine");
        return Ok(());
    };
    if !taking.is_of(it.subject.reference.as_deref()) {
        return Ok(());
    }
    is_told(&it.status)?;
    let text = it
        .effective_date_time
        .as_deref()
        .or(it.effective_period.start.as_deref());
    let when = When::read("effectiveDateTime", text)?;
    let (units, delivery) = match (&it.dosage.dose, &it.dosage.rate_quantity) {
        (Some(dose), _) => (dose.amount("dosage.dose", &UNITS)?, delivery(it, when)?),
        (None, Some(rate)) => (
            rate.amount("dosage.rateQuantity", &UNITS_AN_HOUR)?,
            Delivery::BasalRate,
        ),
        (None, None) => return Err(unusable("dosage", "it says neither a dose nor a rate")),
    };
    let dose = Dose {
        at: taking.lived(when),
        units,
        insulin,
        delivery,
        note: note(&it.note),
    };
    taking.draft.doses.push(dose);
    Ok(())
}

/// Spread where it took some minutes, into a vein where its route says so.
fn delivery(it: &Administration, from: When) -> Result<Delivery, Unusable> {
    if it.dosage.route.text() == "intravenous" {
        return Ok(Delivery::Intravenous);
    }
    if it.effective_date_time.is_some() || it.effective_period.end.is_none() {
        return Ok(Delivery::AtOnce);
    }
    let until = When::read("effectivePeriod.end", it.effective_period.end.as_deref())?;
    match u32::try_from((until.at - from.at) / 60) {
        Ok(0) => Ok(Delivery::AtOnce),
        Ok(minutes) => Ok(Delivery::Spread { minutes }),
        Err(_) => Err(unusable("effectivePeriod", "it ends before it begins")),
    }
}

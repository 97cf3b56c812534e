//! The parts of FHIR R4 (4.0.1) that are written here. Absent elements are left out, as the standard asks.

use serde::Serialize;
use serde_json::value::RawValue;

#[derive(Clone, Debug, Serialize)]
pub(crate) struct Coding {
    pub(crate) system: &'static str,
    pub(crate) code: &'static str,
}

#[derive(Clone, Debug, Default, Serialize)]
pub(crate) struct CodeableConcept {
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) coding: Vec<Coding>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) text: Option<String>,
}

impl CodeableConcept {
    pub(crate) fn coded(system: &'static str, code: &'static str, text: &str) -> Self {
        CodeableConcept {
            coding: vec![Coding { system, code }],
            text: Some(text.to_owned()),
        }
    }

    pub(crate) fn words(text: &str) -> Self {
        CodeableConcept {
            coding: Vec::new(),
            text: Some(text.to_owned()),
        }
    }
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct Reference {
    pub(crate) reference: String,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct Identifier {
    pub(crate) system: &'static str,
    pub(crate) value: String,
}

/// A decimal is written digit for digit: the standard counts its precision as meant.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Quantity {
    pub(crate) value: Box<RawValue>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) comparator: Option<&'static str>,
    pub(crate) unit: &'static str,
    pub(crate) system: &'static str,
    pub(crate) code: &'static str,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct Period {
    pub(crate) start: String,
    pub(crate) end: String,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct Annotation {
    pub(crate) text: String,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct Meta {
    pub(crate) profile: Vec<&'static str>,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Component {
    pub(crate) code: CodeableConcept,
    pub(crate) value_quantity: Quantity,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Observation {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) meta: Option<Meta>,
    pub(crate) identifier: Vec<Identifier>,
    pub(crate) status: &'static str,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) category: Vec<CodeableConcept>,
    pub(crate) code: CodeableConcept,
    pub(crate) subject: Reference,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) effective_date_time: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) effective_period: Option<Period>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) value_quantity: Option<Quantity>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) note: Vec<Annotation>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) method: Option<CodeableConcept>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) device: Option<Reference>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) has_member: Vec<Reference>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) component: Vec<Component>,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Dosage {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) route: Option<CodeableConcept>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) dose: Option<Quantity>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) rate_quantity: Option<Quantity>,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct MedicationAdministration {
    pub(crate) identifier: Vec<Identifier>,
    pub(crate) status: &'static str,
    pub(crate) medication_codeable_concept: CodeableConcept,
    pub(crate) subject: Reference,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) effective_date_time: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) effective_period: Option<Period>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) note: Vec<Annotation>,
    pub(crate) dosage: Dosage,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Attachment {
    pub(crate) content_type: &'static str,
    /// Base64.
    pub(crate) data: String,
    pub(crate) title: &'static str,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct DiagnosticReport {
    pub(crate) meta: Meta,
    pub(crate) identifier: Vec<Identifier>,
    pub(crate) status: &'static str,
    pub(crate) category: Vec<CodeableConcept>,
    pub(crate) code: CodeableConcept,
    pub(crate) subject: Reference,
    pub(crate) effective_period: Period,
    pub(crate) presented_form: Vec<Attachment>,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct Patient {
    pub(crate) identifier: Vec<Identifier>,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct DeviceName {
    pub(crate) name: String,
    pub(crate) r#type: &'static str,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Device {
    pub(crate) meta: Meta,
    pub(crate) identifier: Vec<Identifier>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) lot_number: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) serial_number: Option<String>,
    pub(crate) device_name: Vec<DeviceName>,
    pub(crate) patient: Reference,
}

#[derive(Clone, Debug, Serialize)]
#[serde(tag = "resourceType")]
pub(crate) enum Resource {
    Patient(Patient),
    Device(Box<Device>),
    Observation(Box<Observation>),
    MedicationAdministration(Box<MedicationAdministration>),
    DiagnosticReport(Box<DiagnosticReport>),
}

impl Resource {
    pub(crate) fn kind(&self) -> &'static str {
        match self {
            Resource::Patient(_) => "Patient",
            Resource::Device(_) => "Device",
            Resource::Observation(_) => "Observation",
            Resource::MedicationAdministration(_) => "MedicationAdministration",
            Resource::DiagnosticReport(_) => "DiagnosticReport",
        }
    }

    pub(crate) fn identifier(&self) -> &[Identifier] {
        match self {
            Resource::Patient(it) => &it.identifier,
            Resource::Device(it) => &it.identifier,
            Resource::Observation(it) => &it.identifier,
            Resource::MedicationAdministration(it) => &it.identifier,
            Resource::DiagnosticReport(it) => &it.identifier,
        }
    }
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Request {
    pub(crate) method: &'static str,
    pub(crate) url: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) if_none_exist: Option<String>,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Entry {
    pub(crate) full_url: String,
    pub(crate) resource: Resource,
    pub(crate) request: Request,
}

#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Bundle {
    pub(crate) resource_type: &'static str,
    pub(crate) r#type: &'static str,
    pub(crate) timestamp: String,
    pub(crate) entry: Vec<Entry>,
}

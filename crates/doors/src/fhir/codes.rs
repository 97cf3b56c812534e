//! Codes of the documents, each from the HL7 guide for continuous glucose monitoring (STU 1, 1.0.0, FHIR R4) but where
//! another source is named.

pub(crate) const LOINC: &str = "http://loinc.org";
pub(crate) const UCUM: &str = "http://unitsofmeasure.org";
pub(crate) const CATEGORY: &str = "http://terminology.hl7.org/CodeSystem/observation-category";
pub(crate) const SECTION: &str = "http://terminology.hl7.org/CodeSystem/v2-0074";
/// Anatomical Therapeutic Chemical classification (WHO); A10A is insulin. From memory.
pub(crate) const ATC: &str = "http://www.whocc.no/atc";

/// Sensor reading in mg/dL, and in mmol/L.
pub(crate) const SENSOR: [&str; 2] = ["99504-3", "105272-9"];
/// Blood glucose in mg/dL, and in mmol/L (LOINC, as Open mHealth cites them).
pub(crate) const BLOOD: [&str; 2] = ["2339-0", "15074-8"];
/// Carbohydrate intake, estimated. From memory.
pub(crate) const CARBOHYDRATE: &str = "9059-7";

pub(crate) const SUMMARY: &str = "107931-8";
pub(crate) const MEAN: [&str; 2] = ["97507-8", "105273-7"];
pub(crate) const TIMES_IN_RANGES: &str = "106793-3";
pub(crate) const VERY_LOW: &str = "104642-4";
pub(crate) const LOW: &str = "104641-6";
pub(crate) const IN_RANGE: &str = "97510-2";
pub(crate) const HIGH: &str = "104640-8";
pub(crate) const VERY_HIGH: &str = "104639-0";
pub(crate) const GMI: &str = "97506-0";
pub(crate) const CV: &str = "104638-2";
pub(crate) const DAYS_OF_WEAR: &str = "104636-6";
pub(crate) const SENSOR_ACTIVE: &str = "104637-4";

/// The profile of that name.
macro_rules! profile {
    ($name:literal) => {
        concat!("http://hl7.org/fhir/uv/cgm/StructureDefinition/", $name)
    };
}
pub(crate) const SENSOR_PROFILE: [&str; 2] = [
    profile!("cgm-sensor-reading-mass-per-volume"),
    profile!("cgm-sensor-reading-moles-per-volume"),
];
pub(crate) const SUMMARY_PROFILE: &str = profile!("cgm-summary");
pub(crate) const MEAN_PROFILE: [&str; 2] = [
    profile!("cgm-summary-mean-glucose-mass-per-volume"),
    profile!("cgm-summary-mean-glucose-moles-per-volume"),
];
pub(crate) const TIMES_PROFILE: &str = profile!("cgm-summary-times-in-ranges");
pub(crate) const GMI_PROFILE: &str = profile!("cgm-summary-gmi");
pub(crate) const CV_PROFILE: &str = profile!("cgm-summary-coefficient-of-variation");
pub(crate) const DAYS_PROFILE: &str = profile!("cgm-summary-days-of-wear");
pub(crate) const ACTIVE_PROFILE: &str = profile!("cgm-summary-sensor-active-percentage");
pub(crate) const PDF_PROFILE: &str = profile!("cgm-summary-pdf");
pub(crate) const DEVICE_PROFILE: &str = profile!("cgm-device");

/// Names of identifiers of our own; no registered namespace.
pub(crate) const OF_BOOK: &str = "urn:interstice:book";
pub(crate) const OF_SENSOR: &str = "urn:interstice:sensor";
pub(crate) const OF_ENTRY: &str = "urn:interstice:entry";

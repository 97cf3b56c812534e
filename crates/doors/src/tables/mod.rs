//! The tables of an export.

mod kept;
mod logged;
mod readings;
mod sensors;
mod told;

pub(crate) use kept::{
    claims, conflicts, imports, photo_path, photos, rejected, sensor_kinds, settings, stock, trials,
};
pub(crate) use logged::{blood_checks, doses, entries, low_verdicts, meals, zones};
pub(crate) use readings::{months, readings};
pub(crate) use sensors::{sensor_moments, sensors};
pub(crate) use told::{days, episodes, figures, usual_day};

use interstice_glucose::Said;

use crate::table::Making;

/// A glucose value, exactly as it was said and in mg/dL.
fn said<'t, T>(making: Making<'t, T>, said: impl Fn(&'t T) -> Said + Copy) -> Making<'t, T> {
    use interstice_glucose::Named;
    making
        .text(
            "value_as_said",
            "the number exactly as the device said it, in its own unit",
            move |it| Some(said(it).decimal()),
        )
        .text("unit_as_said", "that unit: 'mg/dL' or 'mmol/L'", move |it| {
            Some(said(it).unit().word())
        })
        .text(
            "bound",
            "'below' or 'above' where the device only said that it was beyond what it can measure; the number is then \
             the edge; else empty",
            move |it| Some(said(it).censor().word()).filter(|word| !word.is_empty()),
        )
        .real(
            "glucose_mg_dl",
            "the same in mg/dL; 1 mmol/L is 18.0156 mg/dL",
            move |it| Some(said(it).glucose().mg_per_dl()),
        )
}

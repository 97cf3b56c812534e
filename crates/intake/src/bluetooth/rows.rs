//! Records of one session as rows for the book.

use interstice_glucose::{
    Censor, Draft, Moment, Readings, Rejected, Said, Second, TraceDraft, TraceKind, Unit,
};

use super::cgm::CgmMeasurement;
use crate::documents::BELIEVED_MG_PER_DL;

/// Bits of the status octet by which the value is none of this wearer's glucose (from memory): a sensor of the wrong type, one that
/// does not work, a fault of the device.
const TROUBLES: [(u8, &str); 3] = [
    (1 << 2, "the sensor is not of the type its transmitter expects"),
    (1 << 3, "the sensor does not work as it should"),
    (1 << 5, "the device has a fault"),
];
/// Bits of the warning octet: what was measured lies below or above what the device can tell (from memory).
const BELOW: u8 = 1 << 6;
const ABOVE: u8 = 1 << 7;

/// The records of a session that began at `start`, as readings of the sensor of this name. What is no reading is kept with
/// its reason.
pub fn readings_of(sensor: &str, start: Second, records: &[CgmMeasurement]) -> Draft {
    let mut draft = Draft::default();
    let mut readings = Readings::default();
    for (row, record) in records.iter().enumerate() {
        let at = record.at(start);
        let read = value(record).and_then(|said| {
            let at = u32::try_from(at).map_err(|_| "its time lies before 1970 or after 2106".to_owned())?;
            Ok((at, said))
        });
        match read {
            Ok((at, said)) => readings.push(at, draft.levels.intern(said)),
            Err(reason) => draft.rejected.push(Rejected {
                row: row as u64 + 1,
                column: "glucose".to_owned(),
                text: Moment { at, offset_s: 0 }.to_string(),
                reason,
            }),
        }
    }
    if !readings.is_empty() {
        draft.traces.push(TraceDraft {
            sensor: sensor.to_owned(),
            kind: TraceKind::Automatic,
            readings,
        });
    }
    draft
}

fn value(record: &CgmMeasurement) -> Result<Said, String> {
    let status = record.status.status.unwrap_or_default();
    if let Some((_, why)) = TROUBLES.iter().find(|(bit, _)| status & bit != 0) {
        return Err(format!(
            "{why}, as it says itself; what it measured then is left out"
        ));
    }
    let said = record
        .said()
        .ok_or("the sensor sent a record without a number; it had none to tell")?;
    if !BELIEVED_MG_PER_DL.contains(&said.glucose().mg_per_dl()) {
        return Err(format!("{said} is no glucose that could be"));
    }
    let warning = record.status.warning.unwrap_or_default();
    let censor = match (warning & BELOW != 0, warning & ABOVE != 0) {
        (false, false) => Censor::None,
        (true, false) => Censor::Below,
        (false, true) => Censor::Above,
        (true, true) => {
            return Err("the sensor says that it is both below and above what it can tell".to_owned());
        }
    };
    Said::new(said.mantissa(), said.decimals(), Unit::MgPerDl, censor).map_err(|error| error.to_string())
}

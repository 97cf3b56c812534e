//! What blood probably is at the last reading, told live.

use interstice_book::{NightHours, Record};
use interstice_glucose::{DAY_S, Second};
use interstice_methods::estimate::Live;
use interstice_tongue::{Message, message};
use serde::Serialize;

use super::estimate::{Columns, Known, blood_checks, set_aside, started};
use super::lag::{self, Lag};
use super::pairs;
use super::pressed::in_bed;
use super::wears::wears;

/// A sensor read for longer is followed from so long before the moment: by then its start is forgotten. Ours.
const FOLLOWED_DAYS: i64 = 30;

/// What blood probably is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BloodNow {
    /// Middle.
    pub mg_dl: f64,
    /// Nineteen times in twenty it is above.
    pub p5_mg_dl: f64,
    /// Three times in four it is above.
    pub p25_mg_dl: f64,
    /// Three times in four it is below.
    pub p75_mg_dl: f64,
    /// Nineteen times in twenty it is below.
    pub p95_mg_dl: f64,
    /// Chance that the sensor is being lain on, percent.
    pub pressed_percent: f64,
    /// Blood checks beside this sensor so far.
    pub sensor_checks: u64,
    /// How late the sensors are behind blood.
    #[serde(flatten)]
    pub lag: Lag,
}

/// At the last reading of a record, by all that was known then.
///
/// # Errors
/// A reason in words, where that reading belongs to no sensor or is not to be believed.
pub(crate) fn blood_now(record: &Record, night: Option<NightHours>, at: Second) -> Result<BloodNow, Message> {
    let all = wears(record);
    let place = all
        .iter()
        .rposition(|wear| wear.span.1 == at)
        .ok_or_else(|| message!("now-blood-no-sensor"))?;
    let checks = pairs::checks(record);
    let marked = pairs::artefacts(record);
    if marked.iter().any(|&(from, to)| (from..to).contains(&at)) {
        return Err(message!("now-blood-not-believed"));
    }
    let known = Known::of(record, &all, &checks, night);
    let mut columns: Vec<Columns<'_>> = all.iter().map(|wear| Columns::said(record, wear)).collect();
    set_aside(record, &mut columns, &known.pressed);
    let (wear, columns) = (&all[place], &columns[place]);
    let in_bed = in_bed(record, night, columns.at);
    let mut live = Live::new(&known.learned, started(wear));
    let first = columns
        .at
        .partition_point(|&reading| Second::from(reading) < at - FOLLOWED_DAYS * DAY_S);
    let from = Second::from(columns.at[first]);
    let own = blood_checks(&checks);
    let mut own = own
        .iter()
        .filter(|check| (from..=at).contains(&Second::from(check.at)))
        .peekable();
    let mut sensor_checks = 0;
    let values = columns
        .mg_dl
        .iter()
        .zip(&columns.censor)
        .zip(columns.aside.iter().zip(&in_bed));
    for (&read, ((&mg_dl, &censor), (&aside, &in_bed))) in columns.at.iter().zip(values).skip(first) {
        // What was found to be pressure by now has no say; what may only be pressure, the filter weighs itself.
        if !aside {
            live.reading(read, mg_dl, censor, in_bed);
        }
        while let Some(check) = own.next_if(|check| check.at <= read) {
            live.check(check.at, check.mg_dl);
            sensor_checks += 1;
        }
    }
    let blood = live.blood(u32::try_from(at).unwrap_or(0));
    let ((p25, p75), (p5, p95)) = (blood.half(), blood.most());
    Ok(BloodNow {
        mg_dl: blood.mean_mg_dl,
        p5_mg_dl: p5,
        p25_mg_dl: p25,
        p75_mg_dl: p75,
        p95_mg_dl: p95,
        pressed_percent: 100.0 * live.pressed(),
        sensor_checks,
        lag: lag::of(&known.learned),
    })
}

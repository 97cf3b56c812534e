//! What blood probably was, row by row, for files.

use interstice_findings::trust::{Probable, SensorBlood};
use interstice_glucose::{Moment, Second};

/// The heading of [`estimate_row`].
pub const ESTIMATE_HEAD: &str =
    "time_utc,sensor_id,sensor_mg_dl,estimate_mg_dl,p5_mg_dl,p25_mg_dl,p75_mg_dl,p95_mg_dl";

/// One row without its end: the instant, the sensor's name, what it said, and what blood probably was.
pub fn estimate_row(at: Second, sensor: &str, said_mg_dl: Option<f64>, blood: &Probable) -> String {
    let time = Moment { at, offset_s: 0 }.to_string().replace("+00:00", "Z");
    let said = said_mg_dl.map_or_else(String::new, |said| format!("{said:.1}"));
    let (p25, p75) = blood.half();
    let (p5, p95) = blood.most();
    format!(
        "{time},{},{said},{:.2},{p5:.2},{p25:.2},{p75:.2},{p95:.2}",
        quoted(sensor),
        blood.mean_mg_dl
    )
}

/// All readings of a sensor as a file.
pub fn estimate_file(sensor: &SensorBlood) -> String {
    let mut file = format!("{ESTIMATE_HEAD}\n");
    for ((&at, &said), blood) in sensor.at.iter().zip(&sensor.sensor_mg_dl).zip(&sensor.blood) {
        file.push_str(&estimate_row(at.into(), &sensor.sensor, Some(said), blood));
        file.push('\n');
    }
    file
}

/// A name as a cell (RFC 4180).
fn quoted(name: &str) -> String {
    if name.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", name.replace('"', "\"\""))
    } else {
        name.to_owned()
    }
}

//! The scenario in plain words.

use std::fmt::Write;

use crate::truth::Truth;
use crate::wear::{Ending, utc_text};

/// The story, with the figures of this seed.
pub(crate) fn tell(truth: &Truth, days: usize) -> String {
    let mut text = String::from(OPENING);
    let counts = &truth.counts;
    let complete = truth
        .swings
        .iter()
        .filter(|s| s.complete && s.planted_at_meal.is_some())
        .count();
    let unplanned = truth
        .swings
        .iter()
        .filter(|s| s.planted_at_meal.is_none())
        .count();
    // Writing to a string cannot fail.
    let _ = write!(
        text,
        "{days} days from {} to {}, seed {}.\n{} sensor readings, {} blood checks, {} stretches of pressure in bed, {complete} planted \
         swings that ran their course and {unplanned} that came by themselves.\nLot {} reads {:.0} % too high.\n\nSensors\n",
        utc_text(truth.from),
        utc_text(truth.to),
        truth.seed,
        counts.readings,
        counts.blood_checks,
        truth.compressions.len(),
        truth.biased_lot,
        truth.lot_bias * 100.0,
    );
    for sensor in &truth.sensors {
        let wear = &sensor.wear;
        let how = match wear.ending {
            Ending::Planned => "worn to its end",
            Ending::FellOff => "fell off",
            Ending::Failed => "failed",
            Ending::StillOn => "still on",
        };
        let bedded = if wear.bedded_in { ", bedded in" } else { "" };
        let _ = writeln!(
            text,
            "  {} {} {}, lot {}, started {}{bedded}: {how} {}",
            wear.sensor,
            wear.side.words(),
            wear.site.words(),
            wear.lot,
            utc_text(wear.started),
            utc_text(wear.ended),
        );
    }
    text
}

const OPENING: &str = "\
INVENTED. No person is behind any of this; a program made it. Nothing here is advice, and some habits in it are bad ones.

A ship's engineer with type 1 diabetes, on injections: four weeks at home, four weeks on board, watches that turn by
the week (8-12, 4-8, 0-4). The reader and the phone stay on home time (Europe/Berlin) all year; clocks there go back in
October and forward in March. In February the ship sails west and keeps its own time, one, two and three hours behind
home; only the relay's file, which writes its offset, knows of it. The reader was left on board for three days at the
turn of the year; the relay has those days.

Sensors last fourteen days and read every five minutes. Some were put on a day before they were started. The numbers
lag the blood, are poor on the first day, fall under pressure in bed, and the engineer sometimes believes them.

";

//! The scenario in plain words.

use std::fmt::Write;

use interstice_glucose::Ending as HowEnded;

use crate::before::EarlierTruth;
use crate::swings::Swing;
use crate::truth::Truth;
use crate::wear::{Ending, Wear, utc_text};

/// The story, with the figures of this seed.
pub(crate) fn tell(truth: &Truth, days: usize) -> String {
    let mut text = String::from(OPENING);
    let (from, to, seed) = (utc_text(truth.from), utc_text(truth.to), truth.seed);
    let (readings, checks) = (truth.counts.readings, truth.counts.blood_checks);
    let (pressed, lot, bias) = (truth.compressions.len(), truth.biased_lot, truth.lot_bias * 100.0);
    let count = |is: &dyn Fn(&Swing) -> bool| truth.swings.iter().filter(|s| is(s)).count();
    let planted = count(&|s| s.planted_at_meal.is_some());
    let complete = count(&|s| s.planted_at_meal.is_some() && s.complete);
    let unplanned = count(&|s| s.planted_at_meal.is_none());
    let earlier = truth.before.len();
    let came_off = |one: &&EarlierTruth| one.ending == HowEnded::CameOff;
    let off = truth.before.iter().filter(came_off).count();
    // Writing to a string cannot fail.
    let _ = write!(
        text,
        "{days} days from {from} to {to}, seed {seed}.\n\
         {earlier} sensors before them, of which only the wear was written down; {off} of these came off.\n\
         {readings} sensor readings, {checks} blood checks, {pressed} stretches of pressure in bed.\n\
         {planted} swings planted, of which {complete} ran their full course; {unplanned} more came by themselves.\n\
         Lot {lot} reads {bias:.0} % too high.\n\nSensors\n",
    );
    for sensor in &truth.sensors {
        line(&mut text, &sensor.wear);
    }
    text
}

fn line(text: &mut String, wear: &Wear) {
    let how = match wear.ending {
        Ending::Planned => "worn to its end",
        Ending::FellOff => "fell off",
        Ending::Failed => "failed",
        Ending::StillOn => "still on",
    };
    let bedded = if wear.bedded_in { ", bedded in" } else { "" };
    let (sensor, side, site, lot) = (&wear.sensor, wear.side.words(), wear.site.words(), wear.lot);
    let (started, ended) = (utc_text(wear.started), utc_text(wear.ended));
    let _ = writeln!(
        text,
        "  {sensor} {side} {site}, lot {lot}, started {started}{bedded}: {how} {ended}"
    );
}

const OPENING: &str = "\
INVENTED. No person is behind any of this; a program made it. Nothing here is advice, and some habits in it are bad ones.

A ship's engineer with type 1 diabetes, on injections: four weeks at home, four weeks on board, watches that turn by
the week (8-12, 4-8, 0-4). The reader and the phone stay on home time (Europe/Berlin) all year; clocks there go back in
October and forward in March. At the end of January the ship sails west for two weeks and keeps its own time, one, two
and three hours behind home, and back; only the relay's file, which writes its offset, knows of it. The reader was left
on board for three days at the turn of the year; the relay has those days.

Sensors last fourteen days and read every five minutes. Some were put on a day before they were started. The numbers
lag the blood, are poor on the first day, fall under pressure in bed, and the engineer sometimes believes them.

Of the three years before only the wear of each sensor was written down: where, how prepared, under what cover, how long.
On the thigh they came off far sooner than elsewhere, less so under an over-patch. Since then all goes into a diary that has
no field for covers.

";

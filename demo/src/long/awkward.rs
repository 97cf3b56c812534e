//! The awkward writer: the same readings with semicolons, decimal comma, mmol/L, day-first 12-hour home wall time, in
//! shuffled blocks, some rows twice and some contradicting themselves.

use std::io::{self, Write};

use interstice_glucose::{DAY_S, MG_PER_DL_IN_ONE_MMOL_PER_L, Second, WallTime, Zone};

use super::Written;
use super::clean::{append_number, append_two};
use super::trace::Trace;
use crate::random::{Dice, Purpose};

/// How awkward it is to be.
#[derive(Clone, Debug)]
pub struct AwkwardOptions {
    /// Zone of the wall clock.
    pub zone: Zone,
    /// Days in a block; blocks begin at noon in universal time and come in shuffled order, rows inside one in time
    /// order, so that an hour repeated in autumn can be told from the order. 0 is taken as 1.
    pub block_days: u32,
    /// Rows in a thousand that are written twice.
    pub repeats_per_mille: u32,
    /// Rows in a thousand that come again with another value.
    pub conflicts_per_mille: u32,
}

impl Default for AwkwardOptions {
    /// Home zone of the demo, blocks of thirty days, 20 ‰ repeated, 2 ‰ contradicted.
    fn default() -> Self {
        let zone = Zone::named(crate::HOME_ZONE).unwrap_or_else(|_| Zone::utc());
        AwkwardOptions {
            zone,
            block_days: 30,
            repeats_per_mille: 20,
            conflicts_per_mille: 2,
        }
    }
}

/// Writes the readings of [`super::write_clean`] awkwardly. Rows look like `17.03.2025 01:04:00 PM;5,8;`.
///
/// Repeats and conflicts follow at the very end of the file, out of order. In a repeated hour they are left out.
///
/// # Errors
/// Whatever `out` says.
pub fn write_awkward(
    out: &mut impl Write,
    start: Second,
    interval_s: u32,
    rows: u64,
    seed: u64,
    options: &AwkwardOptions,
) -> io::Result<Written> {
    out.write_all(PREAMBLE.as_bytes())?;
    let mut trace = Trace::new(start, interval_s, rows, seed);
    let mut dice = Dice::new(seed, Purpose::Files);
    let mut rows = Rows::new(&options.zone, start);
    let mut readings = Vec::new();
    let mut again: Vec<(Second, u16)> = Vec::new();
    for (from, to) in shuffled_blocks(&trace, options.block_days.max(1), &mut dice) {
        for day in from..to {
            trace.day(day, &mut readings);
            for &(at, mg_dl) in &readings {
                rows.append(at, mg_dl);
                rows.written.sum_mg_dl += u64::from(mg_dl);
                rows.written.last = rows.written.last.max(at);
                let draw = (dice.unit() * 1000.0) as u32;
                rows.say_again(at, mg_dl, draw, options, &mut again);
            }
            rows.flush(out)?;
            rows.written.readings += readings.len() as u64;
        }
    }
    for (at, mg_dl) in again {
        rows.append(at, mg_dl);
    }
    rows.flush(out)?;
    Ok(rows.written)
}

const PREAMBLE: &str = "INVENTED trace;;\r\nWhen;Glucose (mmol/L);Remark\r\n";

/// Blocks of days as half-open ranges, in random order (Fisher and Yates, as Durstenfeld 1964 has it).
fn shuffled_blocks(trace: &Trace, block_days: u32, dice: &mut Dice) -> Vec<(i64, i64)> {
    let (first, last) = trace.days();
    let size = i64::from(block_days);
    let mut blocks: Vec<(i64, i64)> = (first..=last)
        .step_by(block_days as usize)
        .map(|from| (from, (from + size).min(last + 1)))
        .collect();
    for i in (1..blocks.len()).rev() {
        blocks.swap(i, dice.below(i + 1));
    }
    blocks
}

/// Rows on their way out.
struct Rows<'a> {
    zone: &'a Zone,
    buffer: Vec<u8>,
    written: Written,
    /// Quarter of an hour whose offset is known; offsets change on none of the minutes inside.
    offset: (i64, i32),
    day: (i64, Vec<u8>),
    values: Vec<Vec<u8>>,
}

impl<'a> Rows<'a> {
    fn new(zone: &'a Zone, start: Second) -> Self {
        Rows {
            zone,
            buffer: Vec::with_capacity(256 * 1024),
            written: Written {
                first: start,
                ..Written::default()
            },
            offset: (i64::MIN, 0),
            day: (i64::MIN, Vec::new()),
            values: (0..=400).map(value_text).collect(),
        }
    }

    fn offset_s(&mut self, at: Second) -> i32 {
        let quarter = at.div_euclid(900);
        if self.offset.0 != quarter {
            self.offset = (quarter, self.zone.offset_s(at));
        }
        self.offset.1
    }

    fn append(&mut self, at: Second, mg_dl: u16) {
        let wall = WallTime(at + i64::from(self.offset_s(at)));
        if self.day.0 != wall.day() {
            let date = WallTime(wall.day() * DAY_S).civil();
            let text = date.map_or_else(Vec::new, |date| {
                date.strftime("%d.%m.%Y ").to_string().into_bytes()
            });
            self.day = (wall.day(), text);
        }
        let second = wall.second_of_day();
        let hour = second / 3600;
        self.buffer.extend_from_slice(&self.day.1);
        append_two(&mut self.buffer, if hour % 12 == 0 { 12 } else { hour % 12 });
        self.buffer.push(b':');
        append_two(&mut self.buffer, second / 60 % 60);
        self.buffer.push(b':');
        append_two(&mut self.buffer, second % 60);
        self.buffer
            .extend_from_slice(if hour < 12 { b" AM;" } else { b" PM;" });
        self.buffer
            .extend_from_slice(&self.values[usize::from(mg_dl.min(400))]);
        self.buffer.extend_from_slice(b";\r\n");
        self.written.rows += 1;
    }

    /// Marks a row to come again, the same or otherwise.
    fn say_again(
        &mut self,
        at: Second,
        mg_dl: u16,
        draw: u32,
        options: &AwkwardOptions,
        again: &mut Vec<(Second, u16)>,
    ) {
        let repeats = options.repeats_per_mille;
        if draw >= repeats + options.conflicts_per_mille || self.near_a_change(at) {
            return;
        }
        if draw < repeats {
            self.written.repeats += 1;
            again.push((at, mg_dl));
        } else {
            self.written.conflicts += 1;
            again.push((at, if mg_dl > 200 { mg_dl - 30 } else { mg_dl + 30 }));
        }
    }

    fn near_a_change(&self, at: Second) -> bool {
        self.zone.offset_s(at - 2 * 3600) != self.zone.offset_s(at + 2 * 3600)
    }

    fn flush(&mut self, out: &mut impl Write) -> io::Result<()> {
        out.write_all(&self.buffer)?;
        self.buffer.clear();
        Ok(())
    }
}

/// Whole mg/dL as mmol/L with one decimal and a comma.
fn value_text(mg_dl: u16) -> Vec<u8> {
    let tenths = (f64::from(mg_dl) * 10.0 / MG_PER_DL_IN_ONE_MMOL_PER_L + 0.5) as u16;
    let mut text = Vec::with_capacity(4);
    append_number(&mut text, tenths / 10);
    text.push(b',');
    append_number(&mut text, tenths % 10);
    text
}

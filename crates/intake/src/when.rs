//! Which columns say when.

use crate::api::Role;
use crate::column::{Column, Sample};
use crate::concept::Concept;
use crate::meals;
use crate::roles::Trouble;

/// Least share of a column's filled cells that must read as times.
const MOSTLY: f64 = 0.8;

/// Gives roles to the columns that say when, and reads the time of each sampled row.
pub(crate) fn assign_time(sample: &mut Sample) -> Result<(), Trouble> {
    if sample.of(Role::DateTime).is_none() {
        choose_moment(sample);
    }
    if sample.of(Role::DateTime).is_none() {
        choose_date_and_clock(sample)?;
    }
    assign_companions(sample);
    sample.read_walls(None);
    if let Some(half) = sample.half {
        let why = "says whether a time is before or after noon, and is read with it";
        sample.columns[half].take(Role::Ignored, 0.95, why);
    }
    if sample.walls.iter().all(Option::is_none) {
        return Err(Trouble::refuse(
            "no row has a time that can be read",
            "check the date and time columns of the file",
        ));
    }
    Ok(())
}

/// Times of day with points, in a column so named; elsewhere such cells are numbers.
fn is_dotted(column: &Column) -> bool {
    column.profile.filled > 0
        && is_mostly(column, column.profile.dotted_clocks)
        && column.any(&[Concept::Clock, Concept::Time])
}

/// Nearly all filled cells; in a table of a few rows a closing line or two may stand below.
fn is_mostly(column: &Column, count: usize) -> bool {
    let p = &column.profile;
    p.share(count) >= MOSTLY || (count >= 2 && count + 2 >= p.filled && count * 2 > p.filled)
}

/// The best column that holds date and time in one.
fn choose_moment(sample: &mut Sample) {
    let scored = sample
        .columns
        .iter()
        .enumerate()
        .filter(|(_, c)| c.is_open())
        .filter_map(|(i, c)| Some((moment_score(c)?, i)));
    let best = scored.max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let Some((_, best)) = best else { return };
    let column = &mut sample.columns[best];
    let p = &column.profile;
    let why = if p.epochs * 2 > p.filled {
        "every cell is a count of seconds or milliseconds since 1970".to_owned()
    } else if is_serial(column) {
        "days since 1899, as spreadsheets count them, with the time as fraction".to_owned()
    } else {
        format!(
            "{} of {} cells are a date with a time of day",
            p.moments, p.filled
        )
    };
    let confidence = p
        .share(p.moments + p.epochs)
        .max(if is_serial(column) { 0.9 } else { 0.0 });
    column.take(Role::DateTime, confidence, why);
}

/// How well a column says when each row was; `None` where it does not.
fn moment_score(column: &Column) -> Option<f64> {
    let p = &column.profile;
    let is_moment =
        p.filled > 0 && (is_mostly(column, p.moments) || p.share(p.epochs) >= MOSTLY && p.epochs > 0);
    if !is_moment && !is_serial(column) {
        return None;
    }
    let mut score = 2.0 * p.fill() + 2.0 * p.share(p.offsets);
    if column.any(&[Concept::Time, Concept::Date, Concept::Start, Concept::Clock]) {
        score += 1.0;
    }
    if column.has(Concept::Universal) || p.share(p.universal) > 0.5 {
        score += 0.5;
    }
    if column.any(&[Concept::End, Concept::Bookkeeping]) {
        score -= 3.0;
    }
    Some(score)
}

/// A column of spreadsheet date numbers that lost their format: named as a time, between 1982 and 2064, with
/// fractions.
pub(crate) fn is_serial(column: &Column) -> bool {
    let p = &column.profile;
    let in_range = |q| p.quantile(q).is_some_and(|v| (30_000.0..60_000.0).contains(&v));
    p.filled > 0
        && p.share(p.numbers.len()) >= 0.95
        && p.fractions * 2 > p.filled
        && in_range(0.0)
        && in_range(1.0)
        && (column.heading.is_empty() || column.any(&[Concept::Time, Concept::Date, Concept::Clock]))
}

/// A column of dates and one of times of day, the nearest pair.
fn choose_date_and_clock(sample: &mut Sample) -> Result<(), Trouble> {
    let is = |c: &Column, count: usize| c.is_open() && c.profile.filled > 0 && is_mostly(c, count);
    let pick = |role: Role, count: fn(&Column) -> usize| -> Vec<usize> {
        if let Some(i) = sample.of(role) {
            return vec![i];
        }
        (0..sample.columns.len())
            .filter(|&i| is(&sample.columns[i], count(&sample.columns[i])))
            .collect()
    };
    let dates = pick(Role::Date, |c| c.profile.dates);
    let mut clocks = pick(Role::TimeOfDay, |c| c.profile.clocks);
    if clocks.is_empty() {
        clocks = (0..sample.columns.len())
            .filter(|&i| sample.columns[i].is_open() && is_dotted(&sample.columns[i]))
            .collect();
    }
    match (dates.is_empty(), clocks.is_empty()) {
        (true, true) => {
            return Err(Trouble::refuse(
                "there is no column of dates and times",
                "export the entries with the date and time of each; a summary or a list without times cannot be placed in time",
            ));
        }
        (true, false) => {
            return Err(Trouble::refuse(
                "there are times of day but no dates, so the rows cannot be placed in time",
                "add a column with the date of each row (a spreadsheet will do), or export again with dates",
            ));
        }
        (false, true) => {
            return Err(meals::refusal(sample).unwrap_or_else(|| {
                Trouble::refuse(
                    "there are dates but no times of day, so the rows cannot be placed within their day",
                    "export again with the time of each entry, or write one into a column of its own",
                )
            }));
        }
        (false, false) => {}
    }
    let pairs = dates.iter().flat_map(|&d| clocks.iter().map(move |&c| (d, c)));
    let best = pairs.min_by_key(|&(d, c)| {
        (
            late(&sample.columns[d]) || late(&sample.columns[c]),
            d.abs_diff(c),
            d,
        )
    });
    if let Some((date, clock)) = best {
        let share = sample.columns[date]
            .profile
            .share(sample.columns[date].profile.dates);
        sample.columns[date].take(Role::Date, share, "cells are dates");
        let share = sample.columns[clock].profile.share(
            sample.columns[clock]
                .profile
                .clocks
                .max(sample.columns[clock].profile.dotted_clocks),
        );
        sample.columns[clock].take(Role::TimeOfDay, share, "cells are times of day");
    }
    Ok(())
}

/// Named as an end or as the bookkeeping of a program.
fn late(column: &Column) -> bool {
    column.any(&[Concept::End, Concept::Bookkeeping])
}

/// Offsets, ends and wall clocks beside the chosen time; any other time is left out.
fn assign_companions(sample: &mut Sample) {
    let universal = sample.of(Role::DateTime).is_some_and(|i| {
        let c = &sample.columns[i];
        c.has(Concept::Universal) || c.profile.share(c.profile.universal) > 0.5
    });
    for column in &mut sample.columns {
        if !column.is_open() || column.profile.filled == 0 {
            continue;
        }
        let p = &column.profile;
        let times = p.share(p.moments + p.dates + p.clocks);
        if is_offset(column) {
            column.take(Role::Offset, 0.9, "cells are offsets from universal time");
        } else if times >= MOSTLY && column.has(Concept::End) && p.share(p.moments) >= MOSTLY {
            column.take(Role::End, 0.9, "named as an end and holds times");
        } else if times >= MOSTLY
            && universal
            && p.share(p.moments) >= MOSTLY
            && p.offsets == 0
            && !late(column)
        {
            column.take(Role::LocalTime, 0.8, "the wall clock beside universal time");
        } else if times >= MOSTLY || p.share(p.epochs) >= MOSTLY && p.epochs > 0 {
            column.take(
                Role::Ignored,
                0.8,
                "another time; the rows are placed by the one chosen",
            );
        }
    }
}

/// Offsets: named so, and whole quarter hours in seconds, minutes or hours; or written '+02:00'.
fn is_offset(column: &Column) -> bool {
    let p = &column.profile;
    if p.share(p.offset_texts) >= MOSTLY && p.offset_texts > 0 {
        return true;
    }
    column.has(Concept::Offset)
        && p.share(p.numbers.len()) >= MOSTLY
        && p.numbers
            .iter()
            .all(|&(_, v)| v.fract().abs() < 1e-9 && v.abs() <= 54_000.0)
}

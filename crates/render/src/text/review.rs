//! `interstice review` as text.

use interstice_findings::{DayLine, ReviewFindings};

use interstice_glucose::Unit;
use interstice_tongue::say;

use super::checks;
use super::table::{Align, Table, wrap};
use crate::words::{
    Caution, DayRow, Range, Shown, Standing, after_said, answer, clock, date_and_clock, dawn_said,
    day_extremes, day_rows, early, episode_count, episode_kind, episode_length, habit_said, insulin_said,
    left_out_low, left_out_said, lows_treated_said, meals_answer, measures, no_usual_day, pattern_said,
    patterns_answer, percent, range_rows, repeated_table, short_date, short_weekday, shrunken_said,
    sufficiency, swing_cost, swing_pause, swing_said, swing_table, swings_answer, swings_shown, swings_when,
    target_sentence, timing_said, trace_kind, trace_name, which_time, window, with_and_without,
};

/// Episodes listed before the rest is only counted.
const EPISODES_LISTED: usize = 40;

/// The whole account in the unit the wearer reads, ending in a line feed.
pub fn review(findings: &ReviewFindings, unit: Unit) -> String {
    let shown = Shown { unit };
    let mut out = Vec::new();
    head(&mut out, findings, shown);
    if findings.sufficiency.received > 0 {
        left_out(&mut out, findings, shown);
        ranges(&mut out, findings, shown);
        usual_day(&mut out, findings, shown);
        measure_table(&mut out, findings, shown);
        days(&mut out, &findings.days, shown);
        episodes(&mut out, findings, shown);
        swings(&mut out, findings, shown);
        meals(&mut out, findings, shown);
        patterns(&mut out, findings, shown);
        traces(&mut out, findings);
    }
    if let Some(found) = &findings.blood_checks {
        section(&mut out, &say!("review-text-checks"));
        out.extend(checks::body(found, shown));
    }
    if !findings.notes.is_empty() {
        section(&mut out, &say!("review-worth-knowing"));
        out.extend(findings.notes.iter().flat_map(|note| wrap(note, 0)));
    }
    out.push(String::new());
    out.extend(wrap(&Caution::CareTeam.text(shown), 0));
    out.push(String::new());
    out.join("\n")
}

fn section(out: &mut Vec<String>, title: &str) {
    out.push(String::new());
    out.push(title.to_owned());
}

/// A section of figures, and beside its title whether there is enough for them.
fn figures(out: &mut Vec<String>, title: &str, findings: &ReviewFindings) {
    section(out, title);
    if let Some(words) = early(findings) {
        out.extend(wrap(&format!("({words})"), 0));
    }
}

fn head(out: &mut Vec<String>, findings: &ReviewFindings, shown: Shown) {
    out.push(window(&findings.window));
    out.push(String::new());
    out.extend(wrap(&answer(findings), 0));
    out.extend(
        wrap(&target_sentence(findings, shown), 0)
            .into_iter()
            .filter(|line| !line.is_empty()),
    );
    out.extend(wrap(&sufficiency(&findings.sufficiency, &findings.window), 0));
}

/// What is left out, and the figures both ways; also where stretches are marked and nothing was asked to be left out.
fn left_out(out: &mut Vec<String>, findings: &ReviewFindings, shown: Shown) {
    let twin = with_and_without(findings, shown);
    if findings.left_out.is_none() && twin.is_none() {
        return;
    }
    section(
        out,
        &if findings.left_out.is_some() {
            say!("review-text-without")
        } else {
            say!("review-both-marked")
        },
    );
    out.extend(
        left_out_said(findings, shown)
            .iter()
            .flat_map(|said| wrap(said, 0)),
    );
    if let Some(twin) = twin {
        out.extend(twin.lines());
    }
    let lows = findings.left_out.iter().flat_map(|out| &out.lows);
    out.extend(lows.flat_map(|low| wrap(&left_out_low(low), 2)));
}

fn ranges(out: &mut Vec<String>, findings: &ReviewFindings, shown: Shown) {
    let title = say!("review-text-ranges", unit = shown.unit.symbol());
    figures(out, &title, findings);
    let mut table = Table::new(&[
        ("", Align::Left),
        ("", Align::Left),
        ("", Align::Right),
        ("", Align::Left),
        ("", Align::Left),
    ]);
    for row in range_rows(findings, shown) {
        let name = match row.range {
            None | Some(Range::InRange) => row.short_name,
            Some(_) => format!("  {}", row.short_name),
        };
        let standing = if row.standing == Standing::None {
            String::new()
        } else {
            format!("{}: {}", row.short_target, row.standing.short())
        };
        table.row([name, row.bounds, row.minutes, row.percent, standing]);
    }
    out.extend(table.lines().into_iter().skip(1));
}

fn usual_day(out: &mut Vec<String>, findings: &ReviewFindings, shown: Shown) {
    let points = &findings.usual_day;
    let title = say!("review-text-usual", unit = shown.unit.symbol());
    figures(out, &title, findings);
    if let Some(why) = no_usual_day(points) {
        out.extend(wrap(&why, 0));
        return;
    }
    let percentile = |percent| say!("review-percentile", percent = percent);
    let heads = [
        ("", Align::Left),
        (&*percentile(5), Align::Right),
        (&*percentile(25), Align::Right),
        (&*say!("review-text-median"), Align::Right),
        (&*percentile(75), Align::Right),
        (&*percentile(95), Align::Right),
        (&*say!("review-text-days-head"), Align::Right),
    ];
    let mut table = Table::new(&heads);
    for p in points.iter().filter(|p| p.minute % 120 == 0) {
        let values = [p.p5_mg_dl, p.p25_mg_dl, p.p50_mg_dl, p.p75_mg_dl, p.p95_mg_dl];
        let cells = values.map(|v| v.map_or_else(|| "–".to_owned(), |v| shown.glucose(v)));
        table.row(
            [clock(p.minute)]
                .into_iter()
                .chain(cells)
                .chain([p.days.to_string()]),
        );
    }
    out.extend(table.lines());
}

fn measure_table(out: &mut Vec<String>, findings: &ReviewFindings, shown: Shown) {
    figures(out, &say!("review-text-measures"), findings);
    let mut table = Table::new(&[("", Align::Left), ("", Align::Left)]);
    for measure in measures(findings, shown) {
        table.row([measure.name, measure.value]);
    }
    for line in table.lines().into_iter().skip(1) {
        out.extend(wrap_hanging(&line));
    }
}

/// Swings listed before the rest is only counted.
const SWINGS_LISTED: usize = 10;

fn swings(out: &mut Vec<String>, findings: &ReviewFindings, shown: Shown) {
    let (all, tally) = (&findings.swings.swings, &findings.swings.swing_tally);
    figures(out, &say!("swings-heading"), findings);
    out.extend(wrap(&swings_answer(tally), 0));
    if !tally.kinds.is_empty() {
        let heads = [
            ("", Align::Left),
            (&*say!("swings-text-count"), Align::Right),
            (&*say!("swings-text-a-week"), Align::Left),
        ];
        let mut table = Table::new(&heads);
        for row in swing_table(tally).rows {
            table.row(row);
        }
        out.extend(table.lines());
    }
    out.extend(swings_when(tally).iter().flat_map(|said| wrap(said, 0)));
    let ordered = swings_shown(all);
    for swing in ordered.iter().take(SWINGS_LISTED) {
        out.push(String::new());
        out.extend(wrap(
            &format!("{}; {}", swing_said(swing, shown), swing_cost(swing)),
            2,
        ));
        let pauses = swing
            .pauses
            .iter()
            .flat_map(|pause| wrap(&swing_pause(pause, shown), 4));
        out.extend(pauses);
    }
    let rest = all.len().saturating_sub(SWINGS_LISTED);
    if rest > 0 {
        out.push(format!("  {}", say!("swings-text-more", more = rest)));
    }
    if let Some(said) = insulin_said(&findings.swings.insulin_lasts_hours) {
        out.push(String::new());
        out.extend(wrap(&said, 0));
    }
    for (title, said) in [
        (
            say!("swings-lows-heading"),
            lows_treated_said(&findings.swings.lows_treated),
        ),
        (
            say!("swings-habit-heading"),
            habit_said(&findings.swings.reaction_habit),
        ),
    ] {
        figures(out, &title, findings);
        out.extend(said.iter().flat_map(|said| wrap(said, 0)));
    }
    out.push(String::new());
    out.extend(wrap(&Caution::Followed.text(shown), 0));
}

fn meals(out: &mut Vec<String>, findings: &ReviewFindings, shown: Shown) {
    figures(out, &say!("meals-text-heading"), findings);
    out.extend(wrap(&meals_answer(&findings.meals, shown), 0));
    let again = repeated_table(&findings.meals, shown);
    if !again.rows.is_empty() {
        let heads = [
            ("", Align::Left),
            (&*say!("meals-text-times"), Align::Right),
            (&*say!("meals-text-grams"), Align::Right),
            (&*say!("meals-text-own"), Align::Right),
            (&*say!("meals-text-expected"), Align::Left),
            (&*say!("meals-text-to-peak"), Align::Left),
        ];
        let mut table = Table::new(&heads);
        for row in again.rows {
            table.row(row);
        }
        out.extend(table.lines());
        out.extend(wrap(&shrunken_said(), 0));
    }
    if !findings.meals.meals.is_empty() {
        out.extend(wrap(&timing_said(&findings.meals.meal_timing, shown), 0));
    }
}

fn patterns(out: &mut Vec<String>, findings: &ReviewFindings, shown: Shown) {
    let of = &findings.patterns;
    figures(out, &say!("patterns-heading"), findings);
    out.extend(wrap(&patterns_answer(of), 0));
    for pattern in &of.patterns {
        out.extend(wrap(&pattern_said(pattern, shown), 2));
    }
    out.extend(of.after.iter().flat_map(|after| wrap(&after_said(after), 0)));
    out.extend(wrap(&dawn_said(&of.dawn, shown), 0));
}

/// A long reason goes on in a second line.
fn wrap_hanging(line: &str) -> Vec<String> {
    if line.chars().count() <= super::table::WIDTH {
        return vec![line.to_owned()];
    }
    let mut parts = line.splitn(2, "  ");
    let name = parts.next().unwrap_or("").to_owned();
    std::iter::once(name)
        .chain(wrap(parts.next().unwrap_or(""), 4))
        .collect()
}

fn days(out: &mut Vec<String>, days: &[DayLine], shown: Shown) {
    section(out, &say!("review-text-days", unit = shown.unit.symbol()));
    let heads = [
        ("", Align::Left),
        (&*say!("review-text-in-range"), Align::Right),
        (&*say!("review-text-below"), Align::Right),
        (&*say!("review-text-above"), Align::Right),
        (&*say!("review-text-mean"), Align::Right),
        (&*say!("review-text-extremes"), Align::Right),
        (&*say!("review-text-measured"), Align::Right),
    ];
    let mut table = Table::new(&heads);
    let mut silent = Vec::new();
    let share = |v: Option<f64>| v.map_or_else(|| "–".to_owned(), percent);
    let glucose = |v: Option<f64>| v.map_or_else(|| "–".to_owned(), |v| shown.glucose(v));
    let name = |day: &DayLine| format!("{} {}", short_weekday(day.weekday), short_date(&day.date));
    for row in day_rows(days) {
        let day = match row {
            DayRow::Day(day) => day,
            DayRow::Silent(first, last, count) => {
                silent.push(say!(
                    "review-text-silent",
                    from = name(first),
                    to = name(last),
                    days = count
                ));
                continue;
            }
        };
        table.row([
            name(day),
            share(day.in_range_percent),
            share(day.below_percent),
            share(day.above_percent),
            glucose(day.mean_mg_dl),
            day_extremes(day, shown),
            percent(day.active_percent),
        ]);
    }
    out.extend(table.lines());
    out.extend(silent);
}

fn episodes(out: &mut Vec<String>, findings: &ReviewFindings, shown: Shown) {
    let title = say!(
        "review-text-episodes",
        counted = episode_count(&findings.episodes)
    );
    figures(out, &title, findings);
    let heads = [
        ("", Align::Left),
        ("", Align::Left),
        ("", Align::Right),
        ("", Align::Right),
    ];
    let mut table = Table::new(&heads);
    for episode in findings.episodes.iter().take(EPISODES_LISTED) {
        table.row([
            date_and_clock(episode.start.0) + &which_time(episode.start_pass),
            episode_kind(episode),
            episode_length(episode),
            shown.glucose_with_unit(episode.extreme_mg_dl),
        ]);
    }
    out.extend(table.lines().into_iter().skip(1));
    let more = findings.episodes.len().saturating_sub(EPISODES_LISTED);
    if more > 0 {
        out.push(say!("review-text-episodes-more", more = more));
    }
    for caution in [Caution::Lows, Caution::Ketones] {
        out.push(String::new());
        out.extend(wrap(&caution.text(shown), 0));
    }
}

fn traces(out: &mut Vec<String>, findings: &ReviewFindings) {
    section(out, &say!("review-text-sensors"));
    let heads = [
        ("", Align::Left),
        ("", Align::Left),
        (&*say!("review-text-readings"), Align::Right),
        (&*say!("review-text-from"), Align::Left),
        (&*say!("review-text-to"), Align::Left),
    ];
    let mut table = Table::new(&heads);
    for trace in &findings.traces {
        table.row([
            trace_name(trace),
            trace_kind(trace),
            trace.received.to_string(),
            date_and_clock(trace.from.0),
            date_and_clock(trace.to.0),
        ]);
    }
    out.extend(table.lines());
}

//! The account of the window as tables. Nothing here is computed: these are the structs of `findings`.

use interstice_findings::{DayLine, EpisodeKind, EpisodeLine, Figure, ReviewFindings, UsualMinute};

use crate::table::Table;

/// A figure under its name.
struct Row<'a> {
    name: &'a str,
    figure: &'a Figure,
}

pub(crate) fn figures(review: &ReviewFindings) -> Table {
    let rows = review.summary.named().map(|(name, figure)| Row { name, figure });
    let about =
        "the figures of the account of this window, as `review --json` gives them; units are in the names";
    Table::of("figures", about, &rows)
        .text("figure", "its name, with its unit", |row| Some(row.name))
        .real("value", "the figure", |row| row.figure.value)
        .real("lo95", "lower end of its 95 % interval", |row| row.figure.lo95)
        .real("hi95", "upper end of its 95 % interval", |row| row.figure.hi95)
        .text("reason", "why there is no figure or no interval", |row| {
            row.figure.reason.clone()
        })
        .made()
}

pub(crate) fn days(all: &[DayLine]) -> Table {
    Table::of("days", "one row a lived day", all)
        .text("date", "the date on the wall", |day| Some(day.date.clone()))
        .whole("weekday", "Monday is 1, Sunday 7", |day| {
            Some(i64::from(day.weekday))
        })
        .instant("from_utc", "its first instant", |day| Some(day.from.0.at))
        .real("hours", "its length, hours", |day| Some(day.hours))
        .whole("received", "readings received", |day| {
            i64::try_from(day.received).ok()
        })
        .real("active_percent", "time active, percent", |day| {
            Some(day.active_percent)
        })
        .real("mean_mg_dl", "mean, mg/dL", |day| day.mean_mg_dl)
        .real("lowest_mg_dl", "lowest reading, mg/dL", |day| day.lowest_mg_dl)
        .real("highest_mg_dl", "highest reading, mg/dL", |day| day.highest_mg_dl)
        .real("very_low_percent", "time very low, percent", |day| {
            day.very_low_percent
        })
        .real("low_percent", "time low and not very low, percent", |day| {
            day.low_percent
        })
        .real("in_range_percent", "time in the target range, percent", |day| {
            day.in_range_percent
        })
        .real("high_percent", "time high and not very high, percent", |day| {
            day.high_percent
        })
        .real("very_high_percent", "time very high, percent", |day| {
            day.very_high_percent
        })
        .made()
}

pub(crate) fn episodes(all: &[EpisodeLine]) -> Table {
    Table::of("episodes", "low and high episodes of the account", all)
        .text("kind", "'low' or 'high'", |line| {
            Some(match line.kind {
                EpisodeKind::Low => "low",
                EpisodeKind::High => "high",
            })
        })
        .whole(
            "level",
            "1 out of the target range, 2 beyond 54 or 250 mg/dL",
            |line| Some(i64::from(line.level)),
        )
        .yes_no("extended", "whether it lasted: over two hours", |line| {
            Some(line.extended)
        })
        .instant("start_utc", "first reading beyond the threshold", |line| {
            Some(line.start.0.at)
        })
        .instant(
            "end_utc",
            "first recovered reading, or the last before a gap",
            |line| Some(line.end.0.at),
        )
        .yes_no("end_unknown", "whether it ended in a gap", |line| {
            Some(line.end_unknown)
        })
        .real("minutes", "its length, minutes", |line| Some(line.minutes))
        .real("extreme_mg_dl", "lowest or highest reading, mg/dL", |line| {
            Some(line.extreme_mg_dl)
        })
        .instant("extreme_utc", "when that was", |line| Some(line.extreme_at.0.at))
        .real(
            "area_mg_dl_min",
            "area beyond the threshold, mg/dL times minutes",
            |line| Some(line.area_mg_dl_min),
        )
        .made()
}

pub(crate) fn usual_day(all: &[UsualMinute]) -> Table {
    Table::of("usual_day", "percentiles by clock time", all)
        .whole("minute", "minutes since midnight on the wall", |bin| {
            Some(i64::from(bin.minute))
        })
        .whole("days", "days behind it", |bin| Some(i64::from(bin.days)))
        .real("p5_mg_dl", "5th percentile, mg/dL", |bin| bin.p5_mg_dl)
        .real("p25_mg_dl", "25th percentile, mg/dL", |bin| bin.p25_mg_dl)
        .real("p50_mg_dl", "median, mg/dL", |bin| bin.p50_mg_dl)
        .real("p75_mg_dl", "75th percentile, mg/dL", |bin| bin.p75_mg_dl)
        .real("p95_mg_dl", "95th percentile, mg/dL", |bin| bin.p95_mg_dl)
        .made()
}

//! The first days of a file, to be shown before it is written.

use interstice_glucose::{DAY_S, Draft, Moment, Second, TraceKind};
use serde::Serialize;

/// Days that are shown: enough to see meals and nights come again.
const SHOWN_DAYS: i64 = 3;
/// Points of a day at most: of a sensor read each minute every fifth is enough for a picture.
const MOST_POINTS: usize = 300;

/// A day of a file by the clock it was lived by.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FirstDay {
    /// '2025-03-01'.
    pub date: String,
    /// Readings on it.
    pub readings: usize,
    /// Minute of the day and mg/dL, in time order; of many readings not each.
    pub points: Vec<(u16, f64)>,
}

/// The first lived days with automatic readings, from the file alone; empty where it has none.
///
/// * `moment`: an instant with the offset it was lived at.
pub(crate) fn first_days(draft: &Draft, moment: &dyn Fn(Second) -> Moment) -> Vec<FirstDay> {
    let traces = draft
        .traces
        .iter()
        .filter(|trace| trace.kind == TraceKind::Automatic);
    let wall = |at: Second| at + Second::from(moment(at).offset_s);
    let first = traces
        .clone()
        .filter_map(|trace| trace.readings.span())
        .map(|span| span.0);
    let Some(first_day) = first.min().map(|at| wall(at).div_euclid(DAY_S)) else {
        return Vec::new();
    };
    let end = (first_day + SHOWN_DAYS) * DAY_S;
    let mut read: Vec<(Second, f64)> = Vec::new();
    for trace in traces {
        let columns = trace.readings.at().iter().zip(trace.readings.level());
        let lived = columns.map(|(&at, &level)| (wall(at.into()), draft.levels.get(level).mg_per_dl));
        // Clocks that go back may put a reading before the end again: a day more is looked at than is shown.
        read.extend(
            lived
                .take_while(|&(at, _)| at < end + DAY_S)
                .filter(|&(at, _)| at < end),
        );
    }
    read.sort_by_key(|&(at, _)| at);
    (first_day..first_day + SHOWN_DAYS)
        .filter_map(|day| {
            let own: Vec<(Second, f64)> = read
                .iter()
                .filter(|&&(at, _)| at.div_euclid(DAY_S) == day)
                .copied()
                .collect();
            let (first, _) = own.first()?;
            let step = own.len().div_ceil(MOST_POINTS).max(1);
            Some(FirstDay {
                date: interstice_glucose::WallTime(*first).civil()?.date().to_string(),
                readings: own.len(),
                points: own
                    .iter()
                    .step_by(step)
                    .map(|&(at, mg_dl)| ((at.rem_euclid(DAY_S) / 60) as u16, mg_dl))
                    .collect(),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use interstice_glucose::{Readings, Said, TraceDraft};

    use super::*;

    fn read_each(minutes: u32, days: u32) -> Draft {
        let mut draft = Draft::default();
        let mut readings = Readings::default();
        // 1 March 2025, 22:00 UTC.
        for i in 0..days * 1440 / minutes {
            let level = draft
                .levels
                .intern(Said::whole_mg_per_dl(100 + i64::from(i % 50)));
            readings.push(1_740_866_400 + 60 * minutes * i, level);
        }
        draft.traces.push(TraceDraft {
            sensor: String::new(),
            kind: TraceKind::Automatic,
            readings,
        });
        draft
    }

    fn at_two(at: Second) -> Moment {
        Moment { at, offset_s: 7200 }
    }

    #[test]
    fn days_are_those_of_the_clock_lived_by() {
        let days = first_days(&read_each(5, 10), &at_two);
        let dates: Vec<&str> = days.iter().map(|day| day.date.as_str()).collect();
        assert_eq!(dates, ["2025-03-02", "2025-03-03", "2025-03-04"]);
        assert_eq!((days[0].readings, days[0].points[0]), (288, (0, 100.0)));
        let minute = first_days(&read_each(1, 2), &at_two);
        assert_eq!((minute[0].readings, minute[0].points.len()), (1440, 288));
        assert!(first_days(&Draft::default(), &at_two).is_empty());
    }
}

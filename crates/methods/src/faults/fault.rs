//! A fault and its evidence, also in words.

use interstice_glucose::{Ending, Glucose, Second, Unit};

use super::early_end::UsualLife;
use crate::Interval;

/// Something that looks wrong with a sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fault {
    /// From.
    pub from: Second,
    /// To; not before `from`.
    pub to: Second,
    /// What speaks for it.
    pub evidence: Evidence,
}

/// What speaks for a fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Evidence {
    /// No readings.
    Dropout,
    /// The same value again and again.
    Stuck {
        /// The value, mg/dL.
        mg_dl: f64,
        /// Readings of it in a row.
        readings: u64,
        /// How many runs as long the trace's own habit of repeating values would make, with as large a change after it where
        /// that tells more.
        expected: f64,
    },
    /// The level jumped and stayed.
    Step {
        /// Change beyond the trend before and after, mg/dL.
        mg_dl: f64,
        /// The change as a multiple of the usual spread of such changes in this trace.
        times_usual: f64,
    },
    /// Readings far from the line between their neighbours, to and fro.
    Noise {
        /// Typical distance from that line, mg/dL.
        mg_dl: f64,
        /// The same as a multiple of what is usual in this trace.
        times_usual: f64,
    },
    /// The difference from blood changed from day to day.
    Drift {
        /// Change of the relative difference, percentage points a day.
        points_per_day: f64,
        /// Its 99 % interval.
        interval: Interval,
        /// Blood checks it rests on.
        checks: u64,
    },
    /// The readings ended before the sensor's time, or in a dying signal.
    EarlyEnd {
        /// Seconds before its time, where that is known.
        short_s: Option<Second>,
        /// The other sensors by which its time is known; `None` where it is by its instructions.
        others: Option<UsualLife>,
        /// Roughness of the last hours as a multiple of what is usual, where they were rough.
        dying: Option<f64>,
        /// Silence in the last eight hours, seconds, where it is much more than usual.
        silent_s: Option<Second>,
        /// Seconds from the end to the next sensor's first reading; below 0 where it was worn already.
        next_s: Option<Second>,
        /// What was written down about the end.
        told: Option<Ending>,
    },
}

impl Fault {
    /// One sentence of evidence, without the clock times, values in the wearer's unit.
    pub fn words(&self, unit: Unit) -> String {
        let long = duration(self.to - self.from);
        let shown = |mg_dl: f64| {
            let sign = if mg_dl < 0.0 { "−" } else { "" };
            format!(
                "{sign}{} {}",
                Glucose::from_mg_per_dl(mg_dl.abs()).shown(unit),
                unit.symbol()
            )
        };
        match self.evidence {
            Evidence::Dropout => format!("no readings for {long}"),
            Evidence::Stuck { mg_dl, readings, .. } => format!(
                "{} {readings} times in a row over {long}; this sensor does not repeat itself so long",
                shown(mg_dl)
            ),
            Evidence::Step { mg_dl, times_usual } => format!(
                "jumped by {} between two readings and stayed there; {times_usual:.0} times what is usual in this trace",
                shown(mg_dl)
            ),
            Evidence::Noise { mg_dl, times_usual } => format!(
                "readings to and fro by {} for {long}; {times_usual:.0} times what is usual in this trace",
                shown(mg_dl)
            ),
            Evidence::Drift {
                points_per_day,
                interval,
                checks,
            } => {
                let way = if points_per_day > 0.0 { "higher" } else { "lower" };
                let (a, b) = (interval.lo.abs(), interval.hi.abs());
                format!(
                    "against {checks} blood checks it read {:.1} points {way} each day ({:.1} to {:.1})",
                    points_per_day.abs(),
                    a.min(b),
                    a.max(b)
                )
            }
            Evidence::EarlyEnd { .. } => self.end_words(&long),
        }
    }

    /// How a sensor ended: how early, what its last hours were like, what came next, what was written down. Not why: the
    /// readings do not say.
    fn end_words(&self, long: &str) -> String {
        let Evidence::EarlyEnd {
            short_s,
            others,
            dying,
            silent_s,
            next_s,
            told,
        } = self.evidence
        else {
            return String::new();
        };
        let mut words = match (short_s, others) {
            (Some(short), Some(usual)) => format!(
                "its readings stopped {} before the {} that {} of {} sensors around it lasted",
                duration(short),
                whole_days(usual.life_s),
                usual.alike,
                usual.of
            ),
            (Some(short), None) => format!("ended {} before its time", duration(short)),
            (None, _) => "ended".to_owned(),
        };
        match (dying, silent_s) {
            (Some(times), _) => words += &format!(", its last {long} {times:.0} times rougher than usual"),
            (None, None) => words += ", its signal as steady as before",
            (None, Some(_)) => {}
        }
        if let Some(silent) = silent_s {
            words += &format!(", silent for {} of its last 8 h", duration(silent));
        }
        match next_s {
            Some(after) if after > 0 => words += &format!("; the next one read {} later", duration(after)),
            Some(_) => words += "; the next one was read already",
            None => {}
        }
        if let Some(said) = told.and_then(said) {
            words += &format!("; you wrote down that {said}");
        }
        words
    }
}

/// What the wearer wrote down of a loss.
fn said(ending: Ending) -> Option<&'static str> {
    Some(match ending {
        Ending::CameOff => "it came off",
        Ending::KnockedOff => "it was knocked off",
        Ending::AdhesiveGaveWay => "its adhesive gave way",
        Ending::Failed => "it failed",
        Ending::SignalLost => "its signal was lost",
        Ending::FailedReadings => "its readings failed",
        Ending::Planned | Ending::TakenOff | Ending::PainOrSkin | Ending::Other => return None,
    })
}

/// '14 days', 'one day'.
fn whole_days(seconds: Second) -> String {
    match (seconds as f64 / 86_400.0).round() as i64 {
        1 => "one day".to_owned(),
        days => format!("{days} days"),
    }
}

/// Days, hours or minutes, the two largest.
fn duration(seconds: Second) -> String {
    let minutes = seconds / 60;
    let (days, hours, left) = (minutes / 1440, minutes / 60 % 24, minutes % 60);
    match (days, hours, left) {
        (0, 0, left) => format!("{left} min"),
        (0, hours, 0) => format!("{hours} h"),
        (0, hours, left) => format!("{hours} h {left} min"),
        (1, 0, _) => "1 day".to_owned(),
        (1, hours, _) => format!("1 day {hours} h"),
        (days, 0, _) => format!("{days} days"),
        (days, hours, _) => format!("{days} days {hours} h"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn evidence_in_words() {
        let fault = |evidence, minutes: Second| Fault {
            from: 0,
            to: minutes * 60,
            evidence,
        };
        let early = |short_s, dying| Evidence::EarlyEnd {
            short_s,
            others: None,
            dying,
            silent_s: None,
            next_s: None,
            told: None,
        };
        let usual = UsualLife {
            life_s: 14 * 86_400 - 3600,
            alike: 7,
            of: 8,
        };
        for (fault, want) in [
            (fault(Evidence::Dropout, 200), "no readings for 3 h 20 min"),
            (
                fault(
                    Evidence::Stuck {
                        mg_dl: 110.0,
                        readings: 40,
                        expected: 1e-9,
                    },
                    195,
                ),
                "6.1 mmol/L 40 times in a row over 3 h 15 min; this sensor does not repeat itself so long",
            ),
            (
                fault(
                    Evidence::Step {
                        mg_dl: -60.0,
                        times_usual: 12.2,
                    },
                    5,
                ),
                "jumped by −3.3 mmol/L between two readings and stayed there; 12 times what is usual in this trace",
            ),
            (
                fault(early(Some(53 * 3600), Some(9.0)), 360),
                "ended 2 days 5 h before its time, its last 6 h 9 times rougher than usual",
            ),
            (
                fault(early(Some(86_400), None), 0),
                "ended 1 day before its time, its signal as steady as before",
            ),
            (
                fault(
                    Evidence::EarlyEnd {
                        short_s: Some(105 * 3600),
                        others: Some(usual),
                        dying: None,
                        silent_s: Some(110 * 60),
                        next_s: Some(45_000),
                        told: Some(Ending::Failed),
                    },
                    0,
                ),
                "its readings stopped 4 days 9 h before the 14 days that 7 of 8 sensors around it lasted, silent for 1 h 50 min of \
                 its last 8 h; the next one read 12 h 30 min later; you wrote down that it failed",
            ),
            (
                fault(
                    Evidence::Drift {
                        points_per_day: -1.9,
                        interval: Interval { lo: -2.7, hi: -1.1 },
                        checks: 14,
                    },
                    8640,
                ),
                "against 14 blood checks it read 1.9 points lower each day (1.1 to 2.7)",
            ),
        ] {
            assert_eq!(fault.words(Unit::MmolPerL), want);
        }
    }
}

//! A trace made ready for the rules.

use interstice_glucose::Second;

use crate::trace::gap_limit_s;

/// One sensor's readings.
#[derive(Clone, Copy, Debug)]
pub struct Trace<'a> {
    /// Instants, ascending.
    pub at: &'a [u32],
    /// Glucose, mg/dL, of each.
    pub mg_dl: &'a [f64],
    /// Whether the value is the edge of what the sensor measures.
    pub censored: &'a [bool],
    /// Native interval, seconds: [`crate::trace::native_interval`].
    pub interval_s: u32,
}

/// Its readings no closer than half an interval, and what each is to its neighbours.
pub(super) struct Signal {
    pub(super) at: Vec<Second>,
    pub(super) mg_dl: Vec<f64>,
    pub(super) censored: Vec<bool>,
    pub(super) interval_s: Second,
    /// Longest silence that is no gap.
    pub(super) gap_limit_s: Second,
}

impl Signal {
    pub(super) fn new(trace: &Trace<'_>) -> Self {
        let interval_s = Second::from(trace.interval_s.max(1));
        let mut signal = Signal {
            at: Vec::new(),
            mg_dl: Vec::new(),
            censored: Vec::new(),
            interval_s,
            gap_limit_s: gap_limit_s(trace.interval_s.max(1)).into(),
        };
        for ((&at, &mg_dl), &censored) in trace.at.iter().zip(trace.mg_dl).zip(trace.censored) {
            let at = Second::from(at);
            let crowded = signal.at.last().is_some_and(|&last| 2 * (at - last) < interval_s);
            if !crowded && mg_dl.is_finite() {
                signal.at.push(at);
                signal.mg_dl.push(mg_dl);
                signal.censored.push(censored);
            }
        }
        signal
    }

    pub(super) fn len(&self) -> usize {
        self.at.len()
    }

    /// Seconds a reading's time ends after its instant.
    pub(super) fn end(&self, i: usize) -> Second {
        self.at[i] + self.interval_s
    }

    /// Whether reading `i + 1` follows reading `i` without a gap.
    pub(super) fn follows(&self, i: usize) -> bool {
        i + 1 < self.len() && self.at[i + 1] - self.at[i] <= self.gap_limit_s
    }

    /// Distance of reading `i` from the line between its neighbours; `None` beside a gap or at the edge of what is measured.
    pub(super) fn roughness(&self, i: usize) -> Option<f64> {
        if i == 0 || !self.follows(i - 1) || !self.follows(i) || self.censored[i - 1..=i + 1].contains(&true)
        {
            return None;
        }
        let share = (self.at[i] - self.at[i - 1]) as f64 / (self.at[i + 1] - self.at[i - 1]) as f64;
        let line = self.mg_dl[i - 1] + share * (self.mg_dl[i + 1] - self.mg_dl[i - 1]);
        Some((self.mg_dl[i] - line).abs())
    }

    /// Whether the trace turns at reading `i`.
    pub(super) fn turns(&self, i: usize) -> bool {
        (self.mg_dl[i] - self.mg_dl[i - 1]) * (self.mg_dl[i + 1] - self.mg_dl[i]) < 0.0
    }
}

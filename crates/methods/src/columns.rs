//! The readings of one lived day as columns, worked out once for all that looks at them.

use std::ops::Range;

use crate::recording::Recording;
use crate::trace::gap_limit_s;

/// Values and weights of a run of readings. Kept by a thread and filled again for each day.
#[derive(Debug, Default)]
pub(crate) struct Columns {
    /// Where they lie in the recording.
    pub(crate) range: Range<usize>,
    /// mg/dL.
    pub(crate) value: Vec<f64>,
    /// Seconds each stands for.
    pub(crate) seconds: Vec<u32>,
    /// The unbroken runs: places in the columns, not in the recording.
    pub(crate) runs: Vec<Range<usize>>,
    /// The seconds all of them stand for, where they are the same.
    pub(crate) even_s: Option<u32>,
}

impl Columns {
    pub(crate) fn fill(&mut self, recording: &Recording<'_>, range: Range<usize>) {
        self.range = range.clone();
        self.value.clear();
        self.seconds.clear();
        self.runs.clear();
        let levels = &recording.level[range.clone()];
        self.value.extend(
            levels
                .iter()
                .map(|&level| recording.table.mg_per_dl[level as usize]),
        );
        let mut run_start = 0;
        for (part, interval_s) in recording.stretches(range.clone()) {
            let limit = gap_limit_s(interval_s);
            for i in part {
                let gap = recording.gap_after(i);
                self.seconds.push(stands_for(gap, interval_s));
                if gap > limit {
                    self.runs.push(run_start..self.seconds.len());
                    run_start = self.seconds.len();
                }
            }
        }
        if run_start < self.seconds.len() {
            self.runs.push(run_start..self.seconds.len());
        }
        let first = self.seconds.first().copied();
        self.even_s = first.filter(|&first| self.seconds.iter().all(|&seconds| seconds == first));
    }
}

/// Seconds a reading stands for: its native interval, or the time to the next one where that is less than half of it.
#[inline]
pub(crate) fn stands_for(gap: u32, interval_s: u32) -> u32 {
    if gap < interval_s.div_ceil(2) {
        gap
    } else {
        interval_s
    }
}

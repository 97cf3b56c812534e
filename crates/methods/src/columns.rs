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
            if is_regular(recording, &part, interval_s) {
                self.seconds.resize(self.seconds.len() + part.len(), interval_s);
                continue;
            }
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
        let first = self.seconds.first().copied().unwrap_or(0);
        let differing = self
            .seconds
            .iter()
            .fold(0, |differing, &seconds| differing | (seconds ^ first));
        self.even_s = (differing == 0).then_some(first);
    }
}

/// Whether no reading of a stretch is crowded and no gap follows any, as nearly always: the extremes of the times
/// between them tell, and those are quickly found.
fn is_regular(recording: &Recording<'_>, part: &Range<usize>, interval_s: u32) -> bool {
    let Some(at) = recording.at.get(part.start..part.end + 1) else {
        return false;
    };
    let gaps = at.windows(2).map(|pair| pair[1] - pair[0]);
    let (shortest, longest) = gaps.fold((u32::MAX, 0), |(low, high), gap| (low.min(gap), high.max(gap)));
    stands_for(shortest, interval_s) == interval_s && longest <= gap_limit_s(interval_s)
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

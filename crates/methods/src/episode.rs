//! Low and high episodes by the consensus rules.

use std::collections::VecDeque;

use interstice_glucose::Second;

use crate::ranges::{Range, Targets};
use crate::recording::Recording;
use crate::trace::gap_limit_s;

/// Low or high.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum EpisodeKind {
    /// Below the target range: 70 mg/dL (3.9 mmol/L), in pregnancy 63 (3.5).
    Low,
    /// Above the target range: 180 mg/dL (10.0 mmol/L), in pregnancy 140 (7.8).
    High,
}

impl EpisodeKind {
    fn beyond(self, range: Range) -> bool {
        match self {
            EpisodeKind::Low => range < Range::InRange,
            EpisodeKind::High => range > Range::InRange,
        }
    }

    fn far_beyond(self, range: Range) -> bool {
        match self {
            EpisodeKind::Low => range == Range::VeryLow,
            EpisodeKind::High => range == Range::VeryHigh,
        }
    }

    /// How far a value lies beyond the level 1 threshold, mg/dL.
    fn depth(self, mg_per_dl: f64, targets: &Targets) -> f64 {
        match self {
            EpisodeKind::Low => targets.range_low_mg_dl - mg_per_dl,
            EpisodeKind::High => mg_per_dl - targets.range_high_mg_dl,
        }
    }
}

/// How an episode ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum EpisodeEnd {
    /// It recovered.
    Recovered,
    /// The readings stopped; the true end is unknown.
    Gap,
    /// It was under way at the last reading of the window; the true end is unknown.
    UnderWay,
}

/// One episode. A level 2 episode stands once, as the level 1 episode around it with `level` 2.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Episode {
    /// Low or high.
    pub kind: EpisodeKind,
    /// 1, or 2 where readings below 54 or above 250 mg/dL lasted 15 minutes.
    pub level: u8,
    /// Below the target range for more than 120 unbroken minutes, or above 250 mg/dL for 90 of 120 minutes.
    pub extended: bool,
    /// First reading beyond the level 1 threshold.
    pub start: Second,
    /// Whether a gap, or nothing at all, stands before it, so that it may have begun earlier.
    pub start_unknown: bool,
    /// First reading beyond the level 2 threshold, where it is of level 2.
    pub level2_start: Option<Second>,
    /// First recovered reading; where there is none, the last reading.
    pub end: Second,
    /// How it ended.
    pub ending: EpisodeEnd,
    /// Length, seconds: from start to end, and the last reading's own time where nothing recovered.
    pub seconds: i64,
    /// Lowest or highest reading, mg/dL.
    pub extreme_mg_dl: f64,
    /// When that was first reached.
    pub extreme_at: Second,
    /// Area beyond the level 1 threshold, mg/dL × minutes.
    pub area_mg_dl_min: f64,
}

/// Why parameters cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{name} of {seconds} s is not between one second and a day")]
pub struct EpisodeParamsError {
    name: &'static str,
    seconds: u32,
}

/// The durations in the definitions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EpisodeParams {
    hold_s: u32,
    extended_low_s: u32,
    extended_high_s: u32,
    extended_high_within_s: u32,
}

impl Default for EpisodeParams {
    /// The consensus: 15 minutes to begin and to end; more than 120 unbroken minutes below 70 mg/dL; 90 of 120 minutes
    /// above 250 mg/dL.
    fn default() -> Self {
        EpisodeParams {
            hold_s: 900,
            extended_low_s: 7200,
            extended_high_s: 5400,
            extended_high_within_s: 7200,
        }
    }
}

impl EpisodeParams {
    /// Other durations than the consensus's, in seconds.
    ///
    /// * `hold_s`: time beyond a threshold that makes an episode, and time recovered that ends it.
    /// * `extended_low_s`: unbroken time below 70 mg/dL beyond which a low is extended.
    /// * `extended_high_s`: time above 250 mg/dL that makes a high extended …
    /// * `extended_high_within_s`: … within this time.
    ///
    /// # Errors
    /// Any of them outside 1 s to 24 h.
    pub fn new(
        hold_s: u32,
        extended_low_s: u32,
        extended_high_s: u32,
        extended_high_within_s: u32,
    ) -> Result<Self, EpisodeParamsError> {
        for (name, seconds) in [
            ("the time that makes an episode", hold_s),
            ("the length of an extended low", extended_low_s),
            ("the time that makes a high extended", extended_high_s),
            (
                "the time an extended high is looked for in",
                extended_high_within_s,
            ),
        ] {
            if !(1..=86_400).contains(&seconds) {
                return Err(EpisodeParamsError { name, seconds });
            }
        }
        Ok(EpisodeParams {
            hold_s,
            extended_low_s,
            extended_high_s,
            extended_high_within_s,
        })
    }
}

/// The low and high episodes of a recording, by start, lows first at a tie.
///
/// Danne et al. (2017), Diabetes Care 40:1631; Battelino et al. (2019), Diabetes Care 42:1593, and (2023), Lancet
/// Diabetes Endocrinol 11:42. An episode begins with the first of consecutive readings beyond the threshold which
/// together stand for 15 minutes (three at 5 min, one at 15 min), each standing for its native interval; it ends at
/// the first of consecutive readings back within the target range which do so, also from level 2. Shorter bounces do
/// not end it. Thresholds are those of [`Band`](crate::Band), in each reading's own unit; in pregnancy level 1 goes by the
/// edges of its target range, which is ours: the sources define no episodes there.
///
/// A gap (a silence beyond 15 minutes and two native intervals) ends an episode with its end unknown; one not yet 15
/// minutes old is then none. A lost reading or two that make no gap neither count nor break.
pub fn episodes(recording: &Recording<'_>, params: &EpisodeParams) -> Vec<Episode> {
    let bands = recording.table.band.iter();
    let ranges: Vec<Range> = bands.map(|band| band.range_for(recording.group)).collect();
    let mut low = Tracker::new(EpisodeKind::Low, recording, params);
    let mut high = Tracker::new(EpisodeKind::High, recording, params);
    let mut limit_before = 0;
    for (part, interval_s) in recording.stretches(0..recording.len()) {
        let limit = gap_limit_s(interval_s);
        let mut i = part.start;
        while i < part.end {
            if low.run.is_none() && high.run.is_none() {
                let levels = &recording.level[i..part.end];
                let Some(calm) = levels
                    .iter()
                    .position(|&level| ranges[level as usize] != Range::InRange)
                else {
                    break;
                };
                if calm > 0 {
                    (i, limit_before) = (i + calm, limit);
                }
            }
            let after_gap = i == 0 || recording.at[i] - recording.at[i - 1] > limit_before;
            let seconds = recording.weight(i, interval_s);
            let range = ranges[recording.level[i] as usize];
            for tracker in [&mut low, &mut high] {
                if tracker.run.is_some() || tracker.kind.beyond(range) {
                    tracker.step(i, seconds, after_gap, range);
                }
            }
            (i, limit_before) = (i + 1, limit);
        }
        limit_before = limit;
    }
    low.cut(EpisodeEnd::UnderWay);
    high.cut(EpisodeEnd::UnderWay);
    let mut episodes = low.found;
    episodes.append(&mut high.found);
    episodes.sort_by_key(|episode| (episode.start, episode.kind));
    episodes
}

/// An episode, or what may become one.
struct Run {
    start: usize,
    start_unknown: bool,
    /// Whether it has lasted long enough to be an episode.
    established: bool,
    /// Unbroken time beyond the threshold.
    beyond_s: u32,
    /// Unbroken time far beyond: since which reading, how long.
    far: Option<(usize, u32)>,
    level2: Option<usize>,
    /// Time back within range: since which reading, how long.
    recovered: Option<(usize, u32)>,
    /// The last reading beyond the threshold, and the seconds it stands for.
    last: (usize, u32),
    extreme: usize,
    /// How far beyond the threshold that is.
    depth: f64,
    /// mg/dL × seconds.
    area_s: f64,
    extended: bool,
    /// Readings far beyond of late, for the extended high.
    recent_far: VecDeque<(Second, u32)>,
    recent_far_s: u32,
}

struct Tracker<'a> {
    kind: EpisodeKind,
    recording: &'a Recording<'a>,
    params: &'a EpisodeParams,
    targets: Targets,
    run: Option<Run>,
    found: Vec<Episode>,
}

impl<'a> Tracker<'a> {
    fn new(kind: EpisodeKind, recording: &'a Recording<'a>, params: &'a EpisodeParams) -> Self {
        Tracker {
            kind,
            recording,
            params,
            targets: recording.group.targets(),
            run: None,
            found: Vec::new(),
        }
    }

    #[inline]
    fn step(&mut self, i: usize, seconds: u32, after_gap: bool, range: Range) {
        if after_gap {
            self.cut(EpisodeEnd::Gap);
        }
        if self.kind.beyond(range) {
            self.step_beyond(i, seconds, after_gap, self.kind.far_beyond(range));
        } else if self.run.is_some() {
            self.step_within(i, seconds);
        }
    }

    fn step_beyond(&mut self, i: usize, seconds: u32, after_gap: bool, far: bool) {
        let depth = self.kind.depth(self.recording.mg_per_dl(i), &self.targets);
        let run = self.run.get_or_insert_with(|| Run::new(i, after_gap));
        if run.recovered.take().is_some() {
            run.beyond_s = 0;
        }
        run.beyond_s = run.beyond_s.saturating_add(seconds);
        run.established |= run.beyond_s >= self.params.hold_s;
        run.last = (i, seconds);
        run.area_s += depth.max(0.0) * f64::from(seconds);
        if depth > run.depth {
            (run.extreme, run.depth) = (i, depth);
        }
        run.far = far.then(|| {
            let (since, so_far) = run.far.unwrap_or((i, 0));
            (since, so_far.saturating_add(seconds))
        });
        if let (None, Some((since, far_s))) = (run.level2, run.far)
            && far_s >= self.params.hold_s
        {
            run.level2 = Some(since);
        }
        run.extended |= match self.kind {
            EpisodeKind::Low => run.beyond_s > self.params.extended_low_s,
            EpisodeKind::High => far && run.far_of_late(self.recording.at[i], seconds, self.params),
        };
    }

    fn step_within(&mut self, i: usize, seconds: u32) {
        let Some(run) = self.run.as_mut().filter(|run| run.established) else {
            self.run = None;
            return;
        };
        run.far = None;
        let (since, so_far) = run.recovered.unwrap_or((i, 0));
        let recovered_s = so_far.saturating_add(seconds);
        run.recovered = Some((since, recovered_s));
        if recovered_s >= self.params.hold_s {
            self.cut(EpisodeEnd::Recovered);
        }
    }

    /// Ends what is under way, keeping it if it is an episode.
    fn cut(&mut self, ending: EpisodeEnd) {
        let Some(run) = self.run.take().filter(|run| run.established) else {
            return;
        };
        let at = |i: usize| Second::from(self.recording.at[i]);
        let start = at(run.start);
        let (end, seconds) = match run.recovered {
            Some((since, _)) => (at(since), at(since) - start),
            None => (at(run.last.0), at(run.last.0) - start + Second::from(run.last.1)),
        };
        self.found.push(Episode {
            kind: self.kind,
            level: if run.level2.is_some() { 2 } else { 1 },
            extended: run.extended,
            start,
            start_unknown: run.start_unknown,
            level2_start: run.level2.map(at),
            end,
            ending,
            seconds,
            extreme_mg_dl: self.recording.mg_per_dl(run.extreme),
            extreme_at: at(run.extreme),
            area_mg_dl_min: run.area_s / 60.0,
        });
    }
}

impl Run {
    fn new(start: usize, start_unknown: bool) -> Self {
        Run {
            start,
            start_unknown,
            established: false,
            beyond_s: 0,
            far: None,
            level2: None,
            recovered: None,
            last: (start, 0),
            extreme: start,
            depth: f64::NEG_INFINITY,
            area_s: 0.0,
            extended: false,
            recent_far: VecDeque::new(),
            recent_far_s: 0,
        }
    }

    /// Whether enough of the time just past was far beyond, with the reading at `at`.
    fn far_of_late(&mut self, at: u32, seconds: u32, params: &EpisodeParams) -> bool {
        let at = Second::from(at);
        self.recent_far.push_back((at, seconds));
        self.recent_far_s = self.recent_far_s.saturating_add(seconds);
        let since = at + Second::from(seconds) - Second::from(params.extended_high_within_s);
        while let Some(&(oldest, oldest_s)) = self.recent_far.front()
            && oldest < since
        {
            self.recent_far.pop_front();
            self.recent_far_s -= oldest_s;
        }
        self.recent_far_s >= params.extended_high_s
    }
}

//! A past laid out for looking back and ahead from any reading.

use interstice_glucose::Second;

use super::{HORIZONS, HORIZONS_MIN, Past};
use crate::trace::gap_limit_s;

/// A day, seconds.
const DAY_S: u32 = 86_400;
const HOUR_S: u32 = 3600;

/// A past with the stretches it is whole in.
#[derive(Clone, Debug)]
pub(super) struct Laid<'a> {
    pub(super) past: Past<'a>,
    /// Native interval at each reading, seconds.
    interval_s: Vec<u32>,
    /// First and last reading of the gapless stretch each reading is in.
    run: Vec<(u32, u32)>,
    /// Sums of glucose before each reading, and of all.
    sums: Vec<f64>,
}

impl<'a> Laid<'a> {
    /// Lays a past out.
    pub(super) fn of(past: Past<'a>) -> Self {
        let count = past.at.len().min(past.mg_dl.len());
        let interval_s = intervals(&past, count);
        let run = runs(&past.at[..count], &interval_s);
        let mut sums = Vec::with_capacity(count + 1);
        let mut sum = 0.0;
        sums.push(sum);
        for &mg_dl in &past.mg_dl[..count] {
            sum += mg_dl;
            sums.push(sum);
        }
        Laid {
            past,
            interval_s,
            run,
            sums,
        }
    }

    pub(super) fn len(&self) -> usize {
        self.interval_s.len()
    }

    pub(super) fn at(&self, i: usize) -> u32 {
        self.past.at[i]
    }

    pub(super) fn mg_dl(&self, i: usize) -> f64 {
        self.past.mg_dl[i]
    }

    /// What glucose is known to have been at a reading.
    pub(super) fn came_mg_dl(&self, i: usize) -> f64 {
        self.past.came_mg_dl.get(i).copied().unwrap_or(self.mg_dl(i))
    }

    pub(super) fn interval_s(&self, i: usize) -> u32 {
        self.interval_s[i]
    }

    /// First reading of the gapless stretch of a reading.
    pub(super) fn run_start(&self, i: usize) -> usize {
        self.run[i].0 as usize
    }

    /// Last reading of it.
    pub(super) fn run_end(&self, i: usize) -> usize {
        self.run[i].1 as usize
    }

    /// Whether the last hour before a reading has no gap.
    pub(super) fn has_last_hour(&self, i: usize) -> bool {
        self.at(i) - self.at(self.run_start(i)) >= HOUR_S
    }

    /// Glucose so many minutes before a reading, on the line between the readings around that time; `None` beyond the gap
    /// before.
    pub(super) fn before(&self, i: usize, minutes: u32) -> Option<f64> {
        let at = self.at(i).checked_sub(minutes * 60)?;
        let start = self.run_start(i);
        if self.at(start) > at {
            return None;
        }
        let mut k = i;
        while self.at(k) > at {
            k -= 1;
        }
        let below = self.mg_dl(k);
        if self.at(k) == at {
            return Some(below);
        }
        let part = f64::from(at - self.at(k)) / f64::from(self.at(k + 1) - self.at(k));
        Some(below + (self.mg_dl(k + 1) - below) * part)
    }

    /// The reading so many minutes after a reading: the nearest to that time, the earlier of two equally near, and `None`
    /// where it is further than half its native interval from it.
    pub(super) fn after(&self, i: usize, minutes: u32) -> Option<usize> {
        let at = self.at(i).checked_add(minutes * 60)?;
        let later = self.first_from_near(i, i + (minutes * 60 / self.interval_s(i)) as usize, at);
        let nearer = |a: usize, b: usize| {
            if at - self.at(a) <= self.at(b) - at { a } else { b }
        };
        let found = if later >= self.len() {
            self.len() - 1
        } else {
            nearer(later - 1, later)
        };
        (2 * self.at(found).abs_diff(at) <= self.interval_s(found)).then_some(found)
    }

    /// First reading from `i` on that is at or after an instant, walking from a guess; the number of readings where none is.
    fn first_from_near(&self, i: usize, guess: usize, at: u32) -> usize {
        let mut k = guess.min(self.len());
        while k > i && self.at(k - 1) >= at {
            k -= 1;
        }
        while k < self.len() && self.at(k) < at {
            k += 1;
        }
        k
    }

    /// How glucose had changed by each horizon after a reading, mg/dL, from readings before `known_before`.
    pub(super) fn changes(&self, i: usize, known_before: Second) -> [Option<f64>; HORIZONS] {
        HORIZONS_MIN.map(|minutes| {
            let found = self.after(i, minutes)?;
            (Second::from(self.at(found)) < known_before).then(|| self.came_mg_dl(found) - self.mg_dl(i))
        })
    }

    /// Mean of the readings of the last so many days, up to and with a reading.
    pub(super) fn mean_of_last(&self, i: usize, days: u32) -> f64 {
        let from = self.at(i).saturating_sub(days * DAY_S);
        // Reaching back in doubling steps stays near the reading, where memory is warm.
        let mut reach = 512;
        while reach < i && self.at(i - reach) >= from {
            reach *= 2;
        }
        let near = i.saturating_sub(reach);
        let first = near + self.past.at[near..=i].partition_point(|&t| t < from);
        (self.sums[i + 1] - self.sums[first]) / (i + 1 - first) as f64
    }

    /// The last reading at or before an instant.
    pub(super) fn last_by(&self, at: Second) -> Option<usize> {
        self.past.at[..self.len()]
            .partition_point(|&t| Second::from(t) <= at)
            .checked_sub(1)
    }

    /// First reading at or after an instant.
    pub(super) fn first_from(&self, at: Second) -> usize {
        self.past.at[..self.len()].partition_point(|&t| Second::from(t) < at)
    }
}

fn intervals(past: &Past<'_>, count: usize) -> Vec<u32> {
    let mut interval_s = vec![300; count];
    for (place, stretch) in past.intervals.iter().enumerate() {
        let end = past.intervals.get(place + 1).map_or(count, |next| next.start);
        if stretch.start < end.min(count) {
            interval_s[stretch.start..end.min(count)].fill(stretch.interval_s.max(1));
        }
    }
    interval_s
}

fn runs(at: &[u32], interval_s: &[u32]) -> Vec<(u32, u32)> {
    let mut run = vec![(0, 0); at.len()];
    let mut start = 0;
    for i in 0..at.len() {
        let goes_on = at
            .get(i + 1)
            .is_some_and(|&next| next - at[i] <= gap_limit_s(interval_s[i].max(interval_s[i + 1])));
        if !goes_on {
            run[start..=i].fill((start as u32, i as u32));
            start = i + 1;
        }
    }
    run
}

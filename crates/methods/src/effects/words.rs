//! An estimate as a sentence.

use super::answer::{Estimate, More, Quality, Standing};

impl Estimate {
    /// What it says, in plain words, as the rest of a sentence that names what is compared: 'about 3 points closer to blood,
    /// could be anything from 1 further off to 7 closer: about 6 more sensors would settle it'.
    ///
    /// Whole points; below half a point there is no difference to speak of.
    pub fn sentence(&self, quality: Quality) -> String {
        let (up, down, named_up, named_down) = match quality {
            Quality::Signed => ("higher", "lower", "higher", "lower"),
            Quality::Absolute => ("further off", "closer", "further from blood", "closer to blood"),
        };
        let size = whole(self.points);
        let middle = match size {
            0 => "about the same".to_owned(),
            _ => format!(
                "about {} {}",
                points(size),
                if self.points > 0.0 { named_up } else { named_down }
            ),
        };
        let end = |value: f64| match whole(value) {
            0 => "no difference".to_owned(),
            size => format!("{size} {}", if value > 0.0 { up } else { down }),
        };
        // The end nearer to what the estimate says stands last.
        let (first, last) = if self.points > 0.0 {
            (self.interval.lo, self.interval.hi)
        } else {
            (self.interval.hi, self.interval.lo)
        };
        let (first, last) = (end(first), end(last));
        let range = if first == last {
            String::new()
        } else {
            format!(", could be anything from {first} to {last}")
        };
        format!("{middle}{range}: {}", self.verdict())
    }

    fn verdict(&self) -> String {
        match self.standing() {
            Standing::There => "this is there".to_owned(),
            Standing::TooSmall => "too small to matter".to_owned(),
            Standing::AmongMany => format!(
                "by itself it would count, but among so many questions one like it comes by chance; {}",
                self.more.words()
            ),
            Standing::OneSensor => {
                format!(
                    "one sensor alone makes it, so it does not count yet; {}",
                    self.more.words()
                )
            }
            Standing::Open => self.more.words(),
        }
    }
}

impl More {
    /// 'about 6 more sensors would settle it'.
    pub fn words(self) -> String {
        match self {
            More::Nothing => "it is settled".to_owned(),
            More::Sensors(1) => "about 1 more sensor would settle it".to_owned(),
            More::Sensors(count) => format!("about {count} more sensors would settle it"),
            More::TooMany => {
                "more sensors than are sensible to wait for would be needed to settle it".to_owned()
            }
        }
    }
}

fn whole(value: f64) -> u64 {
    value.abs().round() as u64
}

fn points(size: u64) -> String {
    if size == 1 {
        "1 point".to_owned()
    } else {
        format!("{size} points")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Interval;

    fn estimate(points: f64, lo: f64, hi: f64, more: More, holds: bool) -> Estimate {
        // One of the sentences is about what counts by itself alone.
        let q = if more == More::Sensors(9) { 0.2 } else { 0.03 };
        Estimate {
            points,
            interval: Interval { lo, hi },
            p: 0.01,
            q,
            freedom: 6.0,
            sensors: (4, 4),
            checks: (40, 40),
            entangled: Vec::new(),
            holds,
            more,
        }
    }

    #[test]
    fn estimates_in_words() {
        for (estimate, quality, want) in [
            (
                estimate(-3.2, -7.1, 0.9, More::Sensors(6), false),
                Quality::Absolute,
                "about 3 points closer to blood, could be anything from 1 further off to 7 closer: about 6 more sensors would settle it",
            ),
            (
                estimate(8.0, 4.0, 12.0, More::Nothing, true),
                Quality::Signed,
                "about 8 points higher, could be anything from 4 higher to 12 higher: this is there",
            ),
            (
                estimate(0.3, -2.0, 2.6, More::Nothing, false),
                Quality::Signed,
                "about the same, could be anything from 2 lower to 3 higher: too small to matter",
            ),
            (
                estimate(1.0, -30.0, 32.0, More::TooMany, false),
                Quality::Absolute,
                "about 1 point further from blood, could be anything from 30 closer to 32 further off: more sensors than are sensible to wait for would be needed to settle it",
            ),
            (
                estimate(8.0, 4.0, 12.0, More::Sensors(1), false),
                Quality::Signed,
                "about 8 points higher, could be anything from 4 higher to 12 higher: one sensor alone makes it, so it does not count yet; about 1 more sensor would settle it",
            ),
            (
                estimate(8.0, 4.0, 12.0, More::Sensors(9), false),
                Quality::Signed,
                "about 8 points higher, could be anything from 4 higher to 12 higher: by itself it would count, but among so many questions one like it comes by chance; about 9 more sensors would settle it",
            ),
        ] {
            assert_eq!(estimate.sentence(quality), want);
        }
    }
}

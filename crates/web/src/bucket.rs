//! How often something may be done: so many at once, then so many a minute.

use std::time::{Duration, Instant};

/// Fills by the clock, is emptied by what is done.
#[derive(Debug)]
pub(crate) struct Bucket {
    holds: f64,
    most: f64,
    a_minute: f64,
    seen: Instant,
}

impl Bucket {
    /// A full one.
    pub(crate) fn full(most: u32, a_minute: u32, now: Instant) -> Self {
        Bucket {
            holds: f64::from(most),
            most: f64::from(most),
            a_minute: f64::from(a_minute),
            seen: now,
        }
    }

    /// Takes one out.
    ///
    /// # Errors
    /// Seconds until there is one again.
    pub(crate) fn take(&mut self, now: Instant) -> Result<(), u64> {
        let passed = now.saturating_duration_since(self.seen);
        self.seen = now;
        self.holds = self
            .most
            .min(self.holds + passed.as_secs_f64() / 60.0 * self.a_minute);
        if self.holds >= 1.0 {
            self.holds -= 1.0;
            return Ok(());
        }
        let wait = Duration::from_secs_f64((1.0 - self.holds) / self.a_minute * 60.0);
        Err(wait.as_secs() + 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn empties_and_fills_again() {
        let start = Instant::now();
        let mut bucket = Bucket::full(3, 60, start);
        let taken: Vec<bool> = (0..5).map(|_| bucket.take(start).is_ok()).collect();
        assert_eq!(taken, [true, true, true, false, false]);
        assert_eq!(bucket.take(start), Err(2));
        let later = start + Duration::from_secs(2);
        assert!(bucket.take(later).is_ok() && bucket.take(later).is_ok() && bucket.take(later).is_err());
        let long = start + Duration::from_secs(86_400);
        let taken = (0..9).filter(|_| bucket.take(long).is_ok()).count();
        assert_eq!(taken, 3, "it never holds more than it can");
    }
}

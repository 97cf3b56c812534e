//! Whether there is something to say about backups.

use interstice_book::{Book, ChangeKind};
use interstice_glucose::Second;

use crate::Result;
use crate::plan::Plan;

const DAY_S: Second = 86_400;
/// A book that holds less has nothing yet that could not be brought in again.
const DAYS_WORTH_KEEPING: Second = 7;
/// Or so many things written down by hand, which nothing else holds.
const WRITTEN_WORTH_KEEPING: usize = 20;
/// So many days without a backup are a long time, while the book grows. Common practice, no source.
const LONG_DAYS: Second = 30;
/// One that is made by itself is missed after so many times its interval, and two days at the least.
const MISSED: Second = 3;
const FEWEST_DAYS: Second = 2;

/// What would be lost.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct AtStake {
    /// Days from the first reading to the last.
    pub days: Second,
    /// Changes written down by hand that stand.
    pub written: usize,
    /// When the book was last changed.
    pub changed: Option<Second>,
}

/// What there is to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reminder {
    /// There never was a backup, and the book holds something worth one.
    Never,
    /// The last one was so many days ago, and the book was changed since.
    LongAgo {
        /// Days.
        days: Second,
    },
}

impl AtStake {
    /// Looks at a book.
    ///
    /// # Errors
    /// `Book`.
    pub fn of(book: &Book) -> Result<Self> {
        let journal = book.journal()?;
        let by_hand = |kind| matches!(kind, ChangeKind::Log | ChangeKind::Edit);
        Ok(AtStake {
            days: book.span()?.map_or(0, |(from, to)| (to - from) / DAY_S),
            written: journal
                .iter()
                .filter(|change| by_hand(change.kind) && change.undone_by.is_none())
                .count(),
            changed: journal.iter().map(|change| change.at).max(),
        })
    }
}

impl Plan {
    /// What there is to say at a moment; mostly nothing.
    pub fn reminder(&self, stake: &AtStake, now: Second) -> Option<Reminder> {
        if stake.days < DAYS_WORTH_KEEPING && stake.written < WRITTEN_WORTH_KEEPING {
            return None;
        }
        let Some(last) = &self.last else {
            return Some(Reminder::Never);
        };
        if stake.changed.is_none_or(|changed| changed <= last.at) {
            return None;
        }
        let days = (now - last.at) / DAY_S;
        let long = self.schedule.as_ref().map_or(LONG_DAYS, |schedule| {
            (i64::from(schedule.every_hours) * MISSED / 24).clamp(FEWEST_DAYS, LONG_DAYS)
        });
        (days >= long).then_some(Reminder::LongAgo { days })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Schedule, Written};
    use crate::retention::Keep;

    const NOW: Second = 1_800_000_000;

    fn plan(last_days_ago: Option<Second>, every_hours: Option<u32>) -> Plan {
        Plan {
            last: last_days_ago.map(|days| Written {
                path: "b".into(),
                at: NOW - days * DAY_S,
                size_bytes: 1,
                sha256: String::new(),
                book: String::new(),
            }),
            schedule: every_hours.map(|every_hours| Schedule {
                folder: "f".into(),
                every_hours,
                keep: Keep::default(),
            }),
            ..Plan::default()
        }
    }

    #[test]
    fn it_is_said_once_there_is_something_to_lose_and_only_then() {
        let much = AtStake {
            days: 7,
            written: 0,
            changed: Some(NOW - DAY_S),
        };
        let little = AtStake {
            days: 6,
            written: 19,
            ..much
        };
        let by_hand = AtStake {
            days: 0,
            written: 20,
            ..much
        };
        let unchanged = AtStake {
            changed: Some(NOW - 50 * DAY_S),
            ..much
        };
        for (plan, stake, says) in [
            (plan(None, None), little, None),
            (plan(None, None), much, Some(Reminder::Never)),
            (plan(None, None), by_hand, Some(Reminder::Never)),
            (plan(Some(29), None), much, None),
            (plan(Some(40), None), much, Some(Reminder::LongAgo { days: 40 })),
            (plan(Some(40), None), unchanged, None),
            // Every day by itself: missed after three, not after two; every six hours: after two days at the least.
            (plan(Some(2), Some(24)), much, None),
            (plan(Some(3), Some(24)), much, Some(Reminder::LongAgo { days: 3 })),
            (plan(Some(1), Some(6)), much, None),
            (plan(Some(2), Some(6)), much, Some(Reminder::LongAgo { days: 2 })),
            (plan(Some(29), Some(8760)), much, None),
        ] {
            assert_eq!(plan.reminder(&stake, NOW), says, "{stake:?} {:?}", plan.last);
        }
    }
}

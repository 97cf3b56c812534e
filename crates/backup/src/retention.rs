//! Which backups are kept.

use interstice_glucose::{Second, Zone};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::{Offset, TimeZone};
use serde::{Deserialize, Serialize};

/// How many backups are kept: of the latest days that have any, the last one of each, and so for weeks and months. The newest is
/// always kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Keep {
    /// Days.
    pub days: u32,
    /// Weeks, which begin on Monday.
    pub weeks: u32,
    /// Months.
    pub months: u32,
}

impl Default for Keep {
    /// A week by the day, a month by the week, a year by the month. Common practice, no source.
    fn default() -> Self {
        Keep {
            days: 7,
            weeks: 5,
            months: 12,
        }
    }
}

/// Places of those that are not kept, oldest first. `made` are their moments in any order; days, weeks and months are those of
/// `zone`. A moment later than `now` tells of a clock that was wrong: it is kept and takes no other's place.
pub fn to_remove(made: &[Second], now: Second, keep: Keep, zone: &Zone) -> Vec<usize> {
    let mut order: Vec<usize> = (0..made.len()).filter(|&place| made[place] <= now).collect();
    // Newest first; of one moment the later written.
    order.sort_by_key(|&place| std::cmp::Reverse((made[place], place)));
    let dates: Vec<Option<Date>> = order.iter().map(|&place| date(made[place], zone)).collect();
    let mut kept = vec![false; order.len()];
    if let Some(newest) = kept.first_mut() {
        *newest = true;
    }
    keep_latest(&mut kept, &dates, keep.days, |date| date);
    keep_latest(&mut kept, &dates, keep.weeks, |date| {
        let back = i64::from(date.weekday().to_monday_zero_offset());
        date.saturating_sub(jiff::Span::new().days(back))
    });
    keep_latest(&mut kept, &dates, keep.months, Date::first_of_month);
    let mut out: Vec<usize> = (0..order.len())
        .filter(|&place| !kept[place])
        .map(|place| order[place])
        .collect();
    out.reverse();
    out
}

/// Keeps the first (newest) of each of so many stretches. A moment without a date is kept.
fn keep_latest(kept: &mut [bool], dates: &[Option<Date>], many: u32, stretch: impl Fn(Date) -> Date) {
    let (mut last, mut count) = (None, 0);
    for (kept, date) in kept.iter_mut().zip(dates) {
        let Some(date) = *date else {
            *kept = true;
            continue;
        };
        let this = stretch(date);
        if last == Some(this) {
            continue;
        }
        if count == many {
            continue;
        }
        (last, count) = (Some(this), count + 1);
        *kept = true;
    }
}

fn date(at: Second, zone: &Zone) -> Option<Date> {
    let offset = Offset::from_seconds(zone.offset_s(at)).ok()?;
    let at = Timestamp::from_second(at).ok()?;
    Some(at.to_zoned_datetime(TimeZone::fixed(offset)).date())
}

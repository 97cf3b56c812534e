//! Months of universal time.

use interstice_glucose::Second;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// The first day of the month an instant lies in; of January 1970 where no calendar reaches.
pub(crate) fn of(at: Second) -> Date {
    let stamp = Timestamp::from_second(at).unwrap_or(Timestamp::UNIX_EPOCH);
    stamp.to_zoned_datetime(TimeZone::UTC).date().first_of_month()
}

/// The first instant after a month.
pub(crate) fn end(first: Date) -> Second {
    let next = first.last_of_month().tomorrow();
    next.ok()
        .and_then(|next| next.to_zoned_datetime(TimeZone::UTC).ok())
        .map_or(Second::MAX, |next| next.timestamp().as_second())
}

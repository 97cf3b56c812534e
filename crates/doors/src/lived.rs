//! When it was where the wearer lived.

use interstice_book::Record;
use interstice_glucose::{LivedClock, LivedSpan, Second, Zone};
use jiff::Timestamp;

use crate::table::Making;

/// The wall clock lived by, with the names of its zones.
pub(crate) struct Lived<'a> {
    clock: &'a LivedClock,
    base: &'a Zone,
    /// Stretches away, none over another.
    pub(crate) apart: Vec<LivedSpan>,
}

impl<'a> Lived<'a> {
    pub(crate) fn of(record: &'a Record) -> Self {
        Lived {
            clock: &record.clock,
            base: &record.base_zone,
            apart: record.lived_apart(),
        }
    }

    /// The name of the zone lived in.
    pub(crate) fn zone(&self, at: Second) -> &str {
        let next = self.apart.partition_point(|span| span.to <= at);
        let away = self.apart.get(next).filter(|span| span.from <= at);
        away.map_or(self.base, |span| &span.zone).name()
    }

    /// The time on the wall, with its offset; nothing where no calendar reaches.
    pub(crate) fn local(&self, at: Second) -> Option<String> {
        Timestamp::from_second(at).ok()?;
        Some(self.clock.moment(at).to_string())
    }

    /// The three columns every event begins with.
    pub(crate) fn times<'t, T>(
        &self,
        making: Making<'t, T>,
        at: impl Fn(&'t T) -> Second + Copy,
    ) -> Making<'t, T> {
        making
            .instant("time_utc", "when, universal time", move |it| Some(at(it)))
            .text("time_local", "the wall clock then, with its offset", |it| {
                self.local(at(it))
            })
            .text("zone", "the time zone lived in then", |it| {
                Some(self.zone(at(it)))
            })
    }

    /// When it ended.
    pub(crate) fn until<'t, T>(
        &self,
        making: Making<'t, T>,
        until: impl Fn(&'t T) -> Option<Second> + Copy,
    ) -> Making<'t, T> {
        making
            .instant("until_utc", "when it ended, universal time", until)
            .text("until_local", "the wall clock then, with its offset", |it| {
                self.local(until(it)?)
            })
    }
}

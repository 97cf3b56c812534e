//! Sensors on the body.

use interstice_book::Kept;
use interstice_findings::{KnownFrom, SensorWorn};
use interstice_glucose::{BodySite, Comfort, Named, SensorDetail, SensorNote, Side};

use crate::lived::Lived;
use crate::table::{Making, Table};

/// Several words in one cell: a JSON list, so that none is taken for two.
fn list(words: &[String]) -> Option<String> {
    (!words.is_empty()).then(|| serde_json::Value::from(words).to_string())
}

fn site<'t, T>(making: Making<'t, T>, site: impl Fn(&'t T) -> Option<BodySite> + Copy) -> Making<'t, T> {
    making
        .text("region", "part of the body, as it is understood", move |it| {
            Some(site(it)?.region.name())
        })
        .text("side", "'left' or 'right'", move |it| {
            site(it)?.side.map(Side::name)
        })
        .text("spot", "what else was said of the place", move |it| {
            site(it)?.spot
        })
}

fn detail<'t, T>(making: Making<'t, T>, of: impl Fn(&'t T) -> &'t SensorDetail + Copy) -> Making<'t, T> {
    making
        .text(
            "preparation",
            "how the skin was prepared, a JSON list",
            move |it| list(&of(it).preparation),
        )
        .text("cover", "what holds or covers it, a JSON list", move |it| {
            list(&of(it).cover)
        })
        .text("lot", "lot number", move |it| of(it).lot.clone())
        .text("serial", "serial number", move |it| of(it).serial.clone())
        .text("ending", "how it ended", move |it| of(it).ending.map(Named::word))
        .text("removal", "how it was taken off", move |it| {
            of(it).removal.map(Named::word)
        })
        .whole(
            "comfort",
            "how taking it off felt: 0 it hurt a lot, 1 it hurt, 2 hardly felt, 3 not felt",
            move |it| of(it).comfort.map(Comfort::level).map(i64::from),
        )
        .text(
            "skin",
            "how the skin was afterwards, as the wearer saw it",
            move |it| of(it).skin.map(Named::word),
        )
        .whole("skin_days", "for how many days", move |it| {
            of(it).skin_days.map(i64::from)
        })
        .text(
            "slept_side",
            "the side mostly slept on while it was worn",
            move |it| of(it).slept.map(Named::word),
        )
}

pub(crate) fn sensor_moments(all: &[Kept<SensorNote>], lived: &Lived<'_>) -> Table {
    let about = "moments in sensors' lives as they were told: put on, started, ended, noted";
    let making = lived
        .times(Table::of("sensor_moments", about, all), |kept| kept.it.at)
        .text("kind", "'put on', 'started', 'ended' or 'noted'", |kept| {
            Some(kept.it.kind.word())
        })
        .text("sensor", "the sensor's name", |kept| kept.it.sensor.clone())
        .text("site", "where on the body, as written", |kept| {
            kept.it.site.clone()
        });
    let making = site(making, |kept| {
        kept.it.site.as_deref().and_then(BodySite::from_words)
    });
    let making = making.text("note", "anything else written beside it", |kept| {
        kept.it.note.clone()
    });
    detail(making, |kept| &kept.it.detail)
        .yes_no("by_hand", "whether it was written down by hand", |kept| {
            Some(kept.by_hand)
        })
        .made()
}

pub(crate) fn sensors(all: &[SensorWorn]) -> Table {
    let about = "one row a sensor worn, put together from its moments and its readings; told again from those, not read back";
    let making = Table::of("sensors", about, all)
        .text("sensor", "the sensor's name", |worn| worn.sensor.clone())
        .text(
            "known_from",
            "'told' of its moments, 'readings' that carry its name, or 'pause': guessed from pauses between readings \
             without a name",
            |worn| {
                Some(match worn.known_from {
                    KnownFrom::Told => "told",
                    KnownFrom::Readings => "readings",
                    KnownFrom::Pause => "pause",
                })
            },
        )
        .instant("put_on_utc", "put on the body, as told", |worn| worn.put_on)
        .instant("started_utc", "started, as told", |worn| worn.started)
        .instant("ended_utc", "ended or taken off, as told", |worn| worn.ended)
        .instant("first_reading_utc", "its first automatic reading", |worn| {
            Some(worn.readings?.0)
        })
        .instant("last_reading_utc", "its last", |worn| Some(worn.readings?.1));
    let making = site(making, |worn| worn.site.clone());
    detail(making, |worn| &worn.detail)
        .text(
            "notes",
            "what else was written beside its moments, a JSON list",
            |worn| list(&worn.notes),
        )
        .made()
}

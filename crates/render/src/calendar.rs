//! Sensors to come as a calendar (RFC 5545), for a file or a subscription.
//!
//! Every time is an instant of universal time, so that it is right in every zone and across every clock change. An event is
//! named after the number of its sensor in the wearer's whole history: a new plan moves it and does not double it, also
//! once the sensors before it are really on.

use interstice_findings::WearFindings;
use interstice_findings::wear::{OnNow, Planned};
use interstice_glucose::{Moment, Second, Unit};

use crate::words::{Caution, Shown};

/// 2020-01-01: revisions are counted in seconds from here, so that they fit the 32 bits of the standard until 2088.
const FIRST_REVISION: Second = 1_577_836_800;

/// What is done to a sensor.
#[derive(Clone, Copy)]
enum Act {
    PutOn,
    Start,
    End,
}

impl Act {
    /// As it stands in the name of an event; never changed.
    fn word(self) -> &'static str {
        match self {
            Act::PutOn => "put-on",
            Act::Start => "start",
            Act::End => "end",
        }
    }

    fn minutes(self) -> Second {
        match self {
            Act::PutOn => 30,
            Act::Start | Act::End => 15,
        }
    }

    /// How long before it the alarm comes.
    fn alarm(self) -> &'static str {
        match self {
            Act::PutOn | Act::End => "-PT1H",
            Act::Start => "-PT15M",
        }
    }

    fn summary(self, number: u64, place: &str) -> String {
        match self {
            Act::PutOn if place.is_empty() => format!("Put on sensor {number}"),
            Act::PutOn => format!("Put on sensor {number}: {place}"),
            Act::Start => format!("Start sensor {number}"),
            Act::End => format!("Sensor {number}: labelled end"),
        }
    }
}

/// One event.
struct Event {
    act: Act,
    number: u64,
    at: Second,
    summary: String,
    description: String,
}

/// The calendar of what is on and what comes; lines end as the standard has it.
pub fn calendar(findings: &WearFindings) -> String {
    let mut lines = Lines(String::new());
    lines.put("BEGIN", "VCALENDAR");
    lines.put("VERSION", "2.0");
    lines.put("PRODID", "-//Interstice//Wear//EN");
    lines.put("CALSCALE", "GREGORIAN");
    lines.put("METHOD", "PUBLISH");
    lines.text("NAME", "Sensors");
    lines.put("REFRESH-INTERVAL;VALUE=DURATION", "PT1H");
    for event in events(findings) {
        write(&event, findings, &mut lines);
    }
    lines.put("END", "VCALENDAR");
    lines.0
}

fn write(event: &Event, findings: &WearFindings, lines: &mut Lines) {
    let asked = findings.now.0.at;
    let revision = (asked - FIRST_REVISION).clamp(0, Second::from(i32::MAX));
    lines.put("BEGIN", "VEVENT");
    lines.put(
        "UID",
        &format!(
            "{}-{}@{}.interstice.invalid",
            event.act.word(),
            event.number,
            findings.book_id
        ),
    );
    lines.put("DTSTAMP", &utc(asked));
    lines.put("SEQUENCE", &revision.to_string());
    lines.put("DTSTART", &utc(event.at));
    lines.put("DTEND", &utc(event.at + 60 * event.act.minutes()));
    lines.put("TRANSP", "TRANSPARENT");
    lines.text("SUMMARY", &event.summary);
    lines.text("DESCRIPTION", &event.description);
    lines.put("BEGIN", "VALARM");
    lines.put("ACTION", "DISPLAY");
    lines.put("TRIGGER", event.act.alarm());
    lines.text("DESCRIPTION", &event.summary);
    lines.put("END", "VALARM");
    lines.put("END", "VEVENT");
}

fn events(findings: &WearFindings) -> Vec<Event> {
    let mut events: Vec<Event> = Vec::new();
    for on in &findings.on_now {
        // What beds in is started and ends as planned.
        let is_planned = findings.plan.iter().any(|one| one.number == on.number);
        events.extend(of_worn(on, is_planned));
    }
    let caution = Caution::Wear.text(Shown { unit: Unit::MgPerDl });
    for one in &findings.plan {
        let is_on = findings.on_now.iter().any(|on| on.number == one.number);
        events.extend(of_planned(one, is_on, &caution));
    }
    events.sort_by_key(|event| (event.at, event.number));
    events
}

fn of_worn(on: &OnNow, is_planned: bool) -> Vec<Event> {
    let site = on.site.as_deref().unwrap_or("");
    let moments = [
        (Act::PutOn, on.put_on),
        (Act::Start, on.started.filter(|_| !is_planned)),
        (Act::End, on.labelled_end.filter(|_| !is_planned)),
    ];
    let told = moments.into_iter().filter_map(|(act, at)| Some((act, at?)));
    told.map(|(act, at)| Event {
        act,
        number: on.number,
        at: at.0.at,
        summary: act.summary(on.number, site),
        description: "As it was written down.".to_owned(),
    })
    .collect()
}

fn of_planned(one: &Planned, is_on: bool, caution: &str) -> Vec<Event> {
    let side = one.side.map_or_else(String::new, |side| format!("{side} "));
    let spot = one
        .spot
        .as_ref()
        .map_or_else(String::new, |spot| format!(", {spot}"));
    let place = one
        .site
        .map_or_else(String::new, |site| format!("{side}{site}{spot}"));
    let why = one.why.join("; ");
    let moments = [
        (Act::PutOn, (!is_on).then_some(one.put_on)),
        (Act::Start, Some(one.start)),
        (Act::End, Some(one.end)),
    ];
    let to_come = moments.into_iter().filter_map(|(act, at)| Some((act, at?)));
    to_come
        .map(|(act, at)| Event {
            act,
            number: one.number,
            at: at.0.at,
            summary: act.summary(one.number, &place),
            description: match act {
                Act::PutOn => format!("{why}.\n{caution}"),
                Act::Start | Act::End => caution.to_owned(),
            },
        })
        .collect()
}

/// '20250317T120400Z'.
fn utc(at: Second) -> String {
    let moment = Moment { at, offset_s: 0 }.to_string();
    let digits = moment.chars().filter(|c| !matches!(c, '-' | ':')).take(15);
    digits.chain(['Z']).collect()
}

/// Content lines: folded at 75 octets, ended by carriage return and line feed (RFC 5545, section 3.1).
struct Lines(String);

impl Lines {
    const OCTETS: usize = 75;

    fn put(&mut self, name: &str, value: &str) {
        let line = format!("{name}:{value}");
        let mut room = Self::OCTETS;
        for c in line.chars() {
            if c.len_utf8() > room {
                self.0.push_str("\r\n ");
                room = Self::OCTETS - 1;
            }
            self.0.push(c);
            room -= c.len_utf8();
        }
        self.0.push_str("\r\n");
    }

    /// A value of type TEXT, escaped (section 3.3.11). Control characters, which the standard has no place for, are left out.
    fn text(&mut self, name: &str, value: &str) {
        let mut escaped = String::new();
        for c in value.chars() {
            match c {
                '\\' | ';' | ',' => escaped.extend(['\\', c]),
                '\n' => escaped.push_str("\\n"),
                c if c.is_control() => {}
                c => escaped.push(c),
            }
        }
        self.put(name, &escaped);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_are_folded_between_characters() {
        let mut lines = Lines(String::new());
        let value = "é".repeat(100);
        lines.text("SUMMARY", &value);
        assert!(lines.0.ends_with("\r\n"));
        assert!(lines.0.split("\r\n").all(|line| line.len() <= 75), "{}", lines.0);
        assert_eq!(lines.0.replace("\r\n ", ""), format!("SUMMARY:{value}\r\n"));
    }

    #[test]
    fn text_is_escaped() {
        let mut lines = Lines(String::new());
        lines.text("SUMMARY", "a, b; c\\d\ne\r\tf");
        assert_eq!(lines.0, "SUMMARY:a\\, b\\; c\\\\d\\nef\r\n");
    }

    #[test]
    fn instants_are_of_universal_time() {
        assert_eq!(utc(1_742_213_040), "20250317T120400Z");
    }
}

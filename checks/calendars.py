"""The calendar of coming sensors, read by an independent library (`icalendar`), against the plan the command tells.

A person of Lisbon, invented: the clocks change on 2025-03-30 (directive 2000/84/EC), and a fortnight in April is spent at an
offset of 05:30. Every event must have what RFC 5545 requires, name its sensor once, and lie at the instant the plan tells; the
plan's wall clock is checked against the machine's own zone table. Then the first sensor is put on at another time: its event
must move, and no other may change its name.
"""

from __future__ import annotations

import json
import subprocess
import tempfile
from datetime import datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import icalendar

HOME = ZoneInfo("Europe/Lisbon")
AWAY = timezone(timedelta(hours=5, minutes=30))
SAILED, CAME_BACK = (datetime(2025, 4, day, 12, tzinfo=timezone.utc) for day in (5, 19))
ASKED = datetime(2025, 3, 25, 9, tzinfo=HOME)


def lived(at: datetime) -> datetime:
    """The wall clock of the invented person."""
    return at.astimezone(AWAY if SAILED <= at < CAME_BACK else HOME)


def run(interstice: Path, book: Path, *arguments: str) -> str:
    command = [str(interstice), "--book", str(book), *arguments]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=300)
    if done.returncode not in (0, 1):
        raise RuntimeError(f"{' '.join(arguments)} ended with {done.returncode}: {done.stderr.strip()}")
    return done.stdout


def prepare(interstice: Path, folder: Path) -> Path:
    """A book with readings at two offsets, a kind of sensor, hours, days away and a settled put-on."""
    file, book = folder / "readings.csv", folder / "a.book"
    first = datetime(2025, 3, 1, tzinfo=timezone.utc)
    times = (first + timedelta(minutes=15 * i) for i in range(96 * 70))
    rows = [f"{lived(at).isoformat()},{110 + i % 40}" for i, at in enumerate(times)]
    file.write_text("time,glucose mg/dL\n" + "\n".join(rows) + "\n")
    run(interstice, book, "import", str(file), "--zone", "Europe/Lisbon")
    run(interstice, book, "log", "sensor", "started", "--name", "S1", "--site", "left upper arm", "--at", "2025-03-20T12:00:00Z")
    run(interstice, book, "sensor-kind", "mine", "--wear-days", "10", "--extra-hours", "12", "--longest-bedding-hours", "24", "--sites", "upper arm,abdomen")
    run(interstice, book, "wear-set", "--put-on-hours", "18:00-21:00", "--start-hours", "18:00-21:00", "--pin", "2025-05-06 19:30", "--site", "right abdomen")
    return book


def asked(interstice: Path, book: Path, at: datetime, folder: Path) -> tuple[dict, bytes]:
    file = folder / "sensors.ics"
    said = run(interstice, book, "wear", "--plan", "--json", "--at", at.isoformat(), "--calendar", str(file))
    return json.loads(said), file.read_bytes()


def wrong_bytes(raw: bytes) -> list[str]:
    """What RFC 5545, section 3.1, asks of the lines themselves."""
    lines = raw.split(b"\r\n")
    wrong = [f"a line of {len(line)} octets" for line in lines if len(line) > 75]
    if lines[-1] or b"\n" in b"".join(lines) or b"\r" in b"".join(lines):
        wrong.append("lines do not all end in CRLF")
    raw.decode("utf-8")
    return wrong


def wrong_calendar(said: dict, raw: bytes) -> list[str]:
    """Every difference between a plan and its calendar."""
    wrong = wrong_bytes(raw)
    calendar = icalendar.Calendar.from_ical(raw)
    if str(calendar["VERSION"]) != "2.0" or not calendar["PRODID"] or calendar.errors:
        wrong.append(f"the calendar lacks what it must have: {calendar.errors}")
    events = {str(event["UID"]): event for event in calendar.walk("VEVENT")}
    if len(events) != len(calendar.walk("VEVENT")):
        wrong.append("two events have one name")
    for uid, event in events.items():
        alarms = event.walk("VALARM")
        complete = event.errors == [] and all(event.get(name) for name in ("DTSTAMP", "DTSTART", "DTEND", "SEQUENCE", "SUMMARY"))
        if not complete or event["DTEND"].dt <= event["DTSTART"].dt or event["DTSTART"].dt.utcoffset() != timedelta(0):
            wrong.append(f"{uid} lacks what it must have")
        if len(alarms) != 1 or any(str(alarm.get("ACTION")) != "DISPLAY" or alarm.get("TRIGGER") is None or not alarm.get("DESCRIPTION") for alarm in alarms):
            wrong.append(f"{uid} has no alarm to be shown")
        if event["DTSTAMP"].dt != datetime.fromisoformat(said["now"]):
            wrong.append(f"{uid} is not stamped with the moment that was asked for")
    expected = {}
    for one in said["plan"]:
        for word, name in (("put-on", "put_on"), ("start", "start"), ("end", "end")):
            expected[f"{word}-{one['number']}@{said['book_id']}.interstice.invalid"] = datetime.fromisoformat(one[name])
    planned = {uid: event["DTSTART"].dt for uid, event in events.items() if uid in expected}
    if planned != expected:
        wrong.append(f"times differ: {planned} beside {expected}")
    return wrong


def wrong_clock(said: dict) -> list[str]:
    """Whether the plan's wall clock is the invented person's, and its hours are those chosen."""
    wrong = []
    for one in said["plan"]:
        for name in ("put_on", "start"):
            at = datetime.fromisoformat(one[name])
            if at.utcoffset() != lived(at).utcoffset():
                wrong.append(f"{name} {one[name]} is not on the clock lived by, {lived(at).isoformat()}")
            if not 18 <= lived(at).hour < 21:
                wrong.append(f"{name} {one[name]} lies outside the hours chosen")
    offsets = {datetime.fromisoformat(one[name]).utcoffset() for one in said["plan"] for name in ("put_on", "start")}
    if len(offsets) < 3:
        wrong.append(f"the plan does not reach over the clock change and the voyage: {offsets}")
    if not any(one["pinned"] and one["put_on"] == "2025-05-06T19:30:00+01:00" for one in said["plan"]):
        wrong.append("the settled put-on is not kept")
    return wrong


def sequences(raw: bytes) -> dict[str, int]:
    return {str(event["UID"]): int(event["SEQUENCE"]) for event in icalendar.Calendar.from_ical(raw).walk("VEVENT")}


def check(interstice: Path) -> list[str]:
    """Every difference found."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        book = prepare(interstice, folder)
        said, raw = asked(interstice, book, ASKED, folder)
        wrong = wrong_calendar(said, raw) + wrong_clock(said)
        # The next sensor goes on two hours late, and everything after it is planned anew.
        first = said["plan"][0]
        late = datetime.fromisoformat(first["put_on"]) + timedelta(hours=2)
        run(interstice, book, "log", "sensor", "put-on", "--name", "S2", "--site", "left abdomen", "--at", late.isoformat())
        again, raw_again = asked(interstice, book, late + timedelta(hours=1), folder)
        wrong += wrong_calendar(again, raw_again)
        before, after = sequences(raw), sequences(raw_again)
        moved = f"put-on-{first['number']}@{said['book_id']}.interstice.invalid"
        if moved not in after:
            wrong.append("the event of the sensor put on lost its name")
        numbers = [one["number"] for one in said["plan"]]
        numbers_again = [one["number"] for one in again["plan"]]
        on = [one["number"] for one in again["on_now"]]
        if numbers[0] not in on or sorted({*on, *numbers_again}) != list(range(min(on), min(on) + len({*on, *numbers_again}))):
            wrong.append(f"sensors are numbered {on} and {numbers_again} after {numbers}")
        if not all(after[uid] > before[uid] for uid in before.keys() & after.keys()):
            wrong.append("a later revision does not count higher")
        if asked(interstice, book, late + timedelta(hours=1), folder)[1] != raw_again:
            wrong.append("the same question gives another calendar")
        print(f"\ncalendars: {len(before)} and {len(after)} events read by icalendar {icalendar.__version__}, {len(wrong)} wrong")
        return [f"calendar: {what}" for what in wrong]


if __name__ == "__main__":
    import sys

    found = check(Path(sys.argv[1]))
    print("\n".join(found))
    sys.exit(bool(found))

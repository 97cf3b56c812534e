"""Loads the served app: many clients at once, a year of feed, and how soon a reading is on the page.

    cargo build --release
    python3 bench/load.py clients [--clients 20] [--seconds 600]   # push and read at once, then is everything in the book?
    python3 bench/load.py year [--days 365]                        # a year as a phone sends it: memory and time of a push
    python3 bench/load.py arrival [--days 3652] [--rounds 10]      # push, news, page: on a book of ten years

Everything happens on the loopback device against the built program. `clients` kills the server at the end, without warning.
"""

import argparse
import csv
import http.client
import json
import os
import re
import shutil
import statistics
import subprocess
import threading
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import generate
from http_answers import Served

TOP = Path(__file__).resolve().parent.parent
PAGES = ["/now/latest", "/now", "/days", "/review?days=14", "/feeds", "/wear", "/second-look", "/imports"]
MINUTE, DAY = 60, 86_400


def interstice(given: argparse.Namespace, book: Path, *args: str) -> dict:
    command = [str(given.interstice), "--book", str(book), "--json", *args]
    ran = subprocess.run(command, capture_output=True, stdin=subprocess.DEVNULL)
    if ran.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(command)} ended with {ran.returncode}\n{ran.stderr.decode(errors='replace')[-800:]}")
    return json.loads(ran.stdout)


def new_book(given: argparse.Namespace, name: str) -> Path:
    folder = given.folder / name
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder / "load.interstice"


def token(given: argparse.Namespace, book: Path, name: str) -> str:
    return interstice(given, book, "feeds", "--make-token", name)["made"]["token"]


class Client:
    """One connection to the app, opened again when it breaks."""

    def __init__(self, address: str, token: str | None = None):
        self.connection, self.token = http.client.HTTPConnection(address, timeout=600), token

    def ask(self, path: str) -> tuple[int, bytes, float]:
        return self._timed("GET", path, None, {"Accept-Encoding": "gzip"})

    def push(self, readings: list[dict]) -> tuple[int, bytes, float]:
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        return self._timed("POST", "/push", json.dumps(readings), headers)

    def _timed(self, method: str, path: str, body: str | None, headers: dict) -> tuple[int, bytes, float]:
        start = time.perf_counter()
        try:
            self.connection.request(method, path, body=body, headers=headers)
            answer = self.connection.getresponse()
        except (http.client.HTTPException, ConnectionError):
            # What is refused before its body was read ends the connection; what was sent may be sent again.
            self.connection.close()
            self.connection.request(method, path, body=body, headers=headers)
            answer = self.connection.getresponse()
        read = answer.read()
        return answer.status, read, (time.perf_counter() - start) * 1000


@dataclass
class Told:
    """What came of all requests."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    taken: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    sent: set[tuple[str, int, int]] = field(default_factory=set)
    acknowledged: set[tuple[str, int, int]] = field(default_factory=set)
    refused: Counter = field(default_factory=Counter)

    def add(self, what: str, milliseconds: float) -> None:
        with self.lock:
            self.taken[what].append(milliseconds)


def quantiles(taken: list[float]) -> str:
    cut = statistics.quantiles(taken, n=100, method="inclusive") if len(taken) > 1 else taken * 99
    return f"{cut[49]:.1f} | {cut[94]:.1f} | {cut[98]:.1f} | {max(taken):.1f}"


def memory_mib(process: int) -> float:
    return int(re.search(r"VmRSS:\s*(\d+)", Path(f"/proc/{process}/status").read_text())[1]) / 1024


def processor_s(process: int) -> float:
    """Processor time of a process so far, which other work on the machine disturbs less than the clock."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def reading(sensor: str, at: int, glucose: int) -> dict:
    return {"at": at, "glucose": glucose, "unit": "mg/dL", "sensor": sensor}


def keep_pushing(client: Client, sensor: str, first: int, ends: float, told: Told) -> None:
    """Twice a second: mostly one reading, now and then an hour's of them, or what was sent before once more."""
    at, before, turn = first, [], 0
    while time.monotonic() < ends:
        turn += 1
        if turn % 7 == 0 and before:
            batch = before
        else:
            batch = [reading(sensor, at + i * MINUTE, 60 + (at // MINUTE + i) * 7 % 180) for i in range(12 if turn % 10 == 0 else 1)]
            at += len(batch) * MINUTE
        told.sent.update((sensor, it["at"], it["glucose"]) for it in batch)
        status = None
        while status != 200 and time.monotonic() < ends:
            status, _, taken = client.push(batch)
            if status == 200:
                told.add("push", taken)
                told.acknowledged.update((sensor, it["at"], it["glucose"]) for it in batch)
            else:
                told.refused[f"push {status}"] += 1
                time.sleep(1)
        before = batch
        time.sleep(max(0.0, 0.5 - taken / 1000))


def keep_reading(client: Client, turn: int, ends: float, told: Told) -> None:
    """A page a second, each in its turn."""
    while time.monotonic() < ends:
        path = PAGES[turn % len(PAGES)]
        status, _, taken = client.ask(path)
        if status == 200:
            told.add(path, taken)
        else:
            told.refused[f"{path} {status}"] += 1
        turn += 1
        time.sleep(max(0.0, 1 - taken / 1000))


def in_the_book(given: argparse.Namespace, book: Path) -> Counter:
    """Every reading of the book, and how often it is there."""
    out = book.parent / "out"
    interstice(given, book, "export", str(out), "--as", "csv")
    held = Counter()
    for path in sorted((out / "readings").rglob("*.csv")):
        with path.open(newline="", encoding="utf-8") as file:
            for row in csv.DictReader(file):
                at = int(time.mktime(time.strptime(row["time_utc"], "%Y-%m-%dT%H:%M:%SZ")) - time.timezone)
                held[row["sensor"], at, int(row["value_as_said"])] += 1
    return held


def clients(given: argparse.Namespace) -> bool:
    book = new_book(given, "clients")
    first = int(time.time()) // MINUTE * MINUTE - 30 * DAY
    tokens = [token(given, book, f"client {i}") for i in range(given.clients)]
    told, served = Told(), Served(given.interstice, book)
    with served as connection:
        address = f"{connection.host}:{connection.port}"
        Client(address, tokens[0]).push([reading("sensor 0", first - MINUTE, 100)])
        told.sent.add(("sensor 0", first - MINUTE, 100))
        ends = time.monotonic() + given.seconds
        threads = []
        for i, own in enumerate(tokens):
            threads.append(threading.Thread(target=keep_pushing, args=(Client(address, own), f"sensor {i}", first, ends, told)))
            threads.append(threading.Thread(target=keep_reading, args=(Client(address), i, ends, told)))
        for thread in threads:
            thread.start()
        samples = []
        while time.monotonic() < ends:
            time.sleep(min(5, given.seconds))
            samples.append(memory_mib(served.process.pid))
        for thread in threads:
            thread.join()
    held = in_the_book(given, book)
    lost = [it for it in told.acknowledged if held[it] == 0]
    twice = [it for it, many in held.items() if many > 1]
    unsent = [it for it in held if it not in told.sent]
    print(f"{given.clients} clients, {given.seconds:.0f} s, killed at the end: {len(told.acknowledged):,} readings acknowledged, "
          f"{len(lost)} lost, {len(twice)} twice, {len(unsent)} that nobody sent; memory {samples[0]:.0f} MiB at first, {max(samples):.0f} at most, "
          f"{samples[-1]:.0f} at last; refused: {dict(told.refused) or 'none'}\n")  # fmt: skip
    print("| request | times | median ms | 95 % ms | 99 % ms | worst ms |\n| --- | --- | --- | --- | --- | --- |")
    for what in ["push", *PAGES]:
        if told.taken[what]:
            print(f"| {what} | {len(told.taken[what]):,} | {quantiles(told.taken[what])} |")
    return not (lost or twice or unsent) and bool(told.acknowledged)


def year(given: argparse.Namespace) -> bool:
    """Each day by a token of its own, so that no day's flood is held up; the page Now is asked for every hour of them."""
    book, days = new_book(given, "year"), given.days
    first = int(time.time()) // DAY * DAY - days * DAY
    with (served := Served(given.interstice, book)) as connection:
        address = f"{connection.host}:{connection.port}"
        page, sent = Client(address), 0
        print("| readings sent | memory MiB | a push: median ms | 95 % ms | 99 % ms | worst ms | Now: median ms | 95 % ms | 99 % ms | worst ms |")
        print("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |")
        pushes, pages = [], []
        for day in range(days):
            phone = Client(address, token(given, book, f"day {day}"))
            # 240 at once are let through: a day has 288 readings, of which the night's come by the hour.
            sizes = [12] * 5 + [1] * 228
            for size in sizes:
                batch = [reading(f"sensor {day // 14}", first + (sent + i) * 300, 60 + (sent + i) * 7 % 180) for i in range(size)]
                status, answer, taken = phone.push(batch)
                if status != 200:
                    raise SystemExit(f"day {day}: {status} {answer[:300]!r}")
                pushes.append(taken)
                sent += size
                if sent % 12 == 0:
                    pages.append(page.ask("/now/latest")[2])
            phone.connection.close()
            number = interstice(given, book, "feeds")["feeds"][0]["number"]
            interstice(given, book, "feeds", "--revoke", str(number))
            if (day + 1) % max(1, days // 12) == 0:
                print(f"| {sent:,} | {memory_mib(served.process.pid):.1f} | {quantiles(pushes)} | {quantiles(pages)} |", flush=True)
                pushes, pages = [], []
    held = in_the_book(given, book)
    print(f"\n{sent:,} readings sent, {sum(held.values()):,} in the book, {sum(1 for many in held.values() if many > 1)} twice")
    return sum(held.values()) == len(held) == sent


def listen(address: str, heard: list[float]) -> None:
    """Notes when news come."""
    connection = http.client.HTTPConnection(address, timeout=600)
    connection.request("GET", "/events", headers={"Accept": "text/event-stream"})
    answer = connection.getresponse()
    try:
        while line := answer.readline():
            if line.startswith(b"data:"):
                heard.append(time.perf_counter())
    except OSError:
        return


def arrival(given: argparse.Namespace) -> bool:
    """From the first byte of a push to the last of the page that shows it, asked for when the news came."""
    worst = 0.0
    print("| book | readings | news: median ms | worst ms | on the page: median ms | 95 % ms | 99 % ms | worst ms | processor ms a reading | first Now of the day ms |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for shape in given.shapes.split(","):
        book = new_book(given, f"arrival-{shape}")
        # A reading a minute from here on: an older one is not told of as this moment.
        start = generate.END = int(time.time()) // MINUTE * MINUTE - given.rounds * MINUTE
        source = book.parent / f"{shape}.csv"
        rows = generate.write(source, given.days, 5, shape)
        interstice(given, book, "import", str(source), "--zone", generate.ZONE)
        own, sensor = token(given, book, "phone"), f"sensor {(given.days - 1) // 14}" if shape == "worn" else ""
        with (served := Served(given.interstice, book)) as connection:
            address, heard = f"{connection.host}:{connection.port}", []
            phone, page = Client(address, own), Client(address)
            assert phone.push([reading(sensor, start, 130)])[0] == 200
            first = page.ask("/now")[2]
            threading.Thread(target=listen, args=(address, heard), daemon=True).start()
            time.sleep(0.5)
            told, shown, spent = [], [], processor_s(served.process.pid)
            for i in range(given.rounds):
                at = start + (i + 1) * MINUTE
                heard.clear()
                began = time.perf_counter()
                assert phone.push([reading(sensor, at, 130 + i)])[0] == 200
                while not heard:
                    time.sleep(0.0005)
                told.append((heard[0] - began) * 1000)
                status, body, _ = page._timed("GET", "/now/latest", None, {})
                shown.append((time.perf_counter() - began) * 1000)
                assert status == 200 and f'data-read="{at}"' in body.decode(), f"the page does not show the reading: {body[:500]!r}"
            spent = (processor_s(served.process.pid) - spent) / given.rounds * 1000
        worst = max(worst, *shown)
        print(f"| {given.days} days, {shape} | {rows:,} | {statistics.median(told):.1f} | {max(told):.1f} | {quantiles(shown)} | {spent:.0f} | {first:.0f} |", flush=True)
    return worst <= 1000


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("what", choices=["clients", "year", "arrival"])
    parser.add_argument("--clients", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=600)
    parser.add_argument("--days", type=int, help="a year of feed; ten years of book")
    parser.add_argument("--rounds", type=int, default=10)
    parser.add_argument("--shapes", default="clean,worn", help="one trace, or a new sensor each two weeks")
    parser.add_argument("--interstice", type=Path, default=TOP / "target/release/interstice")
    parser.add_argument("--folder", type=Path, default=TOP / "target/bench")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    given.days = given.days or {"year": 365}.get(given.what, 3_652)
    if not {"clients": clients, "year": year, "arrival": arrival}[given.what](given):
        raise SystemExit(f"{given.what}: not as it should be; see above")


if __name__ == "__main__":
    main()

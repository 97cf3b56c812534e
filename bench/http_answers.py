"""Times the local app's answers over HTTP, with the book warm.

Makes a book of an invented recording, starts `interstice serve` on it, and asks as a browser would: one connection kept
open, compressed answers. Every question is a different one (the window moves by a day, the view by a little), so that a
remembered answer flatters nothing; the last rows ask the same again and again.

    python3 bench/http_answers.py [--rounds 60] [--interstice target/release/interstice]
"""

import argparse
import http.client
import json
import re
import statistics
import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import generate

TOP = Path(__file__).resolve().parent.parent
LAST = date(2025, 10, 31)  # the last day of the generated recordings


@dataclass
class Book:
    """What is served, and how much of it one review looks at."""

    name: str
    days: int
    step_min: int
    window: int


BOOKS = [Book("90 days of a 2-year book at 5 min", 730, 5, 90), Book("1 year of a 2-year book at 1 min", 730, 1, 365)]


class Served:
    """`interstice serve` on a book, ended on leaving."""

    def __init__(self, interstice: Path, book: Path):
        self.command = [str(interstice), "--book", str(book), "serve", "--port", "0"]

    def __enter__(self) -> http.client.HTTPConnection:
        self.process = subprocess.Popen(self.command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        for line in self.process.stderr:
            if found := re.search(r"listening on http://([\w.:]+)", line):
                return http.client.HTTPConnection(found[1], timeout=60)
        raise SystemExit("interstice serve ended before it listened")

    def __exit__(self, *_: object) -> None:
        self.process.kill()
        self.process.wait()


def ask(connection: http.client.HTTPConnection, path: str) -> tuple[float, bytes]:
    """Milliseconds until the last byte, and the bytes."""
    start = time.perf_counter()
    connection.request("GET", path, headers={"Accept-Encoding": "gzip"})
    answer = connection.getresponse()
    body = answer.read()
    taken = (time.perf_counter() - start) * 1000
    if answer.status != 200:
        raise SystemExit(f"{path} answered {answer.status}: {body[:300]!r}")
    return taken, body


def timeline(connection: http.client.HTTPConnection) -> dict:
    """What the Days page tells its script of the timeline: where its data are, first and last instant."""
    connection.request("GET", "/days")
    page = connection.getresponse().read().decode()
    found = re.search(r'id="timeline-book"[^>]*>(.*?)</script>', page, re.DOTALL)
    if not found:
        raise SystemExit("the Days page holds no timeline")
    return json.loads(found[1])


def row(name: str, connection: http.client.HTTPConnection, path: Callable[[int], str], rounds: int) -> None:
    for i in range(3):
        ask(connection, path(-1 - i))
    taken, sizes = [], []
    for i in range(rounds):
        milliseconds, body = ask(connection, path(i))
        taken.append(milliseconds)
        sizes.append(len(body))
    p95 = statistics.quantiles(taken, n=20)[-1]
    print(f"| {name} | {statistics.median(taken):.1f} | {p95:.1f} | {max(taken):.1f} | {statistics.median(sizes) / 1000:.0f} |", flush=True)


def window(path: str, days: int) -> Callable[[int], str]:
    """A review of so many days that ends a day earlier each time."""

    def of(i: int) -> str:
        last = LAST - timedelta(days=i + 4)
        return f"{path}?from={last - timedelta(days=days - 1)}&to={last}"

    return of


def view(book: dict, seconds: int) -> Callable[[int], str]:
    """A stretch of the timeline as a laptop asks for it, each time a little earlier."""

    def of(i: int) -> str:
        end = book["to"] - int((i + 4) * seconds * 0.37) % max(1, book["to"] - book["from"] - seconds + 1)
        return f"{book['data']}?from={end - seconds}&to={end}&px=1200&density=2"

    return of


def measure(book: Book, given: argparse.Namespace) -> None:
    source = given.folder / f"clean-{book.days}-{book.step_min}.csv"
    rows = generate.write(source, book.days, book.step_min, "clean")
    store = given.folder / f"http-{book.days}-{book.step_min}.book"
    for old in given.folder.glob(store.name + "*"):
        old.unlink()
    subprocess.run(
        [str(given.interstice), "--book", str(store), "--json", "import", str(source), "--zone", generate.ZONE],
        check=True, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    print(f"\n{book.name} ({rows:,} readings)\n")
    print("| answer | median ms | 95 % ms | worst ms | kB |\n| --- | --- | --- | --- | --- |")
    with Served(given.interstice, store) as connection:
        row("review page", connection, window("/review", book.window), given.rounds)
        row("review as data", connection, window("/api/review", book.window), given.rounds)
        line = timeline(connection)
        whole = line["to"] - line["from"]
        for name, seconds in [("all", whole), ("a tenth", whole // 10), ("two weeks", 14 * 86_400), ("a day", 86_400), ("an hour", 3_600)]:
            row(f"timeline, {name}", connection, view(line, seconds), given.rounds)
        row("the same review page again", connection, lambda _: window("/review", book.window)(0), given.rounds)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--rounds", type=int, default=60)
    parser.add_argument("--interstice", type=Path, default=TOP / "target/release/interstice")
    parser.add_argument("--folder", type=Path, default=TOP / "target/bench")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    for book in BOOKS:
        measure(book, given)


if __name__ == "__main__":
    main()

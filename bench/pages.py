"""Weighs the app's pages and times the first of them, with the book warm.

Two books: a year of an invented recording at five minutes, which holds readings alone, and the invented engineer, who writes
everything down. For each page: what is sent, compressed; what would be sent without its pictures (`<svg>`), which is to stay
under 150 kB; and both again as the browser unpacks them. Times are of one kept connection on this machine. Style sheets and
scripts are weighed once.

    python3 bench/pages.py [--rounds 20] [--interstice target/release/interstice]
"""

import argparse
import gzip
import http.client
import os
import re
import statistics
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import generate
from http_answers import Served, ask

TOP = Path(__file__).resolve().parent.parent
HEAVIEST_KB = 150
SLOWEST_MS = 200

PAGES = [
    "/now", "/second-look", "/days", "/days/beside", "/review", "/review?days=90", "/review/compare?days=weekend", "/find?what=low",
    "/trust", "/trust/pairs", "/wear", "/visit", "/write", "/imports", "/settings", "/methods", "/methods/timeline",
]  # fmt: skip
PICTURE = re.compile(rb"<svg\b.*?</svg>", re.DOTALL)
ASSET = re.compile(rb'(?:href|src)="(/assets/[^"]+)"')


@contextmanager
def demo(interstice: Path, folder: Path) -> Iterator[http.client.HTTPConnection]:
    """The invented engineer's book, served as `interstice demo` does."""
    environment = os.environ | {"XDG_CACHE_HOME": str(folder / "cache")}
    command = [str(interstice), "demo", "--no-open", "--port", "0"]
    process = subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, env=environment
    )
    try:
        for line in process.stderr:
            if found := re.search(r"listening on http://([\w.:]+)", line):
                yield http.client.HTTPConnection(found[1], timeout=120)
                return
        raise SystemExit("interstice demo ended before it listened")
    finally:
        process.kill()
        process.wait()


def plain(body: bytes) -> bytes:
    return gzip.decompress(body) if body[:2] == b"\x1f\x8b" else body


def weigh(connection: http.client.HTTPConnection, rounds: int) -> list[str]:
    """Prints a row for each page, and says which are over a bound."""
    over, assets = [], set()
    print("| page | first ms | median ms | sent kB | without pictures | unpacked kB | without pictures |\n| --- | --- | --- | --- | --- | --- | --- |")
    for path in PAGES:
        first, body = ask(connection, path)
        taken = [ask(connection, path)[0] for _ in range(rounds)]
        page = plain(body)
        bare = PICTURE.sub(b"", page)
        sent = len(gzip.compress(bare, compresslevel=6)) / 1000
        median = statistics.median(taken)
        weights = f"{len(body) / 1000:.0f} | {sent:.0f} | {len(page) / 1000:.0f} | {len(bare) / 1000:.0f}"
        print(f"| {path} | {first:.0f} | {median:.1f} | {weights} |", flush=True)
        assets.update(ASSET.findall(page))
        if sent >= HEAVIEST_KB:
            over.append(f"{path} is sent as {sent:.0f} kB without its pictures; the bound is {HEAVIEST_KB}")
        if median >= SLOWEST_MS:
            over.append(f"{path} takes {median:.0f} ms; the bound is {SLOWEST_MS}")
    sizes = [len(ask(connection, asset.decode())[1]) for asset in sorted(assets)]
    print(f"\nStyle sheets, scripts and icon of all pages: {len(sizes)} files, {sum(sizes) / 1000:.0f} kB sent once.")
    return over


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--rounds", type=int, default=20)
    parser.add_argument("--interstice", type=Path, default=TOP / "target/release/interstice")
    parser.add_argument("--folder", type=Path, default=TOP / "target/bench")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)

    source, store = given.folder / "clean-365-5.csv", given.folder / "pages-365-5.book"
    rows = generate.write(source, 365, 5, "clean")
    for old in given.folder.glob(store.name + "*"):
        old.unlink()
    subprocess.run(
        [str(given.interstice), "--book", str(store), "--json", "import", str(source), "--zone", generate.ZONE],
        check=True, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    print(f"\nA year at five minutes ({rows:,} readings)\n")
    with Served(given.interstice, store) as connection:
        over = weigh(connection, given.rounds)
    print("\nThe invented engineer, 200 days with everything written down\n")
    with demo(given.interstice, given.folder) as connection:
        over += weigh(connection, given.rounds)
    print("\n" + ("\n".join(over) if over else f"Every page is sent as less than {HEAVIEST_KB} kB without its pictures, in less than {SLOWEST_MS} ms."))


if __name__ == "__main__":
    main()

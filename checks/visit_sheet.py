"""The visit sheet, read by independent PDF libraries (`pikepdf`, `pypdf`), against what the command tells as JSON.

Of the file: what ISO 19005-2 (PDF/A-2, level A) and ISO 14289-1 (PDF/UA-1) ask that can be seen without a validator: identifiers in
the metadata, an output intent, no encryption, no script, letters embedded with a way back to characters, a language, a title that is
shown, a tree of tags of known kinds, figures with words, tables whose rows have as many cells as their heads, every drawing operator
inside marked content. Of the text: figures as they are written by hand from the JSON. The invented recording beside these checks is what
it is made of.
"""

from __future__ import annotations

import json
import subprocess
import tempfile
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pikepdf
import pypdf

INVENTED = Path(__file__).resolve().parent.parent / "testdata" / "checks" / "invented.csv"
STRUCTURE = {
    "/Document", "/H1", "/H2", "/P", "/L", "/LI", "/Lbl", "/LBody", "/Table", "/THead", "/TBody", "/TR", "/TH", "/TD", "/Figure",
}
# Operators that draw (ISO 32000-1, tables 59, 60, 87, 109).
DRAWING = {"Tj", "TJ", "'", '"', "f", "F", "f*", "B", "B*", "b", "b*", "S", "s", "Do", "sh"}


def run(interstice: Path, book: Path, *arguments: str) -> str:
    command = [str(interstice), "--book", str(book), *arguments]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=300)
    if done.returncode not in (0, 1):
        raise RuntimeError(f"{' '.join(arguments)} ended with {done.returncode}: {done.stderr.strip()}")
    return done.stdout


def nodes(element: pikepdf.Object, above: tuple[str, ...] = ()):
    """Every structure element with the kinds above it."""
    if not isinstance(element, pikepdf.Dictionary) or "/S" not in element:
        return
    kind = str(element.S)
    yield element, kind, above
    for child in children(element):
        yield from nodes(child, (*above, kind))


def children(element: pikepdf.Object) -> list:
    kids = element.get("/K", [])
    return list(kids) if isinstance(kids, pikepdf.Array) else [kids]


def wrong_tree(pdf: pikepdf.Pdf) -> list[str]:
    root = pdf.Root.StructTreeRoot
    roles = {str(key): str(value) for key, value in root.get("/RoleMap", {}).items()}
    wrong, seen = [], {}
    for top in children(root):
        for element, kind, above in nodes(top):
            kind = roles.get(kind, kind)
            seen[kind] = seen.get(kind, 0) + 1
            if kind not in STRUCTURE:
                wrong.append(f"a tag of no known kind: {kind}")
            if kind == "/Figure" and not str(element.get("/Alt", "")).strip():
                wrong.append("a figure without words")
            if kind in ("/TH", "/TD") and "/TR" not in above:
                wrong.append("a cell outside a row")
            if kind == "/TH" and "/Scope" not in str(element.get("/A", "")):
                wrong.append("a head without a scope")
            if kind == "/Table":
                rows = [row for row, of, _ in nodes(element) if of == "/TR"]
                widths = {len(children(row)) for row in rows}
                if len(widths) != 1:
                    wrong.append(f"a table with rows of {sorted(widths)} cells")
    for kind, least in {"/H1": 1, "/H2": 10, "/Figure": 1, "/Table": 2, "/TH": 8, "/TD": 20, "/LI": 14}.items():
        if seen.get(kind, 0) < least:
            wrong.append(f"{seen.get(kind, 0)} of {kind}, {least} expected")
    return wrong


def unmarked(pdf: pikepdf.Pdf) -> list[str]:
    """Drawing outside marked content: neither read aloud nor told to be mere ornament."""
    wrong = []
    for number, page in enumerate(pdf.pages, 1):
        depth = 0
        for operands, operator in pikepdf.parse_content_stream(page):
            name = str(operator)
            depth += {"BDC": 1, "BMC": 1, "EMC": -1}.get(name, 0)
            if name in DRAWING and depth < 1:
                wrong.append(f"page {number}: {name} outside marked content")
        if depth:
            wrong.append(f"page {number}: marked content is left open")
    return wrong


def wrong_file(pdf: pikepdf.Pdf) -> list[str]:
    wrong = []
    with pdf.open_metadata() as meta:
        for name, value in {"pdfaid:part": "2", "pdfaid:conformance": "A", "pdfuaid:part": "1"}.items():
            if str(meta.get(name)) != value:
                wrong.append(f"{name} is {meta.get(name)}, not {value}")
    root = pdf.Root
    if pdf.is_encrypted:
        wrong.append("it is encrypted")
    if not root.get("/MarkInfo", {}).get("/Marked", False):
        wrong.append("it does not say that it is tagged")
    if not str(root.get("/Lang", "")):
        wrong.append("it has no language")
    if not root.get("/ViewerPreferences", {}).get("/DisplayDocTitle", False):
        wrong.append("its title is not shown")
    intents = [intent for intent in root.get("/OutputIntents", []) if str(intent.get("/S")) == "/GTS_PDFA1"]
    if len(intents) != 1 or "/DestOutputProfile" not in intents[0]:
        wrong.append("it has no output intent with a profile")
    if any(key in root for key in ("/AA", "/OpenAction")) or "/JavaScript" in root.get("/Names", {}):
        wrong.append("it wants to do something")
    for number, page in enumerate(pdf.pages, 1):
        for name, font in page.resources.get("/Font", {}).items():
            inner = font.DescendantFonts[0] if "/DescendantFonts" in font else font
            descriptor = inner.FontDescriptor
            if not any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3")):
                wrong.append(f"page {number}: {name} is not embedded")
            if "/ToUnicode" not in font:
                wrong.append(f"page {number}: {name} has no way back to characters")
    return wrong


def rounded(value: float, decimals: int) -> str:
    return str(Decimal(repr(value)).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP))


def wrong_figures(text: str, visit: dict) -> list[str]:
    summary = visit["review"]["summary"]
    lines = [" ".join(line.split()) for line in text.splitlines()]
    wrong = []

    def share(value: float) -> str:
        if 0 < value < 0.05:
            return "under 0.1 %"
        return f"{rounded(value, 1 if value < 9.95 and value > 0 else 0)} %"

    for beginning, figure, write in (
        ("In range,", "in_range_percent", share),
        ("Below range,", "below_percent", share),
        ("Above range,", "above_percent", share),
        ("GMI", "gmi_percent", lambda value: f"{rounded(value, 1)} %"),
        ("CV", "cv_percent", lambda value: f"{rounded(value, 1)} %"),
    ):
        line = next((line for line in lines if line.startswith(beginning) and "%" in line), "")
        if write(summary[figure]) not in line:
            wrong.append(f"{figure} {write(summary[figure])} is not in '{line}'")
    return wrong


def check(interstice: Path) -> list[str]:
    """What is wrong with the sheet on either paper."""
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "a.book"
        run(interstice, book, "import", str(INVENTED), "--zone", "Europe/Lisbon")
        run(interstice, book, "visit-set", "--question", "Why in the evening?", "--hba1c", "2025-01-15=7.2 %")
        all_wrong = []
        for paper in ("a4", "letter"):
            file = Path(folder) / f"{paper}.pdf"
            said = run(interstice, book, "visit", "--json", "--out", str(file), "--paper", paper, "--made", "2025-06-01")
            visit = json.loads(said)["visit"]
            reader = pypdf.PdfReader(str(file))
            text = "\n".join(page.extract_text(extraction_mode="layout") for page in reader.pages)
            with pikepdf.open(file) as pdf:
                wrong = wrong_file(pdf) + wrong_tree(pdf) + unmarked(pdf)
            if len(reader.pages) != 2:
                wrong.append(f"{len(reader.pages)} pages")
            wrong += wrong_figures(text, visit)
            plain = " ".join("\n".join(page.extract_text() for page in reader.pages).split())
            for part in ("Why in the evening?", "never a dose", "care team"):
                if part not in plain:
                    wrong.append(f"'{part}' is not in the text")
            print(f"visit sheet, {paper}: {'well' if not wrong else 'wrong'}")
            all_wrong += [f"visit sheet, {paper}: {line}" for line in wrong]
    return all_wrong


if __name__ == "__main__":
    import sys

    sys.exit("\n".join(check(Path(sys.argv[1]).resolve())) or None)

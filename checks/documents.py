"""Documents of published standards that the command writes, held against the standards by independent libraries.

FHIR: every bundle is read by `fhir.resources`, models made from the standard's own definitions (its R4B; of the resources
used here only names in DiagnosticReport and Device differ from R4, none of which is written). Then the rules of the HL7
guide for continuous glucose monitoring (STU 1, 1.0.0), restated here: which code with which unit, what must be there once,
that every reference leads to an entry of the bundle, that percentages have two decimals. The summary must tell the figures
of `review --json` digit for digit.

Open mHealth: every data point against the rules of the schema blood-glucose 4.0 (with unit-value, time-frame and header of
the IEEE 1752.1 set), restated here as JSON Schema; `jsonschema` applies them. What the restated rules leave out: the
enumerations of relations to meals and sleep, which are not written.

Both are brought into an empty book, whose account must be that of the book they came from.
"""

from __future__ import annotations

import base64
import json
import subprocess
import tempfile
from collections import Counter
from datetime import datetime
from pathlib import Path

import jsonschema
from fhir.resources.R4B.bundle import Bundle

from exported import apart, demo_book, run

SENSOR = {"99504-3": "mg/dL", "105272-9": "mmol/L"}
BLOOD = {"2339-0": "mg/dL", "15074-8": "mmol/L"}
MEAN = {"97507-8": "mg/dL", "105273-7": "mmol/L"}
SUMMARY, TIMES = "107931-8", "106793-3"
MEMBERS = {TIMES, "97506-0", "104638-2", "104636-6", "104637-4"}
RANGES = {"104642-4": "very_low_percent", "104641-6": "low_percent", "97510-2": "in_range_percent",
          "104640-8": "high_percent", "104639-0": "very_high_percent"}  # fmt: skip
WINDOW = ("--days", "30")
# The account of what was brought in: what FHIR has no place for (zones by name, artefacts) shows in no figure of these.
COMPARED = ["mean_mg_dl", "sd_mg_dl", "very_low_percent", "low_percent", "in_range_percent", "high_percent", "very_high_percent", "mage_mg_dl"]
EXACT = 1e-12

UNIT_VALUE = {
    "type": "object",
    "required": ["unit", "value"],
    "properties": {"value": {"type": "number"}, "unit": {"enum": ["mg/dL", "mmol/L"]}},
}
DATE_TIME = {"type": "string", "format": "date-time", "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)$"}
BLOOD_GLUCOSE = {
    "$schema": "http://json-schema.org/draft-07/schema#",
    "type": "object",
    "required": ["header", "body"],
    "properties": {
        "header": {
            "type": "object",
            "required": ["uuid", "schema_id", "source_creation_date_time", "modality"],
            "properties": {
                "uuid": {"type": "string", "pattern": "^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$"},
                "schema_id": {
                    "type": "object",
                    "required": ["namespace", "name", "version"],
                    "properties": {"namespace": {"const": "omh"}, "name": {"const": "blood-glucose"}, "version": {"const": "4.0"}},
                },
                "source_creation_date_time": DATE_TIME,
                "modality": {"enum": ["sensed", "self-reported"]},
            },
        },
        "body": {
            "type": "object",
            "required": ["blood_glucose", "effective_time_frame"],
            "properties": {
                "blood_glucose": UNIT_VALUE,
                "effective_time_frame": {
                    "type": "object",
                    "oneOf": [{"required": ["date_time"]}, {"required": ["time_interval"]}],
                    "properties": {"date_time": DATE_TIME},
                },
                "specimen_source": {"enum": ["interstitial fluid", "capillary blood", "plasma", "serum", "tears", "whole blood"]},
            },
        },
    },
}


def code(resource: dict) -> str:
    return next((c["code"] for c in resource["code"].get("coding", []) if c["system"] == "http://loinc.org"), "")


def wrong_observation(it: dict, known: set[str]) -> list[str]:
    """What the guide asks of an observation that is of its kind."""
    wrong, of = [], code(it)
    if it["subject"]["reference"] not in known or ("device" in it and it["device"]["reference"] not in known):
        wrong.append("points at what is not in the bundle")
    if of in SENSOR | BLOOD | MEAN:
        value = it["valueQuantity"]
        if value["code"] != (SENSOR | BLOOD | MEAN)[of] or value["unit"] != value["code"] or value["system"] != "http://unitsofmeasure.org":
            wrong.append(f"{of} in {value['code']}")
        if of in SENSOR | BLOOD and "effectiveDateTime" not in it:
            wrong.append("does not say when")
    if of in SENSOR | BLOOD | MEAN | dict.fromkeys(MEMBERS | {SUMMARY}):
        if [c["code"] for c in it["category"][0]["coding"]] != ["laboratory"]:
            wrong.append("is not of the laboratory category")
    if of in MEMBERS | {SUMMARY} | set(MEAN) and not {"start", "end"} <= it["effectivePeriod"].keys():
        wrong.append("has no period")
    return wrong


def two_decimals(text: str, value: float) -> bool:
    """Whether a percentage stands in the document with two decimals or more. The text is looked at: JSON readers drop zeros."""
    shown = f"{value:.2f}" if len(repr(value).partition(".")[2]) < 2 else repr(value)
    return f'"value":{shown}' in text


def wrong_bundle(text: str) -> list[str]:
    Bundle.model_validate_json(text)
    bundle = json.loads(text)
    wrong = []
    if bundle["type"] != "transaction" or not bundle["timestamp"]:
        wrong.append("is no transaction with its time")
    urls = [entry["fullUrl"] for entry in bundle["entry"]]
    wrong += [f"{url} stands twice" for url, times in Counter(urls).items() if times > 1]
    for entry in bundle["entry"]:
        resource, request = entry["resource"], entry["request"]
        if request["method"] != "POST" or request["url"] != resource["resourceType"] or not request["ifNoneExist"]:
            wrong.append(f"{entry['fullUrl']} is not sent once")
        if resource["resourceType"] == "Observation":
            wrong += [f"{entry['fullUrl']} {line}" for line in wrong_observation(resource, set(urls))]
    return wrong


def wrong_summary(text: str, said: dict) -> list[str]:
    """The panel, its members and their figures."""
    resources = {entry["fullUrl"]: entry["resource"] for entry in json.loads(text)["entry"]}
    by_code = {code(it): it for it in resources.values() if it["resourceType"] == "Observation"}
    members = Counter(code(resources[member["reference"]]) for member in by_code[SUMMARY]["hasMember"])
    wrong = []
    if any(members[of] != 1 for of in MEMBERS) or sum(members[of] for of in MEAN) != 1 or len(members) != 6:
        wrong.append(f"members of the summary: {members}")
    value = lambda of: by_code[of]["valueQuantity"]["value"]
    mean = next((value(of) * (1 if of == "97507-8" else 18.0156) for of in MEAN if of in by_code))
    shares = {code(part): part["valueQuantity"] for part in by_code[TIMES]["component"]}
    told = {"mean_mg_dl": mean, "gmi_percent": value("97506-0"), "cv_percent": value("104638-2")}
    told |= {name: shares[of]["value"] for of, name in RANGES.items()}
    for name, found in told.items():
        # A percentage with fewer than two decimals is written with two.
        if apart(found, said["summary"][name]) > EXACT:
            wrong.append(f"summary: {name} is {found}, the account says {said['summary'][name]}")
    if value("104636-6") != said["sufficiency"]["days_with_data"] or apart(value("104637-4"), said["sufficiency"]["active_percent"]) > EXACT:
        wrong.append("summary: days of wear or time active differ")
    if abs(sum(part["value"] for part in shares.values()) - 100) > 1e-9:
        wrong.append("summary: times in ranges are not all of the time")
    wrong += [f"summary: {part['value']} has fewer than two decimals" for part in shares.values() if not two_decimals(text, part["value"])]
    return wrong


def wrong_sheet(text: str) -> list[str]:
    """The report with the sheet inside, as the guide's profile for PDFs has it."""
    report = json.loads(text)["entry"][-1]["resource"]
    form = report["presentedForm"][0]
    right = [
        report["resourceType"] == "DiagnosticReport",
        code(report) == SUMMARY,
        report["category"][0]["coding"] == [{"system": "http://terminology.hl7.org/CodeSystem/v2-0074", "code": "LAB"}],
        form["contentType"] == "application/pdf",
        base64.b64decode(form["data"], validate=True).startswith(b"%PDF-"),
    ]
    return [] if all(right) else [f"sheet.json: {right}"]


def brought_back(interstice: Path, book: Path, files: list[Path], folder: Path) -> list[str]:
    """The account of an empty book into which the documents were brought."""
    again = folder / f"{files[0].parent.name}.again"
    for file in files:
        taken = run(interstice, again, "import", str(file), "--zone", "Europe/Berlin")["files"][0]
        if taken["status"] != "imported" or taken["rejected"]:
            return [f"{file.name} was not taken back: {taken['status']} {taken['problems'][:2]} {taken['questions']}"]
    window = run(interstice, book, "review", *WINDOW)["window"]
    days = [str(datetime.fromisoformat(window[name]).date()) for name in ("from", "to")]
    before, after = (run(interstice, of, "review", "--from", days[0], "--to", run_to(days[1])) for of in (book, again))
    return [
        f"{files[0].parent.name}: {name} was {before['summary'][name]} and is {after['summary'][name]}"
        for name in COMPARED
        if apart(after["summary"][name], before["summary"][name]) > EXACT
    ]


def run_to(day_after: str) -> str:
    """The day before a date."""
    from datetime import date, timedelta

    return str(date.fromisoformat(day_after) - timedelta(days=1))


def check(interstice: Path) -> list[str]:
    wrong, resources, points = [], 0, 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        try:
            book = demo_book(interstice, folder)
            said = run(interstice, book, "review", *WINDOW)
            for form in ("fhir", "omh"):
                run(interstice, book, "export", str(folder / form), "--as", form, *WINDOW, *(["--sheet"] if form == "fhir" else []))
            bundles = sorted((folder / "fhir").glob("bundle-*.json"))
            for file in [*bundles, folder / "fhir/summary.json", folder / "fhir/sheet.json"]:
                text = file.read_text()
                resources += len(json.loads(text)["entry"])
                wrong += [f"{file.name}: {line}" for line in wrong_bundle(text)]
            wrong += wrong_summary((folder / "fhir/summary.json").read_text(), said)
            wrong += wrong_sheet((folder / "fhir/sheet.json").read_text())
            validator = jsonschema.Draft7Validator(BLOOD_GLUCOSE)
            lists = sorted((folder / "omh").glob("*.json"))
            for file in lists:
                for point in json.loads(file.read_text()):
                    points += 1
                    wrong += [f"{file.name}: {error.message}" for error in validator.iter_errors(point)]
            wrong += brought_back(interstice, book, bundles, folder)
            wrong += brought_back(interstice, book, lists, folder)
        except (RuntimeError, KeyError, ValueError, StopIteration, subprocess.TimeoutExpired) as error:
            wrong.append(f"documents: {type(error).__name__}: {str(error)[:400]}")
    print(f"documents: {resources} FHIR resources and {points} Open mHealth data points read by other libraries")
    return wrong


if __name__ == "__main__":
    import sys

    for line in (found := check(Path(sys.argv[1]).resolve()))[:30]:
        print(line)
    raise SystemExit(bool(found))

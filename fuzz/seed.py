"""Fills fuzz/corpus with invented seeds: the heads of the files of testdata/intake, archives made of them, and short texts.

    python3 fuzz/seed.py
"""

import gzip
import io
import zipfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
FILES = sorted((HERE.parent / "testdata/intake").iterdir())

NUMBERS = ["7.8", "7,8", "-1.234,5", "1,234.5", "1.2e-3", "113.39999999999999", " +5. ", "6 IU", "0", "99999999999999999999"]
STAMPS = [
    "2025-03-17T12:04:00+01:00", "17.03.2025 12:04", "03/17/25 12:04 PM", "7. März 2025, 15:04 Uhr", "20250307150400",
    "24:00", "07/03/2025 15:04 (GMT-05:00)", "7 de marzo de 2025 15:04", "Fri 7 Mar 2025 15.04", "2025.03.07. 15:04",
]  # fmt: skip
PUSHED = [
    '{"at": "2026-03-01T07:30:00+01:00", "glucose": 104, "unit": "mg/dL", "sensor": "left arm"}',
    '{"unit": "mmol/L", "readings": [{"at": 1772346600, "glucose": 5.8}, {"at": 1, "glucose": 2.2, "bound": "below"}]}',
]  # fmt: skip
REQUESTS = ["days=14&unit=mmol", "from=2025-03-01&to=2025-03-14", "answer=--as+%273%3Dglucose%27&role:x=dose", "127.0.0.1:8080", "2025-03-17T11:04:00Z"]
DOCUMENTS = [
    '{"resourceType": "Bundle", "entry": [{"fullUrl": "u", "resource": {"resourceType": "Observation", "status": "final", "code": {"coding": [{"system": "http://loinc.org", "code": "99504-3"}]}, "effectiveDateTime": "2026-03-01T07:30:00+01:00", "valueQuantity": {"value": 5.4, "comparator": "<", "unit": "mmol/L"}}}]}',
    '{"resourceType": "Observation", "code": {"coding": [{"system": "http://loinc.org", "code": "9059-7"}], "text": "meal"}, "effectiveDateTime": "2026-03-01", "component": [{"code": {"text": "protein"}, "valueQuantity": {"value": 5, "unit": "g"}}]}',
    '{"resourceType": "MedicationAdministration", "medicationCodeableConcept": {"text": "insulin, rapid"}, "effectivePeriod": {"start": "2026-03-01T07:30:00Z", "end": "2026-03-01T08:30:00Z"}, "dosage": {"dose": {"value": 1, "unit": "U"}}}',
    '{"body": {"blood_glucose": {"unit": "mg/dL", "value": 95}, "effective_time_frame": {"date_time": "2013-02-05T07:25:00Z"}, "specimen_source": "interstitial fluid"}}',
]  # fmt: skip
TABLES = [
    b"time_utc,kind,sensor,value_as_said,unit_as_said,bound\r\n2026-03-01T00:00:00Z,scan,S,5.4,mmol/L,below\r\n\0",
    b'time_utc,kind,preparation,comfort\n2026-03-01T00:00:00Z,started,"[""a""]",3\n\6',
    b"from_utc,to_utc,zone\n2026-03-01T00:00:00Z,2026-03-02T00:00:00Z,UTC\n5,9,Asia/Tokyo\n\7",
]  # fmt: skip
RECORDS = [
    b"\6\0\x64\0\5\0", b"\x0f\xe3\x15\xf4\2\1\1\2\4\5\xf0\x61\0\x8e\x29",
    b"\3\3\0\xea\7\3\1\7\x1e\0\x3c\0\x68\xb0\x11",
]  # fmt: skip
SHEET = '<worksheet><sheetData><row r="1"><c r="A1" t="str"><v>time</v></c><c r="B1" t="str"><v>glucose</v></c></row><row r="2"><c r="A2"><v>45000.5</v></c><c r="B2"><v>5.5</v></c></row></sheetData></worksheet>'
CONTENT = '<office:document-content><office:body><office:spreadsheet><table:table table:name="S"><table:table-row><table:table-cell office:value-type="float" office:value="5.5"/></table:table-row></table:table></office:spreadsheet></office:body></office:document-content>'


def put(target: str, name: str, content: bytes) -> None:
    folder = HERE / "corpus" / target
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(content)


def packed(content: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.csv", content)
    return out.getvalue()


def main() -> None:
    for path in FILES:
        head = path.read_bytes()[:700]
        put("file", path.name, head + b"\0")
        put("alike", path.name, head + b"\0")
        put("delimited", path.name, head)
        put("container", f"{path.name}.zip", packed(head) + b"\0")
        put("container", f"{path.name}.gz", gzip.compress(head) + b"\0")
    put("container", "sheet", SHEET.encode() + b"\6")
    put("container", "content", CONTENT.encode() + b"\7")
    for target, texts in [("number", NUMBERS), ("stamp", STAMPS), ("request", REQUESTS), ("push", PUSHED), ("document", DOCUMENTS)]:
        for i, text in enumerate(texts):
            put(target, str(i), text.encode())
    for target, seeds in [("own_table", TABLES), ("bluetooth", RECORDS), ("damaged", [bytes(5), bytes(range(17))])]:
        for i, seed in enumerate(seeds):
            put(target, str(i), seed)
    put("block", "day", b"\0\0\0\0\1\5\0\x79\4\1\0\0\xc8\1\2\3\4\5")
    put("rows", "day", bytes(range(84)))


if __name__ == "__main__":
    main()

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import jsonschema
import pandas as pd
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.message.spreadsheet import disarmed, restored
from audit.report.data import csv_parts, findings_record, findings_text, parquet_bytes
from audit.report.values import told_columns
from audit.report.values import values as side_by_side
from audit.table import columns
from audit.table.column import KINDS, TEXT, TEXTS, WORDS, Column

DOCS = Path(__file__).parents[2] / "docs"
SCHEMA = json.loads((DOCS / "findings.schema.json").read_text(encoding="utf-8"))


def test_parquet_keeps_units_meaning_and_nulls(result: Any, tmp_path: Path) -> None:
    (tmp_path / "f.parquet").write_bytes(parquet_bytes(result.frames))
    table = pq.read_table(tmp_path / "f.parquet")
    assert table.schema.equals(columns.schema())
    assert table.schema.field("exposure_time_s").metadata[b"unit"] == b"s"
    assert table.schema.field("ev100").metadata[b"meaning"].startswith(b"log2(N^2/t)")
    assert table.schema.metadata[b"tool"] == b"cornerstop"
    unread = table.to_pylist()[8]
    assert unread["model"] is None and unread["captured_at"] is None and unread["iso"] is None
    assert table.to_pylist()[9]["files"] == ["caf\\xe9.JPG", "caf\\xe9.NEF"]


def test_serials_only_when_asked_and_thumbnails_never(result: Any, tmp_path: Path) -> None:
    (tmp_path / "without.parquet").write_bytes(parquet_bytes(result.frames))
    (tmp_path / "with.parquet").write_bytes(parquet_bytes(result.frames, serials=True))
    names = pq.read_schema(tmp_path / "without.parquet").names
    assert "body_serial" not in names
    assert set(pq.read_schema(tmp_path / "with.parquet").names) - set(names) == {"body_serial", "lens_serial"}


def test_csv_is_the_same_table_without_formulas(result: Any, tmp_path: Path) -> None:
    (tmp_path / "f.csv").write_text("".join(csv_parts(result.frames)), encoding="utf-8", newline="")
    with (tmp_path / "f.csv").open(encoding="utf-8", newline="") as file:
        read = list(csv.DictReader(file))
    assert len(read) == len(result.frames)
    assert list(read[0]) == columns.schema().names
    assert read[0]["files"] == "DCIM/100BRAT/TARN0101.JPG; DCIM/100BRAT/TARN0101.NEF"
    assert read[0]["captured_at"] == "2026-05-02T05:10:03"
    assert read[0]["light_residual_stops"] == "-2.4"
    assert read[0]["gps_present"] == "false"
    assert read[8]["iso"] == ""
    texts = [n for n in read[0] if columns.BY_NAME[n].kind in (TEXT, TEXTS, WORDS)]
    assert not [row[n] for row in read for n in texts if row[n].startswith(("=", "+", "-", "@", "\t", "\r"))]
    assert read[8]["frame"].startswith("'=HYPERLINK")
    assert "'=HYPERLINK" in read[7]["notes"]


NEW = {
    "text": ("n6/pol", "n6/pol", "n6/pol"),
    "words": ("bore of =n6", "bore of =n6", "bore of =n6"),
    "real": (-0.25, "-0.25", "\N{MINUS SIGN}0.25 mm"),
    "whole": (7, "7", "7 mm"),
    "flag": (True, "true", "yes"),
    "time": (datetime(2026, 5, 2, 10, 0, 1), "2026-05-02T10:00:01", "2026-05-02 10:00:01"),
    "texts": (["=n6", "pol"], "'=n6; pol", "=n6, pol"),
    "bytes": (b"\xff", None, None),
}
"""Of each kind: a value, its cell in CSV, and how it is told."""


def test_a_new_column_needs_no_more_than_its_line(result: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    fresh = [Column(f"new_{name}", kind, "mm", "made up", "print") for name, kind in KINDS.items()]
    monkeypatch.setattr(columns, "ALL", [*columns.ALL, *fresh])
    nulls = [None] * (len(result.frames) - 1)
    values = {c.name: c.kind.series([NEW[c.kind.name][0], *nulls]) for c in fresh}
    frames = result.frames.assign(**values)
    table = pq.read_table(io.BytesIO(parquet_bytes(frames)))
    first, second = list(csv.DictReader(io.StringIO("".join(csv_parts(frames)), newline="")))[:2]
    (beside,) = side_by_side(frames.to_dict("records")[:1], ["TARN0101"], told_columns(frames))
    told = {row.name: row.words for row in dict(beside.groups)["for prints"]}
    for name, (value, cell, words) in NEW.items():
        if cell is None:
            assert f"new_{name}" not in table.column_names and f"new {name}" not in told
            continue
        assert table[f"new_{name}"].to_pylist()[:2] == [value, [] if name == "texts" else None]
        assert (first[f"new_{name}"], second[f"new_{name}"]) == (cell, "")
        assert told[f"new {name}"] == (words,)


STARTS = [
    "=1",
    "+1",
    "-1",
    "@x",
    "\tx",
    "\rx",
    "\n=1",
    " =1",
    "\u00a0-1",
    "\uff1d1",
    "\u3000\uff0b1",
    "'a",
    "'=1",
    "''",
]


@pytest.mark.parametrize("text", STARTS)
def test_a_formula_is_disarmed_and_an_apostrophe_doubled(text: str) -> None:
    assert disarmed(text) == "'" + text


@pytest.mark.parametrize("text", ["", "TARN0101", "1/125", "a=b", "a 'b", " 'a", "a; b", "é"])
def test_plain_text_stays(text: str) -> None:
    assert disarmed(text) == text


def test_a_formula_behind_a_semicolon_is_disarmed_too() -> None:
    """Many countries' spreadsheets part cells there."""
    assert disarmed("a;=1; -2;b; 'c") == "a;'=1; '-2;b; ''c"


@given(st.text(st.one_of(st.sampled_from("'=+-@;\t\r\n \uff1d\uff20a"), st.characters())))
def test_every_text_comes_back(text: str) -> None:
    cell = disarmed(text)
    assert restored(cell) == text
    for part in cell.split(";"):
        assert not part.strip().startswith(("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20"))


def test_undone_as_the_docs_say_the_csv_holds_what_parquet_does(result: Any) -> None:
    told = re.search(r"```python\n(.+?)```", (DOCS / "output.md").read_text(encoding="utf-8"), re.S)
    assert told is not None
    said: dict[str, Any] = {}
    exec(told[1].partition("frames =")[0], said)  # of our own page
    rows = [result.frames.iloc[[0]].assign(model=words, notes=[[words, "a"]]) for words in STARTS]
    frames = pd.concat(rows, ignore_index=True)
    originals = pq.read_table(io.BytesIO(parquet_bytes(frames))).to_pylist()
    assert [row["model"] for row in originals] == STARTS
    read = list(csv.DictReader(io.StringIO("".join(csv_parts(frames)), newline="")))
    assert [said["restored"](row["model"]) for row in read] == STARTS
    assert [said["restored"](row["notes"]) for row in read] == ["; ".join(row["notes"]) for row in originals]


def test_findings_conform_to_the_schema(result: Any, empty_result: Any, tmp_path: Path) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    for n, one in enumerate((result, empty_result)):
        (tmp_path / f"{n}.json").write_text(findings_text(one), encoding="utf-8")
        jsonschema.validate(json.loads((tmp_path / f"{n}.json").read_text(encoding="utf-8")), SCHEMA)


def test_half_a_character_is_told_as_an_escape_and_json_stays_json(result: Any) -> None:
    odd = replace(result, title="caf\udce9 \ud800 \U0001f3d4")
    text = findings_text(odd)
    assert json.loads(text)["title"] == "caf\\xe9 \\ud800 \U0001f3d4"
    assert text.encode("utf-8")


def test_every_field_of_the_schema_is_described() -> None:
    def undescribed(node: dict[str, Any], path: str) -> list[str]:
        found = []
        for name, field in node.get("properties", {}).items():
            target = SCHEMA["$defs"][field["$ref"].rsplit("/", 1)[-1]] if "$ref" in field else field
            if "description" not in field and "description" not in target:
                found.append(f"{path}.{name}")
            found += undescribed(field.get("items", field), f"{path}.{name}")
        return found

    assert undescribed(SCHEMA, "") == []


def test_counts_add_up_and_no_folder_above_the_dump_is_told(result: Any) -> None:
    record = findings_record(result)
    counts = record["counts"]
    assert counts["files_seen"] == counts["files_in_frames"] + counts["files_passed_over"] == 15
    assert sum(counts["passed_over_by_reason"].values()) == counts["files_passed_over"]
    assert sum(counts["frames_by_declaration"].values()) == counts["frames"] == 10
    assert sum(counts["findings_by_level"].values()) == len(record["findings"])
    assert "/home/" not in json.dumps(record)
    assert record["title"] == "skarven"
    assert record["mistakes"][0]["path"] == "kit.toml"

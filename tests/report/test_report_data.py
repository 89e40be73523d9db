from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import jsonschema
import pyarrow.parquet as pq
import pytest

from audit.model import columns
from audit.report.data import csv_text, disarmed, findings_record, findings_text, parquet_bytes

SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "findings.schema.json").read_text(encoding="utf-8"))


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
    (tmp_path / "f.csv").write_text(csv_text(result.frames), encoding="utf-8", newline="")
    with (tmp_path / "f.csv").open(encoding="utf-8", newline="") as file:
        read = list(csv.DictReader(file))
    assert len(read) == len(result.frames)
    assert list(read[0]) == columns.schema().names
    assert read[0]["files"] == "DCIM/100NLYS/N6A_0101.JPG; DCIM/100NLYS/N6A_0101.NEF"
    assert read[0]["captured_at"] == "2026-05-02T05:10:03"
    assert read[0]["light_residual_stops"] == "-2.4"
    assert read[0]["gps_present"] == "false"
    assert read[8]["iso"] == ""
    texts = [n for n in read[0] if columns.BY_NAME[n].kind in ("text", "texts")]
    assert not [row[n] for row in read for n in texts if row[n].startswith(("=", "+", "-", "@", "\t", "\r"))]
    assert read[8]["frame"].startswith("'=HYPERLINK")
    assert "'=HYPERLINK" in read[7]["notes"]


@pytest.mark.parametrize("cell", ["=1", "+1", "-1", "@x", "\tx", "\rx", " =1", "\uff1d1"])
def test_formula_is_disarmed(cell: str) -> None:
    assert disarmed(cell) == "'" + cell


@pytest.mark.parametrize("cell", ["", "N6A_0101", "1/125", "a=b"])
def test_plain_text_stays(cell: str) -> None:
    assert disarmed(cell) == cell


def test_findings_conform_to_the_schema(result: Any, empty_result: Any, tmp_path: Path) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    for n, one in enumerate((result, empty_result)):
        (tmp_path / f"{n}.json").write_text(findings_text(one), encoding="utf-8")
        jsonschema.validate(json.loads((tmp_path / f"{n}.json").read_text(encoding="utf-8")), SCHEMA)


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

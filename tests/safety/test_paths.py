"""Whatever stands in EXIF, kit or declaration, whatever links lie in a dump: nothing is written elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from audit.archive.names import leads_out
from audit.archive.pattern import renamed
from audit.archive.source import files_of

sys.path.insert(0, str(Path(__file__).parents[1] / "scan"))
from camera_files import block, jpeg, put

OUT = "../../../../x/"
XMP = (
    b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>"
    b"<rdf:RDF xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'/></x:xmpmeta>"
)
KIT = f"""
place = "{OUT}"
[[lens]]
id = "/etc/x"
exif = ["{OUT}lens"]
focal_mm = [16, 35]
thread_mm = 77
[[ring]]
id = "{OUT}r"
thread_mm = 77
bore_mm = 60
[[filter]]
id = "C:\\\\x"
kind = "neutral"
stops = 3
"""
WORN = f"""
[[worn]]
times = [2026-05-02T00:00:00, 2026-05-03T00:00:00]
lens = "/etc/x"
ring = "{OUT}r"
note = "{OUT}"
"""
COMMANDS = (
    *("audit trip", "audit trip --single --out single", "draft trip --write", "sidecars trip --write"),
    *("archive trip bag --rename {camera}-{counter} --xmp", "filters trip", "season . --out season"),
    *("kit new trip --out new.toml", "archive trip plain"),
)


def test_nothing_is_written_elsewhere(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    told: Callable[..., tuple[int, str]],
    tree_of: Callable[[Path], Any],
) -> None:
    work, elsewhere = tmp_path / "a" / "b" / "work", tmp_path / "elsewhere"
    for n in range(4):
        model = f"{OUT}CON" if n else "NUL"
        put(work / "trip", f"TARN000{n}.JPG", jpeg(block(time=f"2026:05:02 05:1{n}:00", model=model)))
    put(work / "trip", "kit.toml", KIT.encode())
    put(work / "trip", "filters.toml", WORN.encode())
    put(elsewhere, "have.xmp", XMP)
    put(elsewhere, "picture.jpg", jpeg(block()))
    for name, target in (
        ("TARN0000.xmp", "none.xmp"),
        ("TARN0001.xmp", "have.xmp"),
        ("L.JPG", "picture.jpg"),
    ):
        (work / "trip" / name).symlink_to(elsewhere / target)
    (work / "trip" / "more").symlink_to(elsewhere, target_is_directory=True)
    monkeypatch.chdir(work)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(work / "config"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(work / "cache"))
    before = tree_of(elsewhere)
    for command in COMMANDS:
        code, err = told(*command.split(), *([] if command.startswith("kit") else ["--quiet"]))
        assert code in (0, 1, 2) and "Traceback" not in err, (command, err)
    assert tree_of(elsewhere) == before
    assert {p.name for p in tmp_path.iterdir()} == {"a", "elsewhere"}
    assert {p.name for p in work.parent.iterdir()} == {"work"}
    made = {p.name for p in (work / "bag" / "data" / "pictures").rglob("*.JPG")}
    assert made >= {"x-CON-0001.JPG", "NUL-0000.JPG"}


@pytest.mark.parametrize("model", ["CON", "nul", "Com1", "LPT\u00b2", "..", "C:\\x", "../x", "/etc/x", "~"])
def test_a_name_made_of_exif_is_no_way_and_no_device(tmp_path: Path, model: str) -> None:
    put(tmp_path, "TARN0001.JPG", jpeg(block(model=model)))
    files = files_of(tmp_path)
    (new,) = renamed(files, {file.name: "TARN0001.JPG" for file in files}, "{camera}").values()
    assert not leads_out(new) and "/" not in new and "\\" not in new and ":" not in new
    assert new.partition(".")[0].lower() not in ("", "con", "nul", "com1", "lpt\u00b2")

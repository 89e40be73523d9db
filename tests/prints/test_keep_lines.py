"""What the report writes into a keep.txt is read as the same frames."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from audit.prints.choose import choose, keep_lines
from audit.report.picked import frames_script
from audit.scan import scan

NAMES = (
    "a.jpg",
    "100/a.jpg",
    "100/b.jpg",
    "101/b.jpg",
    "101/B #2.jpg",
    "#c.jpg",
    "100/#c.jpg",
    " d.jpg",
    "e .jpg",
    "a.b.c.jpg",
    "caf\udce9.jpg",
    "umlaut \u00e4.jpg",
    "\u202egnp.jpg",
)


@pytest.fixture
def dump(tmp_path: Path) -> Path:
    from PIL import Image

    for n, name in enumerate(NAMES):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        with (tmp_path / name).open("wb") as file:
            Image.new("RGB", (8, 8), (n, n, n)).save(file, "JPEG")
    return tmp_path


def chosen(dump: Path, place: str, lines: list[str]) -> tuple[set[str], int]:
    """Frames that a keep.txt of some lines names, and how many of its lines are mistakes."""
    (dump / place).write_text("# picked\n" + "".join(f"{line}\n" for line in lines), encoding="utf-8")
    found = scan(dump)
    told = choose(found.frames, found.beside)
    return set(told.kept), len(told.mistakes)


def test_every_line_names_its_frame_and_no_other(dump: Path) -> None:
    frames = scan(dump).frames
    lines = dict(zip(frames["frame"], keep_lines(frames), strict=True))
    written = {frame: line for frame, line in lines.items() if line}
    assert chosen(dump, "keep.txt", list(written.values())) == (set(written), 0)
    unwritten = set(lines) - set(written)
    assert {" d"} <= unwritten and {"a", "100/b", "#c", "101/B #2", "umlaut \u00e4"} <= set(written)
    for frame, line in written.items():
        assert chosen(dump, "keep.txt", [line]) == ({frame}, 0)


def test_a_file_in_a_folder_takes_the_names_of_the_report(dump: Path) -> None:
    assert chosen(dump, "100/keep.txt", ["101/b", "100/b", "a"]) == ({"101/b", "100/b", "100/a"}, 0)


def test_frames_that_differ_by_case_alone_are_not_written(table: Callable[..., pd.DataFrame]) -> None:
    rows: list[dict[str, Any]] = [
        {"frame": "A", "files": ["A.JPG"]},
        {"frame": "a", "files": ["a.NEF"]},
    ]
    assert keep_lines(table(rows)) == ["A.JPG", "a.NEF"]
    rows[1]["files"] = ["a.jpg"]
    assert keep_lines(table(rows)) == ["", ""]


def test_the_script_holds_names_lines_and_files(dump: Path) -> None:
    from audit.kit.kit import Kit
    from audit.result import Result

    frames = scan(dump).frames
    empty = pd.DataFrame({"path": [], "reason": []}, dtype="str")
    script = frames_script(Result("x", frames, empty, 0, {}, {}, (), (), (), Kit()))
    assert script.isascii()
    told = json.loads(script.removeprefix("window.reportFrames = ").rstrip().rstrip(";"))
    assert [line for _, line, _ in told] == keep_lines(frames)
    assert ["b", "101/b", ["101/b.jpg"]] in [[name.rpartition("/")[2], *rest] for name, *rest in told]

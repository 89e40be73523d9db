"""The folder of output: runs side by side, and the top page that leads to the newest."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from audit import report
from audit.errors import AuditError
from audit.model.marker import OUTPUT_MARKER
from audit.report.runs import KEPT_RUNS, write_run

DATA = ["findings.json", "frames.csv", "frames.parquet", "orders.csv"]


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def filled(out: Path, words: str) -> Path:
    def top(folder: Path, run: str) -> None:
        (folder / "report.html").write_text(run)
        (folder / "data").write_text(words)

    return write_run(out, lambda folder: (folder / "index.html").write_text(words) and None, top)


def test_same_input_same_bytes_in_every_file(result: Any, tmp_path: Path) -> None:
    one, two = (report.write(result, tmp_path / name) for name in ("one", "two"))
    files = sorted(p.relative_to(one) for p in one.rglob("*") if p.is_file())
    assert files == sorted(p.relative_to(two) for p in two.rglob("*") if p.is_file())
    assert [str(f) for f in files if len(f.parts) == 1] == sorted([OUTPUT_MARKER, *DATA, "report.html"])
    for file in files:
        assert (one / file).read_bytes() == (two / file).read_bytes(), file


def test_a_second_run_lies_beside_the_first_and_is_the_one_that_is_led_to(
    result: Any, empty_result: Any, tmp_path: Path
) -> None:
    out = report.write(result, tmp_path / "out")
    first = (out / "run-0001" / "index.html").read_bytes()
    report.write(empty_result, out)
    assert (out / "run-0001" / "index.html").read_bytes() == first
    top = (out / "report.html").read_text(encoding="utf-8")
    assert 'href="run-0002/index.html"' in top and 'content="0; url=run-0002/index.html"' in top
    assert (out / "frames.csv").read_text(encoding="utf-8").count("\n") == 1
    assert names(tmp_path) == ["out"]


def test_only_the_newest_runs_stay(tmp_path: Path) -> None:
    for n in range(KEPT_RUNS + 2):
        filled(tmp_path / "out", str(n))
    (tmp_path / "out" / "run-mine").mkdir()
    filled(tmp_path / "out", "last")
    kept = [f"run-{n:04d}" for n in range(4, 4 + KEPT_RUNS)]
    assert names(tmp_path / "out") == sorted([OUTPUT_MARKER, "data", "report.html", *kept, "run-mine"])
    assert (tmp_path / "out" / "report.html").read_text() == kept[-1]


@pytest.mark.parametrize("stop", [KeyboardInterrupt, ValueError])
@pytest.mark.parametrize("before", [False, True])
def test_an_interrupted_run_leaves_all_as_it_was(
    tmp_path: Path, stop: type[BaseException], before: bool
) -> None:
    def stopped(folder: Path) -> None:
        (folder / "index.html").write_text("half")
        raise stop

    if before:
        filled(tmp_path / "out", "old")
    left = names(tmp_path)
    with pytest.raises(stop):
        write_run(tmp_path / "out", stopped, lambda folder, run: None)
    assert names(tmp_path) == left
    if before:
        assert names(tmp_path / "out") == [OUTPUT_MARKER, "data", "report.html", "run-0001"]


def test_the_top_page_comes_last(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = filled(tmp_path / "out", "old")
    replace = Path.replace

    def stopped(self: Path, target: Path) -> Path:
        if Path(target).name == "report.html":
            raise KeyboardInterrupt
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        filled(out, "new")
    assert (out / "report.html").read_text() == "run-0001"
    assert (out / "run-0001" / "index.html").read_text() == "old"
    assert names(tmp_path) == ["out"]


def test_a_stranger_is_left_alone(result: Any, tmp_path: Path) -> None:
    stranger = tmp_path / "photos"
    stranger.mkdir()
    (stranger / "N6A_0101.JPG").write_bytes(b"x")
    with pytest.raises(AuditError, match="not written by cornerstop"):
        report.write(result, stranger)
    assert names(stranger) == ["N6A_0101.JPG"]


def test_a_refusing_disk_is_one_line(tmp_path: Path) -> None:
    def full(folder: Path) -> None:
        raise OSError(28, "No space left on device")

    with pytest.raises(AuditError, match="No space left on device"):
        write_run(tmp_path / "out", full, lambda folder, run: None)
    assert names(tmp_path) == []


def test_one_page_is_for_small_trips(make_trip: Any, make_frame: Any, tmp_path: Path) -> None:
    many = make_trip([make_frame(f"N6A_{n:04d}", n) for n in range(300)])
    with pytest.raises(AuditError, match="fewer than 300"):
        report.write(many, tmp_path / "out", single=True)
    assert names(tmp_path) == []

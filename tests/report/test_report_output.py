from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from audit import report
from audit.errors import AuditError
from audit.model.marker import OUTPUT_MARKER
from audit.report.output import write_folder

FILES = [OUTPUT_MARKER, "findings.json", "frames.csv", "frames.parquet", "orders.csv", "report.html"]


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_same_input_same_bytes(result: Any, tmp_path: Path) -> None:
    for out in ("one", "two"):
        assert report.write(result, tmp_path / out, single=True) == (tmp_path / out).resolve()
    assert names(tmp_path) == ["one", "two"]
    assert names(tmp_path / "one") == FILES
    for name in FILES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name


def test_an_audit_without_frames_is_still_a_report(empty_result: Any, tmp_path: Path) -> None:
    report.write(empty_result, tmp_path / "out", single=True)
    assert "No frame was found." in (tmp_path / "out" / "report.html").read_text(encoding="utf-8")


def test_our_own_folder_is_replaced_whole(result: Any, tmp_path: Path) -> None:
    out = report.write(result, tmp_path / "out", single=True)
    (out / "left over").touch()
    report.write(result, out, single=True)
    assert names(out) == FILES
    assert names(tmp_path) == ["out"]


def test_folder_can_be_read_as_any_other(result: Any, tmp_path: Path) -> None:
    (tmp_path / "plain").mkdir()
    out = report.write(result, tmp_path / "out", single=True)
    assert out.stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_stranger_is_left_alone(result: Any, tmp_path: Path) -> None:
    stranger = tmp_path / "photos"
    stranger.mkdir()
    (stranger / "N6A_0101.JPG").write_bytes(b"x")
    with pytest.raises(AuditError, match="not written by cornerstop"):
        report.write(result, stranger)
    (tmp_path / "file").write_bytes(b"x")
    with pytest.raises(AuditError, match="is a file"):
        report.write(result, tmp_path / "file")
    assert names(tmp_path) == ["file", "photos"]
    assert names(stranger) == ["N6A_0101.JPG"]


@pytest.mark.parametrize("stop", [KeyboardInterrupt, ValueError])
def test_interrupted_write_leaves_nothing_new(tmp_path: Path, stop: type[BaseException]) -> None:
    def fill(folder: Path) -> None:
        (folder / "report.html").write_text("half")
        raise stop

    with pytest.raises(stop):
        write_folder(tmp_path / "out", fill)
    assert names(tmp_path) == []

    write_folder(tmp_path / "out", lambda folder: (folder / "old").touch())
    with pytest.raises(stop):
        write_folder(tmp_path / "out", fill)
    assert names(tmp_path) == ["out"]
    assert names(tmp_path / "out") == [OUTPUT_MARKER, "old"]


def test_interrupted_swap_puts_the_old_folder_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = write_folder(tmp_path / "out", lambda folder: (folder / "old").touch())
    rename = Path.rename

    def stopped(self: Path, target: Path) -> Path:
        if Path(target) == out and self.name != "old":
            raise KeyboardInterrupt
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_folder(out, lambda folder: (folder / "new").touch())
    assert names(tmp_path) == ["out"]
    assert names(out) == [OUTPUT_MARKER, "old"]


@pytest.mark.skipif(os.name != "posix", reason="needs a file name as long as the system refuses")
def test_a_refusing_disk_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(AuditError, match="cannot write the report"):
        write_folder(tmp_path / ("x" * 250), lambda folder: None)


def test_a_failing_write_is_one_line(tmp_path: Path) -> None:
    def full(folder: Path) -> None:
        raise OSError(28, "No space left on device")

    with pytest.raises(AuditError, match="No space left on device"):
        write_folder(tmp_path / "out", full)
    assert names(tmp_path) == []

"""One file put in place whole, with and without files that have no name."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from audit.disk import whole_file
from audit.disk.process import temporary_name
from audit.disk.signed import is_ours, put_signed, signed
from audit.disk.whole_file import put_whole
from audit.errors import AuditError

HOST = temporary_name().split(".")[1]


@pytest.fixture(params=["unnamed", "named", "no links"], autouse=True)
def system(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    if request.param != "unnamed":
        monkeypatch.setattr(whole_file, "_unnamed", lambda _: None)
    if request.param == "no links":
        monkeypatch.setattr(os, "link", lambda *_: (_ for _ in ()).throw(PermissionError(1, "no links")))
    return str(request.param)


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_a_new_file_and_one_in_place_of_another(tmp_path: Path) -> None:
    path = tmp_path / "kit.toml"
    put_whole(path, b"one", replacing=False)
    assert path.read_bytes() == b"one"
    path.chmod(0o640)
    put_whole(path, b"two", replacing=True, like=path.stat())
    assert path.read_bytes() == b"two"
    assert path.stat().st_mode & 0o777 == 0o640
    assert names(tmp_path) == ["kit.toml"]


def test_what_is_there_is_not_replaced_unless_told(tmp_path: Path) -> None:
    path = tmp_path / "kit.toml"
    path.write_bytes(b"mine")
    with pytest.raises(FileExistsError):
        put_whole(path, b"two", replacing=False)
    assert path.read_bytes() == b"mine"
    assert names(tmp_path) == ["kit.toml"]


def test_it_gets_the_time_it_is_told(tmp_path: Path) -> None:
    put_whole(tmp_path / "a", b"one", replacing=False, time_ns=1_000_000_000_000)
    assert (tmp_path / "a").stat().st_mtime_ns == 1_000_000_000_000


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_failing_disk_leaves_all_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    path = tmp_path / "kit.toml"
    path.write_bytes(b"mine")
    monkeypatch.setattr(*((os, "fsync", full) if step == "fsync" else (Path, "replace", full)))
    with pytest.raises(OSError, match="No space"):
        put_whole(path, b"two", replacing=True)
    assert path.read_bytes() == b"mine"
    assert names(tmp_path) == ["kit.toml"]


def test_leftovers_are_known_by_name_process_and_digest(tmp_path: Path) -> None:
    digest = whole_file._digest(b"left")
    gone = f".{HOST}.999999999.1.00000000"
    (tmp_path / f"{gone}.{digest}").write_bytes(b"left")
    mine = {
        f"{gone}.{whole_file._digest(b'other')}": b"mine",
        f"{temporary_name()}.{digest}": b"left",
        f".filters.toml.{digest}": b"left",
        f".cornerstop-elsewhere.999999999.1.00000000.{digest}": b"left",
    }
    for name, data in mine.items():
        (tmp_path / name).write_bytes(data)
    put_whole(tmp_path / "filters.toml", b"new", replacing=False)
    assert names(tmp_path) == sorted([*mine, "filters.toml"])


def test_a_drawing_of_ours_is_drawn_anew_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "corners.svg"
    put_signed(path, "<svg/>")
    assert is_ours(path)
    put_signed(path, "<svg></svg>\n")
    assert path.read_text().startswith("<svg></svg>\n<!-- ")
    (tmp_path / "link.svg").symlink_to(path)
    path.write_text(path.read_text().replace("<svg>", "<svg >"))
    (tmp_path / "TARN0101.JPG").write_bytes(b"\xff\xd8mine")
    (tmp_path / "folder").mkdir()
    for taken in ("corners.svg", "TARN0101.JPG", "link.svg", "folder"):
        with pytest.raises(AuditError, match="name another file"):
            put_signed(tmp_path / taken, "<svg/>")
    assert (tmp_path / "TARN0101.JPG").read_bytes() == b"\xff\xd8mine"
    assert signed("<svg/>") == signed("<svg/>\n")

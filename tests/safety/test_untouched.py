"""Every command over a tree that may be written leaves it as it was; over one that may not, it works too."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from audit.cli.entry import run

COMMANDS = (
    ["audit", "trip", "--out", "report"],
    ["audit", "trip", "--out", "report", "--pixels", "full"],
    ["draft", "trip", "--declarations", "notes", "--write"],
    ["kit", "check", "trip"],
    ["filters", "trip"],
    ["sidecars", "trip"],
    ["archive", "trip", "bag", "--rename", "{date}-{counter}"],
    ["verify", "bag", "--card", "trip"],
)


def exact(root: Path) -> dict[str, tuple[Any, ...]]:
    """Everything below a folder: what it is, its size, rights, owner, links, and its times in ns."""
    found: dict[str, tuple[Any, ...]] = {}
    for here, folders, files in os.walk(root):
        for path in (Path(here), *(Path(here) / name for name in (*files, *folders))):
            status = path.lstat()
            data = path.read_bytes() if path.is_file() and not path.is_symlink() else b""
            known = (status.st_mode, status.st_ino, status.st_nlink, status.st_uid, status.st_size)
            found[str(path.relative_to(root))] = (*known, status.st_mtime_ns, status.st_ctime_ns, data)
    return found


@pytest.fixture
def trip(skarven: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two folders of the demo trip, with kit and declarations."""
    kept = tmp_path / "home" / "trip"
    shutil.copytree(skarven / "trip", kept)
    for folder in sorted(path for path in kept.iterdir() if path.is_dir())[2:]:
        shutil.rmtree(folder)
    monkeypatch.chdir(tmp_path / "home")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return kept


def all_commands() -> Iterator[tuple[list[str], int]]:
    for command in COMMANDS:
        yield command, run([*command, "--quiet"] if command[0] == "archive" else command)


def test_a_tree_that_may_be_written_stays_as_it_was(trip: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = exact(trip)
    for command, code in all_commands():
        assert code in (0, 1), (command, capsys.readouterr().err)
        assert exact(trip) == before, command


@pytest.mark.skipif(os.name != "posix", reason="has no such mounts")
def test_a_tree_that_may_not_be_written_does_as_well(
    trip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], read_only: Callable[[Path], None]
) -> None:
    read_only(trip)
    with pytest.raises(OSError):
        (trip / "new").touch()
    for command, code in all_commands():
        assert code in (0, 1), (command, capsys.readouterr().err)


@pytest.fixture
def read_only() -> Iterator[Callable[[Path], None]]:
    mounted: list[Path] = []

    def mount(folder: Path) -> None:
        if subprocess.run(["mount", "--bind", folder, folder], capture_output=True).returncode:
            pytest.skip("may not mount here")
        mounted.append(folder)
        subprocess.run(["mount", "-o", "remount,bind,ro", folder], check=True)

    yield mount
    for folder in mounted:
        subprocess.run(["umount", "-l", folder], check=True)

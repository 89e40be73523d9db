"""A small dump with a kit, and a picture of all files below a folder, to be compared."""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

import pytest

from audit.cli.entry import run
from audit.demo import trip_files
from audit.demo.kit_file import KIT

Tree = dict[str, tuple[object, ...]]


def tree(root: Path) -> Tree:
    """Everything below a folder by name: bytes, time, rights; targets of links; empty folders."""
    found: Tree = {}
    for here, folders, files in os.walk(root):
        for name in (*files, *folders):
            path = Path(here) / name
            status, shown = path.lstat(), path.relative_to(root).as_posix()
            if path.is_symlink():
                found[shown] = ("link", str(path.readlink()))
            elif path.is_dir():
                found[shown] = ("folder", status.st_mode)
            else:
                digest = hashlib.sha256(path.read_bytes()).hexdigest()
                found[shown] = ("file", digest, status.st_mtime_ns, status.st_mode)
    return found


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four pictures of the demo trip, and its kit beside them."""
    place = tmp_path_factory.mktemp("made")
    (place / "card").mkdir()
    (place / "kit.toml").write_text(KIT, encoding="utf-8")
    jpegs = (data for name, data in trip_files(small=True) if name.endswith(".JPG"))
    for number, data in enumerate(islice(jpegs, 4), start=76):
        (place / "card" / f"TARN{number:04d}.JPG").write_bytes(data)
    return place


@pytest.fixture
def place(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The working folder: card/ and kit.toml, and nothing of the user's anywhere else."""
    shutil.copytree(made, tmp_path / "home")
    monkeypatch.chdir(tmp_path / "home")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    yield tmp_path / "home"


@pytest.fixture
def pictures(made: Path) -> Callable[[Path], Tree]:
    """Puts copies of the pictures somewhere; gives their tree."""

    def put(folder: Path) -> Tree:
        shutil.copytree(made / "card", folder, dirs_exist_ok=True)
        return {name: what for name, what in tree(folder).items() if name.startswith("TARN")}

    return put


@pytest.fixture(scope="session")
def tree_of() -> Callable[[Path], Tree]:
    return tree


@pytest.fixture(scope="session")
def same() -> Callable[[Path, Tree], None]:
    """Asserts that all of an earlier tree is still there, as it was; more may have come."""

    def check(folder: Path, before: Tree) -> None:
        after = tree(folder)
        assert {name: after.get(name) for name in before} == before

    return check


@pytest.fixture
def told(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str]]:
    """Runs a command; its exit code, and what it said on stderr."""

    def command(*words: object) -> tuple[int, str]:
        code = run([str(word) for word in words])
        return code, capsys.readouterr().err

    return command


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Of test_more_ways.py, which takes minutes, a quarter; all of it where CORNERSTOP_FUZZ asks for it."""
    if os.environ.get("CORNERSTOP_FUZZ"):
        return
    more = [item for item in items if item.path.name == "test_more_ways.py"]
    left_out = {id(item) for number, item in enumerate(more) if number % 4}
    config.hook.pytest_deselected(items=[item for item in items if id(item) in left_out])
    items[:] = [item for item in items if id(item) not in left_out]

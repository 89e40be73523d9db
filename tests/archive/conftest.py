"""A small dump with names that readers disagree on, and its bag."""

import os
import shutil
from pathlib import Path

import pytest

from audit.jobs.archive import archive

ODD = {b"100%.txt": b"percent", b"line\nend.txt": b"line", b"caf\xe9.txt": b"bytes", b"blank ": b"blank"}


def fill(folder: Path, trip: Path) -> Path:
    shutil.copytree(trip / "2025-09-13 Ravnsund", folder / "day")
    shutil.copy2(trip / "kit.toml", folder / "kit.toml")
    for path in sorted(p for p in (folder / "day").rglob("*") if p.suffix != ".toml" and p.is_file())[6:]:
        path.unlink()
    (folder / "clip.mov").write_bytes(os.urandom(3_000_000))
    (folder / "empty.dat").write_bytes(b"")
    for name, data in ODD.items():
        (folder / os.fsdecode(name)).write_bytes(data)
    return folder


@pytest.fixture(scope="session")
def dump(tmp_path_factory, skarven):
    return fill(tmp_path_factory.mktemp("archive") / "card", skarven / "trip")


@pytest.fixture(scope="session")
def made(tmp_path_factory, dump):
    """The bag of `dump`; only read."""
    target = tmp_path_factory.mktemp("made") / "bag"
    archive(dump, target, pixels="off")
    return target


@pytest.fixture
def bag(made, tmp_path):
    """A copy of the bag to be spoilt, its seal beside it."""
    shutil.copytree(made, tmp_path / "bag")
    shutil.copy2(made.with_name("bag.sha512"), tmp_path / "bag.sha512")
    return tmp_path / "bag"

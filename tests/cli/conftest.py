"""A small dump of two frames, with a kit and a declaration."""

import shutil
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def demo(skarven):
    """The demo trip; only read."""
    return skarven


@pytest.fixture
def dump(demo, tmp_path):
    """A copy of one folder of the demo trip that may be changed."""
    source = demo / "trip"
    folder = next(p.parent for p in sorted(source.rglob("*.JPG")))
    target = tmp_path / "dump" / folder.name
    target.mkdir(parents=True)
    for picture in sorted(folder.glob("*.JPG"))[:4]:
        shutil.copy(picture, target)
    return tmp_path / "dump"


@pytest.fixture
def away(tmp_path, monkeypatch) -> Path:
    """An empty working folder, and no kit in the user's configuration."""
    place = tmp_path / "away"
    place.mkdir()
    monkeypatch.chdir(place)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return place

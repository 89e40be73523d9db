"""Random files of the owner's over random folders of output, random commands: every file is there afterwards.

CORNERSTOP_FUZZ=200 runs as many rounds; the suite runs a few.
"""

from __future__ import annotations

import os
import random
import shutil
from pathlib import Path
from typing import Any

import pytest

ROUNDS = int(os.environ.get("CORNERSTOP_FUZZ", "6"))
NAMES = ("TARN0001.JPG", "notes.txt", "index.html", "kit.toml", "keep.txt", ".hidden", "p1.jpg")
FOLDERS = (
    "",
    "pics",
    "run-0001",
    "run-0002",
    "run-0001/pictures",
    "run-0003/pics",
    "newest",
    "trip",
    "a/b c",
)
OUTS = ("rep", "rep/deep", "X", "card/rep", "X/report")
COMMANDS = (
    ("audit", "card", "--out", "{out}", "-q", "--pixels", "off"),
    ("audit", "card", "--kit", "kit.toml", "--out", "{out}", "-q", "--single", "--pixels", "off"),
    ("audit", "{out}", "--out", "rep", "-q", "--pixels", "off"),
    ("draft", "card", "--kit", "kit.toml", "--declarations", "{out}", "--write", "-q", "--pixels", "off"),
    (
        "corners",
        *["--focal", "16", "--sensor", "36x24", "--thread", "77", "--ring", "standard", "-q", "--svg"],
        "{out}/notes.txt",
    ),
    ("demo", "--out", "{out}", "-q"),
)


@pytest.fixture
def small_demo(monkeypatch: pytest.MonkeyPatch) -> None:
    """A demo of two files, so that many can be written."""
    from audit.demo.score import Score
    from audit.jobs import demo as demonstration

    files = [("trip/kit.toml", b""), ("truth.json", b"{}")]
    monkeypatch.setattr(demonstration, "trip_files", lambda **_: iter(files))
    monkeypatch.setattr(demonstration, "score", lambda *_: Score(0, 0, (), 0, ()))


def lay(place: Path, chance: random.Random, mine: dict[Path, tuple[bytes, int]]) -> None:
    """Puts a few files of the owner's into or beside a folder of output, and notes bytes and time."""
    for _ in range(chance.randint(1, 4)):
        home = place / chance.choice(OUTS) / chance.choice(FOLDERS)
        path = home / chance.choice(NAMES)
        try:
            home.mkdir(parents=True, exist_ok=True)
            with path.open("wb") as file:
                file.write(chance.randbytes(40))
        except OSError:  # a file lies where a folder was wanted
            continue
        time_ns = chance.randint(10**17, 10**18)
        os.utime(path, ns=(time_ns, time_ns))
        mine[path.resolve()] = path.read_bytes(), path.stat().st_mtime_ns


@pytest.mark.parametrize("seed", range(ROUNDS))
def test_every_file_of_the_owners_outlives_random_commands(
    seed: int, place: Path, told: Any, small_demo: None
) -> None:
    chance = random.Random(seed)
    mine: dict[Path, tuple[bytes, int]] = {}
    for path in (*(place / "card").iterdir(), place / "kit.toml"):
        mine[path] = path.read_bytes(), path.stat().st_mtime_ns
    for _ in range(6):
        if chance.random() < 0.6:
            lay(place, chance, mine)
        out = chance.choice(OUTS)
        words = [word.format(out=out) for word in chance.choice(COMMANDS)]
        code, err = told(*words)
        assert code in (0, 1, 2) and "Traceback" not in err, (words, err)
        now = {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in mine if p.is_file()}
        assert {p: now.get(p) for p in mine} == mine, words
    shutil.rmtree(place)

"""A scan by workers is the scan of one process, whatever files and killers do to the workers."""

from __future__ import annotations

import os
import random
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from PIL import Image

from audit.crew.crew import Crew
from audit.pixels.sources import Sketches
from audit.scan import scan

HOSTILE = Path(__file__).parents[2].parent / "shared" / "hostile"
posix = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")


@pytest.fixture(scope="module")
def dump(tmp_path_factory: pytest.TempPathFactory, skarven: Path) -> Path:
    """Pictures of the demo trip; some cut off, some empty."""
    folder = tmp_path_factory.mktemp("dump")
    pictures = sorted((skarven / "trip").rglob("*.JPG"))[:60]
    for number, path in enumerate(pictures * 5):
        data = path.read_bytes()
        cut = {7: 0, 8: 500, 9: 30_000}.get(number % 10, len(data))
        (folder / f"TARN{number:04d}.JPG").write_bytes(data[:cut])
    return folder


def cells(frames: pd.DataFrame) -> dict[str, list[str]]:
    return {name: frames[name].astype(object).map(repr).tolist() for name in frames}


@pytest.mark.parametrize("workers", [1, 2, 4])
def test_the_same_table_by_any_number_of_workers(dump: Path, workers: int) -> None:
    alone = scan(dump)
    with Crew(workers):
        found = scan(dump)
    assert cells(found.frames) == cells(alone.frames)
    assert found.files_seen == alone.files_seen


@posix
def test_workers_killed_at_random_moments_cost_nothing(dump: Path) -> None:
    expected, dice, over = cells(scan(dump).frames), random.Random(7), threading.Event()
    left = 100 if os.environ.get("CORNERSTOP_FUZZ") else 20
    with Crew(2) as crew:

        def kill() -> None:
            for _ in range(left):
                time.sleep(dice.random() * 0.3)
                for worker in list(crew._running)[:1]:
                    worker.kill()
            over.set()

        threading.Thread(target=kill, daemon=True).start()
        while not over.is_set():
            assert cells(scan(dump).frames) == expected


def test_empty_files_ask_no_worker(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(300):
        (tmp_path / f"TARN{number:04d}.JPG").touch()
    alone = cells(scan(tmp_path).frames)
    with Crew(1) as crew:
        monkeypatch.setattr(crew, "do", lambda *_: pytest.fail("a worker was asked"))
        assert cells(scan(tmp_path).frames) == alone
    assert set(alone["problem"]) == {"'the file is empty'"}


@pytest.mark.skipif(not HOSTILE.is_dir(), reason="needs ../shared/hostile")
def test_every_hostile_file_has_its_row() -> None:
    with Crew(2):
        found = scan(HOSTILE)
    named = {file for files in found.frames["files"] for file in files} | set(found.passed_over["path"])
    assert named == {path.name for path in HOSTILE.iterdir()}


@pytest.mark.parametrize("workers", [0, 2])
def test_pictures_by_the_crew_and_ahead(tmp_path: Path, workers: int) -> None:
    rows = [{"frame": str(n), "files": [f"{n}.jpg"], "width_px": None, "height_px": None} for n in range(12)]
    for number in range(12):
        Image.effect_noise((600, 400), 3 * number).convert("RGB").save(tmp_path / f"{number}.jpg")
    (tmp_path / "5.jpg").write_bytes(b"\xff\xd8\xff\xe0rubbish")
    with Sketches(tmp_path, "full") as pictures:
        alone = {row["frame"]: pictures.of(row) for row in rows}
        why = pictures.why(rows[5])
    with Crew(workers), Sketches(tmp_path, "full") as pictures:
        pictures.ahead(rows)
        for row in rows:
            made, expected = pictures.of(row), alone[row["frame"]]
            assert (made is None) == (expected is None) == (row["frame"] == "5")
            if made is not None and expected is not None:
                assert (made.grey == expected.grey).all() and (made.clipped == expected.clipped).all()
        assert pictures.why(rows[5]) == why == "5.jpg: the picture is damaged and cannot be decoded"


@posix
def test_temporary_files_of_a_killed_run_go_with_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "temporary"))
    monkeypatch.setenv("TMPDIR", str(tmp_path / "temporary"))
    place, dump = tmp_path / "temporary", tmp_path / "dump"
    dump.mkdir()
    made: dict[str, Path] = {}
    gone = f".cornerstop-{os.uname().nodename}.999999999.1."
    make: Callable[[str, int], None] = lambda end, mode: (place / f"{gone}{end}").mkdir(mode, parents=True)  # noqa: E731
    for end, mode in (("00000000", 0o700), ("00000001", 0o700), ("00000002", 0o755)):
        make(end, mode)
        made[end] = place / f"{gone}{end}"
        (made[end] / "pixels.sqlite").write_bytes(b"of a killed run")
    (made["00000001"] / "TARN0001.JPG").write_bytes(b"a photograph")
    (place / f"{gone}00000003").symlink_to(dump)
    (dump / "pixels.sqlite").write_bytes(b"somebody's")
    Image.new("RGB", (600, 400)).save(dump / "0.jpg")
    with Sketches(dump, "full") as pictures:
        assert pictures.of({"frame": "0", "files": ["0.jpg"]}) is not None
        ours = [path for path in place.iterdir() if f".{os.getpid()}." in path.name]
        assert [path.stat().st_mode & 0o777 for path in ours] == [0o700]
    assert not made["00000000"].exists()
    assert (made["00000001"] / "TARN0001.JPG").read_bytes() == b"a photograph"
    assert (made["00000002"] / "pixels.sqlite").exists()
    assert (dump / "pixels.sqlite").read_bytes() == b"somebody's"
    assert not ours[0].exists()

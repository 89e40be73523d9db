"""The program on a system without alarms, forks, links, rights and locks, which replaces no open file.

What lacks is taken away by sitecustomize.py beside this file, before anything else is loaded. Windows and
macOS themselves are not at hand.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
CORE = (
    *(
        "scan/test_scan_frames.py",
        "scan/test_scan_values.py",
        "scan/test_ordinary.py",
        "declare/test_join.py",
    ),
    *("exposure/test_scenes.py", "corners/test_predict.py", "report/test_report_page.py"),
)


def run(place: Path, *words: object, lacking: bool = True) -> subprocess.CompletedProcess[str]:
    paths = [str(HERE)] * lacking + [str(ROOT)]
    kept = {"PYTHONPATH": os.pathsep.join(paths), "ELSEWHERE": str(place), "XDG_CACHE_HOME": f"{place}/cache"}
    command = [sys.executable, *map(str, words)]
    done = subprocess.run(command, cwd=place, env=os.environ | kept, capture_output=True, text=True)
    assert "fault of cornerstop" not in done.stderr and "Traceback" not in done.stderr, done.stderr
    return done


def audit(place: Path, out: str, *, lacking: bool = True) -> Path:
    """The run's folder of an audit of the demo trip; newest is a link, which this system may not have."""
    words = ("-m", "audit", "audit", "trip", "--out", out, "--quiet")
    done = run(place, *words, lacking=lacking)
    assert done.returncode == 1, done.stderr
    return max((place / out).glob("run-*"))


@pytest.fixture(scope="module")
def place(skarven: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("elsewhere")
    (place / "trip").symlink_to(skarven / "trip")
    return place


def test_the_names_are_taken_away(place: Path) -> None:
    code = (
        "import os, signal; print(hasattr(os, 'fork'), hasattr(os, 'symlink'), hasattr(signal, 'setitimer'))"
    )
    assert run(place, "-c", code).stdout == "False False False\n"


def test_an_audit_and_the_next_come_to_the_same(place: Path) -> None:
    usual = audit(place, "usual", lacking=False)
    for _ in range(2):
        made = audit(place, "lacking")
        for name in ("frames.csv", "findings.json", "frames.html", "orders.csv"):
            assert (made / name).read_bytes() == (usual / name).read_bytes(), name
    top = (place / "lacking" / "report.html").read_text(encoding="utf-8")
    assert made.name in top and not (place / "lacking" / "newest").exists()
    assert len(list((place / "lacking").glob("run-*"))) == 2


def test_a_draft_an_archive_and_its_verification(place: Path) -> None:
    drafted = run(place, "-m", "audit", "draft", "trip", "--declarations", "notes", "--write")
    assert drafted.returncode in (0, 1) and list((place / "notes").rglob("filters.toml"))
    made = run(place, "-m", "audit", "archive", "trip", "bag", "--quiet")
    assert made.returncode in (0, 1), made.stderr
    assert run(place, "-m", "audit", "verify", "bag", "--card", "trip").returncode == 0


def test_the_core_of_the_suite(place: Path) -> None:
    files = [ROOT / "tests" / name for name in CORE]
    words = ("-q", "-p", "no:cacheprovider", "-p", "no:xdist", f"--basetemp={place / 'base'}")
    done = run(place, "-m", "pytest", *words, *files)
    assert done.returncode == 0, done.stdout[-3000:]

"""The core of the work without what only POSIX has: `elsewhere/sitecustomize.py` takes it from a process."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="asks /proc which files are open")
SUITE = ["tests/scan/test_scan_frames.py", "tests/scan/test_scan_values.py", "tests/declare/test_ranges.py"]
SUITE += ["tests/disk/test_runs.py::test_without_links_the_top_page_names_the_run"]


def elsewhere(place: Path, *words: str, **more: str) -> subprocess.CompletedProcess[str]:
    """A Python process without the names, in a folder."""
    paths = os.pathsep.join((str(ROOT / "tests" / "elsewhere"), str(ROOT)))
    env = os.environ | {"PYTHONPATH": paths, "ELSEWHERE": str(place)} | more
    return subprocess.run(
        [sys.executable, *words], cwd=place, env=env, capture_output=True, encoding="utf-8", errors="replace"
    )


def test_a_core_of_the_suite_passes(tmp_path):
    words = ["-m", "pytest", "-q", "-p", "no:cacheprovider", f"--basetemp={tmp_path / 'base'}"]
    done = elsewhere(tmp_path, *words, "--rootdir", str(ROOT), *(str(ROOT / name) for name in SUITE))
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-1000:]


def test_scan_report_draft_and_archive(place, told):
    assert told("audit", "card", "--out", "here", "-q")[0] in (0, 1)
    for command in (
        *(["audit", "card", "--out", "rep"], ["audit", "card", "--out", "rep"]),
        *(["draft", "card", "--write"], ["audit", "card", "--out", "rep"]),
        *(["kit", "check", "card"], ["archive", "card", "bag"], ["verify", "bag", "--card", "card"]),
    ):
        done = elsewhere(place, "-m", "audit", *command, "-q")
        assert done.returncode in (0, 1), (command, done.stderr)
        assert "Traceback" not in done.stderr
    assert not (place / "rep" / "newest").exists()  # no links: the page leads to the run itself
    runs = sorted(path.name for path in (place / "rep").iterdir() if path.is_dir())
    assert runs == ["run-0001", "run-0002", "run-0003"]
    assert "run-0003/open.html" in (place / "rep" / "report.html").read_text(encoding="utf-8")
    same = [place / folder / "frames.csv" for folder in ("here/newest", "rep/run-0001")]
    assert same[0].read_bytes() == same[1].read_bytes()
    assert not [path for path in place.rglob(".cornerstop-*") if path.name.count(".") > 2]


RIG = ["--kit", "kit.toml", "--lens", "w16", "--all"]


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "cp437"])
def test_a_console_that_is_not_utf8_gets_every_message(place, encoding):
    picture = place / "card" / "TARN0076.JPG"
    picture.with_name("Sk\u00e5rv\u00e5g \u96ea.JPG").write_bytes(picture.read_bytes())
    audit = ["audit", "card", "--out", "rep"]
    for command in (
        *(audit, [*audit, "--json"], ["draft", "card"], ["kit", "check", "card"], ["corners", *RIG]),
        *(["explain", "corners"], ["--help"], ["audit", "--help"], ["audit", "no such \u96ea folder"]),
    ):
        done = elsewhere(place, "-m", "audit", *command, PYTHONIOENCODING=encoding, LC_ALL="C")
        assert done.returncode in (0, 1, 2), (command, done.stderr)
        assert "Traceback" not in done.stderr and "a fault of" not in done.stderr

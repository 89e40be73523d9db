"""An audit without kit and declarations tells what the pictures say, and the next command."""

import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from audit import report
from audit.cli.entry import run
from audit.kit.kit import Kit
from audit.report.language import Language
from audit.report.untold import MOST_CHANGES, untold

UNSAID = {"declaration": "undeclared", "rig": None, "rig_words": None, "filters": []}


@pytest.fixture
def bare_trip(skarven: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demo trip without its kit and declarations, under a name that a shell must not split."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    target = tmp_path / "my trips" / "trip"
    shutil.copytree(skarven / "trip", target, ignore=shutil.ignore_patterns("*.toml"))
    return target


def test_the_terminal_tells_the_changes_and_the_next_commands(
    bare_trip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["audit", str(bare_trip), "--out", str(tmp_path / "out"), "--pixels", "off"]) == 1
    out, err = capsys.readouterr()
    assert err.splitlines()[0].startswith(f"No kit: `cornerstop kit new '{bare_trip}'` begins")
    assert f"`cornerstop draft '{bare_trip}'`" in err.splitlines()[1]
    changes = [line for line in out.splitlines() if line.startswith("  between ")]
    assert len(changes) == MOST_CHANGES and re.search(r"  and \d+ smaller ones\n", out)
    assert re.search(r"between 2025-09-15 18:16 and 18:17 about 10 stops went on: 1/6 s, f/11, ISO 100", out)
    assert "43 setups" in out and "Clock of body A" in out and "Files: 173 in 141 frames" in out
    front = (tmp_path / "out" / "newest" / "index.html").read_text(encoding="utf-8")
    assert front.count("<li>between ") == MOST_CHANGES
    assert str(bare_trip) not in front  # whoever gets the report need not know the reader's folders


def test_a_draft_without_a_kit_tells_them_too_and_what_it_needs(
    bare_trip: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["draft", str(bare_trip), "--pixels", "off"]) == 2
    out, err = capsys.readouterr()
    assert out.count("  between ") == MOST_CHANGES
    assert err.rstrip().endswith(f"begin one with: cornerstop kit new '{bare_trip}'")


def test_one_declared_frame_and_it_is_another_report(
    make_trip: Callable[..., Any], make_frame: Callable[..., Any], tmp_path: Path
) -> None:
    silent, declared = make_frame("TARN0101", **UNSAID), make_frame("TARN0102")
    assert untold(make_trip([silent, declared])) is None
    found = replace(make_trip([silent]), mistakes=(), kit=Kit())
    told = untold(found)
    assert told is not None and told.changes == ()
    for page in (report.render(found), report.render(found, language=Language("de"))):
        assert 'id="untold"' in page
    assert "Was die Bilder von sich aus sagen" in page

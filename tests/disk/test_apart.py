"""What lies in what, by whatever names, and what is refused because of it."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from audit.disk.apart import (
    lies_in,
    refuse_in_report,
    refuse_out,
    refuse_own,
    refuse_temporary,
    report_around,
)
from audit.disk.marker import OUTPUT_MARKER
from audit.errors import AuditError


def test_a_folder_lies_in_itself_and_in_those_above(tmp_path: Path) -> None:
    (tmp_path / "dump" / "card").mkdir(parents=True)
    (tmp_path / "link").symlink_to(tmp_path / "dump" / "card")
    (tmp_path / "way").symlink_to(tmp_path)
    assert lies_in(tmp_path / "dump", tmp_path / "dump")
    assert lies_in(tmp_path / "dump" / "card" / "not" / "yet", tmp_path / "dump")
    assert lies_in(tmp_path / "link", tmp_path / "dump")
    assert lies_in(tmp_path / "link" / "new", tmp_path / "way" / "dump")
    assert lies_in(tmp_path / "dump" / ".." / "dump" / "card", tmp_path / "dump")
    assert not lies_in(tmp_path / "dump", tmp_path / "dump" / "card")
    assert not lies_in(tmp_path / "dump-2", tmp_path / "dump")
    assert not lies_in(tmp_path / "dump", tmp_path / "nowhere")


def test_a_link_that_leads_in_a_circle_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    with pytest.raises(AuditError, match="leads nowhere"):
        lies_in(tmp_path / "a", tmp_path)


@pytest.fixture
def bound(tmp_path: Path) -> Iterator[Path]:
    """A part of the dump, seen at another place."""
    (tmp_path / "dump" / "card" / "deep").mkdir(parents=True)
    place = tmp_path / "other place"
    place.mkdir()
    if subprocess.run(["mount", "--bind", tmp_path / "dump" / "card", place], capture_output=True).returncode:
        pytest.skip("may not mount here")
    yield place
    subprocess.run(["umount", "-l", place], check=True)


@pytest.mark.skipif(os.name != "posix", reason="has no bind mounts")
def test_bind_mounts_are_seen_through(bound: Path, tmp_path: Path) -> None:
    assert lies_in(bound, tmp_path / "dump")
    assert lies_in(bound / "deep" / "new", tmp_path / "dump")
    assert lies_in(tmp_path / "dump" / "card" / "deep", bound)
    assert not lies_in(tmp_path / "dump", bound)
    (tmp_path / "dump" / OUTPUT_MARKER).touch()
    assert report_around(bound / "deep") == tmp_path / "dump"


def test_nothing_of_the_owners_may_lie_in_a_report(tmp_path: Path) -> None:
    run = tmp_path / "report" / "run-0001" / "pics"
    run.mkdir(parents=True)
    (tmp_path / "report" / OUTPUT_MARKER).touch()
    (tmp_path / "link").symlink_to(run)
    refuse_in_report(dump=tmp_path, kit=None)
    for what, path in {"dump": run, "kit": tmp_path / "link" / "kit.toml"}.items():
        with pytest.raises(AuditError, match=f"the {what} lies in the report folder {tmp_path}/report;"):
            refuse_in_report(**{what: path})


def test_the_report_lies_neither_around_the_dump_nor_among_its_files(tmp_path: Path) -> None:
    dump = tmp_path / "dump"
    dump.mkdir()
    (dump / "notes").mkdir()
    (dump / "notes" / "mine.txt").touch()
    refuse_out(tmp_path / "report", dump)
    refuse_out(dump / "report", dump)
    for out in (dump, tmp_path):
        with pytest.raises(AuditError, match=f"{out}: the dump {dump} lies in this folder"):
            refuse_out(out, dump)
    with pytest.raises(AuditError, match=r"mine\.txt"):
        refuse_out(dump / "notes", dump)


def test_our_own_folders_keep_away_from_the_dump(tmp_path: Path) -> None:
    dump, own = tmp_path / "dump", tmp_path / "cache" / "cornerstop"
    dump.mkdir()
    own.mkdir(parents=True)
    refuse_own(own, dump, advice="do so")
    refuse_own(own, tmp_path / "cache" / "another", advice="do so")
    with pytest.raises(AuditError, match=r"lies in the dump .*; do so"):
        refuse_own(own, tmp_path, advice="do so")
    (own / "pictures").mkdir()
    with pytest.raises(AuditError, match="lies in this program's own folder"):
        refuse_own(own, own / "pictures", advice="do so")
    refuse_temporary(tmp_path, dump)
    with pytest.raises(AuditError, match="set TMPDIR"):
        refuse_temporary(dump, tmp_path)

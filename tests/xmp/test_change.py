"""Sidecars on the disk: whole or not at all, and nothing that was not read and merged is replaced."""

import os
from pathlib import Path

import pytest
from samples import SAMPLES

from audit.errors import AuditError
from audit.xmp.change import LeftAloneError, plan, write_all
from audit.xmp.known import Known
from audit.xmp.places import Place

KNOWN = Known({"Schema": "1", "Declaration": "worn"}, ("n10",), "a ring")
OTHER = Known({"Schema": "1", "Declaration": "bare"})
THEIRS = SAMPLES["keywords of the photographer's"]


@pytest.fixture
def place(tmp_path):
    (tmp_path / "a.JPG").write_bytes(b"picture")
    return Place(0, tmp_path / "a.xmp", "a.xmp", False)


@pytest.fixture
def theirs(place):
    place.path.write_bytes(THEIRS)
    place.path.chmod(0o640)
    return Place(0, place.path, "a.xmp", True)


def write(change):
    """The backup of one change. Raises what it was left alone for."""
    done = write_all([change])
    for _, why in done.left:
        raise LeftAloneError(why)
    return done.backups.get(change.place.shown)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_new_one_has_no_backup(place):
    change = plan(place, KNOWN)
    assert change is not None and change.diff.startswith("--- a.xmp\n")
    assert names(place.path.parent) == ["a.JPG"]
    assert write(change) is None
    assert place.path.read_bytes() == change.merged.after
    assert names(place.path.parent) == ["a.JPG", "a.xmp"]


def test_a_backup_is_made_before_the_first_change_only(theirs):
    first = plan(theirs, KNOWN)
    assert write(first) == theirs.path.with_name("a.xmp.bak")
    assert theirs.path.with_name("a.xmp.bak").read_bytes() == THEIRS
    assert theirs.path.stat().st_mode & 0o777 == 0o640
    assert plan(theirs, KNOWN) is None
    assert write(plan(theirs, OTHER)) is None
    assert names(theirs.path.parent) == ["a.JPG", "a.xmp", "a.xmp.bak"]


def test_a_backup_of_somebody_elses_stays(theirs):
    theirs.path.with_name("a.xmp.bak").write_bytes(b"mine")
    assert write(plan(theirs, KNOWN)) == theirs.path.with_name("a.xmp.bak1")
    assert theirs.path.with_name("a.xmp.bak").read_bytes() == b"mine"


def test_what_was_changed_meanwhile_is_left_alone(theirs):
    change = plan(theirs, KNOWN)
    theirs.path.write_bytes(THEIRS + b"\n")
    with pytest.raises(LeftAloneError, match="changed meanwhile"):
        write(change)
    assert theirs.path.read_bytes() == THEIRS + b"\n"
    assert names(theirs.path.parent) == ["a.JPG", "a.xmp"]


def test_what_was_made_meanwhile_is_left_alone(place):
    change = plan(place, KNOWN)
    place.path.write_bytes(b"mine")
    with pytest.raises(LeftAloneError, match="made meanwhile"):
        write(change)
    assert place.path.read_bytes() == b"mine"


@pytest.mark.parametrize("what", ["link", "link into nothing", "folder", "pipe"])
@pytest.mark.parametrize("later", [False, True])
def test_what_is_no_file_is_left_alone(place, what, later):
    change = plan(place, KNOWN) if later else None
    if what == "folder":
        place.path.mkdir()
    elif what == "pipe":
        os.mkfifo(place.path)
    else:
        target = place.path.with_name("real")
        if what == "link":
            target.write_bytes(THEIRS)
        place.path.symlink_to(target)
    with pytest.raises(LeftAloneError):
        write(change) if change else plan(place, KNOWN)
    assert what != "link" or place.path.read_bytes() == THEIRS


def test_what_is_no_xmp_is_left_alone(theirs):
    theirs.path.write_bytes(b"Rating: 4")
    with pytest.raises(LeftAloneError, match="no XML"):
        plan(theirs, KNOWN)


def test_a_disk_that_refuses_ends_the_work(theirs, monkeypatch):
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(AuditError, match=r"a.xmp: cannot be written \(No space left on device\)"):
        write(plan(theirs, KNOWN))
    assert theirs.path.read_bytes() == THEIRS
    assert names(theirs.path.parent) == ["a.JPG", "a.xmp"]


def test_a_kill_leaves_the_old_or_the_new(theirs, monkeypatch):
    """Stopped between backup and change; the next run uses that backup."""
    change = plan(theirs, KNOWN)

    def gone(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", gone)
    with pytest.raises(KeyboardInterrupt):
        write(change)
    assert theirs.path.read_bytes() == THEIRS
    monkeypatch.undo()
    write(plan(theirs, KNOWN))
    assert names(theirs.path.parent) == ["a.JPG", "a.xmp", "a.xmp.bak"]


def test_nothing_known_makes_no_file_and_takes_ours_back(place):
    nothing = Known({"Schema": "1", "ClockTime": "2026-05-02T10:00:00"})
    assert plan(place, nothing) is None
    write(plan(place, KNOWN))
    there = Place(0, place.path, "a.xmp", True)
    write(plan(there, nothing))
    assert b"n10" not in place.path.read_bytes() and b"ClockTime" in place.path.read_bytes()


def test_a_folder_is_looked_through_once_for_all(place, monkeypatch):
    looked = []
    monkeypatch.setattr("audit.xmp.change.clear_leftovers", looked.append)
    monkeypatch.setattr("audit.disk.whole_file.clear_leftovers", looked.append)
    several = [Place(n, place.path.with_name(f"{n}.xmp"), f"{n}.xmp", n < 2) for n in range(4)]
    for one in several[:2]:
        one.path.write_bytes(THEIRS)
    done = write_all([plan(one, KNOWN) for one in several])
    assert looked == [place.path.parent] and done.left == [] and list(done.backups) == ["0.xmp", "1.xmp"]


def test_only_sidecars_are_ever_written(place):
    change = plan(Place(0, place.path.with_name("b.JPG"), "b.JPG", False), KNOWN)
    with pytest.raises(AssertionError):
        write(change)
    assert names(place.path.parent) == ["a.JPG"]

"""Disks that are full or go away while an archive is made: a clear line, nothing half-made; it goes on."""

import os
import shutil
import subprocess
import time
from pathlib import Path

import pytest

from audit.archive import source
from audit.cli.entry import run
from audit.disk.workplace import Workplace
from audit.jobs import archive as job
from audit.jobs import archive_update
from audit.jobs.archive import archive
from audit.jobs.verify import verify


def mount(folder, *options):
    return subprocess.run(["mount", "-t", "tmpfs", "-o", *options, "tmpfs", str(folder)], capture_output=True)


@pytest.fixture
def disk(tmp_path, monkeypatch):
    """A disk of 2 MB; that there is room for all is not asked first."""
    if os.name != "posix" or os.geteuid() != 0:
        pytest.skip("a small disk can be mounted by root only")
    folder = tmp_path / "disk"
    folder.mkdir()
    done = mount(folder, "size=2m")
    if done.returncode:
        pytest.skip(f"no small disk can be mounted here: {done.stderr.decode().strip()}")
    for module in (job, archive_update):
        monkeypatch.setattr(module, "refuse_full", lambda *_rest: None)
    yield folder
    subprocess.run(["umount", "-l", str(folder)], capture_output=True)


def grow(disk):
    subprocess.run(["mount", "-o", "remount,size=200m", str(disk)], check=True)


def pictures(bag):
    return sorted(p.read_bytes() for p in (bag / "data/pictures").rglob("*") if p.is_file())


def test_a_full_disk(dump, disk, capsys):
    command = ["archive", str(dump), str(disk / "bag"), "--pixels", "off"]
    assert run(command) == 2
    assert "No space left on device" in capsys.readouterr().err
    assert not (disk / "bag").exists()
    grow(disk)
    assert run(command) == 0
    assert pictures(disk / "bag") == sorted(p.read_bytes() for p in dump.rglob("*") if p.is_file())
    assert verify(disk / "bag").found.problems == []


def test_one_of_two_disks_is_full(dump, disk, tmp_path, capsys):
    first, second = disk / "bag", tmp_path / "second"
    assert run(["archive", str(dump), str(first), str(second), "--pixels", "off"]) == 2
    assert "not made; name it alone to go on with it" in capsys.readouterr().err
    assert verify(second).found.problems == [] and not first.exists()
    grow(disk)
    assert run(["archive", str(dump), str(first), "--pixels", "off"]) == 0
    assert pictures(first) == pictures(second)


def test_a_disk_that_is_full_in_an_update(tmp_path, disk, capsys):
    card, later = tmp_path / "card", tmp_path / "later"
    for folder in (card, later):
        folder.mkdir()
    (card / "a.txt").write_bytes(b"a")
    (later / "film.mov").write_bytes(os.urandom(2_500_000))
    bag = disk / "bag"
    assert archive(card, bag, pixels="off") is not None
    command = ["archive", "--update", str(bag), str(later), "--pixels", "off"]
    assert run(command) == 2
    assert "No space left on device" in capsys.readouterr().err
    assert verify(bag).found.problems == []  # as it was
    grow(disk)
    assert run(command) == 0
    assert verify(bag).found.problems == []
    assert (bag / "data/pictures/later/film.mov").is_file()


def test_a_disk_that_is_taken_away(dump, disk, tmp_path, monkeypatch, capsys):
    """What lies in its place is another disk by then: nothing is put there."""
    grow(disk)
    real, count = Workplace.begin, []

    def away(self, name):
        count.append(name)
        if len(count) == 4:
            subprocess.run(["umount", "-l", str(disk)], check=True)
        return real(self, name)

    monkeypatch.setattr(Workplace, "begin", away)
    assert run(["archive", str(dump), str(disk / "bag"), "--pixels", "off"]) == 2
    assert "the destination cannot be written" in capsys.readouterr().err
    assert list(disk.iterdir()) == []


def test_a_destination_that_is_removed_meanwhile(dump, tmp_path, monkeypatch, capsys):
    place = tmp_path / "place"
    place.mkdir()
    real, count = Workplace.begin, []

    def away(self, name):
        count.append(name)
        if len(count) == 4:
            shutil.move(place, tmp_path / "elsewhere")
        return real(self, name)

    monkeypatch.setattr(Workplace, "begin", away)
    command = ["archive", str(dump), str(place / "bag"), "--pixels", "off"]
    assert run(command) == 2
    assert "the destination cannot be written" in capsys.readouterr().err
    assert not place.exists()
    monkeypatch.undo()
    shutil.move(tmp_path / "elsewhere", place)
    assert run(command) == 0
    assert verify(place / "bag").found.problems == []


def test_a_removed_bag_is_not_put_in_place_with_gaps(dump, tmp_path, monkeypatch):
    real = Workplace.sync

    def without_one(self, *, back):
        real(self, back=back)
        (self.bag / "data/pictures/clip.mov").unlink()

    monkeypatch.setattr(Workplace, "sync", without_one)
    command = ["archive", str(dump), str(tmp_path / "bag"), "--pixels", "off"]
    assert run(command) == 2
    assert not (tmp_path / "bag").exists()
    monkeypatch.undo()
    assert run(command) == 0  # copied again, since it is not there
    assert verify(tmp_path / "bag").found.problems == []


def test_a_source_that_fails_in_the_middle_of_a_file(dump, tmp_path, monkeypatch):
    """The first MiB is read, then the card errs; the second try gets it all."""
    failed = []

    class Failing(source.CardFile):
        def __init__(self, path, *rest):
            self.asked = path
            super().__init__(path, *rest)

        def read(self, size=-1):
            if self.asked.name == "clip.mov" and self.tell() > 0 and not failed:
                failed.append(time.monotonic())
                raise OSError(5, "Input/output error")
            return super().read(size)

    monkeypatch.setattr(source, "CardFile", Failing)
    assert run(["archive", str(dump), str(tmp_path / "bag"), "--pixels", "off"]) == 0
    assert failed
    assert (tmp_path / "bag/data/pictures/clip.mov").read_bytes() == Path(dump / "clip.mov").read_bytes()

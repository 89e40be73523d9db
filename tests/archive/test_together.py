"""Two destinations in one reading, several cards in one bag, SHA-256, files of the same bytes."""

import csv
import os
import shutil
import subprocess

import pytest

from audit.archive import source
from audit.archive.opened import open_bag
from audit.cli.entry import run
from audit.disk.dumps import one_trip
from audit.disk.workplace import DestinationError, Workplace
from audit.errors import AuditError
from audit.jobs.archive import archive
from audit.jobs.verify import verify


def tree(folder):
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()
    }


def rows(bag, name):
    with (bag / "data/knowledge" / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def small(tmp_path):
    """A card of a few files, two of them of the same bytes."""
    card = tmp_path / "card"
    (card / "one").mkdir(parents=True)
    (card / "two").mkdir()
    (card / "one" / "a.mov").write_bytes(b"film" * 1000)
    (card / "two" / "b.mov").write_bytes(b"film" * 1000)
    (card / "one" / "note.xmp").write_bytes(b"same words")
    (card / "two" / "note.xmp").write_bytes(b"same words")
    (card / "two" / "empty.dat").write_bytes(b"")
    (card / "two" / "empty2.dat").write_bytes(b"")
    return card


def test_two_destinations_in_one_reading(dump, made, tmp_path, monkeypatch):
    opened = []

    class Counting(source.CardFile):
        def __init__(self, path, *rest):
            opened.append(path)
            super().__init__(path, *rest)

    monkeypatch.setattr(source, "CardFile", Counting)
    done = archive(dump, tmp_path / "first", tmp_path / "second", pixels="off")
    assert len(opened) == len(set(opened)) == len([p for p in dump.rglob("*") if p.is_file()])
    assert done.bags == (tmp_path / "first", tmp_path / "second")
    assert tree(tmp_path / "first") == tree(tmp_path / "second") == tree(made)
    for bag in done.bags:
        assert verify(bag).found.problems == []
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(
        ["first", "first.log", "first.sha512", "second", "second.log", "second.sha512"]
    )


def test_one_destination_fails_and_the_other_is_completed(small, tmp_path, monkeypatch, capsys):
    real = Workplace.put

    def full(self, file, data):
        if self.target.name == "second" and b"film" in data:
            raise DestinationError("second: the destination cannot be written")
        real(self, file, data)

    monkeypatch.setattr(Workplace, "put", full)
    first, second = str(tmp_path / "first"), str(tmp_path / "second")
    assert run(["archive", str(small), first, second, "--pixels", "off"]) == 2
    assert "second: not made; name it alone to go on with it" in capsys.readouterr().err
    assert verify(tmp_path / "first").found.problems == []
    assert not (tmp_path / "second").exists()
    monkeypatch.undo()
    assert run(["archive", str(small), second, "--pixels", "off"]) == 0
    assert tree(tmp_path / "first") == tree(tmp_path / "second")


def test_each_of_two_is_resumed_alone(small, tmp_path, monkeypatch):
    real = Workplace.finish

    def stopped(self, seal):
        if self.target.name == "second":
            raise KeyboardInterrupt
        real(self, seal)

    monkeypatch.setattr(Workplace, "finish", stopped)
    with pytest.raises(KeyboardInterrupt):
        archive(small, tmp_path / "first", tmp_path / "second", pixels="off")
    assert (tmp_path / "first").is_dir() and not (tmp_path / "second").exists()
    monkeypatch.undo()
    again = archive(small, tmp_path / "first", tmp_path / "second", pixels="off")
    assert again.bags == (tmp_path / "second",) and again.copied == 0
    assert tree(tmp_path / "first") == tree(tmp_path / "second")
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".")]


def test_the_same_destination_twice_is_refused(small, tmp_path):
    with pytest.raises(AuditError, match="named twice"):
        archive(small, tmp_path / "bag", tmp_path / "bag")


def test_several_cards_in_one_bag(dump, small, tmp_path):
    bag = tmp_path / "bag"
    words = ["archive", str(dump), str(bag), "--with", str(small), "--pixels", "off"]
    assert run(words) == 0
    top = {path.name for path in (bag / "data/pictures").iterdir()}
    assert top == {"card", "card-2"}  # both folders are called card
    assert sorted(tree(bag / "data/pictures/card-2")) == sorted(tree(small))
    assert {row["frame"].partition("/")[0] for row in rows(bag, "frames.csv")} == {"card"}
    opened = open_bag(bag)
    assert opened.dumps == ("card", "card-2")
    assert verify(bag).found.problems == []
    for card in (dump, small):
        assert run(["verify", str(bag), "--card", str(card)]) == 0


def test_the_same_picture_of_two_cards_is_one_frame_as_in_an_audit(dump, tmp_path):
    from audit.jobs.audit import audit

    copy = tmp_path / "copy"
    shutil.copytree(dump, copy)
    cards = one_trip((dump, copy))
    assert archive(cards, tmp_path / "bag", pixels="off") is not None
    frames = rows(tmp_path / "bag", "frames.csv")
    expected = audit(cards, pixels="off").frames
    assert [row["frame"] for row in frames] == expected["frame"].tolist()
    assert [row["declaration"] for row in frames] == expected["declaration"].tolist()


def test_same_bytes_are_always_told(small, tmp_path, capsys):
    assert run(["archive", str(small), str(tmp_path / "bag"), "--pixels", "off"]) == 0
    assert "2 files have the bytes of another" in capsys.readouterr().out
    found = [(row["path"], row["same_as"], row["kept"]) for row in rows(tmp_path / "bag", "duplicates.csv")]
    assert found == [
        ("data/pictures/two/b.mov", "data/pictures/one/a.mov", "true"),
        ("data/pictures/two/note.xmp", "data/pictures/one/note.xmp", "true"),
    ]
    assert (tmp_path / "bag/data/pictures/two/b.mov").is_file()


def test_same_bytes_are_kept_once_on_request(small, tmp_path):
    bag = tmp_path / "bag"
    assert run(["archive", str(small), str(bag), "--once", "--pixels", "off"]) == 0
    assert not (bag / "data/pictures/two/b.mov").exists()
    assert (bag / "data/pictures/two/note.xmp").is_file()  # says something by where it lies
    left = [row for row in rows(bag, "duplicates.csv") if row["kept"] == "false"]
    assert [(row["path"], row["same_as"]) for row in left] == [
        ("data/pictures/two/b.mov", "data/pictures/one/a.mov")
    ]
    assert bytes.fromhex(left[0]["old_name_hex"]) == b"two/b.mov"
    assert verify(bag).found.problems == []
    assert run(["verify", str(bag), "--card", str(small)]) == 0


def test_once_is_resumed_without_copying_again_and_can_be_taken_back(small, tmp_path, monkeypatch):
    monkeypatch.setattr(Workplace, "finish", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
    with pytest.raises(KeyboardInterrupt):
        archive(small, tmp_path / "bag", once=True, pixels="off")
    with pytest.raises(KeyboardInterrupt):
        archive(small, tmp_path / "bag", once=False, pixels="off")
    monkeypatch.undo()
    again = archive(small, tmp_path / "bag", once=True, pixels="off")
    assert again.copied == 0
    assert (tmp_path / "bag/data/pictures/two/b.mov").is_file()  # was kept by the second call, and stays


def test_sha256_besides(small, tmp_path):
    bag = tmp_path / "bag"
    assert run(["archive", str(small), str(bag), "--sha256", "--pixels", "off"]) == 0
    done = subprocess.run(["sha256sum", "-c", "--quiet", "--strict", "manifest-sha256.txt"], cwd=bag)
    assert done.returncode == 0
    assert verify(bag).found.problems == []
    bagit = pytest.importorskip("bagit", reason="bagit is not installed (cornerstop[dev])")
    assert bagit.Bag(os.fspath(bag)).validate(processes=1)
    path = bag / "manifest-sha256.txt"
    data = bytearray(path.read_bytes())
    data[3] ^= 1
    path.write_bytes(bytes(data))
    wrong = {p.path for p in verify(bag).found.problems if p.kind != "cannot be judged"}
    assert wrong == {"manifest-sha256.txt"}

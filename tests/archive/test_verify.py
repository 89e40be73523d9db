"""Every changed, missing and added file is found and named; bags of others are judged by RFC 8493 alone."""

import os
import random
import shutil

import pytest

from audit.archive.judge import Judge
from audit.archive.manifest_text import is_canonical, manifest_text, read_manifest_text
from audit.archive.names import safe_name, safe_names
from audit.cli.entry import run
from audit.jobs.verify import verify


def files(bag):
    return sorted(path for path in bag.rglob("*") if path.is_file())


def named(bag, quick=False):
    """Paths that are accused; what cannot be judged is no accusation."""
    found = Judge(bag, quick=quick).judge().problems
    return {p.path: p.kind for p in found if p.kind != "cannot be judged"}


def flip(path, at, bit):
    data = bytearray(path.read_bytes())
    data[at] ^= 1 << bit
    path.write_bytes(bytes(data))


def test_a_hundred_flipped_bits_are_found_and_named(bag):
    chance = random.Random(8493)
    everything = [path for path in files(bag) if path.stat().st_size] + [bag.with_name("bag.sha512")]
    small = [path for path in everything if path.parent in (bag, bag.parent)]
    places = [chance.choice(everything) for _ in range(60)] + [chance.choice(small) for _ in range(40)]
    for path in places:
        at, bit = chance.randrange(path.stat().st_size), chance.randrange(8)
        flip(path, at, bit)
        name = path.relative_to(bag).as_posix() if path.is_relative_to(bag) else path.name
        assert set(named(bag)) == {name}, (name, at, bit)
        flip(path, at, bit)
    assert named(bag) == {}


@pytest.mark.parametrize("name", ["tagmanifest-sha512.txt", "manifest-sha512.txt", "../bag.sha512"])
def test_every_bit_of_the_seals_counts(bag, name):
    """Upper case, other blanks, another line end: what RFC 8493 lets pass is found in a bag of ours."""
    for at in range(0, min((bag / name).stat().st_size, 300), 7):
        flip(bag / name, at, 5)
        assert set(named(bag)) == {name.removeprefix("../")}, at
        flip(bag / name, at, 5)


def test_twenty_missing_and_twenty_added(bag):
    chance = random.Random(20)
    gone = chance.sample(files(bag), 20)
    for path in gone:
        kept = path.read_bytes()
        path.unlink()
        found = named(bag)
        assert found.get(path.relative_to(bag).as_posix()) == "missing", path
        path.write_bytes(kept)
    folders = [bag, bag / "data", bag / "data/pictures", bag / "data/pictures/day", bag / "data/knowledge"]
    added = {folders[n % 5] / f"more{n}.txt" for n in range(20)}
    for path in added:
        path.write_bytes(b"")
    assert named(bag) == {path.relative_to(bag).as_posix(): "added" for path in added}


def test_a_link_in_place_of_a_file_and_a_linked_folder(bag, tmp_path):
    path = bag / "data/pictures/clip.mov"
    path.rename(tmp_path / "clip.mov")
    path.symlink_to(tmp_path / "clip.mov")
    (bag / "data/more").symlink_to(tmp_path)
    assert named(bag) == {"data/pictures/clip.mov": "changed", "data/more": "added"}


def test_quick_goes_by_size_and_time(bag, capsys):
    assert named(bag, quick=True) == {}
    path = bag / "data/pictures/clip.mov"
    time = path.stat().st_mtime_ns
    flip(path, 1000, 0)
    assert named(bag, quick=True) == {"data/pictures/clip.mov": "changed"}
    os.utime(path, ns=(time, time))
    assert named(bag, quick=True) == {}  # what it cannot see, and why it never says yes to a card
    assert set(named(bag)) == {"data/pictures/clip.mov"}
    assert run(["verify", str(bag), "--quick", "--card", str(bag.parent)]) == 2


def test_each_look_adds_a_line_to_the_log(bag):
    assert verify(bag).logged
    assert verify(bag, quick=True).logged
    lines = bag.with_name("bag.log").read_text(encoding="utf-8").splitlines()
    assert [line.endswith("whole") for line in lines] == [False, True, True]
    bag.with_name("bag.log").write_text("mine\n", encoding="utf-8")
    assert not verify(bag).logged
    assert bag.with_name("bag.log").read_text(encoding="utf-8") == "mine\n"


def test_may_i_format_the_card(bag, dump, tmp_path, capsys):
    card, count = tmp_path / "card", len(files(dump))
    shutil.copytree(dump, card)
    assert run(["verify", str(bag), "--card", str(card)]) == 0
    assert f"YES: {count} files, 1 verified copy of each" in capsys.readouterr().out
    shutil.copytree(bag, tmp_path / "second")
    (tmp_path / "second.sha512").write_text(
        bag.with_name("bag.sha512").read_text(encoding="utf-8").replace("bag/", "second/"), encoding="utf-8"
    )
    both = ["verify", str(bag), str(tmp_path / "second"), "--card", str(card)]
    assert run(both) == 0
    assert "2 verified copies of each" in capsys.readouterr().out
    (card / "new.jpg").write_bytes(b"not yet archived")
    assert run(both) == 1
    out = capsys.readouterr().out
    assert "card: new.jpg: is in no bag that is whole" in out and f"NO: 1 of {count + 1} files" in out
    (card / "new.jpg").unlink()
    flip(bag / "data/pictures/clip.mov", 5, 5)
    assert run(["verify", str(bag), "--card", str(card)]) == 1
    assert "NO" in capsys.readouterr().out
    empty = tmp_path / "empty"
    empty.mkdir()
    assert run(["verify", str(tmp_path / "second"), "--card", str(empty)]) == 1
    assert run(["verify", str(bag), "--card", str(tmp_path)]) == 2  # the bag would go with it


def test_the_same_bag_named_twice_is_one_copy(bag, dump, capsys):
    assert run(["verify", str(bag), str(bag), "--card", str(dump)]) == 0
    assert "1 verified copy of each" in capsys.readouterr().out


def test_names_that_readers_disagree_on():
    assert safe_name(b"a/100%.jpg") == "a/100_25.jpg"
    assert safe_name(b"a\r\n") == "a_0d_0a"
    assert safe_name(b"caf\xe9") == "caf_e9"
    assert safe_name("Fjæra 1.jpg".encode()) == "Fjæra 1.jpg"
    assert safe_names([b"a%", b"a_25"]) == {b"a%": "a_25-2", b"a_25": "a_25"}
    assert len(set(safe_names([b"a%", b"a_25", b"a_25-2", b"a\x25\n", b"a%_0a"]).values())) == 5


def test_the_canonical_form():
    data = manifest_text({"data/b": "AB", "data/a": "cd", "data/\u00e9": "ef"})
    assert data == "cd  data/a\nab  data/b\nef  data/\u00e9\n".encode()
    assert is_canonical(data)
    for other in (data[:-1], data + b"\n", data.replace(b"  ", b" "), data.upper(), b"\xef\xbb\xbf" + data):
        assert not is_canonical(other)
    assert read_manifest_text(b"ab data/a%25%0A\n").digests == {"data/a%\n": "ab"}
    assert read_manifest_text(b"ab data/../x\nab data/a\nab data/a\n").bad_lines == (1, 3)

"""A later card and a corrected declaration for a bag; stopped anywhere, it is ended or taken back."""

import csv
import hashlib
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from audit.archive.opened import open_bag
from audit.cli.entry import run
from audit.disk import replacing
from audit.errors import AuditError
from audit.jobs import archive_commit
from audit.jobs.archive_update import update
from audit.jobs.verify import verify

NO_FILTER = "[[worn]]\nbare = true\n"


def tree(folder):
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()
    }


def whole(bag):
    return verify(bag).found.problems == []


def declared(bag):
    with (bag / "data/knowledge/frames.csv").open(encoding="utf-8", newline="") as file:
        return {row["frame"]: row["declaration"] for row in csv.DictReader(file)}


def nothing_beside(bag):
    return not [path for path in bag.parent.iterdir() if path.name.startswith(".")]


@pytest.fixture
def card(dump, tmp_path):
    """A later card: two frames and a film."""
    folder = tmp_path / "later"
    folder.mkdir()
    names = sorted(p for p in (dump / "day").iterdir() if p.suffix.lower() in (".jpg", ".dng"))
    for path in names[:2]:
        shutil.copy2(path, folder / path.name)
    (folder / "film 100%.mov").write_bytes(b"film" * 100_000)
    return folder


@pytest.fixture
def corrected(tmp_path):
    """A tree that says of the first day that nothing was on."""
    tree = tmp_path / "notes"
    (tree / "day").mkdir(parents=True)
    (tree / "day" / "filters.toml").write_text(NO_FILTER, encoding="utf-8")
    return tree


def test_a_later_card_comes_in(bag, card, capsys):
    before = tree(bag)
    assert run(["archive", "--update", str(bag), str(card), "--pixels", "off"]) == 0
    assert "3 files more" in capsys.readouterr().out
    after = tree(bag)
    assert sorted(tree(bag / "data/pictures/later").values()) == sorted(tree(card).values())
    assert {k: v for k, v in before.items() if k.startswith("data/pictures")}.items() <= after.items()
    assert whole(bag) and nothing_beside(bag)
    assert run(["verify", str(bag), "--card", str(card)]) == 0
    old = [name for name in after if name.startswith("history/") and name.endswith("/manifest-sha512.txt")]
    assert before["manifest-sha512.txt"] in [after[name] for name in old]
    assert not [name for name in after if name.count("/") == 0 and name.startswith("old")]
    lost = set(before.values()) - set(after.values())
    assert not lost  # nothing that was in the bag went away
    assert "later/" in (bag / "data/knowledge/frames.csv").read_text(encoding="utf-8")


def test_bags_with_a_history_are_valid_for_others(bag, card):
    bagit = pytest.importorskip("bagit", reason="bagit is not installed (cornerstop[dev])")
    update(bag, [card], pixels="off")
    assert bagit.Bag(str(bag)).validate(processes=1)
    for name in ("manifest-sha512.txt", "tagmanifest-sha512.txt"):
        assert subprocess.run(["sha512sum", "-c", "--quiet", "--strict", name], cwd=bag).returncode == 0
    assert subprocess.run(["sha512sum", "-c", "--quiet", "bag.sha512"], cwd=bag.parent).returncode == 0


def test_flips_are_found_in_history_too(bag, card):
    update(bag, [card], pixels="off")
    chance = random.Random(22)
    everything = [p for p in sorted(bag.rglob("*")) if p.is_file() and p.stat().st_size]
    old = [path for path in everything if path.is_relative_to(bag / "history")]
    assert len(old) > 5
    for path in [*chance.sample(old, 6), *chance.sample(everything, 10)]:
        data = path.read_bytes()
        at = chance.randrange(len(data))
        path.write_bytes(data[:at] + bytes([data[at] ^ 1 << chance.randrange(8)]) + data[at + 1 :])
        found = verify(bag).found.problems
        wrong = {p.path for p in found if p.kind != "cannot be judged"}
        assert wrong == {path.relative_to(bag).as_posix()}
        path.write_bytes(data)
    gone = old[0].read_bytes()
    old[0].unlink()
    assert [(p.path, p.kind) for p in verify(bag).found.problems] == [
        (old[0].relative_to(bag).as_posix(), "missing")
    ]
    old[0].write_bytes(gone)
    assert whole(bag)


def test_a_corrected_declaration_is_judged_again(bag, corrected):
    words = (bag / "data/pictures/day/filters.toml").read_bytes()
    old = (bag / "data/knowledge/declarations/day/filters.toml").read_bytes()
    assert set(declared(bag).values()) != {"bare"}
    done = update(bag, declarations=corrected, pixels="off")
    assert done.changed and whole(bag) and nothing_beside(bag)
    assert set(declared(bag).values()) == {"bare"}
    assert (bag / "data/pictures/day/filters.toml").read_bytes() == words  # the card's own stays
    assert (bag / "data/knowledge/declarations/day/filters.toml").read_text(encoding="utf-8") == NO_FILTER
    assert old in tree(bag / "history").values()
    again = update(bag, pixels="off")  # what was corrected stays so
    assert not again.changed
    assert set(declared(bag).values()) == {"bare"}


def test_an_update_without_news_changes_nothing(bag):
    before = tree(bag)
    assert not update(bag, pixels="off").changed
    assert tree(bag) == before and nothing_beside(bag)


def test_a_bag_that_is_not_as_it_was_is_not_updated(bag, card):
    (bag / "data/pictures/mine.jpg").write_bytes(b"mine")
    before = tree(bag)
    with pytest.raises(AuditError, match=r"added: data/pictures/mine\.jpg"):
        update(bag, [card], pixels="off")
    assert tree(bag) == before
    with pytest.raises(AuditError, match="is no bag"):
        update(card, pixels="off")
    with pytest.raises(AuditError, match="lie in each other"):
        update(bag, [bag / "data/pictures"], pixels="off")


def test_stopped_between_any_two_moves_it_is_ended(bag, card, corrected, monkeypatch):
    """Each move in turn is the last one of a run."""
    real, count = replacing._move, [0]
    stop_at = [1]

    def stopping(source, target):
        real(source, target)
        count[0] += 1
        if count[0] == stop_at[0]:
            count[0], stop_at[0] = 0, stop_at[0] * 2  # 1, 2, 4, ... moves a run
            raise KeyboardInterrupt

    monkeypatch.setattr(replacing, "_move", stopping)
    stops = 0
    while True:
        try:
            update(bag, [card], declarations=corrected, pixels="off")
            break
        except KeyboardInterrupt:
            stops += 1
            assert stops < 40
    assert stops >= 5
    assert whole(bag) and nothing_beside(bag)
    assert sorted(tree(bag / "data/pictures/later").values()) == sorted(tree(card).values())
    assert not (bag / "data/pictures/later-2").exists()
    assert set(declared(bag).values()) >= {"bare"}


def test_what_was_begun_of_another_update_is_taken_back(bag, card, monkeypatch, capsys):
    before = tree(bag)

    def stopped(*_rest):
        raise KeyboardInterrupt

    monkeypatch.setattr(archive_commit, "replace_in_bag", stopped)
    with pytest.raises(KeyboardInterrupt):
        update(bag, [card], pixels="off")
    monkeypatch.undo()
    assert tree(bag) == before and not nothing_beside(bag)
    assert run(["verify", str(bag), "-q"]) == 0
    assert "an update was stopped before its end" in capsys.readouterr().err
    assert run(["archive", "--update", str(bag), "--pixels", "off"]) == 0
    assert "taken back" in capsys.readouterr().out
    assert tree(bag) == before and nothing_beside(bag)


def test_what_was_copied_is_not_copied_again(bag, card, monkeypatch):
    def stopped(*_rest):
        raise KeyboardInterrupt

    monkeypatch.setattr(archive_commit, "replace_in_bag", stopped)
    with pytest.raises(KeyboardInterrupt):
        update(bag, [card], pixels="off")
    monkeypatch.undo()
    assert update(bag, [card], pixels="off").copied == 0
    assert whole(bag) and sorted(tree(bag / "data/pictures/later").values()) == sorted(tree(card).values())


def test_killed_at_any_moment_an_update_goes_on(bag, card, corrected):
    chance = random.Random(21)
    words = ["archive", "--update", str(bag), str(card), "--declarations", str(corrected), "--pixels", "off"]
    command = [sys.executable, "-m", "audit", *words, "-q"]
    before = {n: d for n, d in tree(bag).items() if n.startswith("data/pictures")}
    for _ in range(int(os.environ.get("CORNERSTOP_KILLS", "6")) // 2):
        process = subprocess.Popen(command, cwd=Path(__file__).parents[2], stderr=subprocess.PIPE)
        time.sleep(chance.uniform(0.5, 5.0))
        process.send_signal(signal.SIGKILL)
        process.communicate()
        if (bag / "data/pictures/later").exists() and nothing_beside(bag):
            break
    else:
        assert subprocess.run(command, cwd=Path(__file__).parents[2]).returncode == 0
    assert whole(bag) and nothing_beside(bag)
    assert before.items() <= tree(bag).items()
    assert sorted(tree(bag / "data/pictures/later").values()) == sorted(tree(card).values())
    digest = hashlib.sha512((bag / "tagmanifest-sha512.txt").read_bytes()).hexdigest()
    assert bag.with_name("bag.sha512").read_text(encoding="utf-8").startswith(digest)


def test_same_bytes_come_in_once_on_request(bag, card):
    done = update(bag, [card], once=True, pixels="off")
    assert done.copied == 3
    assert [p.name for p in (bag / "data/pictures/later").iterdir()] == ["film 100_25.mov"]
    text = (bag / "data/knowledge/duplicates.csv").read_text(encoding="utf-8")
    assert text.count(",false,") == 2
    assert whole(bag)
    assert run(["verify", str(bag), "--card", str(card)]) == 0


def test_a_card_for_a_bag_of_several_is_one_of_them(dump, card, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    (other / "a.txt").write_bytes(b"a")
    bag = tmp_path / "bag"
    assert run(["archive", str(other), str(bag), "--with", str(dump), "--pixels", "off"]) == 0
    update(bag, [card], pixels="off")
    assert open_bag(bag).dumps == ("other", "card", "later")
    assert whole(bag)

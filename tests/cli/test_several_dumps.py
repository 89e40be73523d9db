"""Several dumps are one trip: findings as for one dump, copies one frame, drafts where the frames are."""

import json
import os
import shutil
import sys
from pathlib import Path

import pytest

from audit.cli.entry import run
from audit.cli.pasted import AsTyped
from audit.declare import load
from audit.disk.dumps import Dumps, one_trip, title
from audit.jobs.audit import audit
from audit.jobs.draft import draft_dump
from audit.scan import scan

FIRST = ("card-1", "2025-09-13 Ravnsund", "2025-09-15 Lomsvik")


@pytest.fixture(scope="module")
def cards(demo, tmp_path_factory):
    """The demo trip's two cards and its days on two dumps, and a copy of the first dump on a disk."""
    place = tmp_path_factory.mktemp("cards")
    for item in (demo / "trip").iterdir():
        card = place / ("card-a" if item.name in FIRST else "card-b")
        card.mkdir(exist_ok=True)
        (shutil.copytree if item.is_dir() else shutil.copy)(item, card / item.name)
    shutil.copytree(place / "card-a", place / "disk" / "card-a")
    return place


def below(name: str) -> str:
    """A path of the table without the name of its dump."""
    return name.partition("/")[2]


def told(findings, short):
    return sorted((f.check, f.level, tuple(sorted(short(name) for name in f.frames))) for f in findings)


def test_two_cards_and_a_copy_are_audited_as_the_one_dump(demo, cards):
    kit = next(path for path in ((demo / "trip" / "kit.toml"), demo / "kit.toml") if path.is_file())
    one = audit(demo / "trip", kit_path=kit, pixels="off")
    dumps = one_trip([cards / "card-a", cards / "card-b", cards / "disk" / "card-a"])
    several = audit(dumps, kit_path=kit, pixels="off")
    assert several.title == "card-a + card-b + card-a-2"
    assert sorted(map(below, several.frames["frame"])) == sorted(one.frames["frame"])
    assert set(several.frames["folder"].str.partition("/")[0]) == {"card-a", "card-b"}
    assert told(several.findings, below) == told(one.findings, str)
    columns = ["declaration", "rig_words", "corner_loss_stops", "captured_at", "body", "estimated_stops"]
    ours = several.frames.assign(frame=several.frames["frame"].map(below)).sort_values("frame")
    theirs = one.frames.sort_values("frame")
    for name in columns:
        assert ours[name].astype(str).tolist() == theirs[name].astype(str).tolist(), name


def test_every_file_is_in_one_frame_or_passed_over(cards):
    dumps = one_trip([cards / "card-a", cards / "card-b", cards / "disk" / "card-a"])
    seen = scan(dumps)
    files = [file for files in seen.frames["files"] for file in files]
    assert len(files) == len(set(files))
    assert len(files) + len(seen.passed_over) == seen.files_seen
    copies = [file for copies in seen.frames["copies"] for file in copies]
    assert any(file.startswith("card-a-2/") for file in copies)


def test_the_same_bytes_are_one_frame_whatever_the_name_and_time(tmp_path):
    for name, end in (("a/x", b"1"), ("b/z", b"1"), ("b/w", b"2")):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / f"{name}.dng").write_bytes(b"II*\0" + bytes(100_000) + end)
    frames = scan(one_trip([tmp_path / "a", tmp_path / "b"])).frames
    raws = [sorted(files) for files in frames["files"]]
    assert sorted(raws) == [["a/x.dng", "b/z.dng"], ["b/w.dng"]]


def test_a_draft_goes_into_the_dump_of_its_frames(demo, cards, tmp_path):
    kit = next(path for path in ((demo / "trip" / "kit.toml"), demo / "kit.toml") if path.is_file())
    for name in ("card-a", "card-b"):
        shutil.copytree(cards / name, tmp_path / name, ignore=shutil.ignore_patterns("filters.toml"))
    dumps = one_trip([tmp_path / "card-a", tmp_path / "card-b"])
    drafted = draft_dump(dumps, kit_path=kit, pixels="off")
    assert drafted.changes
    for change in drafted.changes:
        name, _, folder = change.shown.partition("/")
        assert change.path == tmp_path / name / folder
        assert change.path.parent.is_dir()
    assert {change.shown.partition("/")[0] for change in drafted.changes} == {"card-a", "card-b"}
    tree = draft_dump(dumps, kit_path=kit, pixels="off", declarations=tmp_path / "notes")
    assert {c.path for c in tree.changes} == {tmp_path / "notes" / c.shown for c in drafted.changes}


def test_a_mirror_tree_holds_a_folder_for_each_dump(tmp_path):
    for name in ("a", "b", "notes/a", "notes/c"):
        (tmp_path / name).mkdir(parents=True)
    text = "[[worn]]\nbare = true\n"
    for name in ("b", "notes/a", "notes/c"):
        (tmp_path / name / "filters.toml").write_text(text, encoding="utf-8")
    loaded = load(one_trip([tmp_path / "a", tmp_path / "b"]), None, tmp_path / "notes")
    assert [d.folder for d in loaded.declarations] == ["a", "b", "c"]
    assert [m.path for m in loaded.warnings] == ["c/filters.toml"]


def test_names_are_unique_and_stay_near_the_folders(tmp_path):
    folders = [tmp_path / name for name in ("x/card", "y/card", "z/Card", "x/card-2")]
    for folder in folders:
        folder.mkdir(parents=True)
    dumps = one_trip(folders)
    assert isinstance(dumps, Dumps)
    assert list(dumps.named) == ["card", "card-3", "Card-4", "card-2"]
    assert dumps / "card/100BRAT/a.jpg" == folders[0] / "100BRAT" / "a.jpg"
    assert one_trip(folders[:1]) == folders[0]
    assert title(folders[0]) == "card"


@pytest.mark.skipif(sys.platform != "linux", reason="file names of any bytes are Linux's")
def test_a_dump_whose_name_is_no_utf8(tmp_path):
    odd = Path(os.fsdecode(os.fsencode(tmp_path) + b"/c\xffd"))
    for folder in (odd, tmp_path / "b"):
        folder.mkdir()
        (folder / "x.dng").write_bytes(b"II*\0" + bytes(100))
    dumps = one_trip([odd, tmp_path / "b"])
    names = sorted(file for files in scan(dumps).frames["files"] for file in files)
    assert names == ["b/x.dng", "c\\xffd/x.dng"]
    assert (dumps / "c\\xffd/x.dng").is_file()


def refused(words, capsys) -> str:
    assert run(words) == 2
    err = capsys.readouterr().err.strip()
    assert "\n" not in err
    return err


def test_what_is_refused(tmp_path, away, capsys):
    for name in ("a/100BRAT", "b"):
        (tmp_path / name).mkdir(parents=True)
    a, b = str(tmp_path / "a"), str(tmp_path / "b")
    for command in ("audit", "draft"):
        assert "name each dump once" in refused([command, a, b, f"{a}/../a"], capsys)
        assert "lies in the dump" in refused([command, a, f"{a}/100BRAT"], capsys)
        assert "lies in the dump" in refused([command, f"{a}/100BRAT", a], capsys)
    for out in (a, f"{b}/report", str(tmp_path)):
        assert "name " in refused(["audit", a, b, "--out", out], capsys)
    assert not (tmp_path / "b" / "report").exists()


def test_printed_commands_name_every_dump(dump, away, tmp_path, capsys):
    other = tmp_path / "other card"
    shutil.copytree(dump, other)
    assert run(["audit", str(dump), str(other), "--out", "out", "--pixels", "off"]) in (0, 1)
    err = capsys.readouterr().err
    assert f"cornerstop draft {dump} '{other}'" in err
    assert f"cornerstop kit new {dump} --out {tmp_path}/kit.toml && cornerstop kit new '{other}' --add" in err
    found = json.loads((away / "out" / "newest" / "findings.json").read_text(encoding="utf-8"))
    assert found["counts"]["frames"] == 4
    typed = AsTyped(one_trip([dump, other]), None, None, None, "preview", False)
    assert typed.answer("A", "none").startswith(f"cornerstop draft {dump} '{other}' --write")

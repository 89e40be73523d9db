"""Bags of form 1, the first, stay readable: one is kept in fixtures/archives as it was made."""

import csv
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from audit.archive.bag_info import OURS, read_bag_info
from audit.archive.opened import open_bag
from audit.jobs.archive_update import update
from audit.jobs.audit import audit
from audit.jobs.verify import verify

ROOT = Path(__file__).parents[2]
KEPT = ROOT / "fixtures" / "archives" / "form-1"


@pytest.fixture
def bag(tmp_path):
    shutil.copytree(KEPT, tmp_path / "form-1")
    shutil.copy2(KEPT.with_name("form-1.sha512"), tmp_path / "form-1.sha512")
    return tmp_path / "form-1"


def frames(bag):
    with (bag / "data/knowledge/frames.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_it_is_whole_and_says_its_form(bag):
    assert read_bag_info((bag / "bag-info.txt").read_bytes())[OURS.lower()] == ["1"]
    assert verify(bag).found.problems == []


def test_what_was_worn_is_read_without_this_program(bag):
    command = [sys.executable, "-I", str(ROOT / "docs" / "read_bag.py"), str(bag)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    lines = [line.split("\t") for line in done.stdout.splitlines()]
    assert [line[:2] for line in lines] == [["day/BECK0424", "worn"], ["day/BECK0425", "worn"]]
    assert all(line[2] for line in lines)
    assert [line[2] for line in lines] == [row["rig_words"] for row in frames(bag)]


def test_it_is_a_dump(bag):
    opened = open_bag(bag)
    again = audit(opened.dump, kit_path=opened.kit, declarations=opened.declarations, pixels="off").frames
    assert again["frame"].tolist() == [row["frame"] for row in frames(bag)]
    assert again["declaration"].tolist() == [row["declaration"] for row in frames(bag)]


def test_a_card_can_be_added(bag, tmp_path):
    card = tmp_path / "later"
    card.mkdir()
    (card / "film.mov").write_bytes(b"film")
    for path in (p for p in bag.rglob("*") if p.is_file()):
        os.utime(path)  # as in a checkout: times tell nothing there
    before = {row["path"] for row in csv.DictReader((bag / "data/knowledge/files.csv").open(newline=""))}
    update(bag, [card], pixels="off")
    after = {row["path"] for row in csv.DictReader((bag / "data/knowledge/files.csv").open(newline=""))}
    assert {path for path in before if "/pictures/" in path and "knowledge" not in path} <= after
    assert verify(bag).found.problems == []

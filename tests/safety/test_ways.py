"""Ways to lose a photograph, a kit or a note: none loses one. Most of them did, once."""

from __future__ import annotations

import os
import sqlite3
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from audit.disk.building import Building
from audit.disk.runs import Doors, add_run

Told = Callable[..., tuple[int, str]]


@pytest.fixture
def add() -> Callable[[str], Any]:
    """Puts a small run into a folder of reports, without an audit."""

    def fill(run: Building) -> None:
        run.write("index.html", "a page")
        run.write("pictures/p1.jpg", b"a picture")

    doors = Doors(entrance=lambda run: run, top=lambda address: address)
    return lambda out: add_run(Path(out), fill, doors)


def audit(told: Told, *more: object) -> tuple[int, str]:
    return told("audit", "card", "--out", "rep", "-q", *more)


@pytest.mark.parametrize("single", [(), ("--single",)])
@pytest.mark.parametrize("within", ["pics", "run-0001/pics"])
@pytest.mark.parametrize("named", ["as it is", "by a link", "by another spelling"])
def test_pictures_in_a_report_are_no_dump(place, told, pictures, same, single, within, named):
    audit(told, *single)
    home = place / "rep" / within
    before = pictures(home)
    (place / "link").symlink_to(home)
    dump = {"as it is": home, "by a link": "link", "by another spelling": f"rep/../rep/./{within}"}[named]
    code, err = told("audit", dump, "--kit", "kit.toml", "--out", "rep", "-q", *single)
    assert code == 2 and err.count("\n") == 1 and "rep" in err and "lies in" in err
    code, err = told("audit", dump, "--kit", "kit.toml", "--out", "elsewhere", "-q", *single)
    assert code == 2 and "report folder" in err
    same(home, before)


@pytest.mark.parametrize("single", [(), ("--single",)])
def test_what_the_owner_puts_into_runs_and_beside_them_outlives_all_runs(place, told, pictures, same, single):
    audit(told, *single)
    first = place / "rep" / "run-0001"
    before = {home: pictures(home) for home in (place / "rep" / "pics", first / "pics", first / "pictures")}
    (place / "rep" / ".hidden").write_text("mine")
    page = first / ("report.html" if single else "index.html")
    page.write_text("my notes")
    said = ""
    for _ in range(4):
        code, err = audit(told, *single)
        assert code in (0, 1)
        said += err
    for home, tree in before.items():
        same(home, tree)
    assert page.read_text() == "my notes" and (place / "rep" / ".hidden").read_text() == "mine"
    assert said.count("it stays") == 1


def test_a_folder_given_by_a_link_stays_as_it_is(place, told, pictures, same):
    (place / "real").mkdir()
    (place / "rep").symlink_to("real")
    audit(told)
    before = pictures(place / "real" / "pics")
    assert audit(told)[0] in (0, 1)
    same(place / "real" / "pics", before)
    assert (place / "rep").is_symlink()


@pytest.mark.parametrize("what", ["kit", "declarations"])
def test_kit_and_declarations_in_a_report_are_refused(place, told, what):
    audit(told, "--single")
    (place / "rep" / "kit.toml").write_bytes((place / "kit.toml").read_bytes())
    (place / "rep" / "notes").mkdir()
    (place / "rep" / "notes" / "filters.toml").write_text("# mine\n")
    named = {"kit": ("--kit", "rep/kit.toml"), "declarations": ("--declarations", "rep/notes")}[what]
    for _ in range(4):
        code, err = audit(told, "--single", *named)
        assert code == 2 and err.count("\n") == 1 and "report folder" in err
    assert (place / "rep" / "kit.toml").read_bytes() == (place / "kit.toml").read_bytes()
    assert (place / "rep" / "notes" / "filters.toml").read_text() == "# mine\n"


@pytest.mark.parametrize("out", ["card", ".", "..", "card/../card", "link", "kit.toml", "link.toml", "full"])
def test_an_out_that_is_something_else_is_refused_and_left(place, told, tree_of, out):
    (place / "link").symlink_to("card")
    (place / "link.toml").symlink_to("kit.toml")
    (place / "full").mkdir()
    (place / "full" / "diary.txt").write_text("dear diary")
    before = tree_of(place.parent)
    code, err = told("audit", "card", "--out", out, "-q")
    assert code == 2 and err.count("\n") == 1
    assert tree_of(place.parent) == before


def test_a_dangling_link_as_out_gets_its_folder(place, told):
    (place / "rep").symlink_to("later")
    assert audit(told)[0] in (0, 1)
    assert (place / "rep").is_symlink() and (place / "later" / "newest" / "frames.csv").is_file()


@pytest.mark.parametrize("name", ["newest", "report.html", "run-0002", "orders.csv", ".cornerstop-mine"])
@pytest.mark.parametrize("kind", ["folder", "file", "link"])
def test_the_owners_things_under_names_like_ours_stay(place, add, pictures, tree_of, name, kind):
    add("rep")
    mine = place / "rep" / name
    if mine.is_symlink() or mine.is_file():
        mine.unlink()
    pictures(place / "mine")
    if kind == "folder":
        pictures(mine)
    elif kind == "file":
        mine.write_text("mine")
    else:
        mine.symlink_to(place / "mine")

    def what_is_there():
        return tree_of(mine), mine.is_symlink() and mine.readlink(), mine.is_file() and mine.read_text()

    before, photographs = what_is_there(), tree_of(place / "mine")
    for _ in range(4):
        add("rep")
    assert what_is_there() == before
    assert tree_of(place / "mine") == photographs


def test_a_hard_link_into_a_run_costs_only_the_name_that_is_not_ours(place, add):
    add("rep")
    os.link(place / "card" / "TARN0076.JPG", place / "rep" / "run-0001" / "pictures" / "best.jpg")
    for _ in range(4):
        add("rep")
    assert (place / "rep" / "run-0001" / "pictures" / "best.jpg").samefile(place / "card" / "TARN0076.JPG")


def test_a_list_copied_into_a_folder_of_pictures_names_none_of_them(place, add, pictures, same):
    add("rep")
    before = pictures(place / "rep" / "run-0002")
    (place / "rep" / "run-0002" / ".cornerstop-output").write_bytes(
        (place / "rep" / "run-0001" / ".cornerstop-output").read_bytes()
    )
    for _ in range(5):
        add("rep")
    same(place / "rep" / "run-0002", before)


@pytest.mark.parametrize("taken", ["photo.jpg", "kit.toml", "folder", "link"])
@pytest.mark.parametrize("command", ["corners"])
def test_a_drawing_replaces_nothing_of_the_owners(place, told, tree_of, taken, command):
    (place / "photo.jpg").write_bytes((place / "card" / "TARN0076.JPG").read_bytes())
    (place / "folder").mkdir()
    (place / "link").symlink_to("photo.jpg")
    before = tree_of(place)
    asked = ("--focal", 16, "--sensor", "36x24", "--thread", 77, "--ring", "standard", "--slots", 2)
    code, err = told(command, *asked, "--svg", taken, "-q")
    assert code == 2 and "Traceback" not in err
    assert tree_of(place) == before


def test_a_cache_in_the_dump_or_around_it_is_refused(place, told, monkeypatch, tree_of):
    before = tree_of(place)
    monkeypatch.setenv("XDG_CACHE_HOME", str(place / "card"))
    code, err = audit(told)
    assert code == 2 and err.count("\n") == 1 and "own folder" in err and "--no-cache" in err
    monkeypatch.setenv("XDG_CACHE_HOME", str(place.parent))
    (place.parent / "cornerstop").symlink_to(place)
    assert audit(told)[0] == 2
    assert tree_of(place) == before
    (place.parent / "cornerstop").unlink()
    assert audit(told)[0] in (0, 1)  # its parent may hold both


def test_temporary_files_keep_out_of_the_dump(place, told, monkeypatch, tree_of):
    (place / "card" / "tmp").mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(place / "card" / "tmp"))
    before = tree_of(place)
    code, err = audit(told, "--no-cache")
    assert code == 2 and "TMPDIR" in err
    assert tree_of(place) == before
    assert audit(told, "--no-cache", "--pixels", "off")[0] in (0, 1)


def test_another_programs_database_at_the_caches_place_stays(place, told, tmp_path):
    home = tmp_path / "cache" / "cornerstop"
    home.mkdir(parents=True)
    with sqlite3.connect(home / "pixels.sqlite") as database:
        database.execute("CREATE TABLE albums (name TEXT)")
    before = (home / "pixels.sqlite").read_bytes()
    assert audit(told)[0] in (0, 1)
    assert (home / "pixels.sqlite").read_bytes() == before


@pytest.mark.parametrize("out", [".", "card", "kit.toml", "link", "X"])
def test_the_demo_takes_no_folder_that_holds_something(place, told, tree_of, out):
    (place / "link").symlink_to("card")
    (place / "X").mkdir()
    (place / "X" / "trip").mkdir()
    before = tree_of(place)
    code, err = told("demo", "--out", out, "-q")
    assert code == 2 and err.count("\n") == 1
    assert tree_of(place) == before


def test_a_dump_that_holds_reports_lists_what_else_lies_in_them(place, told, pictures, same):
    told("audit", "card", "--out", "card/rep", "-q")
    before = pictures(place / "card" / "rep" / "pics")
    code, err = told("audit", "card", "--out", "card/rep", "-q")
    assert code == 2 and err.count("\n") == 1 and "pics/" in err
    assert audit(told)[0] in (0, 1)
    assert "pics/TARN0076.JPG" in (place / "rep" / "newest" / "passed-over.html").read_text()
    same(place / "card" / "rep" / "pics", before)


def test_drafts_keep_what_was_there(place, told):
    target = place / "card" / "filters.toml"
    was = '# mine\n[[worn]]\nfiles = ["TARN0076"]\nbare = true\n'
    (place / "notes.toml").write_text(was)
    target.symlink_to(place / "notes.toml")
    (place / "notes.toml.bak").write_text("older")
    (place / "card" / ".filters.toml.abcd.toml").write_text("mine")
    told("draft", "card", "--kit", "kit.toml", "--write", "-q")
    assert target.is_symlink() and target.read_text().startswith(was) and len(target.read_text()) > len(was)
    assert (place / "notes.toml.bak").read_text() == "older"
    assert (place / "notes.toml.bak1").read_text() == was
    assert (place / "card" / ".filters.toml.abcd.toml").read_text() == "mine"
    assert not list(place.rglob(".cornerstop*"))


@pytest.mark.skipif(os.name != "posix", reason="has no bind mounts")
def test_bind_mounts_hide_nothing(place, told, tree_of):
    (place / "other").mkdir()
    if subprocess.run(["mount", "--bind", place / "card", place / "other"], capture_output=True).returncode:
        pytest.skip("may not mount here")
    try:
        code, err = told("audit", "card", "--out", "other", "-q")
        assert code == 2 and err.count("\n") == 1
        (place / "card" / "notes.txt").write_text("mine")
        (place / "card" / "deep").mkdir()
        (place / "card" / "deep" / "mine.txt").write_text("mine")
        before = tree_of(place / "card")
        assert told("audit", "card", "--out", "other/deep", "-q")[0] == 2
        assert tree_of(place / "card") == before
    finally:
        subprocess.run(["umount", "-l", place / "other"], check=True)

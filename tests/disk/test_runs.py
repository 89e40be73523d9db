"""The folder of reports: runs side by side, one link to the newest, and nothing removed but what is ours."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from audit.disk import report_folder
from audit.disk.building import Building
from audit.disk.manifest import read_manifest
from audit.disk.marker import OUTPUT_MARKER
from audit.disk.process import left_behind, temporary_name
from audit.disk.runs import KEPT_RUNS, Doors, Left, PlacedRun, add_run
from audit.errors import AuditError

DOORS = Doors(entrance=lambda run: f"to {run}", top=lambda address: f"to {address}")
GONE = f".cornerstop-{os.uname().nodename}.999999999.1.00000000" if os.name == "posix" else ""


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def filled(out: Path, words: str) -> PlacedRun:
    def fill(run: Building) -> None:
        run.write("index.html", words)
        run.write("pictures/p1.jpg", words.encode())

    return add_run(out, fill, DOORS)


def test_a_run_lies_in_its_own_folder_and_is_led_to(tmp_path: Path) -> None:
    placed = filled(tmp_path / "out", "one")
    out = tmp_path / "out"
    assert (placed.run, placed.page, placed.left) == (out / "run-0001", out / "report.html", ())
    assert names(tmp_path) == ["out"]
    assert names(out) == [OUTPUT_MARKER, "newest", "report.html", "run-0001"]
    assert names(out / "newest") == [OUTPUT_MARKER, "index.html", "open.html", "pictures"]
    assert (out / "report.html").read_text().startswith("to newest/open.html\n")
    assert (out / "newest" / "open.html").read_text() == "to run-0001"


def test_the_list_names_every_file_with_size_and_digest(tmp_path: Path) -> None:
    run = filled(tmp_path / "out", "one").run
    listed = read_manifest(run / OUTPUT_MARKER)
    assert listed is not None and listed.whole and listed.folders == ["pictures"]
    assert listed.files["index.html"] == (
        3,
        "7692c3ad3540bb803c020b3aee66cd8887123234ea0c6e7143c0add73ff431ed",
    )


def test_the_next_run_leaves_the_one_before_as_it_is(tmp_path: Path) -> None:
    out = tmp_path / "out"
    filled(out, "one")
    before = {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in (out / "run-0001").rglob("*") if p.is_file()}
    assert filled(out, "two").run == out / "run-0002"
    assert {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in before} == before
    assert (out / "newest" / "index.html").read_text() == "two"


def test_only_the_newest_runs_stay(tmp_path: Path) -> None:
    out = tmp_path / "out"
    for n in range(KEPT_RUNS + 2):
        filled(out, str(n))
    (out / "run-mine").mkdir()
    filled(out, "last")
    kept = [f"run-{n:04d}" for n in range(4, 4 + KEPT_RUNS)]
    assert names(out) == sorted([OUTPUT_MARKER, "newest", "report.html", *kept, "run-mine"])


def test_what_the_owner_added_or_changed_in_an_old_run_stays_and_is_told(tmp_path: Path) -> None:
    out = tmp_path / "out"
    filled(out, "old")
    (out / "run-0001" / "pictures" / "TARN0101.JPG").write_bytes(b"mine")
    (out / "run-0001" / "index.html").write_text("with my notes")
    for n in range(KEPT_RUNS - 1):
        assert filled(out, str(n)).left == ()
    placed = filled(out, "last")
    assert placed.left == (Left(out / "run-0001", ("index.html", "pictures/TARN0101.JPG")),)
    assert (out / "run-0001" / "index.html").read_text() == "with my notes"
    assert (out / "run-0001" / "pictures" / "TARN0101.JPG").read_bytes() == b"mine"
    assert filled(out, "and again").left == ()


@pytest.mark.parametrize("name", ["newest", "report.html"])
def test_an_owners_own_thing_under_our_name_stays(tmp_path: Path, name: str) -> None:
    out = tmp_path / "out"
    filled(out, "one")
    (out / name).unlink()
    (out / name).mkdir()
    (out / name / "TARN0101.JPG").write_bytes(b"mine")
    placed = filled(out, "two")
    assert placed.left == (Left(out, (name,)),)
    assert placed.page == out / "run-0002" / "open.html"
    assert names(out / name) == ["TARN0101.JPG"]


def test_a_top_page_that_the_owner_changed_stays(tmp_path: Path) -> None:
    out = tmp_path / "out"
    filled(out, "one")
    page = (out / "report.html").read_text()
    (out / "report.html").write_text(page.replace("to newest", "mine: to newest"))
    assert filled(out, "two").left == (Left(out, ("report.html",)),)
    assert (out / "report.html").read_text().startswith("mine: ")


def test_a_number_that_the_owner_took_is_passed_over(tmp_path: Path) -> None:
    out = tmp_path / "out"
    filled(out, "one")
    (out / "run-0002").write_text("mine")
    assert filled(out, "three").run == out / "run-0003"
    assert (out / "run-0002").read_text() == "mine"


@pytest.mark.parametrize("names_another", ["../mine.jpg", "/{}/mine.jpg", "linked/mine.jpg", "a\\b", "."])
def test_a_list_that_was_tampered_with_reaches_nothing_outside(tmp_path: Path, names_another: str) -> None:
    out = tmp_path / "out"
    run = filled(out, "one").run
    for folder in (tmp_path, out, tmp_path / "elsewhere"):
        folder.mkdir(exist_ok=True)
        (folder / "mine.jpg").write_text("one")
    (run / "linked").symlink_to(tmp_path / "elsewhere")
    digest = "7692c3ad3540bb803c020b3aee66cd8887123234ea0c6e7143c0add73ff431ed"
    with (run / OUTPUT_MARKER).open("a") as file:
        file.write(f"file\t{names_another.format(tmp_path)}\t3\t{digest}\nwhole\n")
    for n in range(KEPT_RUNS):
        filled(out, str(n))
    assert all((f / "mine.jpg").read_text() == "one" for f in (tmp_path, out, tmp_path / "elsewhere"))


@pytest.mark.parametrize("stop", [KeyboardInterrupt, ValueError, OSError(28, "No space left on device")])
@pytest.mark.parametrize("before", [False, True])
def test_a_run_that_is_stopped_leaves_all_as_it_was(
    tmp_path: Path, stop: type[BaseException] | BaseException, before: bool
) -> None:
    def stopped(run: Building) -> None:
        run.write("pictures/p1.jpg", b"half")
        raise stop

    if before:
        filled(tmp_path / "out", "old")
    left = set(tmp_path.rglob("*"))
    with pytest.raises((KeyboardInterrupt, ValueError, AuditError)):
        add_run(tmp_path / "out", stopped, DOORS)
    assert set(tmp_path.rglob("*")) == left


@pytest.mark.skipif(os.name != "posix", reason="asks for processes by number")
def test_what_a_killed_run_left_is_tidied_and_no_more(tmp_path: Path) -> None:
    out = tmp_path / "out"
    filled(out, "one")
    building = Building(out)
    building.write("pictures/p1.jpg", b"half")
    building.close()
    gone = out / GONE
    building.path.rename(gone)
    (gone / "TARN0101.JPG").write_bytes(b"mine")
    alive = Building(out)
    filled(out, "two")
    assert [p.relative_to(gone).as_posix() for p in gone.rglob("*")] == ["TARN0101.JPG"]
    assert names(alive.path) == [OUTPUT_MARKER]


@pytest.mark.skipif(os.name != "posix", reason="asks for processes by number")
def test_names_tell_whose_process_is_gone() -> None:
    assert not left_behind(temporary_name())
    assert left_behind(GONE)
    assert not left_behind(GONE.replace(os.uname().nodename, "another-host"))
    assert not left_behind(".cornerstop-mine")
    host, pid = temporary_name().split(".")[1:3]
    assert left_behind(f".{host}.{pid}.1.00000000")  # the number was given to another process since


def test_a_run_placed_and_never_led_to_is_finished_by_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    filled(out, "one")
    replace = Path.replace

    def stopped(self: Path, target: Path) -> Path:
        if (self.parent.name, target.name) == ("run-0002", "newest"):
            raise KeyboardInterrupt
        return replace(self, target)

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(Path, "replace", stopped)
        filled(out, "two")
    assert (out / "newest" / "index.html").read_text() == "one"
    with pytest.raises(ValueError, match="later"):
        add_run(out, lambda run: (_ for _ in ()).throw(ValueError("later")), DOORS)
    assert (out / "newest" / "index.html").read_text() == "two"
    assert names(out / "run-0002") == [OUTPUT_MARKER, "index.html", "open.html", "pictures"]


def test_without_links_the_top_page_names_the_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object, **__: object) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "symlink_to", none)
    out = tmp_path / "out"
    for n in (1, 2):
        placed = filled(out, str(n))
        assert (placed.page, placed.left) == (out / "report.html", ())
        assert (out / "report.html").read_text().startswith(f"to run-000{n}/open.html\n")
    assert names(out) == [OUTPUT_MARKER, "report.html", "run-0001", "run-0002"]


def test_somebody_else_may_be_first(tmp_path: Path) -> None:
    """Two runs into a folder that neither found there."""
    out = tmp_path / "out"

    def late(run: Building) -> None:
        run.write("index.html", "late")
        filled(out, "first")

    placed = add_run(out, late, DOORS)
    assert placed.run == out / "run-0002"
    assert (out / "newest" / "index.html").read_text() == "late"
    assert (out / "newest" / "open.html").read_text() == "to run-0002"
    assert names(tmp_path) == ["out"]


def test_a_lock_that_is_held_is_waited_for_only_so_long(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(report_folder, "TURN_S", 0.2)
    out = tmp_path / "out"
    filled(out, "one")
    with report_folder.turn(out):
        assert filled(out, "two").run == out / "run-0002"


def test_a_link_given_as_the_folder_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    filled(tmp_path / "link", "one")
    assert (tmp_path / "link").is_symlink()
    assert names(tmp_path / "real") == [OUTPUT_MARKER, "newest", "report.html", "run-0001"]


def test_a_stranger_is_left_alone(tmp_path: Path) -> None:
    stranger = tmp_path / "photos"
    stranger.mkdir()
    (stranger / "TARN0101.JPG").write_bytes(b"x")
    (tmp_path / "file").write_bytes(b"x")
    (tmp_path / "listless").mkdir()
    (tmp_path / "listless" / OUTPUT_MARKER).write_text("Written by cornerstop.\n")
    run = filled(tmp_path / "out", "one").run
    for place, words in (
        (stranger, "not written by cornerstop"),
        (tmp_path / "file", "is a file"),
        (tmp_path / "listless", "without a list of its files"),
        (run, "is one run of a report"),
    ):
        with pytest.raises(AuditError, match=words):
            filled(place, "two")
    assert names(stranger) == ["TARN0101.JPG"]
    assert names(tmp_path / "listless") == [OUTPUT_MARKER]


def test_the_folder_can_be_read_as_any_other(tmp_path: Path) -> None:
    (tmp_path / "plain").mkdir()
    out = filled(tmp_path / "out", "one").out
    assert out.stat().st_mode == (out / "run-0001").stat().st_mode == (tmp_path / "plain").stat().st_mode


@pytest.mark.skipif(os.name != "posix", reason="needs a file name as long as the system refuses")
def test_a_refusing_disk_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(AuditError, match="cannot write the report"):
        filled(tmp_path / ("x" * 300), "one")

"""A shelf of trips: each is audited as if it were alone, by whatever processes, and one page leads to all."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pyarrow.dataset as ds
import pytest

from audit.cli.entry import run
from audit.disk.report_folder import is_report_folder
from audit.jobs.shelf import audit_shelf
from audit.scale.cluster import Cluster
from audit.scale.page import write_page

ROOT = Path(__file__).parents[2]
CARDS = ("card-1", "selection")
OPTIONS = ("--pixels", "off", "--no-cache", "--quiet")


@pytest.fixture(scope="module")
def shelf(skarven: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The days of the demo trip, two of whose folders one camera filled; and what no trip is."""
    top = tmp_path_factory.mktemp("shelf") / "shelf"
    for path in sorted((skarven / "trip").rglob("*")):
        target = top / path.relative_to(skarven / "trip")
        if path.is_file():
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(path.read_bytes())
    (top / "loose.JPG").write_bytes(next((top / "card-1").rglob("*.JPG")).read_bytes())
    (top / "empty").mkdir()
    (top / "2025-09-14 Holmfjell" / "kit.toml").write_text("x = [")
    return top


@pytest.fixture(scope="module")
def told(shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, int]:
    out = tmp_path_factory.mktemp("near") / "out"
    before = tree(shelf)
    code = run(["shelf", str(shelf), "--out", str(out), *OPTIONS])
    assert tree(shelf) == before
    return out, code


def tree(folder: Path) -> dict[Path, tuple[int, int]]:
    return {path: (path.stat().st_mtime_ns, path.stat().st_size) for path in [folder, *folder.rglob("*")]}


def record(out: Path) -> dict[str, dict[str, object]]:
    read = json.loads((out / "newest" / "shelf.json").read_text(encoding="utf-8"))
    return {one["name"]: one for one in read["trips"]}


def data(out: Path) -> Iterator[tuple[str, bytes]]:
    for name, one in record(out).items():
        for file in ("frames.csv", "findings.json"):
            if one["run"]:
                yield f"{name}/{file}", (out / str(one["run"]) / file).read_bytes()


def test_each_trip_is_audited_as_if_it_were_alone(shelf, told, tmp_path):
    out, code = told
    assert code == 1
    trips = record(out)
    assert trips["card-1"]["folders"] == list(CARDS)
    for name, one in trips.items():
        if not one["run"]:
            continue
        alone = tmp_path / name
        folders = [str(shelf / str(folder)) for folder in one["folders"]]  # type: ignore[attr-defined]
        run(["audit", *folders, "--out", str(alone), *OPTIONS])
        for file in ("frames.csv", "findings.json"):
            assert (alone / "newest" / file).read_bytes() == (out / str(one["run"]) / file).read_bytes()
    assert len(trips) == 5


def test_a_trip_that_cannot_be_audited_stops_no_other(told):
    one = record(told[0])["2025-09-14 Holmfjell"]
    assert (one["exit_code"], one["run"]) == (2, "")
    assert "kit.toml:1" in str(one["said"])


def test_the_page_leads_to_every_report_and_names_what_was_left(told):
    out = told[0]
    page = (out / "newest" / "index.html").read_text(encoding="utf-8")
    read = json.loads((out / "newest" / "shelf.json").read_text(encoding="utf-8"))
    assert [one["path"] for one in read["left"]] == ["loose.JPG"] and read["folders_without_files"] == [
        "empty"
    ]
    assert "loose.JPG" in page and "empty" in page and "kit.toml:1" in page
    for one in record(out).values():
        assert not one["run"] or (out / str(one["run"]) / "index.html").is_file()
    assert page.count('/index.html"') == 4 and page.count("<img") >= 12
    assert is_report_folder(out)


def test_the_tables_of_all_trips_are_read_as_one(told):
    out = told[0]
    parts = [str(out / str(one["run"]) / "frames.parquet") for one in record(out).values() if one["run"]]
    frames = sum(int(one["counts"]["frames"]) for one in record(out).values() if one["run"])  # type: ignore[index]
    assert ds.dataset(parts).count_rows() == frames > 80


def test_a_second_run_adds_a_run_to_each_report(shelf, tmp_path):
    out, small = tmp_path / "out", tmp_path / "small"
    (small / "one").mkdir(parents=True)
    (small / "one" / "TARN0001.JPG").write_bytes((shelf / "loose.JPG").read_bytes())
    for number in (1, 2):
        run(["shelf", str(small), "--out", str(out), *OPTIONS])
        assert len(list(out.glob("run-*"))) == len(list((out / "trips" / "one").glob("run-*"))) == number


def test_deeper_folders_are_trips_of_their_own(shelf, tmp_path):
    assert run(["shelf", str(shelf.parent), "--depth", "2", "--out", str(tmp_path / "out"), *OPTIONS]) == 1
    assert record(tmp_path / "out")["shelf_card-1"]["folders"] == [f"shelf/{name}" for name in CARDS]


def test_what_cannot_be_is_refused(shelf, tmp_path, capsys):
    foreign = tmp_path / "foreign"
    foreign.mkdir()
    (foreign / "mine.txt").write_text("mine")
    (tmp_path / "flat").mkdir()
    for words in (
        [str(shelf), "--out", str(foreign)],
        [str(shelf), "--out", str(shelf / "out")],
        [str(tmp_path / "flat"), "--out", str(tmp_path / "out")],
    ):
        assert run(["shelf", *words, *OPTIONS]) == 2
        assert capsys.readouterr().err.count("\n") == 1
    assert [path.name for path in foreign.iterdir()] == ["mine.txt"]


@pytest.mark.skipif(os.name == "nt", reason="ends without being told")
def test_who_stops_it_stops_every_audit_and_the_next_run_is_whole(shelf, told, tmp_path):
    out = tmp_path / "out"
    words = [sys.executable, "-m", "audit", "shelf", str(shelf), "--out", str(out), *OPTIONS]
    with subprocess.Popen(words, cwd=ROOT, stderr=subprocess.PIPE) as process:
        while not list(out.glob("trips/*")):
            time.sleep(0.05)
        process.terminate()
        assert process.communicate()[1] == b"interrupted; nothing was left half-written\n"
    assert process.returncode == 130
    assert not [place for place in out.rglob(".cornerstop-*") if place.is_dir()]
    runs_before = {place: tree(place) for place in out.glob("trips/*/run-*")}
    assert run(["shelf", str(shelf), "--out", str(out), *OPTIONS]) == 1
    assert dict(data(out)) == dict(data(told[0]))
    assert all(tree(place) == before for place, before in runs_before.items())


def test_workers_of_a_cluster_come_to_the_same_and_may_be_lost(shelf, told, tmp_path):
    pytest.importorskip("distributed", reason="needs cornerstop[scale]")
    out, killed = tmp_path / "out", []
    with Cluster(workers=2) as crew:

        def kill() -> None:
            while len(killed) < 2 and not (out / "report.html").exists():
                pids = set(crew.client.run(os.getpid).values()) - set(killed)
                if pids and list(out.glob("trips/*")):
                    killed.append(pids.pop())
                    os.kill(killed[-1], signal.SIGKILL)
                time.sleep(2.0)

        thread = threading.Thread(target=kill)
        thread.start()
        options = ["--pixels", "off", "--lang", "en", "--file-seconds", "5.0", "--no-cache"]
        found = audit_shelf(str(shelf), out, options=options)
        write_page(found, out)
        thread.join()
    assert crew.lost == len(killed) == 2
    assert dict(data(out)) == dict(data(told[0]))

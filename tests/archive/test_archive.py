"""What is in the bag, that it is as the dump was, and what happens when a run is stopped or fails."""

import csv
import hashlib
import os
import random
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pytest

from audit.archive import source
from audit.cli.entry import run
from audit.errors import AuditError
from audit.jobs import archive as job
from audit.jobs import archive_copy as copying
from audit.jobs.archive import archive
from audit.jobs.verify import verify

READER = Path(__file__).parents[2] / "docs" / "read_bag.py"


def tree(folder):
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()
    }


def test_every_file_of_the_dump_is_there_by_content(dump, made):
    there = sorted(tree(dump).values())
    assert sorted(tree(made / "data" / "pictures").values()) == there


def test_odd_names_are_renamed_and_the_old_bytes_kept(dump, made):
    with (made / "data/knowledge/files.csv").open(encoding="utf-8", newline="") as file:
        old = {bytes.fromhex(r["old_name_hex"]): r["path"] for r in csv.DictReader(file) if r["old_name_hex"]}
    assert set(old) == {b"100%.txt", b"line\nend.txt", b"caf\xe9.txt", b"blank "}
    assert old[b"100%.txt"] == "data/pictures/100_25.txt"
    for name, path in old.items():
        assert (made / path).read_bytes() == (dump / os.fsdecode(name)).read_bytes()


def test_the_reference_program_finds_it_valid(made):
    bagit = pytest.importorskip("bagit", reason="bagit is not installed (cornerstop[dev])")
    assert bagit.Bag(str(made)).validate(processes=1)


def test_the_data_package_is_valid(made):
    code = (
        "import sys\nfrom frictionless import validate\n"
        "report = validate('datapackage.json', type='package')\n"
        "sys.exit(0 if report.valid else str(report.flatten(['name', 'type', 'note'])[:5]))"
    )
    asked = subprocess.run([sys.executable, "-c", "import frictionless"], capture_output=True)
    if asked.returncode:
        pytest.skip("frictionless is not installed (cornerstop[dev])")
    done = subprocess.run([sys.executable, "-c", code], cwd=made, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_sha512sum_of_the_system_agrees(made):
    for folder, name in (
        (made, "manifest-sha512.txt"),
        (made, "tagmanifest-sha512.txt"),
        (made.parent, "bag.sha512"),
    ):
        done = subprocess.run(["sha512sum", "-c", "--quiet", "--strict", name], cwd=folder)
        assert done.returncode == 0


def test_a_reader_of_the_standard_library_lists_frames_and_filters(made):
    assert len(READER.read_text(encoding="utf-8").splitlines()) <= 30
    command = [sys.executable, "-I", str(READER), str(made)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    lines = done.stdout.splitlines()
    assert len(lines) == 6
    assert all(line.startswith("day/") and len(line.split("\t")) == 3 for line in lines)
    assert any(line.split("\t")[1] == "worn" and line.split("\t")[2] for line in lines)


def test_the_tables_open_in_pandas_duckdb_and_a_spreadsheet(made):
    """A spreadsheet's import is the plain CSV of RFC 4180; no cell of it is taken for a formula."""
    known = made / "data/knowledge"
    whole = pd.read_parquet(known / "frames.parquet")
    text = pd.read_csv(known / "frames.csv", dtype=str, keep_default_na=False)
    assert text["frame"].tolist() == whole["frame"].tolist()
    assert text["rig_words"].tolist() == whole["rig_words"].fillna("").tolist()
    with (known / "frames.csv").open(encoding="utf-8", newline="") as file:
        cells = list(csv.reader(file, strict=True))
    assert {len(row) for row in cells} == {len(text.columns)}
    numbers = re.compile(r"-?[\d.e+-]+|-?inf")
    for row in cells:
        assert not [c for c in row if c[:1] in ("=", "+", "-", "@") and not numbers.fullmatch(c)]
    duckdb = pytest.importorskip("duckdb", reason="duckdb is not installed (cornerstop[dev])")
    for name in ("frames.parquet", "frames.csv"):
        asked = f"SELECT frame FROM '{known / name}' ORDER BY frame"
        assert [row[0] for row in duckdb.sql(asked).fetchall()] == sorted(whole["frame"])


def test_what_is_there_already_is_never_replaced(dump, tmp_path):
    (tmp_path / "bag").mkdir()
    (tmp_path / "bag" / "mine.jpg").write_bytes(b"mine")
    with pytest.raises(AuditError, match="exists already"):
        archive(dump, tmp_path / "bag")
    hidden = tmp_path / ".other.cornerstop-archive"
    hidden.mkdir()
    (hidden / "mine.jpg").write_bytes(b"mine")
    with pytest.raises(AuditError, match="not ours"):
        archive(dump, tmp_path / "other")
    (tmp_path / "third.sha512").write_bytes(b"mine")
    with pytest.raises(AuditError):
        archive(dump, tmp_path / "third", pixels="off")
    assert not (tmp_path / "third").exists()
    assert (tmp_path / "third.sha512").read_bytes() == b"mine"
    assert (hidden / "mine.jpg").read_bytes() == (tmp_path / "bag" / "mine.jpg").read_bytes() == b"mine"


def test_a_strangers_file_in_the_hidden_folder_stops_the_run(dump, tmp_path, monkeypatch):
    real = job._seal

    def with_stranger(place, *rest):
        (place.bag / "data" / "mine.jpg").write_bytes(b"mine")
        return real(place, *rest)

    monkeypatch.setattr(job, "_seal", with_stranger)
    with pytest.raises(AuditError, match="not ours"):
        archive(dump, tmp_path / "bag", pixels="off")
    assert not (tmp_path / "bag").exists()
    assert (tmp_path / ".bag.cornerstop-archive/bag/data/mine.jpg").read_bytes() == b"mine"


def test_an_unreadable_file_is_tried_again_and_listed(dump, tmp_path, monkeypatch, capsys):
    tries = []

    class Failing(source.CardFile):
        def read(self, size=-1):
            if self.name_asked.name == "clip.mov":
                tries.append(1)
                raise OSError(5, "Input/output error")
            return super().read(size)

        def __init__(self, path, *rest):
            self.name_asked = path
            super().__init__(path, *rest)

    monkeypatch.setattr(source, "CardFile", Failing)
    monkeypatch.setattr(copying, "PAUSE_S", 0)
    assert run(["archive", str(dump), str(tmp_path / "bag"), "--pixels", "off"]) == 1
    assert len(tries) == 3
    assert "clip.mov: not archived: Input/output error" in capsys.readouterr().err
    assert "clip.mov" in (tmp_path / "bag/data/knowledge/not-archived.csv").read_text(encoding="utf-8")
    assert verify(tmp_path / "bag").found.problems == []


def test_a_full_destination_ends_the_run_and_the_next_goes_on(dump, made, tmp_path, monkeypatch):
    real, asked = os.fsync, []

    def full(handle):
        asked.append(1)
        if len(asked) == 5:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    command = ["archive", str(dump), str(tmp_path / "bag"), "--pixels", "off"]
    assert run(command) == 2
    assert not (tmp_path / "bag").exists()
    monkeypatch.undo()
    assert run(command) == 0
    assert tree(tmp_path / "bag") == tree(made)


def test_a_dump_that_goes_away_ends_the_run(dump, tmp_path, monkeypatch):
    card = tmp_path / "card"
    card.mkdir()
    (card / "a.jpg").write_bytes(b"a")
    real = copying.chunks_of

    def gone(file):
        card.rename(tmp_path / "elsewhere")
        yield from real(file)

    monkeypatch.setattr(copying, "chunks_of", gone)
    monkeypatch.setattr(copying, "TRIES", 1)
    with pytest.raises(AuditError, match="went away"):
        archive(card, tmp_path / "bag")
    (tmp_path / "elsewhere").rename(card)
    monkeypatch.undo()
    assert archive(card, tmp_path / "bag", pixels="off").copied == 1


def test_too_little_room_is_told_first(dump, tmp_path, monkeypatch):
    monkeypatch.setattr(copying, "ROOM_BYTES", 10**18)
    with pytest.raises(AuditError, match="are needed"):
        archive(dump, tmp_path / "bag")


def test_killed_at_any_moment_the_same_command_goes_on(dump, made, tmp_path):
    chance = random.Random(20)
    target = tmp_path / "bag"
    begun = tmp_path / ".bag.cornerstop-archive" / "bag" / "data" / "pictures"
    words = ["archive", str(dump), str(target), "--pixels", "off", "-q"]
    command = [sys.executable, "-m", "audit", *words]
    whole: dict[str, tuple[int, int]] = {}
    for _ in range(int(os.environ.get("CORNERSTOP_KILLS", "6"))):
        process = subprocess.Popen(command, cwd=Path(__file__).parents[2], stderr=subprocess.PIPE)
        time.sleep(chance.uniform(0.5, 4.0))
        process.send_signal(signal.SIGKILL)
        process.communicate()
        if target.exists():
            break
        log = tmp_path / ".bag.cornerstop-archive" / "journal"
        done = log.read_bytes() if log.exists() else b""
        for path in begun.rglob("*") if begun.exists() else ():
            state = (path.stat().st_ino, path.stat().st_ctime_ns)
            name = path.relative_to(begun).as_posix()
            if path.is_file() and b'{"done": "data/pictures/' + name.encode() + b'"' in done:
                assert whole.setdefault(name, state) == state
    last = subprocess.run(command, cwd=Path(__file__).parents[2])
    assert last.returncode == 0 or target.exists()
    assert tree(target) == tree(made)
    for name, state in whole.items():
        status = (target / "data/pictures" / name).stat()
        assert (status.st_ino, status.st_ctime_ns) == state
    digest = hashlib.sha512((target / "tagmanifest-sha512.txt").read_bytes()).hexdigest()
    assert (tmp_path / "bag.sha512").read_text().startswith(digest)

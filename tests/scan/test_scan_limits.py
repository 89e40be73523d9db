"""No file hangs a run, nothing is called damaged for want of time, and what did not answer is said to."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from camera_files import block, camera, jpeg, put, tiff
from PIL import Image

from audit.disk import card, card_thread
from audit.disk.card_thread import CardThreads
from audit.prints.choose import choose
from audit.scan import reader, scan
from audit.scan.containers.source import Source
from audit.scan.reader import read_file

JPEG = jpeg(block())
posix = pytest.mark.skipif(os.name != "posix", reason="pipes and such signals are those of POSIX")

RUNNER = """
import runpy, sys, time

sys.argv = {words!r}
from audit.disk import card, card_thread

card_thread.SILENT_S = 1.0
real, begun = card._part, []

def slow(*where):
    if not begun:
        begun.append(print("reading", file=sys.stderr, flush=True))
    time.sleep(0.02)
    return real(*where)

card._part = slow
runpy.run_module("audit", run_name="__main__", alter_sys=True)
"""


@pytest.fixture
def threads(monkeypatch) -> CardThreads:
    """Threads of this test alone, with little patience."""
    own = CardThreads()
    monkeypatch.setattr(card, "THREADS", own)
    monkeypatch.setattr(card_thread, "SILENT_S", 0.4)
    monkeypatch.setattr(card_thread, "SILENT_AGAIN_S", 0.04)
    return own


@pytest.fixture
def silent(monkeypatch, threads) -> Iterator[Callable[[str, int], None]]:
    """Makes the card silent for a file, from its opening (0) or from a read beyond its head (1)."""
    names: dict[str, int] = {}
    over = threading.Event()
    opening, part = card._open, card._part
    of: dict[int, str] = {}

    def open_it(path: Path, start: int, ahead: int) -> card._Opened:
        if names.get(path.name) == 0:
            over.wait()
        opened = opening(path, start, ahead)
        of[opened.descriptor] = path.name
        return opened

    def read(descriptor: int, place: int, length: int) -> bytes:
        if names.get(of.get(descriptor, "")) == 1:
            over.wait()
        return part(descriptor, place, length)

    monkeypatch.setattr(card, "_open", open_it)
    monkeypatch.setattr(card, "_part", read)
    yield names.__setitem__
    over.set()
    assert all(thread.ends_within(5) for thread in threads._stuck)


def problems(frames) -> dict[str, str]:
    told = frames[frames["problem"].notna()]
    return dict(zip(told["frame"], told["problem"], strict=True))


def test_a_card_that_is_silent_for_one_file_is_left_there(dump, silent):
    for number in range(7):
        put(dump, f"TARN{number:04d}.JPG", JPEG)
    silent("TARN0002.JPG", 0)
    began_s = time.monotonic()
    found = scan(dump).frames
    assert 0.3 < time.monotonic() - began_s < 3
    assert problems(found) == {"TARN0002": "the card did not answer for 0.4 s"}
    assert len(found) == 7


def test_many_silent_files_are_not_waited_for_one_by_one(dump, silent):
    for number in range(20):
        put(dump, f"TARN{number:04d}.JPG", JPEG)
        if number not in (0, 15):
            silent(f"TARN{number:04d}.JPG", 0)
    began_s = time.monotonic()
    found = problems(scan(dump).frames)
    assert time.monotonic() - began_s < 4
    assert list(found.values()) == ["the card did not answer for 0.4 s"] * 3 + [
        "the card did not answer for 0.04 s"
    ] * 11 + ["the card did not answer for 0.4 s"] * 3 + ["the card did not answer for 0.04 s"]


def test_silence_behind_the_head_of_a_file(dump, silent):
    first, exif = camera()
    far = tiff(first, exif)
    place = 150_000  # of the first directory
    content = far[:4] + place.to_bytes(4, "little") + bytes(place - 8) + far[8:]
    put(dump, "TARN0001.NEF", content)
    put(dump, "TARN0002.JPG", JPEG)
    silent("TARN0001.NEF", 1)
    assert problems(scan(dump).frames) == {"TARN0001": "the card did not answer for 0.4 s"}


def test_a_silent_sidecar_is_named(dump, silent):
    put(dump, "TARN0001.JPG", JPEG)
    put(dump, "TARN0001.xmp", b"<x/>")
    put(dump, "keep.txt", b"TARN0001\n")
    found = scan(dump)
    silent("keep.txt", 0)
    silent("TARN0001.xmp", 0)
    told = [str(m) for m in choose(found.frames, found.beside).mistakes]
    assert told == [
        "keep.txt:1: cannot be read (the card did not answer for 0.4 s)",
        "TARN0001.xmp:1: is no XMP that can be read: the card did not answer for 0.4 s; "
        "its rating is not used",
    ]


def test_a_file_that_makes_work_without_end(tmp_path, monkeypatch):
    def endless(*_args: object, **_kwargs: object) -> None:
        while True:
            sum(range(1000))

    monkeypatch.setattr(reader, "ordinary_tags", lambda _: None)
    monkeypatch.setattr(reader.exifread, "process_file", endless)
    began_s = time.process_time()
    row = read_file(put(tmp_path, "a.jpg", JPEG), limit_s=0.2)
    assert row["problem"] == "not read within 0.2 s of work"
    assert 0.1 < time.process_time() - began_s < 0.4
    assert "damaged" not in str(row["problem"])


def test_time_that_passes_without_work_is_not_counted(tmp_path, monkeypatch):
    real = reader.exifread.process_file
    monkeypatch.setattr(reader, "ordinary_tags", lambda _: None)
    monkeypatch.setattr(reader.exifread, "process_file", lambda *a, **k: time.sleep(0.6) or real(*a, **k))
    row = read_file(put(tmp_path, "a.jpg", JPEG), limit_s=0.2)
    assert (row["problem"], row["model"], row["notes"]) == (None, "Brattholm Tarn", [])


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        (OSError(5, "Input/output error"), "the file could not be read: Input/output error"),
        (ValueError("inner"), "the EXIF block is damaged (ValueError)"),
    ],
)
def test_what_fails_once_is_read_again_and_not_called_damaged(tmp_path, monkeypatch, fault, told):
    faults = [fault]
    real = reader.find_blocks

    def once(source: Source, ending: str) -> object:
        if faults:
            raise faults.pop()
        return real(source, ending)

    monkeypatch.setattr(reader, "find_blocks", once)
    row = read_file(put(tmp_path, "a.jpg", JPEG))
    assert (row["problem"], row["model"], row["width_px"]) == (None, "Brattholm Tarn", 600)
    assert row["notes"] == [f"was read at the second try; the first ended with: {told}"]


def test_bytes_that_come_only_at_the_second_try(tmp_path, monkeypatch):
    whole = put(tmp_path, "a.jpg", JPEG)
    real, opened = card._open, []

    def first_zeros(path: Path, start: int, ahead: int) -> card._Opened:
        found = real(path, start, ahead)
        opened.append(found)
        return (
            found if len(opened) > 1 else card._Opened(found.descriptor, found.status, bytes(len(found.data)))
        )

    monkeypatch.setattr(card, "_open", first_zeros)
    row = read_file(whole)
    assert (row["problem"], row["model"]) == (None, "Brattholm Tarn")
    assert len(opened) == 2 and "the first ended with: the file starts with zeros" in row["notes"][0]


def test_a_header_that_is_whole_only_at_the_second_try(tmp_path, monkeypatch):
    """Its EXIF is read at the first, and a note says that it is cut short."""
    real, parts = card._open, [JPEG[:-20]]

    def first_short(path: Path, start: int, ahead: int) -> card._Opened:
        found = real(path, start, ahead)
        return (
            card._Opened(found.descriptor, found.status, parts.pop().ljust(len(JPEG), b"\0"))
            if parts
            else found
        )

    whole = put(tmp_path, "a.jpg", JPEG)
    monkeypatch.setattr(card, "_open", first_short)
    row = read_file(whole)
    assert (row["problem"], row["width_px"]) == (None, 600)
    assert [note.partition(": the JPEG header")[0] for note in row["notes"]] == [
        "was read at the second try; the first ended with"
    ]


@posix
def test_a_pipe_in_the_place_of_each_file_ends_in_seconds(tmp_path):
    """A whole run, since it is the run that must not hang."""
    dump, home = tmp_path / "dump", tmp_path / "home"
    put(dump, "TARN0001.JPG", JPEG)
    pipes = ("TARN0002.JPG", "TARN0001.xmp", "keep.txt", "kit.toml", "filters.toml", "day/filters.toml")
    (dump / "day").mkdir()
    (home / "cornerstop").mkdir(parents=True)
    for path in [
        *(dump / name for name in pipes),
        dump.parent / "kit.toml",
        home / "cornerstop" / "kit.toml",
    ]:
        os.mkfifo(path)
    os.mkfifo(home / "cornerstop" / "pixels.sqlite")
    done = subprocess.run(
        [sys.executable, "-m", "audit", "audit", "dump", "--out", "report", "--json"],
        cwd=tmp_path,
        env=os.environ | {"XDG_CACHE_HOME": str(home), "XDG_CONFIG_HOME": str(home)},
        capture_output=True,
        timeout=60,
        text=True,
    )
    assert done.returncode in (0, 1), done.stderr
    assert json.loads(done.stdout)["counts"]["frames"] == 1
    for name in ("kit.toml", "filters.toml", "day/filters.toml"):
        assert f"{name}:1: is no regular file; passed over" in done.stderr
    pages = "".join(
        page.read_text(encoding="utf-8") for page in (tmp_path / "report" / "newest").glob("*.html")
    )
    assert "TARN0002.JPG" in pages and "neither a file nor a folder" in pages


@posix
@pytest.mark.parametrize("pixels", ["preview", "full"])
def test_a_run_that_is_suspended_finds_nothing_damaged(dump, tmp_path, pixels):
    shades = Image.effect_noise((600, 400), 60).convert("RGB")
    for number in range(30):
        shades.save(dump / f"TARN{number:04d}.JPG", exif=b"Exif\0\0" + block())
    words = ["audit", "audit", str(dump), "--out", "report", "--json", "-q", "--pixels", pixels, "--no-cache"]
    words += ["--workers", "0", "--file-seconds", "1"]  # what is put in the card's place lies in this process
    run = subprocess.Popen(
        [sys.executable, "-c", RUNNER.format(words=words)],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert run.stdout and run.stderr
    assert run.stderr.readline() == b"reading\n"
    for _ in range(4 if pixels == "full" else 2):
        time.sleep(0.2)
        run.send_signal(signal.SIGSTOP)
        time.sleep(1.6)  # more than any limit
        run.send_signal(signal.SIGCONT)
    out, err = run.communicate(timeout=120)
    assert run.returncode in (0, 1), err
    told = json.loads(out)
    assert told["counts"]["frames"] == 30
    assert [f["seen"] for f in told["findings"] if f["check"] == "unreadable"] == []
    frames = (tmp_path / "report" / "newest" / "frames.csv").read_text(encoding="utf-8")
    assert not [
        words for words in ("not read", "not decoded", "did not answer", "damaged") if words in frames
    ]
    assert frames.count("full decode") == (30 if pixels == "full" else 0)

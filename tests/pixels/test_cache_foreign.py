"""Whatever lies in the cache's place, a run comes to the same result, and what is not ours is left alone."""

from __future__ import annotations

import hashlib
import io
import json
import os
import socket
import sqlite3
import tempfile
import threading
import time
import zlib
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from sketches import same

from audit.cli.entry import run
from audit.crew.crew import Crew
from audit.disk import card, card_thread, kept_file
from audit.disk.card_thread import CardThreads
from audit.pixels import cache as cache_module
from audit.pixels import decode, readers, sources
from audit.pixels.cache import Cache, pack, unpack
from audit.pixels.decode import PixelsUnreadable, grey_codes
from audit.pixels.sketch import Sketch
from audit.pixels.sources import Sketches

posix = pytest.mark.skipif(os.name != "posix", reason="pipes and links are those of POSIX")
LAYOUT = "CREATE TABLE sketch (key BLOB PRIMARY KEY, value BLOB, bytes INTEGER, used REAL)"


def made(seed: int = 1) -> Sketch:
    rng = np.random.default_rng(seed)
    return Sketch(
        grey=rng.integers(0, 256, (213, 320), dtype=np.uint8),
        colour=rng.integers(0, 256, (53, 80, 3), dtype=np.uint8),
        clipped=rng.random((3, 3)),
        black=rng.random((3, 3)),
        source="embedded preview",
        width_px=640,
        height_px=427,
        exact=False,
    )


@pytest.fixture(scope="module")
def dump(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("trip") / "dump"
    folder.mkdir()
    for number in range(3):
        shades = np.random.default_rng(number).integers(0, 256, (20, 30, 3), dtype=np.uint8)
        Image.fromarray(shades).resize((600, 400)).save(folder / f"{number}.jpg")
    return folder


def all_of(dump: Path, cache: Path | None) -> list[Sketch | None]:
    rows = [{"frame": f"{n}", "files": [f"{n}.jpg"], "width_px": 600, "height_px": 400} for n in range(3)]
    with Sketches(dump, "full", cache) as pictures:
        return [pictures.of(row) for row in rows]


@pytest.fixture(scope="module")
def plain(dump) -> list[Sketch | None]:
    """What comes out without a cache."""
    found = all_of(dump, None)
    assert None not in found
    return found


@pytest.fixture
def filled(dump, tmp_path) -> Path:
    """A sound cache of the dump."""
    path = tmp_path / "cache" / "pixels.sqlite"
    all_of(dump, path)
    assert path.is_file()
    return path


def change(path: Path, *statements: str, values: tuple[Any, ...] = ()) -> None:
    file = sqlite3.connect(path, isolation_level=None)
    for statement in statements:
        file.execute(statement, values)
    file.close()


def rows_of(path: Path) -> list[tuple[bytes, bytes]]:
    file = sqlite3.connect(path)
    found = file.execute("SELECT key, value FROM sketch ORDER BY key").fetchall()
    file.close()
    return found


def reseal(path: Path, forge: Callable[[bytes], bytes]) -> None:
    """Puts other bytes in place of each packed sketch, under a check sum that is right for them."""
    for key, value in rows_of(path):
        other = forge(value[32:])
        sealed = hashlib.sha256(key + other).digest() + other
        change(path, "UPDATE sketch SET value = ? WHERE key = ?", values=(sealed, key))


def packed(head: bytes, body: bytes = b"") -> bytes:
    return zlib.compress(len(head).to_bytes(4, "big") + head + body)


def with_head(**changed: object) -> Callable[[bytes], bytes]:
    """Another head before the same arrays; a value of None leaves its key out."""

    def forge(sound: bytes) -> bytes:
        data = zlib.decompress(sound)
        end = 4 + int.from_bytes(data[:4], "big")
        told = {k: v for k, v in (json.loads(data[4:end]) | changed).items() if v is not None}
        return packed(json.dumps(told).encode(), data[end:])

    return forge


def with_share(value: float) -> Callable[[bytes], bytes]:
    def forge(sound: bytes) -> bytes:
        data = zlib.decompress(sound)
        return zlib.compress(data[:-8] + np.float64(value).tobytes())

    return forge


FORGED: dict[str, Callable[[bytes], bytes]] = {
    "nothing": lambda _: b"",
    "noise": lambda _: np.random.default_rng(1).bytes(5000),
    "cut": lambda sound: sound[:-100],
    "more behind": lambda sound: sound + b"x",
    "a body too long": lambda sound: zlib.compress(zlib.decompress(sound) + b"x"),
    "a body too short": lambda sound: zlib.compress(zlib.decompress(sound)[:-1]),
    "no head": lambda _: zlib.compress(b"\0\0"),
    "a head of 4 GB": lambda _: zlib.compress(b"\xff\xff\xff\xff{}"),
    "a bomb": lambda _: zlib.compress(bytes(50_000_000), 9),
    "nested": lambda _: packed(b"[" * 900),
    "nested deeper": lambda _: packed(b"[" * 300_000),
    "a list": lambda _: packed(b"[1, 2]"),
    "no words": lambda _: packed(b"\xff\xfe\x00"),
    "a number of many digits": lambda _: packed(b"9" * 900),
    "NaN": lambda _: packed(b"NaN"),
    "no source": with_head(source=None),
    "one key more": with_head(more=1),
    "a source that is no text": with_head(source=7),
    "a source that is a list": with_head(source=["embedded preview"]),
    "a source nobody wrote": with_head(source="<script>alert(1)</script>"),
    "a width as text": with_head(width_px="600"),
    "a width that is NaN": with_head(width_px=float("nan")),
    "a width with a half": with_head(width_px=600.5),
    "a width that is true": with_head(width_px=True),
    "no width at all": with_head(width_px=0),
    "a negative height": with_head(height_px=-400),
    "a huge height": with_head(height_px=10**80),
    "exact as a number": with_head(exact=1),
    "exact as text": with_head(exact="yes"),
    "grey of one side": with_head(grey=[213 * 320]),
    "grey of three sides": with_head(grey=[213, 320, 1]),
    "grey that is empty": with_head(grey=[0, 320]),
    "grey of a negative side": with_head(grey=[-1, 320]),
    "grey that is huge": with_head(grey=[10**12, 10**12]),
    "grey that overflows": with_head(grey=[2**32, 2**32]),
    "grey that is long": with_head(grey=[100, 640]),
    "grey of halves": with_head(grey=[106.5, 640]),
    "grey in words": with_head(grey=["213", "320"]),
    "grey as a word": with_head(grey="two"),
    "colour of another shape": with_head(colour=[80, 53, 3]),
    "colour without channels": with_head(colour=[53, 240]),
    "shares of another shape": with_head(clipped=[9]),
    "shares as nothing": with_head(black=False),
    "a share that is NaN": with_share(float("nan")),
    "a share that has no end": with_share(float("inf")),
    "a share below nothing": with_share(-0.5),
    "a share above all": with_share(1.5),
}


@pytest.mark.parametrize("how", FORGED)
def test_no_forged_value_is_taken_for_a_sketch(dump, plain, filled, how):
    began_s = time.monotonic()
    reseal(filled, FORGED[how])
    assert all(unpack(value[32:]) is None for _, value in rows_of(filled))
    for a, b in zip(plain, all_of(dump, filled), strict=True):
        assert same(a, b)
    assert time.monotonic() - began_s < 20


def test_a_sound_value_is_taken(dump, plain, filled, monkeypatch):
    """So that the tests beside this one cannot pass for the wrong reason."""
    reseal(filled, with_head())
    monkeypatch.setattr(sources.readers, "from_picture", lambda _: pytest.fail("was decoded"))
    for a, b in zip(plain, all_of(dump, filled), strict=True):
        assert same(a, b)


ROWS = {
    "text for a value": ("UPDATE sketch SET value = 'words'",),
    "text that is no text": ("UPDATE sketch SET value = CAST(x'ff00fe' AS TEXT)",),
    "a number for a value": ("UPDATE sketch SET value = 12",),
    "a fraction for a value": ("UPDATE sketch SET value = 1e308",),
    "no value": ("UPDATE sketch SET value = NULL",),
    "an empty value": ("UPDATE sketch SET value = x''",),
    "a huge value": ("UPDATE sketch SET value = zeroblob(300000000)",),
    "text for numbers": ("UPDATE sketch SET bytes = 'many', used = 'never'",),
    "no numbers": ("UPDATE sketch SET bytes = NULL, used = NULL",),
    "endless numbers": ("UPDATE sketch SET bytes = 9e999, used = -9e999",),
    "the largest numbers": ("UPDATE sketch SET bytes = 9223372036854775807",),
    "negative numbers": ("UPDATE sketch SET bytes = -9000000000, used = -1",),
    "blobs for numbers": ("UPDATE sketch SET bytes = x'00', used = x'00'",),
    "text for keys": ("UPDATE sketch SET key = 'k' || rowid",),
    "values under other keys": (
        "CREATE TEMP TABLE old AS SELECT * FROM sketch",
        "UPDATE sketch SET value = (SELECT value FROM old WHERE old.key > sketch.key ORDER BY key LIMIT 1)",
    ),
    "no rows": ("DELETE FROM sketch",),
}


@pytest.mark.parametrize("how", ROWS)
@pytest.mark.parametrize("most_bytes", [cache_module.MOST_BYTES, 1000])
def test_no_row_changes_the_result(dump, plain, filled, how, most_bytes, monkeypatch):
    monkeypatch.setattr(Cache.__init__, "__defaults__", (most_bytes,))
    change(filled, *ROWS[how])
    for _ in range(2):
        for a, b in zip(plain, all_of(dump, filled), strict=True):
            assert same(a, b)


SCHEMAS = {
    "a view in the table's place": (
        "CREATE VIEW sketch AS SELECT 1 AS key, 2 AS value, 3 AS bytes, 4 AS used",
    ),
    "a trigger": (LAYOUT, "CREATE TRIGGER t AFTER INSERT ON sketch BEGIN DELETE FROM sketch; END"),
    "a view beside it": (LAYOUT, "CREATE VIEW v AS SELECT * FROM sketch"),
    "a table beside it": (LAYOUT, "CREATE TABLE albums (name TEXT)"),
    "an index beside it": (LAYOUT, "CREATE INDEX i ON sketch (used)"),
    "another table": ("CREATE TABLE albums (name TEXT)", "INSERT INTO albums VALUES ('coast')"),
    "other columns": ("CREATE TABLE sketch (name TEXT)",),
    "a column that is made up": (LAYOUT.replace("value BLOB", "value BLOB GENERATED ALWAYS AS (x'00')"),),
    "one column more": (
        "CREATE TABLE sketch (key BLOB PRIMARY KEY, value BLOB, bytes INTEGER, used REAL, x)",
    ),
    "journalled ahead": ("PRAGMA journal_mode = WAL", LAYOUT),
    "journalled ahead and empty": ("PRAGMA journal_mode = WAL",),
    "an empty one of some program": ("PRAGMA user_version = 7",),
}


def snapshot(folder: Path) -> dict[str, tuple[bytes, int]]:
    return {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in sorted(folder.iterdir()) if p.is_file()}


@pytest.mark.parametrize("how", SCHEMAS)
def test_a_database_that_is_not_ours_is_not_written_to(dump, plain, tmp_path, how):
    place = tmp_path / "other"
    place.mkdir()
    change(place / "library.sqlite", *SCHEMAS[how])
    before = snapshot(place)
    for a, b in zip(plain, all_of(dump, place / "library.sqlite"), strict=True):
        assert same(a, b)
    assert snapshot(place) == before


def test_a_database_in_use_by_its_own_program_is_not_touched(dump, plain, tmp_path):
    """All that it holds lies in its log still, so that the file itself looks empty."""
    place = tmp_path / "other"
    place.mkdir()
    owner = sqlite3.connect(place / "library.sqlite", isolation_level=None)
    owner.execute("PRAGMA journal_mode = WAL")
    owner.execute("CREATE TABLE albums (name TEXT)")
    owner.execute("INSERT INTO albums VALUES ('coast')")
    before = snapshot(place)
    assert set(before) == {"library.sqlite", "library.sqlite-wal", "library.sqlite-shm"}
    for a, b in zip(plain, all_of(dump, place / "library.sqlite"), strict=True):
        assert same(a, b)
    assert snapshot(place) == before
    owner.close()


@pytest.mark.parametrize(
    "content", [b"words\n" * 50, b"SQLite format 3\0", b"SQLite format 3\0" + bytes(4080), b"x"]
)
def test_a_file_that_is_no_database_is_left_as_it_is(dump, plain, tmp_path, content):
    (tmp_path / "notes.txt").write_bytes(content)
    for a, b in zip(plain, all_of(dump, tmp_path / "notes.txt"), strict=True):
        assert same(a, b)
    assert (tmp_path / "notes.txt").read_bytes() == content
    assert [p.name for p in tmp_path.iterdir()] == ["notes.txt"]


@posix
@pytest.mark.parametrize("kind", ["pipe", "folder", "device", "socket", "link to nothing", "link to itself"])
@pytest.mark.parametrize("ending", ["", "-journal", "-wal", "-shm"])
def test_what_stands_in_the_place_of_the_file_or_of_one_beside_it(
    dump, plain, tmp_path, kind, ending, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    place = Path(f"p.sqlite{ending}")
    if ending:
        all_of(dump, tmp_path / "p.sqlite")
    if kind == "pipe":
        os.mkfifo(place)
    elif kind == "folder":
        place.mkdir()
    elif kind == "socket":
        with socket.socket(socket.AF_UNIX) as one:
            one.bind(place.name)
    else:
        place.symlink_to({"device": "/dev/zero", "link to nothing": "made.sqlite"}.get(kind, place.name))
    before = sorted(p.name for p in tmp_path.iterdir())
    began_s = time.monotonic()
    for a, b in zip(plain, all_of(dump, tmp_path / "p.sqlite"), strict=True):
        assert same(a, b)
    assert time.monotonic() - began_s < 10
    assert sorted(p.name for p in tmp_path.iterdir()) == before


def test_damage_anywhere_in_the_file(dump, plain, filled):
    sound = filled.read_bytes()
    rng = np.random.default_rng(3)
    for _ in range(60):
        data = bytearray(sound)
        for place in rng.integers(0, len(data), 40) if rng.random() < 0.5 else rng.integers(0, 4096, 8):
            data[place] = rng.integers(256)
        filled.write_bytes(data[: rng.integers(len(data))] if rng.random() < 0.3 else data)
        for a, b in zip(plain, all_of(dump, filled), strict=True):
            assert same(a, b)


def test_pages_that_hold_one_another_do_not_hang_the_run(dump, plain, tmp_path):
    """Fifteen pages, each of which leads to the next one many times over: rows without end."""
    path = tmp_path / "p.sqlite"
    file = sqlite3.connect(path, isolation_level=None)
    file.execute("PRAGMA page_size = 512")
    file.execute(LAYOUT)
    file.execute("BEGIN")
    for number in range(3000):
        file.execute("INSERT INTO sketch VALUES (?, x'00', 1, 1)", (number.to_bytes(32, "big"),))
    file.execute("COMMIT")
    root = file.execute("SELECT rootpage FROM sqlite_master WHERE name = 'sketch'").fetchone()[0]
    file.close()
    data = bytearray(path.read_bytes())
    inner = bytes(data[(root - 1) * 512 : root * 512])
    assert inner[0] == 5 and int.from_bytes(inner[3:5], "big") > 3  # an inner page and its entries
    levels = [root, *range(root + 10, root + 25)]
    for upper, lower in pairwise(levels):
        page = bytearray(inner)
        page[8:12] = lower.to_bytes(4, "big")
        for entry in range(int.from_bytes(inner[3:5], "big")):
            cell = int.from_bytes(inner[12 + 2 * entry : 14 + 2 * entry], "big")
            page[cell : cell + 4] = lower.to_bytes(4, "big")
        data[(upper - 1) * 512 : upper * 512] = page
    leaf = levels[-1]
    data[(leaf - 1) * 512 : leaf * 512] = next(
        data[at : at + 512] for at in range(root * 512, len(data), 512) if data[at] == 13
    )
    path.write_bytes(data)
    began_s = time.monotonic()
    Cache(path).close()  # how much there is in it is asked for
    for a, b in zip(plain, all_of(dump, path), strict=True):
        assert same(a, b)
    assert time.monotonic() - began_s < 30


def test_a_statement_that_never_ends_is_stopped(tmp_path, monkeypatch):
    monkeypatch.setattr(kept_file, "_MOST_STEPS", 100_000)
    file = kept_file.open_kept(tmp_path / "p.sqlite", "sketch", 0.1)
    with pytest.raises(sqlite3.OperationalError, match="interrupted"):
        file.execute("WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT MAX(i) FROM n")
    file.close()


def test_a_journal_that_names_another_file_removes_nothing(dump, plain, filled, tmp_path):
    """A journal may end in the name of a second one, which SQLite removes when it has rolled back."""
    photograph = tmp_path / "TARN0001.JPG"
    photograph.write_bytes(b"\xff\xd8 a picture")
    name = os.fsencode(photograph)
    page = filled.read_bytes()[16:18]
    size = int.from_bytes(page, "big")
    head = bytes.fromhex("d9d505f920a163d7") + (0).to_bytes(4, "big") + bytes(4)
    head += (
        (filled.stat().st_size // size).to_bytes(4, "big")
        + (512).to_bytes(4, "big")
        + size.to_bytes(4, "big")
    )
    tail = len(name).to_bytes(4, "big") + sum(name).to_bytes(4, "big") + bytes.fromhex("d9d505f920a163d7")
    lock_page = (0x40000000 // size + 1).to_bytes(4, "big")
    filled.with_name("pixels.sqlite-journal").write_bytes(head.ljust(512, b"\0") + lock_page + name + tail)
    for a, b in zip(plain, all_of(dump, filled), strict=True):
        assert same(a, b)
    assert photograph.read_bytes() == b"\xff\xd8 a picture"


def test_a_journal_that_a_killed_run_left_is_rolled_back(dump, plain, filled):
    before = len(rows_of(filled))
    writer = sqlite3.connect(filled, isolation_level=None)
    writer.execute("PRAGMA cache_size = 1")
    writer.execute("BEGIN IMMEDIATE")
    for number in range(50):
        writer.execute("INSERT INTO sketch VALUES (?, ?, 1, 1)", (bytes([number]), os.urandom(20_000)))
    left = {p.name: p.read_bytes() for p in filled.parent.iterdir()}
    assert "pixels.sqlite-journal" in left
    writer.execute("ROLLBACK")
    writer.close()
    for name, content in left.items():
        (filled.parent / name).write_bytes(content)
    for a, b in zip(plain, all_of(dump, filled), strict=True):
        assert same(a, b)
    assert not filled.with_name("pixels.sqlite-journal").exists()
    assert len(rows_of(filled)) == before


def test_a_cache_of_an_earlier_version_is_filled_anew(dump, plain, tmp_path):
    """It kept its values without a check sum."""
    path = tmp_path / "p.sqlite"
    change(path, LAYOUT)
    all_of(dump, path)
    old = [(key, value[32:]) for key, value in rows_of(path)]
    for key, value in old:
        change(path, "UPDATE sketch SET value = ? WHERE key = ?", values=(value, key))
    for a, b in zip(plain, all_of(dump, path), strict=True):
        assert same(a, b)
    assert all(value[32:] == dict(old)[key] for key, value in rows_of(path))


def test_a_fault_that_nobody_thought_of_ends_the_use_of_the_file(tmp_path, monkeypatch):
    cache = Cache(tmp_path / "p.sqlite")
    cache.put("a", made())

    def broken(_value: bytes) -> Sketch:
        raise RuntimeError("not thought of")

    monkeypatch.setattr(cache, "_unpack", broken)
    assert cache.get("a") is None and not cache.usable
    cache.put("b", made())
    cache.close()


def replace(cache: Path, how: str) -> None:
    if how == "forged":
        reseal(cache, with_head(source="<b>", width_px=-1))
        return
    cache.unlink()
    if how == "foreign":
        change(cache, "CREATE TABLE a (b)")
    elif how == "folder":
        cache.mkdir()
    else:
        cache.write_text("words", encoding="utf-8")


@pytest.mark.parametrize("how", ["forged", "foreign", "words", "folder"])
def test_the_whole_run_ends_the_same(dump, tmp_path, how, monkeypatch, capsys):
    data = {}
    for name in ("without", "with"):
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / name))
        cache = tmp_path / name / "cornerstop" / "pixels.sqlite"
        if name == "with":
            run(["audit", str(dump), "--out", str(tmp_path / "first"), "--pixels", "full", "-q"])
            assert len(rows_of(cache)) == 3
            replace(cache, how)
        words = ["audit", str(dump), "--out", str(tmp_path / f"report {name}"), "--pixels", "full", "--json"]
        code = run(words if name == "with" else [*words, "--no-cache"])
        told = json.loads(capsys.readouterr().out)
        told.pop("made_at", None)
        frames = (tmp_path / f"report {name}" / "newest" / "frames.csv").read_bytes()
        data[name] = code, told["findings"], frames
    assert data["with"] == data["without"]
    assert data["with"][0] in (0, 1)


def test_the_temporary_file_is_removed_and_nothing_else(dump, tmp_path, monkeypatch):
    place = tmp_path / "temporary"
    place.mkdir()
    for name in ("TMPDIR", "TEMP", "TMP"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    with Sketches(dump, "full") as pictures:
        assert pictures.of({"frame": "0", "files": ["0.jpg"]}) is not None
        (folder,) = place.iterdir()
        (folder / "mine.txt").write_text("kept", encoding="utf-8")
    assert [p.name for p in folder.iterdir()] == ["mine.txt"]
    with Sketches(dump, "full") as pictures:
        assert pictures.of({"frame": "0", "files": ["0.jpg"]}) is not None
        assert len(list(place.iterdir())) == 2
    assert [p.name for p in place.iterdir()] == [folder.name]


@pytest.mark.parametrize("by", ["TMPDIR", "tempdir"])
def test_nothing_temporary_is_made_inside_the_dump(dump, monkeypatch, by):
    inside = dump / "deep"
    inside.mkdir(exist_ok=True)
    if by == "TMPDIR":
        monkeypatch.setenv("TMPDIR", str(inside))
    monkeypatch.setattr(tempfile, "tempdir", None if by == "TMPDIR" else str(inside))
    before = inside.stat().st_mtime_ns, dump.stat().st_mtime_ns
    found = all_of(dump, None)
    assert None not in found
    assert (inside.stat().st_mtime_ns, dump.stat().st_mtime_ns) == before
    assert list(inside.iterdir()) == []


def test_decoding_that_takes_too_much_work_is_said_to(dump, monkeypatch):
    tries = []

    def endless(file: object) -> Sketch:
        tries.append(file)
        while True:
            pass

    monkeypatch.setattr(readers, "from_picture", endless)
    with Crew(0, 0.1):
        told = Sketches(dump, "full").why({"frame": "0", "files": ["0.jpg"]})
    assert told == "0.jpg: not decoded within 0.1 s of work"
    assert len(tries) == 1


@pytest.mark.parametrize(
    "fault", [OSError(5, "Input/output error"), OSError("broken data stream"), SyntaxError()]
)
def test_a_picture_that_fails_once_is_decoded(dump, plain, monkeypatch, fault):
    faults = [fault]
    real = decode.Image.open

    def once(*words: Any, **more: Any) -> Image.Image:
        if faults:
            raise faults.pop()
        return real(*words, **more)

    monkeypatch.setattr(decode.Image, "open", once)
    with Sketches(dump, "full") as pictures:
        assert same(
            pictures.of({"frame": "0", "files": ["0.jpg"], "width_px": 600, "height_px": 400}), plain[0]
        )
    faults.append(fault)
    assert grey_codes(dump / "0.jpg").shape == (400, 600)


def test_a_card_that_refuses_is_not_called_damage(dump, monkeypatch):
    def refuse(*_: object) -> bytes:
        raise OSError(5, "Input/output error")

    real = card._open
    monkeypatch.setattr(
        card, "_open", lambda path, start, ahead: real(path, start, 65_536 if ahead == 65_536 else 0)
    )
    monkeypatch.setattr(card, "_part", refuse)
    with pytest.raises(PixelsUnreadable, match=r"^0\.jpg: cannot be read: Input/output error$"):
        grey_codes(dump / "0.jpg")


def test_a_silent_card_is_said_to_be_one(dump, monkeypatch):
    monkeypatch.setattr(card, "THREADS", CardThreads())
    monkeypatch.setattr(card_thread, "SILENT_S", 0.3)
    over, tries = threading.Event(), []
    real = card._open

    def silent(path: Path, start: int, ahead: int) -> object:
        if path.name == "1.jpg" and ahead == card.CHUNK:  # its pixels
            tries.append(path)
            over.wait()
        return real(path, start, ahead)

    monkeypatch.setattr(card, "_open", silent)
    try:
        with Sketches(dump, "full") as pictures:
            told = [pictures.why({"frame": f"{n}", "files": [f"{n}.jpg"]}) for n in range(3)]
    finally:
        over.set()
    assert told == ["", "1.jpg: the card did not answer for 0.3 s", ""]
    assert len(tries) == 1  # nobody waits twice


def test_a_file_that_is_too_large_is_not_taken_into_memory(tmp_path):
    with (tmp_path / "a.tif").open("wb") as file:
        file.write(b"II*\0")
        file.truncate(2_000_000_000)
    with pytest.raises(PixelsUnreadable, match="larger than 1000 MB"):
        grey_codes(tmp_path / "a.tif")


def test_a_picture_is_read_from_the_card_as_from_a_file(dump):
    data = (dump / "0.jpg").read_bytes()
    with decode.opened(dump / "0.jpg", "JPEG", "a") as ours, Image.open(io.BytesIO(data)) as theirs:
        assert np.array_equal(np.asarray(ours), np.asarray(theirs))
    assert same(unpack(pack(made())), made())

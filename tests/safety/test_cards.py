"""Cards that fail, names that lie, what is no file: the run goes on, and every file is in one place."""

from __future__ import annotations

import errno
import os
import socket
import subprocess
import sys
import time
import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from audit.archive.names import safe_name, safe_names
from audit.disk import card
from audit.message.shown import alike
from audit.scan import folder as folder_module
from audit.scan import scan

POSIX = pytest.mark.skipif(os.name != "posix", reason="such files are those of POSIX")


def first(made: Path) -> bytes:
    return (made / "card" / "TARN0076.JPG").read_bytes()


def adds_up(found: Any) -> bool:
    return sum(len(files) for files in found.frames["files"]) + len(found.passed_over) == found.files_seen


def why(found: Any) -> dict[str, str]:
    """Path and reason of all that is in no row, and of the rows that could not be read."""
    told = dict(zip(found.passed_over["path"], found.passed_over["reason"], strict=True))
    bad = found.frames[found.frames["problem"].notna()]
    return told | {files[0]: problem for files, problem in zip(bad["files"], bad["problem"], strict=True)}


@POSIX
def test_what_is_no_file_is_named_counted_and_left_alone(place, told, tree_of):
    dump, names = place / "card", ["pipe.JPG", "socket.JPG", "device.JPG", "round", "zero.JPG", "far.JPG"]
    os.mkfifo(dump / "pipe.JPG")
    here = Path.cwd()
    os.chdir(dump)
    with socket.socket(socket.AF_UNIX) as one:
        one.bind("socket.JPG")
    os.chdir(here)
    try:
        os.mknod(dump / "device.JPG", 0o020600, os.makedev(1, 5))
    except PermissionError:
        names.remove("device.JPG")
    (dump / "round").symlink_to(dump)
    (dump / "zero.JPG").symlink_to("/dev/zero")
    (dump / "far.JPG").symlink_to("far.JPG")
    code, err = told("audit", dump, "--out", "rep", "-q", "--pixels", "off")
    assert code in (0, 1) and "Traceback" not in err
    page = (place / "rep" / "newest" / "passed-over.html").read_text(encoding="utf-8")
    assert all(name in page for name in names)
    counts = (place / "rep" / "newest" / "findings.json").read_text(encoding="utf-8")
    assert f'"files_passed_over": {len(names)}' in counts


def test_sparse_growing_and_empty_files_are_rows(place, made):
    dump = place / "card"
    with (dump / "sparse.JPG").open("wb") as file:
        file.write(first(made))
        file.truncate(1 << 36)
    with (dump / "hole.JPG").open("wb") as file:
        file.truncate(1 << 30)
    (dump / "empty.JPG").write_bytes(b"")
    found = scan(dump)
    assert adds_up(found)
    assert len(found.frames) == 7
    assert found.frames["problem"].notna().sum() == 2


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="has no such rights")
def test_what_may_not_be_read_is_named_and_the_rest_is_read(place, made):
    dump = place / "card"
    for name in ("closed/a.JPG", "listed/b.JPG", "listed/below/c.JPG", "file/d.JPG"):
        (dump / name).parent.mkdir(parents=True, exist_ok=True)
        (dump / name).write_bytes(first(made))
    (dump / "file" / "d.JPG").chmod(0)
    (dump / "closed").chmod(0)
    (dump / "listed").chmod(0o444)
    command = [sys.executable, "-m", "audit", "audit", str(dump), "--out", "rep", "--pixels", "off"]
    try:
        done = subprocess.run(
            [*as_nobody_special(), *command], capture_output=True, text=True, env=with_project()
        )
    finally:
        for name in ("closed", "listed"):
            (dump / name).chmod(0o755)
    assert done.returncode == 1, done.stderr
    assert "could not be listed to " in done.stderr and "closed" in done.stderr
    frames = pd.read_parquet(place / "rep" / "newest" / "frames.parquet")
    problems = {f[0]: p for f, p in zip(frames["files"], frames["problem"], strict=True) if p is not None}
    assert {name: "Permission denied" in problems[name] for name in ("file/d.JPG", "listed/b.JPG")} == {
        "file/d.JPG": True,
        "listed/b.JPG": True,
    }
    page = (place / "rep" / "newest" / "passed-over.html").read_text(encoding="utf-8")
    assert ">closed<" in page and ">listed/below<" in page


def as_nobody_special() -> list[str]:
    """Words before a command that take from root the right to read everything."""
    if os.geteuid():
        return []
    drop = "-dac_override,-dac_read_search"
    words = ["setpriv", f"--bounding-set={drop}", f"--inh-caps={drop}"]
    try:
        subprocess.run([*words, "true"], check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("is root, and cannot put that down here")
    return words


def with_project() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> Callable[[str, int], None]:
    """Makes every read of a file of a name fail."""
    names: dict[str, int] = {}
    real = card.regular_descriptor

    def opened(path: Path) -> int:
        if path.name in names:
            raise OSError(names[path.name], os.strerror(names[path.name]))
        return real(path)

    monkeypatch.setattr(card, "regular_descriptor", opened)
    return names.__setitem__


def test_read_errors_are_rows_with_the_systems_words(place, failing):
    failing("TARN0077.JPG", errno.EIO)
    failing("TARN0078.JPG", errno.ENODEV)
    found = scan(place / "card")
    assert why(found) == {
        "TARN0077.JPG": f"the file could not be read: {os.strerror(errno.EIO)}",
        "TARN0078.JPG": f"the file could not be read: {os.strerror(errno.ENODEV)}",
    }
    assert adds_up(found) and len(found.frames) == 4


def test_a_card_that_vanishes_in_the_middle_leaves_a_row_for_each_file(place, made, monkeypatch):
    for number in range(20):
        (place / "card" / f"TARN{number:04d}.JPG").write_bytes(first(made))
    read = 0
    real = card.regular_descriptor

    def gone(path: Path) -> int:
        nonlocal read
        read += 1
        if read > 10:
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))
        return real(path)

    monkeypatch.setattr(card, "regular_descriptor", gone)
    found = scan(place / "card")
    assert adds_up(found) and found.files_seen == 24
    assert sum("No such file" in words for words in why(found).values()) == 14


class Listing:
    """What os.scandir gives, until the card fails."""

    def __init__(self, real: Any, after: int, number: int) -> None:
        self._real, self._left, self._number = real, after, number

    def __enter__(self) -> Listing:
        return self

    def __exit__(self, *_: object) -> None:
        self._real.close()

    def __iter__(self) -> Listing:
        return self

    def __next__(self) -> Any:
        if not self._left:
            raise OSError(self._number, os.strerror(self._number))
        self._left -= 1
        return next(self._real)


@pytest.mark.parametrize("after", [0, 2])
def test_a_folder_of_which_the_card_tells_a_part_is_named_and_the_part_is_read(
    place, made, monkeypatch, after, told
):
    bad = place / "card" / "bad"
    bad.mkdir()
    for number in range(5):
        (bad / f"B{number:04d}.JPG").write_bytes(first(made))
    real = os.scandir

    def scandir(folder: Any) -> Any:
        return Listing(real(folder), after, errno.EIO) if Path(folder).name == "bad" else real(folder)

    monkeypatch.setattr(os, "scandir", scandir)
    found = scan(place / "card")
    assert adds_up(found)
    assert found.unlisted == ("bad",)
    assert why(found) == {"bad": f"folder that cannot be listed: {os.strerror(errno.EIO)}"}
    assert sum(len(files) for files in found.frames["files"]) == 4 + after
    code, err = told("audit", "card", "--out", "rep", "--pixels", "off")
    assert code in (0, 1) and "1 folder could not be listed to its end" in err and ": bad" in err


def test_an_item_of_which_the_card_does_not_say_what_it_is(place, monkeypatch):
    """A listing may leave the kind open; asked for it, a card may fail."""
    real = folder_module._classify

    def classify(path: Path, *more: Any) -> Any:
        if path.name == "TARN0077.JPG":
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return real(path, *more)

    monkeypatch.setattr(folder_module, "_classify", classify)
    found = scan(place / "card")
    assert why(found) == {"TARN0077.JPG": f"the card does not say what it is: {os.strerror(errno.EIO)}"}
    assert adds_up(found) and len(found.frames) == 3


def test_a_folder_that_leads_back_is_named_once(place, made, monkeypatch):
    deep = place / "card" / "A" / "B"
    deep.mkdir(parents=True)
    (deep / "A").mkdir()
    (deep / "A" / "B").mkdir()
    real = folder_module._identity
    same = {deep / "A": deep.parent}

    def identity(folder: Path) -> Any:
        return real(same.get(folder, folder))

    monkeypatch.setattr(folder_module, "_identity", identity)
    found = scan(place / "card")
    assert why(found) == {"A/B/A": "folder that leads back to one it lies in"}
    (deep / "A" / "C.JPG").write_bytes(first(made))  # equal numbers alone prove nothing
    assert "A/B/A" not in why(scan(place / "card"))


@POSIX
def test_a_folder_mounted_into_itself_is_read_once(place):
    (place / "card" / "again").mkdir()
    if subprocess.run(["mount", "--bind", "card", "card/again"], capture_output=True).returncode:
        pytest.skip("may not mount here")
    try:
        found = scan(place / "card")
    finally:
        subprocess.run(["umount", "-l", "card/again"], check=True)
    assert why(found) == {"again": "folder that leads back to one it lies in"}
    assert adds_up(found) and all(len(files) == 1 for files in found.frames["files"])


def test_names_as_long_as_they_may_be_odd_and_alike(place, made):
    dump = place / "card"
    odd = ["n" * 251 + ".JPG", "\N{LATIN SMALL LETTER O WITH STROKE}" * 125 + ".JPG", "CON.JPG", "dot..JPG"]
    odd += ["blank .JPG", "C:x.JPG", "line\nend.JPG", "\u202egpj.JPG", os.fsdecode(b"f\xf8lge\xff.JPG")]
    written = []
    for name in odd:
        try:
            (dump / name).write_bytes(first(made))
        except OSError:  # not every file system has such names
            continue
        written.append(name)
    found = scan(dump)
    assert adds_up(found) and found.files_seen == 4 + len(written)
    assert not any(set(path) & {"\n", "\u202e"} for files in found.frames["files"] for path in files)


def deep(folder: Path, name: str, times: int, last: bytes) -> None:
    """Folders in one another, deeper than a path can say, and a picture in the last."""
    here = os.open(folder, os.O_RDONLY)
    for _ in range(times):
        os.mkdir(name, dir_fd=here)
        below = os.open(name, os.O_RDONLY, dir_fd=here)
        os.close(here)
        here = below
    file = os.open("TARN0001.JPG", os.O_WRONLY | os.O_CREAT, dir_fd=here)
    os.write(file, last)
    os.close(file)
    os.close(here)


@POSIX
def test_two_hundred_folders_deep_is_read_and_what_no_path_can_name_is_told(place, made):
    dump = place / "card"
    deep(dump, "deep", 200, first(made))
    deep(dump, "p" * 240, 25, first(made))
    try:
        found = scan(dump)
        assert adds_up(found)
        assert len(found.unlisted) == 1 and found.unlisted[0].startswith("ppp")
        assert any(files[0].count("/") == 200 for files in found.frames["files"])
    finally:
        subprocess.run(["rm", "-rf", str(dump)], check=True)  # pytest's own removal needs paths


def forms(word: str) -> tuple[str, str]:
    return unicodedata.normalize("NFC", word), unicodedata.normalize("NFD", word)


def test_a_name_is_the_same_in_either_unicode_form_and_case(place, made):
    one, two = forms("Sk\u00e5rv\u00e5g0001")
    assert one != two and alike(one) == alike(two.upper())
    dump = place / "card"
    (dump / f"{one}.JPG").write_bytes(first(made))
    raw = dump / f"{two.upper()}.dng"
    raw.write_bytes(first(made))  # raw and picture of one shot, copied by two systems
    found = scan(dump)
    assert adds_up(found)
    both = [files for files in found.frames["files"] if len(files) == 2 and "TARN" not in files[0]]
    assert len(both) == 1
    raw.unlink()
    (dump / "filters.toml").write_text(f'[frames]\n"{two}" = "bare"\n', encoding="utf-8")
    from audit.jobs.audit import audit

    frames = audit(dump, kit_path=place / "kit.toml", pixels="off").frames
    assert (frames["declaration"] == "bare").sum() == 1


def test_names_that_differ_in_case_only_are_two_files_here_and_get_two_names_in_a_bag(place, made):
    dump = place / "card"
    (dump / "tarn0076.jpg").write_bytes((dump / "TARN0077.JPG").read_bytes())
    if len(list(dump.iterdir())) == 4:
        pytest.skip("this file system takes them for one")
    found = scan(dump)
    assert adds_up(found) and found.files_seen == 5
    names = safe_names(
        [b"a/TARN0001.JPG", b"a/tarn0001.jpg", b"b/tarn0001.jpg", *map(os.fsencode, forms("\u00e5"))]
    )
    assert names[b"a/TARN0001.JPG"] == "a/TARN0001.JPG"
    assert names[b"a/tarn0001.jpg"] == "a/tarn0001-2.jpg"
    assert names[b"b/tarn0001.jpg"] == "b/tarn0001.jpg"
    assert len({alike(name) for name in names.values()}) == len(names)


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        (b"CON.JPG", "_43ON.JPG"),
        (b"nul", "_6eul"),
        (b"COM1.txt.JPG", "_43OM1.txt.JPG"),
        (b"CONE.JPG", "CONE.JPG"),
        (b"a/end./x", "a/end_2e/x"),
        (b"C:x.JPG", "C_3ax.JPG"),
        (b"what?.JPG", "what_3f.JPG"),
        (b".hidden", ".hidden"),
    ],
)
def test_names_in_a_bag_are_usable_on_windows(name, safe):
    from pathlib import PureWindowsPath

    assert safe_name(name) == safe
    assert not PureWindowsPath(safe).is_reserved() and not PureWindowsPath(safe).drive


def everything(root: Path) -> dict[str, tuple[object, ...]]:
    """Names, bytes, rights and times of a whole tree, the folders' and its own too."""
    found = {}
    for path in sorted([root, *root.rglob("*")]):
        status = path.lstat()
        data = path.read_bytes() if path.is_file() and not path.is_symlink() else b""
        found[str(path)] = (data, status.st_mode, status.st_size, status.st_mtime_ns, status.st_ctime_ns)
    return found


def untidy(dump: Path) -> None:
    """What also lies on cards: folders, sidecars, a damaged file, names of all sorts."""
    (dump / "MISC" / "deep").mkdir(parents=True)
    (dump / "TARN0076.xmp").write_text("<x/>", encoding="utf-8")
    (dump / "MISC" / "deep" / "TARN0001.JPG").write_bytes(b"no picture")
    (dump / "broken.CR3").write_bytes(b"\0" * 1000)
    (dump / "filters.toml").write_text('[frames]\n"TARN0076" = "bare"\n', encoding="utf-8")


READING = (
    ["audit", "card", "--kit", "kit.toml", "--out", "rep"],
    ["audit", "card", "--kit", "kit.toml", "--out", "rep", "--pixels", "full"],
    ["draft", "card", "--kit", "kit.toml"],
    ["draft", "card", "--kit", "kit.toml", "--declarations", "notes", "--write"],
    ["kit", "check", "card"],
    ["kit", "new", "card", "--out", "new-kit.toml"],
    ["filters", "card", "--kit", "kit.toml"],
    ["sidecars", "card", "--kit", "kit.toml"],
    ["archive", "card", "bag"],
    ["verify", "bag", "--card", "card"],
)


def test_a_tree_that_could_be_written_is_as_it_was_after_every_command_that_reads(place, told):
    untidy(place / "card")
    before = everything(place / "card")
    for command in READING:
        code, err = told(*command)
        assert code in (0, 1), (command, err)
        assert everything(place / "card") == before, command


@POSIX
def test_a_card_that_cannot_be_written_is_read_by_every_command(place, told):
    untidy(place / "card")
    card_words = [["mount", "--bind", "card", "card"], ["mount", "-o", "remount,bind,ro", "card"]]
    if any(subprocess.run(words, capture_output=True).returncode for words in card_words):
        subprocess.run(["umount", "-l", "card"], capture_output=True)
        pytest.skip("may not mount here")
    try:
        with pytest.raises(OSError):
            (place / "card" / "x").write_bytes(b"")
        before = everything(place / "card")
        for command in READING:
            code, err = told(*command)
            assert code in (0, 1), (command, err)
        code, err = told("draft", "card", "--kit", "kit.toml", "--write")
        assert code == 2 and err.count("\n") >= 1 and "Read-only" in err
        assert everything(place / "card") == before
    finally:
        subprocess.run(["umount", "-l", "card"], check=True)


def test_a_walk_takes_ten_times_as_long_for_ten_times_the_files(tmp_path):
    """Within a wide band, since machines are busy: twice the exponent 1 would be a hundred times."""
    taken = []
    for count in (2_000, 20_000):
        folder = tmp_path / str(count)
        folder.mkdir()
        for number in range(count):
            (folder / f"T{number:05d}.JPG").touch()
        began = time.process_time()
        assert len(folder_module.walk(folder)) == count
        taken.append(time.process_time() - began)
    assert taken[1] < 30 * taken[0]

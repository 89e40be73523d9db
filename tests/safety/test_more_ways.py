"""More ways to lose, replace, move or touch what is the owner's, tried by commands from outside.

Nothing here knows how the program writes. What is the owner's is compared by bytes, time, rights, target of
a link and the file itself (its number on the disk), so that a copy put in its place is noticed too.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import re
import shutil
import signal
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

import pytest

from audit.cli.entry import run

Told = Callable[..., tuple[int, str]]
Reports = Callable[..., Path]
Demo = Callable[[object], tuple[int, str]]
Look = dict[str, tuple[object, ...]]
DRAWING = ("--focal", 16, "--sensor", "36x24", "--thread", 77, "--ring", "standard", "--holder", "default")


def look(path: Path) -> Look:
    """A file, a link, or a folder with all below it, as it is on the disk; links are not followed."""
    status = path.lstat()
    if path.is_symlink():
        return {str(path): ("link", str(path.readlink()), status.st_mtime_ns, status.st_ino)}
    if path.is_file():
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        return {str(path): ("file", digest, status.st_mtime_ns, status.st_mode, status.st_ino)}
    if not path.is_dir():
        return {str(path): ("other", status.st_mtime_ns, status.st_mode, status.st_ino)}
    found: Look = {str(path): ("folder", status.st_mtime_ns, status.st_mode, status.st_ino)}
    for one in path.iterdir():
        found |= look(one)
    return found


class Owner:
    """What the owner has; asked afterwards, all of it must be there untouched."""

    def __init__(self) -> None:
        self._kept: dict[Path, Look] = {}

    def has(self, *paths: Path) -> None:
        for path in paths:
            self._kept[path] = look(path)

    def still_has_all(self) -> None:
        missing = [path for path in self._kept if not os.path.lexists(path)]
        assert missing == [], "gone"
        now = {name: what for path in self._kept for name, what in look(path).items()}
        before = {name: what for kept in self._kept.values() for name, what in kept.items()}
        changed = {n: (before.get(n), now.get(n)) for n in before.keys() | now.keys()}
        assert {n: two for n, two in changed.items() if two[0] != two[1]} == {}


@pytest.fixture
def owner(place: Path) -> Owner:
    kept = Owner()
    kept.has(place / "card", place / "kit.toml")
    return kept


@pytest.fixture
def audit(told: Told) -> Callable[..., tuple[int, str]]:
    def command(*more: object, dump: object = "card", out: object = "rep") -> tuple[int, str]:
        return told("audit", dump, "--out", out, "-q", "--pixels", "off", "--no-cache", *more)

    return command


@pytest.fixture(scope="session")
def three_runs(made: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, ...], Path]:
    """Folders of reports with three runs each, so that the next run prunes the first."""
    home = tmp_path_factory.mktemp("three")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CONFIG_HOME", str(home / "config"))
        patch.chdir(made)
        for name, more in (("pages", ()), ("single", ("--single",))):
            words = ["audit", "card", "--out", str(home / name), "-q", "--pixels", "off", "--no-cache", *more]
            assert [run(words) for _ in range(3)] in ([0] * 3, [1] * 3)
    return {(): home / "pages", ("--single",): home / "single"}


@pytest.fixture
def reports(place: Path, three_runs: dict[tuple[str, ...], Path]) -> Reports:
    """Puts a folder of reports with three runs into the working folder."""

    def put(*single: str, name: str = "rep") -> Path:
        shutil.copytree(three_runs[single], place / name, symlinks=True)
        return place / name

    return put


@contextmanager
def at_most(seconds: int) -> Iterator[None]:
    """Fails where something waits for ever."""

    def rung(*_: object) -> None:
        raise AssertionError(f"waited for more than {seconds} s")

    before = signal.signal(signal.SIGALRM, rung)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@contextmanager
def mounted(*words: object) -> Iterator[None]:
    if os.name != "posix" or os.geteuid() != 0:
        pytest.skip("only root may mount")
    made = subprocess.run(["mount", *map(str, words)], capture_output=True, text=True)
    if made.returncode:
        pytest.skip(f"cannot mount here: {made.stderr.strip()}")
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(words[-1])], check=True)


def refused(answer: tuple[int, str], *named: str) -> None:
    """Exit code 2 and one clear line, which names these."""
    code, err = answer
    assert code == 2, (code, err)
    assert err.endswith("\n") and err.count("\n") == 1 and err.strip() and err.rstrip("\n").isprintable(), err
    assert "Traceback" not in err and "Errno" not in err
    for name in named:
        assert name in err, err


def photograph(place: Path, at: Path) -> Path:
    at.parent.mkdir(parents=True, exist_ok=True)
    shutil.copy(place / "card" / "TARN0077.JPG", at)
    os.utime(at, ns=(10**18 + 1, 10**18 + 1))
    return at


def run_of(out: Path, number: int) -> Path:
    return out / f"run-{number:04d}"


# --- What lies in a folder of reports ---------------------------------------------------------------------


def test_whatever_the_owner_did_to_an_old_run_outlives_it(
    place: Path, owner: Owner, audit: Told, reports: Reports
) -> None:
    """Each of these is in the first run when it becomes the fourth-newest."""
    reports()
    first, archive = run_of(place / "rep", 1), place / "archive"
    archive.mkdir()
    appended, same_size = first / "findings.html", first / "frames.csv"
    with appended.open("a") as file:
        file.write("<!-- mine -->")
    status, data = same_size.stat(), same_size.read_bytes()
    same_size.write_bytes(data[:-3] + bytes(byte ^ 1 for byte in data[-3:]))
    os.utime(same_size, ns=(status.st_atime_ns, status.st_mtime_ns))
    shutil.copy2(first / "index.html", archive / "index.html")
    (first / "index.html").unlink()
    (first / "index.html").symlink_to(archive / "index.html")
    (first / "pictures").rename(archive / "pictures")
    (first / "pictures").symlink_to(archive / "pictures", target_is_directory=True)
    os.link(first / "frames.parquet", archive / "frames.parquet")
    (first / "kit.html").unlink()
    photograph(place, first / "kit.html" / "photo.jpg")
    (first / "empty").mkdir()
    (first / "to photographs").symlink_to(place / "card", target_is_directory=True)
    (first / "to nothing").symlink_to("nowhere")
    photograph(place, first / ".hidden" / ".photo.jpg")
    (first / "frames.html").rename(first / "my frames.html")
    owner.has(*(first / n for n in ("findings.html", "frames.csv", "index.html", "pictures", "kit.html")))
    owner.has(*(first / n for n in ("empty", "to photographs", "to nothing", ".hidden", "my frames.html")))
    kept = look(archive)
    said = [audit()[1] for _ in range(2)]
    owner.still_has_all()
    assert {n: w[:2] for n, w in look(archive).items()} == {n: w[:2] for n, w in kept.items()}
    assert not (first / "method.html").exists(), "the fourth-newest run is pruned"
    assert len([line for text in said for line in text.splitlines()]) <= 4
    assert any("run-0001" in text for text in said)


@pytest.mark.parametrize("single", [(), ("--single",)])
def test_a_run_moved_to_an_archive_and_led_back_to(
    place: Path, owner: Owner, audit: Told, single: tuple[str, ...], reports: Reports
) -> None:
    reports(*single)
    (place / "archive").mkdir()
    run_of(place / "rep", 1).rename(place / "archive" / "run-0001")
    run_of(place / "rep", 1).symlink_to(place / "archive" / "run-0001", target_is_directory=True)
    owner.has(place / "archive", run_of(place / "rep", 1))
    for _ in range(2):
        assert audit(*single)[0] in (0, 1)
    owner.still_has_all()


def test_copies_of_runs_under_other_names_are_the_owners(
    place: Path, owner: Owner, audit: Told, reports: Reports
) -> None:
    reports()
    first = run_of(place / "rep", 1)
    photograph(place, first / "photo.jpg")
    for name in ("keep", "run-0001 copy", "run-1", "RUN-0001", "run-00001x", "trip"):
        shutil.copytree(first, place / "rep" / name)
        owner.has(place / "rep" / name)
    shutil.copytree(first, place / "archive" / "run-0001")
    owner.has(place / "archive", first / "photo.jpg")
    for _ in range(2):
        assert audit()[0] in (0, 1)
    owner.still_has_all()


@pytest.mark.parametrize(
    "name", ["run-9999", "run-10000", "run-99999999999999999999999", "run-0000", "run--001", "run-\u0661"]
)
def test_folders_of_the_owners_named_like_runs(
    place: Path, owner: Owner, audit: Told, name: str, reports: Reports
) -> None:
    reports()
    photograph(place, place / "rep" / name / "photo.jpg")
    owner.has(place / "rep" / name)
    for _ in range(2):
        assert audit()[0] in (0, 1)
    owner.still_has_all()
    assert (place / "rep" / "newest" / "frames.csv").is_file()


@pytest.mark.parametrize("what", ["file", "link to photographs", "link to nothing", "folder", "device"])
def test_the_next_number_is_taken_by_something_of_the_owners(
    place: Path, owner: Owner, audit: Told, what: str, reports: Reports
) -> None:
    reports()
    taken = run_of(place / "rep", 4)
    if what == "file":
        photograph(place, taken)
    elif what == "folder":
        taken.mkdir()
    elif what == "device":
        os.mkfifo(taken)
    else:
        taken.symlink_to(place / "card" if "photo" in what else "nowhere")
    owner.has(taken)
    for _ in range(2):
        with at_most(60):
            assert audit()[0] in (0, 1)
    owner.still_has_all()
    assert (place / "rep" / "newest" / "frames.csv").is_file()


def tampered_lines(place: Path, run: Path) -> list[str]:
    """Lines as the program would write them, about files that are not its own."""
    photo = place / "card" / "TARN0076.JPG"
    digest, size = hashlib.sha256(photo.read_bytes()).hexdigest(), photo.stat().st_size
    shutil.copy2(photo, run / "mine.jpg")
    (run / "linked").symlink_to(place / "card", target_is_directory=True)
    up = os.path.relpath(photo, run)
    names = [str(photo), up, f"pictures/../{up}", f"./{up}", "linked/TARN0076.JPG", f"linked/../{up}"]
    names += [f"{up}/", f"//{photo}", up.replace("/", "\\"), f"pictures/{'../' * 12}{str(photo)[1:]}"]
    lines = []
    for name in names:
        lines += [f"begun\t{name}", f"file\t{name}\t{size}\t{digest}", f"link\t{name}\t{photo}"]
    lines += ["link\tlinked\t../..", "begun\t../../card", "begun\t..", "begun\t.", f"begun\t{place / 'card'}"]
    return [*lines, "begun\tlinked"]


@pytest.mark.parametrize("single", [(), ("--single",)])
def test_a_list_that_names_photographs_elsewhere_reaches_none(
    place: Path, owner: Owner, audit: Told, single: tuple[str, ...], reports: Reports
) -> None:
    reports(*single)
    first = run_of(place / "rep", 1)
    listed = first / ".cornerstop-output"
    if not listed.exists():
        pytest.fail("a run carries a list of its files")
    text = listed.read_text(encoding="utf-8")
    shape = re.search(r"^file\t.+\t\d+\t[0-9a-f]{64}$", text, re.MULTILINE)
    assert shape, "these lines are written as the program writes them; see what it writes now"
    extra = "\n".join(tampered_lines(place, first)) + "\n"
    tail = "whole\n" if text.endswith("whole\n") else ""
    listed.write_text(text.removesuffix(tail) + extra + tail, encoding="utf-8")
    top = place / "rep" / ".cornerstop-output"
    if top.exists():
        top.write_text(top.read_text(encoding="utf-8") + extra, encoding="utf-8")
    owner.has(place / "card", first / "mine.jpg", first / "linked")
    for _ in range(2):
        assert audit(*single)[0] in (0, 1, 2)
    owner.still_has_all()


@pytest.mark.parametrize(
    "instead", ["photograph", "link to a photograph", "folder", "pipe", "noise", "nothing", "link to a list"]
)
def test_something_else_in_the_place_of_a_list(
    place: Path, owner: Owner, audit: Told, instead: str, reports: Reports
) -> None:
    """What no list names is not the program's to remove, whatever it looks like."""
    reports()
    first = run_of(place / "rep", 1)
    listed = first / ".cornerstop-output"
    moved = place / "list"
    listed.rename(moved)
    if instead == "photograph":
        photograph(place, listed)
    elif instead == "link to a photograph":
        listed.symlink_to(place / "card" / "TARN0076.JPG")
    elif instead == "folder":
        photograph(place, listed / "photo.jpg")
    elif instead == "pipe":
        os.mkfifo(listed)
    elif instead == "noise":
        listed.write_bytes(os.urandom(100_000) + b"\nfile\t../../card/TARN0076.JPG\t1\t\xff\n")
    elif instead == "link to a list":
        listed.symlink_to(moved)
    photograph(place, first / "photo.jpg")
    owner.has(moved, first / "photo.jpg")
    if instead != "link to a list":  # then it may be said that there is one
        owner.has(first / "index.html")
    if os.path.lexists(listed):
        owner.has(listed)
    for _ in range(2):
        with at_most(60):
            code, err = audit()
        assert code in (0, 1), err
    owner.still_has_all()


@pytest.mark.parametrize(
    "instead", ["photograph", "link to a photograph", "folder", "pipe", "nothing", "noise"]
)
def test_something_else_in_the_place_of_the_folders_own_mark(
    place: Path, owner: Owner, audit: Told, instead: str, reports: Reports
) -> None:
    reports()
    mark = place / "rep" / ".cornerstop-output"
    if not mark.exists():
        pytest.skip("the folder of reports carries no mark of its own")
    mark.unlink()
    if instead == "photograph":
        photograph(place, mark)
    elif instead == "link to a photograph":
        mark.symlink_to(place / "card" / "TARN0076.JPG")
    elif instead == "folder":
        photograph(place, mark / "photo.jpg")
    elif instead == "pipe":
        os.mkfifo(mark)
    elif instead == "noise":
        mark.write_bytes(os.urandom(10_000))
    photograph(place, place / "rep" / "pics" / "photo.jpg")
    owner.has(place / "rep" / "pics", run_of(place / "rep", 1))
    if os.path.lexists(mark):
        owner.has(mark)
    for _ in range(2):
        with at_most(60):
            code, err = audit()
        assert code in (0, 1, 2) and "Traceback" not in err, err
    owner.still_has_all()


def test_the_doors_of_a_report_taken_by_hard_links_and_folders(
    place: Path, owner: Owner, audit: Told, reports: Reports
) -> None:
    """The page on top shares its bytes with an archive; `newest` is a folder with photographs."""
    reports()
    (place / "archive").mkdir()
    os.link(place / "rep" / "report.html", place / "archive" / "report.html")
    (place / "rep" / "newest").unlink()
    photograph(place, place / "rep" / "newest" / "photo.jpg")
    owner.has(place / "rep" / "newest")
    text = (place / "archive" / "report.html").read_bytes()
    for more in ((), ("--single",), ("--lang", "de")):
        assert audit(*more)[0] in (0, 1)
    owner.still_has_all()
    assert (place / "archive" / "report.html").read_bytes() == text


def test_a_folder_of_an_earlier_version_without_lists(place: Path, owner: Owner, audit: Told) -> None:
    """Looks like ours, but nothing tells what was written and what was added since: all of it stays."""
    old = place / "rep"
    for number in range(1, 5):
        photograph(place, run_of(old, number) / "pictures" / "p1.jpg")
        (run_of(old, number) / "index.html").write_text("<title>Field report</title>")
        (run_of(old, number) / "frames.csv").write_text("frame\n")
    (old / "report.html").write_text('<meta http-equiv="refresh" content="0; url=run-0004/index.html">')
    owner.has(*old.iterdir())
    for _ in range(4):
        code, err = audit()
        assert code in (0, 1) or err.count("\n") == 1
    owner.still_has_all()


def test_mounted_and_immutable_things_in_a_run_that_is_pruned(
    place: Path, owner: Owner, audit: Told, reports: Reports
) -> None:
    reports()
    first = run_of(place / "rep", 1)
    (first / "medium").mkdir()
    with mounted("-t", "tmpfs", "none", first / "medium"):
        photograph(place, first / "medium" / "photo.jpg")
        owner.has(first / "medium")
        fixed = not subprocess.run(["chattr", "+i", first / "index.html"], capture_output=True).returncode
        try:
            for _ in range(4):
                code, err = audit()
                assert code in (0, 1), err
            owner.still_has_all()
            assert (first / "index.html").exists() == fixed
        finally:
            subprocess.run(["chattr", "-i", first / "index.html"], capture_output=True)


def test_names_of_the_owners_that_play_with_the_terminal(
    place: Path, owner: Owner, audit: Told, reports: Reports
) -> None:
    reports()
    first = run_of(place / "rep", 1)
    for name in ("two\nlines.jpg", "\x1b[2J\x1b[31mred.jpg", "tab\there", "run-0001\r", "\u202egpj.jpg"):
        photograph(place, first / name)
        owner.has(first / name)
    other = os.fsencode(first) + b"/\xff\xfe.jpg"
    Path(os.fsdecode(other)).write_bytes(b"mine")
    owner.has(Path(os.fsdecode(other)))
    said = [audit()[1] for _ in range(2)]
    owner.still_has_all()
    assert all(len(text.splitlines()) <= 2 and "\x1b" not in text and "\r" not in text for text in said), said


def killed_while_writing(place: Path, out: str) -> list[Path]:
    """Leaves behind what a run leaves that is killed in the midst of its pages; gives these things."""
    before = set((place / out).rglob("*")) if (place / out).exists() else set()
    child = os.fork()
    if child == 0:
        try:
            real, count = os.fsync, [0]

            def die(handle: int) -> None:
                real(handle)
                count[0] += 1
                if count[0] == 3:
                    os.kill(os.getpid(), signal.SIGKILL)

            os.fsync = die
            run(["audit", "card", "--out", out, "-q", "--pixels", "off", "--no-cache"])
        finally:
            os._exit(0)
    status = os.waitpid(child, 0)[1]
    assert os.waitstatus_to_exitcode(status) == -signal.SIGKILL
    return sorted(set((place / out).rglob("*")) - before)


def test_what_the_owner_put_into_the_leftovers_of_a_killed_run(
    place: Path, owner: Owner, audit: Told, reports: Reports
) -> None:
    reports()
    left = killed_while_writing(place, "rep")
    folders = [path for path in left if path.is_dir()]
    assert folders, "a run is filled in a folder of its own"
    for folder in folders:
        photograph(place, folder / "photo.jpg")
        photograph(place, folder / "frames.parquet.jpg")
        owner.has(folder / "photo.jpg", folder / "frames.parquet.jpg")
    named = folders[0].name
    likes = {named + "x", named[:-1], re.sub(r"\d+", "1", named), named.upper(), f"{named} (copy)"} - {named}
    for name in likes:
        photograph(place, place / "rep" / name / "photo.jpg")
        owner.has(place / "rep" / name / "photo.jpg")
    for _ in range(2):
        assert audit()[0] in (0, 1)
    owner.still_has_all()


# --- Where a report may lie, and what may lie in it -------------------------------------------------------


@pytest.mark.parametrize(
    "out",
    [
        "../",
        "card/days",
        "card/TARN0076.JPG",
        "kit.toml/rep",
        "circle",
        "card/days/..",
        "/dev/null",
        "days/../card",
    ],
)
def test_an_out_that_cannot_be(place: Path, owner: Owner, told: Told, out: str) -> None:
    photograph(place, place / "card" / "days" / "photo.jpg")
    (place / "days").mkdir()
    (place / "circle").symlink_to("circle")
    owner.has(place)
    refused(told("audit", "card", "--out", out, "-q"))
    owner.still_has_all()


def test_the_usual_folder_does_not_come_up_in_the_dump_by_itself(
    place: Path, owner: Owner, told: Told, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(place / "card")
    refused(told("audit", ".", "-q"), "cornerstop-report")
    refused(told("audit", place / "card", "-q"), "cornerstop-report")
    owner.still_has_all()


@pytest.mark.parametrize("before", ["absent", "empty"])
def test_a_fresh_folder_in_the_dump_that_was_named(
    place: Path, owner: Owner, audit: Told, told: Told, before: str
) -> None:
    """It is possible, and its pictures are not counted as photographs; once it holds more, it is not."""
    photographs = sorted((place / "card").iterdir())
    owner = Owner()
    owner.has(*photographs)
    rep = place / "card" / "rep"
    if before == "empty":
        rep.mkdir()
    for _ in range(2):
        assert audit(out="card/rep")[0] in (0, 1)
    table = (rep / "newest" / "frames.csv").read_text(encoding="utf-8-sig")
    assert len([line for line in table.splitlines() if "TARN" in line.split(",")[0]]) == len(photographs)
    owner.still_has_all()
    mine = photograph(place, run_of(rep, 1) / "best" / "photo.jpg")
    (rep / ".notes").write_text("mine")
    owner.has(mine, rep / ".notes")
    refused(audit(out="card/rep"), "rep")
    for _ in range(2):
        assert audit()[0] in (0, 1)
    owner.still_has_all()


@pytest.mark.parametrize("which", ["kit", "found kit", "linked kit", "declarations", "linked declaration"])
def test_kit_and_declarations_that_lie_in_a_report_by_any_way(
    place: Path, told: Told, audit: Told, which: str, reports: Reports
) -> None:
    reports("--single")
    inside = run_of(place / "rep", 3) / "mine"
    inside.mkdir()
    owner, more, dump = Owner(), (), "card"
    if "kit" in which:
        shutil.copy(place / "kit.toml", inside / "kit.toml")
        owner.has(place / "card")
        if which == "kit":
            more = ("--kit", "rep/newest/mine/kit.toml")
        elif which == "linked kit":
            (place / "my kit.toml").symlink_to(inside / "kit.toml")
            more = ("--kit", "my kit.toml")
        else:
            (place / "kit.toml").unlink()
            (place / "kit.toml").symlink_to(inside / "kit.toml")
    else:
        (inside / "filters.toml").write_text('[[worn]]\nfiles = ["TARN0076"]\nbare = true\n')
        if which == "declarations":
            more = ("--declarations", "rep/newest/mine")
        else:
            (place / "card" / "filters.toml").symlink_to(inside / "filters.toml")
    owner.has(place / "card", inside)
    for _ in range(4):
        refused(told("audit", dump, "--out", "rep", "-q", "--single", *more), "rep")
    owner.still_has_all()


@pytest.mark.parametrize("out", ["notes", "notes/deep", "."])
def test_a_report_is_not_laid_over_declarations(place: Path, owner: Owner, told: Told, out: str) -> None:
    (place / "notes" / "deep").mkdir(parents=True)
    (place / "notes" / "filters.toml").write_text("# mine\n")
    (place / "notes" / "deep" / "filters.toml").write_text("# mine\n")
    owner.has(place)
    refused(told("audit", "card", "--out", out, "--declarations", "notes", "-q"))
    owner.still_has_all()


@pytest.mark.parametrize("command", ["draft", "filters", "calibrate"])
@pytest.mark.parametrize("where", ["rep/pics", "rep/run-0001/pics", "rep/newest/pics"])
def test_no_command_takes_pictures_that_lie_in_a_report(
    place: Path, owner: Owner, audit: Told, told: Told, command: str, where: str, reports: Reports
) -> None:
    reports()
    photograph(place, place / where / "TARN0077.JPG")
    (place / where / "filters.toml").write_text('[[worn]]\nfiles = ["TARN0077"]\nbare = true\n')
    owner.has(place)
    refused(told(command, where, "--kit", "kit.toml", "--write", "-q"), "rep")
    owner.still_has_all()


def test_it_is_refused_before_a_picture_is_read(
    place: Path,
    owner: Owner,
    audit: Told,
    told: Told,
    monkeypatch: pytest.MonkeyPatch,
    reports: Reports,
) -> None:
    reports()
    photograph(place, place / "rep" / "pics" / "photo.jpg")
    opened: list[str] = []
    real = os.open

    def noting(path: object, *more: int, **named: int) -> int:
        opened.append(os.fsdecode(path) if isinstance(path, str | bytes | os.PathLike) else "")
        return real(path, *more, **named)  # type: ignore[arg-type]

    monkeypatch.setattr("os.open", noting)
    refused(told("audit", "rep/pics", "--out", "elsewhere", "-q"), "rep")
    refused(told("audit", "card", "--out", "card", "-q"), "card")
    assert [name for name in opened if name.lower().endswith(".jpg")] == []
    assert not (place / "elsewhere").exists()


def test_links_between_dump_and_report_are_not_walked(place: Path, audit: Told) -> None:
    """A link among the photographs leads to the report, one in the report leads to the photographs."""
    (place / "card" / "report").symlink_to(place / "rep", target_is_directory=True)
    owner = Owner()
    owner.has(place / "card")
    for _ in range(5):
        code, err = audit()
        assert code in (0, 1, 2) and "Traceback" not in err
        for one in (place / "rep").glob("run-*"):
            if not (one / "photographs").is_symlink():
                (one / "photographs").symlink_to(place / "card", target_is_directory=True)
    owner.still_has_all()


@pytest.mark.parametrize("way", ["part of it", "around it", "report in it", "kit in the report"])
def test_bind_mounts_of_parts(place: Path, audit: Told, told: Told, way: str, reports: Reports) -> None:
    owner, other = Owner(), place.parent / "other"
    other.mkdir()
    if way == "part of it":
        photograph(place, place / "card" / "days" / "photo.jpg")
        (place / "card" / "days" / "fresh").mkdir()
        owner.has(place / "card")
        with mounted("--bind", place / "card" / "days", other):
            refused(told("audit", "card", "--out", other, "-q"))
            refused(told("audit", other, "--out", "card/days", "--kit", "kit.toml", "-q"))
    elif way == "around it":
        photograph(place, place / "photo.jpg")
        owner.has(place)
        with mounted("--bind", place, other):
            refused(told("audit", "card", "--out", other, "-q"))
            refused(told("audit", other / "card", "--out", ".", "-q"))
    elif way == "report in it":
        reports()
        photograph(place, place / "rep" / "pics" / "TARN0999.JPG")
        (place / "card" / "seen").mkdir()
        owner.has(*(place / "card").iterdir(), place / "rep" / "pics")
        with mounted("--bind", place / "rep", place / "card" / "seen"):
            refused(told("audit", "card/seen/pics", "--out", "new", "--kit", "kit.toml", "-q"))
            for _ in range(2):
                code, err = audit()
                assert code == 2 and err.count("\n") == 1, err
    else:
        reports()
        (place / "rep" / "kit.toml").touch()
        owner.has(place / "card")
        with mounted("--bind", place / "kit.toml", place / "rep" / "kit.toml"):
            code, err = audit("--kit", "rep/kit.toml")
            assert code == 2 and err.count("\n") == 1, err
    owner.still_has_all()


def test_another_case_is_the_same_folder(place: Path, owner: Owner, told: Told) -> None:
    if not (place / "CARD").exists():
        pytest.skip("this file system tells upper from lower case")
    refused(told("audit", "card", "--out", "CARD", "-q"))
    refused(told("audit", "Card", "--out", "cARD/..", "-q"))
    owner.still_has_all()


# --- The program's own folders ----------------------------------------------------------------------------


@pytest.mark.parametrize("way", ["in the dump", "by a link", "by home", "around the dump", "relative"])
def test_small_pictures_are_not_kept_among_the_large(
    place: Path, told: Told, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    dump: Path = place / "card"
    if way == "in the dump":
        monkeypatch.setenv("XDG_CACHE_HOME", str(place / "card" / "a" / "b"))
    elif way == "by a link":
        (place / "cache").symlink_to(place / "card", target_is_directory=True)
        monkeypatch.setenv("XDG_CACHE_HOME", str(place / "cache"))
    elif way == "by home":
        monkeypatch.delenv("XDG_CACHE_HOME")
        monkeypatch.setenv("HOME", str(place / "card"))
    elif way == "relative":
        monkeypatch.chdir(place / "card")
        monkeypatch.setenv("XDG_CACHE_HOME", "caches")
    else:
        dump = place.parent / "cache" / "cornerstop" / "card"
        shutil.copytree(place / "card", dump)
    owner = Owner()
    owner.has(dump)
    code, err = told("audit", dump, "--out", place / "rep", "--kit", place / "kit.toml", "-q")
    if way == "relative":  # such a value is void by its definition, so either is right
        assert code in (0, 1, 2)
    else:
        refused((code, err), "card")
        assert not (place / "rep").exists()
    owner.still_has_all()


@pytest.mark.parametrize(
    "way", ["link to a photograph", "photograph", "linked folder", "a file", "beside it", "link to nothing"]
)
def test_things_of_the_owners_at_the_caches_place(
    place: Path, owner: Owner, told: Told, tmp_path: Path, way: str
) -> None:
    caches = tmp_path / "cache"
    home = caches / "cornerstop"
    home.mkdir(parents=True)
    assert told("audit", "card", "--out", "first", "-q")[0] in (0, 1)
    kept = sorted(path.name for path in home.iterdir())
    assert kept
    shutil.rmtree(home)
    archive = place / "archive"
    archive.mkdir()
    if way == "a file":
        photograph(place, home)
        owner.has(home)
    elif way == "linked folder":
        photograph(place, archive / "photo.jpg")
        home.symlink_to(archive, target_is_directory=True)
        owner.has(home, archive / "photo.jpg")
    else:
        home.mkdir()
        for name in kept:
            mine = home / name
            if way == "link to a photograph":
                mine.symlink_to(photograph(place, archive / "photo.jpg"))
            elif way == "photograph":
                photograph(place, mine)
            elif way == "link to nothing":
                mine.symlink_to(archive / "nothing")
            else:
                for more in ("-wal", "-shm", "-journal", ".jpg", "~"):
                    photograph(place, home / f"{name}{more}")
                photograph(place, home / "photo.jpg")
                owner.has(home / f"{name}.jpg", home / f"{name}~", home / "photo.jpg")
                continue
            owner.has(mine)
    if way != "linked folder":
        owner.has(archive)
    for _ in range(2):
        code, err = told("audit", "card", "--out", "rep", "-q")
        assert code in (0, 1) and "Traceback" not in err, err
    owner.still_has_all()


def test_the_private_temporary_folder_may_lie_above_but_not_in_the_dump(
    place: Path, owner: Owner, told: Told, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(place.parent))
    assert told("audit", "card", "--out", "rep", "--no-cache", "-q")[0] in (0, 1)
    (place / "tmp").symlink_to(place / "card", target_is_directory=True)
    monkeypatch.setattr("tempfile.tempdir", str(place / "tmp"))
    refused(told("audit", "card", "--out", "rep", "--no-cache", "-q"), "card")
    owner.still_has_all()


# --- The demo ---------------------------------------------------------------------------------------------


@pytest.fixture
def demo(told: Told, monkeypatch: pytest.MonkeyPatch, made: Path) -> Demo:
    """The command on a trip of four pictures, so that it can be written often."""
    from audit.demo.score import Score
    from audit.jobs import demo as demonstration

    few = [(f"trip/100BRAT/{path.name}", path.read_bytes()) for path in sorted((made / "card").iterdir())]
    few += [("trip/kit.toml", (made / "kit.toml").read_bytes()), ("truth.json", b"{}")]
    monkeypatch.setattr(demonstration, "trip_files", lambda **_: iter(few))
    monkeypatch.setattr(demonstration, "score", lambda *_: Score(0, 0, (), 0, ()))
    return lambda out: told("demo", "--out", out, "-q")


def test_a_demo_leaves_what_has_nearly_its_name(place: Path, owner: Owner, demo: Demo) -> None:
    for name in ("X.part", ".X.part", "X.old", "X~", ".X", "X.tmp", "X.bak", "X-part"):
        photograph(place, place / name / "photo.jpg")
        owner.has(place / name)
    assert demo("X")[0] in (0, 1)
    assert demo("X")[0] in (0, 1)
    owner.still_has_all()


def test_a_second_demo_leaves_what_was_added_or_changed(place: Path, owner: Owner, demo: Demo) -> None:
    assert demo("X")[0] in (0, 1)
    added = [place / "X" / "photo.jpg", place / "X" / "trip" / "100BRAT" / "TARN9999.JPG"]
    added += [place / "X" / "report" / "photo.jpg", place / "X" / ".hidden" / "photo.jpg"]
    for path in added:
        photograph(place, path)
    with (place / "X" / "trip" / "kit.toml").open("a") as file:
        file.write("# mine\n")
    owner.has(*added, place / "X" / "trip")
    for _ in range(4):
        code, err = demo("X")
        assert code in (0, 1) or (code == 2 and err.count("\n") == 1), err
    owner.still_has_all()


@pytest.mark.parametrize(
    "out", ["photos", "to photos", "photo.jpg", "to photo", "kit.toml/X", "circle", "run", "trip like ours"]
)
def test_a_demo_into_something_of_the_owners_is_refused(
    place: Path,
    owner: Owner,
    audit: Told,
    demo: Demo,
    out: str,
    reports: Reports,
) -> None:
    photograph(place, place / "photos" / "photo.jpg")
    photograph(place, place / "photo.jpg")
    photograph(place, place / "trip like ours" / "trip" / "photo.jpg")
    (place / "trip like ours" / "truth.json").write_text("{}")
    (place / "to photos").symlink_to("photos")
    (place / "to photo").symlink_to("photo.jpg")
    (place / "circle").symlink_to("circle")
    if out == "run":
        reports(name="run")
        photograph(place, place / "run" / "run-0001" / "photo.jpg")
    owner.has(place)
    refused(demo(out))
    owner.still_has_all()


@pytest.mark.parametrize("way", ["a link to an empty folder", "a link to nothing"])
def test_a_demo_through_a_link_leaves_the_link(place: Path, owner: Owner, demo: Demo, way: str) -> None:
    if "empty" in way:
        (place / "empty").mkdir()
    (place / "X").symlink_to("empty")
    owner.has(place / "X")
    code, err = demo("X")
    assert code in (0, 1) or (code == 2 and err.count("\n") == 1), err
    owner.still_has_all()


# --- Declarations and kit ---------------------------------------------------------------------------------

DECLARED = b'# mine\r\n[[worn]]\r\nfiles = ["TARN0076"]\r\nbare = true'


def draft(told: Told, *more: object) -> tuple[int, str]:
    return told("draft", "card", "--kit", "kit.toml", "--write", "-q", "--no-cache", *more)


def bytes_below(*folders: Path) -> set[bytes]:
    return {p.read_bytes() for f in folders for p in f.rglob("*") if p.is_file() and not p.is_symlink()}


@pytest.mark.parametrize("mode", [0o644, 0o600, 0o444])
@pytest.mark.parametrize("text", [DECLARED, b"\xef\xbb\xbf" + DECLARED, b"", b"# only a word of mine"])
def test_a_draft_keeps_every_byte_and_the_rights(place: Path, told: Told, text: bytes, mode: int) -> None:
    target = place / "card" / "filters.toml"
    target.write_bytes(text)
    target.chmod(mode)
    photographs = Owner()
    photographs.has(*(place / "card").glob("*.JPG"), place / "kit.toml")
    code, err = draft(told)
    photographs.still_has_all()
    assert code in (0, 1) or (code == 2 and err.count("\n") == 1), err
    assert target.stat().st_mode & 0o777 == mode
    if code != 2:
        assert (place / "card" / "filters.toml.bak").read_bytes() == text
    else:
        assert target.read_bytes() == text
    assert sorted(p.name for p in (place / "card").iterdir() if p.name.startswith(".")) == []


@pytest.mark.parametrize("taken", ["file", "folder", "link to a photo", "link to nothing", "pipe", "hundred"])
def test_a_backup_takes_no_place_that_is_taken(place: Path, told: Told, taken: str) -> None:
    owner, card = Owner(), place / "card"
    target = card / "filters.toml"
    target.write_bytes(DECLARED)
    backup = card / "filters.toml.bak"
    if taken == "file":
        backup.write_bytes(b"older")
    elif taken == "folder":
        photograph(place, backup / "photo.jpg")
    elif taken == "link to a photo":
        backup.symlink_to("TARN0076.JPG")
    elif taken == "link to nothing":
        backup.symlink_to("TARN9999.JPG")
    elif taken == "pipe":
        os.mkfifo(backup)
    else:
        for number in ("", *range(1, 101)):
            (card / f"filters.toml.bak{number}").write_bytes(b"older")
    owner.has(*(path for path in card.iterdir() if path != target))
    with at_most(60):
        code, err = draft(told)
    assert code in (0, 1) or (code == 2 and err.count("\n") == 1), err
    owner.still_has_all()
    assert DECLARED in bytes_below(card)
    assert not (card / "TARN9999.JPG").exists()


@pytest.mark.parametrize(
    "way",
    ["hard link", "folder", "pipe", "link to nothing", "link to a link", "not text", "link out of the dump"],
)
def test_a_draft_where_the_declaration_is_something_else(place: Path, told: Told, way: str) -> None:
    owner, card, archive = Owner(), place / "card", place / "archive"
    archive.mkdir()
    target = card / "filters.toml"
    if way == "hard link":
        (archive / "filters.toml").write_bytes(DECLARED)
        os.link(archive / "filters.toml", target)
    elif way == "folder":
        photograph(place, target / "photo.jpg")
        owner.has(target)
    elif way == "pipe":
        os.mkfifo(target)
        owner.has(target)
    elif way == "link to nothing":
        target.symlink_to(archive / "nothing")
        owner.has(target)
    elif way == "not text":
        target.write_bytes(DECLARED + b"\n# \xff\xfe\n")
        owner.has(target)
    else:
        (archive / "filters.toml").write_bytes(DECLARED)
        (archive / "one.toml").symlink_to("filters.toml")
        target.symlink_to(archive / ("one.toml" if way == "link to a link" else "filters.toml"))
        owner.has(target, archive / "one.toml")
    owner.has(*card.glob("*.JPG"))
    with at_most(60):
        code, err = draft(told)
    assert code in (0, 1) or (code == 2 and err.count("\n") == 1), err
    owner.still_has_all()
    if way in ("hard link", "link to a link", "link outwards"):
        assert DECLARED in bytes_below(card, archive)


@pytest.mark.parametrize("way", ["file in the way", "link to photographs", "in a report", "read-only"])
def test_a_mirror_tree_that_is_something_else(
    place: Path, told: Told, audit: Told, way: str, reports: Reports
) -> None:
    owner = Owner()
    (place / "dump" / "card").mkdir(parents=True)
    for path in (place / "card").iterdir():
        shutil.copy2(path, place / "dump" / "card")
    notes = place / "notes"
    if way == "in a report":
        reports()
        notes = place / "rep" / "notes"
        photograph(place, notes / "card" / "photo.jpg")
    elif way == "file in the way":
        photograph(place, notes / "card")
    elif way == "link to photographs":
        notes.mkdir()
        (notes / "card").symlink_to(place / "card", target_is_directory=True)
    else:
        photograph(place, notes / "card" / "photo.jpg")
        (notes / "card" / "filters.toml").write_bytes(DECLARED)
        (notes / "card").chmod(0o555)
    owner.has(place / "dump", *(place / "card").iterdir(), place / "kit.toml")
    owner.has(*(path for path in notes.rglob("*") if path.name != "filters.toml" and not path.is_dir()))
    words = ("draft", "dump", "--kit", "kit.toml", "--declarations", notes, "--write", "-q", "--no-cache")
    code, err = told(*words)
    assert code in (0, 1) or (code == 2 and err.count("\n") == 1), err
    if way == "in a report":
        refused((code, err), "rep")
    owner.still_has_all()
    if way == "read-only":
        assert DECLARED in bytes_below(notes)


def test_drafts_over_drafts_keep_them_all(place: Path, told: Told) -> None:
    card, seen = place / "card", []
    target = card / "filters.toml"
    for number in range(3):
        mine = b'# %d\n[[worn]]\nfiles = ["TARN0076"]\nbare = true\n' % number
        target.write_bytes(mine)
        assert draft(told)[0] in (0, 1)
        if target.read_bytes() != mine:
            seen.append(mine)
    assert seen and set(seen) <= bytes_below(card)
    assert (card / "filters.toml.bak").read_bytes() == seen[0]
    assert (card / "filters.toml.bak1").read_bytes() == seen[1]


def test_another_programs_temporary_declarations_stay(place: Path, told: Told) -> None:
    owner, card = Owner(), place / "card"
    (card / "filters.toml").write_bytes(DECLARED)
    for name in (".filters.toml.abcd.toml", ".filters.toml.swp", "filters.toml~", ".kit.toml.x1y2.toml"):
        (card / name).write_bytes(b"mine")
        owner.has(card / name)
    for name in (".cornerstop-mine.toml", ".cornerstop-photo.jpg", ".cornerstop", ".cornerstop-host-1-x"):
        photograph(place, card / name)
        owner.has(card / name)
    for _ in range(2):
        assert draft(told)[0] in (0, 1)
    owner.still_has_all()


def test_a_folder_name_with_a_newline_gets_its_draft_and_one_line(place: Path, told: Told) -> None:
    odd = place / "dump" / "two\nlines \x1b[31m"
    odd.mkdir(parents=True)
    for path in (place / "card").iterdir():
        shutil.copy2(path, odd)
    owner = Owner()
    owner.has(*odd.iterdir())
    code, err = told("draft", "dump", "--kit", "kit.toml", "--write", "-q", "--no-cache")
    assert code in (0, 1, 2) and "\x1b" not in err and "Traceback" not in err
    owner.still_has_all()
    out = place / "rep\nof \x1b[31mmine"
    code, err = told("audit", "dump", "--kit", "kit.toml", "--out", out, "-q", "--pixels", "off")
    assert code in (0, 1, 2) and "\x1b" not in err and err.count("\n") <= 1
    owner.still_has_all()


@pytest.fixture(scope="module")
def proving() -> ModuleType:
    """Frames of another test by which a filter proves off."""
    path = Path(__file__).parents[1] / "cli" / "test_filters_command.py"
    spec = importlib.util.spec_from_file_location("frames_that_prove", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    "way", ["plain", "linked", "backup is a link", "hard link", "read-only", "beside photographs"]
)
def test_a_kit_that_is_written_loses_no_byte(place: Path, told: Told, proving: ModuleType, way: str) -> None:
    owner, trip = Owner(), place / "trip"
    made = proving.Trip(trip)
    made.scene(0, "", "n6", "n6", "").scene(1, "", "n6", "n3", "n3", "")
    kit, was = trip / "kit.toml", (trip / "kit.toml").read_bytes()
    holder = trip
    if way == "linked":
        (place / "kits").mkdir()
        kit.rename(place / "kits" / "all.toml")
        kit.symlink_to("../kits/all.toml")
        owner.has(kit)
        holder = place / "kits"
    elif way == "backup is a link":
        (trip / "kit.toml.bak").symlink_to("TARN0001.JPG")
        owner.has(trip / "kit.toml.bak")
    elif way == "hard link":
        os.link(kit, place / "the same.toml")
    elif way == "read-only":
        kit.chmod(0o400)
    owner.has(*trip.glob("*.JPG"), trip / "filters.toml")
    assert told("filters", trip, "--pixels", "full", "--no-cache", "--write", "-q")[0] == 0
    owner.still_has_all()
    assert b"measured_stops" in kit.read_bytes()
    backups = [path for path in holder.iterdir() if ".bak" in path.name and not path.is_symlink()]
    assert [path.read_bytes() for path in backups] == [was]
    if way == "hard link":
        assert was in bytes_below(place)
    if way == "read-only":
        assert kit.stat().st_mode & 0o777 == 0o400
    assert [path.name for path in holder.iterdir() if path.name.startswith(".")] == []


# --- Drawings ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "taken",
    ["card/TARN0076.JPG", "kit.toml", "card", "to photo", "to nothing", "pipe", "hard link", "card/no/a.svg"],
)
def test_a_drawing_onto_something_of_the_owners(place: Path, owner: Owner, told: Told, taken: str) -> None:
    (place / "to photo").symlink_to("card/TARN0076.JPG")
    (place / "to nothing").symlink_to("card/TARN9999.JPG")
    os.mkfifo(place / "pipe")
    (place / "hard link").hardlink_to(place / "kit.toml")
    owner.has(place)
    with at_most(60):
        answer = told("corners", *DRAWING, "--svg", taken, "-q")
    if taken == "card":  # said by the command line's own usage message
        assert answer[0] == 2 and "directory" in answer[1]
    else:
        refused(answer)
    owner.still_has_all()


def test_a_drawing_of_ours_is_drawn_anew_until_changed(place: Path, owner: Owner, told: Told) -> None:
    assert told("corners", *DRAWING, "--svg", "mine.svg", "-q")[0] in (0, 1)
    first = (place / "mine.svg").read_bytes()
    assert told("corners", *DRAWING, "--focal", 20, "--svg", "mine.svg", "-q")[0] in (0, 1)
    second = (place / "mine.svg").read_bytes()
    assert second != first
    for text in (second.replace(b"</svg>", b"<!-- mine --></svg>"), second + b"\n<!-- mine -->\n", b""):
        (place / "mine.svg").write_bytes(text)
        owner.has(place)
        refused(told("corners", *DRAWING, "--svg", "mine.svg", "-q"), "mine.svg")
        owner.still_has_all()
    assert sorted(p.name for p in place.iterdir()) == ["card", "kit.toml", "mine.svg"]


def test_a_drawing_through_a_link_to_one_of_ours(place: Path, owner: Owner, told: Told) -> None:
    (place / "archive").mkdir()
    assert told("corners", *DRAWING, "--svg", "archive/old.svg", "-q")[0] in (0, 1)
    (place / "new.svg").symlink_to("archive/old.svg")
    owner.has(place / "new.svg")
    code, err = told("corners", *DRAWING, "--focal", 20, "--svg", "new.svg", "-q")
    assert code in (0, 1) or (code == 2 and err.count("\n") == 1)
    owner.still_has_all()

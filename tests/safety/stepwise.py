"""Stops a command before each of its file operations in turn, and looks at what is left.

`python tests/safety/stepwise.py --all` goes through all commands, states and ways to be stopped, and tells
what it found; test_kills.py takes a sample. A child process is forked for each step, so that nothing is
imported twice. What is whole is judged by the bytes that an undisturbed run leaves, not by the lists the
program keeps.
"""

from __future__ import annotations

import builtins
import errno
import hashlib
import io
import os
import re
import shutil
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Any

OPERATIONS = ("rename", "replace", "unlink", "remove", "rmdir", "mkdir", "link", "symlink", "fsync", "write")
OPERATIONS += ("utime", "chmod", "fchmod")
MADE_BY_US = re.compile(r"\.cornerstop-(?!output$|demo$)")
WAYS = {int(signal.SIGKILL): "SIGKILL", int(signal.SIGINT): "SIGINT", 0: "disk full"}
FULL = 0
"""In the place of a signal: from that step on the disk is full."""


class Shim:
    """Counts operations that change files; before number `stop` it has the process told, or the disk full."""

    def __init__(self, stop: int, how: int) -> None:
        self.count, self._stop, self._how = 0, stop, how

    def before(self, name: str, *arguments: object) -> None:
        self.count += 1
        if self._how == FULL:
            if 0 < self._stop <= self.count and name in ("open", "write", "mkdir", "symlink", "link"):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        elif self.count == self._stop:
            os.kill(os.getpid(), self._how)

    def install(self) -> None:
        for name in OPERATIONS:
            setattr(os, name, self._counted(name, getattr(os, name)))
        opened, file_io, plain = os.open, io.FileIO, io.open

        def open_descriptor(path: Any, flags: int, *more: Any, **named: Any) -> int:
            if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
                self.before("open", path)
            return opened(path, flags, *more, **named)

        shim = self

        class Counted(file_io):  # type: ignore[misc, valid-type]
            def __init__(self, file: Any, mode: str = "r", **named: Any) -> None:
                if set(mode) & set("wax+") and not isinstance(file, int):
                    shim.before("open", file)
                super().__init__(file, mode, **named)

            def write(self, data: Any) -> int:
                shim.before("write", self.name)
                return int(super().write(data))

        def open_file(file: Any, mode: str = "r", *more: Any, **named: Any) -> Any:
            if not set(mode) & set("wax+") or "b" not in mode:
                return plain(file, mode, *more, **named)
            return io.BufferedWriter(Counted(file, mode.replace("b", "")))

        os.open = open_descriptor
        io.open = builtins.open = open_file  # type: ignore[assignment]
        os.fdopen = lambda handle, mode="r", *m, **n: open_file(handle, mode, *m, **n)  # type: ignore
        sys.modules["audit.disk.building"].FileIO = Counted  # type: ignore[attr-defined]

    def _counted(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*arguments: Any, **named: Any) -> Any:
            self.before(name, *arguments)
            return real(*arguments, **named)

        return call


@dataclass
class Case:
    """A command, the state of the folder before it, and which folders of reports it writes."""

    name: str
    command: Callable[[], int]
    prepare: Callable[[Path], None]
    reports: tuple[str, ...] = ("rep",)
    changes: tuple[str, ...] = ()


@dataclass
class Found:
    """What the steps of one case showed."""

    states: int = 0
    not_whole: list[str] = field(default_factory=list)
    next_wrong: list[str] = field(default_factory=list)


def in_child(work: Path, command: Callable[[], int], stop: int, how: int) -> tuple[int, int]:
    """Runs the command in a forked process; its wait status, and how many operations it did."""
    counted = work.with_name("count")
    child = os.fork()
    if child == 0:
        code = 99
        try:
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            os.dup2(os.open(work.with_name("stderr"), os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
            signal.signal(signal.SIGINT, signal.default_int_handler)
            os.chdir(work)
            shim = Shim(stop, how)
            note = os.open(counted, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            written = os.write
            shim.install()
            code = command()
            written(note, str(shim.count).encode())
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(code)
    status = os.waitpid(child, 0)[1]
    return status, int(counted.read_text() or 0)


def files(root: Path) -> dict[str, str]:
    """Every file and link below a folder with its digest or target."""
    found = {}
    for here, folders, names in os.walk(root):
        for name in (*names, *folders):
            path = Path(here) / name
            if path.is_symlink():
                found[path.relative_to(root).as_posix()] = str(path.readlink())
            elif path.is_file():
                found[path.relative_to(root).as_posix()] = hashlib.sha256(path.read_bytes()).hexdigest()
    return found


def content(out: Path) -> tuple[str, ...] | None:
    """What a folder of reports leads scripts to, run numbers left out; None where it leads to nothing."""
    newest = out / "newest"
    if not newest.exists():
        return None
    shown = files(newest.resolve())
    return tuple(f"{n} {d}" for n, d in sorted(shown.items()) if n not in ("open.html", ".cornerstop-output"))


def pages_lead_to(out: Path) -> Path | None:
    """The page that report.html leads to, by its links."""
    page = out / "report.html"
    for _ in range(3):
        if not page.exists():
            return None
        found = re.search(r'http-equiv="refresh" content="0; url=([^"]+)"', page.read_text(encoding="utf-8"))
        if found is None:
            return page.resolve()
        page = page.parent / found[1]
    return None


def wrong_in(work: Path, case: Case, known: dict[str, list[Any]]) -> list[str]:
    """What is neither old and whole nor new and whole."""
    found = []
    for name in case.reports:
        out = work / name
        if content(out) not in known[name]:
            found.append(f"{name}/newest is neither the old nor the new run")
        page = pages_lead_to(out)
        led = (out / "newest").resolve() if (out / "newest").exists() else None
        if (page.parent if page else None) != led:
            found.append(f"{name}/report.html and {name}/newest lead to different places")
    now = files(work)
    for name, digest in known["owner"][0].items():
        if now.get(name) != digest and (name not in case.changes or now.get(name) != known["after"][0][name]):
            found.append(f"{name} is not as it was")
    return found


def leftovers(work: Path) -> list[str]:
    return sorted({n for p in work.rglob("*") if MADE_BY_US.match(n := p.name)})


def sweep(case: Case, work: Path, how: int, every: int = 1, first: int = 1) -> Found:
    """Stops the case's command before every `every`th operation."""
    prepare(case, work)
    known: dict[str, list[Any]] = {name: [content(work / name)] for name in case.reports}
    ours = tuple(f"{name}/" for name in case.reports)
    known["owner"] = [{n: d for n, d in files(work).items() if not n.startswith(ours)}]
    status, total = in_child(work, case.command, -1, signal.SIGKILL)
    assert os.waitstatus_to_exitcode(status) in (0, 1), work.with_name("stderr").read_text()
    for name in case.reports:
        known[name].append(content(work / name))
    known["after"] = [files(work)]
    found = Found()
    for step in range(first, total + 1, every):
        prepare(case, work)
        in_child(work, case.command, step, how)
        found.states += 1
        wrong = wrong_in(work, case, known)
        if how != signal.SIGKILL and leftovers(work):
            wrong.append(f"left {leftovers(work)}")
        found.not_whole += [f"{case.name} step {step} of {total}: {w}" for w in wrong]
        status, _ = in_child(work, case.command, -1, signal.SIGKILL)
        after = [f"left {name}" for name in leftovers(work)]
        if os.waitstatus_to_exitcode(status) not in (0, 1):
            after.append(work.with_name("stderr").read_text())
        after += [f"{n} is not the new run" for n in case.reports if content(work / n) != known[n][1]]
        gone = [n for n in known["after"][0] if not n.startswith(ours) and not (work / n).exists()]
        after += [f"{name} is missing" for name in gone]
        found.next_wrong += [f"{case.name} step {step} of {total}, then again: {w}" for w in after]
    return found


def prepare(case: Case, work: Path) -> None:
    """The state before the command; made once, then copied."""
    ready = work.with_name(f"before {case.name}")
    shutil.rmtree(work, ignore_errors=True)
    if not ready.exists():
        work.mkdir(parents=True)
        case.prepare(work)
        shutil.copytree(work, ready, symlinks=True)
        shutil.rmtree(work)
    shutil.copytree(ready, work, symlinks=True)


def cases(made: Path) -> Iterator[Case]:
    """The commands; `made` holds card/ and kit.toml."""
    import audit.jobs.demo as demonstration
    from audit.cli.entry import run
    from audit.demo import trip_files
    from audit.demo.score import Score
    from audit.report.pdf import require

    def bare(work: Path) -> None:
        shutil.copytree(made, work, dirs_exist_ok=True)

    def audited(*more: str) -> Callable[[Path], None]:
        """A report of all pictures but one lies there already; the command then writes another."""

        def make(work: Path) -> None:
            bare(work)
            away = work.with_name("last.JPG")
            last = sorted((work / "card").iterdir())[-1]
            last.rename(away)
            for _ in range(3):
                in_child(work, lambda: run(command(*more)), -1, signal.SIGKILL)
            away.rename(last)

        return make

    def command(*more: str) -> list[str]:
        return ["audit", "card", "--kit", "kit.toml", "--out", "rep", "-q", "--no-cache", *more]

    for more in ((), ("--single",), ("--pdf",)):
        name = " ".join(("audit", *more))
        if more == ("--pdf",):
            try:
                require()
            except Exception as error:
                sys.stdout.write(f"no {name}: {error}\n")
                continue
        yield Case(f"{name}, none before", lambda m=more: run(command(*m)), bare)  # type: ignore[misc]
        yield Case(f"{name}, three before", lambda m=more: run(command(*m)), audited(*more))  # type: ignore[misc]

    def noted(work: Path) -> None:
        bare(work)
        (work / "card" / "filters.toml").write_text('[[worn]]\nfiles = ["TARN0076"]\nbare = true\n')

    draft = ["draft", "card", "--kit", "kit.toml", "--no-cache", "--write", "-q"]
    yield Case("draft --write, new", lambda: run(draft), bare, ())
    yield Case("draft --write, added to", lambda: run(draft), noted, (), ("card/filters.toml",))
    mirror = [*draft, "--declarations", "notes"]
    yield Case("draft --write, beside", lambda: run(mirror), bare, ())

    def kit_changed() -> int:
        from audit.kit.write import plan, write

        change = plan(Path("kit.toml"), "w16", {"pupil_depth_mm": 31.0})
        if change.diff:
            write(change)
        return 0

    yield Case("the kit's change (calibrate, filters)", kit_changed, bare, (), ("kit.toml",))

    few = [f for f in islice(trip_files(small=True), 8) if f[0].endswith(".JPG")][:3]
    few.append(("truth.json", b"{}"))
    demonstration.trip_files = lambda **_: iter(few)
    demonstration.score = lambda *_: Score(0, 0, (), 0, ())
    yield Case("demo", lambda: run(["demo", "--out", "X", "-q"]), bare, ("X/report",))

    def shown(work: Path) -> None:
        bare(work)
        in_child(work, lambda: run(["demo", "--out", "X", "-q"]), -1, signal.SIGKILL)

    yield Case("demo, once more", lambda: run(["demo", "--out", "X", "-q"]), shown, ("X/report",))


def main() -> None:
    """Every step of every command, by each way to be stopped."""
    import tempfile

    from audit.demo import trip_files
    from audit.demo.kit_file import KIT

    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / "made"
        (made / "card").mkdir(parents=True)
        (made / "kit.toml").write_text(KIT, encoding="utf-8")
        jpegs = (data for name, data in trip_files(small=True) if name.endswith(".JPG"))
        for number, data in enumerate(islice(jpegs, 4), start=76):
            (made / "card" / f"TARN{number:04d}.JPG").write_bytes(data)
        os.environ |= {"XDG_CACHE_HOME": folder, "XDG_CONFIG_HOME": folder}
        every = int(sys.argv[2]) if len(sys.argv) > 2 else 1
        for case in cases(made):
            for how, name in WAYS.items():
                began = time.monotonic()
                found = sweep(case, Path(folder) / "work", how, every)
                counts = f"{found.states} states, {len(found.not_whole)} not whole"
                line = f"{case.name}, {name}: {counts}, next run wrong {len(found.next_wrong)}"
                lines = [f"{line} ({time.monotonic() - began:.0f} s)", *found.not_whole, *found.next_wrong]
                sys.stdout.write("\n    ".join(lines) + "\n")
                sys.stdout.flush()


if __name__ == "__main__":
    if "--all" not in sys.argv:
        sys.exit("usage: stepwise.py --all [EVERY]")
    main()

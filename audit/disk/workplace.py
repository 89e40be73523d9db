"""Where an archive is put together: a hidden folder beside its place, with a journal of what is ours in it.

A line is added to the journal before a file is begun and after it is whole on the disk, so that the same
command, run again after a kill, goes on where the first one stopped. Only what the journal names is ever
replaced or removed.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from io import FileIO
from pathlib import Path
from typing import Any

from audit.disk.building import sync_one
from audit.disk.read_back import drop_pages, hashed
from audit.disk.whole_file import put_whole
from audit.errors import AuditError
from audit.message.shown import shown_name

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

HEAD = b"cornerstop archive journal 1\n"


@dataclass(frozen=True)
class Kept:
    """A file that is whole in the bag; `stamp` is what its source was like."""

    size: int
    sha512: str
    stamp: str


class DestinationError(AuditError):
    """The disk of the archive refuses; what is there stays for the next run."""


class Workplace:
    """The hidden folder for the bag `target`; every method raises AuditError where it cannot do its work."""

    def __init__(self, target: Path) -> None:
        self.target = target
        self.folder = target.with_name(f".{target.name}.cornerstop-archive")
        self.bag = self.folder / "bag"
        self.facts: dict[str, Any] = {}
        self.kept: dict[str, Kept] = {}
        self._begun: set[str] = set()
        self._journal = self.folder / "journal"
        self._list: FileIO | None = None

    @property
    def placed(self) -> bool:
        """Whether an earlier run put the bag in its place and was stopped while it tidied up."""
        return bool(self.facts.get("whole")) and self.target.is_dir() and not self.bag.exists()

    def open(self) -> None:
        """Makes the folder, or takes up what an earlier run left."""
        try:
            old = os.path.lexists(self.folder)
            self.folder.mkdir(exist_ok=True)
            data = self._journal.read_bytes() if self._journal.is_file() else b""
            if self.folder.is_symlink() or (
                old and not data and any(p != self._journal for p in self.folder.iterdir())
            ):
                raise AuditError(f"{shown_name(str(self.folder))}: is not ours; move it elsewhere")
            if not (data.startswith(HEAD) or HEAD.startswith(data)):
                raise AuditError(
                    f"{shown_name(str(self._journal))}: is no journal of ours; move it elsewhere"
                )
            self._list = FileIO(self._journal, "ab")  # deletes: nothing: is only added to
            self._lock()
            self._add(HEAD[len(data) :] if HEAD.startswith(data) else b"" if data[-1:] == b"\n" else b"\n")
            for line in data[len(HEAD) :].split(b"\n"):
                self._take(line)
            if not self.facts.get("whole") or not os.path.lexists(self.target):
                self.bag.mkdir(exist_ok=True)
        except OSError as error:
            raise self.refused(error) from None

    def fact(self, **facts: Any) -> None:
        """Notes what the next run must know."""
        self._note(fact=facts)
        self.facts.update(facts)

    def write(
        self, name: str, chunks: Iterable[bytes], *, stamp: str = "", time_ns: int | None = None, back: bool
    ) -> Kept:
        """One file, hashed while it is written; with `back` read again from the disk.

        An error of `chunks` goes through; what was begun is then written anew or dropped.
        """
        path = self.bag / name
        try:
            self._make_room(name, path)
            handle = path.open(
                "wb", buffering=0
            )  # deletes: at most what the journal says that we began ourselves
        except OSError as error:
            raise self.refused(error) from None
        with handle:
            size, digest = self._fill(handle, chunks)
            try:
                if time_ns is not None:
                    os.utime(path, ns=(time_ns, time_ns))
                os.fsync(handle.fileno())
                drop_pages(handle.fileno())
                if back and hashed(path, "sha512") != (size, {"sha512": digest}):
                    raise DestinationError(f"{shown_name(str(path))}: reads back changed; use another disk")
            except OSError as error:
                raise self.refused(error) from None
        kept = self.kept[name] = Kept(size, digest, stamp)
        self._note(done=name, size=size, sha512=digest, stamp=stamp)
        return kept

    def drop(self, name: str) -> None:
        """Removes a file that was begun."""
        if name not in self._begun:
            return
        try:
            with suppress(FileNotFoundError):
                (self.bag / name).unlink()  # deletes: a file that the journal says we began
            self.kept.pop(name, None)
            self._note(gone=name)
        except OSError as error:
            raise self.refused(error) from None

    def begun_below(self, folder: str) -> list[str]:
        """Every file below a folder of the bag that was ever begun."""
        return sorted(name for name in self._begun if name.startswith(f"{folder}/"))

    def still_there(self, name: str) -> bool:
        """Whether a file that was whole lies there with its size."""
        kept = self.kept.get(name)
        try:
            return kept is not None and (self.bag / name).lstat().st_size == kept.size
        except OSError:
            return False

    def finish(self, seal: bytes) -> None:
        """Puts the bag in its place, its seal (NAME.sha512) beside it first."""
        beside = self.target.with_name(f"{self.target.name}.sha512")
        try:
            self._refuse_strangers()
            for folder, _, _ in os.walk(self.bag):
                sync_one(Path(folder))
            if not (beside.is_file() and beside.read_bytes() == seal):
                ours = hashlib.sha256(beside.read_bytes()).hexdigest() if beside.is_file() else ""
                self.fact(seals=[*self.facts.get("seals", []), hashlib.sha256(seal).hexdigest()])
                replacing = ours in self.facts["seals"]
                put_whole(beside, seal, replacing=replacing)
            self.fact(whole=True)
            if os.path.lexists(self.target):
                raise AuditError(f"{shown_name(str(self.target))}: exists by now; name another place")
            self.bag.rename(self.target)  # deletes: nothing: looked just now, and onto a full folder it fails
            sync_one(self.target.parent)
        except OSError as error:
            raise self.refused(error) from None
        self.tidy()

    def tidy(self) -> None:
        """Removes journal and folder once the bag is in its place."""
        self.close()
        with suppress(OSError):
            self._journal.unlink()  # deletes: the journal that this program keeps
            self.folder.rmdir()  # deletes: an empty folder of ours

    def close(self) -> None:
        """Ends the work; what is there stays."""
        if self._list is not None:
            self._list.close()
            self._list = None

    def refused(self, error: OSError) -> DestinationError:
        """What to tell of an error of the destination."""
        place = shown_name(str(self.target.parent))
        return DestinationError(
            f"{place}: the destination cannot be written ({error.strerror or error}); what is copied stays "
            "under a hidden name: mend it, and run the same command again to go on"
        )

    def _fill(self, handle: Any, chunks: Iterable[bytes]) -> tuple[int, str]:
        size, summed = 0, hashlib.sha512()
        for chunk in chunks:
            summed.update(chunk)
            size += len(chunk)
            rest = memoryview(chunk)
            try:
                while rest:
                    rest = rest[handle.write(rest) :]
            except OSError as error:
                raise self.refused(error) from None
        return size, summed.hexdigest()

    def _make_room(self, name: str, path: Path) -> None:
        if name not in self._begun:
            if os.path.lexists(path):
                raise AuditError(f"{shown_name(str(path))}: is not ours; move it elsewhere")
            self._note(begun=name)
            self._begun.add(name)
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.is_symlink():
            raise AuditError(f"{shown_name(str(path))}: is not ours; move it elsewhere")

    def _refuse_strangers(self) -> None:
        for folder, _, files in os.walk(self.bag):
            for name in files:
                path = Path(folder) / name
                if path.relative_to(self.bag).as_posix() not in self.kept:
                    raise AuditError(f"{shown_name(str(path))}: is not ours; move it elsewhere")

    def _lock(self) -> None:
        if fcntl is None or self._list is None:
            return
        try:
            fcntl.flock(self._list, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise AuditError(
                f"{shown_name(str(self.target))}: another run is at work on this archive; wait for it"
            ) from None

    def _take(self, line: bytes) -> None:
        try:
            said = json.loads(line)
        except ValueError:  # torn by a kill: counts for nothing
            return
        match said:
            case {"begun": name}:
                self._begun.add(name)
            case {"done": name, "size": size, "sha512": digest, "stamp": stamp}:
                self.kept[name] = Kept(size, digest, stamp)
            case {"gone": name}:
                self.kept.pop(name, None)
            case {"fact": facts}:
                self.facts.update(facts)

    def _note(self, **said: Any) -> None:
        try:
            self._add(json.dumps(said).encode("ascii") + b"\n")
        except OSError as error:
            raise self.refused(error) from None

    def _add(self, data: bytes) -> None:
        rest = memoryview(data)
        while rest and self._list is not None:
            rest = rest[self._list.write(rest) :]

"""Where an archive is put together: a hidden folder beside its place, with a journal of what is ours in it.

A line is added to the journal before a file is begun and after it is whole on the disk, so that the same
command, run again after a kill, goes on where the first one stopped. Only what the journal names is ever
replaced or removed.
"""

from __future__ import annotations

import errno
import hashlib
import os
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from io import FileIO
from pathlib import Path
from typing import Any

from audit.disk.building import sync, sync_one
from audit.disk.journal import Journal
from audit.disk.read_back import drop_pages, hashed
from audit.disk.whole_file import put_whole
from audit.errors import AuditError
from audit.message.shown import shown_name


@dataclass(frozen=True)
class Kept:
    """A file that is whole in the bag; `stamp` is what its source was like, `sha256` empty if not wanted."""

    size: int
    sha512: str
    stamp: str = ""
    sha256: str = ""

    @property
    def sums(self) -> dict[str, str]:
        """Its digests by algorithm."""
        return {"sha512": self.sha512} | ({"sha256": self.sha256} if self.sha256 else {})


class DestinationError(AuditError):
    """The disk of the archive refuses; what is there stays for the next run."""


class Workplace:
    """The hidden folder for the bag `target`; every method raises AuditError where it cannot do its work.

    `twins` are files that are not kept since another has the same bytes: the other's path, and the stamp.
    """

    def __init__(self, target: Path, purpose: str = "archive") -> None:
        self.target = target
        self.folder = target.with_name(f".{target.name}.cornerstop-{purpose}")
        self.bag = self.folder / "bag"
        self.facts: dict[str, Any] = {}
        self.kept: dict[str, Kept] = {}
        self.twins: dict[str, tuple[str, str]] = {}
        self._begun: set[str] = set()
        self._unsynced: dict[str, Kept] = {}
        self._same: os.stat_result | None = None
        self._journal = Journal(self.folder / "journal")

    @property
    def placed(self) -> bool:
        """Whether an earlier run put the bag in its place and was stopped while it tidied up."""
        return bool(self.facts.get("whole")) and self.target.is_dir() and not self.bag.exists()

    def open(self) -> None:
        """Makes the folder, or takes up what an earlier run left."""
        path = self._journal.path
        try:
            old = os.path.lexists(self.folder)
            self.folder.mkdir(exist_ok=True)
            empty = not path.is_file() or not path.stat().st_size
            if self.folder.is_symlink() or (old and empty and any(p != path for p in self.folder.iterdir())):
                raise AuditError(f"{shown_name(str(self.folder))}: is not ours; move it elsewhere")
            busy = f"{shown_name(str(self.target))}: another run is at work on this archive; wait for it"
            for said in self._journal.open(busy):
                self._take(said)
            if not self.facts.get("whole") or not os.path.lexists(self.target):
                self.bag.mkdir(exist_ok=True)
            self._same = self.folder.stat()
        except OSError as error:
            raise self.refused(error) from None

    def fact(self, *, sync: bool = False, **facts: Any) -> None:
        """Notes what the next run must know."""
        self._note(sync=sync, fact=facts)
        self.facts.update(facts)

    def begin(self, name: str) -> FileIO:
        """A new file, open for writing; one of this name that was begun before is written anew."""
        path = self.bag / name
        try:
            self._make_room(name, path)
            return FileIO(path, "wb")  # deletes: at most what the journal says that we began ourselves
        except OSError as error:
            raise self.refused(error) from None

    def put(self, file: FileIO, data: bytes) -> None:
        """Bytes more."""
        rest = memoryview(data)
        try:
            while rest:
                rest = rest[file.write(rest) :]
        except OSError as error:
            raise self.refused(error) from None

    def settle(self, name: str, file: FileIO, kept: Kept, *, time_ns: int | None, back: bool) -> None:
        """Closes a file that is written, once the disk holds it; with `back` it is read again from there."""
        path = self.bag / name
        try:
            with file:
                if time_ns is not None:
                    os.utime(path, ns=(time_ns, time_ns))
                os.fsync(file.fileno())
                drop_pages(file.fileno())
                if back and hashed(path, "sha512") != (kept.size, {"sha512": kept.sha512}):
                    raise self._changed(name)
        except OSError as error:
            raise self.refused(error) from None
        self.kept[name] = kept
        self.twins.pop(name, None)
        said: dict[str, Any] = {"size": kept.size, "stamp": kept.stamp, **kept.sums}
        self._note(done=name, **said)

    def write(self, name: str, data: bytes, *, also: Iterable[str] = ()) -> Kept:
        """One file of our own; `sync` puts all of these on the disk."""
        with self.begin(name) as file:
            self.put(file, data)
        sums = {one: hashlib.new(one, data).hexdigest() for one in ("sha512", *also)}
        self.kept[name] = self._unsynced[name] = Kept(len(data), **sums)
        self._note(done=name, size=len(data), stamp="", sha512=sums["sha512"])
        return self.kept[name]

    def sync(self, *, back: bool) -> None:
        """Has the disk hold the files of our own, all in one go; with `back` they are read again."""
        try:
            sync(self.bag)
            for name, kept in self._unsynced.items():
                if back and hashed(self.bag / name, "sha512") != (kept.size, {"sha512": kept.sha512}):
                    raise self._changed(name)
            self._unsynced.clear()
        except OSError as error:
            raise self.refused(error) from None

    def drop_all(self, folder: str = "") -> None:
        """Removes every file below a folder of the bag that was begun and still lies here; "" for all."""
        for name in self.begun_below(folder):
            self.drop(name)

    def drop(self, name: str) -> None:
        """Removes a file that was begun."""
        if name not in self._begun:
            return
        try:
            with suppress(FileNotFoundError):
                (self.bag / name).unlink()  # deletes: a file that the journal says we began
            self.kept.pop(name, None)
            self._unsynced.pop(name, None)
            self._note(gone=name)
        except OSError as error:
            raise self.refused(error) from None

    def note_twin(self, name: str, other: str, stamp: str) -> None:
        """Notes that a file is not kept, since another has the same bytes."""
        self.drop(name)
        self.twins[name] = other, stamp
        self._note(twin=name, of=other, stamp=stamp)

    def begun_below(self, folder: str) -> list[str]:
        """Every file below a folder of the bag that was ever begun; "" for all."""
        return sorted(name for name in self._begun if not folder or name.startswith(f"{folder}/"))

    def still_there(self, name: str) -> bool:
        """Whether a file that was whole lies there with its size."""
        kept = self.kept.get(name)
        try:
            return kept is not None and (self.bag / name).lstat().st_size == kept.size
        except OSError:
            return False

    def finish(self, seal: bytes) -> None:
        """Puts the bag, once synced, in its place, its seal (NAME.sha512) first. `tidy` is the last step."""
        try:
            self._refuse_gone()
            self._refuse_strangers()
            self.put_seal(seal)
            self.fact(whole=True)
            if os.path.lexists(self.target):
                raise AuditError(f"{shown_name(str(self.target))}: exists by now; name another place")
            self.bag.rename(self.target)  # deletes: nothing: looked just now, and onto a full folder it fails
            sync_one(self.target.parent)
        except OSError as error:
            raise self.refused(error) from None

    def own_seal(self) -> None:
        """Notes that the seal beside the bag, which was just found to be right, may be replaced."""
        beside = self.target.with_name(f"{self.target.name}.sha512")
        try:
            self.fact(seals=[*self.facts.get("seals", []), _sha256(beside.read_bytes())])
        except OSError as error:
            raise self.refused(error) from None

    def put_seal(self, seal: bytes) -> None:
        """Writes NAME.sha512; only one that this work wrote or owns is replaced. Raises OSError."""
        beside = self.target.with_name(f"{self.target.name}.sha512")
        there = beside.read_bytes() if beside.is_file() else b""
        if beside.is_file() and there == seal:
            return
        self.fact(seals=[*self.facts.get("seals", []), _sha256(seal)], sync=True)
        replacing = bool(there) and _sha256(there) in self.facts["seals"]
        put_whole(beside, seal, replacing=replacing)

    def tidy(self) -> None:
        """Removes journal and folder, once nothing of ours is left in it."""
        with suppress(OSError):
            folders = [Path(folder) for folder, _, _ in os.walk(self.bag)]
            for folder in sorted(folders, reverse=True):
                folder.rmdir()  # deletes: an empty folder of ours; a full one stays
            self._journal.remove()
            self.folder.rmdir()  # deletes: an empty folder of ours
        self.close()

    def close(self) -> None:
        """Ends the work; what is there stays."""
        self._journal.close()

    def refused(self, error: OSError) -> DestinationError:
        """What to tell of an error of the destination."""
        place = shown_name(str(self.target.parent))
        return DestinationError(
            f"{place}: the destination cannot be written ({error.strerror or error}); what is copied stays "
            "under a hidden name: mend it, and run the same command again to go on"
        )

    def _changed(self, name: str) -> DestinationError:
        return DestinationError(f"{shown_name(str(self.bag / name))}: reads back changed; use another disk")

    def _make_room(self, name: str, path: Path) -> None:
        self._refuse_gone()
        if name not in self._begun:
            if os.path.lexists(path):
                raise AuditError(f"{shown_name(str(path))}: is not ours; move it elsewhere")
            self._note(begun=name)
            self._begun.add(name)
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.is_symlink():
            raise AuditError(f"{shown_name(str(path))}: is not ours; move it elsewhere")

    def _refuse_gone(self) -> None:
        """Raises OSError where the disk was taken away: another one may be seen in its place by now."""
        if self._same is None or not os.path.samestat(self.folder.stat(), self._same):
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), os.fspath(self.folder))

    def _refuse_strangers(self) -> None:
        for name in self.kept:
            if not self.still_there(name):
                raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), name)
        for folder, _, files in os.walk(self.bag):
            for name in files:
                path = Path(folder) / name
                if path.relative_to(self.bag).as_posix() not in self.kept:
                    raise AuditError(f"{shown_name(str(path))}: is not ours; move it elsewhere")

    def _take(self, said: Mapping[str, Any]) -> None:
        match said:
            case {"begun": name}:
                self._begun.add(name)
            case {"done": name, "size": size, "sha512": digest, "stamp": stamp}:
                self.kept[name] = Kept(size, digest, stamp, said.get("sha256", ""))
                self.twins.pop(name, None)
            case {"gone": name}:
                self.kept.pop(name, None)
            case {"twin": name, "of": other, "stamp": stamp}:
                self.twins[name] = other, stamp
            case {"fact": facts}:
                self.facts.update(facts)

    def _note(self, *, sync: bool = False, **said: Any) -> None:
        try:
            self._journal.note(sync=sync, **said)
        except OSError as error:
            raise self.refused(error) from None


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()

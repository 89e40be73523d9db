"""A bag judged: each file that is changed, missing or added, by name."""

from __future__ import annotations

import csv
import io
import os
import re
import unicodedata
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from audit.archive.bag_info import OURS, read_bag_info, read_bagit, read_oxum
from audit.archive.manifest_text import is_canonical, read_manifest_text
from audit.archive.package import FILES
from audit.archive.tags import TAGS, seal_text
from audit.disk.read_back import hashed
from audit.disk.regular import open_regular
from audit.errors import AuditError
from audit.message.shown import shown_name
from audit.message.spreadsheet import restored

_MANIFEST = re.compile(r"(tag)?manifest-([A-Za-z0-9]+)\.txt")
KNOWN = ("md5", "sha1", "sha224", "sha256", "sha384", "sha512")
THREADS = min(4, os.cpu_count() or 1)
SAME_TIME_NS = 2_000_000_000
"""Times of change may differ so much: FAT keeps them to 2 s (ECMA-107, 11.6.7; from memory)."""
CHANGED, MISSING, ADDED, FORM, DOUBTFUL = "changed", "missing", "added", "form", "cannot be judged"


@dataclass(frozen=True, order=True)
class Problem:
    """What is wrong with a file: a kind, and more in words."""

    path: str
    kind: str
    more: str = ""


@dataclass
class Judged:
    """What was found; `sums` are the SHA-512 digests of payload files that were read and are as they were."""

    ours: bool = False
    files: int = 0
    bytes: int = 0
    problems: list[Problem] = field(default_factory=list)
    sums: set[str] = field(default_factory=set)

    def add(self, path: str, kind: str, more: str = "") -> None:
        """One more problem."""
        self.problems.append(Problem(path, kind, more))


class Judge:
    """One look at a bag. `judge` raises AuditError only where there is no folder to look at."""

    def __init__(self, bag: Path, *, quick: bool, read: Callable[[int, int], None] | None = None) -> None:
        self.bag, self._quick, self._tell = bag, quick, read
        self._there: set[str] = set()
        self._spelt: dict[str, str] = {}
        self._done = Judged()
        self._percent, self._encoding = True, "utf-8"

    def judge(self) -> Judged:
        """Everything, the tag files first."""
        if not self.bag.is_dir():
            raise AuditError(f"{shown_name(str(self.bag))}: no such folder; name a bag")
        self._there = set(_listed(self.bag))
        self._spelt = {unicodedata.normalize("NFC", name): name for name in self._there}
        self._read_head()
        found = {m[0]: m for name in sorted(self._there) if (m := _MANIFEST.fullmatch(name))}
        tags = {name: m[2].lower() for name, m in found.items() if m[1]}
        payload = {name: m[2].lower() for name, m in found.items() if not m[1]}
        bad_tags = self._judge_tags(tags)
        self._judge_payload(payload, sure=not (bad_tags & {*payload, *tags}))
        self._done.problems.sort()
        return self._done

    def _read_head(self) -> None:
        said = read_bagit(self._bytes("bagit.txt"))
        if "bagit.txt" not in self._there:
            self._done.add("bagit.txt", MISSING)
        elif said is None:
            self._done.add("bagit.txt", FORM, "does not say version and encoding as RFC 8493, 2.1.1 demands")
        else:
            self._percent = said[0] >= (1, 0)
            try:
                "".encode(said[1])
                self._encoding = said[1]
            except LookupError:
                self._done.add("bagit.txt", FORM, "names an unknown encoding")
        if not (self.bag / "data").is_dir():
            self._done.add("data", MISSING)
        info = read_bag_info(self._bytes("bag-info.txt"), self._encoding)
        self._done.ours = OURS.lower() in info or self._seal_path().is_file()
        payload = [name for name in self._there if name.startswith("data/")]
        size = sum((self.bag / name).lstat().st_size for name in payload)
        self._done.files, self._done.bytes = len(payload), size
        for value in info.get("payload-oxum", []):
            if read_oxum(value) != (size, len(payload)):
                self._done.add(
                    "bag-info.txt", DOUBTFUL, f"Payload-Oxum is {value}, found {size}.{len(payload)}"
                )

    def _seal_path(self) -> Path:
        bag = Path(os.path.abspath(self.bag))  # noqa: PTH100 (a link to a bag keeps its own name)
        return bag.with_name(f"{bag.name}.sha512")

    def _judge_tags(self, tags: dict[str, str]) -> set[str]:
        """Tag files against the tag manifests, those against the seal; names that are not as they were."""
        wrong: dict[str, str] = {}
        listed = set(tags)
        broken = {name for name in tags if not self._lines(name, tags[name], wrong, listed)}
        if not self._done.ours:
            for name, kind in wrong.items():
                self._done.add(name, kind)
            return set(wrong) | broken
        for name in sorted(n for n in self._there - listed if not n.startswith("data/")):
            wrong.setdefault(name, ADDED)
        return self._judge_seal(wrong) | broken

    def _judge_seal(self, wrong: dict[str, str]) -> set[str]:
        seal, beside = self._seal_path(), self._seal_path().name
        data = self._bytes(TAGS)
        if TAGS not in self._there:
            self._done.add(TAGS, MISSING)
            return {TAGS}
        digest = hashed(self.bag / TAGS, "sha512")[1]["sha512"]
        good = seal_text(seal.name.removesuffix(".sha512"), digest)
        kind = ""
        if not seal.is_file():
            self._done.add(beside, MISSING, "beside the bag; it holds the digest of the tag manifest")
        elif _content(seal) != good and is_canonical(data) and not wrong:
            self._done.add(beside, CHANGED, "every tag file is as the tag manifest says")
        elif _content(seal) != good:
            kind = DOUBTFUL
            self._done.add(TAGS, CHANGED)
        for name, what in wrong.items():
            self._done.add(name, kind or what, "the tag manifest is changed" if kind else "")
        if not kind and not is_canonical(data):
            self._done.add(TAGS, FORM, "is not in the form that this bag says it keeps")
        return {*wrong, *([TAGS] if kind else [])}

    def _lines(self, name: str, algorithm: str, wrong: dict[str, str], listed: set[str]) -> bool:
        """Compares tag files with one tag manifest; whether every line could be judged."""
        read = read_manifest_text(self._bytes(name), percent=self._percent, encoding=self._encoding)
        for path, digest in read.digests.items():
            listed.add(path)
            if path not in self._there:
                wrong[path] = MISSING
            elif algorithm in KNOWN and self._sums(path, (algorithm,)).get(algorithm) != digest:
                wrong[path] = CHANGED
        if read.bad_lines and not self._done.ours:
            self._done.add(name, FORM, f"line {read.bad_lines[0]} is none of a manifest")
        return algorithm in KNOWN and not read.bad_lines

    def _judge_payload(self, manifests: dict[str, str], *, sure: bool) -> None:
        if not manifests:
            self._done.add("manifest-sha512.txt" if self._done.ours else "manifest-ALGORITHM.txt", MISSING)
            return
        expected: dict[str, dict[str, str]] = {}
        for name, algorithm in manifests.items():
            data = self._bytes(name)
            read = read_manifest_text(data, percent=self._percent, encoding=self._encoding)
            if algorithm not in KNOWN:
                self._done.add(name, DOUBTFUL, "its algorithm is not known here")
                continue
            if sure and (read.bad_lines or (self._done.ours and not is_canonical(data))):
                self._done.add(name, FORM, f"line {(read.bad_lines or (1,))[0]} is not in the form")
            for path, digest in read.digests.items():
                if sure and not path.startswith("data/"):
                    self._done.add(name, FORM, f"names {shown_name(path)}, which is no payload")
                expected.setdefault(self._as_here(path), {})[algorithm] = digest
        payload = {name for name in self._there if name.startswith("data/")}
        every = {a for a in manifests.values() if a in KNOWN} if self._percent else set()
        problems = [Problem(path, MISSING) for path in expected if path not in payload]
        problems += [Problem(path, ADDED) for path in payload - set(expected)]
        problems += [
            Problem(path, FORM, "is not in every manifest")
            for path, sums in expected.items()
            if path in payload and every - set(sums)
        ]
        problems += self._compared({p: s for p, s in expected.items() if p in payload})
        for one in problems:
            self._done.add(*((one.path, one.kind, one.more) if sure else (one.path, DOUBTFUL, NO_MANIFEST)))

    def _as_here(self, path: str) -> str:
        """A path as the disk spells it: some systems write accents as signs of their own (Unicode, NFD)."""
        return path if path in self._there else self._spelt.get(unicodedata.normalize("NFC", path), path)

    def _compared(self, expected: dict[str, dict[str, str]]) -> list[Problem]:
        found = []
        if self._quick:
            expected = {path: sums for path, sums in expected.items() if path == FILES}
            found += list(self._by_size())
        names = sorted(expected)
        with ThreadPoolExecutor(THREADS) as pool:
            sums = pool.map(lambda name: self._sums(name, tuple({*expected[name], "sha512"})), names)
            for number, (name, got) in enumerate(zip(names, sums, strict=True), 1):
                if any(got.get(algorithm) != digest for algorithm, digest in expected[name].items()):
                    found.append(Problem(name, CHANGED, got.get("", "")))
                else:
                    self._done.sums.add(got["sha512"])
                if self._tell is not None:
                    self._tell(number, len(names))
        return found

    def _by_size(self) -> Iterator[Problem]:
        text = self._bytes(FILES).decode("utf-8", "replace")
        for row in csv.DictReader(io.StringIO(text, newline="")):
            path, size, time = restored(row.get("path") or ""), row.get("size_bytes"), row.get("modified_ns")
            if path not in self._there:
                continue
            status = (self.bag / path).lstat()
            if str(status.st_size) != size:
                yield Problem(path, CHANGED, f"{status.st_size} bytes, not {size}")
            elif time and abs(status.st_mtime_ns - int(time)) > SAME_TIME_NS:
                yield Problem(path, CHANGED, "by its time of change")

    def _sums(self, name: str, algorithms: tuple[str, ...]) -> dict[str, str]:
        """Digests of a file; why there are none stands under ""."""
        path = self.bag / name
        if path.is_symlink():
            return {"": "is a link"}
        try:
            return hashed(path, *algorithms)[1]
        except OSError as error:
            return {"": f"cannot be read: {error.strerror or error}"}

    def _bytes(self, name: str) -> bytes:
        return _content(self.bag / name) if name in self._there else b""


NO_MANIFEST = "a manifest is changed"
MOST_BYTES = 1_000_000_000


def _content(path: Path) -> bytes:
    try:
        with open_regular(path) as file:
            return file.read(MOST_BYTES)
    except OSError:
        return b""


def _listed(bag: Path) -> Iterator[str]:
    """Everything below the bag that is no folder; a link to a folder is none."""
    for folder, folders, files in os.walk(bag):
        links = [name for name in folders if (Path(folder) / name).is_symlink()]
        for name in (*files, *links):
            yield (Path(folder) / name).relative_to(bag).as_posix()

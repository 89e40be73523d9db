"""A shelf in an object store or on another file system (s3://...): folders are fetched, nothing goes back."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import Any

from audit.errors import AuditError
from audit.message.shown import shown_line

MISSING = "a shelf at an address needs more packages: pip install 'cornerstop[scale]'"
KIT = "kit.toml"
_MARK = "://"


def is_address(word: str) -> bool:
    """Whether a word names a place by a protocol, and no folder of this machine."""
    return _MARK in word


def listed(address: str) -> list[tuple[str, bool]]:
    """Names in a folder at an address, and whether each is a folder. Raises AuditError."""
    store, top = _store(address)
    try:
        found = store.ls(top, detail=True)
    except Exception as error:  # each library behind an address has errors of its own
        raise _refused(address, error) from None
    pairs = [
        (PurePosixPath(one["name"]).name, one["type"] == "directory") for one in found if _inside(one, top)
    ]
    return sorted(pairs)


@contextmanager
def fetched(folders: Sequence[str]) -> Iterator[tuple[list[str], list[str]]]:
    """The folders at some addresses as folders here, with the kit beside them, while the block lasts.

    With them come the names that were not fetched because they would lead out of their folder. Folders of
    this machine stay what they are. Raises AuditError.
    """
    if not any(map(is_address, folders)):
        yield list(folders), []
        return
    with tempfile.TemporaryDirectory(prefix="cornerstop-") as place:
        places, left = [], []
        for number, address in enumerate(folders, start=1):
            into = Path(place) / str(number) / _part(PurePosixPath(address).name or "trip")
            into.mkdir(parents=True)
            left += _fetch(address, into)
            places.append(str(into))
        yield places, left


def _fetch(address: str, into: Path) -> list[str]:
    """Copies what lies below an address into a new folder; what was left there."""
    store, top = _store(address)
    left = []
    try:
        for name, one in store.find(top, detail=True).items():
            parts = name.removeprefix(top).strip("/").split("/")
            if one["type"] != "file" or not _inside(one, top):
                continue
            if any(part != _part(part) for part in parts):
                left.append(shown_line("/".join(parts)))
                continue
            target = into.joinpath(*parts)
            target.parent.mkdir(parents=True, exist_ok=True)
            store.get_file(name, str(target))  # deletes: nothing: into a folder made for this just now
        beside = f"{top.rstrip('/').rpartition('/')[0]}/{KIT}"
        if store.exists(beside):
            store.get_file(beside, str(into.parent / KIT))  # deletes: nothing: as above
    except Exception as error:
        raise _refused(address, error) from None
    return left


def _inside(one: dict[str, Any], top: str) -> bool:
    """Whether it is something in the folder, not the mark that a store sets for an empty one."""
    return bool(one["name"].removeprefix(top).strip("/")) and not (
        one["type"] == "file" and one["name"].endswith("/")
    )


def _part(name: str) -> str:
    """A name that leads nowhere else."""
    return name if name not in ("", ".", "..") and not set(name) & set("/\\:\0") else "_"


def _store(address: str) -> tuple[Any, str]:
    try:
        from fsspec.core import url_to_fs
    except ImportError:
        raise AuditError(MISSING) from None
    try:
        store, top = url_to_fs(address)
    except Exception as error:
        raise _refused(address, error) from None
    return store, str(top)


def _refused(address: str, error: Exception) -> AuditError:
    words = shown_line(str(error)) or type(error).__name__
    return AuditError(
        f"{shown_line(address)}: cannot be read: {words}; look at the address and at your access to it"
    )

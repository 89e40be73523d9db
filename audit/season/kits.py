"""The filters that each archive's kit names."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable

from audit.season.find import Archive, Problem, content
from audit.season.names import KIT

_LISTS = ("filter", "screw_in")
"""Lists of the kit whose parts a rig names among its filters."""
Ids = tuple[str, ...]


def read_kits(archives: Iterable[Archive]) -> tuple[dict[int, Ids], list[Problem]]:
    """Ids by the archive's number, where a kit can be read; many archives have the same, read once."""
    known: dict[bytes, Ids | None] = {}
    found, problems = {}, []
    for archive in archives:
        try:
            data = content(archive.path / KIT)
        except FileNotFoundError:
            continue
        except OSError:
            data = b"\xff"
        if data not in known:
            known[data] = _ids(data)
        ids = known[data]
        if ids is not None:
            found[archive.number] = ids
        else:
            why = f"{KIT} cannot be understood; its frames count all the same"
            problems.append(Problem(archive.path, why, skipped=False))
    return found, problems


def _ids(data: bytes) -> Ids | None:
    try:
        kit = tomllib.loads(data.decode("utf-8"))
        parts = [part for name in _LISTS for part in kit.get(name, [])]
        return tuple(dict.fromkeys(str(part["id"]) for part in parts))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None

"""An update of a bag put in place: first noted in the journal, then done move by move.

Nothing is removed: what gives way goes to a folder of the bag's history. Killed between two moves, the next
run goes on where it was, by the same list.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from audit.disk.building import sync
from audit.disk.workplace import Workplace
from audit.errors import AuditError
from audit.message.shown import shown_name


def replace_in_bag(
    place: Workplace, step: str, history: str, moved: Sequence[str], placed: Sequence[str], seal: bytes
) -> None:
    """Moves files of the bag into `history`, those of the workplace to where they belong, and seals it.

    `step` is noted as done. Raises AuditError; the next run ends what was begun.
    """
    place.fact(
        sync=True,
        commit={
            "step": step,
            "history": history,
            "moved": list(moved),
            "placed": list(placed),
            "seal": seal.decode("utf-8"),
        },
    )
    end_replacing(place)


def is_replacing(place: Workplace) -> bool:
    """Whether an earlier run was stopped between two moves."""
    return bool(place.facts.get("commit"))


def end_replacing(place: Workplace) -> None:
    """Does what is left of the moves."""
    said = place.facts["commit"]
    try:
        for name in said["moved"]:
            old = place.target / history_path(said["history"], name)
            if not os.path.lexists(old):
                _move(place.target / name, old)
        for name in said["placed"]:
            if os.path.lexists(place.bag / name):
                _move(place.bag / name, place.target / name)
            elif not os.path.lexists(place.target / name):
                raise _gone(place.target / name)
        sync(place.target)
        place.put_seal(said["seal"].encode("utf-8"))
        place.fact(sync=True, commit=None, **{said["step"]: True})
    except OSError as error:
        raise place.refused(error) from None


def history_path(history: str, name: str) -> str:
    """Where a file of the bag goes that gives way."""
    return f"{history}/{name.removeprefix('data/')}"


def _move(source: Path, target: Path) -> None:
    if not os.path.lexists(source):
        raise _gone(source)
    if os.path.lexists(target):
        raise AuditError(f"{shown_name(str(target))}: is not ours; move it elsewhere")
    target.parent.mkdir(parents=True, exist_ok=True)
    source.rename(target)  # deletes: nothing: looked just now, and the name is free


def _gone(path: Path) -> AuditError:
    return AuditError(f"{shown_name(str(path))}: went away while the bag was updated; bring it back")

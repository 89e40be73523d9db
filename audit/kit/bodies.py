"""Which camera body took each frame."""

from __future__ import annotations

from string import ascii_uppercase

import pandas as pd

from audit.kit.kit import Kit
from audit.kit.rules import folded

Identity = tuple[str, str]
"""Folded model and serial; the serial is "" where none is known."""


def add_bodies(frames: pd.DataFrame, kit: Kit) -> list[str | None]:
    """Label of the body of each frame, in row order; None where the file names no model."""
    rows = _identities(frames)
    labels = _labels(_by_first_frame(rows, frames), kit)
    return [None if row is None else labels[row] for row in rows]


def _identities(frames: pd.DataFrame) -> list[Identity | None]:
    models = [folded(m) if isinstance(m, str) and m.strip() else None for m in frames["model"]]
    serials = [s.strip() if isinstance(s, str) else "" for s in frames["body_serial"]]
    by_model: dict[str, set[str]] = {}
    by_folder: dict[tuple[str, str], set[str]] = {}
    for model, serial, folder in zip(models, serials, frames["folder"], strict=True):
        if model is not None and serial:
            by_model.setdefault(model, set()).add(serial)
            by_folder.setdefault((model, folder), set()).add(serial)
    rows: list[Identity | None] = []
    for model, serial, folder in zip(models, serials, frames["folder"], strict=True):
        if model is None:
            rows.append(None)
            continue
        rows.append((model, serial or _only(by_model.get(model)) or _only(by_folder.get((model, folder)))))
    return rows


def _only(serials: set[str] | None) -> str:
    """A frame without a serial belongs to the only body it can be."""
    return next(iter(serials)) if serials is not None and len(serials) == 1 else ""


def _by_first_frame(rows: list[Identity | None], frames: pd.DataFrame) -> list[Identity]:
    """Every body once, in the order of first frames by time, then by name; those without any time last."""
    first: dict[Identity, tuple[pd.Timestamp, str]] = {}
    times = frames["captured_at"].fillna(pd.Timestamp.max.floor("us"))
    for row, time, name in zip(rows, times, frames["frame"], strict=True):
        if row is not None:
            first[row] = min(first.get(row, (time, name)), (time, name))
    return sorted(first, key=lambda row: (first[row], row))


def _labels(seen: list[Identity], kit: Kit) -> dict[Identity, str]:
    """Kit names first, by serial, then by model alone; the rest are body A, body B as they stand."""
    labels: dict[Identity, str] = {}
    for body in kit.bodies:
        wanted = [row for row in seen if row[0] == folded(body.model) and row not in labels]
        if body.serial is not None:
            alone = sum(folded(other.model) == folded(body.model) for other in kit.bodies) == 1
            wanted = [row for row in wanted if row[1] == body.serial or (row[1] == "" and alone)]
        if wanted:
            labels[wanted[0]] = body.name
            if body.serial is not None:
                labels.update(dict.fromkeys(wanted, body.name))
    taken = {body.name.casefold() for body in kit.bodies}
    free = (letter for letter in _letters() if not {letter.casefold(), f"body {letter}".casefold()} & taken)
    for row in seen:
        if row not in labels:
            labels[row] = f"body {next(free)}"
    return labels


def _letters() -> list[str]:
    return [*ascii_uppercase, *(a + b for a in ascii_uppercase for b in ascii_uppercase)]

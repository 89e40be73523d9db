"""The last part of an update: tables and tag files of what a bag becomes, and the moves that make it so."""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from audit.archive.contents import Contents
from audit.archive.knowledge import Row, tables, twin_rows
from audit.archive.manifest_text import manifest_text
from audit.archive.package import FILES, LEFT, TWINS
from audit.archive.tags import TAGS, Told, seal_text, tag_files
from audit.disk.interrupt import interrupted
from audit.disk.replacing import history_path, replace_in_bag
from audit.disk.workplace import Kept, Workplace

OF_FILES = (LEFT, TWINS, FILES)


@dataclass(frozen=True)
class Change:
    """Files of the payload that come in or take another's place, those that give way, and what to tell."""

    step: str
    new: Mapping[str, Kept]
    gone: Collection[str] = ()
    left: Sequence[Row] = ()
    dumps: Sequence[str] = ()


def commit(place: Workplace, contents: Contents, change: Change, *, back: bool) -> None:
    """Writes what the bag says of itself once it is changed, and changes it."""
    today = datetime.now(UTC).strftime("%Y-%m-%d")
    payload = {p: k for p, k in contents.payload.items() if p not in change.gone and p not in OF_FILES}
    payload |= dict(change.new)
    fresh = _tables(place, contents, payload, change.left)
    payload |= fresh
    tags = _tags(place, contents, payload, change, today)
    coming = [
        *change.new,
        *(name for name, kept in fresh.items() if contents.payload.get(name) != kept),
        *(name for name, digest in tags.items() if contents.tags.get(name) != digest),
    ]
    for name in {*fresh, *tags} - set(coming):
        place.drop(name)
    history = _history(place, contents, today)
    digests = {path: kept.sha512 for path, kept in contents.payload.items()} | contents.tags
    moved = [path for path in (*coming, *change.gone, TAGS) if path in digests]
    listed = {path: digest for path, digest in contents.tags.items() if path not in moved} | tags
    listed |= {history_path(history, name): digests[name] for name in moved}
    sealed = place.write(TAGS, manifest_text(listed))
    place.sync(back=back)
    interrupted()
    seal = seal_text(place.target.name, sealed.sha512)
    replace_in_bag(place, change.step, history, moved, [*coming, TAGS], seal)


def _tables(
    place: Workplace, contents: Contents, payload: Mapping[str, Kept], more: Sequence[Row]
) -> dict[str, Kept]:
    before = {row for row in contents.twins if row[2] == "false"}
    twins = sorted(before | set(twin_rows(payload, place.twins)))
    made = tables(payload, [*contents.left, *more], twins)
    return {name: place.write(name, data, also=contents.algorithms[1:]) for name, data in made.items()}


def _tags(
    place: Workplace, contents: Contents, payload: Mapping[str, Kept], change: Change, today: str
) -> dict[str, str]:
    told = Told(
        contents.said("External-Identifier"),
        contents.said("Bagging-Date"),
        len(contents.left) + len(change.left),
        change.dumps,
        (*contents.info.get("updated", ()), today),
        contents.algorithms,
    )
    return {name: place.write(name, data).sha512 for name, data in tag_files(payload, told).items()}


def _history(place: Workplace, contents: Contents, today: str) -> str:
    number, name = 1, f"history/{today}"
    while os.path.lexists(place.target / name) or any(tag.startswith(f"{name}/") for tag in contents.tags):
        number += 1
        name = f"history/{today}-{number}"
    return name

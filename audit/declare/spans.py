"""Which frames a span covers."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np

from audit.declare.index import NO_TIME, FrameIndex, Rows, among
from audit.declare.worn import Worn
from audit.message.figures import all_of, all_phrases
from audit.message.text import marked, say
from audit.toml.fault import Fault, nearest, suggestion

HOUR_US = 3_600_000_000
WEST_US, EAST_US = -12 * HOUR_US, 14 * HOUR_US
"""Offsets from UTC lie between -12 and +14 hours (IANA time zone database)."""

NONE = np.zeros(0, dtype=np.int64)


@dataclass
class Cover:
    """Rows a span covers, rows it may cover with the reason, and what is wrong with the span."""

    rows: Rows = field(default_factory=lambda: NONE)
    doubtful: Rows = field(default_factory=lambda: NONE)
    why: str = ""
    faults: list[Fault] = field(default_factory=list)


def cover(worn: Worn, folder: str, index: FrameIndex) -> Cover:
    """The frames of a span written in the declaration of `folder`."""
    inside = index.below(folder)
    body, fault = _body(worn, index)
    if fault is not None:
        return Cover(doubtful=inside, why=fault.text, faults=[fault])
    if worn.files is not None:
        return _by_files(worn.files, folder, inside, body, index)
    if worn.times is not None:
        return _by_times(worn.times, inside, body, index)
    return Cover(rows=_of_body(inside, body, index))


def _of_body(rows: Rows, body: str | None, index: FrameIndex) -> Rows:
    return rows if body is None else rows[[index.bodies[row] == body for row in rows.tolist()]]


def _body(worn: Worn, index: FrameIndex) -> tuple[str | None, Fault | None]:
    """The label a span means: `A` also means `body A`, as the report writes it without a kit."""
    if worn.body is None:
        return None, None
    labels, wanted = index.labels, worn.body.casefold()
    for label in labels:
        if label.casefold() in (wanted, f"body {wanted}"):
            return label, None
    hint = marked("it has none that is known")
    if labels:
        hint = suggestion(worn.body, labels, marked("it has {known_key}"))
    words = marked('no frame of the dump is of body "{name}"; {hint}')
    return None, Fault("body", say(words, name=worn.body, hint=hint))


def _by_files(
    files: tuple[str, ...], folder: str, inside: Rows, body: str | None, index: FrameIndex
) -> Cover:
    named = as_ends(files, inside, index)
    if named is None:
        text = say(
            '"{name}" is a range and stands beside another name; write a span of its own for each',
            name=next(name for name in files if not index.named(name)),
        )
        return _nowhere(Fault("files", text), inside, body, index)
    files = named
    ends: list[list[int]] = []
    for item, name in enumerate(files):
        rows = among(index.named(name), inside)
        if not rows:
            return _not_found(name, item, folder, inside, body, index)
        ends.append(rows)
    if body is not None:
        for item, (name, rows) in enumerate(zip(files, ends, strict=True)):
            if all(index.sequence[row] != body for row in rows):
                text = say('"{name}" is not a frame of body "{body_name}"', name=name, body_name=body)
                return _nowhere(Fault("files", text, item=item), inside, body, index)
    return _between(files, ends, folder, inside, body, index)


_RANGE = re.compile(r"(.*?)\s*[-\u2013]\s*(.*)")
_NUMBER = re.compile(r"\d+(?=(?:\.[A-Za-z0-9]{2,4})?$)")


def as_ends(files: tuple[str, ...], inside: Rows, index: FrameIndex) -> tuple[str, ...] | None:
    """The two ends of a range written as one name ("TARN0101-TARN0120", "TARN0101-0120"), else `files`.

    A name that a frame has is that frame, hyphen or not. None where a range stands beside another name.
    """
    for name in files:
        found = _RANGE.fullmatch(name)
        if found is None or not all(found.groups()) or among(index.named(name), inside):
            continue
        first, last = found.groups()
        number = _NUMBER.search(first)
        if number is None or not _NUMBER.search(last):
            continue  # no two counters: a slip of one name
        if last.rsplit(".", 1)[0].isdigit():
            last = first[: number.end() - len(last.rsplit(".", 1)[0])] + last
        return (first, last) if len(files) == 1 else None
    return files


def _between(
    files: tuple[str, ...],
    ends: list[list[int]],
    folder: str,
    inside: Rows,
    body: str | None,
    index: FrameIndex,
) -> Cover:
    bodies = [body] if body is not None else _bodies(ends, folder, index)
    if len(bodies) != 1:
        words = marked(
            '"{first_frame}" and "{last_frame}" are not of one body; a span runs in the order of one'
        )
        text = say(words, first_frame=files[0], last_frame=files[-1])
        if bodies:
            labels = all_phrases([_label(b) for b in bodies])
            text = say("the names fit {bodies}; say which with body = ...", bodies=labels)
        return _nowhere(Fault("files" if not bodies else "body", text), inside, None, index)
    rows = []
    for item, (name, found) in enumerate(zip(files, ends, strict=True)):
        mine = _nearest_folder([row for row in found if index.sequence[row] == bodies[0]], folder, index)
        if len({index.folders[row] for row in mine}) > 1:
            both = all_of([index.frames[row] for row in mine[:2]])
            text = say('"{name}" fits {both}; write the folder too', name=name, both=both)
            return _nowhere(Fault("files", text, item=item), inside, bodies[0], index)
        rows.append(sorted(mine, key=lambda row: index.place[row]))
    return _run(files, rows[0][0], rows[-1][-1], bodies[0], inside, index)


def _run(files: tuple[str, ...], first: int, last: int, body: str, inside: Rows, index: FrameIndex) -> Cover:
    """All frames of one body from the first to the last, both included."""
    start, end = index.place[first], index.place[last]
    low, high = min(start, end), max(start, end)
    rows = np.array(among(index.order[body][low : high + 1], inside), dtype=np.int64)
    if start <= end:
        return Cover(rows=rows)
    words = marked('"{first_frame}" was taken after "{last_frame}" by {body}; swap the two')
    text = say(words, first_frame=files[0], last_frame=files[-1], body=_label(body))
    return Cover(doubtful=rows, why=text, faults=[Fault("files", text)])


def _label(body: str) -> str:
    if body.startswith("\0"):
        return marked("files without a camera name")
    return body if body.casefold().startswith("body ") else say("body {name}", name=body)


def _bodies(ends: list[list[int]], folder: str, index: FrameIndex) -> list[str]:
    """Bodies that have both ends; where several do, those that have both in the declaration's own folder."""
    both = [{index.sequence[row] for row in rows} for rows in ends]
    common = both[0].intersection(*both[1:])
    if len(common) > 1:
        own = [{index.sequence[row] for row in rows if index.folders[row] == folder} for rows in ends]
        common = common.intersection(*own) or common
    return sorted(common)


def _nearest_folder(rows: list[int], folder: str, index: FrameIndex) -> list[int]:
    return [row for row in rows if index.folders[row] == folder] or rows


def _not_found(name: str, item: int, folder: str, inside: Rows, body: str | None, index: FrameIndex) -> Cover:
    wanted = name.rsplit("/", 1)[-1].rsplit(".", 1)[0]
    near = nearest(wanted, _alike(wanted, index, inside))
    hint = say('did you mean "{name}"?', name=near) if near else marked("look at the name again")
    words = marked('no frame "{name}" in or below {folder}; {hint}')
    if folder == ".":
        words = marked('no frame "{name}" in the dump; {hint}')
    text = say(words, name=name, folder=folder, hint=hint)
    return _nowhere(Fault("files", text, item=item), inside, body, index)


def _alike(wanted: str, index: FrameIndex, inside: Rows) -> list[str]:
    """The few names that share most letters in place; difflib alone takes seconds over a long trip."""
    folded = wanted.casefold()
    names = {index.short(row) for row in inside.tolist()}
    same = {name: sum(a == b for a, b in zip(folded, name.casefold(), strict=False)) for name in names}
    return sorted(names, key=lambda name: (-same[name], name))[:50]


def _nowhere(fault: Fault, inside: Rows, body: str | None, index: FrameIndex) -> Cover:
    """A span that cannot be placed: any frame of its folder (and body) may have been meant."""
    rows = [row for row in inside.tolist() if body in (None, index.sequence[row])]
    return Cover(doubtful=np.array(rows, dtype=np.int64), why=fault.text, faults=[fault])


def _by_times(times: tuple[datetime, datetime], inside: Rows, body: str | None, index: FrameIndex) -> Cover:
    """Half-open: the begin is included, the end is not. The camera's own offset is used for UTC only."""
    start, end = (_micros(t) for t in times)
    rows = _of_body(inside, body, index)
    rows = rows[index.true_us[rows] != NO_TIME]
    local, offset = index.true_us[rows], index.offset_us[rows]
    if times[0].tzinfo is None:
        return Cover(rows=rows[(local >= start) & (local < end)])
    known = offset != NO_TIME
    utc_us = local - np.where(known, offset, 0)
    hit = known & (utc_us >= start) & (utc_us < end)
    maybe = ~known & (local >= start + WEST_US) & (local < end + EAST_US)
    why = marked("the span's times have an offset from UTC, the frame's time has none")
    return Cover(rows=rows[hit], doubtful=rows[maybe], why=why)


def _micros(time: datetime) -> int:
    """Microseconds since 1970: local for a time without offset, UTC for one with."""
    epoch = datetime(1970, 1, 1) if time.tzinfo is None else datetime(1970, 1, 1, tzinfo=UTC)
    return (time - epoch) // timedelta(microseconds=1)


def set_back(rows: Rows, index: FrameIndex) -> tuple[int, int] | None:
    """Two neighbours in capture order between which a body's clock runs back by a minute or more."""
    by_body: dict[str, list[int]] = {}
    for row in rows:
        by_body.setdefault(index.sequence[row], []).append(int(row))
    for members in by_body.values():
        line = sorted(members, key=lambda row: index.place[row])
        for before, after in pairwise(line):
            if index.true_us[after] < index.true_us[before] - 60_000_000:
                return before, after
    return None

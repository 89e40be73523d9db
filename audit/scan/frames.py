"""Files that belong to one exposure become one frame: raw and JPEG, two cards of one body, mirrored cards."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import pandas as pd

from audit.message.shown import alike, writable
from audit.message.text import joined, marked, say
from audit.scan.copies import shot_key, twin_of
from audit.scan.exposure import exposure_value
from audit.scan.folder import Entry, split_ending
from audit.scan.formats import DEVELOPED
from audit.scan.note import OF_SIZE, about
from audit.scan.reader import HEAD_SUM
from audit.table.column import TEXT, WORDS
from audit.table.columns import SCAN


def frame_table(rows: list[dict[str, Any]]) -> pd.DataFrame:
    """Table of the scan columns; what a row does not hold is null (an empty list in columns of lists)."""
    return pd.DataFrame({c.name: c.kind.series(row.get(c.name) for row in rows) for c in SCAN})


def passed_over_table(rows: list[tuple[str, str]]) -> pd.DataFrame:
    """Table of the files passed over: path and reason."""
    paths, reasons = [path for path, _ in rows], [reason for _, reason in rows]
    return pd.DataFrame({"path": TEXT.series(paths), "reason": WORDS.series(reasons)})


Row = dict[str, Any]

OTHER_SETTING = 1.1
"""Exposure times or f-numbers further apart than this factor are two settings, not one rounded twice."""
ESCAPE = "\\x"
NO_UTF8 = marked("its path is not UTF-8: the bytes that are not are told in hexadecimal")
COUNTER_DIGITS = 9  # a longer run of digits is no counter
_DCF_NAME = re.compile(r"\w{4}\d{4}", re.ASCII)
_COUNTER = re.compile(r"(?<!\d)(\d+)$", re.ASCII)

_PREVIEW = ("preview_file", "preview_offset", "preview_bytes")
# Columns that are filled from another file of the frame together or not at all.
_TOGETHER = (
    *(("make",), ("model",), ("body_serial", "serial_from"), ("lens", "lens_from"), ("lens_serial",)),
    ("lens_focal_min_mm", "lens_focal_max_mm"),
    ("captured_at", "utc_offset_min"),
    ("exposure_time_s", "exposure_time_ratio", "exposure_time_exact_s", "exposure_time_basis"),
    ("f_number", "f_number_exact", "f_number_basis"),
    ("iso", "iso_source"),
    *(("exposure_bias_stops",), ("exposure_program",), ("exposure_mode",), ("metering",), ("white_balance",)),
    *(
        ("flash_fired",),
        ("composite",),
        ("focal_length_mm",),
        ("focal_length_35mm",),
        ("subject_distance_m",),
    ),
    *(("width_px", "height_px"), ("orientation",), ("thumbnail_jpeg",)),
    ("focal_plane_width_mm", "focal_plane_height_mm"),
    ("latitude_deg", "longitude_deg", "gps_at"),
    _PREVIEW,
)
_COMPARED = (
    *("model", "captured_at", "exposure_time_s", "f_number", "iso", "exposure_bias_stops", "focal_length_mm"),
    *("lens", "width_px", "height_px", "orientation"),
)

_OF_ITS_OWN = marked(
    "another file here has the same name but not the same camera, time and exposure: a frame of its own"
)


@dataclass
class Picture:
    """One picture as read, with the files it was read from (a CRW and its THM make one).

    `content` is the same where another dump holds the same bytes.
    """

    files: list[str]
    folder: str
    stem: str
    row: Row
    content: str | None = None

    @property
    def dump(self) -> str:
        """The dump's name, where there are several."""
        return self.folder.partition("/")[0]

    @property
    def counter(self) -> int | None:
        """Number at the end of the file name; of eight characters the last four (DCF 2.0)."""
        if _DCF_NAME.fullmatch(self.stem):
            return int(self.stem[-4:])
        match = _COUNTER.search(self.stem)
        return int(match.group(1)) if match and len(match.group(1)) <= COUNTER_DIGITS else None


def picture(entry: Entry, row: Row) -> Picture:
    """A picture from the file that was seen and the values read from it."""
    if row.get("preview_offset") is not None:
        row["preview_file"] = entry.shown
    path = os.fspath(entry.path)
    if ESCAPE in entry.shown and writable(path) != path:
        row["notes"].append(NO_UTF8)
    return Picture([entry.shown], entry.folder, entry.stem, row)


def add_thumbnail(crw: Picture, thumbnail: Entry, row: Row) -> None:
    """Takes the EXIF of the THM file beside a CRW: its values come first, the CRW's own fill the gaps."""
    crw.files.append(thumbnail.shown)
    if row.get("problem"):
        crw.row["notes"].append(_unread(thumbnail.shown, row))
        return
    of_the_file = ("formats", "size_bytes", "width_px", "height_px", HEAD_SUM, *_PREVIEW)
    own = {name: crw.row.get(name) for name in of_the_file}
    # The THM is a picture of its own, a small one.
    notes = [note for note in row["notes"] if about(note) not in OF_SIZE]
    merged = {**row, **own, "notes": crw.row["notes"] + notes, "problem": None}
    merged["focal_plane_width_mm"] = merged["focal_plane_height_mm"] = None
    _fill(merged, crw.row)
    crw.row = merged


def group(pictures: list[Picture]) -> list[Row]:
    """One row a frame, in the order of their first files in the walk."""
    frames = _across_folders(_within_folders(pictures))
    place = {id(p): index for index, p in enumerate(pictures)}
    rows = [_frame_row(sorted(members, key=lambda p: _rank(p, place[id(p)]))) for members in frames]
    order = {p.files[0]: index for index, p in enumerate(pictures)}
    rows.sort(key=lambda row: order[row["files"][0]])
    _name(rows)
    return rows


def _rank(p: Picture, place: int) -> tuple[bool, int, int, int]:
    """Readable before damaged, developed before raw, larger before smaller, then the order of the walk."""
    kind = p.row["formats"]
    return (
        p.row.get("problem") is not None,
        DEVELOPED.index(kind) if kind in DEVELOPED else len(DEVELOPED),
        -(p.row.get("width_px") or 0),
        place,
    )


def _within_folders(pictures: list[Picture]) -> list[list[Picture]]:
    by_stem: dict[tuple[str, str], list[list[Picture]]] = {}
    for p in pictures:
        clusters = by_stem.setdefault((p.folder, alike(p.stem)), [])
        _join(clusters, [p])
    for clusters in by_stem.values():
        if len(clusters) > 1:
            for cluster in clusters:
                cluster[0].row["notes"].append(_OF_ITS_OWN)
    return [cluster for clusters in by_stem.values() for cluster in clusters]


def _across_folders(clusters: list[list[Picture]]) -> list[list[Picture]]:
    """Joins clusters of different folders of the same body, counter and time, or of the same bytes."""
    frames: list[list[Picture]] = []
    by_shot: dict[tuple[object, ...], list[list[Picture]]] = {}
    by_content: dict[str, list[list[Picture]]] = {}
    for cluster in clusters:
        key = shot_key(cluster)
        alike = by_shot.setdefault(key, []) if key is not None else []
        if _join(alike, cluster, other_folder=True):
            frame = next(one for one in alike if any(p is cluster[0] for p in one))
        elif (twin := twin_of(cluster, by_content)) is not None:
            twin.extend(cluster)
            alike[-1] = frame = twin
        else:
            frame = alike[-1]
            frames.append(frame)
        for content in {p.content for p in cluster if p.content is not None}:
            by_content.setdefault(content, []).append(frame)
    return frames


def _join(clusters: list[list[Picture]], new: list[Picture], *, other_folder: bool = False) -> bool:
    """Adds pictures to the first cluster they agree with (True), or as a cluster of their own (False)."""
    for cluster in clusters:
        apart = not other_folder or {p.folder for p in cluster}.isdisjoint(p.folder for p in new)
        if apart and all(_same_shot(a, b) for a in cluster for b in new):
            cluster.extend(new)
            return True
    clusters.append(list(new))
    return False


def _same_shot(a: Picture, b: Picture) -> bool:
    """Whether two files can be one exposure: nothing they say about body, settings and time contradicts it.

    Two files of one format must both tell the time: a name alone does not make one a copy of the other.
    """
    for name in ("model", "body_serial"):
        ours, theirs = a.row.get(name), b.row.get(name)
        # A number in the maker's notes may be written otherwise than the one in the standard tag.
        told_alike = name == "model" or a.row.get("serial_from") == b.row.get("serial_from")
        if told_alike and ours and theirs and ours.casefold() != theirs.casefold():
            return False
    for name in ("exposure_time_s", "f_number"):
        ours, theirs = a.row.get(name), b.row.get(name)
        if ours and theirs and not 1 / OTHER_SETTING < ours / theirs < OTHER_SETTING:
            return False
    first, second = a.row.get("captured_at"), b.row.get("captured_at")
    if first is None or second is None:
        return bool(a.row["formats"] != b.row["formats"])
    return _same_time(first, second)


def _same_time(a: datetime, b: datetime) -> bool:
    if a.microsecond and b.microsecond:
        return abs(a - b) < timedelta(milliseconds=100)  # one of two files may round its sub-second
    return a.replace(microsecond=0) == b.replace(microsecond=0)


def _frame_row(members: list[Picture]) -> Row:
    first = members[0]
    row: Row = dict(first.row)
    row["notes"] = list(first.row["notes"])
    kept: dict[str, Picture] = {}
    copies: list[str] = []
    for p in members:
        twin = kept.setdefault(p.row["formats"], p)
        if twin is not p:
            copies.append(p.files[0])
            row["notes"] += _difference(p, twin)
        if p is not first:
            _fill(row, p.row)
            if p.row.get("problem"):
                row["notes"].append(_unread(p.files[0], p.row))
    row["notes_about"] = [about(note) for note in row["notes"]]
    row["ev100"] = exposure_value(row)
    row["files"] = [name for p in members for name in p.files]
    row["copies"] = copies
    row["formats"] = "+".join(kept)
    row["folder"], row["counter"] = first.folder, first.counter
    return row


def _unread(file: str, row: Row) -> str:
    return say("{file} could not be read: {problem}", file=file, problem=row["problem"])


def _fill(row: Row, other: Row) -> None:
    for names in _TOGETHER:
        if all(row.get(name) is None for name in names):
            row.update({name: other.get(name) for name in names})
    if row.get("utc_offset_min") is None and row.get("captured_at") == other.get("captured_at"):
        row["utc_offset_min"] = other.get("utc_offset_min")
    row["gps_present"] = _either(row.get("gps_present"), other.get("gps_present"))


def _either(a: bool | None, b: bool | None) -> bool | None:
    return b if a is None else a or bool(b)


def _difference(copy: Picture, kept: Picture) -> list[str]:
    """What tells a copy from the file it repeats; nothing where both agree in all that was read."""
    found = [
        say(
            "{column_key} {value_written} against {other_written}",
            column_key=name,
            value_written=str(copy.row.get(name)),
            other_written=str(kept.row.get(name)),
        )
        for name in ("size_bytes", *_COMPARED)
        if copy.row.get(name) != kept.row.get(name)
    ]
    if not found and copy.row.get(HEAD_SUM) != kept.row.get(HEAD_SUM):
        found = [marked("the first 64 KiB are not the same")]
    if not found:
        return []
    return [
        say(
            "copy {file} differs from {other_file}: {differences}",
            file=copy.files[0],
            other_file=kept.files[0],
            differences=joined(found),
        )
    ]


def _name(rows: list[Row]) -> None:
    """Gives each row its identity: the first file without ending, with it where that would not be unique."""
    short = [split_ending(row["files"][0])[0] for row in rows]
    count: dict[str, int] = {}
    for name in short:
        count[name] = count.get(name, 0) + 1
    used: set[str] = set()
    for row, name in zip(rows, short, strict=True):
        wanted = name if count[name] == 1 else row["files"][0]
        unique, number = wanted, 2
        while unique in used:
            unique, number = f"{wanted} #{number}", number + 1
        used.add(unique)
        row["frame"] = unique

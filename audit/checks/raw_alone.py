"""Where the camera writes raw and JPEG together, a raw alone means that one was lost or deleted."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePosixPath

import pandas as pd

from audit.checks._words import body_words, names
from audit.finding import Finding
from audit.message.text import marked, say
from audit.scan.formats import DEVELOPED, DEVELOPED_ENDINGS

ID = "raw-alone"
TITLE = "Raw without its JPEG"
THRESHOLD = "a raw alone where at least 3 raws of its body and folder, and 80 % of them, have a JPEG"
SOURCE = "common practice, no source"
ADVICE = "Look for the JPEG on the card before it is formatted."
NEEDS = ("formats", "body", "files")
LEAST_PAIRS, SHARE = 3, 0.8


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    kinds = frames["formats"].fillna("").str.split("+").map(set)
    raw = kinds.map(lambda k: bool(k.difference(DEVELOPED, {""}))).astype(bool)
    paired = kinds.map(lambda k: bool(k.intersection(DEVELOPED))).astype(bool)
    # A body with two slots writes the raws to one card and the JPEGs to the other: the raw's folder counts.
    part_of = frames.assign(paired=paired, folder=_raw_folders(frames))[raw]
    for (body, folder), part in part_of.groupby(["body", "folder"], sort=True):
        pairs = int(part["paired"].sum())
        if pairs < len(part) and pairs >= LEAST_PAIRS and pairs >= SHARE * len(part):
            alone = part[~part["paired"]]
            yield Finding(
                ID,
                "note",
                names(alone),
                seen=marked("raw only"),
                expected=say(
                    "raw and JPEG, as {count} others of this body in folder {folder}",
                    count=pairs,
                    folder=folder,
                ),
                sure=marked("measured"),
                advice=ADVICE,
                cause=say("{body}, folder {folder}", body=body_words(body), folder=folder),
            )


def _raw_folders(frames: pd.DataFrame) -> list[str]:
    """Folder of each frame's first raw file; its own folder where none is named."""
    found = []
    for folder, files in zip(frames["folder"], frames["files"], strict=True):
        paths = [PurePosixPath(file) for file in files]
        raws = [path for path in paths if path.suffix.lower().removeprefix(".") not in DEVELOPED_ENDINGS]
        found.append(str(raws[0].parent) if raws else str(folder))
    return found

"""Where the camera writes raw and JPEG together, a raw alone means that one was lost or deleted."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import body_words, names
from audit.model.finding import Finding

ID = "raw-alone"
TITLE = "Raw without its JPEG"
THRESHOLD = "a raw alone where at least 3 raws of its body and folder, and 80 % of them, have a JPEG"
SOURCE = "common practice, no source"
ADVICE = "Look for the JPEG on the card before it is formatted."
NEEDS = ("formats", "body", "folder")
LEAST_PAIRS, SHARE = 3, 0.8
DEVELOPED = {"JPEG", "HEIF", "TIFF"}


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    kinds = frames["formats"].fillna("").str.split("+").map(set)
    raw = kinds.map(lambda k: bool(k - DEVELOPED - {""})).astype(bool)
    paired = kinds.map(lambda k: bool(k & DEVELOPED)).astype(bool)
    for (body, folder), part in frames.assign(paired=paired)[raw].groupby(["body", "folder"], sort=True):
        pairs = int(part["paired"].sum())
        if pairs < len(part) and pairs >= LEAST_PAIRS and pairs >= SHARE * len(part):
            alone = part[~part["paired"]]
            yield Finding(
                ID,
                "note",
                names(alone),
                seen="raw only",
                expected=f"raw and JPEG, as {pairs} others of this body in folder {folder}",
                sure="measured",
                advice=ADVICE,
                cause=f"{body_words(body)}, folder {folder}",
            )

"""Cameras and programs sometimes write values that cannot be: f/0, a time of zero, a date of zeros.

They are kept out of every sum, so the frame is judged by less. A lens without contacts writes them on
purpose: the kit can fill them.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

import pandas as pd

from audit.checks._words import names
from audit.finding import Finding
from audit.message.text import Phrases, made_of, marked
from audit.scan.note import LEFT_OUT
from audit.table.column import TEXT, WORDS

ID = "impossible-values"
TITLE = "Values that cannot be, left out"
THRESHOLD = "any value left out, but for a lens without contacts whose values the kit gives"
SOURCE = "Exif 2.32 (CIPA DC-008): tag definitions; the reader's own reason"
ADVICE = (
    "Nothing to mend in the pictures. A lens without contacts belongs into kit.toml with no_contacts = true."
)
NEEDS = ("notes", "notes_about", "problem", "f_number_basis")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    told = _each_note(frames[frames["problem"].isna()])
    told = told[told["about"].isin(LEFT_OUT)]
    filled = told["f_number_basis"].isin(["kit", "declared"]) & (told["about"] == "no contacts")
    for _, part in told[~filled].groupby("note", sort=True):
        note = part["note"].iloc[0]
        why, done = made.parts if isinstance(made := made_of(note), Phrases) else (note, note)
        yield Finding(
            ID,
            "note",
            names(part),
            seen=done,
            expected=marked("a value that can be"),
            sure=marked("as written in EXIF"),
            advice=ADVICE,
            cause=why,
        )


def _each_note(frames: pd.DataFrame) -> pd.DataFrame:
    """One row for each note of a frame."""
    counts = frames["notes"].map(len)
    rows = frames.loc[frames.index.repeat(counts), ["frame", "f_number_basis"]].reset_index(drop=True)
    notes, about = (list(chain.from_iterable(frames[name])) for name in ("notes", "notes_about"))
    return rows.assign(note=WORDS.series(notes), about=TEXT.series(about))

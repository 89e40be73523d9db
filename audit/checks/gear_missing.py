"""A body or lens that the kit does not know leaves its frames without corners, clock and rig.

Often the kit has it under another name than EXIF writes; then what was measured for it is not used.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import names
from audit.finding import Finding
from audit.kit.strangers import strangers
from audit.message.text import marked

ID = "gear-missing"
TITLE = "Gear that the kit lacks"
THRESHOLD = (
    "any body or lens named in EXIF that matches none of the kit, where the kit names some; look where one "
    "of the kit with a name alike matches no frame, else note"
)
SOURCE = "the kit itself"
ADVICE = (
    "Write the name as EXIF has it into kit.toml (model of the body, exif of the lens), or add the body or "
    "lens."
)
NEEDS = ("body_missing", "body_nearest", "lens_missing", "lens_nearest", "lens_id", "model", "lens")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    for one in strangers(frames):
        column, flag = ("model", "body_missing") if one.key == "model" else ("lens", "lens_missing")
        part = frames[(frames[column] == one.name) & frames[flag].fillna(False)]
        if one.key != "model":
            part = part[part["lens_id"].isna()]
        yield Finding(
            ID,
            "note" if one.nearest is None else "look",
            names(part),
            seen=one.words,
            expected=marked("gear of the kit, by the names that EXIF writes"),
            sure=marked("as written in EXIF"),
            advice=ADVICE,
            cause=marked("kit.toml"),
        )

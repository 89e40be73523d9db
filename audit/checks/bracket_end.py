"""A bracket is shot for its ends: the dark frame holds the sky, the bright one the ground.

One frame lost or released too few, and the end it stood for is missing from every picture blended later.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from audit.checks._words import body_words, names
from audit.finding import Finding
from audit.message.text import marked, plural, say
from audit.table.columns import records

ID = "bracket-end"
TITLE = "Bracket without its dark or bright end"
THRESHOLD = (
    "fewer frames than three in four of the body's brackets of that day (at least three of them, with the "
    "same step) have, but for a scene that has several such; or a darkest frame with a tenth of a third "
    "clipped; or, in light above EV100 3, a brightest frame with a quarter of a third black"
)
SOURCE = "clipping: counted in the JPEG, the raw file may hold more; all limits: common practice, no source"
ADVICE = "Look whether the end is needed: a single frame beside the bracket may serve as its missing end."
NEEDS = ("bracket", "bracket_by", "ev100")
LEAST_USUAL, SHARE, SAME_STEP_STOPS = 3, 0.75, 0.25
CLIPPED, BLACK, NIGHT_EV100 = 0.10, 0.25, 3.0
THIRDS = ("top", "middle", "bottom")
FEW = {
    "end": marked("{count} frames; one end is missing"),
    "dark end": marked("{count} frames; its dark end is missing"),
    "bright end": marked("{count} frames; its bright end is missing"),
}
SPOILT = {
    ("clipped", "top"): marked("the darkest frame still has {share:.0f} % of its top third clipped"),
    ("clipped", "middle"): marked("the darkest frame still has {share:.0f} % of its middle third clipped"),
    ("clipped", "bottom"): marked("the darkest frame still has {share:.0f} % of its bottom third clipped"),
    ("black", "top"): marked("the brightest frame still has {share:.0f} % of its top third black"),
    ("black", "middle"): marked("the brightest frame still has {share:.0f} % of its middle third black"),
    ("black", "bottom"): marked("the brightest frame still has {share:.0f} % of its bottom third black"),
}
WANTED = {
    "clipped": marked("less than {share:.0f} %, or a darker frame"),
    "black": marked("less than {share:.0f} %, or a brighter frame"),
}


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    decided = frames["bracket"].notna() & (frames["bracket_by"] != "undecided")
    members = frames[decided & frames["ev100"].notna()]
    table = _facts(members)
    short = list(_too_few(table))
    for name, body, usual, missing in short:
        yield _few(members[members["bracket"] == name], body, usual, missing)
    rest = members[~members["bracket"].isin([name for name, *_ in short])]
    groups = rest.groupby("bracket")
    light = groups["ev100"].median() + groups["even_stops_min"].max().fillna(0.0)
    darkest, brightest = (
        _shares(rest.loc[rows]) for rows in (groups["ev100"].idxmax(), groups["ev100"].idxmin())
    )
    clipped = darkest[darkest["clipped"] >= CLIPPED]
    black = brightest[(brightest["black"] >= BLACK) & (brightest["bracket"].map(light) > NIGHT_EV100)]
    for row in records(clipped):
        yield _spoilt(rest, row, "clipped", CLIPPED)
    for row in records(black):
        yield _spoilt(rest, row, "black", BLACK)


def _facts(members: pd.DataFrame) -> pd.DataFrame:
    """One row a bracket; `least` and `most` compensation are null where it was not made by compensation."""
    groups = members.groupby("bracket", sort=True)
    ev, bias, size = groups["ev100"], groups["exposure_bias_stops"], groups.size()
    by_bias = (bias.nunique() == size) & (bias.count() == size)
    first = groups[["body", "scene", "captured_at"]].first()
    return first.assign(
        day=first["captured_at"].dt.normalize(),
        size=size,
        step=(ev.max() - ev.min()) / (size - 1).clip(lower=1),
        least=bias.min().where(by_bias),
        most=bias.max().where(by_bias),
    )


def _shares(ends: pd.DataFrame) -> pd.DataFrame:
    """Largest share of a third that is clipped, and that is black."""
    shares = {
        kind: ends[[f"{kind}_{third}" for third in THIRDS]].max(axis=1) for kind in ("clipped", "black")
    }
    return ends.assign(**shares)


def _too_few(table: pd.DataFrame) -> Iterator[tuple[str, str, int, str]]:
    """Brackets smaller than usual for body and day: name, body, usual size, what is missing."""
    for (body, _), day in table.groupby(["body", "day"], sort=True):
        size = int(day["size"].mode().max())
        usual = day[day["size"] == size]
        if len(usual) < max(LEAST_USUAL, SHARE * len(day)):
            continue
        step, least, most = (float(usual[name].median()) for name in ("step", "least", "most"))
        small = day[(day["size"] < size) & ((day["step"] - step).abs() <= SAME_STEP_STOPS)]
        alone = small[~small.duplicated(["scene", "size"], keep=False)]  # several in one scene were set so
        lacks_dark = alone["least"] > least + SAME_STEP_STOPS
        lacks_bright = alone["most"] < most - SAME_STEP_STOPS
        for name, dark, bright in zip(alone.index, lacks_dark, lacks_bright, strict=True):
            missing = "end" if dark == bright else "dark end" if dark else "bright end"
            yield str(name), str(body), size, missing


def _few(part: pd.DataFrame, body: str, usual: int, missing: str) -> Finding:
    return Finding(
        ID,
        "look",
        names(part),
        seen=say(FEW[missing], count=len(part)),
        expected=say(
            "{count} frames, as the other brackets of {body} on that day", count=usual, body=body_words(body)
        ),
        sure=marked("as written in EXIF"),
        advice=ADVICE,
        by=plural(usual - len(part), "{n} frame", "{n} frames"),
    )


def _spoilt(members: pd.DataFrame, row: dict[str, Any], kind: str, least: float) -> Finding:
    """What one end of a bracket still loses."""
    third = max(THIRDS, key=lambda t: row[f"{kind}_{t}"] if pd.notna(row[f"{kind}_{t}"]) else 0.0)
    return Finding(
        ID,
        "look",
        names(members[members["bracket"] == row["bracket"]]),
        seen=say(SPOILT[kind, third], share=100 * row[kind]),
        expected=say(WANTED[kind], share=100 * least),
        sure=marked("measured in the JPEG, which says nothing of the raw file"),
        advice=ADVICE,
        cause=str(row["frame"]),
    )

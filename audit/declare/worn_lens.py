"""The lens of each frame once the spans are known, and rings that do not fit it."""

from __future__ import annotations

import pandas as pd

from audit.declare.index import FrameIndex
from audit.declare.judged import HAS_A_MISTAKE, Judged
from audit.declare.rig_rules import thread_faults
from audit.kit.kit import Kit
from audit.message.text import marked, plural, say
from audit.table.columns import filled
from audit.toml.fault import Fault


def settle_lenses(
    frames: pd.DataFrame, spans: list[Judged | None], reasons: list[str | None], kit: Kit, index: FrameIndex
) -> pd.DataFrame:
    """The table with the lens of each frame settled; rows whose ring does not fit are set undeclared.

    The file's own name of the lens is believed before the span, the span before an assumption.
    `spans` and `reasons` are changed in place.
    """
    ids = [x if isinstance(x, str) else None for x in frames["lens_id"]]
    sources = [x if isinstance(x, str) else None for x in frames["lens_source"]]
    told: dict[tuple[int, str, str], list[int]] = {}
    by_place: dict[int, Judged] = {}
    faults: dict[tuple[int, str, str], Fault] = {}
    for row, span in enumerate(spans):
        if span is None:
            continue
        _declared(row, span, ids, sources)
        fault = _misfit(row, span, ids, sources, kit)
        if fault is not None:
            key = (id(span), fault.key, fault.text)
            by_place[id(span)], faults[key] = span, fault
            told.setdefault(key, []).append(row)
            if fault.level == "error":
                spans[row] = None
                reasons[row] = say(HAS_A_MISTAKE, place_path=span.place, why=fault.text)
    for key, rows in told.items():
        fault = faults[key]
        count = plural(len(rows), "{count} frame", "{count} frames", count=len(rows))
        frames_told = index.short_range(rows)
        text = say("{mistake} ({count}: {frames})", mistake=fault.text, count=count, frames=frames_told)
        by_place[key[0]].say(Fault(fault.key, text, fault.level, fault.item))
    return filled(frames, {"lens_id": ids, "lens_source": sources})


def _declared(row: int, span: Judged, ids: list[str | None], sources: list[str | None]) -> None:
    if span.worn.lens is not None and sources[row] != "exif":
        ids[row] = span.worn.lens
        sources[row] = marked("declared") if span.worn.source is None else marked("estimated")


def _misfit(
    row: int, span: Judged, ids: list[str | None], sources: list[str | None], kit: Kit
) -> Fault | None:
    """A span against the lens of one of its frames."""
    lens = ids[row]
    if lens is None:
        return None
    fault = next(thread_faults(span.worn, kit, lens), None)
    if fault is not None and sources[row] == "assumed":
        words = marked("{lens_name} fits the focal length, but not the ring")
        ids[row], sources[row] = None, say(words, lens_name=lens)
        return None
    if fault is None and span.worn.lens is not None and span.worn.lens != lens:
        words = marked('is "{name}", but the files say "{other_name}" and are believed')
        return Fault("lens", say(words, name=span.worn.lens, other_name=lens), "warning")
    return fault

"""Several answers to a corner question on a terminal: rigs side by side, and the whole kit."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.text import Text

from audit.corners.answer import Answers, Told
from audit.corners.whole_kit import KitCell, KitRig, WholeKit
from audit.report.terminal import (
    CELL,
    CLEAR_AT,
    LOST,
    STYLES,
    beside,
    cell,
    clear_at,
    focal,
    head,
    lines,
    row,
    undecided,
    verdict_words,
    wrapped,
)

ROW = 16
"""Width of f-number and focal length before the rigs."""
KIT_ROW, KIT_CELL = 26, 14


def answer_lines(answers: Answers, width: int) -> Iterator[Text]:
    """Sensor after sensor; several rigs side by side."""
    for number, (_, of_sensor) in enumerate(groupby(answers.told, lambda t: t.answer.sensor_mm)):
        told = list(of_sensor)
        if number:
            yield from (Text(), Text("-" * width, "dim"), Text())
        if len(told) > 1:
            yield from _side_by_side(told, answers.left_out, width)
        else:
            yield from lines(told[0].answer, width, told[0].bodies, answers.left_out)


def _side_by_side(told: Sequence[Told], left_out: Sequence[str], width: int) -> Iterator[Text]:
    yield from head(told[0].answer, width, told[0].bodies, left_out)
    yield Text("Rigs", "bold")
    at = max(len(one.rig) for one in told) + 3
    for one in told:
        words = f"{f'  {one.rig}':<{at}} {one.answer.rig_words}"
        yield from map(Text, textwrap.wrap(words, width, subsequent_indent=" " * (at + 1)))
    yield Text()
    yield Text(LOST, "bold")
    across = (width + 1 - ROW) // (CELL + 1)
    for start in range(0, len(told), across):
        if start:
            yield Text()
        yield from _columns(told[start : start + across])
    yield from undecided((case.prediction for one in told for case in one.answer.cases), width)
    yield Text(CLEAR_AT, "dim")
    assumed = dict.fromkeys(words for one in told for words in one.answer.assumed)
    if assumed:
        yield Text()
        yield from wrapped("Assumed", "; ".join(assumed), width)


def _columns(told: Sequence[Told]) -> Iterator[Text]:
    """A block of lines for each f-number; every rig was asked the same ones on the same lens."""
    yield row("", [Text(one.rig, "bold") for one in told], ROW, CELL)
    found = [{(c.f_number, c.focal_length_mm): c.prediction for c in t.answer.cases} for t in told]
    focals = dict.fromkeys(focal for _, focal in found[0])
    for n in told[0].answer.widest:
        label = f"f/{n:g}"
        for focal_mm in focals:
            cells = [beside(cell(rig[n, focal_mm])) for rig in found]
            yield row(f"{label:<7}{focal_mm:g} mm", cells, ROW, CELL)
            label = ""
        yield row(f"{'':<7}clear at", [beside(clear_at(t.answer.widest[n])) for t in told], ROW, CELL)


def kit_lines(kit: WholeKit, width: int) -> Iterator[Text]:
    """A table of lens and rig for each sensor and f-number, rings apart; then what was left out."""
    yield Text("Verdict at the lens' shortest focal length, widest clear focal length in mm", "bold")
    for (sensor_mm, f_number), found in groupby(kit.cells, lambda c: (c.sensor_mm, c.f_number)):
        cells = list(found)
        yield Text()
        sensor = f"{sensor_mm[0]:g} x {sensor_mm[1]:g} mm at f/{f_number:g}"
        yield from _title(", ".join((*cells[0].bodies, sensor)), width)
        lenses = list(dict.fromkeys(c.lens for c in cells))
        across = (width + 1 - KIT_ROW) // (KIT_CELL + 1)
        for start in range(0, len(lenses), across):
            if start:
                yield Text()
            yield from _kit_table(cells, lenses[start : start + across], width)
    yield Text()
    yield from undecided((cell.prediction for cell in kit.cells), width)
    yield Text("-: does not fit; none: clear at no focal length; any: at every one looked at", "dim")
    bodies = tuple(f"body {name}, whose sensor_mm the kit does not give" for name in kit.no_sensor)
    for title, words in (("Steps", kit.steps), ("Left out", bodies + kit.left_out), ("Assumed", kit.assumed)):
        if words:
            yield from wrapped(title, "; ".join(words), width)


def _kit_table(cells: Sequence[KitCell], lenses: Sequence[str], width: int) -> Iterator[Text]:
    shortest = {c.lens: f"{c.focal_length_mm:g} mm" for c in cells}
    yield row("", [_cut(lens) for lens in lenses], KIT_ROW, KIT_CELL)
    yield row("", [Text(shortest[lens]) for lens in lenses], KIT_ROW, KIT_CELL)
    at = {(c.rig, c.lens): c for c in cells}
    rigs = sorted(dict.fromkeys(c.rig for c in cells), key=lambda rig: rig.order)
    for _, group in groupby(rigs, lambda rig: rig.ring):
        of_ring = list(group)
        yield from _title(of_ring[0].ring_words, width)
        for rig in of_ring:
            yield from _kit_row(rig, [at.get((rig, lens)) for lens in lenses])


def _title(words: str, width: int) -> Iterator[Text]:
    yield from (Text(line, "bold") for line in textwrap.wrap(words, width, subsequent_indent="  "))


def _kit_row(rig: KitRig, cells: Sequence[KitCell | None]) -> Iterator[Text]:
    *before, last = textwrap.wrap(rig.words, KIT_ROW - 3)
    yield from (Text(f"  {words}") for words in before)
    yield row(f"  {last}", [_kit_cell(one) for one in cells], KIT_ROW, KIT_CELL)


def _kit_cell(one: KitCell | None) -> Text:
    if one is None:
        return Text("-")
    found = one.prediction
    return Text(verdict_words(found), STYLES[found.verdict]).append(f" {focal(one.clear_mm, one.floor_mm)}")


def _cut(name: str) -> Text:
    return Text(name if len(name) <= KIT_CELL else f"{name[: KIT_CELL - 2]}..", "bold")

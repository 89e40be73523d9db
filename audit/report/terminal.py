"""The answer to a corner question as plain lines of at most 80 characters, a few words in colour."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

import numpy as np
from rich.text import Text

from audit.corners.answer import Answer, Case, Help, Widest
from audit.corners.prediction import BLACK_STOPS, CUT_STOPS, Prediction
from audit.optics.arrays import Floats
from audit.report.words import LEAST_SHOWN_STOPS, corner_loss

WIDTH = 80
LABEL, CELL, HELP = 9, 17, 35
ACROSS = (WIDTH + 1 - LABEL) // (CELL + 1)
"""f-numbers side by side."""

STYLES = {"cut": "bold red", "at risk": "yellow", "clear": "green"}

MARKS = {
    "#": "no light, surely",
    "x": "half a stop lost, surely",
    "+": "half a stop lost, predicted",
    ".": "half a stop lost, perhaps",
}
"""From the darkest; each stands for what no mark above it says."""

PICTURE_COLUMNS, PICTURE_ROWS = 45, 20
"""At most; a character is twice as high as wide."""


def lines(answer: Answer) -> Iterator[Text]:
    """All that a terminal shows of an answer."""
    yield from _head(answer)
    yield Text()
    yield from _table(answer)
    yield Text()
    yield from _shown(answer)
    if answer.helps:
        yield Text()
        yield from _helps(answer)
    if answer.assumed:
        yield Text()
        yield from _wrapped("Assumed", "; ".join(answer.assumed))


def picture(prediction: Prediction, width_mm: float, height_mm: float) -> list[str]:
    """The frame in plain characters, as stored; equal sizes to the eye on both sides."""
    columns = min(PICTURE_COLUMNS, round(2 * PICTURE_ROWS * width_mm / height_mm))
    rows = max(round(columns * height_mm / width_mm / 2), 3)
    best, middle, worst = (
        _sampled(m, rows, columns) for m in (prediction.best, prediction.middle, prediction.worst)
    )
    marks = np.full((rows, columns), " ")
    for losses, level, mark in (
        (worst, CUT_STOPS, "."),
        (middle, CUT_STOPS, "+"),
        (best, CUT_STOPS, "x"),
        (best, BLACK_STOPS, "#"),
    ):
        marks[losses >= level] = mark
    edge = f"+{'-' * columns}+"
    return [edge, *(f"|{''.join(row)}|" for row in marks), edge]


def loss(stops: float) -> str:
    """A loss in few characters."""
    if stops >= BLACK_STOPS:
        return "black"
    return "0" if stops < LEAST_SHOWN_STOPS else f"{stops:.1f}"


def band(best: float, worst: float) -> str:
    """A band of losses in few characters: 0.1-1.4, or one word where both ends read the same."""
    low, high = loss(best), loss(worst)
    return low if low == high else f"{low}-{high}"


def _sampled(losses: Floats, rows: int, columns: int) -> Floats:
    """The map at the first, last and evenly spaced cells between: corners are shown."""
    i = np.rint(np.linspace(0, losses.shape[0] - 1, rows)).astype(int)
    j = np.rint(np.linspace(0, losses.shape[1] - 1, columns)).astype(int)
    return losses[np.ix_(i, j)]


def _wrapped(label: str, words: str) -> Iterator[Text]:
    indent = " " * (LABEL + 1)
    first = f"{label:<{LABEL}} "
    for line in textwrap.wrap(words, WIDTH, initial_indent=first, subsequent_indent=indent):
        text = Text(line)
        if line.startswith(first):
            text.stylize("bold", 0, len(label))
        yield text


def _head(answer: Answer) -> Iterator[Text]:
    width, height = answer.sensor_mm
    yield from _wrapped("Lens", f"{answer.lens_words}; sensor {width:g} x {height:g} mm")
    yield from _wrapped("Pupil", answer.depth_words)
    yield from _wrapped("Rig", answer.rig_words)


def _table(answer: Answer) -> Iterator[Text]:
    yield Text("Most lost on the picture's edge in stops, best to worst end of the band", "bold")
    cells = {(c.focal_length_mm, c.f_number): c.prediction for c in answer.cases}
    f_numbers = list(answer.widest)
    for start in range(0, len(f_numbers), ACROSS):
        some = f_numbers[start : start + ACROSS]
        yield _row("", [Text(f"f/{n:g}") for n in some])
        for focal in dict.fromkeys(c.focal_length_mm for c in answer.cases):
            yield _row(f"{focal:g} mm", [_cell(cells[focal, n]) for n in some])
        yield _row("clear at", [Text(_clear_at(answer.widest[n])) for n in some])
    yield Text("clear at: widest clear focal length in mm (best to worst end of the band)", "dim")


def _row(label: str, cells: Sequence[Text]) -> Text:
    line = Text(f"{label:<{LABEL}}")
    for cell in cells:
        cell.pad_right(max(CELL + 1 - len(cell), 0))
        line.append_text(cell)
    line.rstrip()
    return line


def _cell(found: Prediction) -> Text:
    return _verdict(band(found.loss_min_stops, found.loss_max_stops), found.verdict)


def _verdict(before: str, verdict: str) -> Text:
    return Text(f"{before} ").append(verdict, STYLES[verdict])


def _clear_at(widest: Widest) -> str:
    floor_mm = widest.floor_mm
    middle, best, worst = (_focal(w, floor_mm) for w in (widest.middle_mm, widest.best_mm, widest.worst_mm))
    return middle if best == worst else f"{middle} ({best}-{worst})"


def _focal(focal_mm: float, floor_mm: float = 0.0) -> str:
    if focal_mm <= floor_mm:
        return "any"
    return "none" if focal_mm == float("inf") else f"{focal_mm:.1f}"


def _shown(answer: Answer) -> Iterator[Text]:
    shown = answer.shown
    found = shown.prediction
    drawn = picture(found, *answer.sensor_mm)
    beside = _beside(answer, "".join(drawn[1:-1]), WIDTH - len(drawn[0]) - 2)
    for number in range(max(len(drawn), len(beside))):
        left = drawn[number] if number < len(drawn) else " " * len(drawn[0])
        line = Text(left) + Text("  ")
        line.append_text(beside[number] if number < len(beside) else Text())
        line.rstrip()
        yield line


def _beside(answer: Answer, marks: str, width: int) -> list[Text]:
    """The words beside the picture, no wider than `width`."""
    shown, found = answer.shown, answer.shown.prediction
    parts = [Text(f"{case_words(shown)}: ", "bold").append(found.verdict, STYLES[found.verdict])]
    told = [corner_loss(found.loss_min_stops, found.loss_max_stops)]
    told += [f"limited by the {found.limits}"] if found.limits and found.verdict != "clear" else []
    for words in told:
        parts += [Text(line) for line in textwrap.wrap(words, width)]
    parts += [Text(), *(Text(line) for line in textwrap.wrap(onset_words(found), width))]
    legend = [f"{mark}  {words}" for mark, words in MARKS.items() if mark in marks]
    return [*parts, Text(), *(Text(line[:width]) for line in legend)] if legend else parts


def case_words(case: Case) -> str:
    """The focal length and f-number that are shown."""
    return f"{case.focal_length_mm:g} mm, f/{case.f_number:g}"


def onset_words(found: Prediction) -> str:
    """Where half a stop is lost, beside where the corner is."""
    corner = f"corner at {found.angle_deg:.1f}°"
    if found.onset_deg >= 90:
        return f"nothing cuts; {corner}"
    early, late = max(found.onset_deg - found.early_deg, 0.0), found.onset_deg + found.late_deg
    return f"half a stop lost from {found.onset_deg:.1f}° ({early:.1f} to {late:.1f}); {corner}"


def _helps(answer: Answer) -> Iterator[Text]:
    found = answer.shown.prediction
    yield Text(f"What would help at {case_words(answer.shown)}, by gain", "bold")
    yield _help_row("", Text("edge"), "clear at", "clean crop")
    as_it_is = _verdict(band(found.loss_min_stops, found.loss_max_stops), found.verdict)
    clear_at = _focal(answer.widest[answer.shown.f_number].middle_mm)
    yield _help_row("as it is", as_it_is, clear_at, _share(answer.clean_share))
    for help_ in (h for h in answer.helps if h.helps):
        best, _, worst = help_.losses
        cell = _verdict(band(best, worst), help_.verdict)
        yield _help_row(help_.words, cell, _gained(help_), _share(help_.clean_share))
    idle = [h.words for h in answer.helps if not h.helps]
    if idle:
        words = f"no gain in these: {'; '.join(idle)}"
        yield from map(Text, textwrap.wrap(words, WIDTH, initial_indent="  ", subsequent_indent="    "))


def _help_row(words: str, cell: Text, clear_at: str, share: str) -> Text:
    line = Text(f"  {words:<{HELP}}")
    cell.pad_right(CELL + 1 - len(cell))
    line.append_text(cell).append(f"{clear_at:<14}{share}")
    line.rstrip()
    return line


def _gained(help_: Help) -> str:
    if help_.clear_mm is None or help_.wider_mm is None:
        return ""
    gain = f" (-{help_.wider_mm:.1f})" if 0.05 <= help_.wider_mm < 1000 else ""
    return f"{_focal(help_.clear_mm)}{gain}"


def _share(share: float) -> str:
    return f"{100 * share:.0f} %" if share else "none"

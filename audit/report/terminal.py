"""The answer to a corner question as plain lines of 80 to 120 characters, a few words in colour."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from rich.console import Console
from rich.text import Text

from audit.corners.answer import Answer, Case, Help, Widest
from audit.corners.leaning import leaning
from audit.corners.prediction import BLACK_STOPS, CUT_STOPS, Prediction
from audit.optics.arrays import Floats
from audit.report.words import LEAST_SHOWN_STOPS, corner_loss, likely_loss

WIDTH, WIDEST = 80, 120
"""Characters on a line where the terminal does not say, and at most."""
LABEL, CELL, NARROW, HELP = 9, 17, 11, 35
"""A cell holds a band and a verdict side by side, a narrow one below each other."""

LOST = "Most lost on the picture's edge in stops, best to worst end of the band"
CLEAR_AT = "clear at: widest clear focal length in mm (best to worst end of the band)"
"""Above a table of losses, and below it."""

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


def room() -> int:
    """Characters that a line may take on this terminal; WIDTH in a pipe. COLUMNS is respected."""
    return min(max(Console().width, WIDTH), WIDEST)


def lines(
    answer: Answer, width: int = WIDTH, bodies: Sequence[str] = (), left_out: Sequence[str] = ()
) -> Iterator[Text]:
    """All that a terminal shows of an answer; `bodies` have that sensor, `left_out` none that is known."""
    yield from head(answer, width, bodies, left_out)
    yield from wrapped("Rig", answer.rig_words, width)
    yield Text()
    yield from _table(answer, width)
    yield Text()
    yield from _shown(answer, width)
    if answer.helps:
        yield Text()
        yield from _helps(answer, width)
    if answer.assumed:
        yield Text()
        yield from wrapped("Assumed", "; ".join(answer.assumed), width)


def verdict_words(found: Prediction) -> str:
    """A verdict in few characters; in place of "at risk" what it probably is, and how likely: clear 80%."""
    if found.verdict != "at risk":
        return found.verdict
    leans = leaning(found)
    return f"{leans.towards} {100 * leans.share:.0f}%"


def loss_words(found: Prediction) -> str:
    """What is lost in the corner: the band, or as likely as not where nothing is decided."""
    if found.verdict != "at risk":
        return corner_loss(found.loss_min_stops, found.loss_max_stops)
    leans = leaning(found)
    return f"{leans.words}; {likely_loss(leans.low_stops, leans.high_stops, found.loss_max_stops)}"


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


def wrapped(label: str, words: str, width: int) -> Iterator[Text]:
    """Words behind a label, on as many lines as they take."""
    indent = " " * (LABEL + 1)
    first = f"{label:<{LABEL}} "
    for line in textwrap.wrap(
        words, width, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False
    ):
        text = Text(line)
        if line.startswith(first):
            text.stylize("bold", 0, len(label))
        yield text


def head(answer: Answer, width: int, bodies: Sequence[str], left_out: Sequence[str]) -> Iterator[Text]:
    """What holds for every rig on this lens and sensor."""
    across, up = answer.sensor_mm
    yield from wrapped("Lens", f"{answer.lens_words}; sensor {across:g} x {up:g} mm", width)
    if bodies:
        yield from wrapped("Body", body_words(bodies, left_out), width)
    yield from wrapped("Pupil", answer.depth_words, width)


def body_words(bodies: Sequence[str], left_out: Sequence[str]) -> str:
    """The bodies with a sensor, and those whose sensor is not known."""
    without = f"; without {', '.join(left_out)}, whose sensor_mm the kit does not give" if left_out else ""
    return ", ".join(bodies) + without


Stacked = tuple[Text, Text]
"""Two texts of a cell, side by side or one above the other."""


def _table(answer: Answer, width: int) -> Iterator[Text]:
    yield Text(LOST, "bold")
    cells = {(c.focal_length_mm, c.f_number): c.prediction for c in answer.cases}
    f_numbers = list(answer.widest)
    wide, narrow = ((width + 1 - LABEL) // (cell + 1) for cell in (CELL, NARROW))
    stacked = -(-len(f_numbers) // narrow) < -(-len(f_numbers) // wide)
    across = narrow if stacked else wide
    for start in range(0, len(f_numbers), across):
        some = f_numbers[start : start + across]
        yield row("", [Text(f"f/{n:g}") for n in some], LABEL, NARROW if stacked else CELL)
        for focal in dict.fromkeys(c.focal_length_mm for c in answer.cases):
            yield from _rows(f"{focal:g} mm", [cell(cells[focal, n]) for n in some], stacked)
        yield from _rows("clear at", [clear_at(answer.widest[n], stacked) for n in some], stacked)
    yield from undecided(cells.values(), width)
    yield Text(CLEAR_AT, "dim")


def undecided(found: Iterable[Prediction], width: int) -> Iterator[Text]:
    """How to read a cell that decides nothing, where there is one."""
    if any(one.verdict == "at risk" for one in found):
        words = "clear 80%: at risk, and clear in 8 of 10 cases; its stops are as likely as not"
        yield from (Text(line, "dim") for line in textwrap.wrap(words, width))


def _rows(label: str, cells: Sequence[Stacked], stacked: bool) -> Iterator[Text]:
    if stacked:
        yield row(label, [upper for upper, _ in cells], LABEL, NARROW)
        yield row("", [lower for _, lower in cells], LABEL, NARROW)
    else:
        yield row(label, [beside(one) for one in cells], LABEL, CELL)


def beside(one: Stacked) -> Text:
    """Both texts of a cell on one line."""
    return Text(" ").join(text for text in one if text)


def row(label: str, cells: Sequence[Text], label_width: int, cell_width: int) -> Text:
    """A line of a table; no cell touches the next."""
    line = Text(f"{label:<{label_width}}")
    for one in cells:
        line.append_text(one).append(" " * max(cell_width + 1 - len(one), 1))
    line.rstrip()
    return line


def cell(found: Prediction) -> Stacked:
    """The band of what is lost, or what is as likely as not where nothing is decided, and the verdict."""
    ends = found.loss_min_stops, found.loss_max_stops
    if found.verdict == "at risk":
        leans = leaning(found)
        ends = leans.low_stops, leans.high_stops
    return Text(band(*ends)), Text(verdict_words(found), STYLES[found.verdict])


def clear_at(widest: Widest, stacked: bool = False) -> Stacked:
    """The widest clear focal length and its band, which stands alone where the two are stacked."""
    floor_mm = widest.floor_mm
    middle, best, worst = (focal(w, floor_mm) for w in (widest.middle_mm, widest.best_mm, widest.worst_mm))
    ends = f"{best}-{worst}" if stacked else f"({best}-{worst})"
    return Text(middle), Text("" if best == worst else ends)


def focal(focal_mm: float, floor_mm: float = 0.0) -> str:
    """A widest clear focal length in few characters."""
    if focal_mm <= floor_mm:
        return "any"
    return "none" if focal_mm == float("inf") else f"{focal_mm:.1f}"


def _shown(answer: Answer, width: int) -> Iterator[Text]:
    shown = answer.shown
    found = shown.prediction
    drawn = picture(found, *answer.sensor_mm)
    words = _words(answer, "".join(drawn[1:-1]), width - len(drawn[0]) - 2)
    for number in range(max(len(drawn), len(words))):
        left = drawn[number] if number < len(drawn) else " " * len(drawn[0])
        line = Text(left) + Text("  ")
        line.append_text(words[number] if number < len(words) else Text())
        line.rstrip()
        yield line


def _words(answer: Answer, marks: str, width: int) -> list[Text]:
    """The words beside the picture, no wider than `width`."""
    shown, found = answer.shown, answer.shown.prediction
    parts = [Text(f"{case_words(shown)}: ", "bold").append(found.verdict, STYLES[found.verdict])]
    told = [loss_words(found)]
    told += [f"the {found.limits} is in the way"] if found.limits and found.verdict != "clear" else []
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


def _helps(answer: Answer, width: int) -> Iterator[Text]:
    found = answer.shown.prediction
    yield Text(f"What would help at {case_words(answer.shown)}, by gain", "bold")
    yield _help_row("", Text("edge"), "clear at", "clean crop")
    as_it_is = beside(cell(found))
    clear_mm = focal(answer.widest[answer.shown.f_number].middle_mm)
    yield _help_row("as it is", as_it_is, clear_mm, _share(answer.clean_share))
    for help_ in (h for h in answer.helps if h.helps):
        best, _, worst = help_.losses
        then = Text(f"{band(best, worst)} ").append(help_.verdict, STYLES[help_.verdict])
        yield _help_row(help_.words, then, _gained(help_), _share(help_.clean_share))
    idle = [h.words for h in answer.helps if not h.helps]
    if idle:
        words = f"no gain in these: {'; '.join(idle)}"
        yield from map(Text, textwrap.wrap(words, width, initial_indent="  ", subsequent_indent="    "))


def _help_row(words: str, edge: Text, clear_mm: str, share: str) -> Text:
    line = Text(f"  {words:<{HELP}}")
    line.append_text(edge).append(" " * max(CELL + 1 - len(edge), 1)).append(f"{clear_mm:<14}{share}")
    line.rstrip()
    return line


def _gained(help_: Help) -> str:
    if help_.clear_mm is None or help_.wider_mm is None:
        return ""
    gain = f" (-{help_.wider_mm:.1f})" if 0.05 <= help_.wider_mm < 1000 else ""
    return f"{focal(help_.clear_mm)}{gain}"


def _share(share: float) -> str:
    return f"{100 * share:.0f} %" if share else "none"

"""A span laid over the frames: what it covers, what is wrong with it, and the rig it says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from audit.declare.carried import carried, is_short
from audit.declare.frame_lines import TABLE
from audit.declare.index import NO_TIME, FrameIndex, Rows
from audit.declare.rig import Rig
from audit.declare.rig_rules import rig_faults
from audit.declare.rigs import build_rig
from audit.declare.shifted import would_fit
from audit.declare.span_rules import span_faults
from audit.declare.spans import Cover, cover, set_back
from audit.declare.worn import Declaration, Worn
from audit.errors import Mistake
from audit.kit.kit import Kit
from audit.message.shown import brief
from audit.message.text import marked, say
from audit.toml.fault import Fault

HAS_A_MISTAKE = marked("{place_path} has a mistake: {why}")


@dataclass
class Judged:
    """One span with its cover. `rig` is None for a span with an error: its frames stay undeclared, `why`."""

    worn: Worn
    declaration: Declaration
    number: int
    rows: Rows
    doubtful: Rows
    why: str
    rig: Rig | None
    mistakes: list[Mistake] = field(default_factory=list)

    @property
    def place(self) -> str:
        """File and line of the span."""
        return f"{self.declaration.path}:{self.declaration.line(self.number)}"

    def say(self, fault: Fault) -> None:
        """Remember a fault as a mistake with file and line."""
        line = self.declaration.line(self.number, fault.place)
        if fault.place not in self._lines():
            line = self.declaration.line(self.number, fault.key)
        key = f"worn.{fault.key}" if fault.key else "worn"
        key = TABLE if self.number in self.declaration.short else key
        self.mistakes.append(Mistake(self.declaration.path, line, key, brief(fault.text), fault.level))

    def _lines(self) -> dict[str, int]:
        lines = self.declaration.lines
        return dict(lines[self.number]) if self.number < len(lines) else {}


def judge(
    declaration: Declaration, kit: Kit, index: FrameIndex, lenses: Sequence[tuple[str | None, bool]]
) -> list[Judged]:
    """Every span of a declaration, resolved; `lenses`: the lens of each row, and whether its file says so."""
    found: list[Judged] = []
    for number, worn in enumerate(declaration.worn):
        found += _judge(worn, number, declaration, kit, index, lenses)
    return found


def _judge(
    worn: Worn,
    number: int,
    declaration: Declaration,
    kit: Kit,
    index: FrameIndex,
    lenses: Sequence[tuple[str | None, bool]],
) -> Iterator[Judged]:
    """A span; one that leaves ring and holder to the kit is one for each lens of its frames."""
    covered = _cover(worn, declaration.folder, index)
    if number in declaration.unread:
        yield _one(worn, number, declaration, kit, covered, [declaration.unread[number]])
        return
    found = [*span_faults(worn, sole=len(declaration.worn) == 1), *covered.faults]
    if not is_short(worn):
        judged = _one(worn, number, declaration, kit, covered, [*found, *rig_faults(worn, kit)])
        _look_at_frames(judged, kit, index)
        yield judged
        return
    whole = True
    for lens_id, rows in _by_lens(worn, covered, lenses):
        on, fault = carried(worn, lens_id, kit)
        wrong = [*found, *([fault] if fault is not None else rig_faults(on, kit))]
        mine = Cover(rows, covered.doubtful if whole else covered.doubtful[:0], covered.why, covered.faults)
        judged = _one(on, number, declaration, kit, mine, wrong)
        if whole:
            _look_at_frames(judged, kit, index, covered)
        whole = False
        yield judged


def _by_lens(
    worn: Worn, covered: Cover, lenses: Sequence[tuple[str | None, bool]]
) -> Iterator[tuple[str | None, Rows]]:
    """The rows of a span by their lens; the file's own name of the lens is believed before the span."""
    by_lens: dict[str | None, list[int]] = {}
    for row in covered.rows.tolist():
        lens_id, sure = lenses[row]
        by_lens.setdefault(lens_id if sure or worn.lens is None else worn.lens, []).append(row)
    if not by_lens:
        yield worn.lens, covered.rows
    for lens_id, rows in by_lens.items():
        yield lens_id, np.array(rows, dtype=np.int64)


def _one(
    worn: Worn, number: int, declaration: Declaration, kit: Kit, covered: Cover, found: list[Fault]
) -> Judged:
    errors = [fault for fault in found if fault.level == "error"]
    rows, doubtful, why = covered.rows, covered.doubtful, covered.why
    if errors:
        rows, doubtful = rows[:0], np.union1d(rows, doubtful)
        why = errors[0].text if not why or errors[0] not in covered.faults else why
    judged = Judged(worn, declaration, number, rows, doubtful, why, None if errors else build_rig(worn, kit))
    for fault in found:
        judged.say(fault)
    if why and (errors or len(doubtful)):
        words = HAS_A_MISTAKE if errors else marked("{place_path} may cover it: {why}")
        judged.why = say(words, place_path=judged.place, why=why)
    return judged


def _look_at_frames(judged: Judged, kit: Kit, index: FrameIndex, covered: Cover | None = None) -> None:
    """Says what only shows against the frames; `covered` is the whole span where it was parted by lens."""
    if judged.rig is None:
        return
    whole = judged if covered is None else replace(judged, rows=covered.rows, mistakes=judged.mistakes)
    for fault in _on_frames(whole, kit, index):
        judged.say(fault)


def _cover(worn: Worn, folder: str, index: FrameIndex) -> Cover:
    """The cover of a span; one whose times are reversed may mean the frames between them."""
    if worn.times is None:
        return cover(worn, folder, index)
    start, end = worn.times
    if (start.tzinfo is None) != (end.tzinfo is None):
        start, end = start.replace(tzinfo=None), end.replace(tzinfo=None)
    return cover(worn.model_copy(update={"times": (min(start, end), max(start, end))}), folder, index)


def _on_frames(judged: Judged, kit: Kit, index: FrameIndex) -> Iterator[Fault]:
    """What only shows against the frames: a span that matches none, or two passes of one hour."""
    worn = judged.worn
    if not len(judged.rows) and not len(judged.doubtful):
        text = say("covers no frame; {reach}", reach=_reach(judged, index))
        if fit := would_fit(worn, judged.declaration.folder, kit, index):
            text = say("covers no frame; {fit}", fit=fit)
        yield Fault("times" if worn.times else "files", text, "warning")
    if worn.times is not None and worn.times[0].tzinfo is None and (pair := set_back(judged.rows, index)):
        words = marked(
            "between {first_frame} and {last_frame} the clock was set back, so the span covers both passes; "
            "times with an offset, or file names, tell them apart"
        )
        first, last = (index.short(row) for row in pair)
        yield Fault("times", say(words, first_frame=first, last_frame=last), "warning")


def _reach(judged: Judged, index: FrameIndex) -> str:
    """From when to when the frames of the folder run, to compare with the span."""
    inside = index.below(judged.declaration.folder)
    if judged.worn.body is not None:
        inside = inside[[index.bodies[row] is not None for row in inside.tolist()]]
    timed = index.true_us[inside]
    timed = timed[timed != NO_TIME]
    folder = judged.declaration.folder
    whole = folder == "."
    if not len(timed):
        if whole:
            return marked("no frame of the dump has a time")
        return say("no frame of {folder} has a time", folder=folder)
    first, last = (
        str(np.datetime64(int(t), "us").astype("datetime64[s]")) for t in (timed.min(), timed.max())
    )
    words = marked("the frames of {folder} run from {first_written} to {last_written}")
    if whole:
        words = marked("the frames of the dump run from {first_written} to {last_written}")
    return say(words, folder=folder, first_written=first, last_written=last)

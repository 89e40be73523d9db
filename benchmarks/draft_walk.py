"""From no notes to a declaration that is right, in edits and keystrokes: in an editor, and with answers.

    python benchmarks/draft_walk.py [--kit six-ten full] [--half tune|unseen] [--frames N]

A trip of some days of the second world (benchmarks/world), shot with one kit; the photographer remembers what
was on once asked, and reads each drafted span against it. Right: every frame is declared with exactly what
was on, or with `neutral = "none"` where no neutral was. Three ways there:

- by hand: each span typed into filters.toml;
- editor: `cornerstop draft --write`, the first question whose span is not right answered in the editor,
  drafted again, until no such question is left; whatever else is wrong in the editor;
  `--accept likely --bare`;
- answers: the same with `--say`: the printed command pasted and its last word changed, or typed where one
  range was several rigs; `--accept likely`.

Keystrokes: each character typed counts one; so do Enter, a paste, a recalled command, a word or line deleted,
and a mark taken off a line; to find a span in the editor counts six (search, digits, Enter), to save two.
A question settled the frames that were asked for before and are not afterwards.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import groupby
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from audit.declare import add_gear, join, load
from audit.declare.answer import Said, frames_word
from audit.declare.draft import Span
from audit.declare.draft_write import write
from audit.declare.index import frame_index
from audit.declare.questions import Question
from audit.exposure.estimate import add_estimate
from audit.exposure.scenes import add_scenes
from audit.exposure.setups import add_setups
from audit.exposure.sun import add_sky
from audit.jobs.accept import accepted_from
from audit.jobs.draft import Drafted, drafted_from, joined_with, written_blocks
from audit.scan.frames import frame_table
from benchmarks.world.figures import HALVES, nth

DUMP = "~/trips/skarven"
DRAFT, AGAIN, FIND, SAVE = f"cornerstop draft {DUMP} --write", 2, 6, 2


@dataclass
class Trip:
    """Rows as a scan gives them, the kit, the brightness of the pictures, and what was on, by row."""

    rows: list[dict[str, object]]
    kit_toml: str
    picture_stops: np.ndarray
    worn: list[tuple[str, ...]]


def long_trip(half: str, kit: str, frames: int) -> Trip:
    """Days of one body with one kit, one after the other, until there are frames enough."""
    rows: list[dict[str, object]] = []
    stops: list[float] = []
    worn: list[tuple[str, ...]] = []
    first = None
    for seed in range(HALVES[half], HALVES[half] + 200):
        day = nth(seed)
        if day.bag.kit != kit or len(day.bag.bodies) > 1:
            continue
        first = first or day
        for row, bright, ids in zip(day.scan_rows, day.picture_stops, day.truth["ids"], strict=True):
            name = str(row["frame"]).rsplit("/", 1)[-1]
            moved = {"frame": f"day{seed}/{name}", "folder": f"day{seed}", "model": first.bag.bodies[0].model}
            files = [f"day{seed}/{str(file).rsplit('/', 1)[-1]}" for file in row["files"]]  # type: ignore[attr-defined]
            rows.append({**row, **moved, "files": files})
            stops.append(float(bright))
            worn.append(tuple(ids))
        if len(rows) >= frames:
            break
    assert first is not None
    return Trip(rows[:frames], first.kit_toml, np.array(stops[:frames]), worn[:frames])


@dataclass
class Walk:
    """One way through a trip, with what it has cost so far; `settled` has of how many frames each answer
    was said to settle the question, and of how many it did."""

    trip: Trip
    dump: Path
    edits: int = 0
    keys: int = 0
    runs: int = 0
    settled: list[tuple[float, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """The kit beside the pictures, and the frames as they are read."""
        (self.dump / "kit.toml").write_text(self.trip.kit_toml, encoding="utf-8")
        self.kit = load(self.dump).kit
        self.frames = add_gear(frame_table(self.trip.rows), self.kit)
        order = [str(row["frame"]) for row in self.trip.rows]
        at = [order.index(str(name)) for name in self.frames["frame"]]
        self.worn = [self.trip.worn[n] for n in at]
        self.bright = self.trip.picture_stops[at]
        neutrals = {f.id for f in (*self.kit.filters, *self.kit.screw_ins) if f.kind == "neutral"}
        self.neutral = [tuple(i for i in ids if i in neutrals) for ids in self.worn]

    def draft(self, said: tuple[Said, ...] = ()) -> Drafted:
        """`cornerstop draft --write` with these answers."""
        self.runs += 1
        loaded = load(self.dump, drafts=False)
        joined, given = joined_with(self.frames, loaded, said)
        frames = add_sky(add_setups(add_scenes(joined.frames, self.kit)), self.kit)
        frames = add_estimate(frames, self.kit, rendered_stops=self.bright)
        self.index = frame_index(frames)
        drafted = drafted_from(frames, loaded, (), self.dump, None, given)
        _ = [write(change) for change in drafted.changes]
        return drafted

    def accept(self, *, bare: bool) -> None:
        """`cornerstop draft --accept likely --write`."""
        self.runs += 1
        loaded = load(self.dump, drafts=False)
        frames = join(self.frames, self.kit, loaded.declarations).frames
        blocks = [(f, b) for f, b in written_blocks(loaded.declarations, self.dump, None) if b.own]
        for change in accepted_from(frames, blocks, "likely", self.dump, None, bare=bare).changes:
            write(change)

    def right(self) -> tuple[int, int, int]:
        """Frames declared rightly, wrongly and not at all, by the files as they stand."""
        frames = join(self.frames, self.kit, load(self.dump).declarations).frames
        mine = frames["declaration_source"] == "photographer"
        good = wrong = 0
        for said, own, ids, got, neutral in zip(
            frames["declaration"], mine, self.worn, frames["filters"], self.neutral, strict=True
        ):
            if own and said != "undeclared":
                fits = not neutral if said == "no-neutral" else sorted(got) == sorted(ids)
                good, wrong = good + fits, wrong + (not fits)
        return good, wrong, len(frames) - good - wrong

    def fits(self, span: Span, *, bare: bool) -> bool:
        """Whether a drafted span may be accepted as it stands."""
        if span.sure == "unsure" or "unfit" in span.text.split("]")[2]:
            return False
        ids = tuple(span.sets[0].split("+")) if span.sets[0] else ()
        if not ids and not bare:
            return all(not self.neutral[row] for row in span.rows)
        return all(sorted(self.worn[row]) == sorted(ids) for row in span.rows)

    def truth(self, rows: tuple[int, ...], *, bare: bool) -> list[tuple[tuple[int, ...], str]]:
        """Runs of these frames with what was on, as `--say` takes it."""

        def what(row: int) -> str:
            return "+".join(self.worn[row]) if self.worn[row] and (bare or self.neutral[row]) else "none"

        return [(tuple(run), word) for word, run in groupby(rows, key=what)]


def answered(walk: Walk, rows: tuple[int, ...], *, bare: bool) -> tuple[Said, ...]:
    """What was on in these frames."""
    runs = walk.truth(rows, bare=bare)
    return tuple(
        Said(frames_word(run, walk.index), "bare" if bare and what == "none" else what) for run, what in runs
    )


def typed(said: tuple[Said, ...]) -> int:
    """A command with these answers, typed in whole."""
    return len(DRAFT) + sum(len(f" --say {one.frames} {one.what}") for one in said) + 1


def by_paste(said: tuple[Said, ...], guess: str) -> int:
    """The printed command: pasted, its last word changed where another was on."""
    if len(said) > 1:
        return typed(said)
    return 2 if said[0].what == guess else 3 + len(said[0].what)


def by_editor(said: tuple[Said, ...], span: Span) -> int:
    """The same in the file, which is then saved."""
    lines = span.text.split("\n")
    keys = FIND + SAVE
    if len(said) > 1:
        return keys + 1 + sum(len(_block(one)) for one in said)
    if lines[0].startswith("#"):
        keys += sum(not line.startswith("# #") for line in lines)  # marks
    else:
        keys += 1  # source = "estimated"
    plain = [line.removeprefix("# ") for line in lines]
    new = [line for line in _block(said[0]).split("\n") if line not in plain]
    return keys + sum(1 + len(line.split(" = ")[-1]) for line in new if "files" not in line)


def _block(one: Said) -> str:
    """A span as it would be typed."""
    ends = one.frames.split("..")
    names = ", ".join(f'"{name.rsplit("/", 1)[-1]}"' for name in ends)
    if one.what in ("none", "bare"):
        rig = "bare = true" if one.what == "bare" else 'neutral = "none"'
    else:
        ids = one.what.split("+")
        slots = ", ".join(f'"{i}"' for i in ids if i != "pol")
        rig = 'ring = "r77"\nholder = "main"' + (f"\nslots = [{slots}]" if slots else "")
        rig += '\nfront = "pol"' if "pol" in ids else ""
    return f"[[worn]]\nfiles = [{names}]\n{rig}\n\n"


def walked(trip: Trip, dump: Path, *, editor: bool) -> Walk:
    """The whole way, with the editor or with answers."""
    walk = Walk(trip, dump)
    walk.keys += len(DRAFT) + 1
    drafted = walk.draft()
    while (asked := _first_asked(walk, drafted, bare=editor)) is not None:
        question, span = asked
        said = answered(walk, span.rows, bare=editor)
        walk.edits += len(said)
        walk.keys += by_editor(said, span) + AGAIN if editor else by_paste(said, question.guess)
        open_before = _open(drafted)
        drafted = walk.draft(said)
        walk.settled.append((question.settles, len(open_before - _open(drafted))))
    while wrong := [span for span in _spans(drafted) if not walk.fits(span, bare=editor)]:
        each = [answered(walk, span.rows, bare=editor) for span in wrong]
        rest = tuple(one for said in each for one in said)
        walk.edits += len(rest)
        if editor:
            walk.keys += sum(by_editor(*both) for both in zip(each, wrong, strict=True)) + AGAIN
        else:
            walk.keys += typed(rest)
        drafted = walk.draft(rest)
    walk.keys += len(f"cornerstop draft {DUMP} --accept likely --write" + " --bare" * editor) + 1
    walk.accept(bare=editor)
    return walk


def _first_asked(walk: Walk, drafted: Drafted, *, bare: bool) -> tuple[Question, Span] | None:
    """The first question whose span can't be left as it stands."""
    by_rows = {span.rows: span for span in _spans(drafted)}
    asked = ((question, by_rows[question.rows]) for question in drafted.questions)
    return next(((q, span) for q, span in asked if not walk.fits(span, bare=bare)), None)


def by_hand(trip: Trip, dump: Path) -> tuple[int, int]:
    """Spans and characters of a declaration typed in whole."""
    walk = Walk(trip, dump)
    walk.index, spans, keys = frame_index(join(walk.frames, walk.kit, []).frames), 0, 0
    for body in sorted(walk.index.order):
        for _, rows in groupby(walk.index.order[body], key=lambda row: walk.index.folders[row]):
            said = answered(walk, tuple(rows), bare=True)
            spans += len(said)
            keys += sum(len(_block(one)) for one in said)
    return spans, keys


def _spans(drafted: Drafted) -> list[Span]:
    return [span for one in drafted.drafts for span in one.spans]


def _open(drafted: Drafted) -> set[str]:
    """Frames of which it is asked."""
    return {name for span in _spans(drafted) if span.asked for name in span.frames}


def shows(half: str, kit: str, frames: int) -> Iterator[str]:
    """The figures of one trip in lines."""
    trip = long_trip(half, kit, frames)
    yield f"{half}, kit {kit}: {len(trip.rows)} frames, {sum(map(bool, trip.worn))} behind a filter"
    with tempfile.TemporaryDirectory() as name:
        spans, keys = by_hand(trip, Path(name))
    yield f"  by hand:  {spans:3d} spans, {keys:5d} keystrokes"
    for way in ("editor", "answers"):
        with tempfile.TemporaryDirectory() as name:
            walk = walked(trip, Path(name), editor=way == "editor")
            good, wrong, left = walk.right()
        told = ", ".join(f"{said:g}:{got}" for said, got in walk.settled)
        yield (
            f"  {way + ':':9s} {walk.edits:3d} edits, {walk.keys:5d} keystrokes, {walk.runs} runs; declared "
            f"{good} right, {wrong} wrong, {left} not"
        )
        said, got = (sum(pair[i] for pair in walk.settled) for i in (0, 1))
        yield f"            questions said to settle {said:g} frames settled {got} ({told})"


def main() -> None:
    """Prints both ways for the kits asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--half", choices=list(HALVES), default="tune")
    parser.add_argument("--kit", nargs="*", default=["six-ten", "full"])
    parser.add_argument("--frames", type=int, default=200)
    asked = parser.parse_args()
    for kit in asked.kit:
        print("\n".join(shows(asked.half, kit, asked.frames)), flush=True)


if __name__ == "__main__":
    main()

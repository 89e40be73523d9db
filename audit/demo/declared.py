"""The photographer's `filters.toml` files, from the rigs the plan says were declared."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from itertools import groupby

from audit.demo.gear import LENSES, Rig
from audit.demo.schedule import Frame

TIMED_FOLDER = "card-2"
"""Here the photographer noted times instead of file names."""
_HEADS = {
    "card-1": "# Skarven, first day, body A. Written in the evening from memory and file names.",
    "card-2": "# Skarven, first day, body B. True time: the clock of B runs 95 s ahead, see the kit.",
}


def declaration_folder(folder: str) -> str:
    """The folder whose filters.toml speaks for a folder of pictures: the card, or the day folder itself."""
    return folder.split("/")[0]


def declarations(frames: Sequence[Frame], *, short: bool = True) -> dict[str, str]:
    """Text of each filters.toml by folder; not `short`, each span is a table that names ring and holder."""
    lines: dict[str, list[str]] = {}
    tables: dict[str, list[str]] = {}
    ordered = sorted(frames, key=lambda f: (declaration_folder(f.folder), f.body.label, f.number))
    for (home, _, says, lens), run in groupby(ordered, key=_alike):
        part = list(run)
        tables.setdefault(home, [])
        line = _line(part, says) if short and not lens and home != TIMED_FOLDER else ""
        if line:
            lines.setdefault(home, ["[frames]"]).append(line)
        elif says.state != "silent":
            tables[home].append(_span(part, says, lens, timed=home == TIMED_FOLDER, short=short))
    return {
        home: "\n\n".join(
            [_HEADS.get(home, f"# {home[11:]}"), *(["\n".join(lines[home])] if home in lines else ()), *spans]
        )
        + "\n"
        for home, spans in tables.items()
    }


def _alike(frame: Frame) -> tuple[str, str, Rig, str]:
    lens = "" if LENSES[frame.scene.lens].exif else frame.scene.lens
    return declaration_folder(frame.folder), frame.body.label, frame.take.says, lens


def _line(run: Sequence[Frame], says: Rig) -> str:
    """A line of [frames]; empty where more is to be said than one holds."""
    ends = run[0].name if len(run) == 1 else f"{run[0].name}..{run[-1].name}"
    if says.state in ("bare", "unknown"):
        return f'"{ends}" = "{says.state}"'
    plain = Rig(ring=says.ring, slots=says.slots, front=says.front)
    in_order = all(says.slots) and says.slots == tuple(sorted(says.slots, key=_BACK_FIRST.index))
    if says != plain or not says.glasses or not in_order:
        return ""
    return f'"{ends}" = "{"+".join(says.glasses)}{_ON[says.ring]}"'


_BACK_FIRST = ("n10", "n6", "dusk6", "n3", "n4", "old3", "g2soft", "g3hard")
"""Filters with a gasket first, grads last."""
_ON = {"r77": "", "r77low": " on low"}
"""The rig that the kit names for a ring; that of the lens is left out."""


def _span(run: Sequence[Frame], says: Rig, lens: str, *, timed: bool, short: bool) -> str:
    lines = ["[[worn]]", _times(run) if timed else _files(run)]
    if lens:
        lines += [f'lens = "{lens}"', f"f_number = {run[0].f_number:g}"]
    if says.state != "worn":
        lines.append(f"{says.state} = true")
    else:
        lines += _rig_lines(says, short=short)
    return "\n".join(lines)


def _files(run: Sequence[Frame]) -> str:
    ends = [run[0].name] if len(run) == 1 else [run[0].name, run[-1].name]
    return "files = [" + ", ".join(f'"{name}"' for name in ends) + "]"


def _times(run: Sequence[Frame]) -> str:
    """Half-open, in whole minutes of true time, as one would note them."""
    last = run[-1].true_time + timedelta(minutes=1)
    return f"times = [{run[0].true_time:%Y-%m-%dT%H:%M:00}, {last:%Y-%m-%dT%H:%M:00}]"


def _rig_lines(says: Rig, *, short: bool) -> list[str]:
    lines = []
    short = short and bool(says.slots or says.front) and says.behind in ((), ("s58-77",))
    if says.behind and not short:
        lines.append(f"behind = [{_quoted(says.behind)}]")
    if not short:
        lines += [f'ring = "{says.ring}"', 'holder = "main"']
    elif says.ring != "r77":
        lines.append(f'ring = "{says.ring}"')
    if says.slots:
        lines.append(f"slots = [{_quoted(says.slots)}]")
    if says.front:
        lines.append(f'front = "{says.front}"')
    if says.turn_deg:
        lines.append(f"turn_deg = {says.turn_deg:g}")
    if says.second_slots:
        lines += ['second_holder = "small"', f"second_slots = [{_quoted(says.second_slots)}]"]
        lines.append(f"second_turn_deg = {says.second_turn_deg:g}")
    if says.eyepiece_covered:
        lines.append("eyepiece_covered = true")
    return lines


def _quoted(names: Sequence[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)

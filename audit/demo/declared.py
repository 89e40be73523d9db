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


def declarations(frames: Sequence[Frame]) -> dict[str, str]:
    """Text of each filters.toml by folder."""
    texts: dict[str, list[str]] = {}
    ordered = sorted(frames, key=lambda f: (declaration_folder(f.folder), f.body.label, f.number))
    for (home, _, says, lens), run in groupby(ordered, key=_alike):
        part = list(run)
        lines = texts.setdefault(home, [_HEADS.get(home, f"# {home[11:]}")])
        if says.state != "silent":
            lines.append(_span(part, says, lens, timed=home == TIMED_FOLDER))
    return {home: "\n\n".join(lines) + "\n" for home, lines in texts.items()}


def _alike(frame: Frame) -> tuple[str, str, Rig, str]:
    lens = "" if LENSES[frame.scene.lens].exif else frame.scene.lens
    return declaration_folder(frame.folder), frame.body.label, frame.take.says, lens


def _span(run: Sequence[Frame], says: Rig, lens: str, *, timed: bool) -> str:
    lines = ["[[worn]]", _times(run) if timed else _files(run)]
    if lens:
        lines += [f'lens = "{lens}"', f"f_number = {run[0].f_number:g}"]
    if says.state != "worn":
        lines.append(f"{says.state} = true")
    else:
        lines += _rig_lines(says)
    return "\n".join(lines)


def _files(run: Sequence[Frame]) -> str:
    ends = [run[0].name] if len(run) == 1 else [run[0].name, run[-1].name]
    return "files = [" + ", ".join(f'"{name}"' for name in ends) + "]"


def _times(run: Sequence[Frame]) -> str:
    """Half-open, in whole minutes of true time, as one would note them."""
    last = run[-1].true_time + timedelta(minutes=1)
    return f"times = [{run[0].true_time:%Y-%m-%dT%H:%M:00}, {last:%Y-%m-%dT%H:%M:00}]"


def _rig_lines(says: Rig) -> list[str]:
    lines = []
    if says.behind:
        lines.append(f"behind = [{_quoted(says.behind)}]")
    lines += [f'ring = "{says.ring}"', 'holder = "main"']
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

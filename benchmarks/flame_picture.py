"""The picture of a flame: boxes as wide as their share of the time, each below the one that called it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html import escape

WIDTH_PX, ROW_PX, EDGE_PX, HEAD_PX, FOOT_PX = 1000, 22, 12, 62, 34
LETTER_PX, LEGEND_LETTER_PX, INSIDE_PX = 6.9, 6.7, 4
"""Width of a letter in a box and, rather too much, in the legend; what a box leaves free at either side."""
ALMOST = 0.97
"""A function that gives so much of its time to one other is told in that one's box."""
COLOURS = {
    "reading": "#8fbce6",
    "gear and what was worn": "#8ed0bd",
    "light, corners, estimate": "#f3c17c",
    "checks": "#e9a3a0",
    "report": "#c5b2e0",
    "loading, command line": "#c9ccd1",
}
ROOMS = {
    **dict.fromkeys(("scan",), "reading"),
    **dict.fromkeys(("declare", "kit", "toml"), "gear and what was worn"),
    **dict.fromkeys(("exposure", "corners", "pixels", "prints"), "light, corners, estimate"),
    **dict.fromkeys(("check", "checks"), "checks"),
    **dict.fromkeys(("report", "templates"), "report"),
    **dict.fromkeys(("loading of the program", "command line"), "loading, command line"),
}
"""What the rooms do; boxes of all others have the colour of their callers."""
STYLE = (
    "text{font:12px ui-sans-serif,system-ui,sans-serif;fill:#1c1f24}"
    ".h{font-size:17px;font-weight:600}.p{fill:var(--soft)}"
    ":root{--paper:#fff;--ink:#1c1f24;--soft:#57606a;--root:#e4e7eb}"
    ".paper{fill:var(--paper)}.h{fill:var(--ink)}.bar{fill:var(--soft)}.all{fill:var(--root)}"
    "rect{stroke:var(--paper);stroke-width:1}"
    "@media(prefers-color-scheme:dark)"
    "{:root{--paper:#15181d;--ink:#eceff3;--soft:#a3adb8;--root:#aeb6c0}}"
)


@dataclass
class Box:
    """A function with its seconds, and what it called; `through` are those told in the same box."""

    name: str
    seconds: float = 0.0
    inner: dict[str, Box] = field(default_factory=dict)
    through: tuple[str, ...] = ()

    def count(self) -> int:
        """Boxes in all."""
        return 1 + sum(one.count() for one in self.inner.values())

    def depth(self) -> int:
        """Rows in all."""
        return 1 + max((one.depth() for one in self.inner.values()), default=0)


def drawn(root: Box, least: float) -> Box:
    """The boxes that take at least that share of the whole, callers of hardly more than one other joined."""
    return _drawn(root, least * root.seconds)


def _drawn(box: Box, least_s: float) -> Box:
    through: tuple[str, ...] = ()
    inner = box.inner
    while len(wide := [one for one in inner.values() if one.seconds >= least_s]) == 1:
        (only,) = wide
        if only.seconds < ALMOST * box.seconds:
            break
        through, inner = (*through, only.name), only.inner
    return Box(box.name, box.seconds, {one.name: _drawn(one, least_s) for one in wide}, through)


def picture(root: Box, name: str, frames: int, longest_s: float) -> str:
    """The SVG; `longest_s` is what the longest of the pictures beside it took, for the bar to scale."""
    height = HEAD_PX + root.depth() * ROW_PX + FOOT_PX
    told = f"{name.capitalize()}: an audit of {frames:,} frames takes {root.seconds:.0f} s of processor time"
    inside = WIDTH_PX - 2 * EDGE_PX
    bar = inside * root.seconds / longest_s
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH_PX} {height}" role="img">',
        f"<title>{escape(told)}</title><style>{STYLE}</style>",
        f'<rect class="paper" width="{WIDTH_PX}" height="{height}"/>',
        f'<text class="h" x="{EDGE_PX}" y="26">{escape(told)}</text>',
        f'<text class="p" x="{WIDTH_PX - EDGE_PX}" y="26" text-anchor="end">'
        f"{root.seconds * 1000 / frames:.2f} ms a frame</text>",
        f'<rect class="all" x="{EDGE_PX}" y="40" width="{inside}" height="8" opacity=".45"/>',
        f'<rect class="bar" x="{EDGE_PX}" y="40" width="{bar:.1f}" height="8"/>',
        *_boxes(root, root.seconds, EDGE_PX, inside, 0, ""),
        *_legend(height - 12),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _boxes(box: Box, all_s: float, left: float, inside: float, row: int, part: str) -> Iterator[str]:
    """The box and all below it; `part` is what its caller belongs to."""
    part = ROOMS.get(box.name.partition(".")[0], part)
    share = box.seconds / all_s
    width, top = inside * share, HEAD_PX + row * ROW_PX
    names = " > ".join((box.name, *box.through))
    library = row > 0 and "." not in box.name and box.name not in ROOMS
    look = f'fill="{(_paler if library else str)(COLOURS[part])}"' if part else 'class="all"'
    label = _label(box.name, width, share)
    text = f'<text x="{left + INSIDE_PX:.1f}" y="{top + 15}">{escape(label)}</text>' if label else ""
    yield (
        f"<g><title>{escape(names)}: {share:.1%}, {box.seconds:.2f} s</title>"
        f'<rect x="{left:.1f}" y="{top}" width="{width:.1f}" height="{ROW_PX}" rx="2" {look}/>{text}</g>'
    )
    for one in box.inner.values():
        yield from _boxes(one, all_s, left, inside, row + 1, part)
        left += inside * one.seconds / all_s


def _paler(colour: str) -> str:
    """Half way to white."""
    return "#" + "".join(f"{(int(colour[at : at + 2], 16) + 255) // 2:02x}" for at in (1, 3, 5))


def _label(name: str, width: float, share: float) -> str:
    """As much of name and share as the box has room for; "" where that says nothing."""
    room = int((width - 2 * INSIDE_PX) / LETTER_PX)
    name = name.removesuffix(".__init__").removesuffix(".__call__")
    *_, owner, last = ("", *name.split("."))
    nearer = f"{owner}.{last}" if owner else last
    for text in (f"{name} {share:.0%}", f"{nearer} {share:.0%}", f"{last} {share:.0%}", last):
        if len(text) <= room:
            return text
    return f"{last[: room - 1]}…" if room >= 6 else ""


def _legend(y: float) -> Iterator[str]:
    left = float(EDGE_PX)
    for words, colour in (*COLOURS.items(), ("paler: in a library", _paler(COLOURS["report"]))):
        yield f'<rect x="{left:.0f}" y="{y - 10:.0f}" width="12" height="12" rx="2" fill="{colour}"/>'
        yield f'<text class="p" x="{left + 17:.0f}" y="{y:.0f}">{escape(words)}</text>'
        left += 17 + len(words) * LEGEND_LETTER_PX + 18

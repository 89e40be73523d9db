"""The short form of a declaration: one line for a run of frames.

    [frames]
    "TARN0101..TARN0120" = "n6+g2soft"
    "TARN0121" = "bare"

On the left a frame or FIRST..LAST, on the right filters of the kit joined by "+", or `none`, `bare`,
`unknown`; a named rig may follow after " on ". Each line is a span like any other.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from audit.declare.said import STATES, filters_said
from audit.kit.kit import Filter, Kit
from audit.message.text import marked, say
from audit.toml.fault import Fault
from audit.toml.wording import shown

TABLE = "frames"
UPTO, ON = "..", " on "


def span_of(frames: str, what: object, kit: Kit) -> tuple[dict[str, Any], Fault | None]:
    """The keys of the span that a line stands for; only its files where the line is wrong."""
    names = [name.strip() for name in frames.split(UPTO)]
    if not all(names) or len(names) > 2:
        words = marked('"{frames_written}" is no frame and no "FIRST..LAST"')
        return {}, Fault("", say(words, frames_written=frames))
    files = {"files": list(dict.fromkeys(names))}
    if not isinstance(what, str):
        words = marked(
            'should be what was on, like "n6+g2" or "bare", not {got_written}; for more write a [[worn]]'
        )
        return files, Fault("", say(words, got_written=shown(what)))
    worn, _, rig = what.partition(ON)
    ids, why = filters_said(worn.strip(), kit)
    if why:
        return files, Fault("", why)
    if not ids:
        return {**files, **STATES[worn.strip()]}, None
    return {**files, **({"rig": rig.strip()} if rig else {}), **places(ids, kit)}, None


def places(ids: Iterable[str], kit: Kit) -> dict[str, Any]:
    """Where filters sit: screw-ins behind the ring, a round one in front, all others in slots."""
    parts = {name: kit.filter(name) for name in ids}
    known = sorted((part for part in parts.values() if part is not None), key=_back_first)
    front = next((part.id for part in known if part.round), None)
    found = {
        "behind": [name for name, part in parts.items() if part is None],
        "slots": [part.id for part in known if part.id != front],
        "front": front,
    }
    return {key: value for key, value in found.items() if value}


def _back_first(part: Filter) -> tuple[bool, bool, str]:
    """Filters with a gasket belong in the back slot, grads in front (common practice, no source)."""
    return not part.gasket, part.is_grad, part.id

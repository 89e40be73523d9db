"""What was on, in one word: filters of the kit joined by "+", or `none`, `bare`, `unknown`."""

from __future__ import annotations

from typing import Any

from audit.kit.kit import Kit
from audit.message.shown import shown_line
from audit.message.text import marked, say
from audit.toml.fault import suggestion

STATES: dict[str, dict[str, Any]] = {
    "none": {"neutral": "none"},
    "bare": {"bare": True},
    "unknown": {"unknown": True},
}
"""Words that name no filter, and the key each stands for."""


def filters_said(what: str, kit: Kit) -> tuple[tuple[str, ...], str]:
    """Ids of the filters that were on, none for a state; and what is wrong with the word, or ""."""
    known = [part.id for part in (*kit.filters, *kit.screw_ins)]
    if what in STATES:
        words = marked('"{name}" is a filter of the kit too; give it another id in kit.toml')
        return (), say(words, name=what) if what in known else ""
    ids = (what,) if what in known else tuple(name.strip() for name in what.split("+"))
    for name in ids:
        if name not in known:
            hint = suggestion(name, [*known, *STATES], marked("write one of {known_key}"))
            return (), say('"{name}" is no filter of the kit; {hint}', name=shown_line(name), hint=hint)
        if ids.count(name) > 1:
            return (), say('"{name}" stands twice; one filter, one place', name=name)
    return ids, ""

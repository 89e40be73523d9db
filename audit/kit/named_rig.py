"""A named rig of the kit: what carries the filters, so that a span says only which filters were on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from audit.kit.part import Name, Part
from audit.message.text import marked, say
from audit.toml.fault import Fault, suggestion


class NamedRig(Part):
    """Ring, holder and what lies between; `lens` where it is so on that lens only.

    The same id may stand again for other lenses, and once without a lens for all others.
    """

    id: Name
    lens: Name | None = None
    behind: tuple[Name, ...] = ()
    ring: Name | None = None
    holder: Name | None = None
    second_holder: Name | None = None
    hood: Name | None = None


CARRIES = ("behind", "ring", "holder", "second_holder", "hood")
"""What a span takes from its rig where it does not say it itself."""
_OF = {
    "lens": ("lens",),
    "behind": ("step_ring", "screw_in"),
    "ring": ("ring",),
    "holder": ("holder",),
    "second_holder": ("holder",),
    "hood": ("hood",),
}


def named_rig_faults(rig: NamedRig, ids: Mapping[str, tuple[str, ...]]) -> Iterator[Fault]:
    """Names of a rig that the kit does not have; `ids` by table, those of faulty tables among them."""
    if not any(getattr(rig, key) for key in CARRIES):
        yield Fault("", marked("carries nothing; write ring = ... and holder = ..."))
    for key, tables in _OF.items():
        value = getattr(rig, key)
        known = [name for table in tables for name in ids[table]]
        for item, name in enumerate(value) if isinstance(value, tuple) else ((None, value),):
            if name is not None and name not in known:
                yield Fault(key, _unknown(name, key, known), item=item)


def default_fault(rig: str, ids: Mapping[str, tuple[str, ...]]) -> Iterator[Fault]:
    """What is wrong with the rig that a lens names."""
    if rig not in ids["rig"]:
        yield Fault("rig", _unknown(rig, "rig", list(ids["rig"])))


def _unknown(name: str, key: str, known: list[str]) -> str:
    words = marked('"{name}" is no {what_key} of the kit; {hint}')
    hint = suggestion(name, known, marked("it has {known_key}")) if known else marked("it has none")
    return say(words, name=name, what_key=key.removeprefix("second_"), hint=hint)

"""A rig and its sum of stops the way a photographer says them."""

from __future__ import annotations

from audit.declare.worn import Worn
from audit.kit.kit import Filter, Kit, ScrewIn, StepRing, Strength
from audit.message.text import figure, joined, marked, say
from audit.optics.density import trade_stops

KINDS = {
    "neutral": marked("neutral"),
    "grad-hard": marked("hard grad"),
    "grad-soft": marked("soft grad"),
    "polariser": marked("polariser"),
}
OF_STRENGTH = {
    "neutral": marked("{strength}-stop neutral"),
    "grad-hard": marked("{strength}-stop hard grad"),
    "grad-soft": marked("{strength}-stop soft grad"),
    "polariser": marked("{strength}-stop polariser"),
    "other": marked("{strength}-stop filter {name}"),
}


def number(value: float) -> str:
    """A count of stops, no finer than a filter is known: 10 (also for 9.97), 8 2/3, 2.5."""
    third = round(value * 3)
    if third % 3 and abs(value - third / 3) < 0.001:
        return f"{third // 3} {third % 3}/3".removeprefix("0 ")
    return figure(f"{value:.1f}".removesuffix(".0"))


def span_of(least: float, most: float) -> str:
    """A range of stops: 10, or 11 to 12."""
    low, high = number(least), number(most)
    return low if low == high else say("{low} to {high}", low=low, high=high)


def trade(part: Strength) -> float:
    """Stops as the filter is sold, by its label: density by 0.3 a stop, a factor to the nearest third."""
    if part.density is not None:
        return float(trade_stops(part.density))
    stops = part.label_stops[0]
    return round(stops * 3) / 3 if part.factor is not None else stops


def filter_words(part: Filter | ScrewIn) -> str:
    """10-stop neutral, 2-stop hard grad, polariser; other filters by their id."""
    given = part.stops is not None or part.density is not None or part.factor is not None
    if given and trade(part) > 0:
        return say(OF_STRENGTH[part.kind], strength=number(trade(part)), name=part.id)
    return KINDS[part.kind] if part.kind in KINDS else say("filter {name}", name=part.id)


def rig_words(worn: Worn, kit: Kit) -> str:
    """Everything worn in one line, from the lens outwards."""
    if words := open_words(worn):
        return words
    groups = [_on_the_lens(worn, kit)]
    if worn.second_holder:
        name = marked("second holder")
        groups.append(_holder(name, worn.second_slots, worn.second_turn_deg, kit))
    if worn.front and (front := kit.filter(worn.front)) is not None:
        groups.append(_on_the_front_ring(front, worn.polariser_turn_deg))
    elif worn.polariser_turn_deg is not None:
        groups.append(say("polariser turned {turn:g}°", turn=worn.polariser_turn_deg % 360))
    if worn.hood:
        groups.append(say("hood {name}", name=worn.hood))
    if worn.shift_mm is not None and any(worn.shift_mm):
        across, along = worn.shift_mm
        groups.append(say("shifted {across:g} and {along:g} mm", across=across, along=along))
    if worn.eyepiece_covered:
        groups.append(marked("eyepiece covered"))
    return joined(groups, "; ")


def open_words(worn: Worn) -> str:
    """What is said of a rig that is not wholly known, and of its stops; "" for any other."""
    if worn.unknown:
        return marked("not known")
    return marked("no neutral, perhaps a grad or polariser") if worn.neutral else ""


def mount_words(worn: Worn, kit: Kit) -> str:
    """What carries the filters, without those in the slots; "" for a bare lens."""
    words = _before_the_holder(worn, kit)
    words += [_holder_name(worn.holder, kit)] if worn.holder else []
    words += [marked("second holder")] if worn.second_holder else []
    words += [marked("front ring")] if worn.front else []
    words += [say("hood {name}", name=worn.hood)] if worn.hood else []
    return joined(words, ", ")


def _on_the_front_ring(part: Filter, turn_deg: float | None) -> str:
    words = filter_words(part)
    if turn_deg is None:
        return say("{filter} on the front ring", filter=words)
    return say("{filter} turned {turn:g}° on the front ring", filter=words, turn=turn_deg % 360)


def _on_the_lens(worn: Worn, kit: Kit) -> str:
    if worn.bare:
        return marked("bare lens")
    words = _before_the_holder(worn, kit)
    if worn.holder:
        words.append(_holder(_holder_name(worn.holder, kit), worn.slots, worn.turn_deg, kit))
    return joined(words, ", ")


def _before_the_holder(worn: Worn, kit: Kit) -> list[str]:
    words = []
    for name in worn.behind:
        part = kit.between(name)
        if isinstance(part, StepRing):
            words.append(say("step ring {low:g} to {high:g} mm", low=part.from_mm, high=part.to_mm))
        elif part is not None:
            screwed = filter_words(part)
            words.append(say("{thread:g} mm screw-in {filter}", thread=part.thread_mm, filter=screwed))
    ring = kit.ring(worn.ring) if worn.ring else None
    if ring is not None:
        recessed, standard = marked("{thread:g} mm recessed ring"), marked("{thread:g} mm ring")
        words.append(say(recessed if ring.kind == "recessed" else standard, thread=ring.thread_mm))
    return words


def _holder_name(holder: str, kit: Kit) -> str:
    return marked("holder") if len(kit.holders) < 2 else say("holder {name}", name=holder)


def _holder(name: str, slots: tuple[str, ...], turn_deg: float | None, kit: Kit) -> str:
    parts = [kit.filter(slot) if slot else None for slot in slots]
    while parts and parts[-1] is None:
        parts.pop()
    held = joined([marked("empty slot") if part is None else filter_words(part) for part in parts], " + ")
    turn = (turn_deg or 0.0) % 360
    turned = say("turned {turn:g}°", turn=turn) if turn else ""
    if held:
        return joined((say("{holder}: {filters}", holder=name, filters=held), turned), ", ")
    return joined((name, marked("empty"), turned), ", ")


def stops_words(parts: list[Filter | ScrewIn], even: tuple[float, float], grads: float, upright: bool) -> str:
    """What the filters take: 6 stops at the bottom, 8 in the sky.

    Parameters
    ----------
    parts : what is worn, back to front.
    even : least and most loss over the whole frame [stops].
    grads : loss of all grads where they are dense [stops].
    upright : whether every grad is turned so that its dense half lies over the sky.
    """
    total = _stops(span_of(*even))
    if grads:
        message = marked("{total} at the bottom, {dense} in the sky")
        if not upright:
            message = marked("{total} where the grad is clear, {dense} where it is dense")
        total = say(message, total=total, dense=span_of(even[0] + grads, even[1] + grads))
    return joined([total, _turning(parts), _measured(parts)], ", ")


def _stops(amount: str) -> str:
    return say("{one} stop", one=amount) if amount == "1" else say("{amount} stops", amount=amount)


def _turning(parts: list[Filter | ScrewIn]) -> str:
    """Why the sum is a range, where a polariser makes it one."""
    turns = any(part.kind == "polariser" and part.loss_stops[0] != part.loss_stops[1] for part in parts)
    return marked("depending on the polariser's turn") if turns else ""


def _measured(parts: list[Filter | ScrewIn]) -> str:
    """What the labels say, where the kit holds a measured strength."""
    if all(part.measured_stops is None for part in parts):
        return ""
    if len(parts) > 1:
        return marked("by measured strengths")
    return say("measured ({label} by its label)", label=number(trade(parts[0])))

"""A rig and its sum of stops the way a photographer says them."""

from __future__ import annotations

from audit.model.kit import Filter, Kit, ScrewIn, StepRing, Strength
from audit.model.worn import Worn
from audit.optics.density import trade_stops

KINDS = {"neutral": "neutral", "grad-hard": "hard grad", "grad-soft": "soft grad", "polariser": "polariser"}


def number(value: float) -> str:
    """A count of stops: 10, 8 2/3, 2.5, 9.97."""
    whole = round(value)
    if abs(value - whole) < 0.005:
        return f"{whole}"
    third = round(value * 3)
    if abs(value - third / 3) < 0.001:
        return f"{third // 3} {third % 3}/3".removeprefix("0 ")
    return f"{value:.2f}".rstrip("0").rstrip(".")


def span_of(least: float, most: float) -> str:
    """A range of stops: 10, or 11 to 12."""
    return number(least) if number(least) == number(most) else f"{number(least)} to {number(most)}"


def trade(part: Strength) -> float:
    """Stops as the filter is sold, by its label: density by 0.3 a stop, a factor to the nearest third."""
    if part.density is not None:
        return float(trade_stops(part.density))
    stops = part.label_stops[0]
    return round(stops * 3) / 3 if part.factor is not None else stops


def filter_words(part: Filter | ScrewIn) -> str:
    """10-stop neutral, 2-stop hard grad, polariser; other filters by their id."""
    given = part.stops is not None or part.density is not None or part.factor is not None
    strength = f"{number(trade(part))}-stop " if given and trade(part) > 0 else ""
    return f"{strength}{KINDS[part.kind]}" if part.kind in KINDS else f"{strength}filter {part.id}"


def rig_words(worn: Worn, kit: Kit) -> str:
    """Everything worn in one line, from the lens outwards."""
    if worn.unknown:
        return "not known"
    groups = [_on_the_lens(worn, kit)]
    if worn.second_holder:
        groups.append(_holder("second holder", worn.second_slots, worn.second_turn_deg, kit))
    if worn.front and (front := kit.filter(worn.front)) is not None:
        groups.append(f"{filter_words(front)}{_own_turn(worn)} on the front ring")
    elif worn.polariser_turn_deg is not None:
        groups.append(f"polariser turned {worn.polariser_turn_deg % 360:g}°")
    if worn.hood:
        groups.append(f"hood {worn.hood}")
    if worn.shift_mm is not None and any(worn.shift_mm):
        groups.append(f"shifted {worn.shift_mm[0]:g} and {worn.shift_mm[1]:g} mm")
    if worn.eyepiece_covered:
        groups.append("eyepiece covered")
    return "; ".join(group for group in groups if group)


def mount_words(worn: Worn, kit: Kit) -> str:
    """What carries the filters, without those in the slots; "" for a bare lens."""
    words = _before_the_holder(worn, kit)
    words += [_holder_name(worn.holder, kit)] if worn.holder else []
    words += ["second holder"] if worn.second_holder else []
    words += ["front ring"] if worn.front else []
    words += [f"hood {worn.hood}"] if worn.hood else []
    return ", ".join(words)


def _own_turn(worn: Worn) -> str:
    turn = worn.polariser_turn_deg
    return "" if turn is None else f" turned {turn % 360:g}°"


def _on_the_lens(worn: Worn, kit: Kit) -> str:
    if worn.bare:
        return "bare lens"
    words = _before_the_holder(worn, kit)
    if worn.holder:
        words.append(_holder(_holder_name(worn.holder, kit), worn.slots, worn.turn_deg, kit))
    return ", ".join(words)


def _before_the_holder(worn: Worn, kit: Kit) -> list[str]:
    words = []
    for name in worn.behind:
        part = kit.between(name)
        if isinstance(part, StepRing):
            words.append(f"step ring {part.from_mm:g} to {part.to_mm:g} mm")
        elif part is not None:
            words.append(f"{part.thread_mm:g} mm screw-in {filter_words(part)}")
    ring = kit.ring(worn.ring) if worn.ring else None
    if ring is not None:
        words.append(f"{ring.thread_mm:g} mm {'recessed ' if ring.kind == 'recessed' else ''}ring")
    return words


def _holder_name(holder: str, kit: Kit) -> str:
    return "holder" if len(kit.holders) < 2 else f"holder {holder}"


def _holder(name: str, slots: tuple[str, ...], turn_deg: float | None, kit: Kit) -> str:
    parts = [kit.filter(slot) if slot else None for slot in slots]
    while parts and parts[-1] is None:
        parts.pop()
    held = " + ".join("empty slot" if part is None else filter_words(part) for part in parts)
    turn = (turn_deg or 0.0) % 360
    turned = f", turned {turn:g}°" if turn else ""
    return f"{name}: {held}{turned}" if held else f"{name}, empty{turned}"


def stops_words(parts: list[Filter | ScrewIn], even: tuple[float, float], grads: float) -> str:
    """The sum of stops with its terms: 10 + 2 (grad, part of the frame) + 1 to 2 (polariser) = ..."""
    terms = [_term(part) for part in parts if part.loss_stops[1] > 0]
    if not terms:
        return "0 stops"
    costs = [part for part in parts if part.loss_stops[1] > 0]
    if len(terms) == 1 and not grads:
        return _term(costs[0], " stops")
    total = f"{span_of(*even)} stops"
    if grads:
        dense = span_of(even[0] + grads, even[1] + grads)
        total += (
            f", {dense} where the {'grads are' if sum(p.is_grad for p in costs) > 1 else 'grad is'} dense"
        )
    return f"{' + '.join(terms)} = {total}"


def _term(part: Filter | ScrewIn, unit: str = "") -> str:
    notes = []
    if part.is_grad:
        notes.append("grad, part of the frame")
    elif part.kind == "polariser":
        notes.append("polariser")
    elif part.kind == "other":
        notes.append(f"filter {part.id}")
    if part.measured_stops is not None:
        notes.append(f"{number(trade(part))} stops by its label, {number(part.measured_stops)} measured")
    sold = f"the trade rounds to {number(trade(part))}"
    if part.density is not None:
        notes.append(
            f"density {part.density:.1f}"
            if round(part.density, 1) == part.density
            else f"density {part.density:g}"
        )
    if part.factor is not None:
        notes.append(f"factor {part.factor:g}")
    if part.measured_stops is None and abs(trade(part) - part.loss_stops[0]) >= 0.005:
        notes.append(sold)
    return f"{span_of(*part.loss_stops)}{unit}{' (' + '; '.join(notes) + ')' if notes else ''}"

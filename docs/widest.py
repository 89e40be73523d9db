"""docs/widest-clear.md: the widest clear focal length of eight rigs, beside the rules of thumb."""

from __future__ import annotations

from dataclasses import replace

from audit.corners.predict import Geometry
from audit.corners.prediction import CLEAR_STOPS
from audit.corners.widest import widest_clear_middle_mm
from audit.declare import build_rig
from audit.declare.rig import Rig
from audit.declare.worn import Worn
from audit.kit.kit import Kit, Lens
from audit.optics.exposure import snap_f_number
from audit.optics.rules import rule_of_thumb

WIDTH_MM, HEIGHT_MM, THREAD_MM = 36.0, 24.0, 77.0
HALF_DIAGONAL_MM = (WIDTH_MM**2 + HEIGHT_MM**2) ** 0.5 / 2
DEPTHS_MM, F_NUMBERS = (20.0, 25.0, 32.0), (2.8, 8.0, 16.0)
KIT = Kit.model_validate(
    {
        "ring": [
            {"id": "standard", "thread_mm": THREAD_MM},
            {"id": "recessed", "thread_mm": THREAD_MM, "kind": "recessed"},
        ],
        "holder": [
            {"id": name, "slots": slots, "front_ring_mm": 98}
            for name, slots in (("one", 1), ("two", 2), ("three", 3), ("second two", 2), ("second three", 3))
        ],
        "filter": [{"id": "polariser", "kind": "polariser", "round": True}],
    }
)
RIGS = {
    "standard ring, 2 slots": Worn(ring="standard", holder="two"),
    "standard ring, 3 slots": Worn(ring="standard", holder="three"),
    "recessed ring, 2 slots": Worn(ring="recessed", holder="two"),
    "recessed ring, 3 slots": Worn(ring="recessed", holder="three"),
    "recessed ring, 2 slots, polariser": Worn(ring="recessed", holder="two", front="polariser"),
    "recessed ring, holders of 2 and 2": Worn(ring="recessed", holder="two", second_holder="second two"),
    "standard ring, holders of 2 and 2": Worn(ring="standard", holder="two", second_holder="second two"),
    "recessed ring, holders of 3 and 3, polariser": Worn(
        ring="recessed", holder="three", second_holder="second three", front="polariser"
    ),
}


def page() -> str:
    """The whole page."""
    head = [f"f/{n:g}, depth {'/'.join(f'{d:g}' for d in DEPTHS_MM)}" for n in F_NUMBERS]
    rows = [f"| rig | {' | '.join(head)} | rule of thumb |", f"|---|{'---|' * (len(head) + 1)}"]
    rows += [_row(name, build_rig(worn, KIT)) for name, worn in RIGS.items()]
    return f"{INTRODUCTION}\n\n" + "\n".join(rows) + f"\n\n{READING}\n"


def _row(name: str, rig: Rig) -> str:
    cells = ["/".join(f"{_widest_mm(rig, n, depth):.0f}" for depth in DEPTHS_MM) for n in F_NUMBERS]
    return f"| {name} | {' | '.join(cells)} | {_rule(rig)} |"


def _widest_mm(rig: Rig, f_number: float, depth_mm: float) -> float:
    lens = Lens(id="lens", focal_mm=(10.0, 50.0), pupil_depth_mm=depth_mm, pupil_depth_err_mm=0.0)
    frame = Geometry(24.0, snap_f_number(f_number)[0], WIDTH_MM, HEIGHT_MM)
    return widest_clear_middle_mm(
        rig, lambda focal: replace(frame, focal_length_mm=focal), HALF_DIAGONAL_MM, lens
    )


def _rule(rig: Rig) -> str:
    """The shortest focal length that the rule calls fine, and the shortest it only doubts."""
    found = {
        focal: rule_of_thumb(focal, 2 * HALF_DIAGONAL_MM, rig.ring_kind, bool(rig.second_holder))[0]
        for focal in range(10, 60)
    }
    fine = min(focal for focal, verdict in found.items() if verdict == "fine")
    doubtful = [focal for focal, verdict in found.items() if verdict == "doubtful"]
    words = "fine at any" if fine == min(found) else f"fine from {fine}"
    return words + (f", doubtful from {min(doubtful)}" if doubtful else "")


INTRODUCTION = f"""# Widest clear focal lengths

In mm, on {WIDTH_MM:g} x {HEIGHT_MM:g} mm, {THREAD_MM:g} mm thread, for a rectilinear lens focused far away.
Its entrance pupil lies {DEPTHS_MM[0]:g}, {DEPTHS_MM[1]:g} or {DEPTHS_MM[2]:g} mm behind the front edge of
the thread. From the focal length given on, less than {CLEAR_STOPS:g} stop is lost anywhere on the picture's
edge, in the middle of the band. Dimensions of rings and holders are the default ones (common practice, no
source), nothing is turned, a polariser sits on a front ring of 98 mm. `cornerstop corners` answers the same
for your own gear, with the band."""

READING = """While nothing is calibrated the band around each number is wide: an unknown distortion, a nominal
focal length and default dimensions move it by about 2.5 mm either way, and an unknown depth (the three depths
side by side) makes that 3 to 5 mm.

## Beside the rules of thumb

- "A recessed ring below 24 mm" is what a standard ring needs with a deep pupil; with a shallow one that
  ring is clear from 17 or 18 mm. The rule is silent on the holder behind a recessed ring, which still cuts
  the widest lenses.
- "Two holders from 35 mm, doubtful from 28" is on the safe side for two slots each, and about right for
  three slots each with a polariser.
- From f/8 on the f-number hardly matters; wide open the loss begins one to four millimetres earlier, and
  softly.
- A third slot costs next to nothing behind a single holder: its bore limits, not its rails.

The rules: common practice, no source."""

from __future__ import annotations

import math
from typing import Any

import pytest

from audit.declare import build_rig
from audit.declare.rig import Rig
from audit.declare.rig_rules import rig_faults
from audit.declare.rig_words import number
from audit.declare.worn import Worn
from audit.kit.kit import Kit


def rig(kit: Kit, **keys: Any) -> Rig:
    worn = Worn.model_validate({"files": ("X",), **keys})
    assert [f.text for f in rig_faults(worn, kit) if f.level == "error"] == []
    return build_rig(worn, kit)


FULL = {"ring": "r77", "holder": "main", "slots": ("n10", "g2hard"), "turn_deg": 30, "front": "pol"}


@pytest.mark.parametrize(
    ("keys", "words", "stops"),
    [
        (
            FULL,
            "77 mm recessed ring, holder main: 10-stop neutral + 2-stop hard grad, turned 30°; "
            "polariser on the front ring",
            "11 to 12 stops at the bottom, 13 to 14 in the sky, depending on the polariser's turn",
        ),
        (
            {"ring": "r77", "holder": "main", "slots": ("", "n10d")},
            "77 mm recessed ring, holder main: empty slot + 10-stop neutral",
            "10 stops",
        ),
        (
            {
                "behind": ("s72-77", "protect77"),
                "ring": "r77",
                "holder": "main",
                "slots": ("g3soft",),
                "second_holder": "small",
                "second_slots": ("g2hard",),
                "second_turn_deg": -30,
            },
            "step ring 72 to 77 mm, 77 mm screw-in filter protect77, 77 mm recessed ring, "
            "holder main: 3-stop soft grad; second holder: 2-stop hard grad, turned 330°",
            "0 stops at the bottom, 5 in the sky",
        ),
        ({"holder": "small"}, "holder small, empty", "0 stops"),
        ({"hood": "h16"}, "hood h16", "0 stops"),
        ({"bare": True, "eyepiece_covered": True}, "bare lens; eyepiece covered", "0 stops"),
        ({"bare": True, "shift_mm": (0, 5)}, "bare lens; shifted 0 and 5 mm", "0 stops"),
        ({"unknown": True}, "not known", "not known"),
        ({"neutral": "none"}, *["no neutral, perhaps a grad or polariser"] * 2),
    ],
)
def test_words_and_sum(kit: Kit, keys: dict[str, Any], words: str, stops: str) -> None:
    built = rig(kit, **keys)
    assert (built.words, built.stops_words) == (words, stops)


def test_stops_of_a_rig(kit: Kit) -> None:
    built = rig(kit, **FULL)
    assert (built.even_stops, built.grad_stops) == ((11, 12), 2)
    assert built.filters == ("n10", "g2hard", "pol")
    assert (built.ring_kind, built.thread_mm, built.gasketed) == ("recessed", 77, ("n10",))


@pytest.mark.parametrize(
    ("value", "text"),
    [(10, "10"), (26 / 3, "8 2/3"), (1 / 3, "1/3"), (2.5, "2.5"), (9.9658, "10"), (0.998, "1")],
)
def test_counts_of_stops(value: float, text: str) -> None:
    assert number(value) == text


def test_openings_stand_where_they_are(kit: Kit) -> None:
    """Distances from the thread, with the default dimensions named where they enter."""
    built = rig(kit, **FULL)
    ring, holder, front = built.openings
    assert (ring.diameter_mm, ring.distance_mm) == (74, 0.5)
    assert (holder.diameter_mm, holder.distance_mm) == (85, 0.5 + 7)
    assert (front.diameter_mm, front.distance_mm) == (98, pytest.approx(0.5 + 7 + 2 * 3.2 + 7.5))
    (rails,) = built.rails
    assert (rails.clear_width_mm, rails.turned_deg) == (90, 30)
    assert rails.distance_mm == pytest.approx(0.5 + 7 + 2 * 3.2)
    assert ring.assumed == ("height of ring r77",)
    assert "bore of holder main" in holder.assumed and "base of holder main" in holder.assumed
    assert "bore of ring r77" not in holder.assumed


def test_what_stays_behind_moves_the_ring_out(kit: Kit) -> None:
    built = rig(kit, behind=("s72-77", "protect77"), ring="r77", holder="main")
    assert [(o.name, o.diameter_mm, o.distance_mm) for o in built.openings] == [
        ("step ring s72-77", 69, 3),
        ("screw-in protect77", 74, 8),
        ("ring r77", 74, 8.5),
        ("holder main", 85, 15.5),
    ]
    assert built.thread_mm == 72


def test_second_holder_and_hood_stand_in_front(kit: Kit) -> None:
    built = rig(kit, ring="r72", holder="main", second_holder="small", second_turn_deg=30, hood="h16")
    names = [o.name for o in built.openings]
    assert names == ["ring r72", "holder main", "holder small", "hood h16"]
    assert built.openings[2].distance_mm == pytest.approx(4 + 7 + 2 * 3.2 + 7)
    assert [r.turned_deg for r in built.rails] == [0, 30]
    assert built.openings[3].distance_mm == pytest.approx(built.rails[1].distance_mm + 30)


def test_a_push_on_holder_sits_on_the_barrel(kit: Kit) -> None:
    built = rig(kit, behind=("protect77",), holder="small")
    assert built.openings[1].distance_mm == 7


def test_equal_rigs_share_their_identity(kit: Kit) -> None:
    one, other = rig(kit, **FULL), rig(kit, **{**FULL, "turn_deg": 390 - 360, "note": "again"})
    assert one == other and hash(one) == hash(other) and one.key == other.key
    assert one.key != rig(kit, **{**FULL, "turn_deg": 31}).key


def test_an_estimate_never_is_the_photographers_word(kit: Kit) -> None:
    built = rig(kit, **FULL, source="estimated")
    assert built.source == "estimated" and built.key != rig(kit, **FULL).key


def test_a_polariser_in_a_slot_beside_a_grad_is_a_warning(kit: Kit) -> None:
    worn = Worn(files=("X",), ring="r77", holder="main", slots=("pslot", "g2hard"))
    assert [(f.level, f.text) for f in rig_faults(worn, kit)] == [
        ("warning", 'polariser "pslot" turns with grad "g2hard"; only the front ring frees it')
    ]
    alone = Worn(files=("X",), ring="r77", holder="main", slots=("pslot",), polariser_turn_deg=40)
    assert rig_faults(alone, kit) == []


def test_a_thread_no_lens_has(kit: Kit) -> None:
    only_long = kit.model_copy(update={"lenses": tuple(x for x in kit.lenses if x.id == "t70")})
    worn = Worn(files=("X",), ring="r77", holder="main")
    assert [f.text for f in rig_faults(worn, only_long)] == [
        'ring "r77" screws into 77 mm, but the lenses of the kit have 72 mm'
    ]
    fits = Worn(files=("X",), behind=("s72-77",), ring="r77", holder="main")
    assert rig_faults(fits, only_long) == []


def test_plates_lie_behind_the_rails_that_hold_them_and_all_that_follows():
    kit = Kit.model_validate(
        {
            "holder": [{"id": name, "slots": 2, "front_ring_mm": 98.0} for name in ("one", "two")],
            "filter": [
                {"id": "n6", "kind": "neutral", "stops": 6.0, "thickness_mm": 1.5},
                {"id": "g2", "kind": "grad-soft", "stops": 2.0},
                {"id": "pol", "kind": "polariser", "round": True, "thickness_mm": 3.0},
            ],
        }
    )
    worn = Worn(holder="one", slots=("n6", ""), second_holder="two", second_slots=("", "g2"), front="pol")
    rig = build_rig(worn, kit)
    assert [o.glass_mm for o in rig.openings] == [0.0, 1.5, 3.5]
    assert [r.glass_mm for r in rig.rails] == [1.5, 3.5]
    assert "thickness of filter g2" in rig.openings[2].assumed
    assert "thickness of filter g2" not in rig.openings[1].assumed


def test_a_screw_in_filter_counts_for_all_that_follows_but_its_own_bore(kit: Kit) -> None:
    built = rig(kit, behind=("s72-77", "protect77"), ring="r77", holder="main")
    assert [o.glass_mm for o in built.openings] == [0.0, 0.0, 2.0, 2.0]
    assert "thickness of filter protect77" in built.openings[2].assumed
    assert "thickness of filter protect77" not in built.openings[1].assumed


def test_glass_and_tolerances_are_part_of_the_identity():
    def key(thickness=None, **holder):
        plate = {"id": "n6", "kind": "neutral", "stops": 6.0}
        if thickness is not None:
            plate["thickness_mm"] = thickness
        kit = Kit.model_validate({"holder": [{"id": "one", "slots": 2, **holder}], "filter": [plate]})
        return build_rig(Worn(holder="one", slots=("n6", "")), kit).key

    assert key(2.0) == key(2.0, play_mm=0.0, tilt_deg=0.0)
    assert len({key(), key(2.0), key(3.0), key(2.0, play_mm=0.5), key(2.0, tilt_deg=1.0)}) == 5


def test_a_loose_holder_moves_what_is_mounted_on_it():
    one = {"id": "one", "slots": 2, "play_mm": 0.3, "tilt_deg": 1.0, "base_mm": 7.0, "slot_pitch_mm": 3.0}
    second = {"id": "two", "slots": 1, "play_mm": 0.4, "base_mm": 7.0, "bore_mm": 90.0}
    kit = Kit.model_validate({"ring": [{"id": "r", "thread_mm": 77}], "holder": [one, second]})
    rig = build_rig(Worn(ring="r", holder="one", second_holder="two"), kit)
    lean = math.tan(math.radians(1.0))
    ring, bore, further = rig.openings
    assert (ring.across_err_mm, ring.along_err_mm) == (0.0, 0.0)
    assert bore.across_err_mm == pytest.approx(math.hypot(0.3, 7 * lean))
    assert bore.along_err_mm == pytest.approx(42.5 * lean)
    assert rig.rails[0].across_err_mm == pytest.approx(math.hypot(0.3, 13 * lean))
    assert further.across_err_mm == pytest.approx(math.hypot(0.3, 20 * lean, 0.4))
    assert further.along_err_mm == pytest.approx(45 * lean)


@pytest.mark.parametrize(
    ("turn_deg", "where"),
    [(45, "at the bottom, 2 in the sky"), (180, "where the grad is clear, 2 where it is dense")],
)
def test_a_grad_turned_over_is_not_said_to_darken_the_sky(kit: Kit, turn_deg: int, where: str) -> None:
    built = rig(kit, ring="r77", holder="main", slots=("g2hard",), turn_deg=turn_deg)
    assert built.stops_words == f"0 stops {where}"
